# SPDX-License-Identifier: GPL-3.0-or-later
"""Inputs that once were read wrongly, hung, or ended in an inner fault."""

from __future__ import annotations

import os

import pytest

from netgraph import limits
from netgraph.errors import BoardFileError, NotesError
from netgraph.formats import encoding, read_board
from netgraph.formats.assembly_pack import pack_assembly
from netgraph.formats.encoding import utf8_with_strays
from netgraph.formats.kicad_board import read_kicad_board
from netgraph.formats.reading import read_data
from netgraph.roles.notes import parse_notes

BOARD = """(kicad_pcb (version 20211014) (generator pcbnew)
  (net 0 "") (net 1 "A")
  (footprint "R" (layer "F.Cu") (at 1 2)
    {reference}
    (fp_text value locked "1k" (at 0 0) (layer "F.Fab"))
    (pad "1" smd custom (at 0 0) (size 1 1) (layers "F.Cu") (net 1 "A")
      (options (clearance outline) (anchor rect)) (primitives ()))
  )
)
"""


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ('(fp_text reference locked "R1" (at 0 0) (layer "F.SilkS"))', "R1"),
        ('(fp_text reference "R1" (at 0 0) (layer "F.SilkS"))', "R1"),
        ("(fp_text reference locked (at 0 0) (layer F.SilkS))", "locked"),
    ],
)
def test_a_locked_reference_is_not_called_locked(text, expected):
    """KiCad 6 writes `locked` before the text of a locked reference or value."""
    part = read_kicad_board(BOARD.format(reference=text).encode()).parts[0]
    assert (part.ref, part.value) == (expected, "1k")


def test_an_empty_primitive_is_passed_over():
    board = read_kicad_board(BOARD.format(reference='(fp_text reference "R1")').encode())
    assert board.copper.custom_pads == {}


def test_a_pipe_is_refused_and_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe.kicad_pcb")
    with pytest.raises(BoardFileError, match="no regular file"):
        read_board(tmp_path / "pipe.kicad_pcb")


@pytest.mark.parametrize(
    "text",
    ["a = " + "[" * 20_000, "a = " + "9" * 5_000, "a" * (1 << 20) + " = 1"],
    ids=["deep", "long number", "long"],
)
def test_notes_that_would_break_the_reader_are_one_line(text):
    with pytest.raises(NotesError) as caught:
        parse_notes(text, path="x.notes.toml")
    assert "\n" not in caught.value.one_line()


@pytest.mark.parametrize("word", ["PAD", "Pad", "footprint", "module", "net"])
def test_a_node_that_would_lose_a_pad_is_an_error(word):
    """A misspelt pad, or a footprint within a footprint, is not passed over in silence."""
    text = BOARD.format(reference='(fp_text reference "R1")')
    text = text.replace('(pad "1"', f'({word} "2" smd rect (at 0 0) (size 1 1))\n    (pad "1"')
    with pytest.raises(BoardFileError, match="can't stand in a footprint") as caught:
        read_kicad_board(text.encode())
    assert (caught.value.line, caught.value.column) == (6, 5)


def test_an_unknown_node_is_counted_and_passed_over():
    text = BOARD.format(reference='(fp_text reference "R1")\n    (novel thing) (novel other)')
    board = read_kicad_board(text.encode())
    assert [(w.code, w.count, w.line) for w in board.warnings] == [("unknown-node", 2, 5)]


def test_real_boards_hold_no_unknown_node(boards_dir):
    """All shared boards, from file version 4 to 10."""
    files = [*boards_dir.glob("*/board.kicad_pcb"), *boards_dir.glob("samples/*.kicad_pcb")]
    assert len(files) >= 8
    for path in files:
        assert "unknown-node" not in {one.code for one in read_board(path).warnings}, path


