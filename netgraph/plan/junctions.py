# SPDX-License-Identifier: GPL-3.0-or-later
"""Which way a diode of the board lets current pass, by names of nets."""

from __future__ import annotations

from netgraph.model import Board
from netgraph.roles.polarity import junctions_of
from netgraph.roles.wiring import Pin


class _Nets:
    def __init__(self, board: Board) -> None:
        self.board = board

    def __getitem__(self, part: int, /) -> tuple[int, ...]:
        column = self.board.columns.net
        nets = (int(column[i]) for i in self.board.pad_range(self.board.parts[part]))
        return tuple(dict.fromkeys(net for net in nets if net >= 0))


class _Pins:
    def __init__(self, board: Board) -> None:
        self.board = board

    def __getitem__(self, part: int, /) -> tuple[Pin, ...]:
        c = self.board.columns
        return tuple(
            dict.fromkeys(
                Pin(c.pin[i], int(c.net[i]), c.pin_name[i], c.pin_type[i])
                for i in self.board.pad_range(self.board.parts[part])
                if c.pin[i] or c.net[i] >= 0
            )
        )


class _View:
    """Only what polarity asks for: a whole index of the board for one diode would be dear."""

    def __init__(self, board: Board) -> None:
        self.board = board
        self.nets = _Nets(board)
        self.pins = _Pins(board)


def junctions(board: Board, part_id: str) -> tuple[tuple[str, str], ...]:
    """(anode net, cathode net) of each junction of a diode part; empty where it can't be told."""
    found = junctions_of(_View(board), board.part(part_id).index)
    return tuple((board.nets[one.anode].name, board.nets[one.cathode].name) for one in found)
