# SPDX-License-Identifier: GPL-3.0-or-later
"""Drawn copper against the netlist, on finished boards and on boards with copper taken away.

tinyvision-ai-inc/pico-ice (MIT), beagleboard/pocketbeagle (CC-BY-4.0), antmicro/scalenode
(Apache-2.0), gregdavill/OrangeCrab (MIT / CERN-OHL), GlasgowEmbedded/glasgow (0BSD):
manufactured designs with filled zones, so their copper joins what their netlists join.
OLIMEX/DIY-LAPTOP (Apache-2.0): zones are not filled.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box

from netgraph.formats import read_board
from netgraph.model.copper import Fill
from netgraph.plan.drawn_fills import Pieces, fill_shorts, inside
from netgraph.plan.drawn_nets import drawn_nets, drawn_shorts
from tests.unit.cli.run import netgraph

TRACK_COLUMNS = ("start", "end", "width", "layer", "net")


@pytest.mark.parametrize(
    "name", ["pico_ice_r2", "pocketbeagle", "scalenode", "glasgow_c3", "orangecrab_r021"]
)
def test_the_copper_of_a_finished_board_joins_its_nets_and_no_others(
    boards_dir: Path, name: str
) -> None:
    board = read_board(boards_dir / name / "board.kicad_pcb")
    assert drawn_nets(board) == ()
    assert drawn_shorts(board) == ()


def test_unfilled_zones_are_never_called_open(boards_dir: Path) -> None:
    file = boards_dir / "teres_main_c" / "board.kicad_pcb"
    found = drawn_nets(read_board(file))
    assert found
    assert all(one.unfilled for one in found)
    # ground and analog ground are tied by copper: the boards' only overlap, so they differ
    answer = netgraph("compare", file, "--copper")
    assert answer.status == 1
    assert "GND and GNDA" in answer.out


def test_a_net_without_its_tracks_falls_to_pieces(boards_dir: Path) -> None:
    board = read_board(boards_dir / "pico_ice_r2" / "board.kicad_pcb")
    copper, net = board.copper, board.net("ICE_SI" if board.has_net("ICE_SI") else "VBUS").index
    keep = copper.tracks.net != net
    assert not keep.all()
    tracks = copper.tracks
    less = replace(
        tracks,
        start=tracks.start[keep],
        end=tracks.end[keep],
        width=tracks.width[keep],
        layer=tracks.layer[keep],
        net=tracks.net[keep],
    )
    changed = replace(copper, tracks=less, zones=())
    broken = replace(board, load_copper=lambda: changed)
    assert board.nets[net].name in [one.net for one in drawn_nets(broken)]


def test_a_track_laid_over_a_pad_of_another_net_is_a_short(boards_dir: Path) -> None:
    board = read_board(boards_dir / "pocketbeagle" / "board.kicad_pcb")
    pad = next(p for p in board.pads if p.net == "GND" and p.copper_side == "top")
    other = next(net for net in board.nets if net.name not in ("GND", pad.net))
    tracks = board.copper.tracks
    place = np.array([[pad.x_nm, pad.y_nm]], dtype=np.int64)
    more = replace(
        tracks,
        start=np.concatenate((tracks.start, place)),
        end=np.concatenate((tracks.end, place + 100_000)),
        width=np.append(tracks.width, 100_000),
        layer=np.append(tracks.layer, 0),
        net=np.append(tracks.net, other.index),
    )
    changed = replace(board.copper, tracks=more)
    found = drawn_shorts(replace(board, load_copper=lambda: changed))
    assert {"GND", other.name} in [{one.net_a, one.net_b} for one in found]


@pytest.mark.parametrize("name", ["pico_ice_r2", "glasgow_c3"])
def test_a_via_of_another_net_in_a_plane_is_a_short(boards_dir: Path, name: str) -> None:
    """A ground via within ground's own filled zone is given to another net, in memory alone."""
    board = read_board(boards_dir / name / "board.kicad_pcb")
    copper, gnd = board.copper, board.net("GND").index
    other = next(net for net in board.nets if net.name != "GND" and net.name.strip())
    vias = copper.vias
    victim = next(k for k, net in enumerate(vias.net.tolist()) if net == gnd)
    nets = vias.net.copy()
    nets[victim] = other.index
    changed = replace(copper, vias=replace(vias, net=nets))
    # without fills, pads and tracks that end at the via would show it too: take them away
    far = np.zeros(len(copper.tracks.net), dtype=bool)
    tracks = {key: getattr(copper.tracks, key)[far] for key in TRACK_COLUMNS}
    changed = replace(changed, tracks=replace(copper.tracks, **tracks))
    found = drawn_shorts(replace(board, load_copper=lambda: changed))
    assert {"GND", other.name} in [{one.net_a, one.net_b} for one in found]
    bare = replace(changed, zones=())
    found = drawn_shorts(replace(board, load_copper=lambda: bare))
    assert {"GND", other.name} not in [{one.net_a, one.net_b} for one in found]


