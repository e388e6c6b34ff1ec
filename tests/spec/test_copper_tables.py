# SPDX-License-Identifier: GPL-3.0-or-later
"""Sheet resistance, tracks, barrels, areas against closed forms and published tables.

Each table names its source on top of its file in tests/spec/data.
"""

from __future__ import annotations

from math import acosh, cos, log, pi, radians, sin

import pytest

from netgraph.copper.mesh import POINT_RADIUS
from netgraph.copper.net_copper import NetCopper, net_copper
from netgraph.copper.ports import ports_of
from netgraph.copper.sheet import barrel_ohm, sheet_ohm, track_amps
from netgraph.model import Board
from tests.support import published
from tests.unit.copper_boards import Point, copper_board

RS = sheet_ohm(35_000)
GRAIN = 1e-4
"""Half a grid step of the file, and rounding, over the lengths used here."""


def squares(board: Board, cell_mm: float | None = None, a: int = 0, b: int = 1) -> float:
    """Resistance between two pads in squares of 35 um."""
    found = net_copper(board, "N", cell_nm=None if cell_mm is None else cell_mm * 1e6)
    assert isinstance(found, NetCopper)
    return ports_of(found).ohms(a, b) / RS


def row_of(geometry: str, parameters: str = "") -> float:
    """Squares that the table of closed forms gives."""
    for row in published("sheet_geometry").rows:
        if row["geometry"] == geometry and row["parameters"].startswith(parameters):
            return float(row["squares"])
    raise AssertionError(f"no row {geometry} {parameters}")


def test_sheet_resistance() -> None:
    table = published("copper_sheet")
    cold = [row for row in table.rows if row["temp_C"] == "20"]
    assert len(cold) == 7
    for row in cold:
        ohm = sheet_ohm(1000 * float(row["thickness_um"]))
        table.expect(row, 1e3 * ohm == pytest.approx(float(row["milliohm_per_square"]), 1e-6), "")


def test_barrels() -> None:
    table = published("via_resistance")
    for row in table.rows:
        drill, plating, length = (
            float(row["drill_mm"]) * 1e6,
            float(row["plating_um"]) * 1e3,
            float(row["length_mm"]) * 1e6,
        )
        found = 1e3 * barrel_ohm(drill, length, plating)
        table.expect(row, found == pytest.approx(float(row["milliohm"]), 1e-5), str(found))


def test_currents_of_tracks() -> None:
    table = published("ipc2221_current")
    for row in table.rows:
        found = track_amps(
            float(row["width_mm"]) * 1e6,
            float(row["thickness_um"]) * 1e3,
            outer=row["layer"] == "external",
            kelvin=float(row["delta_T_K"]),
        )
        table.expect(row, found == pytest.approx(float(row["current_A"]), 1e-5), str(found))


@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 45.0])
def test_a_track_is_length_over_width_from_pad_to_pad(angle_deg: float) -> None:
    """Rows at 20 C of the table of tracks: exact, turned or not."""
    table = published("copper_tracks")
    for row in table.rows:
        length, width = float(row["length_mm"]), float(row["width_mm"])
        if row["temp_C"] != "20" or width >= 0.4:
            continue
        # Pads reach 0.5 mm beyond their middles, so that this much of the track lies open.
        far = length + 1.0
        end = (far * cos(radians(angle_deg)), -far * sin(radians(angle_deg)))
        board = copper_board(
            [((0.0, 0.0), (1.0, 1.0), "rect", "top"), (end, (1.0, 1.0), "rect", "top")],
            tracks=[((0.0, 0.0), end, width, 0)],
            copper_um=float(row["thickness_um"]),
            angle_deg=angle_deg,
        )
        found = 1e3 * squares(board) * RS
        table.expect(row, found == pytest.approx(float(row["milliohm"]), GRAIN), str(found))


def test_pads_across_a_barrel() -> None:
    """Two pads on two sides, each on the land of one via: nothing but the barrel between."""
    pad: Point = (0.6, 0.6)
    board = copper_board(
        [((0.0, 0.0), pad, "circle", "top"), ((0.0, 0.0), pad, "circle", "bottom")],
        vias=[((0.0, 0.0), 0.6, 0.3, 0, 1)],
    )
    assert squares(board) * RS == pytest.approx(1.27723e-3, rel=1e-5)


def turned(points: list[Point], angle_deg: float) -> list[Point]:
    """Points turned as a pad at the same angle is."""
    c, s = cos(radians(angle_deg)), sin(radians(angle_deg))
    return [(x * c + y * s, -x * s + y * c) for x, y in points]


