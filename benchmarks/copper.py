# SPDX-License-Identifier: GPL-3.0-or-later
"""Resistance matrices of whole nets: strips and cells against cells alone, same solver.

    python -m benchmarks.copper --boards ../shared/boards

Cells alone is the general way: every track is meshed too, with the same cells. Both are compared
with cells alone four times as fine (as fine as the memory of a small machine allows). Processor
time, one run; read the figures as ratios.
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Sequence
from pathlib import Path
from unittest.mock import patch

# Set before numpy is loaded: BLAS on one thread.
os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from netgraph import limits
from netgraph.copper import net_copper as networks
from netgraph.copper import ports as reduction
from netgraph.copper.net_copper import NetCopper
from netgraph.formats import read_board
from netgraph.model import Board

CASES = (
    ("glasgow_c3", "+3V3"),
    ("pico_ice_r2", "GND"),
    ("orangecrab_r021", "P1.1V"),
    ("pocketbeagle", "VDD_3V3B"),
)


def solve(copper: NetCopper) -> tuple[float, np.ndarray]:
    """Processor time of factor and all pads' solutions, and the matrix."""
    start = time.process_time()
    matrix = reduction.ports_of(copper).matrix()
    return time.process_time() - start, matrix


def alone(board: Board, net: str, cell_nm: float) -> NetCopper | None:
    """The same copper with every track in cells."""
    with patch.object(networks, "STRIP_CELLS", 0):
        found = networks.net_copper(board, net, cell_nm=cell_nm, max_cells=1_000_000)
    return found if isinstance(found, NetCopper) else None


def differ(matrix: np.ndarray, other: np.ndarray) -> str:
    """Median difference over all pairs that both join, in per cent."""
    upper = np.triu_indices(len(matrix), 1)
    a, b = matrix[upper], other[upper]
    both = np.isfinite(a) & np.isfinite(b) & (b > 0)
    apart = int((np.isfinite(a) != np.isfinite(b)).sum())
    text = f"{100 * float(np.median(np.abs(a[both] / b[both] - 1))):.1f} %"
    return text if not apart else f"{text}, {apart} pairs joined by one way only"


def main(words: Sequence[str] | None = None) -> None:
    """Print some lines a net."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--boards", type=Path, default=Path("../shared/boards"))
    parser.add_argument("--cells", type=int, default=limits.MAX_RANKING_CELLS)
    parser.add_argument("--finer", type=float, default=4.0)
    options = parser.parse_args(words)
    for name, net in CASES:
        board = read_board(options.boards / name / "board.kicad_pcb")
        _ = board.copper
        start = time.process_time()
        ours = networks.net_copper(board, net, max_cells=options.cells)
        build = time.process_time() - start
        if not isinstance(ours, NetCopper):
            print(name, net, ours.why.text)
            continue
        took, matrix = solve(ours)
        start = time.process_time()
        theirs = alone(board, net, ours.cell_nm)
        other_build = time.process_time() - start
        reference = alone(board, net, max(ours.cell_nm / options.finer, 45_000.0))
        if theirs is None or reference is None:
            print(name, net, "too large for cells alone")
            continue
        other_took, other = solve(theirs)
        _, fine = solve(reference)
        print(f"{name} {net}, {len(ours.pads)} pads")
        print(f"  strips and cells: {ours.cells} cells of {ours.cell_nm / 1e6:.3f} mm, network "
              f"{build:.2f} s, all pairs {took:.2f} s")  # fmt: skip
        print(f"  cells alone: {theirs.cells} cells, {other_build:.2f} and {other_took:.2f} s, "
              f"{(other_build + other_took) / (build + took):.1f} times ours")  # fmt: skip
        print(f"  from {reference.cells} cells alone of {reference.cell_nm / 1e6:.3f} mm: strips "
              f"and cells {differ(matrix, fine)}, cells alone {differ(other, fine)}")  # fmt: skip


if __name__ == "__main__":
    main()
