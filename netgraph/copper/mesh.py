# SPDX-License-Identifier: GPL-3.0-or-later
"""One layer of copper areas as square cells: a link for each open face between two cells.

A link conducts w/l per sheet resistance: w the open part of the shared face, l the way between
the two middles that is not covered by a pad or via, which are one potential each.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log, pi
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray

from netgraph.copper.raster import SUB, BoolArray, FloatArray, Grid

IntArray = NDArray[np.int64]

POINT_RADIUS: Final = 0.1985
"""Radius of a contact in one cell, in cells: exp(-Euler's constant) / (2 sqrt 2) [lattice]."""

SHORTEST: Final = 1.0 / (2 * SUB)
"""A link never becomes shorter than half a sub-pixel."""


@dataclass(frozen=True, slots=True)
class LayerMesh:
    """Cells of one layer: `number` of shape (rows, columns), -1 where there is no copper.

    `a`, `b` are cell numbers from 0, `squares` the conductance of a link times the sheet
    resistance. `bulk` are the sub-pixels of areas alone, without pads.
    """

    grid: Grid
    number: IntArray
    a: IntArray
    b: IntArray
    squares: FloatArray
    bulk: BoolArray

    @property
    def cells(self) -> int:
        """How many cells hold copper."""
        return int(self.number.max(initial=-1)) + 1


def layer_mesh(grid: Grid, bulk: BoolArray, lands: BoolArray, contact: BoolArray) -> LayerMesh:
    """Cells and links of one layer.

    Parameters
    ----------
    bulk, lands, contact
        Sub-pixels of areas, of lands of vias, and of pads and barrels; each of shape
        (rows x SUB, columns x SUB).
    """
    copper = bulk | lands | contact
    filled = _block(copper, grid.rows, grid.columns) > 0
    number = np.full((grid.rows, grid.columns), -1, dtype=np.int64)
    number[filled] = np.arange(int(filled.sum()))
    ends: list[tuple[IntArray, IntArray, FloatArray]] = []
    for across in (False, True):
        c, k, n = (copper.T, contact.T, number.T) if across else (copper, contact, number)
        ends.append(_links(c, k, n))
    a, b, squares = (np.concatenate([one[i] for one in ends]) for i in range(3))
    return LayerMesh(grid, number, a.astype(np.int64), b.astype(np.int64), squares, bulk)


def _block(image: BoolArray, rows: int, columns: int) -> IntArray:
    """Sub-pixels that are set in each cell."""
    blocks = image.reshape(rows, SUB, columns, SUB)
    found: IntArray = blocks.sum(axis=(1, 3), dtype=np.int64)
    return found


def _links(
    copper: BoolArray, contact: BoolArray, number: IntArray
) -> tuple[IntArray, IntArray, FloatArray]:
    """Links to the next column."""
    rows, columns = number.shape
    left, right = copper[:, SUB - 1 : -1 : SUB], copper[:, SUB::SUB]
    face = (left & right).reshape(rows, SUB, columns - 1).sum(axis=1)
    row, column = np.nonzero(face)
    half = SUB // 2
    # The sub-pixels between the middles of the two cells, half of each cell's.
    between = slice(half, columns * SUB - half)
    all_copper = _block(copper[:, between], rows, columns - 1)[row, column]
    free = _block((copper & ~contact)[:, between], rows, columns - 1)[row, column]
    length = np.maximum(free / np.maximum(all_copper, 1), SHORTEST)
    squares = face[row, column] / SUB / length
    return number[row, column], number[row, column + 1], squares


def cells_in(mesh: LayerMesh, shape: Any) -> IntArray:
    """Numbers of the cells whose middle lies in a shape."""
    grid = mesh.grid
    x0, y0, x1, y1 = shape.bounds
    rows, columns = grid.cell_of(np.array([x0, x1]), np.array([y0, y1]))
    row, column = np.meshgrid(
        np.arange(rows[0], rows[1] + 1), np.arange(columns[0], columns[1] + 1), indexing="ij"
    )
    numbers = mesh.number[row, column]
    x, y = grid.centres(row, column)
    inside = shapely.contains_xy(shape, x, y) & (numbers >= 0)
    found: IntArray = numbers[inside]
    return found


def cell_at(mesh: LayerMesh, x_nm: float, y_nm: float) -> int:
    """Number of the cell at a place, -1 for none."""
    grid = mesh.grid
    row = int((y_nm - grid.y_nm) // grid.cell_nm)
    column = int((x_nm - grid.x_nm) // grid.cell_nm)
    inside = 0 <= row < grid.rows and 0 <= column < grid.columns
    return int(mesh.number[row, column]) if inside else -1


def is_bulk(mesh: LayerMesh, x_nm: FloatArray, y_nm: FloatArray) -> BoolArray:
    """Whether these places lie on an area's copper."""
    pixel = mesh.grid.cell_nm / SUB
    height, width = mesh.bulk.shape
    row = np.floor((y_nm - mesh.grid.y_nm) / pixel).astype(np.int64)
    column = np.floor((x_nm - mesh.grid.x_nm) / pixel).astype(np.int64)
    inside = (row >= 0) & (row < height) & (column >= 0) & (column < width)
    found: BoolArray = inside.copy()
    found[inside] = mesh.bulk[row[inside], column[inside]]
    return found


def point_squares(radius_nm: float, cell_nm: float) -> float:
    """What a contact smaller than a cell adds to that of the cell, in squares; never less than 0.

    >>> round(point_squares(10_000, 100_000), 4)
    0.1091
    """
    return max(log(POINT_RADIUS * cell_nm / radius_nm), 0.0) / (2 * pi)
