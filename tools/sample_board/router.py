# SPDX-License-Identifier: GPL-3.0-or-later
"""A small maze router on two layers.

It does what this board needs and no more: straight and diagonal steps, through vias. A way may
cross finished ways at a price; those are taken up and laid again, and the price of the spot rises.
"""

from __future__ import annotations

import heapq
import itertools

from .maps import CLEARANCE, FREE, NX, NY, SIZE, VIA, Maps, Track, Via, Way
from .placement import CELL, PlacedPad

VIA_COST = 90
HEAT = 40
"""Rise of the price of a spot each time a way there is taken up."""


class Router(Maps):
    """Finds and lays ways on the maps."""

    def pad_points(self, pad: PlacedPad) -> list[int]:
        """Grid points within a pad, as layer * SIZE + index."""
        out = []
        a, b = pad.width // 2, pad.height // 2
        for j in range(-((b - pad.y) // CELL), (pad.y + b) // CELL + 1):
            for i in range(-((a - pad.x) // CELL), (pad.x + a) // CELL + 1):
                dx, dy = abs(i * CELL - pad.x), abs(j * CELL - pad.y)
                if pad.shape == "circle":
                    ok = dx * dx + dy * dy <= (a - 50) ** 2
                else:
                    # Roundrect corners: stay off the outer eighth.
                    ok = dx <= a - 50 and dy <= b - 50
                if ok:
                    out.append(j * NX + i)
        layers = (0, 1) if pad.drill else (0 if pad.side == "top" else 1,)
        return [layer * SIZE + k for layer in layers for k in out]

    def _search(
        self,
        net: int,
        starts: list[int],
        goals: set[int],
        width: int,
        margin: int,
        plane: bool,
        soft: bool,
    ) -> list[int] | None:
        """Cheapest way from a start to a goal, or to a via into the net's plane (-1 ends it)."""
        mask = self.planes.get(net) if plane else None
        ends = [k % SIZE for k in (*starts, *goals)]
        cols, rows = [k % NX for k in ends], [k // NX for k in ends]
        window = (
            max(min(cols) - margin, 1), min(max(cols) + margin, NX - 2),
            max(min(rows) - margin, 1), min(max(rows) + margin, NY - 2),
        )  # fmt: skip
        price, drill = self.prices(net, width, soft, window)
        starts = [k for k in starts if price[k] != 255]
        goals = {k for k in goals if price[k] != 255}
        if not starts or not (goals or mask):
            return None
        guided = mask is None
        gi0 = gi1 = gj0 = gj1 = 0
        if guided:
            ends = [k % SIZE for k in goals]
            cols, rows = [k % NX for k in ends], [k // NX for k in ends]
            gi0, gi1, gj0, gj1 = min(cols), max(cols), min(rows), max(rows)
        endless = 1 << 60
        cost = [endless] * (2 * SIZE + 1)
        came: dict[int, int] = {}
        heap = [(0, 0, k) for k in starts]
        for k in starts:
            cost[k] = 0
        heapq.heapify(heap)
        pop, push = heapq.heappop, heapq.heappush
        steps = (
            (1, 10), (-1, 10), (NX, 10), (-NX, 10),
            (NX + 1, 14), (NX - 1, 14), (1 - NX, 14), (-NX - 1, 14),
        )  # fmt: skip
        down = 2 * SIZE  # stands for "through a via into the plane"
        while heap:
            _, g, k = pop(heap)
            if g > cost[k]:
                continue
            if k in goals:
                return self._trace(came, k)
            if k == down:
                return [*self._trace(came, came[k]), -1]
            cell = k - SIZE if k >= SIZE else k
            extra = drill[cell]
            if extra != 255:
                c = g + VIA_COST + 4 * extra
                other = k - SIZE if k >= SIZE else k + SIZE
                if c < cost[other] and price[other] != 255:
                    cost[other] = c
                    came[other] = k
                    push(heap, (c + (self._guess(cell, gi0, gi1, gj0, gj1) if guided else 0),
                                c, other))  # fmt: skip
                if mask is not None and mask[cell] and c < cost[down]:
                    cost[down] = c
                    came[down] = k
                    push(heap, (c, c, down))
            for step, length in steps:
                n = k + step
                extra = price[n]
                if extra == 255:
                    continue
                c = g + length + extra
                if c < cost[n]:
                    cost[n] = c
                    came[n] = k
                    if guided:
                        # The guess is a little more than the true distance: finds a good way
                        # sooner than the best one.
                        j, i = divmod(n - SIZE if n >= SIZE else n, NX)
                        dx = gi0 - i if i < gi0 else (i - gi1 if i > gi1 else 0)
                        dy = gj0 - j if j < gj0 else (j - gj1 if j > gj1 else 0)
                        far = 12 * dx + 5 * dy if dx > dy else 12 * dy + 5 * dx
                        push(heap, (c + far, c, n))
                    else:
                        push(heap, (c, c, n))
        return None

    @staticmethod
    def _guess(cell: int, i0: int, i1: int, j0: int, j1: int) -> int:
        j, i = divmod(cell, NX)
        dx = i0 - i if i < i0 else (i - i1 if i > i1 else 0)
        dy = j0 - j if j < j0 else (j - j1 if j > j1 else 0)
        return 12 * max(dx, dy) + 5 * min(dx, dy)

    @staticmethod
    def _trace(came: dict[int, int], k: int) -> list[int]:
        way = [k]
        while k in came:
            k = came[k]
            way.append(k)
        return way[::-1]

    def _commit(self, net: int, found: list[int], width: int) -> int:
        """Lay a found way as tracks and vias; return its number."""
        plane = found[-1] == -1
        points = found[:-1] if plane else found
        way = Way(net, list(points), plane)

        def xy(k: int) -> tuple[int, int]:
            return k % SIZE % NX * CELL, k % SIZE // NX * CELL

        start = 0
        for n in range(1, len(points) + 1):
            end = n == len(points)
            hop = not end and points[n] // SIZE != points[n - 1] // SIZE
            turn = False
            if not end and not hop and n - start >= 2:
                turn = points[n] - points[n - 1] != points[n - 1] - points[n - 2]
            if end or hop or turn:
                a, b = xy(points[start]), xy(points[n - 1])
                if a != b:
                    way.tracks.append(Track(net, points[start] // SIZE, *a, *b, width))
                start = n - 1
            if hop:
                way.vias.append(Via(net, *xy(points[n])))
                start = n
        if plane:
            way.vias.append(Via(net, *xy(points[-1])))
            way.points.append((1 - points[-1] // SIZE) * SIZE + points[-1] % SIZE)
        for track in way.tracks:
            self.paint_track(track)
        for via in way.vias:
            self.paint_via(via)
        self._count += 1
        self.ways[self._count] = way
        return self._count

    def _crossed(self, net: int, found: list[int], width: int) -> list[int]:
        """Numbers of the ways that a found way comes too near to; heats the places up."""
        points = [k for k in found if k >= 0]
        vias = [a % SIZE for a, b in itertools.pairwise(points) if a // SIZE != b // SIZE]
        if found[-1] == -1:
            vias.append(points[-1] % SIZE)
        clash: list[tuple[int, int, int, int]] = []
        for k in points:
            layer, cell = divmod(k, SIZE)
            if self.maps[width][layer].flat[cell] not in (FREE, net):
                clash.append((layer, cell % NX * CELL, cell // NX * CELL, width))
                self.price[layer][cell] += HEAT
        for cell in vias:
            if self.via_map.flat[cell] not in (FREE, net):
                x, y = cell % NX * CELL, cell // NX * CELL
                clash += [(0, x, y, VIA), (1, x, y, VIA)]
                self.price[0][cell] += HEAT
        if not clash:
            return []
        out = []
        for number, way in self.ways.items():
            if any(self._hits(way, net, *spot) for spot in clash):
                out.append(number)
        return out

    @staticmethod
    def _hits(way: Way, net: int, layer: int, x: int, y: int, width: int) -> bool:
        for v in way.vias:
            if way.net == net and width != VIA:
                continue
            reach = CLEARANCE + (width + VIA) // 2
            if (v.x - x) ** 2 + (v.y - y) ** 2 < reach * reach:
                return True
        if way.net == net:
            return False
        for t in way.tracks:
            if t.layer != layer:
                continue
            reach = CLEARANCE + (width + t.width) // 2
            if not min(t.x0, t.x1) - reach < x < max(t.x0, t.x1) + reach:
                continue
            if not min(t.y0, t.y1) - reach < y < max(t.y0, t.y1) + reach:
                continue
            ux, uy = t.x1 - t.x0, t.y1 - t.y0
            length2 = ux * ux + uy * uy
            s = min(max((x - t.x0) * ux + (y - t.y0) * uy, 0), length2)
            qx, qy = t.x0 + s * ux // length2, t.y0 + s * uy // length2
            if (x - qx) ** 2 + (y - qy) ** 2 < reach * reach:
                return True
        return False

    def connect(
        self,
        net: int,
        starts: list[int],
        goals: set[int],
        widths: tuple[int, ...],
        margin: int,
        *,
        plane: bool = False,
        soft: bool = False,
    ) -> list[Way] | None:
        """Join `starts` to any of `goals` or, with `plane`, to the plane of the net.

        Returns the ways taken up for it (empty without `soft`), or None when there is no way.
        """
        for width in widths:
            found = self._search(net, starts, goals, width, margin, plane, soft)
            if found is not None:
                crossed = self._crossed(net, found, width) if soft else []
                gone = [self.take_up(number) for number in crossed]
                self._commit(net, found, width)
                return gone
        return None

    def stitch(self, pad: PlacedPad, pitch: int) -> int:
        """Put vias into a large pad, on a grid of `pitch` around its middle; return how many."""
        net = self.numbers[pad.net or ""]
        nx, ny = (pad.width - VIA) // 2 // pitch, (pad.height - VIA) // 2 // pitch
        count = 0
        for b in range(-ny, ny + 1):
            for a in range(-nx, nx + 1):
                count += self.fix_via(net, pad.x + a * pitch, pad.y + b * pitch)
        return count

    def fix_via(self, net: int, x: int, y: int) -> bool:
        """Put a lasting via on a grid point if nothing forbids it."""
        if x % CELL or y % CELL or self.via_map[y // CELL, x // CELL] not in (FREE, net):
            return False
        self.fixed_vias.append(Via(net, x, y))
        self.paint_via(self.fixed_vias[-1])
        return True
