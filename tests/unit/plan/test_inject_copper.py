# SPDX-License-Identifier: GPL-3.0-or-later
"""Points by the least copper: which pad, by which weights, and when copper says nothing."""

from __future__ import annotations

from dataclasses import replace

import pytest

from netgraph.copper.sheet import track_amps
from netgraph.model import Board
from netgraph.model.copper import Copper, Tracks
from netgraph.plan.inject import injection_plan
from tests.unit.copper_boards import nm
from tests.unit.plan.sketch import Sketch

import numpy as np


def row_of_capacitors(
    *, width_mm: float = 0.2, cut: bool = False
) -> tuple[Board, object, object]:
    """C1 to C5 along one track of VSYS, 10 mm apart, a test pad beside C5."""
    sketch = Sketch()
    sketch.net("VSYS", "supply", 3.7)
    sketch.net("GND", "ground")
    for number in range(1, 6):
        sketch.part(f"C{number}", "capacitor", "VSYS", "GND", at=(10.0 * number, 0.0))
    sketch.part("TP1", "test-point", "VSYS", at=(50.0, 1.0))
    board, roles, tree = sketch.done()
    return board, roles, tree
