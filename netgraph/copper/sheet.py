# SPDX-License-Identifier: GPL-3.0-or-later
"""What copper is made of: sheet resistance, thickness of each layer, barrels, current of a track.

Figures at 20 C. A thickness that the file leaves open is taken as 35 um, a barrel's wall as 25 um
(common practice, no source); inner layers and plating differ by 20 % from that on real boards.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import Final

from netgraph.model import Board

OHM_METRES: Final = 1.0 / 58e6
"""Resistivity of annealed copper at 20 C [iacs]."""

ASSUMED_COPPER_NM: Final = 35_000
ASSUMED_BOARD_NM: Final = 1_600_000
PLATING_NM: Final = 25_000
"""Trade figures where a file is silent (common practice, no source)."""

SQUARE_MIL_M2: Final = 0.0254e-3**2
TRACK_KELVIN: Final = 10.0
"""How much warmer a track may become by the current of a bench supply [practice]."""


@dataclass(frozen=True, slots=True)
class Sheets:
    """Thickness of each copper layer and of what lies below it, in nanometres, top to bottom.

    `assumed` counts the copper layers whose thickness the file does not say.
    """

    copper_nm: tuple[int, ...]
    gap_nm: tuple[int, ...]
    assumed: int
    gaps_assumed: bool

    def ohm_per_square(self, layer: int) -> float:
        """Sheet resistance of one layer at 20 C."""
        return sheet_ohm(self.copper_nm[layer])


def sheet_ohm(thickness_nm: float) -> float:
    """Ohms of a square of copper of this thickness at 20 C.

    >>> round(1e3 * sheet_ohm(35_000), 4)
    0.4926
    """
    return OHM_METRES / (thickness_nm * 1e-9)


def barrel_ohm(drill_nm: float, length_nm: float, plating_nm: float = PLATING_NM) -> float:
    """Ohms of a plated hole from one layer to the next; the drill is the outer diameter.

    >>> round(1e3 * barrel_ohm(300_000, 1_600_000), 5)
    1.27723
    """
    outer = drill_nm / 2
    inner = max(outer - plating_nm, 0.0)
    return OHM_METRES * length_nm / (pi * (outer**2 - inner**2) * 1e-9)


def track_amps(
    width_nm: float, thickness_nm: float, *, outer: bool, kelvin: float = TRACK_KELVIN
) -> float:
    """Current that warms a long track by so many kelvin: I = k dT^0.44 A^0.725 [ipc2221].

    >>> round(track_amps(200_000, 35_000, outer=True), 6)
    0.744609
    """
    k = 0.048 if outer else 0.024
    square_mils = width_nm * thickness_nm * 1e-18 / SQUARE_MIL_M2
    return float(k * kelvin**0.44 * square_mils**0.725)


def sheets_of(board: Board) -> Sheets:
    """The copper layers of a board by its stack-up, or as assumed where that is silent."""
    names = board.copper_layers or ("top",)
    # Nothing is as thin as nothing, or thinner: such a figure says no more than none.
    layers = [(one.name, max(one.thickness_nm or 0, 0)) for one in board.stackup.layers]
    said = {name: nm for name, nm in layers if nm}
    copper = tuple(said.get(name) or ASSUMED_COPPER_NM for name in names)
    assumed = sum(1 for name in names if not said.get(name))
    gaps: list[int] = []
    between, started = 0, False
    for name, nm in layers:
        if name in names:
            if started:
                gaps.append(between)
            between, started = 0, True
        elif started:
            between += nm
    gaps_assumed = len(gaps) != len(names) - 1 or not all(gaps)
    if gaps_assumed:
        told = board.stackup.board_thickness_nm
        whole = told if told and told > 0 else ASSUMED_BOARD_NM
        gaps = [max(whole // max(len(names) - 1, 1), 1)] * (len(names) - 1)
    return Sheets(copper, tuple(gaps), assumed, gaps_assumed)
