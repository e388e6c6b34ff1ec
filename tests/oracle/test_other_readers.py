# SPDX-License-Identifier: GPL-3.0-or-later
"""What we write is read by libraries of other hands: the same nets, pins, values and places.

gerbonara 1.5 (Apache-2.0) reads IPC-D-356. kinparse 1.2.4 (MIT) reads KiCad netlists; it comes as
source only, and the lock takes no package that must be built, so that it is asked only where it is
installed, by hand in the deep profile. pcb-tools (Apache-2.0) has the parser from which gerbonara's
was made and comes as source only too: it would be no second opinion. GraphML and CSV are read by
networkx and by Python's csv in tests/property/test_writers_roundtrip.py.
"""

from __future__ import annotations

import warnings
from collections import Counter, defaultdict
from pathlib import Path

import pytest
from gerbonara.ipc356 import Netlist

from netgraph.formats import read_board
from netgraph.formats.ipc_d356_write import write_ipc_d356
from netgraph.formats.kicad_netlist_write import write_kicad_netlist
from netgraph.model import Board
from tests.support import REAL_BOARDS

UNIT_MM = 0.001
"""The unit of the lists that we write."""


def records(board: Board) -> Netlist:
    """Our list, read by gerbonara."""
    return Netlist.from_string(write_ipc_d356(board), "board.d356")


@pytest.mark.parametrize("name", REAL_BOARDS)
def test_gerbonara_finds_each_pad_on_its_net_and_in_its_place(boards_dir: Path, name: str) -> None:
    """Every pad that a list can hold, by designator, pin, net and place in the list's unit."""
    board = read_board(boards_dir / name / "board.kicad_pcb")
    found = records(board)
    wanted: Counter[tuple[str, str, str | None, int, int]] = Counter()
    for pad in board.pads:
        if pad.copper_side == "inner" or (pad.copper_side == "none" and pad.kind != "hole"):
            continue
        ref, pin = pad.ref[:6].strip(), pad.pin[:4].strip()
        if not ref and pad.net is None:
            continue
        wanted[ref, pin, pad.net, round(pad.x_nm / 1000), -round(pad.y_nm / 1000)] += 1
    seen = Counter(
        (
            one.ref_des or "",
            one.pin or "",
            one.net_name if one.is_connected else None,
            round(one.x / UNIT_MM),
            round(one.y / UNIT_MM),
        )
        for one in found.test_records
        if not one.is_via
    )
    assert seen == wanted


@pytest.mark.parametrize("name", REAL_BOARDS)
def test_gerbonara_finds_each_via(boards_dir: Path, name: str) -> None:
    board = read_board(boards_dir / name / "board.kicad_pcb")
    vias = board.copper.vias
    names = [net.name for net in board.nets]
    wanted = Counter(
        (names[net] if net >= 0 else None, round(x / 1000), -round(y / 1000))
        for (x, y), net in zip(vias.at.tolist(), vias.net.tolist(), strict=True)
    )
    seen = Counter(
        (one.net_name if one.is_connected else None, round(one.x / UNIT_MM), round(one.y / UNIT_MM))
        for one in records(board).vias()
    )
    assert seen == wanted


@pytest.mark.deep
@pytest.mark.parametrize("name", REAL_BOARDS)
def test_kinparse_finds_the_same_nets_and_values(boards_dir: Path, name: str) -> None:
    """Parts with value and footprint, nets with their nodes."""
    kinparse = pytest.importorskip("kinparse", reason="install kinparse by hand")
    board = read_board(boards_dir / name / "board.kicad_pcb")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # names of pyparsing that it still uses
        told = kinparse.parse_netlist(write_kicad_netlist(board))
    parts = {part.id: part for part in board.parts if part.id and not part.id.startswith("#")}
    assert {one.ref: one.value for one in told.parts} == {
        ref: part.value or "~" for ref, part in parts.items()
    }
    wanted: dict[str, set[tuple[str, str]]] = defaultdict(set)
    for pad in board.pads:
        if pad.net is not None and pad.part_id in parts:
            wanted[pad.net].add((pad.part_id, pad.pin))
    seen = {net.name: {(pin.ref, pin.num) for pin in net.pins} for net in told.nets}
    assert seen == dict(wanted)
