# SPDX-License-Identifier: GPL-3.0-or-later
"""What may come off a shorted net when only the goal must survive: one verdict a part.

`keep`: needed as it is; `replace`: needed, a like part may take its place; `lift`: may come off;
`lift-and-jumper`: may come off if a wire takes its place; `unsure`: the netlist can't tell.
The keep list is asked first, then the doubts, then the power logic, then the rules by role.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from netgraph.errors import UsageError
from netgraph.model import Board
from netgraph.plan.backup import erase_cautions, find_backups
from netgraph.plan.doubt import doubtful_rails, find_doubt
from netgraph.plan.goals import RECOVER_DATA, Goal
from netgraph.plan.keep_list import Keeps, KeepWord, find_keeps
from netgraph.plan.lift_capacitors import judge_capacitor
from netgraph.plan.lift_loads import judge_load
from netgraph.plan.lift_rules import judge_array, judge_series, judge_shunt
from netgraph.plan.lift_types import LiftRow, LiftState
from netgraph.plan.needs import NO_NEEDS, RISES_WITHOUT, Needs, find_needs
from netgraph.plan.noted import note_cautions
from netgraph.plan.power_logic import PowerLogic
from netgraph.plan.untraced import doubted_lift
from netgraph.plan.wiring import (
    BODILESS,
    IRREPLACEABLE_ROLES,
    PASSIVES,
    SERIES_ROLES,
    Wiring,
    name_list,
)
from netgraph.rails.tree import RailTree
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import Roles

MANY_PINS = 6
"""From here on a part of unknown role may be anything, a memory too."""


@dataclass(frozen=True)
class LiftTable:
    """The answer for one net: the goal, the keep list and one row for each part asked about.

    `needs` are the enables and helper parts of the whole board.
    """

    net: str
    goal: str
    keeps: Keeps
    rows: tuple[LiftRow, ...]
    note_cautions: tuple[Reason, ...] = ()
    needs: Needs = NO_NEEDS

    def as_json(self) -> dict[str, object]:
        """The fields of the contract's `lift` row."""
        return {
            "net": self.net,
            "goal": self.goal,
            "keeps": self.keeps.as_json(),
            "parts": [row.as_json() for row in self.rows],
        }


def lift_table(
    board: Board,
    roles: Roles,
    tree: RailTree,
    net: str,
    *,
    goal: Goal = RECOVER_DATA,
    keep: Mapping[str, KeepWord] | None = None,
    whole_board: bool = False,
) -> LiftTable:
    """Judge every fitted part with a pad on `net`, or of the whole board.

    Each row speaks of that one lift on the board as it is: after a lift ask again with
    ``board.without({part_id})``, because what is left to spare has changed.

    Raises
    ------
    UnknownNameError
        The board has no such net, or `keep` names no part of it.
    UsageError
        The net is a ground: it is what others are shorted to.
    """
    board.net(net)
    if net in roles.grounds() | frozenset(tree.grounds):
        raise UsageError(
            f"{net} is ground: it is what a supply is shorted to",
            hint=f"name the supply; if {net} is one, note its kind: --kind rail",
        )
    state = lift_state(board, roles, tree, net, goal=goal, keep=keep)
    wiring = state.wiring
    asked = (
        [part.id for part in board.parts if part.id in wiring.fitted]
        if whole_board
        else wiring.parts(net)
    )
    return LiftTable(
        net,
        goal.name,
        state.keeps,
        tuple(judge(state, part_id) for part_id in asked),
        (
            *erase_cautions(wiring, state.backups),
            *note_cautions(wiring, keep),
            *state.keeps.doubts,
        ),
        state.logic.needs,
    )


def lift_state(
    board: Board,
    roles: Roles,
    tree: RailTree,
    net: str,
    *,
    goal: Goal = RECOVER_DATA,
    keep: Mapping[str, KeepWord] | None = None,
) -> LiftState:
    """Everything the single verdicts need, worked out once for the board."""
    wiring = Wiring(board, roles, tree)
    needs = find_needs(wiring)
    every = PowerLogic.of(wiring, needs)
    keeps = find_keeps(board, roles, tree, goal, keep, logic=every)
    logic = PowerLogic.of(wiring, needs, trusted_only=True, relaxed=every.relaxed)
    kept = keeps.by_part()
    needed = frozenset(keeps.rails)
    single = logic.single_points(needed, kept)
    doubtful = doubtful_rails(logic, needed)
    doubt = find_doubt(logic, doubtful, needed)
    return LiftState(
        wiring=wiring,
        keeps=keeps,
        kept=kept,
        needed=needed | doubt.rails,
        logic=logic,
        single=single,
        doubtful=doubtful,
        concerned=doubt.parts,
        net=net,
        backups=find_backups(wiring),
    )


