# SPDX-License-Identifier: GPL-3.0-or-later
"""Roles by the beginnings of part markings and by the words people use; tables beside this file."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, lru_cache

from netgraph.roles.answer import Role
from netgraph.roles.table_files import checked_role, read_table

_WORD = re.compile(r"[A-Z0-9]+(?:[-.][A-Z0-9]+)*")
_LONGEST = 12
_LEAST_WORD = 4


@dataclass(frozen=True, slots=True)
class Family:
    """A family that a marking belongs to: the beginning that fits and what such parts are."""

    prefix: str
    role: Role
    what: str


@dataclass(frozen=True, slots=True)
class WordRule:
    """A word that hints at a role; `where` is value, footprint or text (description and tags)."""

    where: str
    pattern: re.Pattern[str]
    role: Role
    weight: float


@cache
def _families() -> dict[str, Family]:
    found: dict[str, Family] = {}
    for table in ("families.csv", "families_symbols.csv"):
        for row in read_table(table):
            role = checked_role(row["role"])
            for prefix in row["prefixes"].split():
                found.setdefault(prefix, Family(prefix, role, row["what"]))
    return found


def written_families() -> dict[str, Role]:
    """Beginnings of markings in the table that was written by hand, with their roles."""
    return {
        prefix: checked_role(row["role"])
        for row in read_table("families.csv")
        for prefix in row["prefixes"].split()
    }


def marking_of(text: str) -> str | None:
    """The first marking in a text as families are looked up, None when there is none.

    >>> marking_of("SN74LVC1G07-Q1"), marking_of("NPN")
    ('SN74LVC1G07Q1', None)
    """
    for word in _WORD.findall(text.upper().replace("_", " ")):
        marking = re.sub(r"[-.]", "", word)
        if len(marking) >= _LEAST_WORD and any(char.isdigit() for char in marking):
            return marking
    return None


def _at_word_start(where: str, pattern: str) -> re.Pattern[str]:
    """Footprint names run words together; everywhere else a word must begin where it matches."""
    if where == "footprint":
        return re.compile(pattern, re.IGNORECASE)
    return re.compile(rf"(?<![A-Za-z0-9])(?:{pattern})", re.IGNORECASE)


@cache
def word_rules() -> tuple[WordRule, ...]:
    """All word rules, read once."""
    return tuple(
        WordRule(
            row["where"],
            _at_word_start(row["where"], row["pattern"]),
            checked_role(row["role"]),
            float(row["weight"]),
        )
        for row in read_table("words.csv")
    )


@lru_cache(maxsize=4096)
def find_family(text: str) -> Family | None:
    """The family of the first marking in a text that belongs to one; the longest prefix counts.

    A marking is a word of at least four characters with a digit; hyphens inside it are ignored,
    and behind a hyphen a marking may begin anew ("GSG-XC2C64A").

    >>> find_family("SN74LVC1G07DCK").role
    'logic'
    >>> find_family("10k 1%") is None
    True
    """
    table = _families()
    for word in _WORD.findall(text.upper().replace("_", " ")):
        pieces = re.split(r"[-.]", word)
        for start in range(len(pieces)):
            marking = "".join(pieces[start:])
            if len(marking) < _LEAST_WORD or (marking.isdigit() and len(marking) < 6):
                continue
            if not any(char.isdigit() for char in marking):
                continue
            for length in range(min(_LONGEST, len(marking)), 1, -1):
                family = table.get(marking[:length])
                if family is not None:
                    return family
    return None
