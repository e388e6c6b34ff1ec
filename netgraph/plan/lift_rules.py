# SPDX-License-Identifier: GPL-3.0-or-later
"""Verdicts on passive parts: capacitors, series parts and resistors, clamps to ground."""

from __future__ import annotations

import re
from bisect import bisect_left
from typing import Final

from netgraph.plan.lift_loads import judge_load, uncleared_on_rail, unfed_chips
from netgraph.plan.lift_types import POWER_WIRE_MM, Jumper, LiftRow, LiftState
from netgraph.plan.wiring import POWER_CHIPS, SERIES_ROLES, SMALL_OHM, name_list
from netgraph.reasons import Reason, reason

LIKE_SHARE: Final = 0.25
"""Another capacitor of at least this share of the lifted one's value has to stay on a needed rail.

Our choice. Ceramic capacitors lose half and more of their value under voltage and come at
plus or minus 20 %, so designs carry a margin of two to four; the board has to run once at low
load, not for years. Source: common practice.
"""
LEFT_SHARE: Final = 0.5
"""What has to stay of the capacitance on a converter's output: half of it, as one of two like ones
leaves. Our choice: what holds a control loop stable is the sum at the converter, and the margin
above is used up by less. Source: common practice.
"""

_CONVERTED: Final = frozenset({"buck", "boost", "linear", "charger"})
_FEEDBACK = re.compile(r"(^|[_/.\d])V?(FB|SENSE|COMP|ISET|ADJ|VSET|ILIM)([_\d]|$)|FEEDBACK", re.I)


# -- capacitors ----------------------------------------------------------------------------------


def judge_capacitor(state: LiftState, part_id: str) -> LiftRow:
    """A capacitor from a rail to ground may go while others of its kind stay; no other may."""
    wiring = state.wiring
    nets = wiring.nets(part_id)
    live = wiring.live_nets(part_id)
    if len(nets) != 2 or not live:
        why = reason("cap-not-shunt", part=part_id, nets=name_list(nets))
        return state.row(part_id, "unsure", why)
    if len(live) == 2:
        return _bridging_capacitor(state, part_id, live)
    (net,) = live
    if net not in wiring.tree.by_net:
        return _signal_capacitor(state, part_id, net)
    if not wiring.is_sure_rail(net):
        return _rail_unsure(state, part_id, net)
    if net not in state.needed and not uncleared_on_rail(state, net):
        why = reason("cap-rail-not-needed", part=part_id, net=net)
        cautions = _boost_cautions(state, part_id, net)
        return state.row(part_id, "lift", why, frees=(net,), cautions=cautions)
    return _needed_rail_capacitor(state, part_id, net)


def _bridging_capacitor(state: LiftState, part_id: str, live: tuple[str, ...]) -> LiftRow:
    """Between two nets neither of which is ground: a bootstrap, a feed-forward, a coupling."""
    wiring = state.wiring
    needed = [net for net in live if net in state.needed]
    kept = {
        one
        for net in live
        if net not in state.needed and not wiring.is_power(net)
        for one in state.kept_near(net, part_id)
    }
    if kept or len(needed) == 2:
        why = reason(
            "cap-serves", part=part_id, nets=name_list(live), chips=name_list(kept) or "the goal"
        )
        return state.row(part_id, "replace", why)
    why = reason("cap-not-shunt", part=part_id, nets=name_list(live))
    row = judge_load(state, part_id)
    if row.verdict == "lift" and not needed:
        return row
    return state.row(part_id, "unsure", why)


def _boost_cautions(state: LiftState, part_id: str, net: str) -> tuple[Reason, ...]:
    """A boost converter without its output capacitor can run its output up."""
    wiring = state.wiring
    farad = wiring.part_role(part_id).farad
    values = buffers_on(state, net)
    if farad is not None and sum(values) - farad >= LEFT_SHARE * sum(values):
        return ()
    chips = {f.part_id for f in wiring.tree.by_net[net].feeders if f.kind == "boost"}
    return tuple(
        reason("boost-must-not-run", part=part_id, chip=chip, net=net)
        for chip in sorted(chips & wiring.fitted)
    )


def _rail_unsure(state: LiftState, part_id: str, net: str) -> LiftRow:
    confidence = state.wiring.net_role(net).confidence
    why = reason("net-not-surely-rail", part=part_id, net=net, confidence=round(confidence, 2))
    return state.row(part_id, "unsure", why)


