# SPDX-License-Identifier: GPL-3.0-or-later
"""Islands of filled zones: what lies on one, and where one touches copper of another net.

An island is the ring of its edge; holes are joined to it by slits, as KiCad writes them, so
counting the crossings of a ray tells inside from outside.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from netgraph.model import Board
from netgraph.model.copper import Fill
from netgraph.plan.gaps import FloatArray, IntArray, boxes_of, near_pairs, segment_gaps

TOUCH_NM: Final = 2_000.0
"""Copper nearer than this is joined: roundings of files, our own choice."""

OVERLAP_NM: Final = 1_000.0
"""Less than this is a rounding and no short: our own choice."""

_MOST_STRIPES: Final = 2_000
"""Stripes of an island's height in which its edges are sorted."""


@dataclass(frozen=True, slots=True)
class Pieces:
    """Copper on one layer as segments (n, 2, 2) with half widths and nets, lengths in nm."""

    segments: FloatArray
    half: FloatArray
    net: IntArray


def on_fill(segments: FloatArray, half: FloatArray, ring: FloatArray, grow_nm: int) -> IntArray:
    """Numbers of the segments that touch an island: within it, or near its edge."""
    return _meeting(segments, half, ring, grow_nm + TOUCH_NM)


def _meeting(segments: FloatArray, half: FloatArray, ring: FloatArray, reach: float) -> IntArray:
    """Segments nearer to the edge than `reach` beyond their half width, or within the ring."""
    edges = _edges(ring)
    pairs = near_pairs(boxes_of(segments, half), boxes_of(edges, 0.0), max(reach, 0.0))
    i, j = pairs[:, 0], pairs[:, 1]
    near = segment_gaps(segments[i], edges[j]) - half[i] <= reach
    touching = np.zeros(len(segments), dtype=bool)
    touching[i[near]] = True
    rest = np.flatnonzero(~touching)
    touching[rest] = inside(segments[rest, 0], ring)
    return np.flatnonzero(touching)


def _edges(ring: FloatArray) -> FloatArray:
    return np.stack((ring, np.roll(ring, -1, axis=0)), axis=1)


