# SPDX-License-Identifier: GPL-3.0-or-later
"""Distances between copper shapes, and which pairs are near enough to ask: near-linear in their
number by a grid. All lengths are nanometres.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netgraph import limits
from netgraph.errors import BoardFileError

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CELL_NM: Final = 1_000_000
_LARGEST_CELL_NM: Final = 1e11
_VISITS_AT_ONCE: Final = 1_000_000


def rectangle_corners(
    x: FloatArray, y: FloatArray, width: FloatArray, height: FloatArray, angle_deg: FloatArray
) -> FloatArray:
    """Corners of n rotated rectangles, shape (n, 4, 2), in order around.

    Angles as on the board: counter-clockwise as seen from the top, y downwards.
    """
    a = np.deg2rad(angle_deg)
    cos, sin = np.cos(a)[:, None], np.sin(a)[:, None]
    dx = width[:, None] / 2 * np.array([-1.0, 1.0, 1.0, -1.0])
    dy = height[:, None] / 2 * np.array([-1.0, -1.0, 1.0, 1.0])
    return np.stack((x[:, None] + dx * cos + dy * sin, y[:, None] - dx * sin + dy * cos), axis=-1)


def boxes_of(points: FloatArray, grow: FloatArray | float = 0.0) -> FloatArray:
    """Bounding boxes (n, 4) as x0, y0, x1, y1 of n point sets (n, k, 2), grown on each side."""
    more = np.broadcast_to(np.asarray(grow, dtype=np.float64), (len(points),))[:, None]
    return np.concatenate((points.min(axis=1) - more, points.max(axis=1) + more), axis=1)


def near_pairs(a: FloatArray, b: FloatArray, reach: float) -> IntArray:
    """Index pairs (k, 2) of boxes of `a` and `b` (n, 4) that come within `reach` on both axes.

    Raises
    ------
    BoardFileError
        ``limit-exceeded``: so many shapes lie on one another that no sound board has them.
    """
    wide = b + np.array([-reach, -reach, reach, reach])
    if not len(a) or not len(b):
        return np.zeros((0, 2), dtype=np.int64)
    side = float(CELL_NM)
    # Shapes that cover very many cells, or share them, are sorted into larger ones.
    while (found := _sorted_in(a, wide, side)) is None:
        side *= 2
        if side > _LARGEST_CELL_NM:
            raise _crowded("MAX_NEAR_VISITS")
    one, two = found
    pieces, total = [], 0
    for rows, others, cells in _visits(one, two):
        first, second = a[rows], wide[others]
        low = np.maximum(first[:, :2], second[:, :2])
        # A pair that shares several cells counts in the first of them alone.
        kept = (low <= np.minimum(first[:, 2:], second[:, 2:])).all(axis=1)
        kept &= (np.floor(low / side).astype(np.int64) == cells).all(axis=1)
        pieces.append(np.stack((rows[kept], others[kept]), axis=1))
        total += len(pieces[-1])
        if total > limits.MAX_NEAR_PAIRS:
            raise _crowded("MAX_NEAR_PAIRS")
    pairs = np.concatenate((np.zeros((0, 2), dtype=np.int64), *pieces))
    return np.asarray(pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))], dtype=np.int64)


@dataclass(frozen=True, slots=True)
class _InCells:
    """Boxes in the cells that they cover: one row for each box and cell, sorted by `key`."""

    index: IntArray
    cell: IntArray
    key: IntArray


def _sorted_in(a: FloatArray, b: FloatArray, side: float) -> tuple[_InCells, _InCells] | None:
    """Both in cells of this side; None where that takes too many."""
    found = []
    for boxes in (a, b):
        at = np.floor(boxes / side).astype(np.int64)
        across = at[:, 2] - at[:, 0] + 1
        counts = across * (at[:, 3] - at[:, 1] + 1)
        if counts.sum() > limits.MAX_NEAR_CELLS:
            return None
        index = np.repeat(np.arange(len(at)), counts)
        step = np.arange(len(index)) - np.repeat(np.cumsum(counts) - counts, counts)
        cell = at[index, :2] + np.stack((step % across[index], step // across[index]), axis=1)
        key = cell[:, 0] * (1 << 32) + cell[:, 1]
        order = np.argsort(key, kind="stable")
        found.append(_InCells(index[order], cell[order], key[order]))
    one, two = found
    visits = np.searchsorted(one.key, two.key, "right") - np.searchsorted(one.key, two.key)
    return None if visits.sum() > limits.MAX_NEAR_VISITS else (one, two)


def _visits(one: _InCells, two: _InCells) -> Iterator[tuple[IntArray, IntArray, IntArray]]:
    """Boxes of both that share a cell, and the cell; some at a time."""
    first = np.searchsorted(one.key, two.key)
    counts = np.searchsorted(one.key, two.key, "right") - first
    until = np.cumsum(counts)
    at = 0
    while at < len(counts):
        done = int(until[at - 1]) if at else 0
        end = max(int(np.searchsorted(until, done + _VISITS_AT_ONCE, "right")), at + 1)
        here = counts[at:end]
        rows = np.repeat(np.arange(at, end), here)
        step = np.arange(len(rows)) - np.repeat(np.cumsum(here) - here, here)
        yield one.index[first[rows] + step], two.index[rows], two.cell[rows]
        at = end


def _crowded(limit: str) -> BoardFileError:
    return BoardFileError(
        "limit-exceeded",
        f"more copper lies on one another than {getattr(limits, limit)} comparisons show ({limit})",
        hint="look for shapes that are drawn many times, or are larger than the board",
    )


def segment_gaps(p: FloatArray, q: FloatArray) -> FloatArray:
    """Distances (k,) between segments `p` and `q` of shape (k, 2, 2); 0 where they cross."""
    ends = np.stack(
        [
            _point_to_segment(p[:, 0], q),
            _point_to_segment(p[:, 1], q),
            _point_to_segment(q[:, 0], p),
            _point_to_segment(q[:, 1], p),
        ]
    ).min(axis=0)
    return np.where(_cross(p, q), 0.0, ends)


def _point_to_segment(point: FloatArray, segment: FloatArray) -> FloatArray:
    start, along = segment[:, 0], segment[:, 1] - segment[:, 0]
    length2 = (along**2).sum(axis=1)
    safe = np.where(length2 > 0, length2, 1.0)
    t = np.clip(((point - start) * along).sum(axis=1) / safe, 0.0, 1.0)
    nearest = start + t[:, None] * along
    return np.asarray(np.hypot(*(point - nearest).T), dtype=np.float64)


def _turn(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    return np.asarray(
        np.sign(
            (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
        ),
        dtype=np.float64,
    )


def _cross(p: FloatArray, q: FloatArray) -> NDArray[np.bool_]:
    a, b, c, d = p[:, 0], p[:, 1], q[:, 0], q[:, 1]
    # Touching ends are distance 0 by the ends already; only a true crossing is left to find.
    return np.asarray((_turn(a, b, c) * _turn(a, b, d) < 0) & (_turn(c, d, a) * _turn(c, d, b) < 0))


def polygon_gaps(p: FloatArray, q: FloatArray) -> FloatArray:
    """Distances (k,) between convex polygons of shape (k, m, 2); 0 where they overlap."""
    best = np.full(len(p), np.inf)
    for i in range(p.shape[1]):
        side_p = np.stack((p[:, i], p[:, (i + 1) % p.shape[1]]), axis=1)
        for j in range(q.shape[1]):
            side_q = np.stack((q[:, j], q[:, (j + 1) % q.shape[1]]), axis=1)
            best = np.minimum(best, segment_gaps(side_p, side_q))
    inside = _contains(p, q[:, 0]) | _contains(q, p[:, 0])
    return np.where(inside, 0.0, best)


def _contains(polygon: FloatArray, point: FloatArray) -> NDArray[np.bool_]:
    turns = np.stack(
        [
            _turn(polygon[:, i], polygon[:, (i + 1) % polygon.shape[1]], point)
            for i in range(polygon.shape[1])
        ]
    )
    return np.asarray((turns >= 0).all(axis=0) | (turns <= 0).all(axis=0))
