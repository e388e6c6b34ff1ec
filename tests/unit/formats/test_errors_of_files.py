# SPDX-License-Identifier: GPL-3.0-or-later
"""Each bad file is one error: code, line, column, on one line of text, exit status 3."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from netgraph import limits
from netgraph.errors import BoardFileError, UsageError
from netgraph.formats import read_board
from netgraph.formats.kicad_board import read_kicad_board

GOOD = """(kicad_pcb (version 20211014) (generator pcbnew)
  (layers (0 "F.Cu" signal) (31 "B.Cu" signal))
  (net 0 "")
  (net 1 "GND")
  (footprint "R:R" (layer "F.Cu") (at 1 2 90)
    (fp_text reference "R1" (at 0 0) (layer "F.SilkS"))
    (fp_text value "1k" (at 0 0) (layer "F.Fab"))
    (pad "1" smd rect (at 0 1) (size 1 2) (layers "F.Cu") (net 1 "GND"))
  )
  (segment (start 0 0) (end 1 0) (width 0.2) (layer "F.Cu") (net 1))
  (zone (net 1) (net_name "GND") (layer "F.Cu") (hatch edge 0.5) (min_thickness 0.2)
    (polygon (pts (xy 0 0) (xy 1 0) (xy 1 1)))
    (filled_polygon (layer "F.Cu") (pts (xy 0 0) (xy 1 0) (xy 1 1)))
  )
)
"""
NETLESS = GOOD.replace(' (net 1 "GND"))\n  )', ")\n  )").replace("(net 1)", "(net 0)")
PAD_LINE, PAD_COLUMN = 8, 5


def fault(data: bytes) -> BoardFileError:
    with pytest.raises(BoardFileError) as caught:
        read_kicad_board(data)
    return caught.value


def test_the_good_file_is_read() -> None:
    assert len(read_kicad_board(GOOD.encode()).copper.zones) == 1


CASES = {
    "empty": (b"", "file-empty", 1, 1),
    "blank": (b" \n\t\n" * 200, "file-empty", 1, 1),
    "lfs": (b"version https://git-lfs.github.com/spec/v1\noid sha256:0\n", "format-unknown", 1, 1),
    "schematic": (b"(kicad_sch (version 20211123))", "format-unknown", 1, 1),
    "before 3": (b"PCBNEW-BOARD Version 1 date 1\n", "format-unknown", 1, 1),
    "other": (b"hello", "format-unknown", 1, 1),
    "longer word": (b"(kicad_pcbx (version 4))", "format-unknown", 1, 1),
    "NUL": (GOOD.replace("1k", "1\0k").encode(), "file-malformed", 7, 22),
    "conflict": (
        GOOD.replace("  (net 1", "<<<<<<< HEAD\n  (net 1", 1).encode(),
        "file-malformed",
        4,
        1,
    ),
    "version 3": (GOOD.replace("20211014", "3").encode(), "format-unsupported", 1, 12),
    "no version": (GOOD.replace("(version 20211014)", "").encode(), "file-malformed", 1, 1),
    "version word": (GOOD.replace("20211014", "new").encode(), "file-malformed", 1, 12),
    "huge version": (GOOD.replace("20211014", "9" * 5000).encode(), "file-malformed", 1, 12),
    "netless": (NETLESS.encode(), "no-nets", 5, 3),
    "no footprints": (b'(kicad_pcb (version 4) (net 0 "") (net 1 "A"))', "file-empty", 1, 1),
    "no pads": (
        (GOOD[: GOOD.index("    (pad")] + "))").encode(),
        "no-nets",
        5,
        3,
    ),
    "undefined net": (
        GOOD.replace('(net 1 "GND"))', '(net 7 "GND"))').encode(),
        "reference-undefined",
        8,
        5,
    ),
    "net twice": (GOOD.replace('(net 0 "")', '(net 1 "")').encode(), "file-malformed", 4, 3),
    "net row": (GOOD.replace('(net 0 "")', "(net 0)").encode(), "file-malformed", 3, 3),
    "net name": (GOOD.replace('1 "GND"', '1 "G\\x01"').encode(), "name-invalid", 4, 3),
    "long net name": (GOOD.replace('1 "GND"', f'1 "{"x" * 5000}"').encode(), "name-invalid", 4, 3),
    "pad type": (GOOD.replace("smd rect", "odd rect").encode(), "file-malformed", 8, 5),
    "pad place": (GOOD.replace("(at 0 1)", "").encode(), "file-malformed", 8, 5),
    "pad size": (GOOD.replace("(size 1 2)", "(size 1)").encode(), "file-malformed", 8, 5),
    "short pad": (GOOD.replace("smd rect (at 0 1)", "(at 0 1)").encode(), "file-malformed", 8, 5),
    "pad name": (GOOD.replace('(pad "1"', '(pad "\\1"').encode(), "name-invalid", 8, 5),
    "nan": (GOOD.replace("(at 0 1)", "(at 0 nan)").encode(), "number-invalid", 8, 29),
    "underscore": (GOOD.replace("(at 0 1)", "(at 0 1_0)").encode(), "number-invalid", 8, 29),
    "1e999": (GOOD.replace("(at 0 1)", "(at 1e999 1)").encode(), "number-invalid", 8, 27),
    "far": (GOOD.replace("(at 0 1)", "(at 2148 1)").encode(), "number-invalid", 8, 27),
    "footprint place": (GOOD.replace("(at 1 2 90)", "(at 1)").encode(), "file-malformed", 5, 35),
    "no place": (GOOD.replace("(at 1 2 90)", "").encode(), "file-malformed", 5, 3),
    "no reference": (
        GOOD.replace("fp_text reference", "fp_text user").encode(),
        "file-malformed",
        5,
        3,
    ),
    "reference": (GOOD.replace('"R1"', '"R\\n1"').encode(), "name-invalid", 5, 3),
    "unbalanced": (GOOD.replace("(hatch", "hatch").encode(), "file-malformed", 15, 1),
    "one more": ((GOOD + ")").encode(), "file-malformed", 16, 1),
    "behind": ((GOOD + "x").encode(), "file-malformed", 16, 1),
    "string": (GOOD.replace('"1k"', '"1k').encode(), "file-malformed", None, None),
}


@pytest.mark.parametrize("name", CASES)
def test_code_and_place(name: str) -> None:
    data, code, line, column = CASES[name]
    error = fault(data)
    assert error.code == code
    if line is not None:
        assert (error.line, error.column) == (line, column)
    assert error.exit_status == 3
    assert "\n" not in error.one_line()


BAD_COPPER = {
    "track number": ("(width 0.2) (layer", "(width nan) (layer", "number-invalid"),
    "track far": ("(end 1 0)", "(end 9999 0)", "number-invalid"),
    "track net": ('"F.Cu") (net 1))', '"F.Cu") (net 9))', "reference-undefined"),
    "polygon": ('"F.Cu") (pts (xy 0 0)', '"F.Cu") (pts (xy 0 zero)', "number-invalid"),
    "zone net": ("(zone (net 1)", "(zone (net 9)", "reference-undefined"),
}


@pytest.mark.parametrize("name", BAD_COPPER)
def test_a_fault_in_the_copper_is_told_when_the_copper_is_asked_for(name: str) -> None:
    old, new, code = BAD_COPPER[name]
    assert old in GOOD
    board = read_kicad_board(GOOD.replace(old, new).encode(), file_name="b.kicad_pcb")
    with pytest.raises(BoardFileError) as caught:
        _ = board.copper
    assert caught.value.code == code
    assert caught.value.path == "b.kicad_pcb"
    assert caught.value.line in (10, 11, 13) or name == "track far"


@pytest.mark.parametrize(("name", "most"), [("MAX_PARTS", 0), ("MAX_PADS", 0), ("MAX_NETS", 0)])
def test_a_limit_is_named(monkeypatch: pytest.MonkeyPatch, name: str, most: int) -> None:
    monkeypatch.setattr(limits, name, most)
    error = fault(GOOD.encode())
    assert error.code == "limit-exceeded"
    assert f"the limit is {most}" in error.message


@given(st.integers(0, len(GOOD.rstrip()) - 1))
@example(len(GOOD.rstrip()) - 1)
def test_a_file_cut_at_any_byte_is_an_error(cut: int) -> None:
    """Never a board with a part less: a cut file always has an open bracket."""
    error = fault(GOOD.encode()[:cut])
    assert error.code in ("file-empty", "file-truncated", "format-unknown")
    assert error.line is not None


def test_what_to_do_is_said() -> None:
    assert "fetch the real file" in fault(CASES["lfs"][0]).hint
    assert "schematic" in fault(CASES["schematic"][0]).hint
    assert "KiCad" in fault(CASES["before 3"][0]).hint
    assert "update it from the schematic" in fault(CASES["netless"][0]).hint
    assert fault(CASES["undefined net"][0]).expected == "a number of the net table"


def test_read_board_puts_the_path_into_the_error(tmp_path: Path) -> None:
    path = tmp_path / "bad\nname.kicad_pcb"
    path.write_bytes(CASES["nan"][0])
    with pytest.raises(BoardFileError) as caught:
        read_board(path)
    assert caught.value.one_line().startswith(str(path).replace("\n", "\\n") + ":8:29: 'nan'")


def test_files_that_are_none(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "none.kicad_pcb", Path("a\0b")):
        with pytest.raises(BoardFileError) as caught:
            read_board(path)
        assert (caught.value.code, caught.value.exit_status) == ("file-unreadable", 3)


def test_an_unknown_format_and_an_unknown_reader(tmp_path: Path) -> None:
    other = tmp_path / "x.bin"
    other.write_bytes(b"\x7fELF")
    with pytest.raises(BoardFileError, match="7f 45 4c 46") as caught:
        read_board(other)
    assert caught.value.code == "format-unknown"
    with pytest.raises(UsageError, match="no reader is named"):
        read_board(other, "nothing")
