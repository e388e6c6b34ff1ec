# SPDX-License-Identifier: GPL-3.0-or-later
"""How certainties are fitted on the labelled boards, and checked with one left out.

Both models are logistic regressions on a few facts: feeders on those of
``netgraph.rails.certainty``, roles on those of ``netgraph.roles.certainty``. The weights are
drawn towards a prior of the trade (PRIOR, by judgement): seven boards say little about facts that
few of them show. A board is also asked with names or values taken away, at less weight, since
wrong answers are rare on boards that the rules were written with.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import sqrt
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.tellings import renamed, same, stripped, tellings
from netgraph.formats import read_board
from netgraph.model import Board
from netgraph.rails.certainty import (
    LEAST_BOARDS,
    RARE_MOST,
    SURPRISE,
    Facts,
    Weight,
    probability,
)
from netgraph.rails.find import weigh_board
from netgraph.roles import find_roles
from netgraph.roles.certainty import role_certainty, role_facts
from netgraph.roles.find import part_judge
from tests.oracle import keys

PRIOR: dict[str, float] = {
    "coil": 2.6,
    "pin by name": 3.2,
    "pair": 0.5,
    "power-path": 1.6,
    "charges": 0.0,
    "pump": 2.0,
    "diode": 2.0,
    "transistor": 1.0,
    "bead": 2.8,
    "low-ohm": 2.4,
    "resistor": 1.6,
    "jumper": 1.2,
    "manager-pin": 1.4,
    "manager-pins": -0.5,
    "own-output": 1.6,
    "big-chip": -0.5,
    "transformer": 0.6,
    "bridge": 1.6,
    "divider-top": 2.0,
    "entry by cell": 3.0,
    "entry by part and name": 3.2,
    "entry by name": 1.6,
    "entry by rectifier": 1.6,
    "entry by part": 0.8,
    "entry by volts": 0.8,
    "entry left over": 0.0,
    "direction by name": 0.8,
    "volts fit": 0.8,
    "volts against": -2.0,
    "source unsure": -3.0,
    "from a guess": -2.0,
    "input unknown": -1.0,
    "input guessed": -3.0,
    "only way": 0.8,
    "rival": -0.8,
    "stranger": -0.8,
    "entry too": -0.5,
    "rail unsure": -2.5,
    "part unsure": -2.0,
}
"""Weights before any board was looked at, in log odds: judgement, no source."""
SPREAD = 0.8
"""How far (one standard deviation, log odds) the boards may easily move a weight."""
ROLE_PRIOR: dict[str, float] = {
    "always": -1.6,
    "lead up to 4": 0.9,
    "lead beyond 4": 0.9,
    "score": 0.25,
}
ROLE_SPREAD = 0.5
TELLINGS = {
    "as the file has it": 1.0,
    "pin names removed": 0.5,
    "net names blanked": 0.5,
    "without values": 0.25,
}
CLEAR = 0.25
"""A fact of a degree (0..1) counts as there from this value on."""
MOST_ALIKE = 4.0
"""Answers of one part on one board with the same facts count as at most so many."""


@dataclass(frozen=True)
class Row:
    """One answer: where, the facts behind it, whether the key agrees, and its weight."""

    board: str
    telling: str
    net: str
    form: str
    part: int
    facts: Facts
    right: bool
    first: bool
    weight: float


def labelled(folder: Path) -> Iterator[tuple[str, Board, dict[str, Any]]]:
    """All boards that have an answer key, with it."""
    for name in keys.BOARDS:
        yield name, read_board(folder / name / "board.kicad_pcb"), keys.load_key(name)


def rows_of(name: str, board: Board, key: dict[str, Any]) -> list[Row]:
    """Every feeding that the program claims on one board, in three tellings, with its label."""
    found: list[Row] = []
    ways = [*tellings(board), *((how, told, same, same) for how, told in stripped(board))]
    for how, told, part, net in {way[0]: way for way in ways}.values():
        if how not in TELLINGS:
            continue
        said = renamed(key, part, net)
        roles = find_roles(told)
        every, _, weighed = weigh_board(told, roles)
        for index, all_ in weighed.items():
            own = told.nets[index].name
            if roles.kind(own) == "reference":
                continue
            for nth, one in enumerate(all_):
                right = _label(own, one.candidate, every, said)
                if right is None:
                    continue
                by = one.candidate.part if one.candidate is not None else -1
                form = one.facts[0][0]
                found.append(
                    Row(name, how, own, form, by, one.facts, right, nth == 0, TELLINGS[how])
                )
    alike = Counter((row.telling, row.part, row.form) for row in found)
    return [
        Row(
            **{
                **row.__dict__,
                "weight": row.weight
                * min(1.0, MOST_ALIKE / alike[(row.telling, row.part, row.form)])
                if row.part >= 0
                else row.weight,
            }
        )
        for row in found
    ]


def _label(net: str, candidate: Any, every: Any, key: dict[str, Any]) -> bool | None:
    """Whether the key agrees with one feeding; None when it doesn't judge."""
    kind = key["nets"].get(net, {}).get("kind", "signal")
    if kind in ("unknown", "reference"):
        return None
    said = key["rails"].get(net)
    if said is None or kind not in ("rail", "high-voltage"):
        return False
    if said["kind"] == "reference" or not (
        said["feeders"] or said["entry"] or said["unknown_feeder"]
    ):
        return None
    if candidate is None:
        return bool(said["entry"])
    ref = every.part_id(candidate.part)
    source = every.name(candidate.source) if candidate.source >= 0 else None
    return any(
        one["ref"] == ref
        and (one["from_net"] is None or source is None or one["from_net"] == source)
        for one in said["feeders"] + said.get("accept", [])
    )


