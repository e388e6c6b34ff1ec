# SPDX-License-Identifier: GPL-3.0-or-later
"""Maps of what lies where on the two outer layers, on a 0.1 mm grid, in integers throughout."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from .placement import BOARD, CELL, PlacedPad
from .planes import EDGE_GAP, SUPPLY_PLANES, inside, near_ring

CLEARANCE = 150
VIA = 400
DRILL = 200
HOLE_GAP = 250
WIDTHS = (400, 200, 100)
"""Track widths, widest first; a signal takes the last."""
NX, NY = BOARD[0] // CELL + 1, BOARD[1] // CELL + 1
SIZE = NX * NY
LAYERS = ("F.Cu", "B.Cu")
CROSSING = 80
"""Price of each step within the reach of somebody else's way."""
FREE, SHUT = 0, -1


@dataclass(frozen=True)
class Track:
    """A straight track; `layer` 0 is the top, 1 the bottom."""

    net: int
    layer: int
    x0: int
    y0: int
    x1: int
    y1: int
    width: int


@dataclass(frozen=True)
class Via:
    """A through via."""

    net: int
    x: int
    y: int


@dataclass
class Copper:
    """Finished tracks and vias."""

    tracks: list[Track] = field(default_factory=list)
    vias: list[Via] = field(default_factory=list)


@dataclass
class Way:
    """One laid connection: its grid points (layer * SIZE + index) and its copper."""

    net: int
    points: list[int]
    plane: bool
    tracks: list[Track] = field(default_factory=list)
    vias: list[Via] = field(default_factory=list)


