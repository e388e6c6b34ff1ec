# SPDX-License-Identifier: GPL-3.0-or-later
"""Filled copper areas, computed with shapely on a 1 um grid.

Obstacles are polygons with whole-micrometre corners that contain the true outline, so the fill
never comes nearer than the clearance and depends on no library's way of drawing round corners.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon

from .maps import HOLE_GAP, LAYERS, VIA, Copper, Track
from .placement import PlacedPad
from .planes import ANTENNA, EDGE_GAP, LOCAL_AREAS, SUPPLY_PLANES, Ring, board_ring, hull

CLEARANCE = 152
"""Two micrometres above the rule, for corners rounded to whole micrometres."""
MIN_WIDTH = 100

# Circumscribed regular 16-gon of radius 10000, rounded outwards.
_ROUND = (
    (10000, 1990), (8479, 5666), (5666, 8479), (1990, 10000),
    (-1990, 10000), (-5666, 8479), (-8479, 5666), (-10000, 1990),
    (-10000, -1990), (-8479, -5666), (-5666, -8479), (-1990, -10000),
    (1990, -10000), (5666, -8479), (8479, -5666), (10000, -1990),
)  # fmt: skip


@dataclass
class Fill:
    """One zone: its net, layer, outline and filled rings (holes joined in)."""

    net: str
    layer: str
    outline: Ring
    rings: list[Ring]
    priority: int = 0


def _disc(x: int, y: int, radius: int) -> Polygon:
    return Polygon([(x - (-a * radius // 10000), y - (-b * radius // 10000)) for a, b in _ROUND])


def _box(x0: int, y0: int, x1: int, y1: int) -> Polygon:
    return Polygon([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def _pad(pad: PlacedPad, grow: int) -> Polygon:
    if pad.shape == "circle":
        return _disc(pad.x, pad.y, pad.width // 2 + grow)
    a, b = pad.width // 2 + grow, pad.height // 2 + grow
    return _box(pad.x - a, pad.y - b, pad.x + a, pad.y + b)


def _track(track: Track, grow: int) -> Polygon:
    r = track.width // 2 + grow
    ux = (track.x1 > track.x0) - (track.x1 < track.x0)
    uy = (track.y1 > track.y0) - (track.y1 < track.y0)
    d = r if 0 in (ux, uy) else -(-r * 70711 // 100000)
    ax, ay, bx, by = track.x0 - d * ux, track.y0 - d * uy, track.x1 + d * ux, track.y1 + d * uy
    return Polygon(
        [(ax - d * uy, ay + d * ux), (bx - d * uy, by + d * ux),
         (bx + d * uy, by - d * ux), (ax + d * uy, ay - d * ux)]
    )  # fmt: skip


def _obstacles(
    layer: str, net: str, pads: Iterable[PlacedPad], copper: Copper, numbers: dict[str, int]
) -> list[Polygon]:
    number = numbers[net]
    out = []
    for pad in pads:
        if pad.kind == "np_thru_hole":
            out.append(_disc(pad.x, pad.y, pad.width // 2 + HOLE_GAP))
        elif pad.net != net and (pad.drill or layer == ("F.Cu" if pad.side == "top" else "B.Cu")):
            out.append(_pad(pad, CLEARANCE))
    out += [_disc(v.x, v.y, VIA // 2 + CLEARANCE) for v in copper.vias if v.net != number]
    if layer in LAYERS:
        k = LAYERS.index(layer)
        out += [_track(t, CLEARANCE) for t in copper.tracks if t.net != number and t.layer == k]
    return out


def _polygons(shape: shapely.Geometry) -> list[Polygon]:
    if isinstance(shape, Polygon):
        return [shape]
    return [g for g in getattr(shape, "geoms", []) if isinstance(g, Polygon)]


def _fill(area: Polygon, blocked: list[Polygon]) -> list[Polygon]:
    """Area less the obstacles, without necks below the smallest width."""
    tree = shapely.STRtree(blocked)
    blocked = [blocked[k] for k in sorted(tree.query(area))]
    rest = shapely.difference(area, shapely.union_all(blocked, grid_size=1), grid_size=1)
    half = MIN_WIDTH // 2
    thin = shapely.buffer(rest, -half, join_style="mitre", mitre_limit=2)
    full = shapely.buffer(thin, half, join_style="mitre", mitre_limit=2)
    # The rounding of the buffers may step outside by a micrometre: cut back to the exact area.
    cut = shapely.intersection(shapely.set_precision(full, 1), rest, grid_size=1)
    return _polygons(cut)


def _ring(points: Iterable[tuple[float, ...]]) -> Ring:
    ring = [(round(p[0]), round(p[1])) for p in points]
    return ring[:-1] if ring[0] == ring[-1] else ring


def _cut_start(hole: Ring, heights: set[int]) -> Ring:
    """Turn a hole so that its cut starts at its left edge, level with no corner met so far.

    A cut that ends in a corner which other cuts use too would cross them.
    """
    k = hole.index(min(hole))
    hole = hole[k:] + hole[:k]
    x, y = hole[0]
    for flip in (False, True):
        ring = [hole[0], *hole[:0:-1]] if flip else hole
        if ring[1][0] != x:
            continue
        low, high = sorted((y, ring[1][1]))
        middle = (low + high) // 2
        for step in range((high - low) // 2):
            for level in (middle - step, middle + step):
                if low < level < high and level not in heights:
                    ring = [(x, level), *ring[1:], ring[0]]
                    return [ring[0], *ring[:0:-1]] if flip else ring
    return hole


def join_holes(polygon: Polygon) -> Ring:
    """Write a polygon with holes as one ring: a cut runs left from each hole to what lies there."""
    ring = _ring(polygon.exterior.coords)
    plain = [_ring(h.coords) for h in polygon.interiors]
    heights = {p[1] for r in (ring, *plain) for p in r}
    holes = []
    for hole in sorted(plain, key=min):
        holes.append(_cut_start(hole, heights))
        heights.add(holes[-1][0][1])
    for hole in sorted(holes, key=lambda h: h[0][0]):
        x, y = hole[0]
        best: tuple[int, int] | None = None
        for n, (ax, ay) in enumerate(ring):
            bx, by = ring[(n + 1) % len(ring)]
            if not min(ay, by) <= y <= max(ay, by) or min(ax, bx) > x:
                continue
            at = max(v for v in (ax, bx) if v <= x) if ay == by else (
                ax + (bx - ax) * (y - ay) // (by - ay)
            )  # fmt: skip
            if at <= x and (best is None or at > best[0]):
                best = (at, n)
        if best is None:
            raise ValueError("hole outside its polygon")
        at, n = best
        ring[n + 1 : n + 1] = [(at, y), *hole, hole[0], (at, y)]
    # KiCad triangulates rings of this winding only.
    return [p for k, p in enumerate(ring) if p != ring[k - 1]][::-1]


def _touches(polygon: Polygon, spots: list[tuple[int, int]]) -> bool:
    return any(polygon.intersects(shapely.Point(x, y)) for x, y in spots)


def _finish(
    net: str, layer: str, outline: Ring, shapes: list[Polygon], spots: list[tuple[int, int]],
    priority: int,
) -> Fill:  # fmt: skip
    kept = []
    for shape in shapes:
        shapely.prepare(shape)
        if shape.area >= 40_000 and _touches(shape, spots):
            kept.append(join_holes(shapely.normalize(shape)))
    return Fill(net, layer, outline, sorted(kept), priority)


def fill_zones(pads: list[PlacedPad], copper: Copper, numbers: dict[str, int]) -> list[Fill]:
    """Compute all zones of the board."""
    board = board_ring(EDGE_GAP)
    antenna = _box(*ANTENNA)
    fills: list[Fill] = []
    near: list[Polygon] = []
    for net, refs in LOCAL_AREAS:
        mine = [
            p for p in pads if p.net == net and p.side == "top" and p.ref in refs.split()
        ]  # fmt: skip
        corners = [
            (p.x + a * p.width // 2, p.y + b * p.height // 2)
            for p in mine for a in (-1, 1) for b in (-1, 1)
        ]  # fmt: skip
        ring = hull(corners)
        blocked = [*_obstacles("F.Cu", net, pads, copper, numbers), *near]
        shapes = _fill(Polygon(ring), blocked)
        spots = [(p.x, p.y) for p in mine]
        fills.append(_finish(net, "F.Cu", ring, shapes, spots, 10 + len(fills)))
        wide = [shapely.buffer(s, CLEARANCE, join_style="mitre", mitre_limit=2) for s in shapes]
        near += _polygons(shapely.set_precision(shapely.union_all(wide), 1))
    for layer in ("F.Cu", "In1.Cu", "B.Cu"):
        spots = [(v.x, v.y) for v in copper.vias if v.net == numbers["GND"]]
        spots += [(p.x, p.y) for p in pads if p.net == "GND" and p.drill]
        if layer == "In1.Cu" and not spots:
            raise ValueError("ground plane without a via")
        blocked = [*_obstacles(layer, "GND", pads, copper, numbers), antenna]
        if layer == "F.Cu":
            blocked += near
        shapes = _fill(Polygon(board), blocked)
        fills.append(_finish("GND", layer, board, shapes, spots, 0))
    for net, ring in SUPPLY_PLANES:
        spots = [(v.x, v.y) for v in copper.vias if v.net == numbers[net]]
        shapes = _fill(Polygon(ring), _obstacles("In2.Cu", net, pads, copper, numbers))
        fills.append(_finish(net, "In2.Cu", ring, shapes, spots, 1))
    return fills


__all__ = ["Fill", "fill_zones", "join_holes"]