def newton(
    facts: Sequence[Facts],
    right: Sequence[bool],
    weight: Sequence[float],
    prior: dict[str, float],
    spread: float,
) -> dict[str, float]:
    """Weights by Newton's method on the penalised likelihood; the same rows give the same."""
    column = {name: i for i, name in enumerate(prior)}
    x = np.zeros((len(facts), len(prior)))
    for i, row in enumerate(facts):
        for fact, value in row:
            x[i, column[fact]] = value
    y, w = np.array(right, dtype=float), np.array(weight)
    start = np.array(list(prior.values()))
    b = start.copy()
    for _ in range(50):
        p = 1.0 / (1.0 + np.exp(-(x @ b)))
        gradient = x.T @ (w * (y - p)) - (b - start) / spread**2
        curvature = (x.T * (w * p * (1 - p))) @ x + np.eye(len(start)) / spread**2
        step = np.linalg.solve(curvature, gradient)
        b = b + step
        if float(np.abs(step).max()) < 1e-10:
            break
    return {name: round(float(b[i]), 2) for name, i in column.items()}


def fit(rows: Sequence[Row]) -> dict[str, Weight]:
    """The table of feeders' certainty."""
    fitted = newton(
        [row.facts for row in rows],
        [row.right for row in rows],
        [row.weight for row in rows],
        PRIOR,
        SPREAD,
    )
    counts = _support(rows)
    return {name: Weight(weight, *counts[name]) for name, weight in fitted.items()}


@dataclass(frozen=True)
class Judged:
    """One answer and its certainty from weights that its board had no part in."""

    row: Row
    sure: float


@dataclass(frozen=True)
class RoleRow:
    """One part's role: where, the strength of its evidence, whether the key agrees, its weight."""

    board: str
    telling: str
    part: str
    score: float
    lead: float
    right: bool
    weight: float
    passive: bool


def role_rows_of(name: str, board: Board, key: dict[str, Any]) -> list[RoleRow]:
    """Every judged part of one board, with its texts and with some of them taken away."""
    found = []
    for how, told in stripped(board):
        judge = part_judge(told)
        for part in told.parts:
            said = key["parts"].get(part.id, {"role": "unknown"})["role"]
            role, evidence = judge.weigh(part.index)
            if "unknown" in (said, role):
                continue
            _, score, lead = evidence.best()
            passive = keys.is_passive(part.id)
            weight = (1.0 if how == "as the file has it" else 0.5) * (0.3 if passive else 1.0)
            found.append(RoleRow(name, how, part.id, score, lead, role == said, weight, passive))
    return found


