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


def test_a_huge_range_is_a_name_and_no_thousand_parts() -> None:
    assert len(read("Ref,Value\nR1-R99999,10k\n").parts) == 1
