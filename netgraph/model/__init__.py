# SPDX-License-Identifier: GPL-3.0-or-later
"""What a board is: parts, pads, nets, copper; frozen. Knows no files, no HTTP, no readings."""

from netgraph.model.board import (
    Board,
    BoardWarning,
    Net,
    NetTie,
    Pad,
    PadColumns,
    Part,
    Source,
)
from netgraph.model.builder import BoardBuilder
from netgraph.model.copper import Copper

__all__ = [
    "Board",
    "BoardBuilder",
    "BoardWarning",
    "Copper",
    "Net",
    "NetTie",
    "Pad",
    "PadColumns",
    "Part",
    "Source",
]