def fit_roles(rows: Sequence[RoleRow]) -> dict[str, float]:
    """The table of roles' certainty."""
    return newton(
        [role_facts(row.score, row.lead) for row in rows],
        [row.right for row in rows],
        [row.weight for row in rows],
        ROLE_PRIOR,
        ROLE_SPREAD,
    )


def role_table_text(table: dict[str, float]) -> str:
    """The file ``netgraph/roles/tables/role_certainty.csv``."""
    lines = [
        "# source: fitted by tools/fit_confidence.py on the labelled boards of tests/keys, drawn "
        "towards a prior by judgement",
        "# status: fitted; see docs/reference/accuracy.md for the check with one board left out",
        "# columns: fact (of netgraph.roles.certainty), weight (log odds), prior (before boards)",
        "fact,weight,prior",
    ]
    lines += [f"{fact},{weight:g},{ROLE_PRIOR[fact]:g}" for fact, weight in table.items()]
    return "\n".join(lines) + "\n"


def leave_one_out(by_board: dict[str, list[Row]]) -> list[Judged]:
    """Every answer with the certainty that the other boards give it.

    The fact "source unsure" keeps the certainty that the stored table gave the source.
    """
    found = []
    for name, own in by_board.items():
        others = [row for board, rows in by_board.items() if board != name for row in rows]
        table = fit(others)
        found += [Judged(row, probability(row.facts, table)) for row in own]
    return found


def _support(rows: Sequence[Row]) -> dict[str, tuple[int, int, int]]:
    """Per fact: answers with it that were right, all of them, their boards, as the files are."""
    right, asked = Counter[str](), Counter[str]()
    boards: dict[str, set[str]] = defaultdict(set)
    for row in rows:
        if row.telling == "as the file has it":
            for fact, value in row.facts:
                if value >= CLEAR:
                    right[fact] += row.right
                    asked[fact] += 1
                    boards[fact].add(row.board)
    return {fact: (right[fact], asked[fact], len(boards[fact])) for fact in PRIOR}


@dataclass(frozen=True)
class JudgedRole:
    """One role and its certainty from weights that its board had no part in."""

    row: RoleRow
    sure: float


def leave_one_out_roles(by_board: dict[str, list[RoleRow]]) -> list[JudgedRole]:
    """Every role with the certainty that the other boards give it."""
    found = []
    for name, own in by_board.items():
        others = [row for board, rows in by_board.items() if board != name for row in rows]
        table = fit_roles(others)
        found += [JudgedRole(row, role_certainty(row.score, row.lead, table)) for row in own]
    return found


def wilson(right: int, asked: int, z: float = 1.96) -> tuple[float, float]:
    """Wilson's 95 % interval of a share (Wilson 1927, from memory).

    >>> [round(end, 3) for end in wilson(8, 10)]
    [0.49, 0.943]
    """
    if not asked:
        return 0.0, 1.0
    share = right / asked
    middle = share + z * z / (2 * asked)
    half = z * sqrt(share * (1 - share) / asked + z * z / (4 * asked * asked))
    return (middle - half) / (1 + z * z / asked), (middle + half) / (1 + z * z / asked)


def table_text(table: dict[str, Weight]) -> str:
    """The file ``netgraph/rails/tables/certainty.csv``."""
    lines = [
        "# source: fitted by tools/fit_confidence.py on the labelled boards of tests/keys, drawn "
        "towards a prior by judgement",
        "# status: fitted; see docs/reference/accuracy.md for the check with one board left out",
        "# columns: fact, weight (log odds, times the fact's value 0..1), prior (the same before "
        "any board), right, asked and boards (answers with the fact as the files have it)",
        f"# certainty is (1 - {SURPRISE}) / (1 + exp(-sum of weights)); at most {RARE_MOST} for a "
        f"form seen on fewer than {LEAST_BOARDS} board(s)",
        "fact,weight,prior,right,asked,boards",
    ]
    for fact, row in table.items():
        counts = f"{row.right},{row.asked},{row.boards}"
        lines.append(f"{fact},{row.weight:g},{PRIOR[fact]:g},{counts}")
    return "\n".join(lines) + "\n"
