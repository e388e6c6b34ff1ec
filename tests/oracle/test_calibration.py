# SPDX-License-Identifier: GPL-3.0-or-later
"""Certainties against the answer keys, each board judged by tables that it had no part in.

Source: tests/keys, written by hand from the boards' files (each entry carries its reason). The
rules themselves were written with these boards in view; only the certainties are left out here.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from benchmarks import calibration
from benchmarks.calibration import Judged, JudgedRole
from benchmarks.tellings import renamed, tellings
from netgraph.rails import find_rails
from netgraph.roles import find_roles
from tests.oracle import keys
from tests.oracle.keys import Score

TABLES = Path(__file__).resolve().parents[2] / "netgraph"
NAMES_GONE = ("as the file has it", "pin names removed", "net names blanked")
ALIKE = ("parts shuffled", "designators renumbered", "values in another notation")


@cache
def judged(folder: Path) -> list[Judged]:
    boards = calibration.labelled(folder)
    return calibration.leave_one_out(
        {name: calibration.rows_of(name, board, key) for name, board, key in boards}
    )


@cache
def judged_roles(folder: Path) -> list[JudgedRole]:
    boards = calibration.labelled(folder)
    return calibration.leave_one_out_roles(
        {name: calibration.role_rows_of(name, board, key) for name, board, key in boards}
    )


@pytest.mark.parametrize("telling", NAMES_GONE)
def test_wrong_feeders_are_not_sure_ones(boards_dir, telling):
    """At most 1 wrong answer at 0.6 or more in 100 feeders, also with names taken away."""
    rows = [one for one in judged(boards_dir) if one.row.telling == telling and one.row.first]
    wrong = [one.row for one in rows if not one.row.right and one.sure >= 0.6]
    assert len(rows) >= 90
    assert len(wrong) <= len(rows) / 100, wrong


def test_right_feeders_are_mostly_sure_ones(boards_dir):
    """At least 80 % of the right answers at 0.6 or more, at least half at 0.9 or more."""
    right = [
        one.sure
        for one in judged(boards_dir)
        if one.row.right and one.row.first and one.row.telling == "as the file has it"
    ]
    assert len(right) >= 120
    assert sum(sure >= 0.6 for sure in right) >= 0.8 * len(right)
    assert sum(sure >= 0.9 for sure in right) >= 0.5 * len(right)


@pytest.mark.parametrize("telling", NAMES_GONE)
def test_very_sure_feeders_are_right(boards_dir, telling):
    """Of answers at 0.9 or more at least 97 % are right."""
    rows = [
        one.row.right
        for one in judged(boards_dir)
        if one.row.telling == telling and one.row.first and one.sure >= 0.9
    ]
    assert len(rows) >= 40
    assert sum(rows) >= 0.97 * len(rows)


@pytest.mark.parametrize("band", [(0.3, 0.6), (0.6, 0.8), (0.8, 0.9), (0.9, 1.0)])
def test_feeders_are_right_at_least_as_often_as_said(boards_dir, band):
    """In each band the share of right answers is not below the mean certainty by more than 0.1."""
    low, high = band
    rows = [one for one in judged(boards_dir) if low <= one.sure < high and one.row.first]
    assert len(rows) >= 30
    share = sum(one.row.right for one in rows) / len(rows)
    assert share >= sum(one.sure for one in rows) / len(rows) - 0.1


def test_very_sure_roles_are_right(boards_dir):
    rows = [
        one.row.right
        for one in judged_roles(boards_dir)
        if one.row.telling == "as the file has it" and one.sure >= 0.9
    ]
    assert len(rows) >= 1000
    assert sum(rows) >= 0.97 * len(rows)


def test_roles_from_less_text_are_not_far_surer_than_right(boards_dir):
    """With values, footprints or all texts gone: bands of 100 answers or more."""
    for low, high in ((0.6, 0.8), (0.8, 0.9), (0.9, 0.95), (0.95, 1.0)):
        rows = [one for one in judged_roles(boards_dir) if low <= one.sure < high]
        if len(rows) >= 100:
            share = sum(one.row.right for one in rows) / len(rows)
            mean = sum(one.sure for one in rows) / len(rows)
            assert share >= mean - 0.1, (low, high, share, mean)


def test_the_stored_tables_are_what_the_boards_give(boards_dir):
    """The same boards and rules give the tables that ship: nobody edited them by hand."""
    boards = list(calibration.labelled(boards_dir))
    roles = [row for one in boards for row in calibration.role_rows_of(*one)]
    feeders = [row for one in boards for row in calibration.rows_of(*one)]
    stored = TABLES / "roles" / "tables" / "role_certainty.csv"
    made = calibration.role_table_text(calibration.fit_roles(roles))
    assert made == stored.read_text(encoding="utf-8")
    stored = TABLES / "rails" / "tables" / "certainty.csv"
    made = calibration.table_text(calibration.fit(feeders))
    assert made == stored.read_text(encoding="utf-8")


def _shares(folder: Path) -> dict[str, dict[str, Score]]:
    """Per telling and question: all boards together."""
    totals: dict[str, dict[str, Score]] = {}
    for _, board, key in calibration.labelled(folder):
        for how, told, part, net in tellings(board):
            said = renamed(key, part, net)
            roles = find_roles(told)
            tree = find_rails(told, roles)
            ground = Score()
            for name, one in said["nets"].items():
                if one["kind"] in ("rail", "reference", "high-voltage", "switch-node"):
                    ground.add(roles.kind(name) != "ground", name)
            asked = {
                "roles": keys.score_roles(roles, said)[0],
                "passive": keys.score_roles(roles, said)[1],
                "rails": keys.score_rails(tree, said)[0],
                "feeders": keys.score_feeders(tree, said)[0],
                "grounds": ground,
            }
            for what, score in asked.items():
                total = totals.setdefault(how, {}).setdefault(what, Score())
                total.asked += score.asked
                total.wrong += score.wrong
    return totals


@cache
def shares(folder: Path) -> dict[str, dict[str, Score]]:
    return _shares(folder)


@pytest.mark.parametrize("telling", ALIKE)
@pytest.mark.parametrize("what", ["roles", "passive", "rails", "feeders"])
def test_scores_do_not_hang_on_how_a_board_is_told(boards_dir, telling, what):
    """Order, numbers of designators and notation of values move no score by 3 points."""
    all_ = shares(boards_dir)
    before, after = all_["as the file has it"][what], all_[telling][what]
    assert abs(before.share - after.share) <= 0.03, after.wrong


def test_no_supply_is_called_ground_however_it_is_told(boards_dir):
    for how, by_question in shares(boards_dir).items():
        assert by_question["grounds"].asked >= 100
        assert not by_question["grounds"].wrong, how


def test_every_role_is_found_as_well_as_the_common_ones(boards_dir):
    """Macro-average: the mean over roles of the share of right parts, at least 90 %."""
    by_role: dict[str, list[bool]] = {}
    for _, board, key in calibration.labelled(boards_dir):
        roles = find_roles(board)
        for part_id, said in key["parts"].items():
            if said["role"] != "unknown":
                right = roles.role(part_id) == said["role"]
                by_role.setdefault(said["role"], []).append(right)
    means = {role: sum(all_) / len(all_) for role, all_ in by_role.items()}
    assert len(means) >= 20
    assert sum(means.values()) / len(means) >= 0.9, means
