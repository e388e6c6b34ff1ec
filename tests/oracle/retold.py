# SPDX-License-Identifier: GPL-3.0-or-later
"""The same board told in another way: what a right answer must not hang on."""

from __future__ import annotations

from collections.abc import Callable

from netgraph.model import Board, BoardBuilder


def retold(
    board: Board,
    *,
    order: Callable[[list[int]], list[int]] = lambda one: one,
    ref: Callable[[str], str] = lambda one: one,
    net: Callable[[str], str] = lambda one: one,
    pin_name: Callable[[str], str] = lambda one: one,
) -> Board:
    """The same board with its parts in another order, or under other names."""
    builder = BoardBuilder(board.name)
    for index in order([part.index for part in board.parts]):
        part = board.parts[index]
        new = builder.add_part(
            ref(part.id) if "@" not in part.id else part.id,
            value=part.value,
            footprint=part.footprint,
            side=part.side,
            not_fitted_because=part.not_fitted_because,
            attributes=part.attributes,
            fields=part.fields,
            tags=part.tags,
        )
        for i in board.pad_range(part):
            pad = board.pad(i)
            builder.add_pad(
                new,
                pad.pin,
                net(pad.net) if pad.net is not None else None,
                kind=pad.kind,
                copper_side=pad.copper_side,
                pin_name=pin_name(pad.pin_name),
                pin_type=pad.pin_type,
            )
    return builder.freeze()
