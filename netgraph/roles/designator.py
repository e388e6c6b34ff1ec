# SPDX-License-Identifier: GPL-3.0-or-later
"""What does a reference designator say about its part: letters, number, suffix, and their class.

The letters are a hint and no proof: drawings use D for light emitting diodes, L for ferrite beads,
and the P of the power section in front of everything. So each class carries several candidates.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from types import MappingProxyType

from netgraph.roles.answer import Role
from netgraph.roles.table_files import checked_role, read_table


@dataclass(frozen=True, slots=True)
class Designator:
    """A reference designator in its pieces; `number` is None when there is none.

    `suffix` holds all that stands behind the number ("A", "_2"), or the whole text behind the
    letters when no number follows them.
    """

    letters: str
    number: int | None
    suffix: str = ""


@dataclass(frozen=True, slots=True)
class DesignatorClass:
    """What class letters stand for.

    Attributes
    ----------
    letters
        The letters as the table has them (upper case).
    name
        The class in one word: "capacitor", "ic", "connector" ...
    meaning
        The class in plain words.
    roles
        Candidates, likeliest first; ("unknown",) where the letters alone say nothing.
    source
        A key of `netgraph.sources.SOURCES`.
    note
        What else the letters are used for, or an empty text.
    """

    letters: str
    name: str
    meaning: str
    roles: tuple[Role, ...]
    source: str
    note: str = ""


_NUMBERED = re.compile(r"([A-Za-z]+(?:[_-][A-Za-z]+)*)[@$]?([0-9]{1,9})(?![0-9])(.*)", re.DOTALL)
_BLOCK_FIRST = re.compile(r"([A-Za-z]+[0-9]+(?:_[A-Za-z]+)+)([0-9]{1,9})")
_WORD = re.compile(r"([A-Za-z]*)(.*)", re.DOTALL)


def split_designator(text: str) -> Designator:
    """Split any text into letters (as written), number and suffix; never an error.

    Several words before the number stay together ("LCD_CON1"); `designator_class` sorts them out.

    Examples
    --------
    >>> split_designator("PU301")
    Designator(letters='PU', number=301, suffix='')
    >>> split_designator("R17A")
    Designator(letters='R', number=17, suffix='A')
    >>> split_designator("LCD_CON1")
    Designator(letters='LCD_CON', number=1, suffix='')
    >>> split_designator("TP_VBAT")
    Designator(letters='TP', number=None, suffix='_VBAT')
    """
    if found := _BLOCK_FIRST.fullmatch(text):  # "DDR3_VCC1"
        return Designator(found[1], int(found[2]))
    if found := _NUMBERED.fullmatch(text):
        return Designator(found[1], int(found[2]), found[3])
    word = _WORD.fullmatch(text)
    if word is None:  # cannot be: the pattern fits any text
        return Designator("", None, text)
    return Designator(word[1], None, word[2])


def designator_class(letters: str) -> DesignatorClass | None:
    """The class of designator letters, or None when nothing is known about them.

    Parameters
    ----------
    letters
        As `split_designator` gives them, in any case. Unknown letters are tried once more: by
        their words ("LCD_CON" is a CON), without the P of a power section ("PFB" is a FB), and by
        a known word at their end ("CHGLED" is a LED).

    Examples
    --------
    >>> designator_class("FB").roles
    ('ferrite',)
    >>> designator_class("PL").roles
    ('inductor', 'connector')
    >>> designator_class("QQQ") is None
    True
    """
    table = designator_table()
    text = letters.upper()
    if text in table:
        return table[text]
    if len(text) > _LONGEST_LETTERS:
        return None
    words = [one for one in re.split(r"[_-]", text) if one.strip("0123456789")]
    if len(words) > 1:
        return _class_of_words(words)
    if text.startswith("P") and len(text) > 2 and text[1:] in table:
        rest = table[text[1:]]
        meaning = f"{rest.meaning} of the power section"
        return replace(rest, letters=text, meaning=meaning, source="practice")
    # VLED is more often a net's name than a part's: the tail counts from the third letter then
    for start in range(2 if text.startswith("V") else 1, len(text) - 1):
        tail = text[start:]
        if tail in table and (len(tail) > 2 or tail in _TELLING_TAILS):
            return replace(table[tail], letters=text, source="practice")
    return None


_LONGEST_LETTERS = 40
_TELLING_TAILS = frozenset({"SW", "TP", "FB", "IC"})


def _class_of_words(words: list[str]) -> DesignatorClass | None:
    """The class of "R_LED" (a short first word decides) and of "LCD_CON" (the last decides).

    A first word with a digit ("DDR3_VCC") names a block of the drawing and decides nothing.
    """
    first = designator_class(words[0])
    last = designator_class(words[-1].rstrip("0123456789"))
    if first is not None and (len(words[0]) <= 2 or last is None):
        return first
    if last is None or first is None:
        return last
    return replace(last, roles=tuple(dict.fromkeys(last.roles + first.roles)))


@cache
def designator_table() -> Mapping[str, DesignatorClass]:
    """All known class letters (upper case) with what they stand for; read once.

    Raises
    ------
    ValueError
        The table names a role that does not exist: a programming fault, caught by the tests.
    """
    table = {}
    for row in read_table("designators.csv"):
        roles = tuple(checked_role(one) for one in row["roles"].split())
        table[row["letters"]] = DesignatorClass(
            row["letters"], row["class"], row["meaning"], roles, row["source"], row["note"]
        )
    return MappingProxyType(table)
