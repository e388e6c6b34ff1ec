# SPDX-License-Identifier: GPL-3.0-or-later
"""The drawn copper of one net as a resistor network: areas in cells, tracks as strips, barrels."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import hypot, sqrt
from typing import Any, Final

import numpy as np
import shapely
from shapely.geometry import LineString
from shapely.geometry import Point as Disc

from netgraph import limits
from netgraph.copper.mesh import (
    IntArray,
    LayerMesh,
    cell_at,
    cells_in,
    is_bulk,
    layer_mesh,
    point_squares,
)
from netgraph.copper.raster import SUB, FloatArray, draw, grid_over, rings_of
from netgraph.copper.shapes import QUARTER, fill_rings, pad_shape, ring_area
from netgraph.copper.sheet import Sheets, barrel_ohm, sheets_of, track_amps
from netgraph.copper.strips import Key, Point, Strip, forked, layer_strips
from netgraph.errors import BoardFileError
from netgraph.formats.shapes import chords_of_arc
from netgraph.model import Board, Pad
from netgraph.reasons import Reason, reason

STRIP_CELLS: Final = 8
"""Tracks narrower than so many cells are strips and never meshed: 2.5 % error at eight cells."""

FINEST_NM: Final = 50_000.0
COARSEST_NM: Final = 250_000.0
"""Cells no wider than the gaps between copper, or areas would flow together (our choice)."""

MOST_EMPTY: Final = 30
MANY_PIXELS: Final = 4_000_000
"""Sub-pixels drawn for one that holds copper, and how many are no matter (our choice)."""

SHORT_NM: Final = 2_000.0
"""A piece of track shorter than this joins its ends."""


@dataclass(frozen=True, slots=True)
class CopperUnknown:
    """Why the resistance of a net is not known."""

    why: Reason


@dataclass(frozen=True, slots=True)
class NetCopper:
    """Resistors between the nodes of a net; the first nodes are its pads, in their order.

    `a`, `b`: nodes; `siemens`: conductance; `amps`: what a strip may carry, infinite for areas
    and barrels; `same`: pairs of nodes without resistance, shape (n, 2). `cells` counts cells of
    `cell_nm`, 0 where the net has no areas.
    """

    net: str
    pads: tuple[int, ...]
    nodes: int
    a: IntArray
    b: IntArray
    siemens: FloatArray
    amps: FloatArray
    same: IntArray
    cells: int
    cell_nm: float
    strips: int
    narrowest_nm: float | None
    sheets: Sheets
    open_lands: int


def net_copper(
    board: Board,
    net: str,
    *,
    max_cells: int = limits.MAX_COPPER_CELLS,
    cell_nm: float | None = None,
) -> NetCopper | CopperUnknown:
    """The copper of one net, or why it can't be known.

    Parameters
    ----------
    max_cells
        So many cells are aimed at; the cell is made as small as they allow. A net that needs more
        than twice as many at the coarsest cell is not looked at.
    cell_nm
        Side of a cell; default: chosen by the area of the net.

    Raises
    ------
    UnknownNameError
        The board has no such net.
    """
    number = board.net(net).index
    if "has_copper" not in board.capabilities:
        return CopperUnknown(reason("copper-no-format", net=net))
    try:
        copper = board.copper
    except BoardFileError as error:
        return CopperUnknown(reason("copper-unreadable", net=net, error=error.one_line()))
    if any(
        zone.net == number and not zone.is_filled and not zone.teardrop for zone in copper.zones
    ):
        return CopperUnknown(reason("copper-unfilled", net=net))
    drawing = _Drawing(board, number, board.pads_on_net(net))
    if not drawing.is_drawn:
        return CopperUnknown(reason("copper-none", net=net))
    if len(drawing.tracks) > limits.MAX_COPPER_STRIPS:
        return CopperUnknown(reason("copper-too-large", net=net, mm2=round(drawing.area / 1e12)))
    size = cell_nm or drawing.cell_for(max_cells)
    if drawing.area / size**2 > 2 * max_cells or drawing.work(size) > limits.MAX_COPPER_PIXELS:
        return CopperUnknown(reason("copper-too-large", net=net, mm2=round(drawing.area / 1e12)))
    try:
        return _Network(drawing, size).build(net)
    except BoardFileError as error:
        return CopperUnknown(reason("copper-unreadable", net=net, error=error.one_line()))


class _Drawing:
    """All shapes of one net, in nanometres."""

    def __init__(self, board: Board, net: int, pads: Sequence[int]) -> None:
        copper = board.copper
        layers = len(board.copper_layers)
        self.sheets = sheets_of(board)
        self.layers = layers
        self.pads: tuple[Pad, ...] = tuple(board.pad(one) for one in pads)
        self.pad_shapes = [pad_shape(board, pad) for pad in self.pads]
        self.pad_layers = [_layers_of(pad, layers) for pad in self.pads]
        t, arcs, vias = copper.tracks, copper.arcs, copper.vias
        self.tracks: list[tuple[Point, Point, float, int]] = []
        for i in np.flatnonzero(t.net == net).tolist():
            (x1, y1), (x2, y2) = t.start[i].tolist(), t.end[i].tolist()
            self.tracks.append(((x1, y1), (x2, y2), float(t.width[i]), int(t.layer[i])))
        for i in np.flatnonzero(arcs.net == net).tolist():
            start, mid, end = (tuple(one[i].tolist()) for one in (arcs.start, arcs.mid, arcs.end))
            chords = chords_of_arc(start, mid, end)
            for a, b in itertools.pairwise(chords):
                self.tracks.append((a, b, float(arcs.width[i]), int(arcs.layer[i])))
        self.tracks = [one for one in self.tracks if one[2] > 0 and 0 <= one[3] < layers]
        # A via without land and hole joins nothing.
        self.vias = [
            (vias.at[i].tolist(), float(vias.size[i]), float(vias.drill[i] or vias.size[i] / 2),
             max(int(vias.first_layer[i]), 0), min(int(vias.last_layer[i]), layers - 1))
            for i in np.flatnonzero(vias.net == net).tolist()
            if vias.size[i] > 0 or vias.drill[i] > 0
        ]  # fmt: skip
        self.fills = [
            fill
            for zone in copper.zones
            if zone.net == net
            for fill in zone.fills
            if 0 <= fill.layer < layers and len(fill.points) >= 3
        ]
        self.open_lands = int(((vias.net == net) & (vias.drill <= 0) & (vias.size > 0)).sum())
        wide = sum(
            hypot(b[0] - a[0], b[1] - a[1]) * w
            for a, b, w, _ in self.tracks
            if w >= STRIP_CELLS * FINEST_NM
        )
        # Holes hang on slits, so the signed area of a ring is that of its copper.
        self.area = sum(ring_area(fill.points.astype(np.float64)) for fill in self.fills) + wide
        self.is_drawn = bool(self.tracks or self.vias or self.fills)

    def cell_for(self, max_cells: int) -> float:
        """The smallest cell that keeps to the limits.

        Where areas are small and far apart, most sub-pixels would be drawn for nothing: then the
        cells are larger.
        """
        size = max(FINEST_NM, sqrt(self.area / max_cells))
        while size < COARSEST_NM:
            used = self.area / size**2 * SUB**2
            most = min(max(MOST_EMPTY * used, MANY_PIXELS), limits.MAX_COPPER_PIXELS)
            if self.pixels(size) <= most:
                break
            size *= 1.2
        return min(size, COARSEST_NM)

    def wide(self, layer: int, size: float) -> list[tuple[Point, Point, float]]:
        """Tracks of a layer that are areas at this size of cell."""
        return [one[:3] for one in self.tracks if one[3] == layer and one[2] >= STRIP_CELLS * size]

    def pixels(self, size: float) -> float:
        """Sub-pixels of the largest layer."""
        boxes = [self.area_box(layer, size) for layer in range(self.layers)]
        return max(
            (
                ((x1 - x0) / size + 3) * ((y1 - y0) / size + 3) * SUB**2
                for x0, y0, x1, y1 in (one for one in boxes if one is not None)
            ),
            default=0.0,
        )

    def work(self, size: float) -> float:
        """Sub-pixels of a layer, and rows of them that edges of areas cross: what drawing costs."""
        rows = sum(float(np.abs(np.diff(fill.points[:, 1])).sum()) for fill in self.fills)
        return self.pixels(size) + rows * SUB / size

    def area_box(self, layer: int, size: float) -> tuple[float, float, float, float] | None:
        """What the areas of a layer lie in; None where it has none."""
        boxes = []
        for a, b, w in self.wide(layer, size):
            boxes.append((min(a[0], b[0]) - w, min(a[1], b[1]) - w,
                          max(a[0], b[0]) + w, max(a[1], b[1]) + w))  # fmt: skip
        for fill in self.fills:
            if fill.layer == layer:
                low, high = fill.points.min(axis=0), fill.points.max(axis=0)
                grow = fill.grow_nm
                boxes.append((low[0] - grow, low[1] - grow, high[0] + grow, high[1] + grow))
        if not boxes:
            return None
        table = np.array(boxes, dtype=np.float64)
        low, high = table[:, :2].min(axis=0), table[:, 2:].max(axis=0)
        # Lands at the edge of an area lie in the image whole.
        edge = max((land for _, land, *_ in self.vias), default=0.0)
        low, high = low - edge, high + edge
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _layers_of(pad: Pad, layers: int) -> tuple[int, ...]:
    if pad.copper_side == "top":
        return (0,)
    if pad.copper_side == "bottom":
        return (layers - 1,)
    return tuple(range(layers)) if pad.copper_side == "both" else ()


@dataclass
class _Network:
    """Collects nodes and resistors layer by layer."""

    drawing: _Drawing
    size: float
    nodes: int = 0
    cells: int = 0
    strips: int = 0
    narrowest: float | None = None
    a: list[IntArray] = field(default_factory=list)
    b: list[IntArray] = field(default_factory=list)
    siemens: list[FloatArray] = field(default_factory=list)
    amps: list[FloatArray] = field(default_factory=list)
    same: list[tuple[int, int]] = field(default_factory=list)

    def build(self, net: str) -> NetCopper:
        """All layers, and the barrels between them."""
        d = self.drawing
        self.nodes = len(d.pads)
        self.via_nodes: list[dict[int, int]] = []
        for _, _, drill, first, last in d.vias:
            nodes = {layer: self._node() for layer in range(first, last + 1)}
            self.via_nodes.append(nodes)
            for layer in range(first, last):
                ohm = barrel_ohm(drill, d.sheets.gap_nm[layer])
                self._resistor(nodes[layer], nodes[layer + 1], 1.0 / ohm)
        for layer in range(d.layers):
            self._layer(layer)
        return NetCopper(
            net,
            tuple(pad.index for pad in d.pads),
            self.nodes,
            np.concatenate([*self.a, np.zeros(0, dtype=np.int64)]),
            np.concatenate([*self.b, np.zeros(0, dtype=np.int64)]),
            np.concatenate([*self.siemens, np.zeros(0)]),
            np.concatenate([*self.amps, np.zeros(0)]),
            np.array(self.same, dtype=np.int64).reshape(-1, 2),
            self.cells,
            self.size,
            self.strips,
            self.narrowest,
            d.sheets,
            d.open_lands,
        )

    def _node(self) -> int:
        self.nodes += 1
        return self.nodes - 1

    def _resistor(self, a: int, b: int, siemens: float, amps: float = np.inf) -> None:
        self.a.append(np.array([a]))
        self.b.append(np.array([b]))
        self.siemens.append(np.array([siemens]))
        self.amps.append(np.array([amps]))

    def _layer(self, layer: int) -> None:
        d = self.drawing
        tracks = [one[:3] for one in d.tracks if one[3] == layer]
        wide = d.wide(layer, self.size)
        narrow = [one for one in tracks if one[2] < STRIP_CELLS * self.size]
        fills = [one for one in d.fills if one.layer == layer]
        pads = [i for i, one in enumerate(d.pad_layers) if layer in one]
        vias = [i for i, one in enumerate(self.via_nodes) if layer in one]
        mesh, first_cell = None, self.nodes
        if fills or wide:
            mesh = self._mesh(layer, fills, pads, vias)
        terminals = [d.pad_shapes[i] for i in pads]
        owners = list(pads)
        for i in vias:
            (x, y), size, *_ = d.vias[i]
            terminals.append(Disc(x, y).buffer(size / 2, QUARTER))
            owners.append(self.via_nodes[i][layer])
        found = layer_strips(narrow, terminals, mesh)
        self.same += [(owners[i], owners[j]) for i, j in found.joined]
        mouths = [self._node() for _ in found.mouths]
        for node, cells in zip(mouths, found.mouths, strict=True):
            self.same += [(node, first_cell + cell) for cell in cells]
        loose = self._strips(layer, forked(found.strips), owners, mouths)
        self._join_loose(loose, owners, terminals, mesh, first_cell)

    def _mesh(
        self, layer: int, fills: Iterable[Any], pads: list[int], vias: list[int]
    ) -> LayerMesh:
        """Cells and links of one layer; pads and barrels on it are one potential each."""
        d, size = self.drawing, self.size
        box = d.area_box(layer, size)
        grid = grid_over(box or (0.0, 0.0, 0.0, 0.0), size)
        frame = shapely.box(*(box or (0.0, 0.0, 0.0, 0.0)))
        rings = [ring for fill in fills for ring in fill_rings(fill)]
        rings += rings_of(
            LineString([a, b]).buffer(w / 2, QUARTER) if a != b else Disc(a).buffer(w / 2, QUARTER)
            for a, b, w in d.wide(layer, size)
        )
        lands = rings_of(Disc(*d.vias[i][0]).buffer(d.vias[i][1] / 2, QUARTER) for i in vias)
        contacts: list[tuple[int, Any, float]] = []
        for i in pads:
            pad = d.pads[i]
            radius = sqrt(pad.width_nm * pad.height_nm) / 2
            contacts.append((i, d.pad_shapes[i], radius))
        for i in vias:
            (x, y), _, drill, *_ = d.vias[i]
            shape = Disc(x, y).buffer(drill / 2, QUARTER)
            contacts.append((self.via_nodes[i][layer], shape, drill / 2))
        contacts = [one for one in contacts if frame.intersects(one[1])]
        bulk = draw(rings, grid)
        contact = draw(rings_of(one[1] for one in contacts), grid)
        mesh = layer_mesh(grid, bulk, draw(lands, grid), contact)
        base = self.nodes
        self.nodes += mesh.cells
        self.cells += mesh.cells
        per_siemens = 1.0 / d.sheets.ohm_per_square(layer)
        self.a.append(mesh.a + base)
        self.b.append(mesh.b + base)
        self.siemens.append(mesh.squares * per_siemens)
        self.amps.append(np.full(len(mesh.a), np.inf))
        for node, shape, radius in contacts:
            cells = cells_in(mesh, shape)
            if len(cells):
                self.same += [(node, base + one) for one in cells.tolist()]
                continue
            middle = shape.centroid
            cell = cell_at(mesh, middle.x, middle.y)
            if cell < 0:
                continue
            squares = point_squares(max(radius, 1.0), size)
            if squares > 0:
                self._resistor(node, base + cell, per_siemens / squares)
            else:
                self.same.append((node, base + cell))
        return mesh

    def _strips(
        self,
        layer: int,
        pieces: list[tuple[Strip, Key, Key]],
        owners: list[int],
        mouths: list[int],
    ) -> list[tuple[int, Point, float]]:
        """Resistors of strips; node, place and width of each end in the open that is joined to
        nothing.
        """
        d = self.drawing
        thickness = d.sheets.copper_nm[layer]
        outer = layer in (0, d.layers - 1)
        ohm = d.sheets.ohm_per_square(layer)
        open_ends: dict[int, int] = {}
        degree: dict[int, list[tuple[Point, float]]] = {}

        def node_of(key: Key) -> int:
            if isinstance(key, tuple):
                return owners[key[1]] if key[0] == "terminal" else mouths[key[1]]
            if key not in open_ends:
                open_ends[key] = self._node()
            return open_ends[key]

        for piece, first, last in pieces:
            a, b = node_of(first), node_of(last)
            for key, point in ((first, piece.start), (last, piece.stop)):
                if isinstance(key, int):
                    degree.setdefault(key, []).append((point, piece.width_nm))
            if piece.length_nm < SHORT_NM:
                self.same.append((a, b))
                continue
            amps = track_amps(piece.width_nm, thickness, outer=outer)
            self._resistor(a, b, piece.width_nm / piece.length_nm / ohm, amps)
            self.strips += 1
            if self.narrowest is None or piece.width_nm < self.narrowest:
                self.narrowest = piece.width_nm
        return [(open_ends[key], *ends[0]) for key, ends in degree.items() if len(ends) == 1]

    def _join_loose(
        self,
        loose: list[tuple[int, Point, float]],
        owners: list[int],
        terminals: list[Any],
        mesh: LayerMesh | None,
        first_cell: int,
    ) -> None:
        """A loose end whose round cap still touches a pad, a land or an area is joined to it."""
        tree = shapely.STRtree(terminals)
        turn = np.linspace(0.0, 2 * np.pi, 8, endpoint=False)
        for node, (x, y), width in loose:
            for near in tree.query(Disc(x, y), predicate="dwithin", distance=width / 2).tolist():
                self.same.append((node, owners[near]))
            if mesh is None:
                continue
            reach = np.repeat((0.0, width / 4, width / 2), 8)
            px, py = x + reach * np.tile(np.cos(turn), 3), y + reach * np.tile(np.sin(turn), 3)
            touched = np.flatnonzero(is_bulk(mesh, px, py))
            if len(touched):
                cell = cell_at(mesh, float(px[touched[0]]), float(py[touched[0]]))
                self.same.append((node, first_cell + cell))