class Maps:
    """Holds the maps of what lies where.

    Each map has one entry a grid point: 0 free, a net number where only that net may pass, -1
    where nobody may. ``maps[width][layer]`` for tracks, ``via_map`` for vias.
    """

    def __init__(self, pads: list[PlacedPad], numbers: dict[str, int]) -> None:
        self.numbers = numbers
        self.maps = {w: [np.zeros((NY, NX), dtype=np.int32) for _ in LAYERS] for w in WIDTHS}
        self.via_map = np.zeros((NY, NX), dtype=np.int32)
        self.ways: dict[int, Way] = {}
        self.fixed_vias: list[Via] = []
        self._count = 0
        self.price = [np.zeros(SIZE, dtype=np.int32) for _ in LAYERS]
        self.planes = self._plane_masks()
        self._shut_rim()
        for pad in pads:
            self._paint_pad(pad)
        self.keep_base()

    def keep_base(self) -> None:
        """Remember the maps as they are: what is painted now is never taken up."""
        self.base = {w: [g.copy() for g in layers] for w, layers in self.maps.items()}
        self.via_base = self.via_map.copy()

    def _plane_masks(self) -> dict[int, bytearray]:
        """Grid points where a via meets the plane of its net."""
        masks = {self.numbers["GND"]: bytearray(b"\x01") * SIZE}
        for net, ring in SUPPLY_PLANES:
            mask = bytearray(SIZE)
            xs, ys = [p[0] for p in ring], [p[1] for p in ring]
            for j in range(min(ys) // CELL, max(ys) // CELL + 1):
                for i in range(min(xs) // CELL, max(xs) // CELL + 1):
                    x, y = i * CELL, j * CELL
                    if inside(ring, x, y) and not near_ring(ring, x, y, VIA // 2):
                        mask[j * NX + i] = 1
            masks[self.numbers[net]] = mask
        return masks

    def _shut_rim(self) -> None:
        def shut(grid: npt.NDArray[np.int32], gap: int) -> None:
            n = -(-gap // CELL)
            grid[:n] = grid[-n:] = SHUT
            grid[:, :n] = grid[:, -n:] = SHUT

        for width, layers in self.maps.items():
            for grid in layers:
                shut(grid, EDGE_GAP + width // 2)
        shut(self.via_map, EDGE_GAP + VIA // 2)

    def _paint(
        self,
        grid: npt.NDArray[np.int32],
        net: int,
        ends: tuple[int, int, int, int],
        half: tuple[int, int],
        reach: int,
    ) -> None:
        """Mark all points nearer than `reach` to a segment thickened to a box of `half` size."""
        x0, y0, x1, y1 = ends
        far_x, far_y = reach + half[0], reach + half[1]
        i0, i1 = max((min(x0, x1) - far_x) // CELL, 0), min((max(x0, x1) + far_x) // CELL + 2, NX)
        j0, j1 = max((min(y0, y1) - far_y) // CELL, 0), min((max(y0, y1) + far_y) // CELL + 2, NY)
        px = np.arange(i0, i1, dtype=np.int64)[None, :] * CELL
        py = np.arange(j0, j1, dtype=np.int64)[:, None] * CELL
        if (x0, y0) == (x1, y1):
            dx = np.clip(np.abs(px - x0) - half[0], 0, None)
            dy = np.clip(np.abs(py - y0) - half[1], 0, None)
            near = dx * dx + dy * dy < reach * reach
        else:
            ux, uy = x1 - x0, y1 - y0
            length2 = ux * ux + uy * uy
            # Nearest point of the segment, in whole micrometres (rounded down: error below 1 um).
            t = np.clip((px - x0) * ux + (py - y0) * uy, 0, length2)
            qx, qy = x0 + t * ux // length2, y0 + t * uy // length2
            near = (px - qx) ** 2 + (py - qy) ** 2 < reach * reach
        part = grid[j0:j1, i0:i1]
        part[...] = np.where(
            near, np.where((part == FREE) | (part == net), net if net else SHUT, SHUT), part
        )

    def _paint_pad(self, pad: PlacedPad) -> None:
        net = self.numbers[pad.net] if pad.net else SHUT
        through = pad.drill > 0
        layers = (0, 1) if through else (0 if pad.side == "top" else 1,)
        gap = HOLE_GAP if pad.kind == "np_thru_hole" else CLEARANCE
        half = (pad.width // 2, pad.height // 2)
        round_ = pad.shape == "circle"
        grow = half[0] if round_ else 0
        half = (0, 0) if round_ else half
        here = (pad.x, pad.y, pad.x, pad.y)
        for layer in layers:
            for width in WIDTHS:
                reach = gap + width // 2 + grow
                self._paint(self.maps[width][layer], net, here, half, reach)
        self._paint(self.via_map, net, here, half, gap + VIA // 2 + grow)
        if pad.kind != "np_thru_hole" and not through and min(pad.width, pad.height) < 1600:
            # A via in a small pad would drink its solder: keep them apart.
            self._paint(self.via_map, SHUT, here, half, VIA // 2 + 50 + grow)
        if through:
            # No via inside or beside a hole, whatever its net.
            self._paint(self.via_map, SHUT, here, (0, 0), grow + gap + VIA // 2)

    def paint_track(self, track: Track) -> None:
        ends = (track.x0, track.y0, track.x1, track.y1)
        for width in WIDTHS:
            reach = CLEARANCE + (width + track.width) // 2
            self._paint(self.maps[width][track.layer], track.net, ends, (0, 0), reach)
        reach = CLEARANCE + (VIA + track.width) // 2
        self._paint(self.via_map, track.net, ends, (0, 0), reach)

    def paint_via(self, via: Via) -> None:
        here = (via.x, via.y, via.x, via.y)
        for width in WIDTHS:
            for layer in (0, 1):
                reach = CLEARANCE + (width + VIA) // 2
                self._paint(self.maps[width][layer], via.net, here, (0, 0), reach)
        self._paint(self.via_map, SHUT, here, (0, 0), CLEARANCE + VIA)

    def copper(self) -> Copper:
        """All tracks and vias laid so far."""
        out = Copper(vias=list(self.fixed_vias))
        for way in self.ways.values():
            out.tracks += way.tracks
            out.vias += way.vias
        return out

    def take_up(self, number: int) -> Way:
        """Remove a way and paint its surroundings anew."""
        way = self.ways.pop(number)
        far = CLEARANCE + (max(WIDTHS) + VIA) // 2 + CELL
        boxes = [
            (min(t.x0, t.x1), min(t.y0, t.y1), max(t.x0, t.x1), max(t.y0, t.y1)) for t in way.tracks
        ] + [(v.x, v.y, v.x, v.y) for v in way.vias]
        for box in boxes:
            x0, y0, x1, y1 = box[0] - far, box[1] - far, box[2] + far, box[3] + far
            part = (
                slice(max(y0 // CELL, 0), y1 // CELL + 1),
                slice(max(x0 // CELL, 0), x1 // CELL + 1),
            )
            for width, layers in self.maps.items():
                for grid, base in zip(layers, self.base[width], strict=True):
                    grid[part] = base[part]
            self.via_map[part] = self.via_base[part]
            x0, y0, x1, y1 = x0 - far, y0 - far, x1 + far, y1 + far
            for other in self.ways.values():
                for t in other.tracks:
                    apart = min(t.x0, t.x1) > x1 or max(t.x0, t.x1) < x0
                    apart = apart or min(t.y0, t.y1) > y1 or max(t.y0, t.y1) < y0
                    if not apart:
                        self.paint_track(t)
                for v in other.vias:
                    if x0 <= v.x <= x1 and y0 <= v.y <= y1:
                        self.paint_via(v)
        return way

    def prices(
        self, net: int, width: int, soft: bool, window: tuple[int, int, int, int]
    ) -> tuple[bytes, bytes]:
        """Price of each point beyond the step, both layers in a row, and of vias; 255 is shut."""
        i0, i1, j0, j1 = window
        part = (slice(j0, j1 + 1), slice(i0, i1 + 1))
        out = np.full((3, NY, NX), 255, dtype=np.uint8)
        heat = [p.reshape(NY, NX)[part] for p in self.price]
        for layer in (0, 1):
            grid, base = self.maps[width][layer][part], self.base[width][layer][part]
            out[layer][part] = self._price(grid, base, net, heat[layer], soft)
        warm = np.maximum(heat[0], heat[1])
        out[2][part] = self._price(self.via_map[part], self.via_base[part], net, warm, soft)
        return out[:2].tobytes(), out[2].tobytes()

    @staticmethod
    def _price(
        grid: npt.NDArray[np.int32],
        base: npt.NDArray[np.int32],
        net: int,
        heat: npt.NDArray[np.int32],
        soft: bool,
    ) -> npt.NDArray[np.uint8]:
        clear = (grid == FREE) | (grid == net)
        if not soft:
            return np.where(clear, 0, 255).astype(np.uint8)
        possible = (base == FREE) | (base == net)
        cross = np.minimum(CROSSING + heat, 250)
        return np.where(clear, 0, np.where(possible, cross, 255)).astype(np.uint8)
