# SPDX-License-Identifier: GPL-3.0-or-later
"""Verdicts on loads and feeders of what the goal does not need."""

from __future__ import annotations

import re
from typing import Final

from netgraph.plan.lift_leaves import find_obstacle, left_floating
from netgraph.plan.lift_types import LiftRow, LiftState
from netgraph.plan.wiring import IRREPLACEABLE_ROLES, Wiring, name_list
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import LIKELY, Role

# Inputs that only switch the part itself on: open wire once it is off (common practice).
_ENABLE = re.compile(r"(EN|ENA|ENABLE|ON|ON_?OFF|SHDN|SD|CE|STBY|~?\{?(EN|SHDN|CE)\}?)[_\d]*")

_MAY_SWITCH: Final[frozenset[Role]] = frozenset(
    {"transistor", "diode", "tvs", "bridge-rectifier", "transformer", "switch", "load-switch"}
)

_HELPERS: Final[frozenset[Role]] = frozenset(
    {
        "resistor",
        "thermistor",
        "sense-resistor",
        "link",
        "inductor",
        "ferrite",
        "fuse",
        "diode",
        "transistor",
        "transformer",
        "crystal",
        "oscillator",
        "switch",
    }
)
"""Parts that serve the chip beside them: they may go after it, not before."""


_IN_LINE: Final[frozenset[Role]] = frozenset({"resistor", "link", "ferrite", "inductor"})

_ONLY_MAKES: frozenset[Role] = frozenset(("regulator", "load-switch", "power-manager", "charger"))


def judge_load(state: LiftState, part_id: str) -> LiftRow:
    """A part the goal does not need may go when no kept part would notice on a signal line."""
    wiring = state.wiring
    feeds = state.feeds_needed(part_id)
    if feeds:
        why = reason("series-one-of-several", part=part_id, nets=name_list(feeds))
        return state.row(part_id, "unsure", why)
    lost = [net for net in wiring.outputs.get(part_id, ()) if net in wiring.tree.by_net]
    for net in lost:
        kept = state.kept_chips_on(net)
        if kept:
            why = reason("series-kept-behind", part=part_id, net=net, chips=name_list(kept))
            return state.row(part_id, "unsure", why)
    shared = state.shared_nets(part_id)
    serious = {net: kept for net, kept in shared.items() if not _only_enables(state, part_id, net)}
    if serious:
        obstacle = find_obstacle(state, part_id, serious)
        if obstacle is not None:
            return state.row(part_id, "unsure", obstacle)
    if wiring.role(part_id) in _HELPERS:
        waiting = uncleared_chips(state, part_id)
        if waiting:
            why = reason("load-hangs-on", part=part_id, chips=name_list(waiting))
            return state.row(part_id, "unsure", why)
    between = _between(state, part_id)
    if between:
        why = reason("load-between", part=part_id, chips=name_list(between))
        return state.row(part_id, "unsure", why)
    powered = [net for net in wiring.live_nets(part_id) if wiring.is_power(net)]
    feeds_surely = any(
        feeder.part_id == part_id and feeder.confidence >= LIKELY
        for _, feeder in wiring.feeders_with(part_id)
    )
    may_switch = wiring.role(part_id) in _MAY_SWITCH and not feeds_surely
    if may_switch and len(powered) > 1 and state.needed & set(powered):
        why = reason("switch-unclear", part=part_id, nets=name_list(powered))
        return state.row(part_id, "unsure", why)
    unfed = unfed_chips(state, part_id)
    if unfed:
        why = reason("chips-unpowered", part=part_id, chips=name_list(unfed))
        return state.row(part_id, "unsure", why)
    role = wiring.role(part_id)
    if serious:
        why = reason(
            "load-leaf",
            part=part_id,
            role=role,
            goal=state.keeps.goal,
            nets=name_list(serious),
            chips=name_list(one for kept in serious.values() for one in kept),
        )
        return state.row(
            part_id,
            "lift",
            why,
            frees=powered,
            cautions=_line_cautions(state, part_id),
            floats=left_floating(state, part_id, serious),
        )
    if lost and not all(wiring.is_inner_supply(net, part_id) for net in lost):
        why = reason("feeder-not-needed", part=part_id, nets=name_list(lost))
    else:
        why = reason("load-not-needed", part=part_id, role=role, goal=state.keeps.goal)
    return state.row(part_id, "lift", why, frees=powered, cautions=_line_cautions(state, part_id))


def _line_cautions(state: LiftState, part_id: str) -> tuple[Reason, ...]:
    """What a clamp or a lamp on signal lines leaves to mind."""
    wiring = state.wiring
    if wiring.role(part_id) == "led":
        shared = state.shared_nets(part_id).values()
        chips = [one for kept in shared for one in kept if wiring.is_chip(one)]
        if not chips:
            return ()
        return (reason("lamp-may-strap", part=part_id, chips=name_list(chips)),)
    nets = wiring.live_nets(part_id)
    if wiring.role(part_id) not in ("tvs", "esd-array") or not nets:
        return ()
    return (reason("line-clamp-gone", part=part_id, nets=name_list(nets)),)


