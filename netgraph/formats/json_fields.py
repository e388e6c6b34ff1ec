# SPDX-License-Identifier: GPL-3.0-or-later
"""Read fields of JSON objects strictly; a fault names its place, such as ``parts[3].side``."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import NoReturn

from netgraph import limits
from netgraph.errors import BoardFileError, visible
from netgraph.formats.plain_text import plain_bytes, refuse_large
from netgraph.model.builder import is_bad_name

SCHEMAS = ("netgraph.board/1", "netgraph.photo-board/1")
"""The JSON files of this program that hold a board."""
MISSING = object()
_STEP = re.compile(r"([^.\[\]]+)|\[([0-9]+)\]")
_TOKEN = re.compile(r'"(?:[^"\\]|\\.)*"|[{}\[\]:]', re.DOTALL)
_BLANKS = re.compile(r"[ \t\n\r]*")
_DECODER = json.JSONDecoder()
MOST = 1e15
"""No number of these files is larger."""


class Fields:
    """One JSON object and the way to it."""

    def __init__(self, table: object, place: str = "") -> None:
        if not isinstance(table, dict):
            refuse(place or "the file", "is no object", "{...}")
        self.table: dict[str, object] = table
        self.place = place

    def at(self, key: str) -> str:
        """The way to a field."""
        return f"{self.place}.{key}" if self.place else key

    def text(self, key: str, default: str | None = None, *, name: bool = False) -> str:
        """A text; with `name` one that may stand for a net, part or pin."""
        value = self.table.get(key, MISSING)
        if value is MISSING and default is not None:
            return default
        if not isinstance(value, str):
            refuse(self.at(key), "is no text" if value is not MISSING else "is missing", "a text")
        if name and is_bad_name(value):
            refuse(
                self.at(key),
                "is too long or holds a control character",
                f"at most {limits.MAX_NAME_CHARS} signs (MAX_NAME_CHARS)",
            )
        return value

    def text_or_none(self, key: str, *, name: bool = False) -> str | None:
        """A text, or None where it is null or missing."""
        return None if self.table.get(key) is None else self.text(key, name=name)

    def choice(self, key: str, words: tuple[str, ...], default: str) -> str:
        """One of these words."""
        value = self.text(key, default)
        if value not in words:
            refuse(self.at(key), f"is {visible(value[:40])!r}", " or ".join(words))
        return value

    def flag(self, key: str, *, default: bool = False) -> bool:
        """True or false."""
        value = self.table.get(key, default)
        if not isinstance(value, bool):
            refuse(self.at(key), "is neither true nor false", "true or false")
        return value

    def number(self, key: str, default: float | None = None) -> float:
        """A finite number."""
        value = self.table.get(key, MISSING)
        if value is MISSING and default is not None:
            return default
        if isinstance(value, bool) or not isinstance(value, int | float):
            refuse(
                self.at(key), "is no number" if value is not MISSING else "is missing", "a number"
            )
        if abs(value) > MOST or not math.isfinite(value):
            refuse(self.at(key), "is out of range", "a number below 1e15")
        return float(value)

    def nanometres(self, key: str, default: float | None = None) -> int:
        """A length in millimetres, as nanometres."""
        value = self.number(key, default) * 1e6
        if abs(value) > limits.MAX_COORDINATE_NM:
            refuse(self.at(key), "is beyond 2147 mm (MAX_COORDINATE_NM)", "millimetres")
        return round(value)

    def items(self, key: str, most: int, limit: str) -> Iterator[tuple[str, object]]:
        """The members of a list with their places; an empty one where the field is missing."""
        value = self.table.get(key, [])
        if not isinstance(value, list):
            refuse(self.at(key), "is no list", "[...]")
        if len(value) > most:
            raise BoardFileError(
                "limit-exceeded", f"{self.at(key)} holds {len(value)}, at most {most} ({limit})"
            )
        for index, one in enumerate(value):
            yield f"{self.at(key)}[{index}]", one

    def texts(self, key: str, *, name: bool = True) -> tuple[str, ...]:
        """A list of texts."""
        found = []
        for place, one in self.items(key, limits.MAX_PADS, "MAX_PADS"):
            if not isinstance(one, str) or (name and is_bad_name(one)):
                refuse(place, "is no name", "a text")
            found.append(one)
        return tuple(found)


class FieldError(BoardFileError):
    """A field that is not as it should be; `place` is the way to it."""

    def __init__(self, place: str, message: str, expected: str) -> None:
        super().__init__("file-malformed", f"{place} {message}", expected=expected)
        self.place = place


def refuse(place: str, message: str, expected: str) -> NoReturn:
    """Stop at a field."""
    raise FieldError(place, message, expected)


@contextmanager
def lines_told(data: bytes) -> Iterator[None]:
    """Errors about fields of this JSON text leave with line and column of the field."""
    try:
        yield
    except FieldError as error:
        if error.line is None:
            text = plain_bytes(data)[0].decode("utf-8")
            error.line, error.column = _line_and_column(text, _offset(text, error.place))
        raise


def _line_and_column(text: str, at: int) -> tuple[int, int]:
    return text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at)


def _offset(text: str, place: str) -> int:
    """Where the value at this way begins, or the last thing on the way that is there."""
    at = _skip(text, 0)
    for key, index in _STEP.findall(place):
        found = _member(text, at, key, int(index) if index else 0)
        if found is None:
            break
        at = found
    return at


def _skip(text: str, at: int) -> int:
    blanks = _BLANKS.match(text, at)
    return at if blanks is None else blanks.end()


def _member(text: str, at: int, key: str, index: int) -> int | None:
    """Offset of the value of a key in an object, or of the element of a list."""
    if text[at] != ("{" if key else "["):
        return None
    count, at = 0, _skip(text, at + 1)
    while text[at] not in "]}":
        name = ""
        if key:
            name, end = _DECODER.raw_decode(text, at)
            at = _skip(text, _skip(text, end) + 1)
        if (name == key) if key else (count == index):
            return at
        at = _skip(text, _DECODER.raw_decode(text, at)[1])
        at = _skip(text, at + 1) if text[at] == "," else at
        count += 1
    return None


def json_object(data: bytes, schema: str) -> Fields:
    """The object of a JSON file of this schema (``netgraph.board/1``).

    Raises
    ------
    BoardFileError
        No sound JSON (with line and column), too deep, a number that is none, another schema.
    """
    refuse_large(data)
    clean, stray = plain_bytes(data)
    if stray is not None:
        raise BoardFileError("file-malformed", "the text is not UTF-8", line=stray)
    try:
        value = json.loads(clean, parse_constant=_no_constant, object_pairs_hook=_object)
    except _KeyTwiceError as error:
        line, column = _second_of(clean.decode("utf-8"), error.key)
        raise BoardFileError(
            "file-malformed",
            f"the key {visible(error.key[:40])!r} stands twice in one object",
            line=line,
            column=column,
            expected="each key once",
        ) from None
    except json.JSONDecodeError as error:
        code = "file-truncated" if error.pos >= len(clean.rstrip()) else "file-malformed"
        raise BoardFileError(
            code,  # type: ignore[arg-type]
            f"no sound JSON: {error.msg.lower()}",
            line=error.lineno,
            column=error.colno,
        ) from None
    except RecursionError:
        raise BoardFileError(
            "limit-exceeded", f"nests deeper than {limits.MAX_DEPTH} (MAX_DEPTH)"
        ) from None
    except ValueError as error:
        raise BoardFileError("number-invalid", f"no sound JSON: {error}") from None
    fields = Fields(value)
    said = fields.text("schema", "")
    family, _, version = schema.partition("/")
    if said.partition("/")[0] != family:
        told = f"is {visible(said[:40])!r}" if "schema" in fields.table else "is missing"
        refuse("schema", told, " or ".join(SCHEMAS))
    if said != schema:
        raise BoardFileError(
            "format-unsupported", f"version {visible(said[:60])}", expected=f"{family}/{version}"
        )
    return fields


class _KeyTwiceError(Exception):
    def __init__(self, key: str) -> None:
        super().__init__(key)
        self.key = key


def _object(pairs: list[tuple[str, object]]) -> dict[str, object]:
    table = dict(pairs)
    if len(table) < len(pairs):
        met: set[str] = set()
        for name, _ in pairs:
            if name in met:
                raise _KeyTwiceError(name)
            met.add(name)
    return table


def _second_of(text: str, key: str) -> tuple[int, int] | tuple[None, None]:
    """Line and column where a key stands again in its object, of the first object to end so."""
    open_: list[list[int]] = []
    last: re.Match[str] | None = None
    for token in _TOKEN.finditer(text):
        word = token[0]
        if word in "{[":
            open_.append([])
        elif word in "}]":
            found = open_.pop() if open_ else []
            if len(found) > 1:
                return _line_and_column(text, found[1])
        elif word == ":" and last is not None and open_ and json.loads(last[0]) == key:
            open_[-1].append(last.start())
        last = token if word[0] == '"' else None
    return None, None


def _no_constant(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number")
