# SPDX-License-Identifier: GPL-3.0-or-later
"""Small geometry of board files: arcs as chords, corners, points of a turned footprint."""

from __future__ import annotations

from math import atan2, cos, hypot, radians, sin

import numpy as np
from numpy.typing import NDArray

from netgraph.model.copper import IntArray


def corners(points: IntArray) -> IntArray:
    """Two opposite corners, shape (2, 2), as a ring of four, shape (4, 2)."""
    (x1, y1), (x2, y2) = points.tolist()
    return np.array([(x1, y1), (x2, y1), (x2, y2), (x1, y2)], dtype=np.int64)


def placed(points: IntArray, place: tuple[float, float, float, float]) -> IntArray:
    """Footprint points, shape (n, 2), on the board; `place` is x and y in mm, cosine, sine."""
    x, y, c, s = place
    px, py = points[:, 0], points[:, 1]
    moved = np.column_stack((x * 1e6 + px * c + py * s, y * 1e6 - px * s + py * c))
    rounded: IntArray = np.rint(moved).astype(np.int64)
    return rounded


def floats(text: bytes) -> NDArray[np.float64]:
    """All numbers of a text that holds nothing but numbers and blanks."""
    parts = text.split()
    try:
        values = np.array(parts, dtype=np.float64) if parts else np.zeros(0)
    except ValueError:
        return np.zeros(0)
    return values if np.isfinite(values).all() else np.full(len(values), 1e9)


def turned(point: tuple[int, int], centre: tuple[int, int], angle_deg: float) -> tuple[int, int]:
    """A point turned about a centre, clockwise on the screen for positive angles (y down)."""
    c, s = cos(radians(angle_deg)), sin(radians(angle_deg))
    x, y = point[0] - centre[0], point[1] - centre[1]
    return round(centre[0] + x * c - y * s), round(centre[1] + x * s + y * c)


def chords_of_arc(
    start: tuple[int, int], mid: tuple[int, int], end: tuple[int, int], *, step_deg: float = 5.0
) -> list[tuple[int, int]]:
    """Points along the circle through three points, start and end included.

    Three points on a line give just these; the greatest gap between chord and arc at 5 degrees
    is 0.1 % of the radius.
    """
    (ax, ay), (bx, by), (cx, cy) = start, mid, end
    d = 2.0 * (ax * (by - cy) + bx * (cy - ay) + cx * (ay - by))
    if d == 0:
        return [start, mid, end]
    a2, b2, c2 = ax * ax + ay * ay, bx * bx + by * by, cx * cx + cy * cy
    ux = (a2 * (by - cy) + b2 * (cy - ay) + c2 * (ay - by)) / d
    uy = (a2 * (cx - bx) + b2 * (ax - cx) + c2 * (bx - ax)) / d
    radius = hypot(ax - ux, ay - uy)
    first = atan2(ay - uy, ax - ux)
    turn = 2 * np.pi
    to_mid = (atan2(by - uy, bx - ux) - first) % turn
    to_end = (atan2(cy - uy, cx - ux) - first) % turn
    sweep = to_end if to_mid <= to_end else to_end - turn
    steps = max(2, int(abs(sweep) / radians(step_deg)) + 1)
    inner = [
        (
            round(ux + radius * cos(first + sweep * k / steps)),
            round(uy + radius * sin(first + sweep * k / steps)),
        )
        for k in range(1, steps)
    ]
    return [start, *inner, end]
