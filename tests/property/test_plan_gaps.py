# SPDX-License-Identifier: GPL-3.0-or-later
"""Distances between turned rectangles and tracks against shapely (GEOS), and the grid against all
pairs.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.affinity import rotate
from shapely.geometry import LineString, Polygon, box

from netgraph import limits
from netgraph.errors import BoardFileError
from netgraph.plan.gaps import (
    boxes_of,
    near_pairs,
    polygon_gaps,
    rectangle_corners,
    segment_gaps,
)

LENGTH = st.integers(-4_000_000, 4_000_000).map(float)
SIZE = st.integers(50_000, 3_000_000).map(float)
ANGLE = st.sampled_from((0.0, 30.0, 45.0, 90.0, 133.7, 180.0, 270.0, -20.0))
RECTANGLE = st.tuples(LENGTH, LENGTH, SIZE, SIZE, ANGLE)
POINT = st.tuples(LENGTH, LENGTH)

Rectangle = tuple[float, float, float, float, float]
Point = tuple[float, float]


def shape_of(one: Rectangle) -> Polygon:
    """Angles counter-clockwise as seen, y downwards: shapely's turn is the other way."""
    x, y, width, height, angle = one
    plain = box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)
    return rotate(plain, -angle, origin=(x, y))


def corners(some: list[Rectangle]) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    return rectangle_corners(*np.array(some, dtype=np.float64).T)


@given(RECTANGLE, RECTANGLE)
def test_rectangles_are_as_far_apart_as_shapely_says(a: Rectangle, b: Rectangle) -> None:
    found = polygon_gaps(corners([a]), corners([b]))[0]
    # A thousandth of a micrometre: both compute in floating point on 4 mm.
    assert found == pytest.approx(shape_of(a).distance(shape_of(b)), abs=1.0)


@given(POINT, POINT, POINT, POINT)
def test_segments_are_as_far_apart_as_shapely_says(a: Point, b: Point, c: Point, d: Point) -> None:
    found = segment_gaps(np.array([[a, b]]), np.array([[c, d]]))[0]
    assert found == pytest.approx(LineString([a, b]).distance(LineString([c, d])), abs=1.0)


@given(st.lists(RECTANGLE, min_size=1, max_size=12), st.lists(RECTANGLE, min_size=1, max_size=12))
def test_the_grid_finds_every_near_pair(a: list[Rectangle], b: list[Rectangle]) -> None:
    reach = 500_000.0
    found = near_pairs(boxes_of(corners(a)), boxes_of(corners(b)), reach)
    seen = {(i, j) for i, j in found.tolist()}
    assert len(seen) == len(found)
    for i, one in enumerate(a):
        for j, other in enumerate(b):
            if shape_of(one).distance(shape_of(other)) <= reach - 1.0:
                assert (i, j) in seen


def test_shapes_that_cover_everything_are_still_found() -> None:
    """Two metres aslant cover millions of small cells; larger cells give the same pairs."""
    wide = np.array([[-2e9, -2e9, 2e9, 2e9]] * 3 + [[0.0, 0.0, 1e5, 1e5], [3e9, 0.0, 3e9, 1.0]])
    found = near_pairs(wide, wide, 0.0).tolist()
    assert found == [[i, j] for i in range(4) for j in range(4)] + [[4, 4]]


def test_shapes_drawn_very_many_times_are_refused() -> None:
    one = np.repeat(np.array([[0.0, 0.0, 1e5, 1e5]]), limits.MAX_NEAR_PAIRS // 1000, axis=0)
    with pytest.raises(BoardFileError) as caught:
        near_pairs(one, one, 0.0)
    assert caught.value.code == "limit-exceeded"
    assert "MAX_NEAR_" in caught.value.message
