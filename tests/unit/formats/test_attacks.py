# SPDX-License-Identifier: GPL-3.0-or-later
"""Inputs that once were read wrongly, hung, or ended in an inner fault."""

from __future__ import annotations

import os

import pytest

from netgraph.errors import BoardFileError, NotesError
from netgraph.formats import read_board
from netgraph.formats.kicad_board import read_kicad_board
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
