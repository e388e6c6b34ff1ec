# SPDX-License-Identifier: GPL-3.0-or-later
"""The answers: two pads, from one to all, a net; names, islands, what is not known."""

from __future__ import annotations

import pytest

from netgraph.copper.resistance import net_resistances, pad_named, resistance_between
from netgraph.errors import UnknownNameError, UsageError
from netgraph.model import Board, BoardBuilder
from tests.unit.copper_boards import copper_board

PAD = (1.0, 1.0)


def three_pads() -> Board:
    """P1 to P2 by 20 squares, P3 apart."""
    return copper_board(
        [((0, 0), PAD, "rect", "top"), ((5, 0), PAD, "rect", "top"), ((9, 9), PAD, "rect", "top")],
        tracks=[((0, 0), (5, 0), 0.2, 0)],
    )


def test_two_pads() -> None:
    found = resistance_between(three_pads(), "P1.1", "P2.1")
    assert found.ohms == pytest.approx(20 * 0.4926e-3, rel=1e-3)
    assert found.mesh_ohms == 0.0
    assert found.amps == pytest.approx(0.7446, rel=1e-3)
    assert [len(one) for one in found.islands] == [2, 1]
    assert "9.85 milliohm" in found.why.text
    assert "copper-thickness-said" in [one.code for one in found.remarks]


def test_pads_that_no_copper_joins_get_no_figure() -> None:
    found = resistance_between(three_pads(), "P1.1", "P3.1")
    assert found.ohms is None
    assert found.why.code == "copper-apart"


def test_from_one_pad_and_over_a_net() -> None:
    board = three_pads()
    whole = net_resistances(board, "N")
    assert [(one.a, one.b) for one in whole.pairs] == [(0, 1)]
    start = net_resistances(board, "N", pad_named(board, "P2.1"))
    assert [(one.a, one.b) for one in start.pairs] == [(1, 0)]
    assert start.pairs[0].ohms == pytest.approx(whole.pairs[0].ohms)


def test_an_area_tells_how_far_its_cells_can_be_trusted() -> None:
    """Over a bend the answer moves with the cell; its error lies within a few times that."""
    ring = [(0.0, 0.0), (5.0, 0.0), (5.0, 1.0), (1.0, 1.0), (1.0, 5.0), (0.0, 5.0)]
    board = copper_board(
        [((4.5, 0.5), PAD, "rect", "top"), ((0.5, 4.5), PAD, "rect", "top")], fills=[(0, ring)]
    )
    found = resistance_between(board, "P1.1", "P2.1")
    assert found.ohms is not None
    assert found.mesh_ohms is not None
    exact = 6.558729 * 0.4926108e-3  # sheet_geometry.csv: L shape, arms 3 squares each
    assert 0 < abs(found.ohms - exact) <= 2 * found.mesh_ohms


def test_names() -> None:
    board = three_pads()
    with pytest.raises(UnknownNameError) as error:
        resistance_between(board, "P1.7", "P2.1")
    assert error.value.near == ("P1.1",)
    with pytest.raises(UnknownNameError):
        resistance_between(board, "Q9.1", "P2.1")
    with pytest.raises(UsageError):
        resistance_between(board, "P1.1", "P1.1")
    with pytest.raises(UnknownNameError):
        net_resistances(board, "M")


def test_pads_of_two_nets_are_no_question_of_copper() -> None:
    builder = BoardBuilder("two nets")
    part = builder.add_part("R1")
    builder.add_pad(part, "1", "A")
    builder.add_pad(part, "2", "B")
    builder.add_pad(part, "3", None)
    board = builder.freeze()
    with pytest.raises(UsageError, match=r"R1\.1 is on A, R1\.2 on B"):
        resistance_between(board, "R1.1", "R1.2")
    with pytest.raises(UsageError, match="on no net"):
        resistance_between(board, "R1.1", "R1.3")
    assert net_resistances(board, "A").why.code == "copper-no-format"
