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
