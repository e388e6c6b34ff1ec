# SPDX-License-Identifier: GPL-3.0-or-later
"""Records typed by hand after the columns of IPC-D-356A, as restated in public readers."""

from __future__ import annotations

import pytest

from netgraph.errors import BoardFileError
from netgraph.formats.ipc_d356 import IpcD356Reader, read_ipc_d356
from netgraph.model import Board

HEAD = "C  made by hand\nP  UNITS CUST 0\n"


def record(
    net: str, ref: str, pin: str, x: int, y: int, *, op: str = "327", access: str = "01"
) -> str:
    hole = "D0200P" if op == "317" else " " * 6
    return f"{op}{net:<14}   {ref:<6}-{pin:<4} {hole}A{access}X{x:+07d}Y{y:+07d}X0200Y0100R090 S0"


def board(*records: str, head: str = HEAD) -> Board:
    return read_ipc_d356((head + "\n".join([*records, "999", ""])).encode())


def codes(found: Board) -> list[str]:
    return [one.code for one in found.warnings]


def fault(text: str) -> BoardFileError:
    with pytest.raises(BoardFileError) as caught:
        read_ipc_d356(text.encode("latin-1"))
    return caught.value


def test_a_record_has_net_part_pin_place_size_and_turn() -> None:
    """One count is 0.0001 inch = 2540 nm; y is turned to run down."""
    (pad,) = board(record("GND", "U1", "A1", 1000, -2000)).pads
    assert (pad.ref, pad.pin, pad.net) == ("U1", "A1", "GND")
    assert (pad.x_nm, pad.y_nm) == (2_540_000, 5_080_000)
    assert (pad.width_nm, pad.height_nm, pad.angle_deg) == (508_000, 254_000, 90.0)
    assert (pad.kind, pad.copper_side) == ("smd", "top")


@pytest.mark.parametrize(("unit", "nm"), [("CUST 0", 2540), ("CUST", 2540), ("CUST 1", 1000)])
def test_units(unit: str, nm: int) -> None:
    found = board(record("A", "R1", "1", 100, 0), head=f"P  UNITS {unit}\n")
    assert found.pads[0].x_nm == 100 * nm


def test_a_missing_unit_is_assumed_and_said() -> None:
    found = board(record("A", "R1", "1", 100, 0), head="C  nothing\n")
    assert found.pads[0].x_nm == 254_000
    assert "units-assumed" in codes(found)


def test_the_highest_access_is_the_bottom() -> None:
    found = board(
        record("A", "R1", "1", 0, 0),
        record("A", "R2", "1", 9, 0, access="04"),
        record("B", "J1", "1", 5, 5, op="317", access="00"),
    )
    assert [pad.copper_side for pad in found.pads] == ["top", "bottom", "both"]
    assert [part.side for part in found.parts] == ["top", "bottom", "top"]
    assert len(found.copper_layers) == 4


@pytest.mark.parametrize("carry", ["M0000", "NNAMEM0000"])
@pytest.mark.parametrize("letter", ["P", "C"])
def test_an_alias_in_parameters_or_comments_is_put_back(letter: str, carry: str) -> None:
    head = f"{HEAD}{letter}  NNAMEM0000 /a/long/name/of a net\n"
    found = board(record(carry, "R1", "1", 0, 0), head=head)
    assert [net.name for net in found.nets] == ["/a/long/name/of a net"]
    assert found.unclear_nets == frozenset()


def test_no_net_is_no_net_for_each_pad_alone() -> None:
    found = board(record("N/C", "U1", "1", 0, 0), record("", "U1", "2", 9, 0))
    assert [pad.net for pad in found.pads] == [None, None]
    assert found.nets == ()


def test_a_name_that_fills_its_columns_is_unclear_unless_cut_names_are_numbered() -> None:
    full, numbered = "WER/BANK2/AUX1", "/BANK2/AUX#1"
    alone = board(record(full, "R1", "1", 0, 0), record("GND", "R1", "2", 9, 0))
    assert alone.unclear_nets == {full}
    assert [one.code for one in alone.not_known] == ["names-cut"]
    # the last ten characters of the full name, and a number: this writer keeps them apart
    kept = board(record(full, "R1", "1", 0, 0), record(f"{full[-10:]}#1", "R1", "2", 9, 0))
    assert kept.unclear_nets == frozenset()
    other = board(record(full, "R1", "1", 0, 0), record(numbered, "R1", "2", 9, 0))
    assert other.unclear_nets == {full}