def _only_enables(state: LiftState, part_id: str, net: str) -> bool:
    """Whether the part only listens on this net, by a pin that switches itself on or off."""
    wiring = state.wiring
    names = wiring.pin_names(part_id, net)
    return (
        bool(names) and part_id in wiring.outputs and all(_ENABLE.fullmatch(name) for name in names)
    )


def _between(state: LiftState, part_id: str) -> list[str]:
    """Other chips tied to kept parts that this part may serve or lead to.

    Also chips behind a net of unknown kind: what is not traced may lead anywhere.
    """
    wiring = state.wiring
    if not wiring.is_chip(part_id):
        return []
    found: set[str] = set()
    unclear: set[str] = set()
    shared = state.shared_nets(part_id)
    for net in wiring.signal_nets(part_id):
        if net in shared:
            # Whoever is on this net meets the kept part there directly.
            continue
        chips = [one for one in wiring.parts(net) if one != part_id and wiring.is_chip(one)]
        if wiring.kind(net) == "unknown":
            unclear.update(chips)
        found.update(one for one in chips if one not in state.kept and _is_tied(state, one))
    return sorted(found | unclear)


def _is_tied(state: LiftState, part_id: str) -> bool:
    """Whether a chip shares lines with kept parts in a way that keeps it from being lifted."""
    shared = state.shared_nets(part_id)
    return bool(shared) and find_obstacle(state, part_id, shared) is not None


def uncleared_chips(state: LiftState, part_id: str) -> list[str]:
    """Chips and transistors on the part's signal nets that are neither kept nor free to go."""
    wiring = state.wiring
    found: set[str] = set()
    for net in _lines(wiring, part_id):
        for one in wiring.parts(net):
            if one == part_id or one in state.kept:
                continue
            if wiring.role(one) == "transistor":
                # Not judged in full: two transistors may wait for each other.
                blocked = one in state.single | state.concerned or bool(state.shared_nets(one))
            else:
                blocked = (
                    wiring.is_chip(one)
                    and wiring.role(one) != "oscillator"
                    and not _is_cleared(state, one)
                )
            if blocked:
                found.add(one)
    return sorted(found)


def _lines(wiring: Wiring, part_id: str) -> list[str]:
    """Signal nets of a part, and those behind one resistor or link in the line."""
    found = dict.fromkeys(wiring.signal_nets(part_id))
    for net in list(found):
        for one in wiring.parts(net):
            nets = wiring.nets(one)
            if one != part_id and len(nets) == 2 and wiring.role(one) in _IN_LINE:
                other = nets[1] if nets[0] == net else nets[0]
                if other not in wiring.grounds and not wiring.is_power(other):
                    found[other] = None
    return list(found)


def uncleared_on_rail(state: LiftState, net: str) -> list[str]:
    """Chips that live on a rail, or on a branch behind it, and are kept or not free to go.

    The goal may need such a chip after all (a display bridge, a hub), and then its rail too. A
    regulator that only makes the rail is no user of it; a chip whose own regulator makes it is.
    """
    wiring = state.wiring
    found: set[str] = set()
    seen: set[str] = set()
    waiting = [net]
    while waiting:
        one_net = waiting.pop()
        rail = wiring.tree.by_net.get(one_net)
        if one_net in seen or rail is None:
            continue
        seen.add(one_net)
        waiting.extend(part.to_net for part in rail.series)
        makers = {f.part_id for f in rail.feeders if wiring.role(f.part_id) in _ONLY_MAKES}
        found.update(
            one
            for one in wiring.parts(one_net)
            if one not in makers
            and wiring.is_chip(one)
            and (one in state.kept or not _is_cleared(state, one))
        )
    return sorted(found)


def _is_cleared(state: LiftState, part_id: str) -> bool:
    if part_id not in state.cleared:
        wiring = state.wiring
        state.cleared[part_id] = (
            part_id not in state.single | state.concerned
            and wiring.is_sure(part_id)
            and wiring.role(part_id) not in IRREPLACEABLE_ROLES | {"unknown"}
            and judge_load(state, part_id).verdict == "lift"
        )
    return state.cleared[part_id]


def unfed_chips(state: LiftState, part_id: str) -> list[str]:
    """Chips that lose their supply with the part while they stay on lines of kept chips."""
    wiring = state.wiring
    return sorted(
        {
            one
            for net in state.loses(part_id)
            if net in wiring.tree.by_net
            for one in wiring.parts(net)
            if one not in state.kept
            and one != part_id
            and wiring.is_chip(one)
            and any(
                wiring.is_chip(kept) for each in state.shared_nets(one).values() for kept in each
            )
        }
    )