@pytest.mark.parametrize(
    ("angle_deg", "cells", "within"),
    [(0.0, 8, 0.01), (30.0, 8, 0.04), (30.0, 16, 0.02), (30.0, 32, 0.01), (45.0, 16, 0.02)],
)
def test_an_area_as_a_strip(angle_deg: float, cells: int, within: float) -> None:
    """Five squares of area between two pads over its ends, straight and turned."""
    ring = turned([(-3.5, -0.5), (3.5, -0.5), (3.5, 0.5), (-3.5, 0.5)], angle_deg)
    (a, b) = turned([(-3.0, 0.0), (3.0, 0.0)], angle_deg)
    board = copper_board(
        [(a, (1.0, 1.0), "rect", "top"), (b, (1.0, 1.0), "rect", "top")],
        fills=[(0, ring)],
        angle_deg=angle_deg,
    )
    assert squares(board, 1.0 / cells) == pytest.approx(row_of("strip", "L=10 W=2"), rel=within)


def circle(radius: float, count: int = 360) -> list[Point]:
    return [
        (radius * cos(2 * pi * k / count), radius * sin(2 * pi * k / count)) for k in range(count)
    ]


@pytest.mark.parametrize(("cells", "within"), [(4, 0.05), (8, 0.03), (16, 0.015)])
def test_an_annulus(cells: int, within: float) -> None:
    """From a disc of 1 to a rim of 3.5, drawn as pads that overlap: ln(b/a) / (2 pi)."""
    assert row_of("annulus radial", "b/a=10") == pytest.approx(log(10) / (2 * pi))
    rim = [
        ((3.8 * cos(radians(k)), -3.8 * sin(radians(k))), (0.6, 0.6), "circle", "top")
        for k in range(0, 360, 3)
    ]
    board = copper_board(
        [((0.0, 0.0), (2.0, 2.0), "circle", "top"), *rim],  # type: ignore[list-item]
        fills=[(0, circle(4.0))],
    )
    # Overlapping discs of radius 0.3 about 3.8 reach inwards to 3.5, but for their scallops.
    inner = 3.5 + (0.3 - (0.3**2 - (3.8 * sin(radians(1.5))) ** 2) ** 0.5) / 3
    assert squares(board, 1.0 / cells) == pytest.approx(log(inner) / (2 * pi), rel=within)


@pytest.mark.parametrize(("cells", "within"), [(0.2, 0.04), (2, 0.04), (4, 0.03), (5, 0.03)])
def test_two_discs_on_a_wide_sheet(cells: float, within: float) -> None:
    """arccosh(d / 2r) / pi, at two to eight cells a radius and with discs far below a cell.

    The sheet ends 40 mm from the discs, which adds about 1 %.
    """
    assert row_of("infinite sheet, two round electrodes", "d/r=10") == pytest.approx(acosh(5) / pi)
    radius = 0.5 if cells >= 1 else 0.05
    cell = radius / cells
    board = copper_board(
        [
            ((-2.5, 0.0), (2 * radius, 2 * radius), "circle", "top"),
            ((2.5, 0.0), (2 * radius, 2 * radius), "circle", "top"),
        ],
        fills=[(0, [(-24, -24), (24, -24), (24, 24), (-24, 24)])],
    )
    exact = acosh(5.0 / (2 * radius)) / pi
    assert squares(board, cell) == pytest.approx(exact, rel=within)


@pytest.mark.parametrize(("cells", "within"), [(8, 0.006), (16, 0.003), (32, 0.0015)])
def test_a_bend(cells: int, within: float) -> None:
    """An L with arms of three squares: 6 + 1 - 2 ln 2 / pi."""
    ring = [(0, 0), (5, 0), (5, 1), (1, 1), (1, 5), (0, 5)]
    board = copper_board(
        [((4.5, 0.5), (1.0, 1.0), "rect", "top"), ((0.5, 4.5), (1.0, 1.0), "rect", "top")],
        fills=[(0, [(float(x), float(y)) for x, y in ring])],
    )
    exact = row_of("L shape, arms 3 squares each")
    assert squares(board, 1.0 / cells) == pytest.approx(exact, rel=within)


def test_the_radius_of_a_point_contact() -> None:
    """From the far field of the square lattice: R = (ln r + gamma + 3/2 ln 2) / pi."""
    table = published("other_infinite")
    row = next(one for one in table.rows if one["lattice"].startswith("square, far"))
    hundred = float(row["value" if "value" in row else "R_over_r"].split()[0])
    assert log(100 / POINT_RADIUS) / pi == pytest.approx(hundred, rel=1e-4)
