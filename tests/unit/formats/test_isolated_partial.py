# SPDX-License-Identifier: GPL-3.0-or-later
"""What is not known survives the reading child: an answer without it would promise too much."""

from __future__ import annotations

import pytest

from netgraph.errors import BoardCheckError
from netgraph.formats.board_archive import pack_board, unpack_board
from netgraph.formats.hand_trace import read_hand_trace
from netgraph.formats.ipc_d356 import read_ipc_d356
from netgraph.formats.isolated import read_isolated
from tests.unit.cli.bench_boards import TRACED
from tests.unit.formats.test_ipc_d356 import HEAD, record


def test_a_partial_board_comes_out_of_the_child_as_partial_as_it_was() -> None:
    board = read_isolated(TRACED.encode(), file_name="eleven.trace")
    direct = read_hand_trace(TRACED.encode(), file_name="eleven.trace")
    assert board.partial
    assert board.not_known == direct.not_known
    assert board.parts == direct.parts


def test_unclear_nets_stay_unclear_in_an_archive() -> None:
    text = HEAD + record("WER/BANK2/AUX1", "R1", "1", 0, 0) + "\n999\n"
    board = read_ipc_d356(text.encode())
    again = unpack_board(pack_board(board))
    assert again.unclear_nets == board.unclear_nets == {"WER/BANK2/AUX1"}
    assert again.not_known == board.not_known


def test_a_contradiction_in_the_child_is_one_here_too() -> None:
    with pytest.raises(BoardCheckError, match="apart") as caught:
        read_isolated(b"# netgraph trace 1\nC1.1 C2.1 apart\nC1.1 C2.1\n", file_name="x.trace")
    assert caught.value.exit_status == 4
