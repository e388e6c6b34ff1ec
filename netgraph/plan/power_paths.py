# SPDX-License-Identifier: GPL-3.0-or-later
"""Through which parts a supply current may pass from net to net, for cutting and splitting.

Only parts that conduct in the power path count. A chip that merely has several supplies joins
nothing here: with such chips as paths every cut would go through the processor.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from math import hypot
from typing import Final

from netgraph.plan.wiring import SERIES_ROLES, SMALL_OHM, Wiring
from netgraph.roles.answer import Role

OPENABLE: Final[frozenset[Role]] = SERIES_ROLES
"""Two-net parts that may be lifted on one side to split a rail, and refitted (bench practice 7)."""

_PASSES: Final[frozenset[Role]] = SERIES_ROLES | frozenset[Role](
    {"diode", "transistor", "bridge-rectifier", "transformer", "switch", "battery"}
)
BASE_COST: Final[dict[Role, float]] = {
    "link": 1.0,
    "fuse": 1.0,
    "ferrite": 1.0,
    "resistor": 1.0,
    "sense-resistor": 1.0,
    "diode": 1.5,
    "inductor": 2.0,
    "transistor": 2.0,
    "load-switch": 3.0,
    "switch": 3.0,
    "battery": 1.0,
}
"""How hard a part is to take off, a link being 1; others: 5. Our choice (common practice)."""
OTHER_COST: Final = 5.0
SMALL_PAD_NM: Final = 500_000
MANY_PADS: Final = 9


@dataclass(frozen=True)
class PowerPaths:
    """Parts that pass a supply on, each with the nets it joins."""

    wiring: Wiring

    @cached_property
    def joins(self) -> dict[str, tuple[str, ...]]:
        """Part -> nets it joins, at least two, grounds left out."""
        found: dict[str, dict[str, None]] = {}
        for part_id, nets in self._series():
            found.setdefault(part_id, {}).update(dict.fromkeys(nets))
        for part_id, nets in self._feeders():
            found.setdefault(part_id, {}).update(dict.fromkeys(nets))
        return {part: tuple(nets) for part, nets in sorted(found.items()) if len(nets) > 1}

    def _series(self) -> Iterator[tuple[str, list[str]]]:
        wiring = self.wiring
        for part_id in sorted(wiring.fitted):
            role = wiring.part_role(part_id)
            small = role.role == "resistor" and role.ohm is not None and role.ohm <= SMALL_OHM
            if role.role not in _PASSES and not small:
                continue
            nets = [net for net in wiring.live_nets(part_id) if self._carries(net)]
            if len(nets) > 1:
                yield part_id, nets

    def _feeders(self) -> Iterator[tuple[str, list[str]]]:
        wiring = self.wiring
        nodes = {(one.converter, one.inductor): one.net for one in wiring.tree.switch_nodes}
        for rail, feeder in wiring.feeders():
            near = [] if feeder.from_net is None else [feeder.from_net]
            keys = [(feeder.part_id, one) for one in feeder.through]
            coils = [nodes[key] for key in keys if key in nodes]
            if coils and feeder.kind == "boost":
                if any(wiring.role(one) == "diode" for one in feeder.through):
                    # The current takes coil and diode; the chip only pulls the node to ground.
                    continue
                yield feeder.part_id, [*coils, rail.net]
                continue
            # A converter with a coil reaches its rail over the switch node, not past it.
            ends = near + (coils or [rail.net])
            yield feeder.part_id, ends

    def _carries(self, net: str) -> bool:
        return self.wiring.is_power(net) or self.wiring.kind(net) == "switch-node"

    def cost(self, part_id: str, guarded: frozenset[str]) -> float:
        """How hard the part is to take off: its kind, size and nearness to guarded chips."""
        wiring = self.wiring
        pads = wiring.pads_of[part_id]
        cost = BASE_COST.get(wiring.role(part_id), OTHER_COST)
        if len(pads) >= MANY_PADS:
            cost *= 1.5
        if wiring.is_placed() and pads:
            if min(min(pad.width_nm, pad.height_nm) for pad in pads) < SMALL_PAD_NM:
                cost *= 1.2
            near = self.distance_mm(part_id, guarded)
            if near is not None:
                cost *= 1.5 if near < 2 else 1.2 if near < 5 else 1.0
        return round(cost, 2)

    def distance_mm(self, part_id: str, others: frozenset[str]) -> float | None:
        """From the part's pads to the nearest pad of these parts, centre to centre."""
        wiring = self.wiring
        if not wiring.is_placed():
            return None
        targets = [pad for one in sorted(others - {part_id}) for pad in wiring.pads_of[one]]
        found = [
            hypot(a.x_nm - b.x_nm, a.y_nm - b.y_nm)
            for a in wiring.pads_of[part_id]
            for b in targets
        ]
        return min(found) / 1e6 if found else None


def reach(
    joins: Mapping[str, tuple[str, ...]], net: str, without: Collection[str] = ()
) -> frozenset[str]:
    """Nets that a net hangs together with over these parts, itself among them.

    Parameters
    ----------
    joins
        Part -> nets it joins.
    without
        Parts that are off or opened.
    """
    of_net: dict[str, list[str]] = {}
    for part, nets in joins.items():
        if part not in without:
            for one in nets:
                of_net.setdefault(one, []).append(part)
    seen = {net}
    waiting = [net]
    while waiting:
        for part in of_net.get(waiting.pop(), ()):
            for one in joins[part]:
                if one not in seen:
                    seen.add(one)
                    waiting.append(one)
    return frozenset(seen)
