# SPDX-License-Identifier: GPL-3.0-or-later
"""Narrow tracks as exact strips: length over width squares, from pad to pad and fork to fork.

What of a track lies on a pad, on a via's land or on an area is left out: copper is counted once.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field
from math import hypot
from typing import Any, Final

import numpy as np
import shapely
from shapely.geometry import LineString

from netgraph import limits
from netgraph.copper.mesh import LayerMesh, cell_at, is_bulk
from netgraph.copper.raster import SUB
from netgraph.errors import BoardFileError

TOUCH_NM: Final = 2_000.0
"""Ends nearer than this to a middle line are joined to it: rounding of files (our choice)."""

Point = tuple[float, float]
End = tuple[str, int] | None
"""``("terminal", number)``, ``("mouth", number)`` of an area, or None for an end in the open."""


Key = tuple[str, int] | int
"""What an end is joined to: an :data:`End`, or the number of a place in the open."""


@dataclass(slots=True)
class Strip:
    """A straight piece of track between two places; ends as :data:`End`."""

    start: Point
    stop: Point
    width_nm: float
    first: End = None
    last: End = None

    @property
    def length_nm(self) -> float:
        """Length along the middle."""
        return hypot(self.stop[0] - self.start[0], self.stop[1] - self.start[1])

    def at(self, part: float) -> Point:
        """The place at this part of the way."""
        (x1, y1), (x2, y2) = self.start, self.stop
        return x1 + (x2 - x1) * part, y1 + (y2 - y1) * part


@dataclass(slots=True)
class LayerStrips:
    """Strips of a layer, the cells of each mouth, and terminals that touch each other."""

    strips: list[Strip] = field(default_factory=list)
    mouths: list[list[int]] = field(default_factory=list)
    joined: list[tuple[int, int]] = field(default_factory=list)


def layer_strips(
    tracks: Sequence[tuple[Point, Point, float]],
    terminals: Sequence[Any],
    mesh: LayerMesh | None,
) -> LayerStrips:
    """Pieces of tracks that lie on no terminal and no area.

    Parameters
    ----------
    tracks
        Start, stop, width in nanometres.
    terminals
        Shapes of one potential each: pads, lands of vias.
    """
    found = LayerStrips()
    tree = shapely.STRtree(list(terminals))
    if len(terminals) > 1:
        found.joined += [(i, j) for i, j in _pairs(tree, list(terminals)) if i < j]
    if not tracks:
        return found
    lines = shapely.linestrings(np.array([[a, b] for a, b, _ in tracks], dtype=np.float64))
    touched: dict[int, list[int]] = {}
    if len(terminals):
        for track, terminal in _pairs(tree, lines):
            touched.setdefault(track, []).append(terminal)
    for index, (start, stop, width) in enumerate(tracks):
        near = touched.get(index, [])
        if start == stop:
            found.joined += [(near[0], other) for other in near[1:]]
            continue
        for piece in _outside(start, stop, width, near, terminals, found):
            found.strips += [piece] if mesh is None else _off_the_area(piece, mesh, found)
    return found


def _pairs(tree: Any, shapes: Any, distance: float | None = None) -> list[tuple[int, int]]:
    """Numbers of shapes and of those of the tree that touch them, or lie within a distance.

    Raises
    ------
    BoardFileError
        More than ``limits.MAX_COPPER_TOUCHES``: no drawing of a real net looks like that.
    """
    found: list[tuple[int, int]] = []
    for start in range(0, len(shapes), 256):
        some = shapes[start : start + 256]
        if distance is None:
            near = tree.query(some, predicate="intersects")
        else:
            near = tree.query(some, predicate="dwithin", distance=distance)
        found += zip((near[0] + start).tolist(), near[1].tolist(), strict=True)
        if len(found) > limits.MAX_COPPER_TOUCHES:
            raise BoardFileError(
                "limit-exceeded",
                f"more than {limits.MAX_COPPER_TOUCHES} touches between tracks, pads and vias of "
                "one net on one layer (MAX_COPPER_TOUCHES)",
            )
    return found


def _outside(
    start: Point,
    stop: Point,
    width: float,
    near: Sequence[int],
    terminals: Sequence[Any],
    found: LayerStrips,
) -> list[Strip]:
    """The parts of a track between its terminals."""
    whole = Strip(start, stop, width)
    if not near:
        return [whole]
    line, length = LineString([start, stop]), whole.length_nm
    spans: list[tuple[float, float, int]] = []
    for terminal in near:
        part = line.intersection(terminals[terminal])
        for one in getattr(part, "geoms", (part,)):
            along = [hypot(x - start[0], y - start[1]) / length for x, y in one.coords]
            if along:
                spans.append((min(along), max(along), terminal))
    spans.sort()
    slack = 1.0 / length
    pieces: list[Strip] = []
    reached, owner = 0.0, -1
    for low, high, terminal in spans:
        if low > reached + slack:
            first: End = ("terminal", owner) if owner >= 0 else None
            pieces.append(
                Strip(whole.at(reached), whole.at(low), width, first, ("terminal", terminal))
            )
        elif owner >= 0 and owner != terminal:
            found.joined.append((owner, terminal))
        if high >= reached:
            reached, owner = high, terminal
    if reached < 1.0 - slack:
        pieces.append(Strip(whole.at(reached), stop, width, ("terminal", owner), None))
    return pieces


def _off_the_area(piece: Strip, mesh: LayerMesh, found: LayerStrips) -> list[Strip]:
    """The parts of a piece that lie beside the layer's areas, each open end a mouth."""
    step = mesh.grid.cell_nm / SUB
    count = max(int(np.ceil(piece.length_nm / step)), 1) + 1
    part = np.linspace(0.0, 1.0, count)
    x = piece.start[0] + (piece.stop[0] - piece.start[0]) * part
    y = piece.start[1] + (piece.stop[1] - piece.start[1]) * part
    on = is_bulk(mesh, x, y)
    if not on.any():
        return [piece]
    pieces = []
    edges = np.flatnonzero(np.diff(on.astype(np.int8)))
    bounds = [0, *(edges + 1).tolist(), count]
    for low, high in itertools.pairwise(bounds):
        if on[low]:
            continue
        # Half a step beyond the last place seen in the open lies the edge, on average.
        first, last = piece.first, piece.last
        begin, end = 0.0, 1.0
        if low > 0:
            begin = float((part[low - 1] + part[low]) / 2)
            first = _mouth(piece, float(part[low - 1]), mesh, found)
        if high < count:
            end = float((part[high - 1] + part[high]) / 2)
            last = _mouth(piece, float(part[high]), mesh, found)
        pieces.append(Strip(piece.at(begin), piece.at(end), piece.width_nm, first, last))
    return pieces