def inside(points: FloatArray, ring: FloatArray) -> np.ndarray:
    """Whether points (n, 2) lie within a ring (m, 2), by counting crossings of a ray.

    The edges are sorted into stripes of equal height, so that each point asks few of them.

    >>> inside(np.array([[1.0, 1.0], [3.0, 1.0]]), np.array([[0.0, 0], [2, 0], [2, 2], [0, 2]]))
    array([ True, False])
    """
    found = np.zeros(len(points), dtype=bool)
    low, high = ring.min(axis=0), ring.max(axis=0)
    within = np.flatnonzero(((points >= low) & (points <= high)).all(axis=1))
    if not len(within) or high[1] <= low[1]:
        return found
    x0, y0 = ring[:, 0], ring[:, 1]
    x1, y1 = np.roll(x0, -1), np.roll(y0, -1)
    stripes = int(min(max(len(ring) // 4, 1), _MOST_STRIPES))
    scale = stripes / (high[1] - low[1])
    first = np.clip(((np.minimum(y0, y1) - low[1]) * scale).astype(np.int64), 0, stripes - 1)
    last = np.clip(((np.maximum(y0, y1) - low[1]) * scale).astype(np.int64), 0, stripes - 1)
    counts = last - first + 1
    edge = np.repeat(np.arange(len(ring)), counts)
    step = np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts)
    stripe = first[edge] + step
    order = np.argsort(stripe, kind="stable")
    edge = edge[order]
    begins = np.searchsorted(stripe[order], np.arange(stripes + 1))
    of_point = np.clip(((points[within, 1] - low[1]) * scale).astype(np.int64), 0, stripes - 1)
    for k, row in zip(within.tolist(), of_point.tolist(), strict=True):
        here = edge[begins[row] : begins[row + 1]]
        x, y = points[k]
        spans = here[(y0[here] > y) != (y1[here] > y)]
        slope = (x1[spans] - x0[spans]) / (y1[spans] - y0[spans])
        found[k] = bool((x0[spans] + (y - y0[spans]) * slope > x).sum() % 2)
    return found


def fills_of(board: Board, layer: int) -> list[tuple[int, Fill]]:
    """Net and island of every filled zone on a layer; zones of no net join nothing."""
    return [
        (zone.net, fill)
        for zone in board.copper.zones
        if zone.net >= 0
        for fill in zone.fills
        if fill.layer == layer and len(fill.points) > 2
    ]


def fill_shorts(pieces: Pieces, fills: list[tuple[int, Fill]]) -> list[tuple[int, int, int, int]]:
    """Where islands of one layer overlap copper of other nets: net, net, x and y in nm.

    One place for each pair of nets and island. Rings of two islands are compared by the corners of
    one that lie within the other, and by edges that cross.
    """
    rings = [(net, fill.points.astype(np.float64), fill.grow_nm) for net, fill in fills]
    spans = [(ring.min(axis=0), ring.max(axis=0)) for _, ring, _ in rings]
    low, high = pieces.segments.min(axis=1), pieces.segments.max(axis=1)
    found: list[tuple[int, int, int, int]] = []
    for number, (net, ring, grow) in enumerate(rings):
        beyond = pieces.half[:, None] + grow
        least, most = spans[number]
        near = ((high + beyond >= least) & (low - beyond <= most)).all(axis=1)
        rows = np.flatnonzero(near & (pieces.net != net))
        if len(rows):
            hits = _meeting(pieces.segments[rows], pieces.half[rows], ring, grow - OVERLAP_NM)
            for row in rows[hits].tolist():
                x, y = pieces.segments[row].mean(axis=0).tolist()
                one, two = sorted((net, int(pieces.net[row])))
                found.append((one, two, round(x), round(y)))
        for other, (net_b, ring_b, _) in enumerate(rings):
            least_b, most_b = spans[other]
            apart = (least_b > most).any() or (most_b < least).any()
            if net_b != net and not apart:
                found += _corners_within(net, ring, net_b, ring_b)
                if number < other:
                    found += _edges_crossing(net, ring, net_b, ring_b)
    return found


def _corners_within(
    net: int, ring: FloatArray, net_b: int, ring_b: FloatArray
) -> list[tuple[int, int, int, int]]:
    """The first corner of `ring_b` that lies deeper in `ring` than a rounding, if any."""
    rows = np.flatnonzero(inside(ring_b, ring))
    if not len(rows):
        return []
    corners = np.stack((ring_b[rows], ring_b[rows]), axis=1)
    edges = _edges(ring)
    pairs = near_pairs(boxes_of(corners, np.zeros(len(rows))), boxes_of(edges, 0.0), OVERLAP_NM)
    i, j = pairs[:, 0], pairs[:, 1]
    shallow = set(i[segment_gaps(corners[i], edges[j]) <= OVERLAP_NM].tolist())
    deep = [k for k in range(len(rows)) if k not in shallow]
    if not deep:
        return []
    x, y = ring_b[rows[deep[0]]].tolist()
    one, two = sorted((net, net_b))
    return [(one, two, round(x), round(y))]


def _edges_crossing(
    net: int, ring: FloatArray, net_b: int, ring_b: FloatArray
) -> list[tuple[int, int, int, int]]:
    """The first place where edges cross by more than a rounding, if any: bars laid crosswise.

    An edge that only ends at or runs along the other island's edge is no overlap.
    """
    one, two = _edges(ring), _edges(ring_b)
    pairs = near_pairs(boxes_of(one), boxes_of(two), 0.0)
    p, q = one[pairs[:, 0]], two[pairs[:, 1]]
    from_q, from_p = _offsets(p, q), _offsets(q, p)
    across = (from_q[:, 0] * from_q[:, 1] < 0) & (from_p[:, 0] * from_p[:, 1] < 0)
    across &= np.minimum(np.abs(from_q).min(axis=1), np.abs(from_p).min(axis=1)) > OVERLAP_NM
    rows = np.flatnonzero(across)
    if not len(rows):
        return []
    row = rows[0]
    share = from_q[row, 0] / (from_q[row, 0] - from_q[row, 1])
    x, y = (p[row, 0] + share * (p[row, 1] - p[row, 0])).tolist()
    low, high = sorted((net, net_b))
    return [(low, high, round(x), round(y))]


def _offsets(p: FloatArray, q: FloatArray) -> FloatArray:
    """How far both ends of segments `p` (k, 2, 2) lie from the lines through `q`, with sign."""
    along = q[:, 1] - q[:, 0]
    length = np.hypot(along[:, 0], along[:, 1])
    away = p - q[:, :1]
    area = along[:, None, 0] * away[..., 1] - along[:, None, 1] * away[..., 0]
    return np.asarray(area / np.where(length > 0, length, 1.0)[:, None], dtype=np.float64)