def test_a_polygon_of_very_many_arcs_is_refused_before_they_are_drawn():
    arc = "(arc (start 0 0) (mid 1 1) (end 2 0))"
    zone = '(zone (net 1) (net_name "A") (layer "F.Cu") (polygon (pts ' + arc * 20_001 + ")))"
    text = BOARD.format(reference='(fp_text reference "R1")').rstrip()[:-1] + zone + "\n)\n"
    board = read_kicad_board(text.encode())
    with pytest.raises(BoardFileError, match="arcs in one polygon"):
        board.copper  # noqa: B018


PAD = '(pad "1" smd custom (at 0 0) (size 1 1) (layers "F.Cu") (net 1 "A")'
PLAIN = BOARD.format(reference='(fp_text reference "R1")')


def warned(text: str) -> list[tuple[str, int, int | None]]:
    return [(w.code, w.count, w.line) for w in read_kicad_board(text.encode()).warnings]


def test_a_misspelt_net_of_a_pad_is_told():
    """The pad looks unconnected; both the usual form and the rare one are looked at."""
    usual = '(pad "2" smd rect (at 0 0) (size 1 1) (layers "F.Cu") (nes 1 "A"))\n    '
    bare = '(pad "3" smd rect (at 0 0) (size 1 1) (layers "F.Cu") (nit 1 A))\n    '
    assert warned(PLAIN.replace(PAD, usual + bare + PAD)) == [("unknown-node", 2, 6)]


def test_a_head_of_a_pad_in_other_letters_is_an_error():
    with pytest.raises(BoardFileError, match="'Net' can't stand in a pad"):
        read_kicad_board(PLAIN.replace('(net 1 "A")\n', '(Net 1 "A")\n').encode())


@pytest.mark.parametrize("word", ["footprinu", "foot", "modulf"])
def test_a_misspelt_footprint_is_told(word):
    """The first four letters are right: the whole word decides."""
    text = PLAIN.rstrip()[:-1] + f'({word} "R" (layer "F.Cu") (at 1 2))\n)\n'
    assert [one[:2] for one in warned(text)] == [("unknown-node", 1)]


def test_a_misspelt_text_of_a_part_is_told():
    assert warned(PLAIN.replace("(fp_text value", "(fp_texu value")) == [("unknown-node", 1, 5)]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('(layers "F.Cu")', '(layers "F.cu")'),
        ('"R" (layer "F.Cu")', '"R" (layer "B.cu")'),
        (PAD, '(pad "1" smd rect (at 0 0) (size 1 1) (layers F.Top F.Mask) (net 1 "A"))' + PAD),
    ],
)
def test_a_layer_that_is_none_is_told(old, new):
    assert [one[:2] for one in warned(PLAIN.replace(old, new))] == [("unknown-layer", 1)]


def test_real_boards_name_no_unknown_layer(boards_dir):
    files = [*boards_dir.glob("*/board.kicad_pcb"), *boards_dir.glob("samples/*.kicad_pcb")]
    assert len(files) >= 8
    for path in files:
        assert "unknown-layer" not in {one.code for one in read_board(path).warnings}, path


def test_a_damaged_layer_table_turns_no_board_over():
    """From KiCad 6 on each board has both outer layers, whatever the table says."""
    table = '(layers (0 "F.cu" signal) (31 "B.Cu" signal))\n  (net 0'
    text = PLAIN.replace("(net 0", table).replace('"R" (layer "F.Cu")', '"R" (layer "B.Cu")')
    board = read_kicad_board(text.encode())
    assert (board.copper_layers, board.parts[0].side) == (("F.Cu", "B.Cu"), "bottom")


def test_one_stray_byte_changes_only_its_own_letter():
    data = PLAIN.replace('"1k"', '"10\u00b5F \u00b1"').encode()
    board = read_kicad_board(data.replace(b"\xc2\xb1", b"\xb1"))
    assert board.parts[0].value == "10\u00b5F \u00b1"
    assert [(w.code, w.line) for w in board.warnings] == [("encoding", 5)]


