# SPDX-License-Identifier: GPL-3.0-or-later
"""Lines of fixed columns as one matrix of bytes, and the numbers in its columns, by numpy."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

WIDTH = 80
BLANK, PLUS, MINUS, ZERO = 32, 43, 45, 48

Bytes = NDArray[np.uint8]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Lines:
    """Where the lines of a text lie: `start` and `length` in bytes, ends of lines left out.

    ``WIDTH`` blanks follow the text in `data`.
    """

    data: Bytes
    start: Ints
    length: Ints

    def matrix(self, rows: Ints) -> Bytes:
        """These lines as rows of ``WIDTH`` bytes, short ones filled with blanks."""
        # Every WIDTH bytes of the text, one byte after the other, without a copy of them.
        room = (len(self.data) - WIDTH + 1, WIDTH)
        windows: Bytes = np.ndarray(room, np.uint8, self.data, strides=(1, 1))
        cells = windows[self.start[rows]]
        length = np.minimum(self.length[rows], WIDTH).astype(np.uint8)
        np.putmask(cells, np.arange(WIDTH, dtype=np.uint8) >= length[:, None], BLANK)
        return cells


def find_lines(data: bytes) -> Lines:
    """All lines; they end with LF, CRLF or, where no LF is, with CR."""
    padded = np.frombuffer(data + bytes((BLANK,)) * WIDTH, dtype=np.uint8)
    buffer = padded[: len(data)]
    mark = 10 if b"\n" in data else 13
    ends = np.flatnonzero(buffer == mark)
    start = np.concatenate(([0], ends + 1))
    stop = np.concatenate((ends, [len(buffer)]))
    if mark == 10 and b"\r" in data:
        last = buffer.take(np.maximum(stop - 1, 0), mode="clip")
        stop = stop - ((last == 13) & (stop > start))
    return Lines(padded, start, stop - start)


def whole_numbers(cells: Bytes, *, signed: bool = False) -> tuple[Ints, Flags]:
    """Numbers in columns of digits, blanks allowed around them; and where there is a sound one.

    Parameters
    ----------
    cells
        Shape (n, width).
    signed
        Whether a sign may stand before the digits.
    """
    digits = cells[:, int(signed) :] - np.uint8(ZERO)
    if digits.size and (digits < 10).all():
        # Full columns, as most are: one product.
        whole = _value(digits)
        minus = cells[:, 0] == MINUS
        if not signed or (minus | (cells[:, 0] == PLUS)).all():
            return np.where(minus, -whole, whole) if signed else whole, np.ones(len(cells), bool)
    elif digits.size and not signed:
        # Or columns that are full or blank.
        full: Flags = np.all(digits < 10, axis=1)
        if (full | (cells == BLANK).all(axis=1)).all():
            digits[~full] = 0
            return _value(digits), full
    value = np.zeros(len(cells), dtype=np.int64)
    seen = np.zeros(len(cells), dtype=bool)
    done = np.zeros(len(cells), dtype=bool)
    sound = np.ones(len(cells), dtype=bool)
    negative = np.zeros(len(cells), dtype=bool)
    signs = np.zeros(len(cells), dtype=bool)
    for cell in cells.T:
        digit = cell - np.uint8(ZERO)
        is_digit = digit < 10
        value = np.where(is_digit, value * 10 + digit, value)
        blank = cell == BLANK
        sound &= is_digit | blank if not signed else True
        if signed:
            sign = ((cell == PLUS) | (cell == MINUS)) & ~seen & ~signs
            sound &= is_digit | blank | sign
            negative |= sign & (cell == MINUS)
            signs |= sign
        sound &= ~(is_digit & done)
        seen |= is_digit
        done |= blank & seen
    return np.where(negative, -value, value), sound & seen


def _value(digits: Bytes) -> Ints:
    """The numbers whose decimal digits stand in the rows."""
    value: Ints = digits.astype(np.int64) @ 10 ** np.arange(digits.shape[1] - 1, -1, -1)
    return value


def texts(cells: Bytes) -> list[bytes]:
    """The columns of each row as bytes; blanks at the end stay."""
    width = cells.shape[1]
    found: list[bytes] = np.ascontiguousarray(cells).view(f"S{width}").ravel().tolist()
    return found
