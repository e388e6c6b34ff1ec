# SPDX-License-Identifier: GPL-3.0-or-later
"""Verdicts on series parts, resistors and clamps to ground."""

from __future__ import annotations

import re

from netgraph.plan.lift_capacitors import rail_unsure
from netgraph.plan.lift_loads import judge_load, uncleared_on_rail, unfed_chips
from netgraph.plan.lift_types import POWER_WIRE_MM, Jumper, LiftRow, LiftState
from netgraph.plan.wiring import POWER_CHIPS, SERIES_ROLES, SMALL_OHM, Wiring, name_list
from netgraph.reasons import Reason, reason

_FEEDBACK = re.compile(r"(^|[_/.\d])V?(FB|SENSE|COMP|ISET|ADJ|VSET|ILIM)([_\d]|$)|FEEDBACK", re.I)


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
    converters.update(f.part_id for _, f in wiring.feeders_with(part_id) if part_id in f.through)
    made = {n.out_net for n in wiring.tree.switch_nodes if n.inductor == part_id and n.out_net}
    made.update(rail.net for rail, f in wiring.feeders_with(part_id) if part_id in f.through)
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
                return rail_unsure(state, part_id, net)
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
        if (
            named
            or _divides_output(wiring, one, net)
            or (_FEEDBACK.search(net) and one in wiring.outputs)
        ):
            return one
    return ""


def _divides_output(wiring: Wiring, chip: str, net: str) -> bool:
    """Whether resistors here divide what the chip makes: one from its rail, one to ground."""
    made = wiring.outputs.get(chip, frozenset())
    if not made or wiring.role(chip) not in POWER_CHIPS:
        return False
    ends = [
        set(wiring.nets(one)) - {net} for one in wiring.parts(net) if wiring.role(one) == "resistor"
    ]
    return any(one & made for one in ends) and any(one & wiring.grounds for one in ends)


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
        return rail_unsure(state, part_id, net)
    caution = reason("clamp-gone", part=part_id, net=net)
    why = reason("clamp-spare", part=part_id, net=net)
    return state.row(part_id, "lift", why, frees=(net,), cautions=(caution,))
