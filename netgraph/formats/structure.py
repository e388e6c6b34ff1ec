# SPDX-License-Identifier: GPL-3.0-or-later
"""Where the shallow brackets of an s-expression file lie, found without parsing the file.

The bytes are looked at in chunks with numpy: brackets outside strings are found, the depth is
summed over their positions, and only brackets of depth 1 to 3 are kept. A `"` opens a string only
at the start of a token [kicad-lexer]; the fast path assumes that every quote opens or closes a
string, checks that assumption, and hands over to a lexer in order where it fails.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from netgraph import limits
from netgraph.errors import BoardFileError

CHUNK_BYTES = 1 << 20

_OPEN, _CLOSE, _QUOTE, _BACKSLASH = b'()"\\'
_BLANKS = b" \t\r\n\v\f"
_KEPT_DEPTHS = 3

_IS_EDGE = np.zeros(256, dtype=bool)
_IS_EDGE[list(b" \t\r\n\v\f()")] = True

_LEX = re.compile(rb'[()]|"[^"\\]*(?:\\.[^"\\]*)*"?|[^\s()"][^\s()]*', re.DOTALL)
_COMMENT = rb"(?<![^\r\n])([ \t]*#[^\r\n]*)"  # from the beginning of a line on
_COMMENT_OR_TOKEN = re.compile(_COMMENT + b"|" + _LEX.pattern, re.DOTALL)

_IS_BEFORE_HEAD = np.zeros(256, dtype=bool)
_IS_BEFORE_HEAD[list(b' \t\r\n\v\f"')] = True
_BEFORE_HEAD = re.compile(rb'\s*"?')

IndexArray = NDArray[np.int32]


@dataclass(frozen=True, slots=True, eq=False)
class Structure:
    """Positions of the kept brackets; ``opens[d][i]`` and ``closes[d][i]`` are one node.

    Depth 1 is the root, index 0 of the lists is unused. Positions are byte offsets of the
    brackets themselves.
    """

    data: bytes
    opens: tuple[IndexArray, ...]
    closes: tuple[IndexArray, ...]

    def node(self, depth: int, index: int) -> bytes:
        """The bytes of one node, brackets included."""
        return self.data[self.opens[depth][index] : self.closes[depth][index] + 1]

    def children(self, depth: int, index: int) -> range:
        """Indices at ``depth + 1`` of the nodes inside node `index` of `depth`."""
        first, last = np.searchsorted(
            self.opens[depth + 1], (self.opens[depth][index], self.closes[depth][index])
        )
        return range(int(first), int(last))

    def heads(self, depth: int, start: int = 0, stop: int | None = None) -> NDArray[np.uint32]:
        """First four bytes of each node's head, as little-endian numbers.

        Blanks and a quote before the head are passed over. Compare with :func:`begins_with`.
        Bytes beyond the end of the file count as the last one.
        """
        raw = np.frombuffer(self.data, dtype=np.uint8)
        at = self.opens[depth][start:stop] + 1
        for index in np.flatnonzero(_IS_BEFORE_HEAD[raw[np.minimum(at, len(raw) - 1)]]).tolist():
            match = _BEFORE_HEAD.match(self.data, int(at[index]))
            at[index] = match.end() if match else at[index]
        out = np.zeros(len(at), dtype=np.uint32)
        for offset in range(4):
            here = np.minimum(at + offset, len(raw) - 1)
            out |= raw[here].astype(np.uint32) << np.uint32(8 * offset)
        return out


def begins_with(heads: NDArray[np.uint32], words: Iterable[str]) -> NDArray[np.bool_]:
    """Which heads begin with the first four letters of one of these words.

    Callers check the whole word themselves.
    """
    found = np.zeros(len(heads), dtype=bool)
    for word in words:
        letters = word.encode("ascii")[:4]
        mask = np.uint32((1 << (8 * len(letters))) - 1)
        found |= (heads & mask) == np.uint32(int.from_bytes(letters, "little"))
    return found


def find_structure(data: bytes) -> Structure:
    """Index the shallow brackets of a whole file.

    Raises
    ------
    BoardFileError
        A string or a bracket is not closed, a closing bracket is one too many, something stands
        behind the root, or brackets nest deeper than ``limits.MAX_DEPTH``. Line and column are
        given; the path is left to the caller.
    """
    if len(data) > limits.MAX_FILE_BYTES:
        raise BoardFileError(
            "limit-exceeded",
            f"the file has {len(data)} bytes, the limit is {limits.MAX_FILE_BYTES} "
            "(MAX_FILE_BYTES)",
        )
    data = blank_comments(data)
    found = _index_by_parity(data)
    if found is None:
        found = _index_in_order(data)
    opens, closes = found
    _check_root(data, opens, closes)
    return Structure(data, opens, closes)


class _Kept:
    """The brackets of each kept depth, gathered over the chunks; knows the running depth."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        self.depth = 0
        self.opens: list[list[IndexArray]] = [[] for _ in range(_KEPT_DEPTHS + 1)]
        self.closes: list[list[IndexArray]] = [[] for _ in range(_KEPT_DEPTHS + 1)]

    def add(self, at: NDArray[np.int64], is_open: NDArray[np.bool_]) -> None:
        """Take the brackets of one chunk, in order."""
        if not len(at):
            return
        after = self.depth + np.cumsum(np.where(is_open, 1, -1))
        low, high = int(after.min()), int(after.max())
        if low < 0:
            raise _error_at(
                self.data,
                int(at[np.argmax(after < 0)]),
                "file-malformed",
                "closing bracket without an opening one",
            )
        if high > limits.MAX_DEPTH:
            raise _error_at(
                self.data,
                int(at[np.argmax(after > limits.MAX_DEPTH)]),
                "limit-exceeded",
                f"brackets nest deeper than {limits.MAX_DEPTH} (MAX_DEPTH)",
            )
        self.depth = int(after[-1])
        own = np.where(is_open, after, after + 1)
        for depth in range(1, _KEPT_DEPTHS + 1):
            here = own == depth
            self.opens[depth].append(at[here & is_open].astype(np.int32))
            self.closes[depth].append(at[here & ~is_open].astype(np.int32))

    def finish(self) -> tuple[tuple[IndexArray, ...], tuple[IndexArray, ...]]:
        """The joined positions.

        Raises
        ------
        BoardFileError
            Brackets are still open at the end.
        """
        none: list[IndexArray] = [np.zeros(0, dtype=np.int32)]
        opens = tuple(np.concatenate(found or none) for found in self.opens)
        closes = tuple(np.concatenate(found or none) for found in self.closes)
        if self.depth:
            kept = min(self.depth, _KEPT_DEPTHS)
            start = int(opens[kept][len(closes[kept])])
            line, _ = place_of(self.data, start)
            raise _error_at(
                self.data,
                len(self.data),
                "file-truncated",
                f"the file ends inside {_word(self.data, start)!r} of line {line}, with "
                f"{self.depth} brackets open",
                expected="')'",
                hint="the file was cut short; get a whole copy",
            )
        return opens, closes