def judge(state: LiftState, part_id: str) -> LiftRow:
    """The verdict on one fitted part; nothing on a high-voltage net comes off before it is bled."""
    row = _that_erases(state, _held_down(state, _judge(state, part_id)))
    wiring = state.wiring
    high = [n for n in wiring.nets(part_id) if wiring.net_role(n).kind == "high-voltage"]
    if high and row.verdict in ("lift", "lift-and-jumper"):
        why = reason("lift-high-voltage", part=part_id, nets=name_list(high))
        return state.row(part_id, "unsure", why)
    return doubted_lift(wiring, row)


def _judge(state: LiftState, part_id: str) -> LiftRow:
    """The order of the questions is the order of safety."""
    wiring = state.wiring
    role = wiring.role(part_id)
    item = state.kept.get(part_id)
    if item is not None:
        if item.kind == "irreplaceable":
            return state.row(part_id, "keep", item.why)
        return state.row(part_id, "replace", item.why)
    if state.keeps.unclear is not None:
        return state.row(part_id, "unsure", state.keeps.unclear)
    refused = part_id in state.keeps.refused
    if not refused:
        if role in BODILESS and wiring.is_sure(part_id):
            return state.row(part_id, "keep", reason("lift-no-gain", part=part_id, role=role))
        if role in IRREPLACEABLE_ROLES or not wiring.is_sure(part_id) or role == "unknown":
            return _doubted(state, part_id)
    if part_id in state.single:
        return _single_point(state, part_id, refused)
    if part_id in state.concerned:
        nets = name_list(state.doubtful or state.needed & set(state.wiring.nets(part_id)))
        why = reason("lift-feeder-missing", part=part_id, nets=nets)
        return state.row(part_id, "unsure", why)
    if refused and role == "processor" and not _other_processor(state, part_id):
        return state.row(part_id, "unsure", reason("lift-only-processor", part=part_id))
    if refused:
        return state.row(part_id, "lift", reason("lift-user-no", part=part_id))
    row = _by_role(state, part_id)
    return _for_kept_chip(state, row)


def _for_kept_chip(state: LiftState, row: LiftRow) -> LiftRow:
    """A part that does something for a kept chip is no lift and no riddle: a like one may do it."""
    needs = [one for one in row.needed_for if one.user in state.kept]
    vital = [one for one in needs if one.vital and one.kind not in RISES_WITHOUT]
    if row.verdict == "lift" and vital:
        return state.row(row.part_id, "replace", vital[0].why)
    if row.verdict == "unsure" and needs and state.wiring.role(row.part_id) in PASSIVES:
        return state.row(row.part_id, "replace", (vital or needs)[0].why)
    return row


def _held_down(state: LiftState, row: LiftRow) -> LiftRow:
    """No part comes off without which a supply rises, whether the goal needs that supply or not."""
    rising = [one for one in row.needed_for if one.vital and one.kind in RISES_WITHOUT]
    if row.verdict not in ("lift", "lift-and-jumper") or not rising:
        return row
    passive = state.wiring.role(row.part_id) in PASSIVES - {"diode"}
    return state.row(row.part_id, "keep" if passive else "replace", rising[0].why)


def _that_erases(state: LiftState, row: LiftRow) -> LiftRow:
    """No part comes off on the way from a cell that keeps a chip's content, nor one on a line that
    watches for opening.
    """
    if row.verdict == "keep":
        return row
    for one in state.backups:
        if row.part_id in one.parts:
            chips = name_list(one.chips)
            why = reason("backup-cell", cell=one.cell, chips=chips)
            if row.part_id != one.cell:
                why = reason("lift-backup", part=row.part_id, cell=one.cell, chips=chips)
            return state.row(row.part_id, "unsure", why)
    watched = state.wiring.watched_nets(row.part_id)
    if watched:
        why = reason("lift-tamper", part=row.part_id, net=watched[0])
        return state.row(row.part_id, "unsure", why)
    return row


