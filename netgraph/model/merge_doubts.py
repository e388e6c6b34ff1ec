# SPDX-License-Identifier: GPL-3.0-or-later
"""What makes a merge doubtful as a whole: files that have little in common, and pads that a person
found apart though a file joins them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from netgraph.model.board import Board, PadsFoundApart
from netgraph.model.pad_match import PadMatch
from netgraph.reasons import Reason, reason

LEAST_TO_DOUBT = 4
"""So many pads or values must be told by both files before most of them being told in two ways
makes these files of two boards: our own choice."""


class JoinedThoughApart(NamedTuple):
    """Two pads (part identity and pin) that were found apart and are on one net of the whole."""

    pads: PadsFoundApart
    net: str


def pads_joined_though_apart(
    claims: tuple[PadsFoundApart, ...],
    whole: Mapping[tuple[str, str], str],
    before: Mapping[tuple[str, str], str],
) -> Iterator[JoinedThoughApart]:
    """Pads of claims that the whole joins; what the claiming board joined `before` is known.

    Both maps are from part identity and pin to net.
    """
    for claim in claims:
        met: dict[str, tuple[str, str]] = {}
        for pad in claim:
            net = whole.get(pad)
            other = pad if net is None else met.setdefault(net, pad)
            if net is None or other == pad:
                continue
            if before.get(pad) is None or before.get(pad) != before.get(other):
                yield JoinedThoughApart((other, pad), net)


def doubt_of_file(
    a: Board, b: Board, match: PadMatch, part_b: Mapping[int, int], odd: int
) -> Reason | None:
    """Why `b` is hardly a file of the board that `a` is of; None where nothing speaks for it.

    `part_b` leads from parts of `a` to those of `b`; `odd` pads and values are told in two ways.
    """
    file = b.source.file_name
    if a.parts and b.parts and not part_b:
        return reason("files-share-nothing", file=file)
    nets = sum(bool(a.columns.net[i] >= 0 and b.columns.net[j] >= 0) for i, j in match.pairs)
    values = sum(bool(a.parts[i].value and b.parts[j].value) for i, j in part_b.items())
    if nets + values < LEAST_TO_DOUBT or odd <= (nets + values) // 2:
        return None
    return reason("files-of-two-boards", file=file, odd=odd, all=nets + values)
