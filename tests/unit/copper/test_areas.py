# SPDX-License-Identifier: GPL-3.0-or-later
"""Areas: slits and holes, pens of older files, tracks that run into them, layers and barrels."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import LinearRing, Polygon
from shapely.geometry import Point as Dot

from netgraph.copper.net_copper import NetCopper, net_copper
from netgraph.copper.ports import ports_of
from netgraph.copper.raster import SUB, draw, grid_over, rings_of
from netgraph.copper.shapes import QUARTER, fill_rings, pad_shape
from netgraph.copper.sheet import barrel_ohm, sheet_ohm, sheets_of
from netgraph.model import Board
from netgraph.model.copper import Fill
from tests.unit.copper_boards import Point, copper_board, nm

RS = sheet_ohm(35_000)


def solved(board: Board, cell_mm: float = 0.1) -> tuple[NetCopper, float]:
    copper = net_copper(board, "N", cell_nm=cell_mm * 1e6)
    assert isinstance(copper, NetCopper)
    return copper, ports_of(copper).ohms(0, 1)


def drawn_area(ring: list[Point], grow_mm: float = 0.0) -> float:
    fill = Fill(0, nm(ring), round(grow_mm * 1e6))
    grid = grid_over((-2e6, -2e6, 12e6, 12e6), 50_000)
    return float(draw(fill_rings(fill), grid).sum()) * (0.05 / SUB) ** 2


def test_a_hole_on_a_slit_stays_a_hole() -> None:
    """Area of a square of 10 with a hole of 4, reached by a slit that is walked both ways."""
    ring: list[Point] = [
        (0, 0), (10, 0), (10, 10), (0, 10), (0, 5), (3, 5), (3, 7), (7, 7), (7, 3), (3, 3), (3, 5),
        (0, 5),
    ]  # fmt: skip
    assert drawn_area(ring) == pytest.approx(100 - 16, rel=2e-3)
    assert drawn_area(ring[::-1]) == pytest.approx(100 - 16, rel=2e-3)


def test_the_pen_of_older_files_is_added() -> None:
    """A square drawn with a pen of 0.2: 10.2 squared, less its rounded corners."""
    square: list[Point] = [(0, 0), (10, 0), (10, 10), (0, 10)]
    exact = Polygon(square).buffer(0.1).area
    assert drawn_area(square, 0.1) == pytest.approx(exact, rel=2e-3)


def test_shapes_over_each_other_are_copper_once() -> None:
    grid = grid_over((-1e6, -1e6, 5e6, 5e6), 50_000)
    discs = [Dot(1e6, 1e6).buffer(1e6), Dot(2e6, 1e6).buffer(1e6)]
    found = draw(rings_of(discs), grid).sum() * (50_000 / SUB) ** 2
    assert found == pytest.approx(discs[0].union(discs[1]).area, rel=2e-3)


@pytest.mark.parametrize("angle_deg", [0.0, 90.0, 30.0])
def test_a_pad_is_turned_as_the_board_says(angle_deg: float) -> None:
    """Counter-clockwise as seen from the top, y down: at 90 degrees the first corner goes up."""
    board = copper_board([((5, 5), (2, 1), "rect", "top")], angle_deg=angle_deg)
    shape = pad_shape(board, board.pad(0))
    assert shape.area == pytest.approx(2e12)
    right = Dot(5e6 + 0.95e6 * np.cos(np.radians(angle_deg)),
                5e6 - 0.95e6 * np.sin(np.radians(angle_deg)))  # fmt: skip
    assert shape.contains(right)


@pytest.mark.parametrize(
    ("shape", "area"),
    [("rect", 2.0), ("oval", 1 + np.pi / 4), ("roundrect", 2 - (4 - np.pi) * 0.25**2)],
)
def test_areas_of_pads(shape: str, area: float) -> None:
    board = copper_board([((5, 5), (2, 1), shape, "top")])
    assert pad_shape(board, board.pad(0)).area / 1e12 == pytest.approx(area, rel=1e-2)


def test_a_round_pad_and_an_oval_of_equal_sides_are_discs() -> None:
    for shape in ("circle", "oval"):
        board = copper_board([((5, 5), (1, 1), shape, "top")])
        assert pad_shape(board, board.pad(0)).area / 1e12 == pytest.approx(np.pi / 4, rel=1e-2)


def test_a_track_into_an_area_counts_only_outside_it() -> None:
    """From a pad in the open 4 mm to an area that is one pad at its far end and nearly wide."""
    board = copper_board(
        [((0, 0), (0.4, 0.4), "rect", "top"), ((7, 0), (3.98, 7.98), "rect", "top")],
        tracks=[((0, 0), (7, 0), 0.2, 0)],
        fills=[(0, [(5, -4), (9, -4), (9, 4), (5, 4)])],
    )
    _, found = solved(board)
    assert found == pytest.approx(RS * (5 - 0.2) / 0.2, rel=0.01)


def test_a_track_under_an_area_adds_nothing() -> None:
    """A strip of area with a track drawn along its middle, and without."""
    pads = [((0.5, 0.5), (1.0, 1.0), "rect", "top"), ((9.5, 0.5), (1.0, 1.0), "rect", "top")]
    area = [(0, [(0.0, 0.0), (10.0, 0.0), (10.0, 1.0), (0.0, 1.0)])]
    _, bare = solved(copper_board(pads, fills=area))  # type: ignore[arg-type]
    track = [((0.5, 0.5), (9.5, 0.5), 0.3, 0)]
    _, both = solved(copper_board(pads, fills=area, tracks=track))  # type: ignore[arg-type]
    assert both == pytest.approx(bare, rel=1e-9)
    assert bare == pytest.approx(8 * RS, rel=1e-3)


def test_a_wide_track_is_meshed_and_agrees_with_its_squares() -> None:
    board = copper_board(
        [((0, 0), (1, 2), "rect", "top"), ((10, 0), (1, 2), "rect", "top")],
        tracks=[((0, 0), (10, 0), 2.0, 0)],
    )
    copper, found = solved(board, 0.1)
    assert copper.cells > 0
    assert copper.strips == 0
    assert found == pytest.approx(RS * 9 / 2, rel=0.01)


def test_two_areas_are_joined_by_barrels_alone() -> None:
    """Ten barrels between two areas that are pads nearly all over: a tenth of one."""
    holes = [((0.5 + k, 0.5), 0.6, 0.3, 0, 1) for k in range(10)]
    sheet = [(0.0, 0.0), (10.0, 0.0), (10.0, 1.0), (0.0, 1.0)]
    board = copper_board(
        [((5, 0.5), (10, 1), "rect", "top"), ((5, 0.5), (10, 1), "rect", "bottom")],
        vias=holes,  # type: ignore[arg-type]
        fills=[(0, sheet), (1, sheet)],
    )
    _, found = solved(board)
    assert found == pytest.approx(barrel_ohm(300_000, 1_600_000) / 10, rel=1e-6)


def test_a_land_in_a_gap_joins_what_it_touches() -> None:
    """A land that overlaps the edge of an area is copper there, though its barrel lies beside."""
    board = copper_board(
        [((0, 0), (0.6, 0.6), "circle", "bottom"), ((8, 0), (2, 6), "rect", "top")],
        vias=[((0, 0), 1.0, 0.4, 0, 1)],
        fills=[(0, [(0.4, -3), (9, -3), (9, 3), (0.4, 3)])],
    )
    _, found = solved(board, 0.05)
    assert found < 5e-3


def test_thickness_by_the_stack_or_assumed() -> None:
    said = sheets_of(copper_board([((0, 0), (1, 1), "rect", "top")], copper_um=18, gap_um=200))
    assert said.copper_nm == (18_000, 18_000)
    assert said.gap_nm == (200_000,)
    assert said.assumed == 0
    silent = sheets_of(copper_board([((0, 0), (1, 1), "rect", "top")], copper_um=None, layers=4))
    assert silent.copper_nm == (35_000,) * 4
    assert silent.gap_nm == (1_600_000 // 3,) * 3
    assert silent.assumed == 4
    assert silent.gaps_assumed


@pytest.mark.parametrize("corners", [3, 50, 51, 100, 701])
def test_the_pen_of_a_fill_goes_round_the_whole_edge(corners: int) -> None:
    """A star whose edges all cross, against shapely's buffer of the whole (GEOS)."""
    turn = 2.5 * np.arange(corners)
    points = np.rint(5e6 * np.stack((np.cos(turn), np.sin(turn)), axis=1)).astype(np.int64)
    fill = Fill(0, points, grow_nm=150_000)
    box = (-6e6, -6e6, 6e6, 6e6)
    found = draw(fill_rings(fill), grid_over(box, 50_000))
    pen = LinearRing(points).buffer(150_000, QUARTER)
    whole = draw([(points.astype(np.float64), 1), *rings_of([pen])], grid_over(box, 50_000))
    assert (found != whole).sum() <= 2e-5 * found.size


def test_the_pen_of_a_fill_that_is_one_point_is_a_dot() -> None:
    points = np.zeros((120, 2), dtype=np.int64)
    grid = grid_over((-2e6, -2e6, 2e6, 2e6), 50_000)
    found = draw(fill_rings(Fill(0, points, grow_nm=1_000_000)), grid)
    assert found.sum() * (0.05 / SUB) ** 2 == pytest.approx(np.pi, rel=0.02)


def test_thicknesses_below_nothing_say_no_more_than_none() -> None:
    """Found by trial: a negative thickness made amperes a complex number."""
    pads = [((0.0, 0.0), (1.0, 1.0), "rect", "top"), ((5.0, 0.0), (1.0, 1.0), "rect", "top")]
    for um in (-35.0, 0.0):
        found = sheets_of(copper_board(pads, copper_um=um, gap_um=um))  # type: ignore[arg-type]
        assert min(found.copper_nm) > 0
        assert min(found.gap_nm) > 0
        assert (found.assumed, found.gaps_assumed) == (2, True)
