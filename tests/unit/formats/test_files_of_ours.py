# SPDX-License-Identifier: GPL-3.0-or-later
"""Photo boards, boards as JSON and assemblies: what they hold, and how faults are told."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest

from netgraph.contract.file_schemas import FILES, file_schema
from netgraph.errors import AssemblyError, BoardFileError, NetgraphError, UnknownNameError
from netgraph.formats import read_board
from netgraph.formats.board_json import read_board_json, write_board_json
from netgraph.formats.isolated import read_isolated_file
from netgraph.formats.photo_board import (
    ScalePoint,
    place_of_pixel,
    read_photo_board,
    scale_of,
)
from tests.support import ROOT
from tests.unit.cli.bench_boards import write_assembly, write_photo, write_traced
from tests.unit.cli.run import netgraph
from tests.unit.cli.small_board import write_small_board


def fault(read: Any, data: object) -> BoardFileError:
    text = data if isinstance(data, str) else json.dumps(data)
    with pytest.raises(BoardFileError) as caught:
        read(text.encode())
    return caught.value


# -- schemas --------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", FILES)
def test_the_published_schema_of_a_file_is_that_of_the_program(name: str) -> None:
    path = ROOT / "docs" / "reference" / "file-schema" / f"{name}.schema.json"
    assert json.loads(path.read_text(encoding="utf-8")) == file_schema(name)


def test_what_is_written_fits_the_schema(tmp_path: Path) -> None:
    """jsonschema_rs as an independent judge."""
    photo = json.loads(write_photo(tmp_path).read_text())
    jsonschema_rs.validate(file_schema("photo-board"), photo)
    for path in (write_small_board(tmp_path), write_traced(tmp_path)):
        board = json.loads(write_board_json(read_board(path)))
        jsonschema_rs.validate(file_schema("board"), board)


# -- photo boards ---------------------------------------------------------------------------------


def test_the_scale_takes_out_turn_mirror_and_shear() -> None:
    """By hand: turned by 90 degrees, mirrored, 0.02 mm a pixel along one axis, 0.03 the other."""
    points = tuple(
        ScalePoint(x, y, 10 - 0.03 * y, 5 + 0.02 * x)
        for x, y in ((0.0, 0.0), (900.0, 30.0), (50.0, 700.0))
    )
    assert place_of_pixel(scale_of(points), 100, 200) == (4_000_000, 7_000_000)


@pytest.mark.parametrize(
    "points",
    [
        ((0, 0, 0, 0), (1, 1, 1, 1)),
        ((0, 0, 0, 0), (100, 100, 1, 1), (200, 200, 2, 2)),
        ((0, 0, 0, 0), (100, 0, 1, 1), (0, 100, 2, 2)),
        ((5, 5, 0, 0), (5, 5, 0, 0), (5, 5, 0, 0)),
    ],
)
def test_too_few_points_or_points_on_a_line_give_no_scale(
    points: tuple[tuple[float, float, float, float], ...],
) -> None:
    with pytest.raises(ValueError, match="point"):
        scale_of(tuple(ScalePoint(*one) for one in points))


def test_one_pad_without_a_place_takes_all_distances_away(tmp_path: Path) -> None:
    table = json.loads(write_photo(tmp_path).read_text())
    table["traced"].append("C99.1 : VSYS")
    board = read_photo_board(json.dumps(table).encode())
    assert "has_positions" not in board.capabilities
    (why,) = [one for one in board.not_known if one.code == "some-pad-places"]
    assert dict(why.params)["names"] == "C99"
    assert {pad.x_nm for pad in board.pads} == {0}


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"schema": "netgraph.photo-board/2"}, "version netgraph.photo-board/2"),
        ({"parts": [{"ref": "R1", "side": "left"}]}, "parts[0].side is 'left'"),
        ({"parts": [{"ref": "R1"}, {"ref": "R1"}]}, "'R1' twice"),
        ({"parts": [{"ref": "R1", "pads": [{"pin": "1", "x_px": "a"}]}]}, "parts[0].pads[0].x_px"),
        (
            {"pictures": [{"side": "top", "file": "a"}, {"side": "top", "file": "b"}]},
            "stands twice",
        ),
        ({"traced": ["C1.1 foo"]}, "traced[0]: 'foo' is no pad"),
        ({"parts": 5}, "parts is no list"),
    ],
)
def test_faults_of_a_photo_board_name_their_place(change: dict[str, Any], told: str) -> None:
    table = {"schema": "netgraph.photo-board/1", "name": "x", "pictures": [], "parts": []} | change
    assert told in fault(read_photo_board, table).one_line()


# -- boards as JSON -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"nets": [{"name": ""}]}, "empty name"),
        ({"parts": [{"ref": "R1", "pads": [{"pin": "1", "net": ""}]}]}, "parts[0].pads[0].net"),
        ({"parts": [{"ref": "R1", "x_mm": 1e9}]}, "MAX_COORDINATE_NM"),
        ({"parts": [{"ref": "R1"}, {"ref": "R1"}]}, "parts[1].id stands twice"),
        ({"not_known": [{"code": "never-heard-of"}]}, "not_known[0]"),
        ({"unclear_nets": ["X"]}, "unclear_nets"),
        ({"capabilities": ["has_wings"]}, "has_wings"),
        ({"partial": "yes"}, "partial is neither true nor false"),
        ({"net_ties": [{"part": "Q1", "pins": []}]}, "net_ties[0].part"),
    ],
)
def test_faults_of_a_board_name_their_place(change: dict[str, Any], told: str) -> None:
    table = {"schema": "netgraph.board/1", "parts": [{"ref": "U1", "pads": []}]} | change
    assert told in fault(read_board_json, table).one_line()


@pytest.mark.parametrize("number", ["NaN", "Infinity", "1e999", '"1"', "true"])
def test_what_is_no_number_is_no_length(number: str) -> None:
    text = f'{{"schema":"netgraph.board/1","parts":[{{"ref":"R1","x_mm":{number}}}]}}'
    assert fault(read_board_json, text).code in ("file-malformed", "number-invalid")


def test_broken_json_is_told_with_line_and_column() -> None:
    error = fault(read_board_json, '{"schema":"netgraph.board/1",\n "parts": [}')
    assert (error.line, error.column) == (2, 12)


# -- assemblies -----------------------------------------------------------------------------------


def test_an_assembly_joins_nets_by_mating_pads(tmp_path: Path) -> None:
    board = read_board(write_assembly(tmp_path))
    assert board.part("PANEL/U9").ref == "U9"
    assert "PANEL/U9" in board.parts_on_net["MAIN/+3V3"]
    assert "PANEL/C9" in board.parts_on_net["MAIN/GND"]
    assert not board.has_net("PANEL/GND")
    assert board.partial
    codes = [one.code for one in board.not_known]
    assert {"untraced", "pins-unmated"} <= set(codes)
    # the panel has no places, so the assembly has none
    assert {pad.x_nm for pad in board.pads} == {0}


def test_boards_with_places_are_laid_apart(tmp_path: Path) -> None:
    write_small_board(tmp_path)
    file = tmp_path / "two.toml"
    file.write_text(
        'schema = "netgraph.assembly/1"\n[boards]\nA = "small.kicad_pcb"\nB = "small.kicad_pcb"\n'
        '[[mates]]\na = "A/J1"\nb = "B/J1"\npins = "reversed"\n'
    )
    board = read_board(file)
    xs = {name: [p.x_nm for p in board.pads if p.part_id.startswith(name)] for name in ("A/", "B/")}
    assert min(xs["B/"]) - max(xs["A/"]) >= 100_000_000
    assert "boards-apart" in [one.code for one in board.not_known]
    # reversed: pin 1 of one meets pin 2 of the other, so VBUS and GND of both are one
    assert len([net for net in board.nets if net.name in ("A/VBUS_5V", "B/GND")]) == 1


PANEL_OF_ONE_NET = "# netgraph trace 1\nJ9.1 J9.2 R9.1 : LINK\n"


def assembly_of(tmp_path: Path, mates: str, panel: str = PANEL_OF_ONE_NET) -> Path:
    """A main board as a table, whole; a panel as traced."""
    rows = ["J1,1,VDD", "J1,2,unconnected-(J1-Pad2)", "J1,3,VIO", "C1,1,VDD", "C2,1,VIO"]
    (tmp_path / "main.csv").write_text("\n".join(["Ref,Pin,Net", *rows]))
    (tmp_path / "panel.trace").write_text(panel)
    file = tmp_path / "device.toml"
    file.write_text(
        'schema = "netgraph.assembly/1"\n[boards]\nMAIN = "main.csv"\nPANEL = "panel.trace"\n'
        + mates
    )
    return file


def test_two_nets_of_one_board_that_a_panel_joins_are_named_with_the_pads(tmp_path: Path) -> None:
    mates = '[[mates]]\na = "MAIN/J1"\nb = "PANEL/J9"\npins = { 1 = "1", 3 = "2" }\n'
    board = read_board(assembly_of(tmp_path, mates))
    (why,) = [one for one in board.not_known if one.code == "nets-through-mates"]
    assert dict(why.params) == {
        "nets": "MAIN/VDD and MAIN/VIO",
        "pads": "MAIN/J1.1 to PANEL/J9.1, MAIN/J1.3 to PANEL/J9.2",
    }
    apart = read_board(tmp_path / "device.toml", unplug=("MAIN/J1",))
    assert "nets-through-mates" not in [one.code for one in apart.not_known]


def test_a_made_name_gives_way_and_the_other_names_of_a_net_are_found(tmp_path: Path) -> None:
    mates = '[[mates]]\na = "MAIN/J1"\nb = "PANEL/J9"\npins = { 2 = "1" }\n'
    file = assembly_of(tmp_path, mates)
    board = read_board(file)
    assert board.has_net("PANEL/LINK")
    assert board.known_as("MAIN/unconnected-(J1-Pad2)") == "PANEL/LINK"
    mates = mates.replace("2 =", "1 =")
    board = read_board(assembly_of(tmp_path, mates))
    assert board.known_as("PANEL/LINK") == "MAIN/VDD"
    for words in (
        ("rail", "{}"),
        ("lift", "--short", "{}"),
        ("inject", "{}"),
        ("inject", "MAIN/VIO", "--bridge", "MAIN/VIO", "{}"),
        ("path", "{}", "MAIN/VIO"),
        ("path", "MAIN/VIO", "{}"),
        ("plan", "--short", "{}"),
        ("power", "--feed", "{}"),
        ("isolate", "{}"),
        ("split", "{}"),
        ("predict", "--fault", "leak MAIN/VIO MAIN/VDD 10R", "--at", "{}"),
    ):
        told, wanted = (
            netgraph(words[0], file, *(one.format(name) for one in words[1:]), "--json")
            for name in ("PANEL/LINK", "MAIN/VDD")
        )
        assert (told.status, told.out) == (wanted.status, wanted.out), words
        assert told.status == 0, (words, told.err)
        assert words[0] == "predict" or "PANEL/LINK is one net with MAIN/VDD here" in told.err
    assert netgraph("predict", file, "--fault", "leak MAIN/VIO PANEL/LINK 10R").status == 0
    with pytest.raises(UnknownNameError) as wrong:
        board.net("PANEL/LINK")
    assert "say MAIN/VDD" in wrong.value.one_line()
    cards = tmp_path / "cards.jsonl"
    cards.write_text('{"kind": "ohms", "at": "PANEL/LINK", "value": 1}\n')
    assert netgraph("plan", file, "--short", "MAIN/VDD", "--cards", cards).status == 0
    netgraph("notes", "set", file, "--net", "PANEL/LINK", "--volts", "3.3")
    noted = netgraph("notes", "show", file, "--json").json()
    assert [one["net"] for one in noted["nets"]] == ["MAIN/VDD"]
    isolated = read_isolated_file(file)
    assert isolated.aliases == board.aliases


@pytest.mark.parametrize(
    ("mates", "code", "where"),
    [
        ('[[mates]]\na = "MAIN/J1"\nb = "PANEL/J9"\n' * 2, "mate-again", "device.toml:8"),
        ('[[mates]]\na = "MAIN/J1"\nb = "MAIN/C1"\n', "mate-of-one-board", "device.toml:5"),
        (
            '[[mates]]\na = "MAIN/J1"\nb = "PANEL/J9"\npins = { 1 = "99" }\n',
            "mate-pins-unknown",
            "device.toml:5",
        ),
    ],
)
def test_mates_that_are_likely_a_slip_are_said_with_their_line(
    tmp_path: Path, mates: str, code: str, where: str
) -> None:
    board = read_board(assembly_of(tmp_path, mates))
    (why, *_) = [one for one in board.not_known if one.code == code]
    assert dict(why.params)["where"] == where


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("MAIN/J1", "MAIN/J7", "device.toml:5: MAIN/J7 mates, but main.csv has no such part"),
        ("main.csv", "nope.csv", "device.toml:3: board MAIN: nope.csv: no such file"),
        ("1 =", "99 =", "device.toml:5: MAIN/J1 has no pin '99'"),
        ("PANEL/J9", "MAIN/J1", "device.toml:5: MAIN/J1 mates with itself"),
    ],
)
def test_errors_of_an_assembly_name_its_file_and_line(
    tmp_path: Path, old: str, new: str, told: str
) -> None:
    mates = '[[mates]]\na = "MAIN/J1"\nb = "PANEL/J9"\npins = { 1 = "1" }\n'
    file = assembly_of(tmp_path, mates)
    file.write_text(file.read_text().replace(old, new))
    for words in (("show", file), ("unplug", file, "MAIN/J1")):
        answer = netgraph(*words)
        assert answer.err.startswith(f"netgraph: {tmp_path}/{told}")
        assert answer.status in (3, 4)


def test_drawn_copper_that_an_assembly_leaves_out_is_named(tmp_path: Path) -> None:
    small = tmp_path / write_small_board(tmp_path).name
    track = '(segment (start 1 1) (end 2 1) (width 0.2) (layer "F.Cu") (net 1))'
    (tmp_path / "drawn.kicad_pcb").write_text(small.read_text().rstrip()[:-1] + track + ")")
    file = tmp_path / "two.toml"
    file.write_text(
        'schema = "netgraph.assembly/1"\n[boards]\nA = "small.kicad_pcb"\n'
        'B = "drawn.kicad_pcb"\n[[mates]]\na = "A/J1"\nb = "B/J1"\n'
    )
    (left_out,) = [one for one in read_board(file).not_known if one.code == "boards-copper"]
    assert left_out.params == (("names", "B"),)


@pytest.mark.parametrize(
    ("text", "error", "told"),
    [
        ('[boards]\nA = "../x.net"\n', BoardFileError, "in the folder of the assembly"),
        ('[boards]\nA = "/etc/passwd"\n', BoardFileError, "in the folder of the assembly"),
        ('[boards]\n"A/B" = "x.net"\n', BoardFileError, "holds the name"),
        ('[boards]\nA = "missing.net"\n', BoardFileError, "missing.net"),
        ('[boards]\nA = "device.toml"\n', BoardFileError, "is an assembly itself"),
        (
            '[boards]\nA = "p.trace"\n[[mates]]\na = "A/J1"\nb = "C/J1"\n',
            BoardFileError,
            "mates[0].b",
        ),
        (
            '[boards]\nA = "p.trace"\n[[mates]]\na = "A/J1"\nb = "A/J7"\n',
            AssemblyError,
            "no such part",
        ),
        ("[boards]\n", BoardFileError, "names no board"),
        ("[boards\n", BoardFileError, "no sound TOML"),
    ],
)
def test_faults_of_an_assembly(
    text: str, error: type[NetgraphError], told: str, tmp_path: Path
) -> None:
    (tmp_path / "p.trace").write_text("# netgraph trace 1\nJ1.1 R1.1 : A\n")
    file = tmp_path / "device.toml"
    file.write_text(f'schema = "netgraph.assembly/1"\n{text}')
    with pytest.raises(error) as caught:
        read_board(file)
    assert told in caught.value.one_line()


def test_a_fault_in_a_field_of_json_is_told_with_line_and_column(tmp_path: Path) -> None:
    text = write_board_json(read_board(write_small_board(tmp_path)))
    at = text.index('"pin": ', text.index('"pads"')) + len('"pin": ')
    end = text.index(",", at)
    error = fault(read_board_json, text[:at] + "7" + text[end:])
    assert error.line == text.count("\n", 0, at) + 1
    assert error.column == at - text.rfind("\n", 0, at)
    error = fault(read_board_json, '{"schema": "netgraph.board/1",\n "parts": [{}, 5]}')
    assert (error.line, error.column) == (2, 12)
    error = fault(read_photo_board, "{}")
    assert error.expected == "netgraph.board/1 or netgraph.photo-board/1"
