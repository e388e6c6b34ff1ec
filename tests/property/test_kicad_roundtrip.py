# SPDX-License-Identifier: GPL-3.0-or-later
"""A board that is written and read again is the same board; kiutils and KiCad agree on the file."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import hypothesis
import numpy as np
import pytest
from hypothesis import given

from netgraph.errors import WriterError
from netgraph.formats import read_board
from netgraph.formats.kicad_board import read_kicad_board
from netgraph.formats.kicad_write import write_kicad_board
from netgraph.formats.sexpr import plain
from netgraph.formats.writing import save_kicad_board
from netgraph.model import Board, BoardBuilder, Copper, NetTie
from tests.property.board_strategies import boards

SHARED = (
    "teres_main_c",
    "glasgow_c3",
    "pico_ice_r2",
    "pocketbeagle",
    "scalenode",
    "orangecrab_r021",
    "hackrf_marzipan",
)


def again(board: Board, **how: bool) -> Board:
    return read_kicad_board(write_kicad_board(board, **how).encode("utf-8"))


def assert_same_netlist(one: Board, two: Board) -> None:
    """Parts, pads, nets and ties, all exact; angles within a billionth of a degree."""
    assert two.parts == one.parts
    assert [net.name for net in two.nets] == [net.name for net in one.nets]
    assert sorted(two.net_ties, key=repr) == sorted(one.net_ties, key=repr)
    for name in one.columns.__slots__:
        left, right = getattr(one.columns, name), getattr(two.columns, name)
        if name == "angle_deg":
            assert np.allclose((left - right + 180.0) % 360.0, 180.0, rtol=0.0, atol=1e-9)
        else:
            assert np.array_equal(left, right), name


def shapes_of(copper: Copper) -> dict[str, Any]:
    """All of the copper as plain lists, so that it can be compared."""
    lines = {
        f"{name}.{column}": getattr(getattr(copper, name), column).tolist()
        for name in ("tracks", "arcs", "vias")
        for column in getattr(copper, name).__slots__
    }
    zones = [
        (
            zone.net,
            zone.name,
            zone.layers,
            zone.priority,
            zone.teardrop,
            zone.outline.tolist(),
            [(fill.layer, fill.grow_nm, fill.points.tolist()) for fill in zone.fills],
        )
        for zone in copper.zones
    ]
    custom = {
        index: [(one.kind, one.width_nm, one.filled, one.points.tolist()) for one in shapes]
        for index, shapes in copper.custom_pads.items()
    }
    outline = sorted((one.kind, one.points.tolist()) for one in copper.outline)
    return lines | {"zones": zones, "custom": custom, "outline": outline}


@given(boards())
def test_a_random_board_comes_back(board: Board) -> None:
    read = again(board)
    assert_same_netlist(board, read)
    assert shapes_of(read.copper) == shapes_of(board.copper)
    assert read.fingerprint == board.fingerprint


@given(boards(positions=False, drawn=False))
def test_a_board_without_positions_comes_back_and_claims_none(board: Board) -> None:
    read = again(board)
    assert_same_netlist(board, read)
    assert "has_copper" not in read.capabilities
    assert ("has_positions" in read.capabilities) == (len(board.columns) == 1)
    assert len(read.copper.outline) == 1


@given(boards())
def test_the_text_depends_on_the_board_alone(board: Board) -> None:
    assert write_kicad_board(board) == write_kicad_board(board)


@hypothesis.settings(max_examples=40)
@given(boards())
def test_kiutils_reads_the_same_names_and_places(tmp_path_factory: Any, board: Board) -> None:
    """kiutils as second reader; it takes off quotes and ``\\"`` only, the other escapes stay."""
    kiutils = pytest.importorskip("kiutils.board")
    path = tmp_path_factory.mktemp("kiutils") / "board.kicad_pcb"
    save_kicad_board(board, path)
    other = kiutils.Board.from_file(str(path), encoding="utf-8")

    def said(text: object) -> str:
        return plain('"' + re.sub(r'(?<!\\)"', r"\"", str(text)) + '"')

    assert [said(net.name) for net in other.nets[1:]] == [net.name for net in board.nets]
    for part, footprint in zip(board.parts, other.footprints, strict=True):
        kept = {one.type: said(one.text) for one in footprint.graphicItems}
        assert (kept["reference"], kept["value"]) == (part.ref, part.value)
        assert round(footprint.position.X * 1e6) == part.x_nm
        pads = [board.pad(index) for index in board.pad_range(part)]
        assert [said(pad.number) for pad in footprint.pads] == [pad.pin for pad in pads]
        assert [pad.net and said(pad.net.name) for pad in footprint.pads] == [
            pad.net for pad in pads
        ]


