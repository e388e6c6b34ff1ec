# SPDX-License-Identifier: GPL-3.0-or-later
"""Faults of KiCad files: where they stand, and what is no KiCad board at all."""

from __future__ import annotations

import re

from netgraph.errors import BoardFileError, ErrorCode
from netgraph.formats.structure import place_of

_CONFLICT_MARKS = (b"\n<<<<<<< ", b"\n>>>>>>> ")


class FileError(Exception):
    """A fault at a byte offset; turned into a ``BoardFileError`` with line and column."""

    def __init__(
        self, offset: int, message: str, expected: str = "", code: ErrorCode = "file-malformed"
    ) -> None:
        super().__init__(message)
        self.offset = offset
        self.message = message
        self.expected = expected
        self.code: ErrorCode = code

    def placed(self, data: bytes) -> BoardFileError:
        """The same fault with line and column; the path is left to the caller."""
        line, column = place_of(data, self.offset)
        return BoardFileError(
            self.code, self.message, line=line, column=column, expected=self.expected
        )


def refuse_strangers(data: bytes) -> None:
    """Stop at what is no KiCad board: empty, another format, a pointer, an unresolved merge.

    Raises
    ------
    BoardFileError
        With line, column and what to do.
    FileError
        A NUL byte stands in the file.
    """
    head = data[:400].lstrip()
    if not head and not data.strip():
        raise BoardFileError(
            "file-empty", "the file is empty", line=1, column=1, expected="'(kicad_pcb'"
        )
    nul = data.find(b"\0")
    if nul >= 0:
        raise FileError(nul, "a NUL byte: this is no text file, or a damaged one", "text")
    # A comment may stand before the board [kicad-lexer]; the caller has blanked it out.
    head = head or data.lstrip()[:400]
    if not re.match(rb'\(\s*"?kicad_pcb["\s()]', head) and head not in (b"(kicad_pcb", b"("):
        shown = head[:16].decode("utf-8", "replace")
        raise BoardFileError(
            "format-unknown",
            f"begins with {shown!r}, which is no KiCad board",
            line=1,
            column=1,
            expected="'(kicad_pcb'",
            hint=_hint(head),
        )
    for mark in _CONFLICT_MARKS:
        stale = data.find(mark)
        if stale >= 0:
            line, column = place_of(data, stale + 1)
            raise BoardFileError(
                "file-malformed",
                "a merge conflict mark stands in the file",
                line=line,
                column=column,
                hint="resolve the conflict in KiCad or take one side's file",
            )


def _hint(head: bytes) -> str:
    if head.startswith(b"version https://git-lfs"):
        return "this is only a pointer to a file kept elsewhere; fetch the real file"
    if head.startswith(b"PCBNEW-BOARD"):
        return "a board older than KiCad 3; open and save it with a current KiCad"
    if re.match(rb"\(\s*kicad_sch", head):
        return "this is a schematic; the board is the .kicad_pcb file beside it"
    return ""
