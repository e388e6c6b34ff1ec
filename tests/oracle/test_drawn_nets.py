# SPDX-License-Identifier: GPL-3.0-or-later
"""Drawn copper against the netlist, on finished boards and on boards with copper taken away.

tinyvision-ai-inc/pico-ice (MIT), beagleboard/pocketbeagle (CC-BY-4.0), antmicro/scalenode
(Apache-2.0), GlasgowEmbedded/glasgow (0BSD): manufactured designs with filled zones, so their
copper joins what their netlists join. OLIMEX/DIY-LAPTOP (Apache-2.0): zones are not filled.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from netgraph.formats import read_board
from netgraph.plan.drawn_nets import drawn_nets, drawn_shorts
from tests.unit.cli.run import netgraph


@pytest.mark.parametrize("name", ["pico_ice_r2", "pocketbeagle", "scalenode", "glasgow_c3"])
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


def test_a_netlist_has_no_copper_to_compare(boards_dir: Path) -> None:
    answer = netgraph("compare", boards_dir / "hackrf_marzipan" / "board.net", "--copper")
    assert (answer.status, "no drawn copper" in answer.err) == (2, True)
    both = netgraph("compare", "a", "b", "--copper")
    assert both.status == 2
