# SPDX-License-Identifier: GPL-3.0-or-later
"""A board that is written and read again is the same board, up to what the format can hold.

What each format can't hold is told on its page in docs/reference and counted by the writer.
"""

from __future__ import annotations

import csv
import io
from collections import Counter
from pathlib import Path

import networkx as nx
import pytest
from hypothesis import assume, given

from netgraph.errors import WriterError
from netgraph.formats import read_board
from netgraph.formats.board_json import read_board_json, write_board_json
from netgraph.formats.csv_table import read_csv_table
from netgraph.formats.csv_write import write_csv_table
from netgraph.formats.graphml_write import write_graphml
from netgraph.formats.ipc_d356 import read_ipc_d356
from netgraph.formats.ipc_d356_write import write_ipc_d356
from netgraph.formats.kicad_netlist import read_kicad_netlist
from netgraph.formats.kicad_netlist_write import write_kicad_netlist
from netgraph.formats.writing import WRITERS, save_board
from netgraph.model import Board, BoardBuilder
from netgraph.model.compare import compare_boards
from netgraph.reasons import reason
from tests.property.board_strategies import boards

REAL = (
    "pico_ice_r2",
    "pocketbeagle",
    "scalenode",
    "orangecrab_r021",
    "hackrf_marzipan",
    "glasgow_c3",
    "teres_main_c",
)


def partition(board: Board) -> set[frozenset[tuple[str, str]]]:
    """Nets as sets of (identity, pin)."""
    nets: dict[str, set[tuple[str, str]]] = {}
    for pad in board.pads:
        if pad.net is not None:
            nets.setdefault(pad.net, set()).add((pad.part_id, pad.pin))
    return {frozenset(pins) for pins in nets.values()}


# -- JSON: everything but copper ------------------------------------------------------------------


@given(boards(drawn=False))
def test_json_holds_all_of_the_netlist(board: Board) -> None:
    again = read_board_json(write_board_json(board).encode())
    assert again.parts == board.parts
    assert again.nets == board.nets
    assert again.pads == board.pads
    assert again.net_ties == board.net_ties
    assert again.copper_layers == board.copper_layers
    assert again.capabilities == board.capabilities - {"has_copper"}
    assert again.fingerprint == board.fingerprint


def test_json_keeps_what_is_not_known() -> None:
    builder = BoardBuilder("open")
    part = builder.add_part("U1", part_id="MAIN/U1")
    builder.add_pad(part, "1", "A")
    builder.partial = True
    builder.unclear_nets.add("A")
    builder.not_known.append(reason("untraced", pads=1, nets=1))
    builder.warn("odd", "something", line=3, count=2)
    again = read_board_json(write_board_json(builder.freeze()).encode())
    assert again.partial
    assert again.unclear_nets == {"A"}
    assert again.not_known == (reason("untraced", pads=1, nets=1),)
    assert again.parts[0].id == "MAIN/U1"
    assert again.parts[0].ref == "U1"
    assert (again.warnings[0].code, again.warnings[0].count) == ("odd", 2)


# -- KiCad netlist --------------------------------------------------------------------------------


@given(boards(drawn=False))
def test_a_netlist_holds_parts_nets_and_pins(board: Board) -> None:
    assume(all(part.id and not part.id.startswith("#") for part in board.parts))
    # one pin on two nets is written twice and read twice, and "~" stands for no value
    assume(
        all(part.value != "~" and part.footprint not in ("~", "$noname") for part in board.parts)
    )
    again = read_kicad_netlist(write_kicad_netlist(board).encode())
    assert [part.ref for part in again.parts] == [part.id for part in board.parts]
    assert [part.value for part in again.parts] == [part.value for part in board.parts]
    assert [part.footprint for part in again.parts] == [part.footprint for part in board.parts]
    for one, two in zip(board.parts, again.parts, strict=True):
        assert dict(two.fields) == {key: text for key, text in one.fields if key and text}
        assert one.fitted or not two.fitted
    assert partition(again) == partition(board)
    names = {pad.net for pad in board.pads if pad.net is not None}
    assert {net.name for net in again.nets} == names
    # pins without a net come back too, by the list of pins of the part
    pins = {(pad.part_id, pad.pin) for pad in board.pads if pad.pin}
    assert {(pad.ref, pad.pin) for pad in again.pads if pad.pin} == pins


# -- CSV ------------------------------------------------------------------------------------------

_WORDLESS = {"", "-", "n/c", "nc", "no_net", "none"}


def is_plain(board: Board) -> bool:
    """Names that a table can hold: cells are trimmed, and a few words stand for no net."""
    texts = [
        *(part.id for part in board.parts),
        *(part.value for part in board.parts),
        *(part.footprint for part in board.parts),
        *(net.name for net in board.nets),
        *(pad.pin for pad in board.pads),
    ]
    return (
        all(text == text.strip() and text.isprintable() for text in texts)
        and all(part.id for part in board.parts)
        and not any(net.name.casefold() in _WORDLESS for net in board.nets)
    )


