# SPDX-License-Identifier: GPL-3.0-or-later
"""Small boards from one line a part, for tests of roles and rails."""

from __future__ import annotations

from netgraph.model import Board, BoardBuilder
from netgraph.rails import RailTree, find_rails
from netgraph.roles import NO_NOTES, BoardNotes, Roles, find_roles


def circuit(text: str) -> Board:
    """A board from lines ``REF VALUE FOOTPRINT pin[:name]=NET ...``; ``-`` for an empty text.

    A net ``-`` leaves the pin unconnected.
    """
    builder = BoardBuilder("circuit")
    for line in filter(str.strip, text.splitlines()):
        ref, value, footprint, *pins = line.split()
        part = builder.add_part(
            ref,
            value="" if value == "-" else value.replace("_", " "),
            footprint="" if footprint == "-" else footprint,
        )
        for pin in pins:
            left, _, net = pin.partition("=")
            number, _, name = left.partition(":")
            builder.add_pad(part, number, None if net == "-" else net, pin_name=name)
    return builder.freeze()


def tree_of(text: str, notes: BoardNotes = NO_NOTES) -> tuple[Roles, RailTree]:
    """Roles and rails of such a board."""
    board = circuit(text)
    roles = find_roles(board, notes)
    return roles, find_rails(board, roles, notes)


GROUND = """
C90 100n C_0402 1=X1 2=GND
C91 100n C_0402 1=X2 2=GND
C92 100n C_0402 1=X3 2=GND
C93 100n C_0402 1=X4 2=GND
U90 74LVC14 TSSOP-14 1=X1 2=X2 3=X3 4=X4 7:GND=GND 14:VCC=-
"""
"""Enough around GND to be seen as the ground."""
