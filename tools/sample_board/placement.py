# SPDX-License-Identifier: GPL-3.0-or-later
"""Where each part sits: fixed places first, then every other part beside the pin it serves.

Integer micrometres, so that the result is the same on every machine.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from .footprints import Box, Land, Pattern, pattern
from .schematic import Circuit, Part

BOARD = (62_000, 44_000)
CORNER = 3_000
EDGE = 500
CELL = 100
HALO = 100
"""Room kept free around each courtyard, for vias."""

_COS = {0: 1, 90: 0, 180: -1, 270: 0}
_SIN = {0: 0, 90: 1, 180: 0, 270: -1}


@dataclass(frozen=True)
class PlacedPad:
    """A pad on the board; `width` and `height` along the board's axes."""

    ref: str
    number: str
    net: str | None
    x: int
    y: int
    width: int
    height: int
    shape: str
    kind: str
    drill: int
    side: str


@dataclass
class Placed:
    """A part with its place; the pattern stays as in the library (top view)."""

    part: Part
    pattern: Pattern
    x: int
    y: int
    turn: int

    def move(self, x: int, y: int) -> tuple[int, int]:
        """Map a point of the pattern onto the board, mirrored for the bottom side."""
        return transform(self.part.side, self.x, self.y, self.turn, x, y)

    def box(self, box: Box) -> Box:
        """Map a box of the pattern onto the board."""
        ax, ay = self.move(box[0], box[1])
        bx, by = self.move(box[2], box[3])
        return (min(ax, bx), min(ay, by), max(ax, bx), max(ay, by))

    def pads(self) -> list[PlacedPad]:
        """All pads in file order."""
        nets = {pin.number: pin.net for pin in self.part.pins}
        return [self._pad(land, nets.get(land.number)) for land in self.pattern.lands]

    def _pad(self, land: Land, net: str | None) -> PlacedPad:
        x, y = self.move(land.x, land.y)
        width, height = land.width, land.height
        if self.turn % 180:
            width, height = height, width
        return PlacedPad(
            self.part.ref, land.number, net, x, y, width, height, land.shape, land.kind,
            land.drill, self.part.side,
        )  # fmt: skip


def transform(side: str, fx: int, fy: int, turn: int, x: int, y: int) -> tuple[int, int]:
    """Apply KiCad's rule X = FX + x cos a + y sin a, Y = FY - x sin a + y cos a; below, -y."""
    if side == "bottom":
        y = -y
    c, s = _COS[turn], _SIN[turn]
    return fx + x * c + y * s, fy - x * s + y * c


