# SPDX-License-Identifier: GPL-3.0-or-later
"""Single cells of a table: lists of designators, sides, lengths, pins of parts."""

from __future__ import annotations

import re

from netgraph import limits
from netgraph.model.board import Side

_RANGE = re.compile(r"([A-Za-z_]+)([0-9]{1,9})\s*(?:-|\u2013|\.\.)\s*([A-Za-z_]*)([0-9]{1,9})")
_NUMBER = re.compile(
    r"([+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?)\s*([a-zµ\"]*)"
)
_NM = {
    "": None, "mm": 1e6, "mil": 25_400.0, "mils": 25_400.0, "in": 25.4e6, "inch": 25.4e6,
    '"': 25.4e6, "um": 1e3, "µm": 1e3,
}  # fmt: skip
_TOP = {"top", "t", "f", "front", "toplayer", "component", "componentside", "1", "fcu", "topside"}
_BOTTOM = {
    "bottom", "b", "back", "bottomlayer", "solder", "solderside", "2", "bcu", "bot", "bottomside",
}  # fmt: skip
_DAMAGED = re.compile(
    r"[0-9]+(?:\.[0-9]+)?[eE][+-]?[0-9]+|[0-9]{1,2}-[A-Z][a-z]{2}(?:-[0-9]{2,4})?"
)


def references(cell: str) -> list[str]:
    """The designators of a cell; ranges are spread out when both ends have one prefix.

    >>> references("C1, C2;C5 C7"), references("R1-R4"), references("POWER")
    (['C1', 'C2', 'C5', 'C7'], ['R1', 'R2', 'R3', 'R4'], ['POWER'])
    >>> references("J1-A2")
    ['J1-A2']
    """
    found: list[str] = []
    cell = re.sub(r"\s+", " ", cell)
    for word in re.split(r"[,;\s]+", re.sub(r"\s*(?:-|\u2013)\s+|\s+(?:-|\u2013)\s*", "-", cell)):
        if not word:
            continue
        spread = _RANGE.fullmatch(word)
        if spread is not None and spread[3] in ("", spread[1]):
            low, high = int(spread[2]), int(spread[4])
            if low <= high and high - low < limits.MAX_RANGE:
                found += [f"{spread[1]}{number}" for number in range(low, high + 1)]
                if len(found) > limits.MAX_PARTS:
                    break
                continue
        found.append(word)
        if len(found) > limits.MAX_PARTS:
            break  # the table refuses that many
    return list(dict.fromkeys(found))


def long_range(ref: str) -> int | None:
    """How many designators a range names that is too long to be spread out; else None.

    >>> long_range("R1-R5000"), long_range("R1-R4"), long_range("J1-A2")
    (5000, None, None)
    """
    spread = _RANGE.fullmatch(ref)
    if spread is None or spread[3] not in ("", spread[1]):
        return None
    count = int(spread[4]) - int(spread[2]) + 1
    return count if count > limits.MAX_RANGE else None


def cell_column(line: str, delimiter: str, at: int) -> int | None:
    """Where the cell with this number (from 0) begins, counted from 1; None: not on this line.

    >>> cell_column('"a,b",c', ",", 1)
    7
    """
    number, quoted = 0, False
    if at == 0:
        return 1
    for place, char in enumerate(line):
        if char == '"':
            quoted = not quoted
        elif char == delimiter and not quoted:
            number += 1
            if number == at:
                return place + 2
    return None


def pin_of(word: str) -> tuple[str, str] | None:
    """Designator and pin of ``U1-3``, ``C1.2`` or ``U2:4``: split at the last such sign.

    >>> pin_of("U1-3"), pin_of("MAIN-U1.A4"), pin_of("U1")
    (('U1', '3'), ('MAIN-U1', 'A4'), None)
    """
    at = max(word.rfind(sign) for sign in "-.:")
    return (word[:at], word[at + 1 :]) if 0 < at < len(word) - 1 else None


def side_of(cell: str) -> Side | None:
    """The side a cell names; None for anything else.

    >>> side_of("TopLayer"), side_of(" b "), side_of("inner")
    ('top', 'bottom', None)
    """
    word = re.sub(r"[\s_.\-]+", "", cell).casefold()
    return "top" if word in _TOP else "bottom" if word in _BOTTOM else None


def number_of(cell: str, *, decimal_comma: bool = False) -> tuple[float, float | None] | None:
    """A number and the nanometres of the unit behind it (None: no unit); None when it is none.

    >>> number_of("12.5"), number_of("3mm"), number_of("1,5", decimal_comma=True)
    ((12.5, None), (3.0, 1000000.0), (1.5, None))
    >>> number_of("nan") is None
    True
    """
    text = cell.strip().casefold()
    if decimal_comma:
        text = text.replace(",", ".")
    found = _NUMBER.fullmatch(text)
    if found is None or found[2] not in _NM:
        return None
    value = float(found[1])
    return (value, _NM[found[2]]) if abs(value) < 1e12 else None


def looks_damaged(cell: str) -> bool:
    """Whether a spreadsheet may have turned a name into a number or a date.

    >>> looks_damaged("1E5"), looks_damaged("3-Jan"), looks_damaged("R3")
    (True, True, False)
    """
    return _DAMAGED.fullmatch(cell.strip()) is not None
