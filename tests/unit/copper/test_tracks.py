# SPDX-License-Identifier: GPL-3.0-or-later
"""Tracks as strips: in series, in parallel, forked, crossing, curved, against Ohm and networkx."""

from __future__ import annotations

import itertools
import random
from math import pi

import networkx as nx
import numpy as np
import pytest

from netgraph.copper.net_copper import CopperUnknown, NetCopper, net_copper
from netgraph.copper.ports import Ports, ports_of
from netgraph.copper.sheet import barrel_ohm, sheet_ohm, track_amps
from netgraph.model import Board
from tests.unit.copper_boards import Point, copper_board

RS = sheet_ohm(35_000)
SMALL: Point = (0.002, 0.002)
"""Pads of 2 um: points, nearly."""


def ports(board: Board) -> Ports:
    found = net_copper(board, "N")
    assert isinstance(found, NetCopper)
    return ports_of(found)


def dots(*places: Point, side: str = "top") -> list[tuple[Point, Point, str, str]]:
    return [(place, SMALL, "rect", side) for place in places]


def test_series_and_parallel() -> None:
    """Two ways of 10 and 14 mm, one of them in two widths."""
    board = copper_board(
        dots((0, 0), (10, 0)),  # type: ignore[arg-type]
        tracks=[
            ((0, 0), (10, 0), 0.2, 0),
            ((0, 0), (0, 2), 0.1, 0),
            ((0, 2), (10, 2), 0.25, 0),
            ((10, 2), (10, 0), 0.1, 0),
        ],
    )
    one, two = 10 / 0.2, 2 / 0.1 + 10 / 0.25 + 2 / 0.1
    exact = RS / (1 / one + 1 / two)
    assert ports(board).ohms(0, 1) == pytest.approx(exact, rel=1e-3)


def test_a_track_drawn_twice_is_copper_once() -> None:
    twice = [((0, 0), (10, 0), 0.2, 0), ((10, 0), (0, 0), 0.2, 0), ((0, 0), (10, 0), 0.1, 0)]
    board = copper_board(dots((0, 0), (10, 0)), tracks=twice)  # type: ignore[arg-type]
    assert ports(board).ohms(0, 1) == pytest.approx(50 * RS, rel=1e-3)


def test_a_fork_and_a_crossing_cut_what_they_meet() -> None:
    """A T on the middle of a track, an X of two tracks; the third layer's track meets neither."""
    tee = copper_board(
        dots((0, 0), (10, 0), (5, 5)),  # type: ignore[arg-type]
        tracks=[((0, 0), (10, 0), 0.2, 0), ((5, 0), (5, 5), 0.1, 0)],
    )
    found = ports(tee)
    assert found.ohms(0, 2) == pytest.approx(RS * (5 / 0.2 + 5 / 0.1), rel=1e-3)
    assert found.ohms(0, 1) == pytest.approx(RS * 10 / 0.2, rel=1e-3)
    cross = copper_board(
        dots((0, 0), (10, 0), (5, 5), (5, -5)),  # type: ignore[arg-type]
        tracks=[((0, 0), (10, 0), 0.2, 0), ((5, -5), (5, 5), 0.1, 0)],
    )
    assert ports(cross).ohms(0, 3) == pytest.approx(RS * (5 / 0.2 + 5 / 0.1), rel=1e-3)
    apart = copper_board(
        [*dots((0, 0), (10, 0)), *dots((5, 5), (5, -5), side="bottom")],  # type: ignore[arg-type]
        tracks=[((0, 0), (10, 0), 0.2, 0), ((5, -5), (5, 5), 0.1, 1)],
    )
    assert ports(apart).ohms(0, 2) == float("inf")
    assert ports(apart).islands == 2


def test_a_chain_of_short_pieces_is_not_shortened() -> None:
    """Ends closer than a track is wide lie over each other; the way along them stays."""
    points = [(0.05 * k, 0.0) for k in range(201)]
    board = copper_board(
        dots((0, 0), (10, 0)),  # type: ignore[arg-type]
        tracks=[(a, b, 0.2, 0) for a, b in itertools.pairwise(points)],
    )
    assert ports(board).ohms(0, 1) == pytest.approx(50 * RS, rel=1e-3)


def test_an_arc_is_as_long_as_its_curve() -> None:
    board = copper_board(
        dots((0, 0), (10, 0)),  # type: ignore[arg-type]
        arcs=[((0, 0), (5, -5), (10, 0), 0.2, 0)],
    )
    # Chords of 5 degrees are 0.03 % shorter.
    assert ports(board).ohms(0, 1) == pytest.approx(RS * 5 * pi / 0.2, rel=1e-3)


