# SPDX-License-Identifier: GPL-3.0-or-later
"""One line of a hand-traced netlist: what it says, or why it can't be understood.

C12.1 L3.2 U5.14 : VSYS    these pads are joined, the net is called VSYS
C12.1 C13.1                these pads are joined
U5.7 nc                    this pad joins nothing
C12.1 U5.3 apart           these pads were measured and are not joined
C12 = 10uF 0603 bottom     value, package, side of a part
U5.14 is VIN               the name of a pin
R9 not-fitted              the part is not there
U1 named U2700             the part called U1 so far is U2700
~ L1.2 C9.1 : VDD          assumed, not traced: gives way to what is found
# words                    a comment
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from netgraph import limits
from netgraph.errors import BoardFileError, visible
from netgraph.formats.plain_text import checked_name
from netgraph.model.board import Side

Kind = Literal["join", "nc", "apart", "part", "pin-name", "not-fitted", "named"]
PadName = tuple[str, str]

_EXPECTED = "pads such as C12.1 L3.2 : VSYS"
FORMS = (
    "PADS : NET, PADS, PAD nc, PADS apart, REF = VALUE PACKAGE SIDE, PAD is NAME, "
    "REF not-fitted or REF named REF"
)
"""What a line may say; pads are REF.PIN."""
_STRAY = re.compile(r"[,;\"\u201c\u201d\u201e\u00ab\u00bb\u2018\u2019`]|^'|'$")
_RUN_TOGETHER = re.compile(r"[A-Z]{1,3}[0-9]+\.[0-9]+[A-Z]{1,3}[0-9]+\.[0-9A-Z]+")
_NUMBER = re.compile(r"[0-9]+(?:[.,][0-9]+)?")
_UNIT = re.compile(
    r"[pnu\u00b5\u03bcmkKMG]?(?:F|H|Hz|Ohm|ohm|R|\u03a9|\u2126|V|A)|[pnu\u00b5\u03bckKM]"
)
_PROPERTY = re.compile(
    r"[XYZ][5678][RSTUVPG]|C0G|NP0|NPO|\u00b1?[0-9.]+%|[0-9.]+(?:V|W|mW|A)(?:DC)?", re.IGNORECASE
)
_NOT_FITTED = frozenset(("dnp", "dnf", "dni", "dns", "nf", "nm", "unfitted", "unpopulated", "open"))


@dataclass(frozen=True, slots=True)
class Fact:
    """What one line says; unused fields are empty. `assumed` lines give way to traced ones."""

    kind: Kind
    line: int
    pads: tuple[PadName, ...] = ()
    name: str = ""
    part: str = ""
    value: str = ""
    package: str = ""
    side: Side | None = None
    assumed: bool = False


def fact_of(text: str, line: int = 1) -> Fact | None:
    """The fact in a line; None for a blank line or a comment.

    Raises
    ------
    BoardFileError
        The line can't be understood; with line, column and what was expected.

    Examples
    --------
    >>> fact_of("C12.1 L3.2 : VSYS").pads
    (('C12', '1'), ('L3', '2'))
    >>> fact_of("C12 = 10uF 0603 bottom").package
    '0603'
    """
    said = text.strip()
    if not said or said.startswith("#"):
        return None
    assumed = said.startswith("~")
    words = said[1:].split() if assumed else said.split()
    if not words:
        return None
    if ":" in words:
        at = words.index(":")
        return _join(text, line, words[:at], words[at + 1 :], assumed=assumed)
    if "=" in words[1:2]:
        return _part(text, line, words[0], words[2:], assumed=assumed)
    last = words[-1].casefold()
    if last == "nc" and len(words) > 1:
        return Fact("nc", line, _pads(text, line, words[:-1]), assumed=assumed)
    if last == "apart" and len(words) > 1:
        pads = _pads(text, line, words[:-1])
        if len(pads) < 2:
            raise _fault(text, line, words[0], "one pad can't be apart from itself", "two pads")
        if len(pads) > limits.MAX_PADS_APART:
            raise BoardFileError(
                "limit-exceeded",
                f"{len(pads)} pads apart, the limit is {limits.MAX_PADS_APART} (MAX_PADS_APART)",
                line=line,
            )
        return Fact("apart", line, pads, assumed=assumed)
    if last == "not-fitted" and len(words) == 2:
        return Fact("not-fitted", line, part=_ref(text, line, words[0]), assumed=assumed)
    if last in _NOT_FITTED and len(words) == 2 and not _is_pad(words[0]):
        raise _fault(
            text, line, words[1], f"{visible(words[1])!r} is no word of a line", FORMS,
            hint=f"{visible(words[0][:30])} not-fitted",
        )  # fmt: skip
    if len(words) > 1 and words[1].casefold() == "is":
        (pad,) = _pads(text, line, words[:1])
        if len(words) != 3:
            odd = words[3] if len(words) > 3 else words[1]
            raise _fault(text, line, odd, "a pin has one name", "one word behind 'is'")
        return Fact("pin-name", line, (pad,), name=checked_name(words[2], "pin", line))
    if len(words) == 3 and words[1].casefold() == "named":
        old, new = (_ref(text, line, word) for word in (words[0], words[2]))
        return Fact("named", line, part=old, name=new)
    return _join(text, line, words, [], assumed=assumed)


def _join(text: str, line: int, words: list[str], name: list[str], *, assumed: bool) -> Fact:
    if len(name) > 1:
        raise _fault(text, line, name[1], "a net's name of several words", "one word behind ':'")
    if ":" in text.split() and not name:
        raise _fault(text, line, ":", "no name behind ':'", "the net's name, or no ':'")
    pads = _pads(text, line, words)
    if not pads or (len(pads) < 2 and not name):
        raise _fault(text, line, words[0] if words else ":", "a line that joins nothing", _EXPECTED)
    named = checked_name(_plain(text, line, name[0], ends=True), "net", line) if name else ""
    return Fact("join", line, pads, name=named, assumed=assumed)


def _part(text: str, line: int, ref: str, words: list[str], *, assumed: bool) -> Fact:
    side: Side | None = None
    rest = []
    for word in words:
        folded = word.casefold()
        if folded.startswith("#"):
            raise _fault(
                text, line, word, "a comment behind a fact", "a comment on a line of its own"
            )
        if folded == "top":
            side = "top"
        elif folded == "bottom":
            side = "bottom"
        else:
            rest.append(word)
    if not words:
        raise _fault(text, line, "=", "nothing behind '='", "value, package, side")
    rest = _units_joined(rest)
    # A dielectric, tolerance or rating is no package: C2 = 100n X7R.
    package = rest.pop() if len(rest) > 1 and not _PROPERTY.fullmatch(rest[-1]) else ""
    return Fact(
        "part",
        line,
        part=_ref(text, line, ref),
        value=checked_name(" ".join(rest), "value", line),
        package=checked_name(package, "package", line),
        side=side,
        assumed=assumed,
    )


def _units_joined(words: list[str]) -> list[str]:
    """A value and its unit written apart are one word: ``10 uF``."""
    if len(words) > 1 and _NUMBER.fullmatch(words[0]) and _UNIT.fullmatch(words[1]):
        return [words[0] + words[1], *words[2:]]
    return words


def _ref(text: str, line: int, word: str) -> str:
    return checked_name(_plain(text, line, word), "reference", line)


def _is_pad(word: str) -> bool:
    ref, _, pin = word.rpartition(".")
    return bool(ref and pin)


def stray_mark(word: str) -> str | None:
    """A comma, semicolon or quotation mark in a designator or pad; None where there is none.

    Examples
    --------
    >>> stray_mark("C1.1,"), stray_mark("C1.1")
    (',', None)
    """
    found = _STRAY.search(word)
    return None if found is None else found[0]


def _plain(text: str, line: int, word: str, *, ends: bool = False) -> str:
    """The word itself; `ends`: of a net's name only the first and last sign may not be stray."""
    if ":" in word and not ends:
        raise BoardFileError(
            "file-malformed",
            f"a colon within {visible(word[:30])}",
            line=line,
            column=max(text.find(word), 0) + word.find(":") + 1,
            expected="' : ' with a space on both sides before a net's name",
            hint="C12.1 L3.2 : VSYS",
        )
    mark = stray_mark(word[:1] + word[-1:] if ends else word)
    if mark is not None:
        at = max(text.find(word), 0) + word.find(mark)
        raise BoardFileError(
            "file-malformed",
            f"a stray {mark} in {visible(word[:30])}",
            line=line,
            column=at + 1,
            expected="words parted by spaces alone",
            hint="C12.1 L3.2 : VSYS, without commas and quotation marks",
        )
    return word


def _pads(text: str, line: int, words: list[str]) -> tuple[PadName, ...]:
    pads = []
    for word in words:
        ref, _, pin = _plain(text, line, word).rpartition(".")
        if _RUN_TOGETHER.fullmatch(word):
            raise _fault(text, line, word, f"two pads run together in {visible(word[:30])}",
                         "a space between pads", hint="C12.1 L3.2")  # fmt: skip
        if not ref or not pin:
            raise _fault(
                text,
                line,
                word,
                f"{visible(word[:30])!r} is no pad, and the line has no other known form",
                FORMS,
                hint="a pad is REF.PIN such as C12.1; a net's name stands behind ' : '",
            )
        pads.append((checked_name(ref, "reference", line), checked_name(pin, "pin", line)))
    return tuple(dict.fromkeys(pads))


def _fault(
    text: str, line: int, word: str, message: str, expected: str, *, hint: str = ""
) -> BoardFileError:
    return BoardFileError(
        "file-malformed",
        message,
        line=line,
        column=max(text.find(word), 0) + 1,
        expected=expected,
        hint=hint,
    )
