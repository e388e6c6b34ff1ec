# SPDX-License-Identifier: GPL-3.0-or-later
"""Does the drawn copper join what the netlist joins? Each net's copper, piece by piece.

Pads, tracks, arcs (as two chords each) and vias are segments with a half width; an island of a
filled zone is its edge, and what lies within it. Zones that aren't filled may join anything
within their outline, so a net with one is never said to be open.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from netgraph.model import Board
from netgraph.model.board import COPPER_SIDES
from netgraph.plan.copper_gaps import _Runs
from netgraph.plan.drawn_fills import (
    OVERLAP_NM,
    TOUCH_NM,
    Pieces,
    fill_shorts,
    fills_of,
    on_fill,
)
from netgraph.plan.gaps import FloatArray, IntArray, boxes_of, near_pairs, segment_gaps


@dataclass(frozen=True, slots=True)
class DrawnNet:
    """A net whose drawn copper lies in several pieces, each named by its pads (``REF.PIN``).

    `unfilled` says that the net has a zone without copper in the file: it may join them.
    """

    net: str
    pieces: tuple[tuple[str, ...], ...]
    unfilled: bool


def drawn_nets(board: Board) -> tuple[DrawnNet, ...]:
    """Nets of which two or more pieces of copper hold pads, in the order of the board."""
    unfilled = {zone.net for zone in board.copper.zones if not zone.is_filled}
    found = []
    for net in board.nets:
        pieces = _pieces(board, net.index)
        if len(pieces) > 1:
            found.append(DrawnNet(net.name, pieces, net.index in unfilled))
    return tuple(found)


def _pieces(board: Board, net: int) -> tuple[tuple[str, ...], ...]:
    c = board.columns
    none = COPPER_SIDES.index("none")
    pads = [i for i in board.pads_on_net(board.nets[net].name) if c.copper_side[i] != none]
    if len({(int(c.part[i]), c.pin[i]) for i in pads}) < 2:
        return ()
    runs = _Runs(board, net)
    segments, half = _pad_segments(board, pads)
    ends: FloatArray = np.concatenate((segments, runs.segments))
    wide: FloatArray = np.concatenate((half, runs.half))
    fills = [fill for zone in board.copper.zones if zone.net == net for fill in zone.fills]
    groups = _Groups(len(ends) + len(fills))
    last = len(board.copper_layers) - 1
    for layer in range(last + 1):
        on_pads = [
            k for k, i in enumerate(pads) if _on(COPPER_SIDES[c.copper_side[i]], layer, last)
        ]
        here: IntArray = np.concatenate((np.array(on_pads, np.int64), runs.on(layer) + len(pads)))
        if not len(here):
            continue
        own, width = ends[here], wide[here]
        boxes = boxes_of(own, width)
        pairs = near_pairs(boxes, boxes, TOUCH_NM)
        i, j = pairs[:, 0], pairs[:, 1]
        near = segment_gaps(own[i], own[j]) - width[i] - width[j] <= TOUCH_NM
        for a, b in zip(here[i[near]].tolist(), here[j[near]].tolist(), strict=True):
            groups.join(a, b)
        for number, fill in enumerate(fills):
            if fill.layer == layer:
                for k in on_fill(own, width, fill.points.astype(np.float64), fill.grow_nm).tolist():
                    groups.join(int(here[k]), len(ends) + number)
    # Pads of one pin are joined by the part or its footprint, and need no copper between them.
    first: dict[tuple[int, str], int] = {}
    for k, pad in enumerate(pads):
        groups.join(k, first.setdefault((int(c.part[pad]), c.pin[pad]), k))
    pieces: dict[int, list[str]] = {}
    for k, pad in enumerate(pads):
        name = f"{board.parts[c.part[pad]].id}.{c.pin[pad]}"
        pieces.setdefault(groups.root(k), []).append(name)
    return tuple(tuple(dict.fromkeys(names)) for names in pieces.values())


def _on(side: str, layer: int, last: int) -> bool:
    if side == "inner":
        return 0 < layer < last
    return side == "both" or layer == (0 if side == "top" else last)


def _pad_segments(board: Board, pads: list[int]) -> tuple[FloatArray, FloatArray]:
    """Each pad as the longest segment within it, and its half breadth.

    Custom shapes count by their anchor alone, so they may seem smaller than they are.
    """
    c = board.columns
    rows = np.array(pads, dtype=np.int64)
    width, height = c.width_nm[rows].astype(float), c.height_nm[rows].astype(float)
    angle = np.deg2rad(c.angle_deg[rows])
    along = np.maximum(width, height) / 2 - np.minimum(width, height) / 2
    turn = np.where(width >= height, angle, angle + np.pi / 2)
    dx, dy = along * np.cos(turn), -along * np.sin(turn)
    x, y = c.x_nm[rows].astype(float), c.y_nm[rows].astype(float)
    start, end = np.stack((x - dx, y - dy), axis=1), np.stack((x + dx, y + dy), axis=1)
    # The corners of a rectangle reach further: half its diagonal at the ends.
    return np.stack((start, end), axis=1), np.minimum(width, height) / 2


class _Groups:
    """Sets that grow together."""

    def __init__(self, count: int) -> None:
        self.parent = list(range(count))

    def root(self, one: int) -> int:
        while self.parent[one] != one:
            self.parent[one] = self.parent[self.parent[one]]
            one = self.parent[one]
        return one

    def join(self, a: int, b: int) -> None:
        one, two = self.root(a), self.root(b)
        if one != two:
            self.parent[max(one, two)] = min(one, two)


@dataclass(frozen=True, slots=True)
class DrawnShort:
    """Copper of two nets that overlaps, and where; layer 0 is the top."""

    net_a: str
    net_b: str
    x_nm: int
    y_nm: int
    layer: int


def drawn_shorts(board: Board) -> tuple[DrawnShort, ...]:
    """Copper of two nets that overlaps, one place for each pair of nets.

    Pads, tracks, arcs, vias and islands of filled zones. Parts that tie nets by their footprint are
    left out. A zone that isn't filled in the file can't be looked at. On inner layers a pad or via
    counts against islands by its hole alone: its ring may have been left out there.
    """
    c = board.columns
    none = COPPER_SIDES.index("none")
    ties = {tie.part_id for tie in board.net_ties}
    free = {part.index for part in board.parts if part.id not in ties}
    pads = [
        i
        for i in range(len(c))
        if c.net[i] >= 0 and c.copper_side[i] != none and int(c.part[i]) in free
    ]
    runs = [_Runs(board, net.index) for net in board.nets]
    segments, half = _pad_segments(board, pads)
    ends: FloatArray = np.concatenate((segments, *(one.segments for one in runs)))
    wide: FloatArray = np.concatenate((half, *(one.half for one in runs)))
    nets: IntArray = np.concatenate(
        (c.net[pads], *(np.full(len(one.half), k, np.int64) for k, one in enumerate(runs)))
    )
    starts = np.cumsum([len(pads), *(len(one.half) for one in runs)])
    last = len(board.copper_layers) - 1
    hole: FloatArray = np.concatenate((_hole_halves(board, pads), *(one.hole for one in runs)))
    found: dict[tuple[int, int], DrawnShort] = {}
    for layer in range(last + 1):
        on_pads = [
            k for k, i in enumerate(pads) if _on(COPPER_SIDES[c.copper_side[i]], layer, last)
        ]
        here: IntArray = np.concatenate(
            (
                np.array(on_pads, np.int64),
                *(one.on(layer) + starts[k] for k, one in enumerate(runs)),
            )
        ).astype(np.int64)
        if not len(here):
            continue
        own, width, net = ends[here], wide[here], nets[here]
        boxes = boxes_of(own, width)
        pairs = near_pairs(boxes, boxes, 0.0)
        i, j = pairs[:, 0], pairs[:, 1]
        other = net[i] < net[j]
        i, j = i[other], j[other]
        over = segment_gaps(own[i], own[j]) - width[i] - width[j] < -OVERLAP_NM
        i, j = i[over], j[over]
        # The first place of each pair of nets: two nets may lie over each other in many.
        _, first = np.unique(net[i] * len(board.nets) + net[j], return_index=True)
        for a, b in zip(i[np.sort(first)].tolist(), j[np.sort(first)].tolist(), strict=True):
            x, y = ((own[a].mean(axis=0) + own[b].mean(axis=0)) / 2).tolist()
            key = int(net[a]), int(net[b])
            short = DrawnShort(
                board.nets[key[0]].name, board.nets[key[1]].name, round(x), round(y), layer
            )
            found.setdefault(key, short)
        seen = hole[here] if 0 < layer < last else width
        pieces = Pieces(own, np.minimum(width, seen), net)
        for net_a, net_b, at_x, at_y in fill_shorts(pieces, fills_of(board, layer)):
            names = board.nets[net_a].name, board.nets[net_b].name
            found.setdefault((net_a, net_b), DrawnShort(*names, at_x, at_y, layer))
    return tuple(found.values())


def _hole_halves(board: Board, pads: list[int]) -> FloatArray:
    """Half the hole of each pad that has one, else all of its half breadth."""
    c = board.columns
    rows = np.array(pads, dtype=np.int64)
    drill = c.drill_nm[rows] / 2.0
    return np.where(drill > 0, drill, np.inf)
