# SPDX-License-Identifier: GPL-3.0-or-later
"""Outlines of the copper areas on the inner layers, in integer micrometres."""

from __future__ import annotations

from .placement import BOARD, CORNER

Ring = list[tuple[int, int]]

EDGE_GAP = 300
"""Copper keeps this far from the board's edge."""
ANTENNA = (50_200, 300, 56_600, 3_500)
"""No copper fill under the antenna, on any layer."""


def _mm(*points: tuple[float, float]) -> Ring:
    return [(round(x * 1000), round(y * 1000)) for x, y in points]


def board_ring(inset: int) -> Ring:
    """Outline of the board moved inwards, its corners cut by eight short chords."""
    # Chord points of a quarter circle in thousandths: fixed integers, no trigonometry at run time.
    arc = ((1000, 0), (981, 195), (924, 383), (831, 556), (707, 707), (556, 831), (383, 924),
           (195, 981), (0, 1000))  # fmt: skip
    r = CORNER - inset
    ring: Ring = []
    for cx, cy, sx, sy in (
        (BOARD[0] - CORNER, BOARD[1] - CORNER, 1, 1),
        (CORNER, BOARD[1] - CORNER, -1, 1),
        (CORNER, CORNER, -1, -1),
        (BOARD[0] - CORNER, CORNER, 1, -1),
    ):
        steps = arc if sx * sy > 0 else arc[::-1]
        ring += [(cx + sx * (r * a // 1000), cy + sy * (r * b // 1000)) for a, b in steps]
    return ring


SUPPLY_PLANES: list[tuple[str, Ring]] = [
    ("VSYS", _mm(
        (13.0, 9.0), (31.0, 9.0), (31.0, 25.0), (30.4, 25.0), (30.4, 29.8), (21.1, 29.8),
        (21.1, 34.6), (36.4, 34.6), (36.4, 37.0), (45.4, 37.0), (45.4, 31.2), (60.6, 31.2),
        (60.6, 36.8), (55.0, 43.4), (22.0, 43.4), (13.0, 36.0),
    )),
    ("CORE_0V95", _mm(
        (21.3, 30.0), (30.6, 30.0), (30.6, 25.2), (32.4, 25.2), (32.4, 16.6), (38.2, 16.6),
        (38.2, 26.2), (33.4, 26.2), (33.4, 32.2), (21.3, 32.2),
    )),
    ("MEM_1V1", _mm(
        (21.3, 32.4), (33.6, 32.4), (33.6, 26.4), (38.4, 26.4), (38.4, 16.4), (56.8, 16.4),
        (56.8, 28.8), (35.8, 28.8), (35.8, 34.4), (21.3, 34.4),
    )),
    ("3V3", _mm(
        (36.0, 29.0), (57.0, 29.0), (57.0, 16.2), (33.0, 16.2), (33.0, 4.0), (50.0, 4.0),
        (57.0, 6.2), (61.4, 6.2), (61.4, 31.0), (36.0, 31.0),
    )),
    ("1V8", _mm(
        (36.0, 31.2), (45.2, 31.2), (45.2, 36.8), (36.6, 36.8), (36.6, 34.4), (36.0, 34.4),
    )),
]  # fmt: skip
"""Net and outline of each area on In2.Cu; areas keep 0.2 mm from each other."""


LOCAL_AREAS: list[tuple[str, str]] = [
    ("VBAT_CELL", "J1 F1"), ("VBAT_FUSED", "F1 R1"), ("VBAT", "R1 U3 C9"), ("VBUS_IN", "J2 F2"),
    ("VBUS_FUSED", "F2 FB1"), ("VBUS", "FB1 U3"), ("SW_CHG", "L1 U3"), ("VSYS", "L1 U3 C8"),
    ("SW_CORE", "L2 U4"), ("SW_MEM", "L3 U4"), ("SW_1V8", "L4 U4"), ("SW_3V3", "L5 U4"),
    ("CORE_0V95", "L2 C14"), ("MEM_1V1", "L3 C15"), ("1V8", "L4 C16"), ("3V3", "L5 C17"),
    ("SW_BACKLIGHT", "L7 U8 D3"), ("VSYS", "U8 C34 C35"), ("BACKLIGHT_19V", "D3 C36"),
]  # fmt: skip
"""Net and parts whose pads on F.Cu are joined by an area as wide as they allow."""


def hull(points: list[tuple[int, int]]) -> Ring:
    """Convex hull in integers, by the monotone chain."""

    def chain(items: list[tuple[int, int]]) -> Ring:
        out: Ring = []
        for x, y in items:
            while len(out) >= 2:
                (ax, ay), (bx, by) = out[-2], out[-1]
                if (bx - ax) * (y - ay) - (by - ay) * (x - ax) > 0:
                    break
                out.pop()
            out.append((x, y))
        return out[:-1]

    order = sorted(set(points))
    return chain(order) + chain(order[::-1])


def inside(ring: Ring, x: int, y: int) -> bool:
    """Even-odd test in integers; points on the ring count by the half-open rule."""
    hit = False
    for (ax, ay), (bx, by) in zip(ring, ring[1:] + ring[:1], strict=True):
        if (ay > y) != (by > y):
            # x of the crossing compared with the point, without division.
            left = (bx - ax) * (y - ay) - (x - ax) * (by - ay)
            if (left > 0) == (by > ay):
                hit = not hit
    return hit


def near_ring(ring: Ring, x: int, y: int, gap: int) -> bool:
    """Whether an axis-parallel or slanted edge of the ring passes within `gap` of the point."""
    for (ax, ay), (bx, by) in zip(ring, ring[1:] + ring[:1], strict=True):
        dx, dy = bx - ax, by - ay
        length2 = dx * dx + dy * dy
        t = min(max((x - ax) * dx + (y - ay) * dy, 0), length2)
        # Distance squared times length squared, to stay in integers.
        ex, ey = (x - ax) * length2 - t * dx, (y - ay) * length2 - t * dy
        if ex * ex + ey * ey < gap * gap * length2 * length2:
            return True
    return False
