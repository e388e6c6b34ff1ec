# SPDX-License-Identifier: GPL-3.0-or-later
"""Which needed rails have no feeder that may be trusted, and which parts might be it.

While the true feeder of a needed rail is not known, every part that could be it, or that could
stand in its supply, stays `unsure`: the power logic can't clear it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import Final

from netgraph.plan.power_logic import PowerLogic
from netgraph.plan.wiring import (
    BODILESS,
    IRREPLACEABLE_ROLES,
    POWER_CHIPS,
    SERIES_ROLES,
    SMALL_OHM,
    Wiring,
)
from netgraph.rails.tree import Rail
from netgraph.roles.answer import LIKELY, Role

_MAY_FEED: Final[frozenset[Role]] = (
    POWER_CHIPS
    | SERIES_ROLES
    | frozenset[Role](
        {
            "transistor",
            "diode",
            "bridge-rectifier",
            "transformer",
            "connector",
            "slot",
            "switch",
            "battery",
            "unknown",
            "other",
        }
    )
)


def doubtful_rails(logic: PowerLogic, needed: Collection[str]) -> tuple[str, ...]:
    """Needed rails that are dead on the untouched board or fed by nothing above the confidence
    to act on; sorted.
    """
    return tuple(
        net
        for net in sorted(needed)
        if net not in logic.base.rails or not _is_trusted(logic.wiring, net)
    )


def _is_trusted(wiring: Wiring, net: str) -> bool:
    rail = wiring.tree.by_net[net]
    # An input that is not known is no doubt here: the logic then asks for all supplies of the part.
    if any(one.confidence >= LIKELY and one.part_id in wiring.fitted for one in rail.feeders):
        return True
    return rail.kind == "entry" and _has_holder(wiring, rail) and rail.confidence >= LIKELY


def _has_holder(wiring: Wiring, rail: Rail) -> bool:
    return any(
        wiring.role(one) in ("connector", "battery", "slot") for one in wiring.parts(rail.net)
    )


@dataclass(frozen=True, slots=True)
class Doubt:
    """What may belong to the supply of a rail without a trusted feeder: parts, and rails."""

    parts: frozenset[str]
    rails: frozenset[str]


def find_doubt(logic: PowerLogic, doubtful: Collection[str], needed: Collection[str] = ()) -> Doubt:
    """Parts that might feed one of these rails, the rails they might feed it from, and the single
    points of those.

    A feeder touches its rail, or touches a net that a series part joins to it (the switch node).
    Loads that are surely loads are not among them, nor are parts between a rail and ground.
    A part that may pass a supply between a needed rail and another one, and that the tree does
    not surely have as feeder of the other, may as well feed the needed one: it counts too.
    """
    wiring = logic.wiring
    found: set[str] = set()
    seen: set[str] = set()
    waiting = list(doubtful)
    for part_id, nets in _unplaced(wiring, needed):
        found.add(part_id)
        waiting += nets
    while waiting:
        net = waiting.pop()
        if net in seen:
            continue
        seen.add(net)
        if net in logic.base.rails and _is_trusted(wiring, net):
            found |= logic.single_points(rails=(net,))
            for feeder in wiring.tree.by_net[net].feeders:
                waiting += [] if feeder.from_net is None else [feeder.from_net]
                waiting += wiring.supplies(feeder.part_id)
            continue
        if net in wiring.tree.by_net:
            listed = wiring.tree.by_net[net].feeders
            waiting += [one.from_net for one in listed if one.from_net is not None]
        # A link that is marked as not fitted may be joined by copper or solder all the same.
        for part_id in wiring.board.parts_on_net[net]:
            if part_id not in found and may_feed(wiring, part_id):
                found.add(part_id)
                waiting += [
                    other
                    for other in wiring.live_nets(part_id)
                    if wiring.is_power(other) or len(wiring.parts(other)) <= _SMALL_NET
                ]
    return Doubt(frozenset(found) & wiring.fitted, frozenset(seen & wiring.tree.by_net.keys()))


def _unplaced(wiring: Wiring, needed: Collection[str]) -> Iterator[tuple[str, list[str]]]:
    """Parts between a needed rail and others whose direction is not known, and those others."""
    placed = {
        part_id
        for _, feeder in wiring.feeders()
        if feeder.confidence >= LIKELY
        for part_id in (feeder.part_id, *feeder.through)
    }
    for part_id in sorted(wiring.fitted - placed):
        if not may_feed(wiring, part_id) or wiring.role(part_id) in ("connector", "slot"):
            continue
        powered = [net for net in wiring.live_nets(part_id) if net in wiring.tree.by_net]
        others = [net for net in powered if net not in needed]
        if others and len(others) < len(powered):
            yield part_id, others


_SMALL_NET: Final = 8
"""A node inside a converter has few parts; a longer signal net leads away from the supply."""


def may_feed(wiring: Wiring, part_id: str) -> bool:
    """Whether the part may pass or make a supply, by role or because its role is not sure."""
    role = wiring.part_role(part_id)
    if len(wiring.live_nets(part_id)) < 2 and role.role not in ("connector", "battery", "slot"):
        return False
    if role.role in BODILESS or role.role == "capacitor":
        return False
    if not wiring.is_sure(part_id):
        return True
    if role.role == "resistor":
        return role.ohm is None or role.ohm <= SMALL_OHM
    return role.role in _MAY_FEED and role.role not in IRREPLACEABLE_ROLES
