# SPDX-License-Identifier: GPL-3.0-or-later
"""Which grounds are one for direct current, and which stand apart (isolated supplies)?"""

from __future__ import annotations

from typing import Final

from netgraph.model import Board, Pad
from netgraph.model.board import board_of
from netgraph.rails.tree import RailTree
from netgraph.roles.answer import Role, Roles
from netgraph.roles.wiring import Wiring

_JOINS: Final[frozenset[Role]] = frozenset(
    {"ferrite", "link", "fuse", "sense-resistor", "inductor"}
)
_APART: Final[frozenset[Role]] = frozenset(
    {"connector", "slot", "capacitor", "transformer", "optocoupler", "mechanical", "switch",
     "resistor", "thermistor", "tvs", "esd-array", "diode", "led", "crystal", "test-point",
     "battery", "antenna", "speaker", "microphone", "interface"}
)  # fmt: skip
"""Parts on two grounds that do not make them one: they may stand across an isolation."""


def merged_grounds(board: Board, roles: Roles, tree: RailTree, wiring: Wiring) -> frozenset[str]:
    """The grounds that are one node: the largest, and what series parts or one chip join to it; of
    an assembly the largest of each board.

    A chip with two ground nets joins them through its substrate; interfaces may isolate and don't.
    """
    names = roles.grounds() | frozenset(tree.grounds)
    nets = [net.index for net in board.nets if net.name in names]
    if not nets:
        return frozenset()
    grounds = set(nets)
    merged = _largest_of_boards(board, wiring, nets)
    ties = [
        {pad.net for pad in _pads(board, tie.part_id) if pad.pin in tie.pins and pad.net}
        for tie in board.net_ties
    ]
    joined = [{board.net(name).index for name in on} for on in ties if len(on) > 1]
    for part in board.parts:
        if not wiring.fitted[part.index]:
            continue
        judged = roles.parts.get(part.id)
        role: Role = "unknown" if judged is None else judged.role
        own = set(wiring.nets[part.index])
        if role in _JOINS and len(own) == 2:
            joined.append(own)
        elif role not in _JOINS | _APART | {"unknown", "other"} and len(own & grounds) > 1:
            joined.append(own & grounds)
    grown = True
    while grown:
        grown = False
        for on in joined:
            new = (on & grounds) - merged
            if new and on & merged:
                merged |= new
                grown = True
    return frozenset(board.nets[net].name for net in merged)


def _largest_of_boards(board: Board, wiring: Wiring, nets: list[int]) -> set[int]:
    """The largest ground of each board of an assembly; of a single board the largest of all.

    Boards that nothing joins share no current, so taking their grounds for one changes nothing but
    that each is measured against its own.
    """
    of: dict[str, set[int]] = {}
    for net in nets:
        for part in wiring.parts[net]:
            of.setdefault(board_of(board.parts[part].id), set()).add(net)
    boards = list(of.values()) if len(of) > 1 else [set(nets)]
    return {max(own, key=lambda net: (wiring.pads[net], -net)) for own in boards}


def _pads(board: Board, part_id: str) -> list[Pad]:
    return [board.pad(i) for i in board.pad_range(board.part(part_id))]