def _signal_capacitor(state: LiftState, part_id: str, net: str) -> LiftRow:
    wiring = state.wiring
    crystals = [
        one
        for one in wiring.parts(net)
        if wiring.role(one) in ("crystal", "oscillator") and one in state.kept
    ]
    if crystals:
        why = reason("cap-crystal-load", part=part_id, crystal=name_list(crystals), net=net)
        return state.row(part_id, "keep", why)
    why = reason("cap-on-signal", part=part_id, net=net, kind=wiring.kind(net))
    return state.row(part_id, "unsure", why)


def _needed_rail_capacitor(state: LiftState, part_id: str, net: str) -> LiftRow:
    wiring = state.wiring
    farad = wiring.part_role(part_id).farad
    rail = wiring.tree.by_net[net]
    if not farad:
        return state.row(part_id, "unsure", reason("cap-value-unknown", part=part_id, net=net))
    values = buffers_on(state, net)
    counted = 1 if wiring.is_sure(part_id) else 0
    others = len(values) - counted
    if others < 1:
        return state.row(part_id, "replace", reason("cap-only-one", part=part_id, net=net))
    # The part itself, if counted, is among those that are large enough.
    alike = len(values) - bisect_left(values, LIKE_SHARE * farad) - counted
    if not alike:
        why = reason("cap-last-of-kind", part=part_id, net=net, others=others)
        return state.row(part_id, "replace", why)
    left = sum(values) - counted * farad
    share = left / (left + farad)
    converted = rail.kind in _CONVERTED or rail.kind == "unknown"
    if converted and share < LEFT_SHARE:
        why = reason("cap-too-little-left", part=part_id, net=net, percent=round(100 * share))
        return state.row(part_id, "replace", why)
    why = reason("cap-spare", part=part_id, net=net, alike=alike, percent=round(100 * share))
    return state.row(part_id, "lift", why, frees=(net,))


def buffers_on(state: LiftState, net: str) -> tuple[float, ...]:
    """Known values of the capacitors of a rail, ascending, in farad."""
    if net not in state.buffers:
        values = (state.wiring.part_role(one).farad for one in shunts_on(state, net))
        state.buffers[net] = tuple(sorted(value for value in values if value))
    return state.buffers[net]


def shunts_on(state: LiftState, net: str) -> list[str]:
    """Fitted capacitors between this net and a ground whose role is sure."""
    wiring = state.wiring
    return [
        one
        for one in wiring.parts(net)
        if wiring.role(one) == "capacitor"
        and wiring.is_sure(one)
        and len(wiring.nets(one)) == 2
        and len(wiring.live_nets(one)) == 1
    ]


# -- parts in the way of the current ---------------------------------------------------------------


def judge_series(state: LiftState, part_id: str) -> LiftRow:
    """Links, ferrites, fuses, sense resistors, coils and resistors."""
    wiring = state.wiring
    role = wiring.part_role(part_id)
    nets = wiring.nets(part_id)
    live = wiring.live_nets(part_id)
    if len(nets) != 2:
        return judge_load(state, part_id)
    if not live:
        return state.row(part_id, "unsure", reason("series-joins-grounds", part=part_id))
    if state.is_converter_inductor(part_id):
        return _converter_inductor(state, part_id)
    if part_id in state.single and role.role in SERIES_ROLES:
        return _bridged_by_wire(state, part_id, live)
    if part_id in state.single:
        lost = name_list(state.needed_rails_lost(part_id))
        return state.row(part_id, "keep", reason("lift-passive-needed", part=part_id, nets=lost))
    feeds = state.feeds_needed(part_id)
    if feeds:
        why = reason("series-one-of-several", part=part_id, nets=name_list(feeds))
        return state.row(part_id, "unsure", why)
    if role.role in SERIES_ROLES and len(live) == 1 and wiring.is_power(live[0]):
        # A link or ferrite from a rail to ground makes no sense: role or net is wrong.
        return state.row(part_id, "unsure", reason("series-to-ground", part=part_id, net=live[0]))
    if role.role in ("resistor", "thermistor"):
        return _resistor(state, part_id, live)
    return _series_of_unneeded(state, part_id, live)