def test_a_track_ends_at_the_edge_of_a_land_and_goes_on_through_the_barrels() -> None:
    """Down two gaps of three layers; the pad on top is reached over 5 - 0.3 mm."""
    board = copper_board(
        [*dots((0, 0)), *dots((10, 0), side="bottom")],  # type: ignore[arg-type]
        tracks=[((0, 0), (5, 0), 0.2, 0), ((5, 0), (10, 0), 0.2, 2)],
        vias=[((5, 0), 0.6, 0.3, 0, 2)],
        layers=3,
        gap_um=400,
    )
    exact = 2 * RS * 4.7 / 0.2 + 2 * barrel_ohm(300_000, 400_000)
    assert ports(board).ohms(0, 1) == pytest.approx(exact, rel=1e-3)


def test_a_loose_end_that_touches_a_pad_by_its_round_cap_is_joined() -> None:
    board = copper_board(
        [((0, 0), (1, 1), "rect", "top"), ((10, 0), (1, 1), "rect", "top")],
        tracks=[((0.55, 0), (9.45, 0), 0.2, 0)],
    )
    assert ports(board).ohms(0, 1) == pytest.approx(RS * 8.9 / 0.2, rel=1e-3)
    away = copper_board(
        [((0, 0), (1, 1), "rect", "top"), ((10, 0), (1, 1), "rect", "top")],
        tracks=[((0.65, 0), (9.35, 0), 0.2, 0)],
    )
    assert ports(away).islands == 2


def test_pads_that_overlap_are_one() -> None:
    board = copper_board(
        [((0, 0), (1, 1), "rect", "top"), ((0.8, 0), (1, 1), "rect", "top")],
        tracks=[((5, 5), (6, 6), 0.2, 0)],
    )
    assert ports(board).ohms(0, 1) == 0.0


@pytest.mark.parametrize("seed", range(5))
def test_random_networks_equal_a_dense_solution_and_networkx(seed: int) -> None:
    """Tracks of all widths between 25 places; half of these are pads.

    Places lie on a parabola's lattice, so that tracks meet at ends or cross; crossings are found
    by nobody else, so tracks between neighbours of a planar grid are taken.
    """
    rng = random.Random(seed)
    side = 5
    places = {(i, j): (3.0 * i, 3.0 * j) for i in range(side) for j in range(side)}
    graph = nx.grid_2d_graph(side, side)
    for a, b in list(graph.edges):
        if rng.random() < 0.3:
            graph.remove_edge(a, b)
    graph = graph.subgraph(max(nx.connected_components(graph), key=len)).copy()
    tracks = []
    for a, b in graph.edges:
        width = rng.uniform(0.08, 0.35)
        graph.edges[a, b]["siemens"] = round(width * 1e6) / 3e6 / RS
        tracks.append((places[a], places[b], width, 0))
    pads = sorted(graph.nodes)[::2]
    board = copper_board(dots(*(places[one] for one in pads)), tracks=tracks)  # type: ignore[arg-type]
    found = ports(board).matrix()
    order = sorted(graph.nodes)
    laplacian = nx.laplacian_matrix(graph, nodelist=order, weight="siemens").toarray()
    inverse = np.linalg.pinv(laplacian)
    for i, a in enumerate(pads):
        for j, b in enumerate(pads[:i]):
            p, q = order.index(a), order.index(b)
            dense = inverse[p, p] + inverse[q, q] - 2 * inverse[p, q]
            # A pad of 2 um takes 1 um off each of its tracks: 1/3000 of 3 mm.
            assert found[i, j] == pytest.approx(dense, rel=1e-3)
    a, b = pads[0], pads[-1]
    other = nx.resistance_distance(graph, a, b, weight="siemens", invert_weight=False)
    assert found[0, len(pads) - 1] == pytest.approx(other, rel=1e-3)