@pytest.mark.parametrize("name", SHARED)
def test_a_real_board_comes_back(boards_dir: Path, tmp_path: Path, name: str) -> None:
    """Files of the versions 4 to 8, with all copper; only net classes are left out."""
    board = read_board(boards_dir / name / "board.kicad_pcb")
    dropped: Counter[str] = Counter()
    save_kicad_board(board, tmp_path / "again.kicad_pcb", dropped=dropped)
    read = read_board(tmp_path / "again.kicad_pcb")
    assert set(dropped) <= {"net-class"}
    assert_same_netlist(board, read)
    assert shapes_of(read.copper) == shapes_of(board.copper)
    assert read.stackup == board.stackup


def test_a_board_without_table_comes_back(boards_dir: Path) -> None:
    """KiCad 10: nets by name only, parts not fitted by attribute."""
    board = read_board(boards_dir / "samples" / "lcdtap_rp2350.kicad_pcb")
    read = again(board)
    assert_same_netlist(board, read)
    assert read.parts[9].not_fitted_because == "attribute dnp"


LOAD = """
import json, sys
import pcbnew
rows = []
board = pcbnew.LoadBoard(sys.argv[1])
for footprint in board.GetFootprints():
    for pad in footprint.Pads():
        at = pad.GetPosition()
        rows.append([footprint.GetReference(), footprint.IsFlipped(), pad.GetNetname(), at.x, at.y,
                     pad.GetOrientation() / 10 % 360, pad.GetSize().x, pad.GetSize().y])
print("\\n" + json.dumps([rows, len(board.GetTracks()), len(board.Zones())]))
"""
KICAD = "/usr/bin/python3"