def test_two_parts_of_one_cut_designator_are_told_apart_by_place() -> None:
    """MountingHole1 and 2 both become Mounti; here two connectors 50 mm apart."""
    found = board(
        record("A", "EMMC_P", "1", 0, 0),
        record("GND", "EMMC_P", "2", 500, 0),
        record("B", "EMMC_P", "1", 20_000, 0),
        record("GND", "EMMC_P", "2", 20_500, 0),
    )
    assert [part.id for part in found.parts] == ["EMMC_P", "EMMC_P@2"]
    assert found.nets_of_part == {"EMMC_P": ("A", "GND"), "EMMC_P@2": ("B", "GND")}
    assert "designators-cut" in codes(found)
    assert "parts-cut" in [one.code for one in found.not_known]


def test_a_short_designator_is_never_split() -> None:
    found = board(record("A", "NT1", "1", 0, 0), record("B", "NT1", "1", 20_000, 0))
    assert len(found.parts) == 1
    assert "pin-on-two-nets" in codes(found)


def test_vias_are_copper_and_no_parts() -> None:
    found = board(
        record("GND", "R1", "1", 0, 0),
        "317GND              VIA        MD0160PA00X+042690Y-064830X0310Y0000R000S3",
    )
    assert [part.ref for part in found.parts] == ["R1"]
    vias = found.copper.vias
    assert vias.at.tolist() == [[42690 * 2540, 64830 * 2540]]
    assert (vias.size.tolist(), vias.drill.tolist()) == ([310 * 2540], [160 * 2540])


def test_traces_are_read_with_what_they_leave_out() -> None:
    """After the grammar of 378: a missing X or Y repeats the last; stars part the chains."""
    found = board(
        record("SDA", "U1", "1", 0, 0),
        "378SDA           L01 X0100 X+001000Y+002000 X+003000*X0Y0",
        "078              Y+000500",
    )
    tracks = found.copper.tracks
    assert tracks.width.tolist() == [254_000, 254_000]
    assert tracks.start.tolist() == [[2_540_000, -5_080_000], [0, 0]]
    assert tracks.end.tolist() == [[7_620_000, -5_080_000], [0, -1_270_000]]
    assert tracks.net.tolist() == [0, 0]
    assert "has_copper" in found.capabilities


def test_numbers_filled_with_blanks_and_short_lines_are_read() -> None:
    """As in a file of 2015: ``X  14900Y   1450X 396Y 396``, no rotation."""
    (pad,) = board("317GND              J1    -1    D  24PA00X  14900Y   1450X 396Y 396").pads
    assert (pad.x_nm, pad.y_nm) == (14900 * 2540, -1450 * 2540)
    assert (pad.width_nm, pad.drill_nm) == (396 * 2540, 24 * 2540)


def test_longer_names_of_356b_are_read() -> None:
    name = "A_NAME_OF_17_LONG"
    (pad,) = board(f"327{name}U1    -1          A01X+000000Y+000000").pads
    assert pad.net == name


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_all_ends_of_lines(end: str) -> None:
    text = f"P  UNITS CUST 0{end}{record('A', 'R1', '1', 7, 0)}{end}999{end}"
    assert read_ipc_d356(text.encode()).pads[0].x_nm == 7 * 2540


def test_a_cut_file_is_refused() -> None:
    error = fault(HEAD + record("A", "R1", "1", 0, 0) + "\n")
    assert error.code == "file-truncated"
    assert "999" in error.one_line()


@pytest.mark.parametrize(
    ("line", "code", "number"),
    [
        (record("A", "R1", "1", 0, 0).replace("X+000000", "X+00o000"), "number-invalid", 3),
        (record("A", "R1", "1", 0, 0)[:45], "number-invalid", 3),
        (record("A\x01", "R1", "1", 0, 0), "name-invalid", 3),
        ("Q27 what is this", "file-malformed", 3),
    ],
)
def test_a_broken_record_is_told_with_its_line(line: str, code: str, number: int) -> None:
    error = fault(f"{HEAD}{line}\n999\n")
    assert (error.code, error.line) == (code, number)


