# SPDX-License-Identifier: GPL-3.0-or-later
"""How lifts are weighed against each other: how suspect, how many minutes, how near to the data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf
from typing import Final

from netgraph.advice.weights import SITE_MARK, site_name
from netgraph.errors import UsageError
from netgraph.plan.heat_plan import HeatPlan, HeatPlanner
from netgraph.plan.sites import Site
from netgraph.plan.wiring import Wiring

NEAR_MM: Final = 2.0
"""Nearer to a kept chip a lift counts double in minutes (our choice)."""

LOW_WEIGHT: Final = 0.05
"""Weight of a part that neither a person nor a path site speaks of."""


@dataclass
class Scale:
    """Weighs lifts: how suspect, how many minutes, how near to a kept chip."""

    wiring: Wiring
    heat: HeatPlanner
    sites: Sequence[Site]
    weights: Mapping[str, float]
    deposits: frozenset[str]

    def __post_init__(self) -> None:
        for name, value in self.weights.items():
            if not 0 <= value < inf:
                raise UsageError(f"the weight of {name[:80]} is not zero or more")
            if SITE_MARK not in name:
                self.wiring.board.part(name)
        ranks: dict[str, float] = {}
        for site in self.sites:
            for ref in site.refs if site.kind == "part" else ():
                ranks[ref] = max(ranks.get(ref, 0.0), site.likelihood)
        self.ranks = ranks
        self.plans: dict[str, HeatPlan] = {}

    def ranked(self) -> list[Site]:
        """Path sites, those with a weight first, then by their rank score."""
        return sorted(
            self.sites,
            key=lambda one: (-self.weights.get(site_name(one), 0.0), -one.likelihood),
        )

    def weight(self, part_id: str) -> float:
        """The person's figure; else the rank score, scaled below the least given figure."""
        if part_id in self.weights:
            return self.weights[part_id]
        given = [one for one in self.weights.values() if one > 0]
        lid = min(given) / 2 if given else 1.0
        seen = 2.0 if part_id in self.deposits else 1.0
        return lid * min(1.0, seen * self.ranks.get(part_id, LOW_WEIGHT))

    def plan(self, part_id: str) -> HeatPlan:
        """The heat plan of a part, worked out once."""
        if part_id not in self.plans:
            self.plans[part_id] = self.heat.plan(part_id)
        return self.plans[part_id]

    def cost(self, part_id: str) -> float:
        """Minutes of the lift, doubled beside a kept chip."""
        plan = self.plan(part_id)
        near = plan.nearest_mm is not None and plan.nearest_mm < NEAR_MM
        return max(plan.minutes, 1.0) * (2.0 if near else 1.0)

    def order(self, part_id: str) -> tuple[float, float, str]:
        """Sort key: most suspect for the minutes first, then the farther from kept chips."""
        plan = self.plan(part_id)
        return -self.weight(part_id) / self.cost(part_id), -(plan.nearest_mm or 0.0), part_id
