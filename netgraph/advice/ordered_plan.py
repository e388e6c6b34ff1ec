# SPDX-License-Identifier: GPL-3.0-or-later
"""All steps for one shorted net, from the triage to handing over, in the order of bench practice.

Reversible before irreversible, cheap before dear, far from kept chips before near. Weights are
plain numbers from outside: how suspect a part is. No irreplaceable part is ever a lift step.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import inf
from typing import Final

from netgraph.advice.plan_steps import (
    closing_steps,
    inject_steps,
    measure_steps,
    opening_steps,
    verify_steps,
)
from netgraph.advice.plan_types import OrderedPlan, Step
from netgraph.advice.power_checks import rail_state
from netgraph.advice.triage import flex_connectors, open_triage
from netgraph.advice.weights import SITE_MARK, site_name
from netgraph.diagnosis.bench_state import NO_BENCH, BenchState
from netgraph.errors import UsageError
from netgraph.model import Board
from netgraph.plan import cautions
from netgraph.plan.goals import RECOVER_DATA, Goal
from netgraph.plan.heat_plan import HeatPlan, HeatPlanner
from netgraph.plan.inject import injection_plan
from netgraph.plan.keep_list import KeepWord
from netgraph.plan.lift import lift_table
from netgraph.plan.lift_types import LiftRow
from netgraph.plan.power_feed import feed_class
from netgraph.plan.sites import Site, path_sites
from netgraph.plan.wiring import IRREPLACEABLE_ROLES, Wiring
from netgraph.rails.tree import RailTree
from netgraph.reasons import reason
from netgraph.roles.answer import Role, Roles

MOST_LIFTS: Final = 6
"""So many parts a stage names; then measure and ask again with what was found."""

NEAR_MM: Final = 2.0
"""Nearer to a kept chip a lift counts double in minutes (our choice)."""

LOW_WEIGHT: Final = 0.05
"""Weight of a part that neither a person nor a path site speaks of."""

SHUNTS: Final[frozenset[Role]] = frozenset({"capacitor", "tvs", "esd-array", "diode"})


def ordered_plan(
    board: Board,
    roles: Roles,
    tree: RailTree,
    net: str,
    *,
    goal: Goal = RECOVER_DATA,
    keep: Mapping[str, KeepWord] | None = None,
    bench: BenchState = NO_BENCH,
    weights: Mapping[str, float] | None = None,
    alloy: str | None = None,
    cycles_before: int = 0,
    sites: Sequence[Site] | None = None,
) -> OrderedPlan:
    """Lay out the steps that are left for a net shorted to ground.

    Parameters
    ----------
    weights
        How suspect each part or path site is (``advice.weights``); any scale, zero or more. Parts
        without a figure go by the rank of their path site, below all that have one.
    sites
        Path sites found before; None: find them here.

    Raises
    ------
    UnknownNameError
        No such net, or `weights` or `keep` name no part of the board.
    UsageError
        The net is ground, or a weight is negative.
    """
    now = board.without(bench.lifted)
    table = lift_table(now, roles, tree, net, goal=goal, keep=keep)
    wiring = Wiring(now, roles, tree)
    heat = HeatPlanner(wiring, table.keeps, alloy=alloy, cycles_before=cycles_before)
    if sites is None:
        sites = path_sites(now, roles, net)
    scale = Scale(wiring, heat, sites, weights or {}, bench.deposits)
    reading, cleared = rail_state(wiring, net, bench)
    injection = injection_plan(now, roles, tree, net)
    flexes = flex_connectors(wiring, _connectors(wiring))
    cables = tuple(one for one in flexes if _is_entry(wiring, one))
    blocked = tuple(one.why for one in open_triage(bench, flexes))
    steps = list(opening_steps(net, scale.ranked(), bench, flexes, cables))
    steps += measure_steps(wiring, net, bench, table.keeps)
    left_out: tuple[str, ...] = ()
    if not cleared:
        steps += inject_steps(injection, blocked)
        steps += _open_steps(table.rows, scale)
        lifts, left_out = _lift_steps(board, roles, tree, net, goal, keep, bench, scale)
        steps += lifts
    steps += verify_steps(net, injection, bench, blocked, cleared=cleared)
    steps += closing_steps(goal.name, blocked)
    never = [
        item.part_id
        for item in table.keeps.items
        if item.kind == "irreplaceable" and item.part_id in wiring.fitted
    ]
    return OrderedPlan(
        net=net,
        goal=goal.name,
        steps=tuple(steps),
        cleared=cleared,
        reading=reading,
        warnings=table.note_cautions,
        left_out=left_out,
        cards=len(bench.cards),
        never_lifted=tuple(never),
        unsure=tuple(
            row.part_id
            for row in table.rows
            if row.verdict == "unsure" and row.part_id not in {one.ref for one in steps}
        ),
    )


def _connectors(wiring: Wiring) -> list[str]:
    return [
        part.id
        for part in wiring.board.parts
        if part.id in wiring.fitted
        and wiring.role(part.id) == "connector"
        and wiring.live_nets(part.id)
        and not any(_is_cell(wiring, net) for net in wiring.live_nets(part.id))
    ]


def _is_cell(wiring: Wiring, net: str) -> bool:
    """Whether the net is the entry of the cell, which has a step of its own."""
    rail = wiring.tree.by_net.get(net)
    cells = ("single-cell", "cells-in-series")
    return rail is not None and rail.kind == "entry" and feed_class(wiring, net) in cells


def _is_entry(wiring: Wiring, part_id: str) -> bool:
    rails = (wiring.tree.by_net.get(net) for net in wiring.live_nets(part_id))
    return any(rail is not None and rail.kind == "entry" for rail in rails)


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


def _open_steps(rows: Iterable[LiftRow], scale: Scale) -> list[Step]:
    """Series parts that may be opened on one side, measured and refitted: the reversible split."""
    able = [row for row in rows if row.open_to_test and not _is_core(scale.wiring, row.part_id)]
    able.sort(key=lambda row: scale.order(row.part_id))
    return [
        Step(
            stage="open",
            action="open-to-test",
            target=(("ref", row.part_id),),
            why=reason("plan-open", part=row.part_id),
            check=reason("check-both-sides", part=row.part_id),
            undo=reason("undo-refit", part=row.part_id),
            stop=(reason("stop-kept-hot", chip=_watch(scale, row.part_id)),),
            cautions=cautions.cautions_for("open-to-test"),
            minutes=scale.plan(row.part_id).minutes,
            heat=scale.plan(row.part_id),
            weight=scale.weight(row.part_id),
        )
        for row in able[:MOST_LIFTS]
    ]


def _watch(scale: Scale, part_id: str) -> str:
    return scale.plan(part_id).nearest or "the nearest kept chip"


def _is_core(wiring: Wiring, part_id: str) -> bool:
    return wiring.role(part_id) in IRREPLACEABLE_ROLES


def _lift_steps(
    board: Board,
    roles: Roles,
    tree: RailTree,
    net: str,
    goal: Goal,
    keep: Mapping[str, KeepWord] | None,
    bench: BenchState,
    scale: Scale,
) -> tuple[list[Step], tuple[str, ...]]:
    """Lifts one after the other, each judged on the board as the ones before leave it."""
    chosen: list[Step] = []
    off: set[str] = set(bench.lifted)
    counts: dict[str, int] = {}
    left_out: list[str] = []
    while True:
        rows = lift_table(board.without(off), roles, tree, net, goal=goal, keep=keep).rows
        open_rows = [row for row in rows if _stage(scale, row) in ("shunt", "suspect")]
        open_rows.sort(key=lambda row: (_stage(scale, row) != "shunt", scale.order(row.part_id)))
        row = next(
            (one for one in open_rows if counts.get(_stage(scale, one), 0) < MOST_LIFTS), None
        )
        if row is None:
            left_out = [one.part_id for one in open_rows]
            break
        stage = _stage(scale, row)
        counts[stage] = counts.get(stage, 0) + 1
        chosen.append(_lift_step(scale, row, stage))
        off.add(row.part_id)
    by_order = sorted(rows, key=lambda one: scale.order(one.part_id))
    by_order = [row for row in by_order if not _is_core(scale.wiring, row.part_id)]
    chosen += [_replace_step(scale, row) for row in by_order if row.verdict == "replace"]
    chosen += [_separate_step(scale, row) for row in by_order if row.verdict == "lift-and-jumper"]
    chosen.append(
        Step(
            stage="separate",
            action="stop",
            target=(("net", net),),
            why=reason("plan-stop", net=net),
        )
    )
    return chosen, tuple(left_out)


def _stage(scale: Scale, row: LiftRow) -> str:
    """Which stage a row belongs to; empty when it is no lift."""
    if row.verdict != "lift" or _is_core(scale.wiring, row.part_id):
        return ""
    if scale.plan(row.part_id).method == "none":
        return ""
    wiring = scale.wiring
    grounded = bool(wiring.grounds & set(wiring.nets(row.part_id)))
    if wiring.role(row.part_id) in SHUNTS and grounded and len(wiring.nets(row.part_id)) == 2:
        return "shunt"
    return "suspect"


def _lift_step(scale: Scale, row: LiftRow, stage: str) -> Step:
    part_id = row.part_id
    if part_id in scale.deposits:
        why = reason("plan-lift-deposit", part=part_id, verdict=row.why.text)
    elif stage == "shunt":
        why = reason("plan-lift-shunt", part=part_id, verdict=row.why.text)
    else:
        why = reason("plan-lift-suspect", part=part_id, verdict=row.why.text)
    return Step(
        stage="shunt" if stage == "shunt" else "suspect",
        action="lift",
        target=(("ref", part_id),),
        why=why,
        check=reason("check-after-lift", part=part_id),
        undo=reason("undo-fit-new", part=part_id),
        stop=(
            reason("stop-kept-hot", chip=_watch(scale, part_id)),
            reason("stop-cleared"),
        ),
        cautions=(*row.cautions, *cautions.cautions_for("lift")),
        minutes=scale.plan(part_id).minutes,
        heat=scale.plan(part_id),
        weight=scale.weight(part_id),
    )


def _replace_step(scale: Scale, row: LiftRow) -> Step:
    part_id = row.part_id
    return Step(
        stage="replaceable",
        action="lift",
        target=(("ref", part_id),),
        why=reason("plan-replace", part=part_id, verdict=row.why.text),
        check=reason("check-after-lift", part=part_id),
        undo=reason("undo-donor", part=part_id),
        stop=(
            reason("stop-kept-hot", chip=_watch(scale, part_id)),
            reason("stop-no-donor", part=part_id),
        ),
        cautions=(*row.cautions, *cautions.cautions_for("lift"), *cautions.cautions_for("fit")),
        minutes=scale.plan(part_id).minutes,
        heat=scale.plan(part_id),
        weight=scale.weight(part_id),
    )


def _separate_step(scale: Scale, row: LiftRow) -> Step:
    part_id = row.part_id
    return Step(
        stage="separate",
        action="lift-and-jumper",
        target=(("ref", part_id),),
        why=reason("plan-separate", part=part_id, verdict=row.why.text),
        check=reason("check-both-sides", part=part_id),
        undo=reason("undo-refit", part=part_id),
        stop=(reason("stop-kept-hot", chip=_watch(scale, part_id)),),
        cautions=(*row.cautions, *cautions.cautions_for("jumper")),
        minutes=scale.plan(part_id).minutes,
        heat=scale.plan(part_id),
        weight=scale.weight(part_id),
    )