def _mouth(piece: Strip, part: float, mesh: LayerMesh, found: LayerStrips) -> End:
    """The cells across the width of a track where it runs into an area, as one potential."""
    length, cell = piece.length_nm, mesh.grid.cell_nm
    (x1, y1), (x2, y2) = piece.start, piece.stop
    ux, uy = (x2 - x1) / length, (y2 - y1) / length
    x, y = piece.at(part)
    reach = max(piece.width_nm / 2 - cell / 2, 0.0)
    count = 2 * int(np.ceil(reach / cell)) + 1
    cells = [cell_at(mesh, x, y)]
    for shift in np.linspace(-reach, reach, count).tolist():
        px, py = x - uy * shift, y + ux * shift
        if is_bulk(mesh, np.array([px]), np.array([py]))[0]:
            cells.append(cell_at(mesh, px, py))
    found.mouths.append(sorted({one for one in cells if one >= 0}))
    return "mouth", len(found.mouths) - 1


def forked(strips: Sequence[Strip]) -> list[tuple[Strip, Key, Key]]:
    """Strips cut where others end on them or cross them; each with a key for both ends.

    Ends in the open at one place have one number.
    """
    if not strips:
        return []
    places: list[Point] = []
    numbers: dict[tuple[int, int], int] = {}

    def place(point: Point) -> int:
        key = (round(point[0] / 100), round(point[1] / 100))
        if key not in numbers:
            numbers[key] = len(places)
            places.append(point)
        return numbers[key]

    cuts: list[list[tuple[float, Key]]] = [[] for _ in strips]
    for index, one in enumerate(strips):
        cuts[index].append((0.0, place(one.start) if one.first is None else one.first))
        cuts[index].append((1.0, place(one.stop) if one.last is None else one.last))
    lines = shapely.linestrings(np.array([[s.start, s.stop] for s in strips], dtype=np.float64))
    tree = shapely.STRtree(lines)
    for i, j in _pairs(tree, lines, TOUCH_NM):
        if i == j:
            continue
        for at_start in (True, False):
            key = cuts[i][0 if at_start else 1][1]
            if not isinstance(key, int):
                continue
            part, gap = _along(strips[j], strips[i].start if at_start else strips[i].stop)
            if gap <= TOUCH_NM:
                cuts[j].append((part, key))
        if i < j and (cross := _crossing(strips[i], strips[j])) is not None:
            met = place(strips[i].at(cross[0]))
            cuts[i].append((cross[0], met))
            cuts[j].append((cross[1], met))
    found: dict[object, tuple[Strip, Key, Key]] = {}
    for index, one in enumerate(strips):
        ordered = sorted(cuts[index], key=lambda cut: cut[0])
        for (low, first), (high, last) in itertools.pairwise(ordered):
            if first == last:
                continue
            piece = Strip(one.at(low), one.at(high), one.width_nm)
            # Tracks drawn twice over each other are copper once: the widest counts.
            ends = sorted((_rounded(piece.start), _rounded(piece.stop)))
            same = (*ends, *sorted((str(first), str(last))))
            old = found.get(same)
            if old is None or old[0].width_nm < one.width_nm:
                found[same] = (piece, first, last)
    return list(found.values())


def _rounded(point: Point) -> tuple[int, int]:
    return round(point[0] / 1000), round(point[1] / 1000)


def _along(strip: Strip, point: Point) -> tuple[float, float]:
    """Part of the way along a strip that is nearest to a point, and the distance there."""
    (x1, y1), (x2, y2) = strip.start, strip.stop
    length2 = strip.length_nm**2
    part = 0.0
    if length2 > 0:
        part = ((point[0] - x1) * (x2 - x1) + (point[1] - y1) * (y2 - y1)) / length2
    part = min(max(part, 0.0), 1.0)
    x, y = strip.at(part)
    return part, hypot(point[0] - x, point[1] - y)


def _crossing(one: Strip, two: Strip) -> tuple[float, float] | None:
    """Where two middle lines cross, well within both; None where they don't."""
    (ax, ay), (bx, by) = one.start, one.stop
    (cx, cy), (dx, dy) = two.start, two.stop
    ux, uy, vx, vy = bx - ax, by - ay, dx - cx, dy - cy
    d = ux * vy - uy * vx
    if abs(d) < 1e-9 * one.length_nm * two.length_nm or d == 0:
        return None
    s = ((cx - ax) * vy - (cy - ay) * vx) / d
    t = ((cx - ax) * uy - (cy - ay) * ux) / d
    near_s, near_t = TOUCH_NM / one.length_nm, TOUCH_NM / two.length_nm
    inside = near_s < s < 1 - near_s and near_t < t < 1 - near_t
    return (s, t) if inside else None
