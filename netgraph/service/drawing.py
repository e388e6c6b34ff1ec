# SPDX-License-Identifier: GPL-3.0-or-later
"""One side of a board as columns that a page can draw: outline, part boxes, pads."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from netgraph.model.board import COPPER_SIDES, PAD_KINDS, Board, Part, Side
from netgraph.model.copper import OutlineShape

Json = dict[str, object]

MARGIN_MM = 0.15
"""Our own choice: so far a part's box stands off its pads."""
ARC_STEP = math.radians(10)


def side_columns(board: Board, side: Side, fitted: frozenset[str]) -> Json:
    """The fields of ``netgraph.drawing/1``; empty columns where the board has no places.

    Parameters
    ----------
    fitted
        Identities of the parts that are on the board, with a person's word.
    """
    placed = "has_positions" in board.capabilities
    shown = _pads_shown(board, side) if placed else np.zeros(0, dtype=np.int64)
    outline = [_rounded(line) for line in outline_lines(board.copper.outline)] if placed else []
    columns = board.columns
    parts = [part for part in board.parts if part.side == side] if placed else []
    boxes = [_part_box(board, part) for part in parts]
    with_box = [pair for pair in zip(parts, boxes, strict=True) if pair[1] is not None]
    return {
        "side": side,
        "box": _whole_box(board, outline) if placed else None,
        "outline": outline,
        "parts": {
            "id": [part.id for part, _ in with_box],
            **{
                name: [round(box[i], 4) for _, box in with_box if box is not None]
                for i, name in enumerate(("x", "y", "w", "h", "angle"))
            },
            "fitted": [part.id in fitted for part, _ in with_box],
        },
        "nets": [net.name for net in board.nets],
        "other_names": board.other_names,
        "pads": {
            "x": _mm(columns.x_nm[shown]),
            "y": _mm(columns.y_nm[shown]),
            "w": _mm(columns.width_nm[shown]),
            "h": _mm(columns.height_nm[shown]),
            "angle": [round(one, 3) for one in columns.angle_deg[shown].tolist()],
            "shape": columns.shape[shown].tolist(),
            "net": columns.net[shown].tolist(),
            "part": columns.part[shown].tolist(),
            "pin": [columns.pin[i] for i in shown.tolist()],
        },
        "part_ids": [part.id for part in board.parts],
    }


def _pads_shown(board: Board, side: Side) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Pads with copper on this side; drilled ones are on both."""
    c = board.columns
    here, both = COPPER_SIDES.index(side), COPPER_SIDES.index("both")
    drilled = (c.kind == PAD_KINDS.index("through")) | (c.kind == PAD_KINDS.index("hole"))
    sized = (c.width_nm > 0) & (c.height_nm > 0)
    wanted = (c.copper_side == here) | (c.copper_side == both) | drilled
    return np.flatnonzero(wanted & sized).astype(np.int64)


def _mm(column: np.ndarray[tuple[int], np.dtype[np.int64]]) -> list[float]:
    return [round(one, 4) for one in (column / 1e6).tolist()]


def _rounded(line: Iterable[float]) -> list[float]:
    return [round(one, 3) for one in line]


def _part_box(board: Board, part: Part) -> tuple[float, float, float, float, float] | None:
    """Middle, width, height (mm) and angle of the box around a part's pads, in its own frame."""
    pads = board.pad_range(part)
    if not len(pads):
        return None
    c = board.columns
    rows = slice(pads.start, pads.stop)
    turn = math.radians(part.angle_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    # y runs down and angles are counter-clockwise, so turning back is (cos, -sin; sin, cos)
    x, y = (c.x_nm[rows] - part.x_nm) / 1e6, (c.y_nm[rows] - part.y_nm) / 1e6
    u, v = x * cos - y * sin, x * sin + y * cos
    own = np.radians(c.angle_deg[rows] - part.angle_deg)
    w, h = c.width_nm[rows] / 2e6, c.height_nm[rows] / 2e6
    du = np.abs(w * np.cos(own)) + np.abs(h * np.sin(own))
    dv = np.abs(w * np.sin(own)) + np.abs(h * np.cos(own))
    u0, u1 = float((u - du).min()), float((u + du).max())
    v0, v1 = float((v - dv).min()), float((v + dv).max())
    mu, mv = (u0 + u1) / 2, (v0 + v1) / 2
    return (
        part.x_nm / 1e6 + mu * cos + mv * sin,
        part.y_nm / 1e6 - mu * sin + mv * cos,
        u1 - u0 + 2 * MARGIN_MM,
        v1 - v0 + 2 * MARGIN_MM,
        part.angle_deg,
    )


def _whole_box(
    board: Board, outline: list[list[float]]
) -> tuple[float, float, float, float] | None:
    """Around the outline and all pads."""
    c = board.columns
    xs = [one for line in outline for one in line[::2]]
    ys = [one for line in outline for one in line[1::2]]
    if len(c):
        reach = np.maximum(c.width_nm, c.height_nm) / 2
        xs += [float((c.x_nm - reach).min()) / 1e6, float((c.x_nm + reach).max()) / 1e6]
        ys += [float((c.y_nm - reach).min()) / 1e6, float((c.y_nm + reach).max()) / 1e6]
    if not xs:
        return None
    return round(min(xs), 3), round(min(ys), 3), round(max(xs), 3), round(max(ys), 3)


# -- outline -----------------------------------------------------------------------------------


def outline_lines(shapes: Iterable[OutlineShape]) -> list[list[float]]:
    """Each piece of the edge as a line of x, y, x, y ... in millimetres."""
    return [line for shape in shapes if len(line := _line(shape)) >= 4]


def _line(shape: OutlineShape) -> list[float]:
    points = [(x / 1e6, y / 1e6) for x, y in shape.points.tolist()]
    if shape.kind == "rect" and len(points) == 2:
        (x0, y0), (x1, y1) = points
        points = [(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)]
    elif shape.kind == "circle" and len(points) == 2:
        (x, y), (rx, ry) = points
        points = _around(x, y, math.hypot(rx - x, ry - y), 0.0, 2 * math.pi)
    elif shape.kind == "arc" and len(points) == 3:
        points = _through(points)
    elif shape.kind == "polygon" and points:
        points = [*points, points[0]]
    return [one for point in points for one in point]


def _around(x: float, y: float, r: float, start: float, turn: float) -> list[tuple[float, float]]:
    steps = max(2, math.ceil(abs(turn) / ARC_STEP))
    angles = (start + turn * i / steps for i in range(steps + 1))
    return [(x + r * math.cos(a), y + r * math.sin(a)) for a in angles]


def _through(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """An arc by its start, middle and end."""
    (ax, ay), (bx, by), (cx, cy) = points
    d = 2 * (ax * (by - cy) + bx * (cy - ay) + cx * (ay - by))
    if abs(d) < 1e-9:
        return points
    a2, b2, c2 = ax * ax + ay * ay, bx * bx + by * by, cx * cx + cy * cy
    x = (a2 * (by - cy) + b2 * (cy - ay) + c2 * (ay - by)) / d
    y = (a2 * (cx - bx) + b2 * (ax - cx) + c2 * (bx - ax)) / d
    first, middle, last = (math.atan2(py - y, px - x) for px, py in points)
    whole = (last - first) % (2 * math.pi)
    turn = whole if (middle - first) % (2 * math.pi) <= whole else whole - 2 * math.pi
    return _around(x, y, math.hypot(ax - x, ay - y), first, turn)
