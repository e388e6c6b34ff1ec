# SPDX-License-Identifier: GPL-3.0-or-later
"""Bench cards from a file of JSON Lines."""

from __future__ import annotations

from pathlib import Path

from netgraph.diagnosis.cards import Cards, parse_cards
from netgraph.errors import CardsError
from netgraph.formats.reading import read_bytes


def read_cards(path: str | Path) -> Cards:
    """Cards from a file; see ``parse_cards``.

    Raises
    ------
    BoardFileError
        The file can't be opened (``file-unreadable``), or a line is no card (``cards-invalid``).
    """
    data = read_bytes(Path(path), "a file of bench cards")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise CardsError(f"not UTF-8: {error.reason}", path=str(path), line=line) from None
    return parse_cards(text, path=str(path))