def _converter_inductor(state: LiftState, part_id: str) -> LiftRow:
    wiring = state.wiring
    nets = wiring.nets(part_id)
    converters = {node.converter for node in wiring.tree.switch_nodes if node.inductor == part_id}
    for net in nets:
        if not wiring.is_power(net) and net not in wiring.grounds:
            converters.update(one for one in wiring.parts(net) if wiring.is_chip(one))
    converters.update(f.part_id for _, f in wiring.feeders() if part_id in f.through)
    made = {n.out_net for n in wiring.tree.switch_nodes if n.inductor == part_id and n.out_net}
    made.update(rail.net for rail, f in wiring.feeders() if part_id in f.through)
    # A boost coil lies on the rail it takes from, so that only what it makes counts, if known.
    needed = [net for net in made or nets if net in state.needed]
    if needed:
        why = reason("coil-needed", part=part_id, nets=name_list(needed))
        return state.row(part_id, "keep", why)
    kept = sorted(one for one in converters if one in state.kept)
    if kept:
        why = reason("coil-of-kept", part=part_id, chips=name_list(kept))
        return state.row(part_id, "unsure", why)
    if not converters:
        return state.row(part_id, "unsure", reason("coil-unclear", part=part_id))
    why = reason("coil-not-needed", part=part_id, chips=name_list(converters))
    return state.row(part_id, "lift", why, frees=[n for n in nets if wiring.is_power(n)])


def _bridged_by_wire(state: LiftState, part_id: str, live: tuple[str, ...]) -> LiftRow:
    wiring = state.wiring
    role = wiring.role(part_id)
    lost = name_list(state.needed_rails_lost(part_id))
    if len(live) != 2:
        return state.row(part_id, "keep", reason("lift-passive-needed", part=part_id, nets=lost))
    caution: Reason
    if role in ("fuse", "sense-resistor"):
        caution = reason("jumper-protection", part=part_id, role=role)
    else:
        caution = reason("jumper-plain", part=part_id, role=role)
    jumper = Jumper(
        state.pad_name(part_id, live[0]),
        state.pad_name(part_id, live[1]),
        POWER_WIRE_MM,
        caution,
    )
    why = reason("series-needs-wire", part=part_id, role=role, nets=lost, net=state.net)
    return state.row(
        part_id, "lift-and-jumper", why, frees=live, jumper=jumper, cautions=(caution,)
    )


def _series_of_unneeded(state: LiftState, part_id: str, live: tuple[str, ...]) -> LiftRow:
    """A series part that carries no needed supply: it may go if no kept part is behind it."""
    wiring = state.wiring
    behind = {net for net in live if not wiring.is_power(net)}
    for net in live:
        if wiring.is_power(net) and net not in state.needed:
            waiting = uncleared_on_rail(state, net)
            if waiting:
                why = reason("load-hangs-on", part=part_id, chips=name_list(waiting))
                return state.row(part_id, "unsure", why)
            # Nothing kept may hang on the rail that loses its supply here.
            kept = state.kept_chips_on(net)
            if kept:
                why = reason("series-kept-behind", part=part_id, net=net, chips=name_list(kept))
                return state.row(part_id, "unsure", why)
    if behind or all(net in state.needed for net in live):
        row = judge_load(state, part_id)
        if row.why.code == "load-shares" and wiring.role(part_id) in SERIES_ROLES:
            users = name_list(one for net in behind for one in state.kept_near(net, part_id))
            why = reason("series-in-line", part=part_id, nets=name_list(live), chips=users)
            return state.row(part_id, "replace", why)
        if row.verdict != "lift":
            return row
        # A line with chips on it, not a dead end: where it leads is not followed further.
        why = reason("series-leads-on", part=part_id, nets=name_list(live))
        return state.row(part_id, "unsure", why)
    unfed = unfed_chips(state, part_id)
    if unfed:
        why = reason("chips-unpowered", part=part_id, chips=name_list(unfed))
        return state.row(part_id, "unsure", why)
    why = reason("series-not-needed", part=part_id, nets=name_list(live))
    return state.row(part_id, "lift", why, frees=live)


# -- resistors -------------------------------------------------------------------------------------