def _index_by_parity(data: bytes) -> tuple[tuple[IndexArray, ...], tuple[IndexArray, ...]] | None:
    """The fast path; None when a quote stands where no string can begin or end."""
    kept = _Kept(data)
    inside = False  # whether the chunk begins inside a string
    raw = np.frombuffer(data, dtype=np.uint8)
    start = 0
    while start < len(data):
        stop = min(len(data), start + CHUNK_BYTES)
        chunk = raw[start:stop]
        quotes = np.flatnonzero(chunk == _QUOTE)
        if len(quotes) and data.find(b'\\"', max(0, start - 1), stop) >= 0:
            quotes = _unescaped(data, start, quotes)
        opening = quotes[int(inside) :: 2] + start
        closing = quotes[1 - int(inside) :: 2] + start
        before = raw[np.maximum(opening - 1, 0)]
        if not (_IS_EDGE[before] | (before == _QUOTE) | (opening == 0)).all():
            return None
        after = raw[np.minimum(closing + 1, len(data) - 1)]
        if not (_IS_EDGE[after] | (after == _QUOTE)).all():
            return None
        at = np.flatnonzero((chunk == _OPEN) | (chunk == _CLOSE))
        if len(quotes):
            outside = (np.searchsorted(quotes, at) & 1) == int(inside)
            at = at[outside]
        elif inside:
            at = at[:0]
        kept.add(at + start, chunk[at] == _OPEN)
        inside ^= bool(len(quotes) & 1)
        start = stop
    if inside:
        return None  # the lexer in order finds the place
    return kept.finish()