def by_kicad(path: Path) -> tuple[Counter[tuple[Any, ...]], int, int]:
    """What KiCad's own module sees: pads, number of tracks with vias, number of zones."""
    if (
        not Path(KICAD).exists()
        or subprocess.run([KICAD, "-c", "import pcbnew"], capture_output=True).returncode
    ):
        pytest.skip("KiCad's Python module is not installed")
    done = subprocess.run([KICAD, "-c", LOAD, str(path)], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr[-500:]
    rows, tracks, zones = json.loads(done.stdout.strip().splitlines()[-1])
    return Counter((*row[:5], round(row[5], 3) % 360, *row[6:]) for row in rows), tracks, zones


def seen_by_us(board: Board) -> Counter[tuple[Any, ...]]:
    return Counter(
        (
            pad.ref,
            pad.side == "bottom",
            pad.net or "",
            pad.x_nm,
            pad.y_nm,
            round(pad.angle_deg % 360, 3) % 360,
            pad.width_nm,
            pad.height_nm,
        )
        for pad in board.pads
    )


@pytest.mark.deep
@pytest.mark.parametrize("name", SHARED)
def test_kicad_itself_loads_the_file_and_sees_the_same_pads(
    boards_dir: Path, tmp_path: Path, name: str
) -> None:
    """KiCad 6's module; every position to the nanometre, for rotated footprints too."""
    board = read_board(boards_dir / name / "board.kicad_pcb")
    save_kicad_board(board, tmp_path / "again.kicad_pcb")
    pads, tracks, zones = by_kicad(tmp_path / "again.kicad_pcb")
    assert pads == seen_by_us(board)
    copper = board.copper
    assert tracks == len(copper.tracks) + len(copper.arcs) + len(copper.vias)
    assert zones == len(copper.zones)


@pytest.mark.deep
def test_kicad_itself_loads_odd_names_angles_and_shapes(tmp_path: Path) -> None:
    """One board with what random boards hold; pads within 1 nm, since KiCad rounds twice."""
    builder = BoardBuilder("odd")
    builder.copper_layers = ("Top", "Inner", "Bottom")
    odd = ['a"b', "back\\", "#x", "(net 5)", "a b", "µΩ", "~{WR}", "5", "1E5"]
    for index, name in enumerate(odd):
        part = builder.add_part(
            name,
            value=f"{name}\n\\",
            footprint=name,
            side=("top", "bottom")[index % 2],  # type: ignore[arg-type]
            x_nm=10_000_001 * index,
            y_nm=-3_333_333 * index,
            angle_deg=17.3 * index,
            not_fitted_because="lifted",
            attributes=("dnp",),
            fields=((name, name),),
        )
        for pin, kind in enumerate(("smd", "through", "hole", "edge")):
            for shape in ("circle", "rect", "oval", "roundrect", "trapezoid", "custom"):
                builder.add_pad(
                    part,
                    f"{name}{pin}",
                    name,
                    kind=kind,  # type: ignore[arg-type]
                    shape=shape,
                    x_nm=10_000_001 * index + 777_777 * pin,
                    y_nm=12_345_679 * pin,
                    angle_deg=33.3,
                    drill_nm=300_000 if kind in ("through", "hole") else 0,
                )
    board = builder.freeze()
    save_kicad_board(board, tmp_path / "odd.kicad_pcb")
    pads, _, _ = by_kicad(tmp_path / "odd.kicad_pcb")

    def near(counter: Counter[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
        return sorted(counter.elements())

    for one, two in zip(near(pads), near(seen_by_us(board)), strict=True):
        assert one[:3] == two[:3]
        assert abs(one[3] - two[3]) <= 1
        assert abs(one[4] - two[4]) <= 1
        assert one[5:] == two[5:]


def two_pads(**part: Any) -> BoardBuilder:
    builder = BoardBuilder("small")
    index = builder.add_part("R1", **part)
    builder.add_pad(index, "1", "A", x_nm=1_000_000)
    builder.add_pad(index, "2", "B", x_nm=2_000_000)
    return builder


@pytest.mark.parametrize("bad", ["a\x01b", "\x7f", "x\ud800"])
def test_a_control_character_is_refused(bad: str) -> None:
    with pytest.raises(WriterError, match="control character"):
        write_kicad_board(two_pads(value=bad).freeze())


def test_a_part_beyond_kicads_coordinates_is_refused() -> None:
    builder = two_pads(x_nm=-2_000_000_000)
    builder.add_pad(0, "3", "A", x_nm=2_000_000_000)
    with pytest.raises(WriterError, match="2147 mm"):
        write_kicad_board(builder.freeze())


def test_what_is_left_out_is_counted() -> None:
    builder = two_pads(fields=(("K", "1"), ("K", "2"), ("Value", "3")))
    builder.add_net("A", net_class="power")
    dropped: Counter[str] = Counter()
    board = builder.freeze()
    write_kicad_board(board, dropped=dropped)
    assert dropped == {"net-class": 1, "field-repeated": 1, "field-reserved": 1}
    assert again(board).parts[0].fields == (("K", "1"),)


def test_a_field_with_one_of_our_own_names_is_refused() -> None:
    with pytest.raises(WriterError, match="this name is taken"):
        write_kicad_board(two_pads(fields=(("netgraph.net_ties", "x"),)).freeze())


def test_a_lifted_part_stays_lifted_and_an_overruled_mark_stays_overruled() -> None:
    lifted = two_pads(value="10k").freeze().without({"R1"})
    assert again(lifted).parts[0].not_fitted_because == "lifted"
    overruled = two_pads(value="DNP").freeze()
    assert again(overruled).parts[0].fitted


def test_a_part_that_is_not_fitted_for_no_reason_stays_so() -> None:
    """The mark with an empty text stands for a fitted part."""
    bare = two_pads(not_fitted_because="").freeze()
    assert not bare.parts[0].fitted
    assert again(bare).parts[0].not_fitted_because == "no reason given"


def test_an_explicit_net_tie_comes_back() -> None:
    builder = two_pads()
    builder.add_net_tie(0, ("1", "2"))
    assert again(builder.freeze()).net_ties == (NetTie("R1", ("1", "2")),)


def test_without_copper_only_the_outline_is_drawn(boards_dir: Path) -> None:
    board = read_board(boards_dir / "pico_ice_r2" / "board.kicad_pcb")
    read = again(board, with_copper=False)
    assert_same_netlist(board, read)
    assert len(read.copper.tracks) + len(read.copper.vias) + len(read.copper.zones) == 0
    assert len(read.copper.outline) == len(board.copper.outline)


def test_kiutils_is_loaded_only_when_a_board_is_written() -> None:
    code = "import sys, netgraph.formats.writing; print('kiutils' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_a_folder_that_is_not_there_is_an_error_of_ours(tmp_path: Path) -> None:
    with pytest.raises(WriterError, match="can't be written"):
        save_kicad_board(two_pads().freeze(), tmp_path / "none" / "x.kicad_pcb")