def test_a_stray_byte_at_the_end_of_a_chunk_and_of_the_text(monkeypatch):
    for size in range(1, 9):
        monkeypatch.setattr(encoding, "_CHUNK_BYTES", size)
        assert utf8_with_strays(b"ab\xc2\xb5\xe9c\xc2") == ("ab\u00b5\u00e9c\u00c2".encode(), 4)


def test_bytes_that_are_no_text_are_refused():
    with pytest.raises(BoardFileError, match="no text file"):
        utf8_with_strays(b"(kicad_pcb " + b"\xff" * 200_001)


def test_a_copper_error_names_the_place_and_the_path(tmp_path):
    track = "\n  (segment (start 1 2) (end {x} 4) (width 0.2) (layer F.Cu) (net 1))"
    path = tmp_path / "x.kicad_pcb"
    path.write_text(PLAIN.rstrip()[:-1] + track.format(x=3) + track.format(x=99999) + "\n)\n")
    with pytest.raises(BoardFileError) as caught:
        read_board(path).copper  # noqa: B018
    lines = path.read_text().split("\n")
    line = next(i for i, one in enumerate(lines, 1) if "99999" in one)
    assert (caught.value.line, caught.value.column) == (line, lines[line - 1].index("99999") + 1)
    assert caught.value.path == str(path)


@pytest.mark.parametrize("points", ["(xy 9z 9)", "(xy 1) (xy 3 4 5)", "(xye 1 2)", "(xy 1 )"])
def test_a_damaged_polygon_point_is_no_other_point(points):
    zone = f'\n(zone (net 1) (layer "F.Cu") (polygon (pts\n (xy 0 0)\n {points})))\n)\n'
    board = read_kicad_board((PLAIN.rstrip()[:-1] + zone).encode())
    with pytest.raises(BoardFileError) as caught:
        board.copper  # noqa: B018
    line = (PLAIN.rstrip()[:-1] + zone).split("(xy 0 0)")[0].count("\n") + 2
    assert (caught.value.line, caught.value.column) == (line, 2)


def test_a_polygon_point_in_another_style_is_read():
    zone = '(zone (net 1) (layer "F.Cu") (polygon (pts (xy 0  0)\n( xy 1 0 )\t("xy" 1 1))))\n)\n'
    zones = read_kicad_board((PLAIN.rstrip()[:-1] + zone).encode()).copper.zones
    assert zones[0].outline.tolist() == [[0, 0], [1_000_000, 0], [1_000_000, 1_000_000]]


def test_arcs_of_many_polygons_are_counted_together(monkeypatch):
    monkeypatch.setattr(limits, "MAX_ARCS_OF_ALL_POLYGONS", 5)
    arcs = "(arc (start 0 0) (mid 1 1) (end 2 0))" * 2
    zone = f'(zone (net 1) (layer "F.Cu") (polygon (pts {arcs})))'
    head = PLAIN.rstrip()[:-1]
    assert len(read_kicad_board(f"{head}{zone * 2})".encode()).copper.zones) == 2
    with pytest.raises(BoardFileError, match="arcs in all polygons"):
        read_kicad_board(f"{head}{zone * 3})".encode()).copper  # noqa: B018


def nets_of(data: bytes, name: str) -> list[str | None]:
    return [pad.net for pad in read_data(data, file_name=name).pads]


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("a.csv", b"Ref,Pin,Net\nU1,1,A\x81\nU1,2,A\x8d\n"),
        ("a.trace", b"# netgraph trace 1\nU1.1 U2.1\nU3.1 U4.1 : NET_U1.1\n"),
        (
            "a.net",
            b"(export (version D) (components) "
            b'(nets (net (code 5) (name "") (node (ref U1) (pin 1)))'
            b' (net (code 6) (name "N-5") (node (ref U2) (pin 1)))))',
        ),
    ],
)
def test_two_nets_never_become_one_by_their_names(name: str, data: bytes) -> None:
    """Undefined bytes of Windows-1252, and names that the program makes beside given ones."""
    assert len(set(nets_of(data, name))) == 2


