# SPDX-License-Identifier: GPL-3.0-or-later
"""Distances between copper shapes, and which pairs are near enough to ask: near-linear in their
number by a grid. All lengths are nanometres.
"""

from __future__ import annotations

from collections import defaultdict
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CELL_NM: Final = 1_000_000


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
    """Index pairs (k, 2) of boxes of `a` and `b` (n, 4) that come within `reach` on both axes."""
    cells: dict[tuple[int, int], list[int]] = defaultdict(list)
    for index, (x0, y0, x1, y1) in enumerate(np.floor(a / CELL_NM).astype(np.int64).tolist()):
        for cx in range(x0, x1 + 1):
            for cy in range(y0, y1 + 1):
                cells[cx, cy].append(index)
    wide = b + np.array([-reach, -reach, reach, reach])
    rows: set[tuple[int, int]] = set()
    for index, (x0, y0, x1, y1) in enumerate(np.floor(wide / CELL_NM).astype(np.int64).tolist()):
        for cx in range(x0, x1 + 1):
            for cy in range(y0, y1 + 1):
                for other in cells.get((cx, cy), ()):
                    rows.add((other, index))
    pairs = np.array(sorted(rows), dtype=np.int64).reshape(-1, 2)
    one, two = a[pairs[:, 0]], wide[pairs[:, 1]]
    touch = (
        (one[:, 0] <= two[:, 2])
        & (two[:, 0] <= one[:, 2])
        & (one[:, 1] <= two[:, 3])
        & (two[:, 1] <= one[:, 3])
    )
    return np.asarray(pairs[touch], dtype=np.int64)


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
