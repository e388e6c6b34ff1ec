# SPDX-License-Identifier: GPL-3.0-or-later
"""Copper of manufactured boards: what the netlist joins, the copper joins, and by milliohms.

tinyvision-ai-inc/pico-ice (MIT), beagleboard/pocketbeagle (CC-BY-4.0): finished designs with
filled zones, so each net is one piece of copper. OLIMEX/DIY-LAPTOP (Apache-2.0): zones are not
filled in the file.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from netgraph.copper.net_copper import CopperUnknown, NetCopper, net_copper
from netgraph.copper.ports import ports_of
from netgraph.formats import read_board


@pytest.mark.parametrize("name", ["pico_ice_r2", "pocketbeagle"])
def test_every_net_is_one_piece_of_copper(boards_dir: Path, name: str) -> None:
    board = read_board(boards_dir / name / "board.kicad_pcb")
    asked, apart = 0, []
    for net in board.nets:
        if len(board.pads_on_net(net.name)) < 2:
            continue
        copper = net_copper(board, net.name, max_cells=5_000, cell_nm=None)
        if isinstance(copper, CopperUnknown):
            assert copper.why.code == "copper-too-large"
            continue
        asked += 1
        if ports_of(copper).islands > 1:
            apart.append(net.name)
    assert asked > 90
    assert apart == []


def test_cells_hardly_move_the_answers_of_a_real_rail(boards_dir: Path) -> None:
    """All pairs of pads on a rail with areas on three layers, at cells of 0.1 and 0.2 mm."""
    board = read_board(boards_dir / "pocketbeagle" / "board.kicad_pcb")
    fine, coarse = (net_copper(board, "VDD_3V3B", cell_nm=size) for size in (100_000.0, 200_000.0))
    assert isinstance(fine, NetCopper)
    assert isinstance(coarse, NetCopper)
    a, b = ports_of(fine).matrix(), ports_of(coarse).matrix()
    upper = np.triu_indices(len(a), 1)
    assert np.isfinite(a).all()
    assert np.median(np.abs(b[upper] / a[upper] - 1)) < 0.03
    # Pads far apart: the metric of resistances obeys the triangle inequality.
    assert (a[:, :, None] + a[None, :, :] >= a[:, None, :] - 1e-12).all()


def test_a_net_with_an_unfilled_zone_gets_no_figure(boards_dir: Path) -> None:
    board = read_board(boards_dir / "teres_main_c" / "board.kicad_pcb")
    for net in ("GND", "+3V3", "IPS"):
        found = net_copper(board, net)
        assert isinstance(found, CopperUnknown)
        assert found.why.code == "copper-unfilled"
