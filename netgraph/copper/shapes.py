# SPDX-License-Identifier: GPL-3.0-or-later
"""Pads, fills, tracks as shapes in board nanometres."""

from __future__ import annotations

from math import cos, radians, sin
from typing import Any, Final

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon

from netgraph.copper.raster import FloatArray, rings_of
from netgraph.formats.shapes import chords_of_arc
from netgraph.model import Board, Pad
from netgraph.model.copper import Fill, PadShape

ROUND_PART: Final = 0.25
"""Corner radius of a rounded pad in parts of its shorter side: KiCad's default [kicad]."""

QUARTER: Final = 8
"""Sides for a quarter of a circle; the polygon lies inside by 0.5 % of the radius at most."""

PEN_EDGES: Final = 50
"""So many edges of a fill are drawn with the pen at once (our choice); the copper is the same."""


def pad_shape(board: Board, pad: Pad) -> Any:
    """Copper of a pad, seen from the top; primitives of custom pads are joined to the anchor."""
    half_x, half_y = pad.width_nm / 2, pad.height_nm / 2
    if pad.shape == "circle":
        shape: Any = Point(0, 0).buffer(half_x, QUARTER)
    elif pad.shape == "oval":
        radius = min(half_x, half_y)
        reach_x, reach_y = half_x - radius, half_y - radius
        shape = LineString([(-reach_x, -reach_y), (reach_x, reach_y)]).buffer(radius, QUARTER)
    else:
        radius = 2 * ROUND_PART * min(half_x, half_y) if pad.shape == "roundrect" else 0.0
        x, y = half_x - radius, half_y - radius
        shape = Polygon([(-x, -y), (x, -y), (x, y), (-x, y)])
        if radius:
            shape = shape.buffer(radius, QUARTER)
    own = [_primitive(one) for one in board.copper.custom_pads.get(pad.index, ())]
    if own:
        shape = shapely.union_all([shape, *own])
    c, s = cos(radians(pad.angle_deg)), sin(radians(pad.angle_deg))

    def place(points: FloatArray) -> FloatArray:
        x, y = points[:, 0], points[:, 1]
        return np.column_stack((pad.x_nm + x * c + y * s, pad.y_nm - x * s + y * c))

    return shapely.transform(shape, place)


def _primitive(one: PadShape) -> Any:
    points, half = one.points.astype(np.float64), one.width_nm / 2
    if one.kind == "circle":
        radius = float(np.hypot(*(points[1] - points[0])))
        disc = Point(points[0]).buffer(radius + half, QUARTER)
        return disc if one.filled else disc.difference(Point(points[0]).buffer(radius - half))
    if one.kind == "arc":
        first, mid, last = (tuple(each) for each in one.points.tolist())
        return LineString(chords_of_arc(first, mid, last)).buffer(half, QUARTER)
    if one.kind == "rect":
        (x1, y1), (x2, y2) = points
        points = np.array([(x1, y1), (x2, y1), (x2, y2), (x1, y2)])
    if one.kind == "line" or len(points) < 3:
        return LineString(points).buffer(half, QUARTER)
    edge = shapely.LinearRing(points)
    pen = edge.buffer(half, QUARTER) if half else Polygon()
    return shapely.union_all([Polygon(points).buffer(0), pen]) if one.filled else pen


def fill_rings(fill: Fill) -> list[tuple[FloatArray, int]]:
    """Rings of a filled area, its edge drawn with the pen that older files leave out."""
    points = fill.points.astype(np.float64)
    rings = [(points, 1)]
    if fill.grow_nm and len(points) >= 3:
        closed = np.concatenate((points, points[:1]))
        # Some edges at a time: edges that all cross would cost the square of their number.
        for at in range(0, len(points), PEN_EDGES):
            stroke = LineString(closed[at : at + PEN_EDGES + 1])
            rings += rings_of([stroke.buffer(fill.grow_nm, QUARTER)])
    return rings


def ring_area(points: FloatArray) -> float:
    """Area within a ring, in square nanometres.

    >>> ring_area(np.array([(0.0, 0.0), (2.0, 0.0), (2.0, 3.0), (0.0, 3.0)]))
    6.0
    """
    after = np.roll(points, -1, axis=0)
    return abs(float((points[:, 0] * after[:, 1] - after[:, 0] * points[:, 1]).sum())) / 2
