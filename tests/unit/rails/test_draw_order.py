# SPDX-License-Identifier: GPL-3.0-or-later
"""The drawn rail tree: feeders left of what they feed, few crossings, folded to its budget."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netgraph.rails import find_rails
from netgraph.rails.draw_order import Sizes, TreeDrawing, draw_rail_tree, short_names
from netgraph.rails.tree import Feeder, Rail, RailTree
from netgraph.roles import find_roles
from netgraph.survey import load

SIZES = Sizes()


def tree_of(*links: tuple[str, str], alone: tuple[str, ...] = ()) -> RailTree:
    """Rails and what feeds them: (from, to)."""
    names = dict.fromkeys([end for pair in links for end in pair] + list(alone))
    rails = tuple(
        Rail(
            net,
            "buck",
            None,
            tuple(Feeder(f"U{i}", a, "buck", 1.0) for i, (a, b) in enumerate(links) if b == net),
        )
        for net in names
    )
    return RailTree(("GND",), rails)


def counted_crossings(drawn: TreeDrawing) -> int:
    """By geometry: straight pieces of lines between the same two columns that cross."""
    pieces = [
        (a, b) for edge in drawn.edges for a, b in zip(edge.points, edge.points[1:], strict=False)
    ]
    count = 0
    for (a, b), (c, d) in combinations(pieces, 2):
        same = min(a[0], b[0]) == min(c[0], d[0])
        first = (a, b) if a[0] < b[0] else (b, a)
        second = (c, d) if c[0] < d[0] else (d, c)
        left, right = first[0][1] - second[0][1], first[1][1] - second[1][1]
        count += same and left * right < 0
    return count


def overlaps(drawn: TreeDrawing) -> list[tuple[str, str]]:
    return [
        (a.id, b.id)
        for a, b in combinations(drawn.nodes, 2)
        if abs(a.x - b.x) < SIZES.box_width - 0.01 and abs(a.y - b.y) < SIZES.box_height - 0.01
    ]


def test_a_chain_runs_from_left_to_right_on_one_line() -> None:
    drawn = draw_rail_tree(tree_of(("A", "B"), ("B", "C")))
    places = {one.id: (one.x, one.y) for one in drawn.nodes}
    assert places["A"][0] < places["B"][0] < places["C"][0]
    assert places["A"][1] == places["B"][1] == places["C"][1]


def test_two_crossed_pairs_are_uncrossed() -> None:
    """A feeds D and B feeds C, told in an order that would cross: none is left."""
    drawn = draw_rail_tree(tree_of(("S", "A"), ("S", "B"), ("A", "D"), ("B", "C")))
    assert drawn.crossings == 0
    assert counted_crossings(drawn) == 0


def test_a_ring_is_drawn_with_one_line_against() -> None:
    drawn = draw_rail_tree(tree_of(("A", "B"), ("B", "C"), ("C", "A")))
    assert [one.against for one in drawn.edges].count(True) == 1
    assert overlaps(drawn) == []


def test_rails_without_known_feeder_stand_apart_below() -> None:
    drawn = draw_rail_tree(tree_of(("A", "B"), alone=("X", "Y")))
    apart = {one.id for one in drawn.nodes if one.apart}
    assert apart == {"X", "Y"}
    assert drawn.apart_y is not None
    lowest = max(one.y for one in drawn.nodes if not one.apart)
    assert all(one.y > lowest for one in drawn.nodes if one.apart)


@given(
    st.lists(st.tuples(st.integers(0, 30), st.integers(0, 30)), max_size=60),
    st.integers(3, 40),
)
def test_any_tree_is_drawn_whole_within_its_budget(pairs: list[tuple[int, int]], most: int) -> None:
    """Each rail is in one box, no box lies on another, crossings are those that one can count."""
    links = tuple(dict.fromkeys((f"N{a}", f"N{b}") for a, b in pairs if a != b))
    tree = tree_of(*links, alone=("N0",))
    drawn = draw_rail_tree(tree, most=most)
    nets = [net for one in drawn.nodes for net in one.nets]
    assert sorted(nets) == sorted(rail.net for rail in tree)
    assert len(drawn.nodes) <= most
    assert overlaps(drawn) == []
    assert drawn.crossings == counted_crossings(drawn)
    for one in drawn.nodes:
        assert one.x - SIZES.box_width / 2 + 0.01 >= 0
        assert one.x + SIZES.box_width / 2 <= drawn.width + 0.01
        assert one.y - SIZES.box_height / 2 + 0.01 >= 0
        assert one.y + SIZES.box_height / 2 <= drawn.height + 0.01
    assert draw_rail_tree(tree, most=most) == drawn, "the same tree, the same picture"


@pytest.mark.parametrize(
    "name",
    [
        *("glasgow_c3", "hackrf_marzipan", "orangecrab_r021", "pico_ice_r2"),
        *("pocketbeagle", "scalenode", "teres_main_c"),
    ],
)
def test_real_trees_have_at_most_one_crossing_and_60_boxes(name: str, boards_dir: Path) -> None:
    """The goal of the design paper, on each shared board."""
    board = load(boards_dir / name / "board.kicad_pcb")
    drawn = draw_rail_tree(find_rails(board, find_roles(board)))
    assert len(drawn.nodes) <= 60
    assert drawn.crossings <= 1
    assert drawn.crossings == counted_crossings(drawn)
    assert overlaps(drawn) == []


def test_short_names_tell_the_nets_apart() -> None:
    names = ["/cpu/VCC", "/ram/VCC", "+5V", "/", "/a/b/+5V"]
    short = short_names(names)
    assert len(set(short.values())) == len(names)
    assert short["/cpu/VCC"] == "cpu/VCC"