def _other_processor(state: LiftState, part_id: str) -> bool:
    return any(state.wiring.role(one) == "processor" for one in state.kept if one != part_id)


def _by_role(state: LiftState, part_id: str) -> LiftRow:
    wiring = state.wiring
    role = wiring.role(part_id)
    two_nets = len(wiring.nets(part_id)) == 2
    if role == "battery":
        return state.row(part_id, "unsure", reason("lift-battery", part=part_id))
    if role == "capacitor":
        return judge_capacitor(state, part_id)
    if role in SERIES_ROLES or (role in ("resistor", "thermistor") and two_nets):
        return judge_series(state, part_id)
    if role in ("resistor", "thermistor"):
        return judge_array(state, part_id)
    if (
        two_nets
        and role in ("tvs", "diode", "esd-array")
        and wiring.grounds & set(wiring.nets(part_id))
    ):
        return judge_shunt(state, part_id)
    return judge_load(state, part_id)


def _doubted(state: LiftState, part_id: str) -> LiftRow:
    """A part whose role nobody may act on: it might be the one that holds the data."""
    role = state.wiring.part_role(part_id)
    pads = len(state.wiring.pads_of[part_id])
    if pads >= MANY_PINS and role.role not in PASSIVES:
        why = reason("lift-might-hold-data", part=part_id, role=role.role, pads=pads)
    else:
        why = reason(
            "lift-role-unsure",
            part=part_id,
            role=role.role,
            confidence=round(role.confidence, 2),
        )
    return state.row(part_id, "unsure", why)


def _single_point(state: LiftState, part_id: str, refused: bool) -> LiftRow:
    """The goal dies without this part: a wire, a like part, or nothing at all."""
    wiring = state.wiring
    role = wiring.role(part_id)
    dies = name_list(state.needed_rails_lost(part_id))
    if refused:
        why = reason("lift-user-no-but-needed", part=part_id, nets=dies)
        return state.row(part_id, "unsure", why)
    if role in SERIES_ROLES and len(wiring.nets(part_id)) == 2:
        return _in_line(state, judge_series(state, part_id), dies)
    needed = _needed_by_chip(state, part_id, dies)
    if needed is not None:
        return needed
    if role == "diode":
        why = reason("lift-diode-needed", part=part_id, nets=dies)
        return state.row(part_id, "replace", why, cautions=(reason("jumper-diode", part=part_id),))
    if role in PASSIVES:
        return state.row(part_id, "keep", reason("lift-passive-needed", part=part_id, nets=dies))
    return state.row(part_id, "replace", reason("lift-needed", part=part_id, nets=dies))


def _in_line(state: LiftState, row: LiftRow, dies: str) -> LiftRow:
    """A link or ferrite that a wire may replace; in an enable it carries no supply, and says so."""
    switching = [one for one in row.needed_for if one.vital and one.kind in ("enable", "reset")]
    feeds = any(True for _ in state.wiring.feeders_with(row.part_id))
    if row.verdict != "lift-and-jumper" or not switching or feeds or not dies:
        return row
    return replace(row, why=reason("need-and-wire", why=switching[0].why.text, nets=dies))


def _needed_by_chip(state: LiftState, part_id: str, dies: str) -> LiftRow | None:
    """A part the goal hangs on because of what it does for a chip, not as a way of the current."""
    needs = [one for one in state.logic.needs.of(part_id) if one.vital]
    if not needs or any(True for _ in state.wiring.feeders_with(part_id)):
        return None
    first = needs[0]
    why = first.why
    if first.kind in RISES_WITHOUT and state.wiring.role(part_id) in PASSIVES - {"diode"}:
        # A slightly other value there gives an other voltage: nothing to guess at.
        if dies:
            why = reason("need-and-stays", why=why.text, nets=dies)
        return state.row(part_id, "keep", why)
    if dies:
        why = reason("need-and-stops", why=why.text, nets=dies)
    return state.row(part_id, "replace", why)