def _resistor(state: LiftState, part_id: str, live: tuple[str, ...]) -> LiftRow:
    wiring = state.wiring
    if len(live) == 1:
        net = live[0]
        if net in wiring.tree.by_net and wiring.role(part_id) == "resistor":
            if not wiring.is_sure_rail(net):
                return _rail_unsure(state, part_id, net)
            if "reference" in (wiring.tree.by_net[net].kind, wiring.net_role(net).kind):
                # The lower leg of a divider makes the reference as much as the upper one.
                why = reason("resistor-reference", part=part_id, net=net)
                return state.row(part_id, "keep" if net in state.needed else "unsure", why)
            ohm = wiring.part_role(part_id).ohm
            if ohm is None or ohm < SMALL_OHM:
                return state.row(
                    part_id, "unsure", reason("resistor-to-ground", part=part_id, net=net)
                )
            why = reason("resistor-bleeds", part=part_id, net=net)
            return state.row(part_id, "lift", why, frees=(net,))
    # A divider's middle is judged as a line: chips listen there, and converters are set there.
    signals = [net for net in live if not wiring.is_power(net) or wiring.kind(net) == "reference"]
    powered = [net for net in live if net not in signals]
    if len(powered) == 2:
        return _series_of_unneeded(state, part_id, live)
    for net in signals:
        feedback = _feedback_of(state, part_id, net)
        if feedback in state.kept:
            why = reason("resistor-feedback", part=part_id, net=net, chip=feedback)
            return state.row(part_id, "keep", why)
        if feedback:
            why = reason("resistor-sets-converter", part=part_id, net=net, chip=feedback)
            return state.row(part_id, "keep", why)
    for net in signals:
        kept = state.kept_near(net, part_id)
        if kept:
            why = reason("resistor-pull", part=part_id, net=net, chips=name_list(kept))
            return state.row(part_id, "replace", why)
    if powered and len(signals) == 1 and _is_lamp_chain(state, part_id, signals[0]):
        why = reason("resistor-lamp", part=part_id, net=signals[0])
        return state.row(part_id, "lift", why, frees=powered)
    return judge_load(state, part_id)


def judge_array(state: LiftState, part_id: str) -> LiftRow:
    """Several resistors in one package: pull-ups or line resistors, judged as one."""
    wiring = state.wiring
    kept = {
        one
        for net in wiring.live_nets(part_id)
        if not wiring.is_power(net)
        for one in state.kept_near(net, part_id)
    }
    if not kept:
        return judge_load(state, part_id)
    nets = name_list(net for net in wiring.live_nets(part_id) if not wiring.is_power(net))
    why = reason("resistor-pull", part=part_id, net=nets, chips=name_list(kept))
    return state.row(part_id, "replace", why)


def _feedback_of(state: LiftState, part_id: str, net: str) -> str:
    """The converter or kept chip that this net sets, or an empty string.

    A resistor on a signal net of a converter that is not kept counts in any case: without a pin
    name nobody can tell its feedback from its enable.
    """
    wiring = state.wiring
    for one in wiring.parts(net):
        if one == part_id or not wiring.is_chip(one):
            continue
        if one not in state.kept:
            # A codec or sensor with a supply of its own inside is no converter to be set.
            if one in wiring.outputs and wiring.role(one) in POWER_CHIPS:
                return one
            continue
        named = any(_FEEDBACK.search(name) for name in wiring.pin_names(one, net))
        if named or (_FEEDBACK.search(net) and one in wiring.outputs):
            return one
    return ""


def _is_lamp_chain(state: LiftState, part_id: str, net: str) -> bool:
    """Whether the net leads from the resistor to light-emitting diodes and nowhere else."""
    wiring = state.wiring
    others = [one for one in wiring.parts(net) if one != part_id]
    lamps = [one for one in others if wiring.role(one) == "led" and wiring.is_sure(one)]
    if not lamps or any(wiring.role(one) not in ("led", "test-point") for one in others):
        return False
    # A lamp on a kept chip's pin may be a strap in disguise.
    return not any(
        state.kept_near(other, lamp)
        for lamp in lamps
        for other in wiring.live_nets(lamp)
        if other != net and not wiring.is_power(other)
    )


# -- clamps ----------------------------------------------------------------------------------------


def judge_shunt(state: LiftState, part_id: str) -> LiftRow:
    """A clamp or diode between one net and ground."""
    wiring = state.wiring
    role = wiring.role(part_id)
    live = wiring.live_nets(part_id)
    if len(live) != 1:  # between two grounds
        return state.row(part_id, "unsure", reason("series-joins-grounds", part=part_id))
    (net,) = live
    if net not in wiring.tree.by_net:
        return judge_load(state, part_id)
    if role == "diode" and net in state.needed:
        return state.row(part_id, "unsure", reason("diode-to-ground", part=part_id, net=net))
    if not wiring.is_sure_rail(net):
        return _rail_unsure(state, part_id, net)
    caution = reason("clamp-gone", part=part_id, net=net)
    why = reason("clamp-spare", part=part_id, net=net)
    return state.row(part_id, "lift", why, frees=(net,), cautions=(caution,))