@pytest.mark.parametrize(
    ("name", "data", "told"),
    [
        (
            "a.net",
            b"(export (version D) (components) (nets (net (node (ref U1) (pin 1)))))",
            "a net without name and code",
        ),
        (
            "a.csv",
            b'Ref,Pin,Net,Value\nU1,1,A,"10k\nU2,1,B,4k7\nU3,1,C,"1k"\nU4,1,D,1k\n',
            "a quote is not closed",
        ),
        (
            "a.toml",
            b'schema = "netgraph.assembly/1"\n[boards]\nA = "a.csv"\nx = ' + b"9" * 5000,
            "no sound TOML",
        ),
    ],
)
def test_what_can_not_be_told_is_refused(name: str, data: bytes, told: str) -> None:
    with pytest.raises(BoardFileError) as error:
        read_data(data, file_name=name)
    assert told in error.value.message


GRAPH = (
    '<graphml xmlns="http://graphml.graphdrawing.org/xmlns"><key id="k" attr.name="kind"/>'
    '<key id="n" attr.name="name"/><key id="p" attr.name="pin"/>{keys}<graph>'
    '<node id="a"><data key="k">part</data><data key="n">R1</data>{part}</node>'
    '<node id="x"><data key="k">net</data><data key="n">GND</data></node>'
    '<node id="y"><data key="k">net</data><data key="n">{second}</data></node>'
    '<edge source="a" target="x"><data key="p">1</data>{edge}</edge></graph></graphml>'
)
SOUND = {"keys": "", "part": "", "second": "VCC", "edge": ""}


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"second": "GND"}, "two nets are named 'GND'"),
        ({"keys": '<key id="n" attr.name="value"/>'}, "declared twice"),
        ({"part": '<data key="n">R2</data>'}, "stands twice"),
        ({"part": "<graph><node id='b'/></graph>"}, "a graph within the graph"),
        (
            {
                "keys": "<node/>",
                "second": "VCC</data></node><hyperedge/><node id='z'><data key='k'>"
                "net</data><data key='n'>VX",
            },
            "a hyperedge within the graph",
        ),
        (
            {
                "keys": '<key id="d" attr.name="pad" attr.type="int"/>',
                "edge": f'<data key="d">{"9" * 400}</data>',
            },
            "no number",
        ),
        (
            {
                "keys": '<key id="o" attr.name="open_pins"/>',
                "part": '<data key="o">[{"pad": 1e400, "pin": "8"}]</data>',
            },
            "open_pins can't be read",
        ),
    ],
)
def test_a_graph_that_says_two_things_is_refused(change: dict[str, str], told: str) -> None:
    assert nets_of(GRAPH.format(**SOUND).encode(), "a.graphml") == ["GND"]
    with pytest.raises(BoardFileError) as error:
        read_data(GRAPH.format(**SOUND | change).encode(), file_name="a.graphml")
    assert told in error.value.message


def test_a_file_of_another_folder_is_not_taken_for_a_missing_one() -> None:
    """Both boards are called board.trace; only one of them is in the ZIP."""
    toml = (
        b'schema = "netgraph.assembly/1"\n[boards]\n'
        b'A = "main/board.trace"\nB = "panel/board.trace"\n'
    )
    packed = pack_assembly({"d.toml": toml, "board.trace": b"# netgraph trace 1\nU1.1 U2.1 : A\n"})
    with pytest.raises(BoardFileError) as error:
        read_data(packed, file_name="d.zip")
    assert "which is not among its files" in error.value.message


def test_an_inner_element_does_not_pass_for_an_attribute() -> None:
    """GraphML tells ends of an edge in attributes alone (graphml-structure.xsd)."""
    text = GRAPH.format(**SOUND | {"edge": "<target>y</target>"})
    assert nets_of(text.encode(), "a.graphml") == ["GND"]


