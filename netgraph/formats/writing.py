# SPDX-License-Identifier: GPL-3.0-or-later
"""Save a board as a file; the only place in the formats that writes to the disk."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from netgraph.errors import WriterError
from netgraph.formats.kicad_write import write_kicad_board
from netgraph.model.board import Board


def save_kicad_board(
    board: Board,
    path: str | Path,
    *,
    with_copper: bool = True,
    dropped: Counter[str] | None = None,
) -> None:
    """Save a board as a KiCad 6 file; see ``write_kicad_board`` for what it holds.

    The text is made as a whole before the file is touched.

    Raises
    ------
    WriterError
        The board can't be written in this format, or the file can't be written.
    """
    written = write_kicad_board(board, with_copper=with_copper, dropped=dropped)
    try:
        Path(path).write_text(written, encoding="utf-8", newline="\n")
    except OSError as error:
        raise WriterError(
            f"{Path(path).name} can't be written: {(error.strerror or str(error)).lower()}"
        ) from None
