# SPDX-License-Identifier: GPL-3.0-or-later
"""Real boards, read by us and by independent programs: KiCad's own loader, kiutils, D-356 export.

The boards and what the other programs said of them (``pads.csv``: KiCad 6.0.11, kiutils 1.4.8)
lie outside the repository; the rules of comparison are those of their README.
"""

from __future__ import annotations

import csv
import re
from collections import Counter, defaultdict
from functools import cache
from pathlib import Path

import pytest

from netgraph.formats import read_board
from netgraph.model import Board, Pad

# name: parts, pads, named nets, copper layers
# (table in the README of the boards: counted by KiCad 6.0.11, glasgow_c3 by kiutils 1.4.8)
README = {
    "teres_main_c": (453, 2118, 474, 6),
    "glasgow_c3": (272, 1149, 251, 4),
    "pico_ice_r2": (100, 453, 99, 4),
    "pocketbeagle": (50, 486, 187, 4),
    "scalenode": (161, 798, 283, 4),
    "orangecrab_r021": (163, 1097, 170, 6),
    "hackrf_marzipan": (432, 1625, 378, 4),
}


@cache
def board_of(folder: Path) -> Board:
    return read_board(folder / "board.kicad_pcb")


def one_overbar_form(name: str) -> str:
    """A net name with overbars as ``~{...}``: in old files ``~`` toggles, and may stay open."""
    if "~{" in name or "~" not in name:
        return name
    pieces = name.split("~")
    return "".join(
        piece if index % 2 == 0 else f"~{{{piece}}}" for index, piece in enumerate(pieces) if piece
    )