@pytest.mark.parametrize(
    ("text", "key", "place"),
    [
        ('{"schema": "netgraph.board/1",\n "name": "a", "name": "b"}', "name", (2, 15)),
        (
            '{"schema": "netgraph.board/1", "parts": [{"ref": "R:\\"1",\n'
            ' "pads": [{"pin": "1", "net": "A"}, {"pin": "2", "net": "B",\n  "net": "C"}]}]}',
            "net",
            (3, 3),
        ),
        ('{"schema": "netgraph.photo-board/1",\n"parts": [], "parts": []}', "parts", (2, 14)),
    ],
)
def test_a_key_that_stands_twice_is_refused(text: str, key: str, place: tuple[int, int]) -> None:
    """RFC 8259, 4: names within an object should be unique; the last one won in silence."""
    with pytest.raises(BoardFileError) as error:
        read_data(text.encode(), file_name="a.json")
    assert error.value.message == f"the key {key!r} stands twice in one object"
    assert (error.value.line, error.value.column) == place


def test_number_0_is_no_net_in_a_board_without_a_table() -> None:
    """A third-party writer's form of version 20260206: KiCad takes a bare integer for a number."""
    text = (
        '(kicad_pcb (version 20260206) (footprint "R" (layer "F.Cu") (at 1 2)'
        ' (property "Reference" "R1") (pad "1" smd rect (at 0 0) (size 1 1) (layers "F.Cu")'
        ' (net 0)) (pad "2" smd rect (at 1 0) (size 1 1) (layers "F.Cu") (net "0"))))'
    )
    assert nets_of(text.encode(), "a.kicad_pcb") == [None, "0"]


def test_a_pad_on_two_nets_of_a_kicad_board_is_an_error() -> None:
    text = BOARD.format(reference='(fp_text reference "R1")')
    with pytest.raises(BoardFileError, match="a pad on two nets"):
        read_kicad_board(
            text.replace('(net 1 "A")\n      (opt', '(net 1 "A") (net 0 "")\n (opt').encode()
        )


def test_a_name_under_two_numbers_of_the_net_table_is_told() -> None:
    text = BOARD.format(reference='(fp_text reference "R1")')
    board = read_kicad_board(
        text.replace('(net 1 "A")\n  (foot', '(net 1 "A") (net 2 "A")\n (foot').encode()
    )
    assert [one.code for one in board.warnings] == ["net-named-twice"]


def test_signs_that_look_like_blanks_are_told() -> None:
    board = read_data("Ref,Pin,Net\nU1,1,A\u00a0\nU1,2,A\n".encode(), file_name="a.csv")
    assert "blank-signs" in [one.code for one in board.warnings]
    assert [pad.net for pad in board.pads] == ["A", "A"]


def test_no_message_echoes_a_whole_cell() -> None:
    with pytest.raises(BoardFileError) as error:
        read_data(b"Net,Pins\nA,U1.1\nB," + b"x" * 5000 + b"\n", file_name="a.csv")
    assert len(error.value.one_line()) < 700


def test_a_line_of_a_warning_counts_from_1() -> None:
    text = (
        b'{"schema": "netgraph.board/1", "parts": [{"ref": "R1"}],'
        b' "warnings": [{"code": "x", "text": "y", "line": -5}]}'
    )
    with pytest.raises(BoardFileError, match=r"warnings\[0\].line is -5"):
        read_data(text, file_name="a.json")


@pytest.mark.parametrize("ending", ["json", "graphml"])
def test_a_pin_on_two_nets_is_told(ending: str) -> None:
    """As in tables and KiCad netlists: neither net is sure."""
    edge = '</edge><edge source="a" target="y"><data key="p">1</data>'
    data = {
        "json": '{"schema": "netgraph.board/1", "parts": [{"ref": "R1", "pads": ['
        '{"pin": "1", "net": "GND"}, {"pin": "1", "net": "VCC"}]}]}',
        "graphml": GRAPH.format(**SOUND | {"edge": edge}),
    }[ending]
    board = read_data(data.encode(), file_name=f"a.{ending}")
    assert [one.code for one in board.not_known if one.code == "pin-on-two-nets"]
    assert board.unclear_nets == {"GND", "VCC"}
