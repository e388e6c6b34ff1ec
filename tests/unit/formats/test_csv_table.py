# SPDX-License-Identifier: GPL-3.0-or-later
"""Tables as people and programs write them, typed by hand."""

from __future__ import annotations

import pytest

from netgraph.errors import BoardFileError
from netgraph.formats.csv_table import CsvReader, read_csv_table
from netgraph.model import Board


def read(text: str) -> Board:
    assert CsvReader().sniff(text.encode()) == 0.5
    return read_csv_table(text.encode())


def fault(text: str) -> BoardFileError:
    with pytest.raises(BoardFileError) as caught:
        read_csv_table(text.encode())
    return caught.value


def codes(board: Board) -> list[str]:
    return [one.code for one in board.warnings]


@pytest.mark.parametrize("sign", [",", ";", "\t", "|"])
def test_a_list_of_pins_in_any_delimiter(sign: str) -> None:
    text = "Ref,Pin,Net\nR1,1,+3V3\nR1,2,GND\nU1,A1,+3V3\nU1,A2,\n".replace(",", sign)
    board = read(text)
    assert board.parts_on_net == {"+3V3": ("R1", "U1"), "GND": ("R1",)}
    assert board.pads[3].net is None
    (mapping,) = [one.text for one in board.warnings if one.code == "columns-read"]
    assert 'ref from "Ref"' in mapping


def test_a_list_of_nets() -> None:
    board = read('net,pins\nVSYS,"U1-3 U2:4, C1.2"\nGND,C1.1\n')
    assert board.parts_on_net["VSYS"] == ("U1", "U2", "C1")


def test_a_list_of_parts_spreads_designators_and_ranges() -> None:
    board = read('Designator,Qty,Value,Package\n"C1, C2",2,100n,0402\nR1-R3,4,10k,0603\n')
    assert [part.ref for part in board.parts] == ["C1", "C2", "R1", "R2", "R3"]
    assert board.part("R2").footprint == "0603"
    assert "quantity-differs" in codes(board)
    assert "no-netlist" in [one.code for one in board.not_known]


@pytest.mark.parametrize(
    ("title", "cell", "fitted"),
    [
        ("DNP", "x", False),
        ("DNP", "", True),
        ("DNP", "no", True),
        ("Populate", "no", False),
        ("Populate", "yes", True),
        ("Fitted", "0", False),
        ("Description", "Not mounted", False),
        ("Assembly", "DNP", False),
    ],
)
def test_columns_that_say_whether_a_part_is_fitted(title: str, cell: str, fitted: bool) -> None:
    board = read(f"Ref,Value,{title}\nR1,10k,{cell}\n")
    assert board.part("R1").fitted is fitted


def test_lines_before_the_titles_units_and_commas_are_understood() -> None:
    board = read(
        "Pick and place\nDate;today\n\nDesignator;Center-X(mil);Center-Y(mil);Layer\n"
        "R1;100,5;200,0;TopLayer\nR2;10mm;20mm;BottomLayer\n"
    )
    one, two = board.parts
    assert (one.x_nm, one.y_nm, one.side) == (2_552_700, -5_080_000, "top")
    assert (two.x_nm, two.y_nm, two.side) == (10_000_000, -20_000_000, "bottom")


def test_a_pos_file_in_inches() -> None:
    board = read(
        "### Footprint positions ###\n## Unit = inches, Angle = deg.\n"
        "# Ref Val Package PosX PosY Rot Side\nR1 10k R_0402 1.0 -2.0 90.0 bottom\n## End\n"
    )
    (part,) = board.parts
    assert (part.x_nm, part.y_nm, part.angle_deg) == (25_400_000, 50_800_000, 90.0)
    assert part.side == "bottom"


def test_what_a_spreadsheet_may_have_changed_is_told() -> None:
    assert "spreadsheet-damage" in codes(read("Ref,Value\n1E5,10k\n3-Jan,x\n"))


def test_formulas_are_text() -> None:
    board = read('Ref,Pin,Net\nR1,1,"=1+1"\n')
    assert board.has_net("=1+1")


def test_empty_titles_and_repeated_ones_do_no_harm() -> None:
    board = read("Ref,,Value,Value,\nR1,a,10k,20k,b\n")
    assert board.part("R1").value == "10k"


