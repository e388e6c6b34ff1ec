# SPDX-License-Identifier: GPL-3.0-or-later
"""Drawn shapes as an image of copper: many rings at once, filled by their winding number.

Zones are stored as rings whose holes hang on slits; by winding numbers a hole stays a hole, and
shapes that lie over each other stay copper.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Grid:
    """Square cells over a box, in nanometres; each cell has `SUB` x `SUB` sub-pixels."""

    x_nm: float
    y_nm: float
    cell_nm: float
    rows: int
    columns: int

    def cell_of(self, x_nm: FloatArray, y_nm: FloatArray) -> tuple[NDArray[Any], NDArray[Any]]:
        """Row and column of the cells at these places, clipped to the grid."""
        row = np.floor((y_nm - self.y_nm) / self.cell_nm).astype(np.int64)
        column = np.floor((x_nm - self.x_nm) / self.cell_nm).astype(np.int64)
        return np.clip(row, 0, self.rows - 1), np.clip(column, 0, self.columns - 1)

    def centres(self, rows: NDArray[Any], columns: NDArray[Any]) -> tuple[FloatArray, FloatArray]:
        """X and y of the middles of these cells."""
        return (
            self.x_nm + (columns + 0.5) * self.cell_nm,
            self.y_nm + (rows + 0.5) * self.cell_nm,
        )


SUB = 4
"""Sub-pixels along a cell's side; finer ones did not change the results of the closed forms."""


def grid_over(box: tuple[float, float, float, float], cell_nm: float) -> Grid:
    """A grid that covers a box (x and y from, x and y to) with a cell's margin."""
    x0, y0, x1, y1 = box
    return Grid(
        x0 - cell_nm,
        y0 - cell_nm,
        cell_nm,
        int(np.ceil((y1 - y0) / cell_nm)) + 2,
        int(np.ceil((x1 - x0) / cell_nm)) + 2,
    )


def rings_of(shapes: Iterable[Any]) -> list[tuple[FloatArray, int]]:
    """Outer rings (1) and holes (-1) of shapely polygons and multi-polygons."""
    found: list[tuple[FloatArray, int]] = []
    for shape in shapes:
        for one in getattr(shape, "geoms", (shape,)):
            if one.geom_type != "Polygon" or one.is_empty:
                continue
            found.append((np.asarray(one.exterior.coords, dtype=np.float64), 1))
            found += [(np.asarray(hole.coords, dtype=np.float64), -1) for hole in one.interiors]
    return found


def draw(rings: Sequence[tuple[FloatArray, int]], grid: Grid) -> BoolArray:
    """Sub-pixels whose middle lies in copper.

    Parameters
    ----------
    rings
        Points of shape (n, 2) in nanometres, and 1 for copper or -1 for a hole in it.

    Returns
    -------
    array of bool, shape (rows x SUB, columns x SUB)
    """
    pixel = grid.cell_nm / SUB
    height, width = grid.rows * SUB, grid.columns * SUB
    image = np.zeros((height, width + 1), dtype=np.int16)
    starts, stops, signs = [], [], []
    for points, sign in rings:
        if len(points) < 3:
            continue
        after = np.roll(points, -1, axis=0)
        area = float((points[:, 0] * after[:, 1] - after[:, 0] * points[:, 1]).sum())
        starts.append(points)
        stops.append(after)
        signs.append(np.full(len(points), sign if area >= 0 else -sign, dtype=np.int16))
    if not starts:
        return np.zeros((height, width), dtype=np.bool_)
    a = (np.concatenate(starts) - (grid.x_nm, grid.y_nm)) / pixel - 0.5
    b = (np.concatenate(stops) - (grid.x_nm, grid.y_nm)) / pixel - 0.5
    turning = np.concatenate(signs)
    # A side crosses the middles of the rows from its upper end (counted) to its lower (not).
    low = np.clip(np.ceil(np.minimum(a[:, 1], b[:, 1])), 0, height).astype(np.int64)
    high = np.clip(np.ceil(np.maximum(a[:, 1], b[:, 1])), 0, height).astype(np.int64)
    count = high - low
    side = np.repeat(np.arange(len(a)), count)
    row = np.arange(len(side)) - np.repeat(np.cumsum(count) - count, count) + low[side]
    slope = (b[side, 0] - a[side, 0]) / (b[side, 1] - a[side, 1])
    x = a[side, 0] + (row - a[side, 1]) * slope
    column = np.clip(np.ceil(x), 0, width).astype(np.int64)
    turn = np.where(b[side, 1] > a[side, 1], turning[side], -turning[side]).astype(np.int16)
    np.add.at(image, (row, column), turn)
    np.cumsum(image, axis=1, out=image)
    inside: BoolArray = image[:, :-1] != 0
    return inside
