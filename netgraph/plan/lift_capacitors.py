# SPDX-License-Identifier: GPL-3.0-or-later
"""Verdicts on capacitors: one of several may go, the last of its kind needs a like one."""

from __future__ import annotations

from bisect import bisect_left
from typing import Final

from netgraph.model.board import ASSUMED
from netgraph.plan.lift_loads import judge_load, uncleared_on_rail
from netgraph.plan.lift_types import LiftRow, LiftState
from netgraph.plan.wiring import name_list
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
        return rail_unsure(state, part_id, net)
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


def rail_unsure(state: LiftState, part_id: str, net: str) -> LiftRow:
    """The row of a part on a net that is not surely a supply."""
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
    """Known values of the capacitors of a rail, ascending, in farad; assumed ones don't count."""
    if net not in state.buffers:
        wiring = state.wiring
        values = (
            wiring.part_role(one).farad
            for one in shunts_on(state, net)
            if ASSUMED not in wiring.board.part(one).attributes
        )
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