@given(boards(drawn=False))
def test_a_table_holds_pads_with_places(board: Board) -> None:
    assume(is_plain(board))
    again = read_csv_table(write_csv_table(board).encode())
    assert [part.ref for part in again.parts] == [part.id for part in board.parts]
    assert [part.side for part in again.parts] == [part.side for part in board.parts]
    assert [part.value for part in again.parts] == [part.value for part in board.parts]
    assert all(two.fitted <= one.fitted for one, two in zip(board.parts, again.parts, strict=True))
    known = [pad for pad in board.pads if pad.pin or pad.net]
    read = [pad for pad in again.pads if pad.pin or pad.net]
    assert [(pad.part_id, pad.pin, pad.net) for pad in known] == [
        (pad.ref, pad.pin, pad.net) for pad in read
    ]


@pytest.mark.parametrize("name", REAL)
def test_a_table_of_a_real_board_is_read_by_the_standard_library_too(
    boards_dir: Path, name: str
) -> None:
    """Python's csv module as second reader; places exact."""
    board = read_board(boards_dir / name / "board.kicad_pcb")
    text = write_csv_table(board)
    rows = [
        row for row in csv.DictReader(io.StringIO(text)) if row["pin"] or row["net"] or row["x_mm"]
    ]
    assert Counter((row["ref"], row["pin"], row["net"]) for row in rows) == Counter(
        (pad.part_id, pad.pin, pad.net or "") for pad in board.pads
    )
    again = read_csv_table(text.encode())
    assert again.columns.x_nm.tolist() == board.columns.x_nm.tolist()
    assert again.columns.y_nm.tolist() == board.columns.y_nm.tolist()


# -- IPC-D-356A -----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", REAL)
def test_a_list_of_a_real_board_holds_its_nets_with_whole_names(
    boards_dir: Path, name: str
) -> None:
    board = read_board(boards_dir / name / "board.kicad_pcb")
    text = write_ipc_d356(board)
    assert all(line.isascii() or line.startswith("P  NNAME") for line in text.splitlines())
    again = read_ipc_d356(text.encode())
    found = compare_boards(board, again)
    assert found.is_same
    assert found.renamed == ()
    assert found.unclear_b == ()
    assert found.match.worst_nm is not None
    assert found.match.worst_nm <= 1000
    assert len(again.copper.vias) == len(board.copper.vias)


def small_board() -> BoardBuilder:
    builder = BoardBuilder("small")
    builder.capabilities.add("has_positions")
    for ref, net, x in (("R1", "A LONG NAME WITH BLANKS", 1), ("R2", "N0001", 2)):
        part = builder.add_part(ref)
        builder.add_pad(part, "1", net, x_nm=x * 1_000_000, y_nm=-5_500_000)
        builder.add_pad(part, "2", None, x_nm=x * 1_000_000 + 500_000, y_nm=7_000)
        builder.add_pad(part, "3", "GND", x_nm=x * 1_000_000, kind="through", drill_nm=300_000)
    return builder


def test_names_that_need_an_alias_get_one_and_others_stay() -> None:
    """A name that looks like one of our aliases needs one itself."""
    board = small_board().freeze()
    again = read_ipc_d356(write_ipc_d356(board).encode())
    assert {net.name for net in again.nets} == {net.name for net in board.nets}
    assert partition(again) == partition(board)
    assert [(pad.x_nm, pad.y_nm) for pad in again.pads] == [
        (pad.x_nm, pad.y_nm) for pad in board.pads
    ]
    assert [pad.drill_nm for pad in again.pads] == [pad.drill_nm for pad in board.pads]


def test_a_board_without_places_makes_no_list() -> None:
    builder = small_board()
    builder.capabilities.clear()
    with pytest.raises(WriterError, match="no places"):
        write_ipc_d356(builder.freeze())


# -- GraphML --------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", REAL)
def test_graphml_is_read_by_networkx_with_the_same_nodes_and_edges(
    boards_dir: Path, name: str
) -> None:
    """networkx as the reader of another program's hand."""
    board = read_board(boards_dir / name / "board.kicad_pcb")
    graph = nx.parse_graphml(write_graphml(board))
    assert graph.number_of_nodes() == len(board.parts) + len(board.nets)
    assert graph.number_of_edges() == int((board.columns.net >= 0).sum())
    edges = Counter(
        (a.removeprefix("part:"), data["pin"], b.removeprefix("net:"))
        for a, b, data in graph.edges(data=True)
    )
    assert edges == Counter(
        (pad.part_id, pad.pin, pad.net) for pad in board.pads if pad.net is not None
    )


# -- all of them ----------------------------------------------------------------------------------


@pytest.mark.parametrize("writer", [one.name for one in WRITERS])
def test_what_is_saved_is_told_by_its_content(tmp_path: Path, writer: str) -> None:
    (chosen,) = [one for one in WRITERS if one.name == writer]
    path = tmp_path / f"x{chosen.suffix}"
    save_board(small_board().freeze(), path)
    if writer == "graphml":
        assert nx.read_graphml(path).number_of_nodes() == 5
        return
    again = read_board(path)
    assert again.source.format == writer
    assert {net.name for net in again.nets} == {"A LONG NAME WITH BLANKS", "N0001", "GND"}


def test_a_file_that_can_t_be_written_leaves_the_old_one(tmp_path: Path) -> None:
    path = tmp_path / "x.d356"
    path.write_text("old")
    builder = small_board()
    builder.capabilities.clear()
    with pytest.raises(WriterError):
        save_board(builder.freeze(), path)
    assert path.read_text() == "old"
    assert [one.name for one in tmp_path.iterdir()] == ["x.d356"]