def rows_of(folder: Path) -> list[dict[str, str]]:
    with (folder / "pads.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def is_pin(pad: Pad) -> bool:
    """KiCad 6 drops the pin name of pads without copper and of non-plated holes."""
    return pad.copper_side != "none" and pad.kind != "hole"


@pytest.mark.parametrize("name", README)
def test_the_counts_are_those_of_the_other_programs(boards_dir: Path, name: str) -> None:
    board = board_of(boards_dir / name)
    found = (len(board.parts), len(board.columns), len(board.nets), len(board.copper_layers))
    assert found == README[name]


@pytest.mark.parametrize("name", README)
def test_every_pad_is_where_the_other_program_sees_it(boards_dir: Path, name: str) -> None:
    """Reference, net, side as multisets per place; place within 1 um, angle within 0.1 degree."""
    board = board_of(boards_dir / name)
    wanted: defaultdict[tuple[str, str, str], list[tuple[float, float, float, str]]]
    wanted = defaultdict(list)
    for row in rows_of(boards_dir / name):
        key = (row["ref"], one_overbar_form(row["net"]), row["side"])
        x, y, angle = float(row["x_mm"]), float(row["y_mm"]), float(row["angle_deg"])
        wanted[key].append((x, y, angle, row["pin"]))
    for pad in board.pads:
        left = wanted[pad.ref, one_overbar_form(pad.net or ""), pad.side]
        for index, (x, y, angle, pin) in enumerate(left):
            turn = (pad.angle_deg - angle) % 360.0
            if (
                abs(pad.x_nm / 1e6 - x) <= 0.001
                and abs(pad.y_nm / 1e6 - y) <= 0.001
                and min(turn, 360.0 - turn) <= 0.1
                and (pad.pin == pin or not is_pin(pad))
            ):
                del left[index]
                break
        else:
            pytest.fail(f"{pad} is not among {left}")
    assert not any(wanted.values()), {key: left for key, left in wanted.items() if left}


@pytest.mark.parametrize("name", README)
def test_pads_have_copper_on_the_side_that_the_other_program_names(
    boards_dir: Path, name: str
) -> None:
    """How many pads of each reference have copper on the top, the bottom, or neither."""
    board = board_of(boards_dir / name)
    top, bottom = board.copper_layers[0], board.copper_layers[-1]

    def side(layers: set[str]) -> str:
        if {top, bottom} <= layers or "*.Cu" in layers:
            return "both"
        if top in layers or bottom in layers:
            return "top" if top in layers else "bottom"
        return "inner" if layers & set(board.copper_layers) else "none"

    wanted = Counter(
        (row["ref"], side(set(re.split(r"[ ;,|]+", row["copper_layers"]))))
        for row in rows_of(boards_dir / name)
    )
    assert Counter((pad.ref, pad.copper_side) for pad in board.pads) == wanted


def test_the_newest_format_gives_what_another_reader_counted(boards_dir: Path) -> None:
    """KiCad 10, nets by name only; counts from the samples' README (a separate count).

    Two of its four zones are keep-out areas, which are no copper.
    """
    board = read_board(boards_dir / "samples" / "lcdtap_rp2350.kicad_pcb")
    copper = board.copper
    assert (len(board.parts), len(board.columns), len(board.nets)) == (100, 335, 91)
    assert len(copper.vias) == 275
    assert len(copper.zones) + copper.skipped["keepout-zone"] == 4
    assert sorted(part.id for part in board.parts if not part.fitted) == ["J2", "J3"]


@pytest.mark.parametrize("name", ["pico_ice_r2", "glasgow_c3"])
def test_kiutils_sees_the_same_pads_tracks_and_zones(boards_dir: Path, name: str) -> None:
    """kiutils reads KiCad 6 to 8 files; it shares no code with our reader."""
    kiutils = pytest.importorskip("kiutils.board")
    items = pytest.importorskip("kiutils.items.brditems")
    path = boards_dir / name / "board.kicad_pcb"
    other = kiutils.Board.from_file(str(path), encoding="utf-8")
    board = board_of(boards_dir / name)
    assert len(other.footprints) == len(board.parts)
    pads = Counter(
        (str(pad.number), pad.net.name if pad.net else "", pad.type, pad.shape)
        for footprint in other.footprints
        for pad in footprint.pads
    )
    kinds = {"smd": "smd", "through": "thru_hole", "hole": "np_thru_hole", "edge": "connect"}
    assert (
        Counter((pad.pin, pad.net or "", kinds[pad.kind], pad.shape) for pad in board.pads) == pads
    )
    names = {net.number: net.name for net in other.nets}
    assert {net.name for net in board.nets} == set(names.values()) - {""}
    our_names = [net.name for net in board.nets] + [""]  # -1 is no net
    tracks, vias = board.copper.tracks, board.copper.vias
    assert Counter(
        (round(one.start.X * 1e6), round(one.end.Y * 1e6), one.layer, names[one.net])
        for one in other.traceItems
        if isinstance(one, items.Segment)
    ) == Counter(
        (start[0], end[1], board.copper_layers[layer], our_names[net])
        for start, end, layer, net in zip(
            tracks.start.tolist(), tracks.end.tolist(), tracks.layer, tracks.net, strict=True
        )
    )
    assert Counter(
        (round(one.position.X * 1e6), round(one.size * 1e6), round(one.drill * 1e6), names[one.net])
        for one in other.traceItems
        if isinstance(one, items.Via)
    ) == Counter(
        (at[0], size, drill, our_names[net])
        for at, size, drill, net in zip(
            vias.at.tolist(), vias.size.tolist(), vias.drill.tolist(), vias.net, strict=True
        )
    )
    zones = [zone for zone in other.zones if zone.keepoutSettings is None]
    assert Counter(
        (zone.netName, tuple(len(one.coordinates) for one in zone.filledPolygons)) for zone in zones
    ) == Counter(
        (our_names[zone.net], tuple(len(fill.points) for fill in zone.fills))
        for zone in board.copper.zones
    )


@pytest.mark.parametrize("name", [name for name in README if name != "glasgow_c3"])
def test_the_test_points_of_the_d356_file_are_our_connected_pads(
    boards_dir: Path, name: str
) -> None:
    """IPC-D-356A, exported by KiCad 6.0.11 or the board's makers.

    One record (317, 327) for each pad with copper: columns 4-17 the net, empty or ``N/C`` for
    none, columns 21-26 the reference, cut at six characters, ``VIA`` for a via.
    """
    path = next((boards_dir / name).glob("*.d356"))
    records = Counter(
        line[20:26].strip()
        for line in path.read_text("utf-8", "replace").splitlines()
        if line[:3] in ("317", "327") and line[3:17].strip() not in ("", "N/C")
    )
    board = board_of(boards_dir / name)
    vias = records.pop("VIA")
    assert vias == int((board.copper.vias.net >= 0).sum())
    assert records == Counter(
        pad.ref[:6].strip()
        for pad in board.pads
        if pad.net is not None and pad.copper_side != "none"
    )


@pytest.mark.parametrize("name", README)
def test_the_pieces_of_the_outline_join_to_closed_loops(boards_dir: Path, name: str) -> None:
    """A board's edge is closed: each end of a line or arc meets another within 0.1 mm."""
    ends = [
        tuple(point)
        for shape in board_of(boards_dir / name).copper.outline
        if shape.kind in ("line", "arc")
        for point in (shape.points[0].tolist(), shape.points[-1].tolist())
    ]
    assert len(ends) >= 8
    for index, (x, y) in enumerate(ends):
        near = [
            other
            for other, (u, v) in enumerate(ends)
            if other != index and abs(u - x) <= 100_000 and abs(v - y) <= 100_000
        ]
        assert near, (x, y)