@pytest.mark.parametrize(
    ("text", "code", "line"),
    [
        ("Ref,X,Y\nR1,1,2\nR2,nan,3\n", "number-invalid", 3),
        ("Ref,X,Y\nR1,1_0,2\n", "number-invalid", 2),
        ("Ref,X,Y\nR1,1e9,2\n", "number-invalid", 2),
        ("net,pins\nA,U1\n", "file-malformed", 2),
        ("Ref,Value\n", "file-empty", 1),
        ("nothing,known\n1,2\n", "format-unknown", 1),
        ("Ref,Value\n" + ",".join(["x"] * 2000) + "\n", "limit-exceeded", 2),
    ],
)
def test_faults_are_told_with_their_line(text: str, code: str, line: int) -> None:
    with pytest.raises(BoardFileError) as caught:
        read_csv_table(text.encode())
    assert (caught.value.code, caught.value.line) == (code, line)


def test_a_huge_range_is_refused_and_no_part_of_that_name() -> None:
    error = fault("Ref,Value\nR2,1k\nR1-R99999,10k\n")
    assert (error.code, error.line, error.column) == ("limit-exceeded", 3, 1)
    assert "99999 parts, at most 1000 (MAX_RANGE)" in error.message


@pytest.mark.parametrize(
    "text",
    ["Ref,Pin,Net\nC1,1,VDD\nC1,1,GND\nC1,2,GND\n", "Net,Pins\nVDD,C1-1\nGND,C1.1 C1.2\n"],
)
def test_a_pin_on_two_nets_makes_both_unclear(text: str) -> None:
    board = read(text)
    (warning,) = [one for one in board.warnings if one.code == "pin-on-two-nets"]
    assert (warning.text, warning.line) == ("C1.1 stands on VDD and GND; both are kept", 3)
    assert board.unclear_nets == {"VDD", "GND"}
    assert "pin-on-two-nets" in [one.code for one in board.not_known]


def test_pads_of_one_name_that_lie_apart_may_be_on_two_nets() -> None:
    rows = "Ref,Pin,Net,x_mm,y_mm\nJ1,S,GND,1,1\nJ1,S,SHIELD,2,{}\n"
    assert read(rows.format(1)).unclear_nets == frozenset()
    assert read(rows.format(1).replace("S,SHIELD,2", "S,SHIELD,1")).unclear_nets


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        ("Ref,Value\nC1,10uF\nC1,22uF\n", "rows-differ", "value of C1 is 10uF; 22uF of"),
        ("Ref,Value,Package\nC1,1u,0402\nC1,1u,0603\n", "rows-differ", "package of C1"),
        ("Ref,Value,Side\nC1,1u,sideways\n", "side-unknown", "'sideways' of C1"),
        ("Ref,Pin,Net\nC1,1,VDD\nC1,2\n", "row-short", "no cell for net"),
        ("Ref,Pin,Net\nC1,1,VDD,more\n", "row-long", "4 cells under 3 titles"),
        ("Ref,Ref,Value\nC1,C2,1u\n", "column-again", "column 2, 'Ref'"),
    ],
)
def test_what_a_table_says_twice_or_not_at_all_is_warned_of(
    text: str, code: str, words: str
) -> None:
    (warning,) = [one for one in read(text).warnings if one.code == code]
    assert words in warning.text
    assert warning.count == 1


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ('Ref,Pin,Net\n"C1,1,VDD\nC1,2,GND\n', (2, 1)),
        ('Ref,Pin,Net\nC1,"1,VDD\n"C1",2,GND\n', (2, 4)),
    ],
)
def test_an_unclosed_quote_is_told_where_it_opens(text: str, place: tuple[int, int]) -> None:
    error = fault(text)
    assert "quote is not closed" in error.message
    assert (error.line, error.column) == place


def test_a_number_that_is_none_is_told_with_its_column() -> None:
    error = fault('Ref,Note,X,Y\nC1,"a, b",1.5,abc\n')
    assert (error.line, error.column, error.code) == (2, 15, "number-invalid")


def test_a_table_without_sides_says_so_and_calls_no_part_top() -> None:
    board = read("Ref,Pin,Net\nC1,1,VDD\nC1,2,GND\n")
    assert not board.knows_sides
    assert read("Ref,Pin,Net,Side\nC1,1,VDD,top\n").knows_sides
