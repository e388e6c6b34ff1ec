# SPDX-License-Identifier: GPL-3.0-or-later
"""All steps for one shorted net, from the triage to handing over, in the order of bench practice.

Reversible before irreversible, cheap before dear, far from kept chips before near. Weights are
plain numbers from outside: how suspect a part is. No irreplaceable part is ever a lift step.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from netgraph.advice.plan_scale import Scale
from netgraph.advice.plan_steps import (
    closing_steps,
    inject_steps,
    measure_steps,
    opening_steps,
    verify_steps,
)
from netgraph.advice.plan_types import Action, OrderedPlan, Stage, Step
from netgraph.advice.power_checks import rail_state
from netgraph.advice.triage import flex_connectors, open_triage
from netgraph.diagnosis.bench_state import NO_BENCH, BenchState
from netgraph.model import Board
from netgraph.plan import cautions
from netgraph.plan.backup import find_backups
from netgraph.plan.goals import RECOVER_DATA, Goal
from netgraph.plan.heat_plan import HeatPlanner
from netgraph.plan.inject import injection_plan
from netgraph.plan.isolation import isolate
from netgraph.plan.keep_list import KeepWord
from netgraph.plan.lift import lift_state, lift_table
from netgraph.plan.lift_types import LiftRow, LiftState
from netgraph.plan.power_feed import feed_class
from netgraph.plan.sites import Site, path_sites
from netgraph.plan.split import find_splits
from netgraph.plan.storage_route import storage_route
from netgraph.plan.wiring import IRREPLACEABLE_ROLES, Wiring
from netgraph.rails.tree import RailTree
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import Role, Roles

MOST_LIFTS: Final = 6
"""So many parts a stage names; then measure and ask again with what was found."""

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
    injection = injection_plan(now, roles, tree, net, weights=weights or None)
    flexes = flex_connectors(wiring, _connectors(wiring))
    cables = tuple(one for one in flexes if _is_entry(wiring, one))
    blocked = tuple(one.why for one in open_triage(bench, flexes))
    steps = list(
        opening_steps(
            net,
            scale.ranked(),
            bench,
            flexes,
            cables,
            storage_route(wiring, table.keeps),
            find_backups(wiring),
        )
    )
    steps += measure_steps(wiring, net, bench, table.keeps)
    left_out: tuple[str, ...] = ()
    if not cleared:
        steps += inject_steps(injection, blocked)
        steps += _open_steps(net, table.rows, scale)
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
        and not wiring.watched_nets(part.id)
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


def _open_steps(net: str, rows: Iterable[LiftRow], scale: Scale) -> list[Step]:
    """Series parts that may be opened on one side, measured and refitted: the reversible split.

    Those that halve the suspicion come first; where none tells anything, those on the net.
    """
    wiring = scale.wiring
    suspects = {one: scale.weight(one) for one in {*scale.ranks, *scale.weights}}
    suspects = {one: value for one, value in suspects.items() if wiring.board.has_part(one)}
    splits = find_splits(wiring, net, suspects or None, frozenset(scale.heat.guarded))
    steps: list[Step] = []
    for split in splits[:MOST_LIFTS]:
        for part_id in split.parts:
            if _is_core(wiring, part_id) or len(steps) >= MOST_LIFTS:
                continue
            steps.append(_open_step(scale, part_id, split.why))
    if not steps:
        able = [row.part_id for row in rows if row.open_to_test]
        able = [one for one in able if not _is_core(wiring, one)]
        steps = [
            _open_step(scale, one, reason("plan-open", part=one))
            for one in sorted(able, key=scale.order)[:MOST_LIFTS]
        ]
    return steps


def _open_step(scale: Scale, part_id: str, why: Reason) -> Step:
    return _hot_step(
        scale,
        part_id,
        stage="open",
        action="open-to-test",
        why=why,
        check=reason("check-both-sides", part=part_id),
        undo=reason("undo-refit", part=part_id),
        cautions=cautions.cautions_for("open-to-test"),
    )


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
    state = lift_state(board.without(off), roles, tree, net, goal=goal, keep=keep)
    chosen += _cut_steps(scale, state, net, off)
    chosen += [_separate_step(scale, row) for row in by_order if row.verdict == "lift-and-jumper"]
    needed = net in state.needed
    chosen.append(
        Step(
            stage="separate",
            action="stop",
            target=(("net", net),),
            why=reason("plan-stop" if needed else "plan-leave", net=net),
        )
    )
    return chosen, tuple(left_out)


def _cut_steps(scale: Scale, state: LiftState, net: str, off: Iterable[str]) -> list[Step]:
    """The cheapest set of parts that parts a branch nobody needs from what the goal needs."""
    cuts = isolate(state, net).cuts
    if not cuts:
        return []
    best = cuts[0]
    return [
        _hot_step(
            scale,
            part_id,
            stage="separate",
            action="lift",
            why=reason("plan-cut", part=part_id, verdict=best.why.text),
            check=best.verify[0] if best.verify else reason("check-both-sides", part=part_id),
            undo=reason("undo-fit-new", part=part_id),
            notes=best.back_feeds,
            cautions=cautions.cautions_for("lift"),
        )
        for part_id in best.parts
        if part_id not in set(off) and not _is_core(scale.wiring, part_id)
    ]


def _hot_step(
    scale: Scale,
    part_id: str,
    *,
    stage: Stage,
    action: Action,
    why: Reason,
    check: Reason,
    undo: Reason,
    cautions: tuple[Reason, ...],
    stop: tuple[Reason, ...] = (),
    notes: tuple[Reason, ...] = (),
) -> Step:
    """A step that takes a part off: how that is done and what it costs follow from the part."""
    heat = scale.plan(part_id)
    return Step(
        stage=stage,
        action=action,
        target=(("ref", part_id),),
        why=why,
        check=check,
        undo=undo,
        stop=(reason("stop-kept-hot", chip=_watch(scale, part_id)), *stop),
        notes=notes,
        cautions=cautions,
        minutes=heat.minutes,
        heat=heat,
        weight=scale.weight(part_id),
    )


def _notes(row: LiftRow) -> tuple[Reason, ...]:
    """What a lift leaves behind: inputs that nobody drives, and the row's own cautions."""
    floats = [
        reason("note-floats-unknown", part=row.part_id, net=one.net)
        if one.pull_to is None
        else reason("note-floats", part=row.part_id, net=one.net, to=one.pull_to)
        for one in row.floats
    ]
    return (*floats, *row.cautions)


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
    return _hot_step(
        scale,
        part_id,
        stage="shunt" if stage == "shunt" else "suspect",
        action="lift",
        why=why,
        check=reason("check-after-lift", part=part_id),
        undo=reason("undo-fit-new", part=part_id),
        stop=(reason("stop-cleared"),),
        notes=_notes(row),
        cautions=cautions.cautions_for("lift"),
    )


def _replace_step(scale: Scale, row: LiftRow) -> Step:
    part_id = row.part_id
    return _hot_step(
        scale,
        part_id,
        stage="replaceable",
        action="lift",
        why=reason("plan-replace", part=part_id, verdict=row.why.text),
        check=reason("check-after-lift", part=part_id),
        undo=reason("undo-donor", part=part_id),
        stop=(reason("stop-no-donor", part=part_id),),
        notes=_notes(row),
        cautions=(*cautions.cautions_for("lift"), *cautions.cautions_for("fit")),
    )


def _separate_step(scale: Scale, row: LiftRow) -> Step:
    part_id = row.part_id
    return _hot_step(
        scale,
        part_id,
        stage="separate",
        action="lift-and-jumper",
        why=reason("plan-separate", part=part_id, verdict=row.why.text),
        check=reason("check-both-sides", part=part_id),
        undo=reason("undo-refit", part=part_id),
        notes=_notes(row),
        cautions=cautions.cautions_for("jumper"),
    )
