# SPDX-License-Identifier: GPL-3.0-or-later
"""What a board holds and a format can't: counted by kind for those who write."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

from netgraph.model.board import Board

_COUNTS: dict[str, Callable[[Board], int]] = {
    "drawn-copper": lambda board: int("has_copper" in board.capabilities),
    "field": lambda board: sum(len(part.fields) for part in board.parts),
    "net-class": lambda board: sum(bool(net.net_class) for net in board.nets),
    "net-without-pad": lambda board: sum(not board.pads_on_net(net.name) for net in board.nets),
    "not-fitted-mark": lambda board: sum(not part.fitted for part in board.parts),
    "package": lambda board: sum(bool(part.footprint) for part in board.parts),
    "pad-size": lambda board: int(((board.columns.width_nm | board.columns.height_nm) > 0).sum()),
    "part-without-designator": lambda board: sum(not part.id.strip() for part in board.parts),
    "part-without-pads": lambda board: sum(not board.pad_range(part) for part in board.parts),
    "partial-mark": lambda board: int(board.partial),
    "pin-name": lambda board: sum(map(bool, board.columns.pin_name)),
    "pin-type": lambda board: sum(map(bool, board.columns.pin_type)),
    "found-apart": lambda board: len(board.apart),
    "other-name": lambda board: len(board.aliases),
    "side": lambda board: len(board.parts) if board.knows_sides else 0,
    "unclear-net-mark": lambda board: len(board.unclear_nets),
    "value": lambda board: sum(bool(part.value) for part in board.parts),
}
"""Kind of loss -> how many things of a board it takes."""


OPENNESS = ("partial-mark", "unclear-net-mark", "other-name", "found-apart")
"""What only our own formats hold: how far a board is known, and what else it is called."""


def count_losses(board: Board, dropped: Counter[str], *kinds: str) -> None:
    """Add what a format that can't hold these kinds of things leaves out; no zeros."""
    for kind in kinds:
        count = _COUNTS[kind](board)
        if count:
            dropped[kind] += count
