# SPDX-License-Identifier: GPL-3.0-or-later
"""Read fields of JSON objects strictly; a fault names its place, such as ``parts[3].side``."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from typing import NoReturn

from netgraph import limits
from netgraph.errors import BoardFileError, visible
from netgraph.formats.plain_text import plain_bytes, refuse_large
from netgraph.model.builder import is_bad_name

MISSING = object()
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


def refuse(place: str, message: str, expected: str) -> NoReturn:
    """Stop at a field."""
    raise BoardFileError("file-malformed", f"{place} {message}", expected=expected)


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
        value = json.loads(clean, parse_constant=_no_constant)
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
        refuse("schema", f"is {visible(said[:40])!r}", schema)
    if said != schema:
        raise BoardFileError(
            "format-unsupported", f"version {visible(said[:60])}", expected=f"{family}/{version}"
        )
    return fields


def _no_constant(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number")
