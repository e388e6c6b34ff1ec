# SPDX-License-Identifier: GPL-3.0-or-later
"""May these parts come off together? The answer carries its proof.

Single verdicts speak of one lift; two spare capacitors may not both be spare. A set is `safe` when
the goal lives without all of it by the power logic and every part of it would still be a lift on
the board without the others. A refusal names the kept part, or a proof that can be checked node
by node without computing anything.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from netgraph.model import Board
from netgraph.plan.and_or import Node, Proof
from netgraph.plan.chain import chain_of
from netgraph.plan.goals import RECOVER_DATA, Goal
from netgraph.plan.keep_list import KeepWord
from netgraph.plan.lift import judge, lift_state
from netgraph.plan.lift_types import Floating, LiftRow, LiftState
from netgraph.plan.power_logic import PowerLogic
from netgraph.plan.wiring import name_list
from netgraph.rails.tree import RailTree
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import Roles

SetVerdict = Literal["safe", "not-safe", "unsure"]


@dataclass(frozen=True, slots=True)
class LiftSet:
    """The verdict on a set of lifts.

    `rows` judge each part on the board without the others. `proof` says why the goal dies, where
    it does. `loses` are rails and functions that stop, `floats` lines left without a driver.
    """

    parts: tuple[str, ...]
    verdict: SetVerdict
    why: Reason
    rows: tuple[LiftRow, ...]
    loses: tuple[str, ...]
    floats: tuple[Floating, ...]
    proof: Proof | None

    def as_json(self) -> dict[str, object]:
        """Verdict, reason, rows and proof as plain data."""
        return {
            "parts": list(self.parts),
            "verdict": self.verdict,
            "why": self.why.as_json(),
            "rows": [row.as_json() for row in self.rows],
            "loses": list(self.loses),
            "floats": [one.as_json() for one in self.floats],
            "proof": None if self.proof is None else proof_json(self.proof),
        }


def proof_json(proof: Proof) -> dict[str, object]:
    """A proof as plain data: the target, the lifts, and each dead node with what kills it."""
    return {
        "target": list(proof.target),
        "lifted": sorted(proof.lifted),
        "dead": [
            {
                "node": list(one.node),
                "needs_all": one.needs_all,
                "because": [list(each) for each in one.because],
            }
            for one in proof.dead
        ],
        "story": [one.as_json() for one in chain_of(proof)],
    }


def judge_set(
    board: Board,
    roles: Roles,
    tree: RailTree,
    parts: Sequence[str],
    *,
    goal: Goal = RECOVER_DATA,
    keep: Mapping[str, KeepWord] | None = None,
) -> LiftSet:
    """Judge a set of lifts, all at once.

    Raises
    ------
    UnknownNameError
        The board has no such part.
    """
    wanted = tuple(dict.fromkeys(parts))
    for one in wanted:
        board.part(one)
    net = tree.rails[0].net if tree.rails else board.nets[0].name
    state = lift_state(board, roles, tree, net, goal=goal, keep=keep)
    fitted = [one for one in wanted if one in state.wiring.fitted]
    rows = tuple(_row_without_the_others(state, fitted, one, goal, keep) for one in fitted)
    # A wire in its place keeps the supply going, as far as the logic goes.
    wired = {row.part_id for row in rows if row.verdict == "lift-and-jumper"}
    gone = [one for one in fitted if one not in wired]
    lost = _lost(state, gone)
    loses = (*sorted(lost[0]), *sorted(lost[1]))
    floats = tuple({each.net: each for row in rows for each in row.floats}.values())
    verdict, why, proof = _verdict(state, fitted, gone, rows, len(lost[0]))
    return LiftSet(wanted, verdict, why, rows, loses, floats, proof)


def _row_without_the_others(
    state: LiftState,
    parts: Sequence[str],
    part_id: str,
    goal: Goal,
    keep: Mapping[str, KeepWord] | None,
) -> LiftRow:
    others = set(parts) - {part_id}
    if not others:
        return judge(state, part_id)
    wiring = state.wiring
    left = wiring.board.without(others)
    words = {name: word for name, word in (keep or {}).items() if name not in others}
    return judge(
        lift_state(left, wiring.roles, wiring.tree, state.net, goal=goal, keep=words), part_id
    )


def _lost(state: LiftState, parts: Sequence[str]) -> tuple[set[str], set[str]]:
    """Rails and kept functions that live on the untouched board and not without these parts."""
    after = state.logic.alive(parts)
    rails = state.logic.base.rails - after.rails
    gone = state.logic.base.parts - after.parts
    return set(rails), {state.kept[one].function for one in gone if one in state.kept}


def _verdict(
    state: LiftState,
    parts: Sequence[str],
    gone: Sequence[str],
    rows: Sequence[LiftRow],
    lost: int,
) -> tuple[SetVerdict, Reason, Proof | None]:
    names = name_list(parts)
    if state.keeps.unclear is not None:
        return "unsure", state.keeps.unclear, None
    kept = [one for one in parts if one in state.kept]
    if kept:
        first = min(kept, key=lambda one: state.kept[one].kind != "irreplaceable")
        return "not-safe", state.kept[first].why, None
    proof = _shortest_proof(state.logic, _targets(state), gone)
    if proof is not None:
        why = reason("set-kills", parts=name_list(gone), kind=proof.target[0], name=proof.target[1])
        return "not-safe", why, proof
    refused = [row for row in rows if row.verdict in ("keep", "replace")]
    if refused:
        return "not-safe", refused[0].why, None
    doubted = [row for row in rows if row.verdict == "unsure"]
    if doubted:
        return "unsure", doubted[0].why, None
    if any(row.verdict == "lift-and-jumper" for row in rows):
        return "safe", reason("set-safe-with-wires", parts=names, goal=state.keeps.goal), None
    return "safe", reason("set-safe", parts=names, goal=state.keeps.goal, lost=lost), None


def _targets(state: LiftState) -> list[Node]:
    base = state.logic.base
    rails: list[Node] = [("rail", net) for net in sorted(state.needed) if net in base.rails]
    loads: list[Node] = [("load", one) for one in sorted(state.kept) if one in base.parts]
    return rails + loads


def _shortest_proof(
    logic: PowerLogic, targets: Sequence[Node], lifted: Sequence[str]
) -> Proof | None:
    """The proof with the fewest dead nodes among all targets that die; None when none does."""
    if logic.reaches(
        [name for kind, name in targets if kind == "rail"],
        [name for kind, name in targets if kind == "load"],
        lifted,
    ):
        return None
    proofs = [one for one in (logic.proof(each, lifted) for each in targets) if one is not None]
    return min(proofs, key=lambda one: (len(one.dead), one.target), default=None)