class Floor:
    """Free room of both sides on a grid of `CELL`."""

    def __init__(self) -> None:
        shape = (BOARD[1] // CELL, BOARD[0] // CELL)
        self.used = {side: np.zeros(shape, dtype=np.bool_) for side in ("top", "bottom")}
        rim = EDGE // CELL
        for used in self.used.values():
            used[:rim] = used[-rim:] = True
            used[:, :rim] = used[:, -rim:] = True

    @staticmethod
    def _cells(box: Box) -> tuple[int, int, int, int]:
        return box[0] // CELL, box[1] // CELL, -(-box[2] // CELL), -(-box[3] // CELL)

    def take(self, side: str, box: Box) -> None:
        """Mark a box as used."""
        x0, y0, x1, y1 = self._cells(box)
        self.used[side][max(y0, 0) : y1, max(x0, 0) : x1] = True

    def fits(self, side: str, box: Box) -> bool:
        """Whether a box is free and inside the outline."""
        x0, y0, x1, y1 = self._cells(box)
        if x0 < 0 or y0 < 0 or x1 > BOARD[0] // CELL or y1 > BOARD[1] // CELL:
            return False
        return not self.used[side][y0:y1, x0:x1].any()

    def sums(self, side: str) -> npt.NDArray[np.int64]:
        """Running sums, one cell wider and higher than the grid."""
        used = self.used[side]
        out = np.zeros((used.shape[0] + 1, used.shape[1] + 1), dtype=np.int64)
        out[1:, 1:] = used.cumsum(0, dtype=np.int64).cumsum(1)
        return out


def _target(part: Part, done: dict[str, Placed]) -> tuple[int, int]:
    """Point on the board that `part` wants to be near: a pin by name, or the part's middle."""
    ref, _, name = part.near.partition(".")
    anchor = done[ref]
    if not name:
        return anchor.x, anchor.y
    numbers = {pin.number for pin in anchor.part.pins if name in (pin.name, pin.number)}
    spots = [(p.x, p.y) for p in anchor.pads() if p.number in numbers]

    # Of several like pins (supply balls) the one that has the fewest parts yet.
    def crowd(spot: tuple[int, int]) -> tuple[int, int]:
        near = sum(
            abs(o.x - spot[0]) + abs(o.y - spot[1]) < 2500
            for o in done.values()
            if o.part.near == part.near
        )
        return near, spots.index(spot)

    return min(spots, key=crowd)


def _seat(part: Part, done: dict[str, Placed], floor: Floor) -> Placed:
    """Find the free seat nearest to the pin the part serves."""
    shape = pattern(part.package)
    goal = _target(part, done)
    ref, _, name = part.near.partition(".")
    want = done[ref].part.pin_named(name).net if name else None
    own = [p.number for p in part.pins if p.net is not None and p.net == want] or ["1"]
    lead = next(land for land in shape.lands if land.number == own[0])
    others = []
    for pin in part.pins:
        if pin.number != lead.number and pin.net not in (None, "GND"):
            land = next(item for item in shape.lands if item.number == pin.number)
            spots = [(p.x, p.y) for o in done.values() for p in o.pads() if p.net == pin.net]
            if spots:
                others.append((land, spots))
    sums = floor.sums(part.side)
    best: tuple[int, int, int, int] | None = None
    reach = 9000 // CELL
    gx, gy = goal[0] // CELL, goal[1] // CELL
    xs = np.arange(max(gx - reach, 1), min(gx + reach, BOARD[0] // CELL - 1)) * CELL
    ys = np.arange(max(gy - reach, 1), min(gy + reach, BOARD[1] // CELL - 1)) * CELL
    for turn in (0, 90, 180, 270):
        trial = Placed(part, shape, 0, 0, turn)
        x0, y0, x1, y1 = trial.box(shape.courtyard)
        x0, y0, x1, y1 = x0 - HALO, y0 - HALO, x1 + HALO, y1 + HALO
        cx0, cx1 = (xs + x0) // CELL, -(-(xs + x1) // CELL)
        cy0, cy1 = (ys + y0) // CELL, -(-(ys + y1) // CELL)
        okx = (cx0 >= 0) & (cx1 <= BOARD[0] // CELL)
        oky = (cy0 >= 0) & (cy1 <= BOARD[1] // CELL)
        cx0, cx1 = np.clip(cx0, 0, None), np.clip(cx1, None, BOARD[0] // CELL)
        cy0, cy1 = np.clip(cy0, 0, None), np.clip(cy1, None, BOARD[1] // CELL)
        count = (
            sums[np.ix_(cy1, cx1)] - sums[np.ix_(cy0, cx1)]
            - sums[np.ix_(cy1, cx0)] + sums[np.ix_(cy0, cx0)]
        )  # fmt: skip
        free = (count == 0) & okx[None, :] & oky[:, None]
        if not free.any():
            continue
        lx, ly = trial.move(lead.x, lead.y)
        score = 4 * (np.abs(xs + lx - goal[0])[None, :] + np.abs(ys + ly - goal[1])[:, None])
        for land, spots in others:
            ox, oy = trial.move(land.x, land.y)
            far = np.full(score.shape, 10**9, dtype=np.int64)
            for sx, sy in spots:
                step = np.abs(xs + ox - sx)[None, :] + np.abs(ys + oy - sy)[:, None]
                far = np.minimum(far, step)
            score = score + far
        score = np.where(free, score, 10**12)
        k = int(score.argmin())
        j, i = divmod(k, len(xs))
        key = (int(score[j, i]), turn, int(xs[i]), int(ys[j]))
        if best is None or key < best:
            best = key
    if best is None:
        raise ValueError(f"no room for {part.ref} near {part.near}")
    return Placed(part, shape, best[2], best[3], best[1])


def place(circuit: Circuit) -> dict[str, Placed]:
    """Place all parts; ValueError when one does not fit.

    Returns
    -------
    dict
        Designator to placed part, in drawing order.
    """
    floor = Floor()
    done: dict[str, Placed] = {}

    def settle(seat: Placed) -> None:
        done[seat.part.ref] = seat
        box = seat.box(seat.pattern.courtyard)
        grown = (box[0] - HALO, box[1] - HALO, box[2] + HALO, box[3] + HALO)
        floor.take(seat.part.side, grown)
        far = "bottom" if seat.part.side == "top" else "top"
        for pad in seat.pads():
            if pad.drill:
                # Holes come through: keep parts of the other side off them.
                r = max(pad.width, pad.height) // 2 + 500
                floor.take(far, (pad.x - r, pad.y - r, pad.x + r, pad.y + r))

    for part in circuit.parts.values():
        if part.at is None:
            continue
        x, y = round(part.at[0] * 10) * CELL, round(part.at[1] * 10) * CELL
        seat = Placed(part, pattern(part.package), x, y, part.turn or 0)
        if not floor.fits(part.side, seat.box(seat.pattern.courtyard)):
            raise ValueError(f"{part.ref} does not fit where it was put")
        settle(seat)
    waiting = [p for p in circuit.parts.values() if p.at is None]

    # Large parts first among those whose anchor stands already; test pads last.
    def rank(item: tuple[int, Part]) -> tuple[bool, int, int]:
        n, part = item
        box = pattern(part.package).courtyard
        return (
            part.package == "TESTPAD",
            -min((box[2] - box[0]) * (box[3] - box[1]), 6_000_000),
            n,
        )

    queue = [part for _, part in sorted(enumerate(waiting), key=rank)]
    while queue:
        for part in queue:
            if part.near.partition(".")[0] in done:
                break
        else:
            raise ValueError(f"nothing to stand beside for {queue[0].ref}")
        queue.remove(part)
        settle(_seat(part, done, floor))
    return {ref: done[ref] for ref in circuit.parts}