def _unescaped(data: bytes, start: int, quotes: NDArray[np.int64]) -> NDArray[np.int64]:
    """Without the quotes that stand behind an odd run of backslashes."""
    keep = np.ones(len(quotes), dtype=bool)
    for index, offset in enumerate(quotes.tolist()):
        at = run = offset + start
        while run > 0 and data[run - 1] == _BACKSLASH:
            run -= 1
        keep[index] = (at - run) % 2 == 0
    return quotes[keep]


def _index_in_order(data: bytes) -> tuple[tuple[IndexArray, ...], tuple[IndexArray, ...]]:
    """Lex token by token: right for every file, about ten times slower."""
    kept = _Kept(data)
    at: list[int] = []
    is_open: list[bool] = []
    for match in _LEX.finditer(data):
        first = data[match.start()]
        if first in (_OPEN, _CLOSE):
            at.append(match.start())
            is_open.append(first == _OPEN)
            if len(at) >= CHUNK_BYTES:
                kept.add(np.array(at), np.array(is_open))
                at, is_open = [], []
        elif first == _QUOTE and not _is_whole_string(data, match.start(), match.end()):
            kept.add(np.array(at, dtype=np.int64), np.array(is_open, dtype=bool))
            raise _error_at(
                data,
                match.start(),
                "file-truncated",
                "a string that begins here is not closed",
                expected="'\"'",
            )
    kept.add(np.array(at, dtype=np.int64), np.array(is_open, dtype=bool))
    return kept.finish()


def _has_comment(data: bytes) -> bool:
    """Whether some line's first non-blank character is ``#``."""
    at = data.find(b"#")
    while at >= 0:
        before = at - 1
        while before >= 0 and data[before] in b" \t":
            before -= 1
        if before < 0 or data[before] in b"\r\n":
            return True
        at = data.find(b"#", at + 1)
    return False


def blank_comments(data: bytes) -> bytes:
    r"""The file with blanks for comment lines (first non-blank character ``#``) [kicad-lexer].

    Offsets and line numbers stay as they are. A ``#`` inside a string is no comment, even at the
    beginning of a line.

    >>> blank_comments(b"(a\n # b (\n)")
    b'(a\n      \n)'
    """
    if not _has_comment(data):
        return data
    blanked = bytearray(data)
    for match in _COMMENT_OR_TOKEN.finditer(data):
        if match.group(1) is not None:
            blanked[match.start() : match.end()] = b" " * (match.end() - match.start())
    return bytes(blanked)


def _is_whole_string(data: bytes, begin: int, end: int) -> bool:
    closed = end - begin >= 2 and data[end - 1] == _QUOTE
    ends_well = end >= len(data) or bool(_IS_EDGE[data[end]]) or data[end] == _QUOTE
    return closed and (ends_well or b"\n" not in data[begin:end])


def _check_root(data: bytes, opens: tuple[IndexArray, ...], closes: tuple[IndexArray, ...]) -> None:
    if len(opens[1]) == 0:
        raise BoardFileError(
            "format-unknown", "the file has no brackets", line=1, column=1, expected="'(kicad_pcb'"
        )
    if len(opens[1]) > 1:
        raise _error_at(
            data, int(opens[1][1]), "file-malformed", "something stands behind the end of the board"
        )
    tail = data[int(closes[1][0]) + 1 :].strip(_BLANKS + b"\0")
    if tail:
        at = data.index(tail[:16], int(closes[1][0]) + 1)
        raise _error_at(data, at, "file-malformed", "text stands behind the end of the board")


def place_of(data: bytes, offset: int) -> tuple[int, int]:
    """Line and column of a byte offset, from 1; columns count characters.

    Lines end with LF, CRLF or a lone CR.
    """
    head = data[:offset]
    returns = head.count(b"\r") - head.count(b"\r\n")
    line = head.count(b"\n") + returns + 1
    start = max(head.rfind(b"\n"), head.rfind(b"\r")) + 1
    return line, len(head[start:].decode("utf-8", "replace")) + 1


def _word(data: bytes, offset: int) -> str:
    match = re.compile(rb"\(\s*([^\s()]{1,40})").match(data, offset)
    return match.group(1).decode("utf-8", "replace") if match else "("


def _error_at(
    data: bytes,
    offset: int,
    code: str,
    message: str,
    *,
    expected: str = "",
    hint: str = "",
) -> BoardFileError:
    line, column = place_of(data, offset)
    return BoardFileError(
        code,  # type: ignore[arg-type]
        message,
        line=line,
        column=column,
        expected=expected,
        hint=hint,
    )
