# SPDX-License-Identifier: GPL-3.0-or-later
"""The text of a notes file beside its tables: on which line a key stands, what is too much."""

from __future__ import annotations

import re

MOST_DOTS = 200
"""On one line outside quotes; a key of a note has two."""

_QUOTED = re.compile(r"""\"[^"]*\"|'[^']*'|#.*""")
_LONG_TEXT = re.compile(r"\"{3}.*?\"{3}|'{3}.*?'{3}", re.DOTALL)
_MOST_SHOWN = 80


def line_of_many_dots(text: str) -> int | None:
    """The first line with more than ``MOST_DOTS`` dots outside quotes; None when there is none."""
    for number, line in enumerate(text.split("\n"), 1):
        if line.count(".") > MOST_DOTS and _QUOTED.sub("", line).count(".") > MOST_DOTS:
            return number
    return None


def shown(value: object) -> str:
    """A value as it is quoted in a fault, cut when it is long.

    >>> shown("sink")
    "'sink'"
    """
    try:
        text = repr(value)
    except (ValueError, RecursionError):  # an integer of thousands of digits has no text
        return "a number that long"
    return text if len(text) <= _MOST_SHOWN else text[:_MOST_SHOWN] + "..."


class NoteLines:
    """The lines of a notes file; TOML's reader tells no places."""

    def __init__(self, text: str) -> None:
        # What looks like a key inside a multi-line string is none.
        plain = _LONG_TEXT.sub(lambda match: '""' + "\n" * match.group().count("\n"), text)
        self.lines = plain.split("\n")

    def line_of(self, section: str, name: str, key: str) -> int | None:
        """Line, from 1, of the key below the header that holds the name; None: not found."""
        start = self._header(section, name) if name else 0
        for number in range(start, len(self.lines)):
            if key and re.match(rf"\s*[\"']?{re.escape(key)}[\"']?\s*=", self.lines[number]):
                return number + 1
            if number > start and name and self.lines[number].lstrip().startswith("["):
                break
        return start + 1 if name and start < len(self.lines) else None

    def _header(self, section: str, name: str) -> int:
        tail = rf"\s*\.\s*[\"']?{re.escape(name)}[\"']?\s*\]"
        heads = [i for i, line in enumerate(self.lines) if line.lstrip().startswith("[")]
        for begun in (rf"\s*\[\s*[\"']?{re.escape(section)}[\"']?", ""):
            for index in heads:
                if (re.match if begun else re.search)(begun + tail, self.lines[index]):
                    return index
        return 0
