# SPDX-License-Identifier: GPL-3.0-or-later
"""One board through two doors: its layout file and a list or netlist made by another program.

Boards: tinyvision-ai-inc/pico-ice (MIT; `board.d356` is the makers' own), OLIMEX/DIY-LAPTOP
(Apache-2.0), beagleboard/pocketbeagle (CC-BY-4.0), antmicro/scalenode (Apache-2.0),
gregdavill/OrangeCrab (MIT / CERN-OHL), greatscottgadgets/hackrf (GPL-2); lists of test points by
KiCad 6.0.11, `board.net` by KiCad.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from netgraph.formats import read_board
from netgraph.model import Board, BoardBuilder
from netgraph.model.compare import compare_boards
from netgraph.model.merge import merge_boards

LISTS = {
    "pico_ice_r2": "board.d356",
    "teres_main_c": "board.kicad6.d356",
    "pocketbeagle": "board.kicad6.d356",
    "scalenode": "board.kicad6.d356",
    "orangecrab_r021": "board.kicad6.d356",
    "hackrf_marzipan": "board.kicad6.d356",
}
UNIT_NM = 2540
"""One count of a list in units CUST 0: 0.0001 inch."""


@cache
def read(path: Path) -> Board:
    return read_board(path)


@pytest.mark.parametrize("name", LISTS)
def test_list_and_layout_hold_the_same_nets_on_the_pads_of_both(
    boards_dir: Path, name: str
) -> None:
    layout = read(boards_dir / name / "board.kicad_pcb")
    points = read(boards_dir / name / LISTS[name])
    found = compare_boards(layout, points)
    # every test point of a part is found again, and nearly every pad with copper
    assert found.match.only_b == ()
    assert len(found.match.pairs) >= 0.98 * len(points.columns)
    assert found.match.unsure == ()
    assert [one.nets_a for one in found.differ] == []
    assert found.is_same
    assert found.match.worst_nm is not None
    assert found.match.worst_nm <= UNIT_NM


@pytest.mark.parametrize("name", LISTS)
def test_names_that_may_be_cut_are_counted_and_named(boards_dir: Path, name: str) -> None:
    """Looked up in the file itself: names that fill their 14 columns."""
    path = boards_dir / name / LISTS[name]
    full = {
        line[3:17].strip()
        for line in path.read_text("latin-1").splitlines()
        if line[:3] in ("317", "327") and len(line[3:17].strip()) == 14
    }
    board = read(path)
    assert board.unclear_nets == full
    (why,) = [one for one in board.not_known if one.code == "names-cut"]
    assert dict(why.params)["count"] == len(full)


def test_netlist_and_layout_of_one_board_hold_the_same_nets(boards_dir: Path) -> None:
    folder = boards_dir / "hackrf_marzipan"
    found = compare_boards(read(folder / "board.kicad_pcb"), read(folder / "board.net"))
    assert found.is_same
    assert found.match.only_b == ()
    assert found.parts_only_a == ("MARK1MM",)


def test_a_moved_pad_and_a_joined_net_are_seen(boards_dir: Path) -> None:
    """The comparison can fail: one pad of the layout is put on another net."""
    folder = boards_dir / "pico_ice_r2"
    layout, points = read(folder / "board.kicad_pcb"), read(folder / "board.d356")
    builder = BoardBuilder("changed", source=layout.source)
    builder.capabilities |= {"has_positions"}
    victim = next(i for i in layout.pads_on_net("+3V3") if layout.pad(i).ref.startswith("C"))
    for part in layout.parts:
        index = builder.add_part(part.ref, side=part.side)
        for i in layout.pad_range(part):
            pad = layout.pad(i)
            net = "GND" if i == victim else pad.net
            builder.add_pad(index, pad.pin, net, x_nm=pad.x_nm, y_nm=pad.y_nm, kind=pad.kind)
    found = compare_boards(builder.freeze(), points)
    assert not found.is_same
    (difference,) = found.differ
    assert set(difference.nets_a) >= {"GND"}
    assert f"{layout.pad(victim).part_id}.{layout.pad(victim).pin}" in difference.pads


def test_a_netlist_gives_whole_names_to_a_list_with_cut_ones(boards_dir: Path) -> None:
    folder = boards_dir / "hackrf_marzipan"
    points, netlist = read(folder / "board.kicad6.d356"), read(folder / "board.net")
    assert len(points.unclear_nets) == 282
    board = merge_boards(points, netlist).board
    assert board.unclear_nets == frozenset()
    layout = read(folder / "board.kicad_pcb")
    assert {net.name for net in board.nets} == {net.name for net in netlist.nets}
    assert compare_boards(layout, board).renamed == ()
    values = {part.ref: part.value for part in netlist.parts}
    assert all(part.value == values[part.ref] for part in board.parts if part.ref in values)
    assert {"has_positions", "has_values", "has_pin_names"} <= board.capabilities


def test_nets_whose_cut_names_met_are_told_apart_by_a_netlist(boards_dir: Path) -> None:
    """Names cut by force: the layout's own nets, named by their last eight characters only."""
    layout = read(boards_dir / "hackrf_marzipan" / "board.kicad_pcb")
    lines = ["P  UNITS CUST 1"]
    for pad in layout.pads:
        if pad.net is None or pad.copper_side == "none" or not pad.ref:
            continue
        # all names fill their columns, and many meet
        net = f"{'X' * 8}{pad.net[-6:]:_>6}"
        x, y = round(pad.x_nm / 1000), -round(pad.y_nm / 1000)
        lines.append(
            f"327{net}   {pad.ref[:6]:<6}-{pad.pin[:4]:<4}       A01X{x:+07d}Y{y:+07d}X0500Y0500"
        )
    from netgraph.formats.ipc_d356 import read_ipc_d356

    points = read_ipc_d356("\n".join([*lines, "999"]).encode())
    assert len(points.nets) < len(layout.nets)
    assert points.unclear_nets == {net.name for net in points.nets}
    assert not compare_boards(layout, points).is_same
    merged = merge_boards(points, layout)
    assert compare_boards(layout, merged.board).is_same
    assert [one for one in merged.disagreements if one.about == "net"] == []
    assert merged.board.unclear_nets == frozenset()


def test_only_files_of_two_boards_are_asked_about(boards_dir: Path) -> None:
    """Each layout under its own list, and under the list of every other board."""
    doubts = {"files-of-two-boards", "files-share-nothing"}
    for one in LISTS:
        layout = read(boards_dir / one / "board.kicad_pcb")
        for two, points in LISTS.items():
            merged = merge_boards(layout, read(boards_dir / two / points)).board
            found = {why.code for why in merged.not_known} & doubts
            assert bool(found) == (one != two), (one, two)
