# SPDX-License-Identifier: GPL-3.0-or-later
"""Lift verdicts against answer keys of real boards, written without sight of the rules.

Source of each key: the netlist, published values and general knowledge of the part families; the
board's repository and licence stand in the file. `accept` are the verdicts a careful engineer
would let pass, `decidable` says whether the netlist is enough to decide.
"""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import pytest

from netgraph.plan.lift import lift_table
from netgraph.plan.lift_types import LiftRow
from netgraph.survey import survey

KEYS = Path(__file__).parent.parent / "keys" / "lift"
BOARDS = sorted(path.stem for path in KEYS.glob("*.json"))


@dataclass(frozen=True)
class Judged:
    """One part of one short: what is said, and what may be said."""

    net: str
    row: LiftRow
    role: str
    accept: frozenset[str]
    decidable: bool


@pytest.fixture(scope="module")
def judged(boards_dir: Path) -> dict[str, list[Judged]]:
    found: dict[str, list[Judged]] = {}
    for name in BOARDS:
        key = json.loads((KEYS / f"{name}.json").read_text(encoding="utf-8"))
        seen = survey(boards_dir / name / "board.kicad_pcb")
        found[name] = []
        for net, entries in key["shorts"].items():
            table = lift_table(seen.board, seen.roles, seen.tree, net)
            rows = {row.part_id: row for row in table.rows}
            assert rows.keys() >= entries.keys(), f"{name} {net}: parts of the key are missing"
            # Bare test pads are no parts to lift; the keys leave some of them out.
            assert {seen.roles.role(one) for one in rows.keys() - entries.keys()} <= {"test-point"}
            for ref, entry in entries.items():
                found[name].append(
                    Judged(
                        net,
                        rows[ref],
                        seen.roles.role(ref),
                        frozenset(entry["accept"]),
                        entry["decidable"],
                    )
                )
    return found


def test_there_are_three_shorts_on_each_of_four_boards() -> None:
    shorts = [
        len(json.loads((KEYS / f"{name}.json").read_text(encoding="utf-8"))["shorts"])
        for name in BOARDS
    ]
    assert shorts == [3, 3, 3, 3]


@pytest.mark.parametrize("name", BOARDS)
def test_nothing_is_lifted_that_the_key_does_not_let_go(
    judged: dict[str, list[Judged]], name: str
) -> None:
    for one in judged[name]:
        for verdict in ("lift", "lift-and-jumper"):
            if one.row.verdict == verdict:
                assert verdict in one.accept, f"{one.net} {one.row.part_id}: {one.row.why.text}"


def test_nineteen_of_twenty_verdicts_are_those_of_the_key(judged: dict[str, list[Judged]]) -> None:
    every = [one for each in judged.values() for one in each]
    right = sum(one.row.verdict in one.accept for one in every)
    assert right / len(every) >= 0.95, f"{right} of {len(every)}"


def test_at_most_fifteen_of_a_hundred_parts_on_a_rail_are_unsure(
    judged: dict[str, list[Judged]],
) -> None:
    for name, rows in judged.items():
        all_of = Counter(one.net for one in rows)
        unsure = Counter(one.net for one in rows if one.row.verdict == "unsure")
        for net, count in all_of.items():
            # On a short list one part is more than the share allows.
            assert unsure[net] <= max(1, 0.15 * count), f"{name} {net}"


def test_nine_of_ten_capacitors_with_a_twin_may_go(judged: dict[str, list[Judged]]) -> None:
    shunts = [
        one
        for each in judged.values()
        for one in each
        if one.role == "capacitor" and one.accept == {"lift"}
    ]
    lifted = sum(one.row.verdict == "lift" for one in shunts)
    assert len(shunts) > 100
    assert lifted / len(shunts) >= 0.9, f"{lifted} of {len(shunts)}"