def test_the_reduction_itself_equals_a_dense_solution() -> None:
    """The network of a meshed board, solved without reduction."""
    board = copper_board(
        [((0, 0), (1, 1), "rect", "top"), ((6, 0), (1, 1), "rect", "top"),
         ((3, 4), (0.8, 0.8), "circle", "bottom")],
        tracks=[((3, 4), (3, 1), 0.2, 1)],
        vias=[((3, 1), 0.6, 0.3, 0, 1)],
        fills=[(0, [(-1, -1), (7, -1), (7, 2), (-1, 2)])],
    )  # fmt: skip
    copper = net_copper(board, "N", cell_nm=250_000.0)
    assert isinstance(copper, NetCopper)
    found = ports_of(copper).matrix()
    joined = nx.utils.UnionFind(range(copper.nodes))
    for a, b in copper.same.tolist():
        joined.union(a, b)
    graph = nx.Graph()
    for a, b, g in zip(copper.a.tolist(), copper.b.tolist(), copper.siemens.tolist(), strict=True):
        p, q = joined[a], joined[b]
        if p != q:
            graph.add_edge(p, q, g=g + graph.get_edge_data(p, q, {"g": 0.0})["g"])
    graph = graph.subgraph(nx.node_connected_component(graph, joined[0]))
    order = list(graph.nodes)
    dense = np.linalg.pinv(nx.laplacian_matrix(graph, nodelist=order, weight="g").toarray())
    at = [order.index(joined[pad]) for pad in range(3)]
    for i in range(3):
        for j in range(i):
            p, q = at[i], at[j]
            exact = dense[p, p] + dense[q, q] - 2 * dense[p, q]
            assert found[i, j] == pytest.approx(exact, rel=1e-9)


def test_the_narrowest_track_of_the_widest_way_bounds_the_current() -> None:
    board = copper_board(
        dots((0, 0), (10, 0), (20, 0)),  # type: ignore[arg-type]
        tracks=[
            ((0, 0), (10, 0), 0.1, 0),
            ((0, 0), (5, 5), 0.3, 0),
            ((5, 5), (10, 0), 0.2, 0),
            ((10, 0), (20, 0), 0.15, 0),
        ],
    )
    found = ports(board)
    assert found.amps_between(0, [1]) == pytest.approx(track_amps(200_000, 35_000, outer=True))
    assert found.amps_between(0, [1, 2]) == pytest.approx(track_amps(150_000, 35_000, outer=True))
    inner = copper_board(
        dots((0, 0), (10, 0), side="both"),  # type: ignore[arg-type]
        tracks=[((0, 0), (10, 0), 0.2, 1)],
        layers=4,
    )
    assert ports(inner).amps_between(0, [1]) == pytest.approx(
        track_amps(200_000, 35_000, outer=False)
    )


def test_what_is_not_known_is_said() -> None:
    pads = [((0.0, 0.0), (1.0, 1.0), "rect", "top"), ((5.0, 0.0), (1.0, 1.0), "rect", "top")]
    unfilled = net_copper(
        copper_board(pads, tracks=[((0, 0), (5, 0), 0.2, 0)], unfilled=True),  # type: ignore[arg-type]
        "N",
    )
    assert isinstance(unfilled, CopperUnknown)
    assert unfilled.why.code == "copper-unfilled"
    bare = net_copper(copper_board(pads), "N")  # type: ignore[arg-type]
    assert isinstance(bare, CopperUnknown)
    assert bare.why.code == "copper-none"
    large = net_copper(
        copper_board(pads, fills=[(0, [(0, 0), (200, 0), (200, 200), (0, 200)])]),  # type: ignore[arg-type]
        "N",
        max_cells=40_000,
    )
    assert isinstance(large, CopperUnknown)
    assert large.why.code == "copper-too-large"


def test_a_net_that_no_board_draws_is_refused_in_time() -> None:
    """A thousand tracks through one place: a million touches."""
    board = copper_board(
        dots((0, 0), (10, 0)),  # type: ignore[arg-type]
        tracks=[((0, 0), (10, 0.001 * k), 0.2, 0) for k in range(1000)],
    )
    found = net_copper(board, "N")
    assert isinstance(found, CopperUnknown)
    assert "MAX_COPPER_TOUCHES" in found.why.text


def test_a_via_without_land_and_hole_joins_nothing() -> None:
    """Such a via was divided by; without it the track alone counts."""
    tracks = [((0.0, 0.0), (10.0, 0.0), 0.2, 0)]
    pads = dots((0, 0), (10, 0))
    bare = copper_board(pads, tracks=tracks)  # type: ignore[arg-type]
    board = copper_board(pads, tracks=tracks, vias=[((5, 0), 0.0, 0.0, 0, 1)])  # type: ignore[arg-type]
    assert ports(board).ohms(0, 1) == pytest.approx(ports(bare).ohms(0, 1))
    assert ports(board).copper.open_lands == 0
