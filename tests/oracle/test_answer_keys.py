# SPDX-License-Identifier: GPL-3.0-or-later
"""Roles, grounds, rails, feeders and volts of the real boards against independent answer keys.

Source: tests/keys (each entry carries its reason). The weights were chosen with these boards in
view, so the figures here say how well the rules hold together, not how well they carry over.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from netgraph.formats import read_board
from netgraph.model import Board
from netgraph.rails import RailTree, find_rails
from netgraph.roles import Roles, find_roles
from tests.oracle import keys


@cache
def answers(folder: Path, name: str) -> tuple[Board, Roles, RailTree]:
    board = read_board(folder / name / "board.kicad_pcb")
    roles = find_roles(board)
    return board, roles, find_rails(board, roles)


@pytest.mark.parametrize("name", keys.BOARDS)
def test_no_supply_is_called_ground(boards_dir, name):
    """The one mistake that must never happen, on every board."""
    _, roles, _ = answers(boards_dir, name)
    key = keys.load_key(name)
    supplies = {
        net
        for net, said in key["nets"].items()
        if said["kind"] in ("rail", "reference", "high-voltage", "switch-node")
    }
    assert not supplies & roles.grounds()


@pytest.mark.parametrize("name", keys.BOARDS)
def test_the_main_ground_is_found(boards_dir, name):
    board, _, tree = answers(boards_dir, name)
    key = keys.load_key(name)
    grounds = {net for net, said in key["nets"].items() if said["kind"] == "ground"}
    largest = max(grounds, key=lambda net: len(board.pads_on_net(net)))
    assert tree.grounds[0] == largest


@pytest.mark.parametrize("name", keys.BOARDS)
def test_a_wrong_feeder_is_never_a_sure_one(boards_dir, name):
    """Feeders with confidence from 0.6 on are right (at most 1 in 20 rails of a board is not)."""
    _, _, tree = answers(boards_dir, name)
    _, sure = keys.score_feeders(tree, keys.load_key(name))
    assert sure.asked >= 3
    assert len(sure.wrong) <= sure.asked // 20, sure.wrong


@pytest.mark.parametrize("name", keys.BOARDS)
def test_a_stated_nominal_is_the_keys_nominal(boards_dir, name):
    _, _, tree = answers(boards_dir, name)
    score = keys.score_volts(tree, keys.load_key(name))
    assert score.asked >= 5
    assert not score.wrong, score.wrong


@pytest.mark.parametrize("name", keys.REGULAR)
def test_regular_boards_are_right_throughout(boards_dir, name):
    """The first version's duty: roles, rails and feeders of the two most regular boards."""
    board, roles, tree = answers(boards_dir, name)
    key = keys.load_key(name)
    other, passive = keys.score_roles(roles, key)
    found, extra = keys.score_rails(tree, key)
    feeders, _ = keys.score_feeders(tree, key)
    for score in (other, passive, found, extra, feeders, keys.score_fitted(board, key)):
        assert score.asked
        assert not score.wrong, score.wrong


def test_all_boards_together(boards_dir):
    """Shares over all seven boards: roles, rails found and extra, feeders, fitted."""
    totals = {
        what: keys.Score() for what in ("role", "passive", "found", "extra", "feeder", "fitted")
    }
    for name in keys.BOARDS:
        board, roles, tree = answers(boards_dir, name)
        key = keys.load_key(name)
        parts = zip(
            totals.values(),
            (
                *keys.score_roles(roles, key),
                *keys.score_rails(tree, key),
                keys.score_feeders(tree, key)[0],
                keys.score_fitted(board, key),
            ),
            strict=True,
        )
        for total, one in parts:
            total.asked += one.asked
            total.wrong += one.wrong
    shares = {what: round(score.share, 4) for what, score in totals.items()}
    assert totals["role"].share >= 0.97, (shares, totals["role"].wrong)
    assert totals["passive"].share >= 0.99, (shares, totals["passive"].wrong)
    assert totals["found"].share >= 0.98, (shares, totals["found"].wrong)
    assert totals["extra"].share >= 0.90, (shares, totals["extra"].wrong)
    assert totals["feeder"].share >= 0.92, (shares, totals["feeder"].wrong)
    assert totals["fitted"].share == 1.0, (shares, totals["fitted"].wrong)


@pytest.mark.parametrize(
    "path", sorted((keys.FOLDER / "second").glob("*.json")), ids=lambda p: p.stem
)
def test_two_keys_agree(path):
    """Two people, one board: the agreement bounds what any score can mean."""
    first, second = keys.load_key(path.stem), keys.load_key(path.stem, path.parent)
    roles = keys.Score()
    for part_id, said in first["parts"].items():
        other = second["parts"][part_id]
        if "unknown" not in (said["role"], other["role"]):
            roles.add(said["role"] == other["role"], f"{part_id}: {said['role']}/{other['role']}")
    rails = keys.Score()
    for net, said in first["rails"].items():
        other = second["rails"].get(net)
        if said["kind"] != "reference":
            rails.add(other is not None, net)
    assert roles.share >= 0.95, roles.wrong
    assert rails.share >= 0.9, rails.wrong