def test_a_zone_of_another_net_over_a_plane_is_a_short(boards_dir: Path) -> None:
    """The net of one filled zone is renamed in memory: its own tracks and pads lie on it."""
    board = read_board(boards_dir / "pico_ice_r2" / "board.kicad_pcb")
    zones = list(board.copper.zones)
    gnd = board.net("GND").index
    number = next(k for k, zone in enumerate(zones) if zone.net == gnd and zone.is_filled)
    other = next(net for net in board.nets if net.index != gnd)
    zones[number] = replace(zones[number], net=other.index)
    changed = replace(board.copper, zones=tuple(zones))
    found = drawn_shorts(replace(board, load_copper=lambda: changed))
    assert [{one.net_a, one.net_b} for one in found] == [{"GND", other.name}]


def test_a_track_moved_into_a_plane_is_a_short(boards_dir: Path) -> None:
    """A track of another net is laid across ground's largest island."""
    board = read_board(boards_dir / "scalenode" / "board.kicad_pcb")
    copper, gnd = board.copper, board.net("GND").index
    tracks, other = copper.tracks, next(net for net in board.nets if net.name != "GND")
    fill = max(
        (fill for zone in copper.zones if zone.net == gnd for fill in zone.fills),
        key=lambda one: len(one.points),
    )
    k = next(k for k, net in enumerate(tracks.net.tolist()) if net == other.index)
    start, end, layer = tracks.start.copy(), tracks.end.copy(), tracks.layer.copy()
    low, high = fill.points.min(axis=0), fill.points.max(axis=0)
    start[k], end[k], layer[k] = low, high, fill.layer
    changed = replace(copper, tracks=replace(tracks, start=start, end=end, layer=layer))
    found = drawn_shorts(replace(board, load_copper=lambda: changed))
    assert {"GND", other.name} in [{one.net_a, one.net_b} for one in found]


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), min_size=3, max_size=9))
def test_inside_is_that_of_shapely(ring: list[tuple[int, int]]) -> None:
    """shapely's polygons as second hand; rings that cross themselves are left out."""
    polygon = Polygon(ring)
    assume(polygon.is_valid and polygon.area > 0)
    points = np.array([(x + 0.31, y + 0.17) for x in range(0, 40, 3) for y in range(0, 40, 3)])
    told = inside(points, np.array(ring, dtype=np.float64))
    wanted = [polygon.contains(Point(x, y)) for x, y in points.tolist()]
    clear = [polygon.exterior.distance(Point(x, y)) > 1e-9 for x, y in points.tolist()]
    assert all(a == b for a, b, sure in zip(told.tolist(), wanted, clear, strict=True) if sure)


def test_a_netlist_has_no_copper_to_compare(boards_dir: Path) -> None:
    answer = netgraph("compare", boards_dir / "hackrf_marzipan" / "board.net", "--copper")
    assert (answer.status, "no drawn copper" in answer.err) == (2, True)
    both = netgraph("compare", "a", "b", "--copper")
    assert both.status == 2


BARS = st.tuples(*[st.integers(-8, 8)] * 2, *[st.integers(1, 8)] * 2)


@given(BARS, BARS)
def test_islands_of_two_nets_that_overlap_are_shorts(
    one: tuple[int, int, int, int], two: tuple[int, int, int, int]
) -> None:
    """Bars in millimetres against shapely (GEOS); crosswise no corner lies in the other bar."""
    shapes = [box(x, y, x + w, y + h) for x, y, w, h in (one, two)]
    # Corners on the other's edge are taken as touching.
    assume(not any(shapes[0].boundary.distance(Point(p)) == 0 for p in shapes[1].exterior.coords))
    assume(not any(shapes[1].boundary.distance(Point(p)) == 0 for p in shapes[0].exterior.coords))
    rings = [np.array(shape.exterior.coords[:-1]) * 1e6 for shape in shapes]
    fills = [(net, Fill(0, ring.astype(np.int64))) for net, ring in enumerate(rings)]
    none = Pieces(np.zeros((0, 2, 2)), np.zeros(0), np.zeros(0, np.int64))
    found = fill_shorts(none, fills)
    assert bool(found) == (shapes[0].intersection(shapes[1]).area > 0)
    for _, _, x, y in found:
        assert all(shape.distance(Point(x / 1e6, y / 1e6)) < 1e-6 for shape in shapes)