def test_records_behind_the_end_are_refused_and_words_are_not_read() -> None:
    """Two lists one after the other lost the second without a word."""
    with pytest.raises(BoardFileError) as error:
        board(record("A", "R1", "1", 0, 0), "999", record("B", "R2", "1", 0, 0))
    assert "1 test points stand behind the end record" in error.value.message
    found = board(record("A", "R1", "1", 0, 0), "999", "made by hand")
    assert len(found.parts) == 1


def test_a_net_called_like_an_alias_is_another_net() -> None:
    """With NNAME1 in the records, a plain 1 is a net of that name."""
    long = "P  NNAME1 A_REALLY_LONG_NET_NAME"
    found = board(long, record("NNAME1", "U1", "1", 0, 0), record("1", "U1", "2", 9, 0))
    assert [pad.net for pad in found.pads] == ["A_REALLY_LONG_NET_NAME", "1"]
    found = board(long, record("1", "U1", "1", 0, 0))
    assert [pad.net for pad in found.pads] == ["A_REALLY_LONG_NET_NAME"]


def test_a_lone_carriage_return_ends_a_line_too() -> None:
    """The record behind it was part of the comment or stood beyond column 80, and was lost."""
    text = "P  UNITS CUST 0\n" + record("A", "U1", "1", 0, 0) + "\r"
    text += record("B", "U2", "1", 9, 0) + "\nC  words\r" + record("B", "U3", "1", 9, 9) + "\n999\n"
    found = read_ipc_d356(text.encode())
    assert [part.ref for part in found.parts] == ["U1", "U2", "U3"]


@pytest.mark.parametrize("by", [-1, 1])
def test_a_record_whose_columns_are_shifted_is_refused(by: int) -> None:
    line = record("A", "U1", "1", 0, 0)
    shifted = line[:22] + line[22 + 1 :] if by < 0 else line[:22] + " " + line[22:]
    with pytest.raises(BoardFileError) as error:
        board(shifted)
    assert error.value.message == "the columns of the record are shifted"


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        (["P  NNAME1 " + "A" * 5000], "MAX_ALIAS_LINE"),
        (["P  NNAME1 LONG_A", "P  NNAME1 LONG_B"], "NNAME1 stands for two names"),
        (["P  UNITS CUST 10"], "units CUST 10"),
    ],
)
def test_parameters_that_say_two_things_or_too_much_are_refused(
    lines: list[str], told: str
) -> None:
    with pytest.raises(BoardFileError) as error:
        read_ipc_d356("\n".join([*lines, record("A", "R1", "1", 0, 0), "999", ""]).encode())
    assert told in error.value.message


def test_other_blanks_than_the_plain_one_are_signs_of_a_name() -> None:
    nbsp = record("GND", "U1", "1", 0, 0).replace("GND ", "GND\xa0")
    found = board(nbsp, record("GND", "U2", "1", 9, 0))
    assert len({pad.net for pad in found.pads}) == 2


def test_records_that_are_not_read_are_counted() -> None:
    found = board(record("A", "R1", "1", 0, 0), "347 tooling", "379SDA", "047 more")
    (skipped,) = [one for one in found.warnings if one.code == "record-skipped"]
    assert skipped.count == 1 or skipped.count == 2


@pytest.mark.parametrize(
    "text", ["C1,10k,0402\n", "(kicad_pcb", "", "G04 a drawing*\n", "C12.1 L3.2 : VSYS\n"]
)
def test_other_formats_are_not_taken_for_it(text: str) -> None:
    assert IpcD356Reader().sniff(text.encode()) == 0.0


def test_aliases_hold_signs_of_all_scripts_and_records_only_latin_ones() -> None:
    """Read as one sign for all, two nets of other scripts became one net."""
    head = f"{HEAD}P  NNAME1 Ω\nP  NNAME2 中\n"
    text = head + record("NNAME1", "R1", "1", 0, 0) + "\n" + record("NNAME2", "R1", "2", 9, 0)
    board = read_ipc_d356((text + "\n999\n").encode())
    assert [net.name for net in board.nets] == ["Ω", "中"]
    for end in ("\n", "\r\n", "\r"):
        lines = [
            HEAD.strip("\n"),
            record("µ", "R1", "1", 0, 0),
            record("Ω", "R1", "2", 9, 0),
            "999",
        ]
        with pytest.raises(BoardFileError, match="fixed columns") as caught:
            read_ipc_d356("\n".join(lines).replace("\n", end).encode())
        assert caught.value.code == "name-invalid"
        assert caught.value.line == HEAD.strip("\n").count("\n") + 3
        assert caught.value.column == 4
