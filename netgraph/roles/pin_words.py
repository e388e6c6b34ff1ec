# SPDX-License-Identifier: GPL-3.0-or-later
"""What a pin of a supply chip does, by its name: enable, power good, feedback and the like.

Names as makers print them in pin tables (common practice, no source). An overbar is written in
many ways: ``~{EN}``, ``EN#``, ``/EN``, ``EN_N``, ``nEN``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

PinDuty = Literal[
    "enable",
    "power-good",
    "feedback",
    "bootstrap",
    "compensation",
    "soft-start",
    "current-set",
    "bypass",
    "reset",
]


@dataclass(frozen=True, slots=True)
class PinWord:
    """What a pin does. `high` tells which level of an enable lets the chip run, None: not told by
    the name (a plain SHDN is printed with and without its bar).
    """

    duty: PinDuty
    high: bool | None = None


_ENABLE: Final = re.compile(
    r"(?:V|CHIP_?|PWR_?|POWER_?)?EN(?:ABLE|A|_?UVLO|_?\d+|_?[A-Z]\d?)?\d*|"
    r"ON|ON_?OFF|RUN\d?|CE\d?|UVLO"
)
_SHUT: Final = re.compile(r"SHDN\d?|SHUTDOWN|SD|SHD")
_STOP: Final = re.compile(r"OFF|DIS|DISABLE|INH|INHIBIT|STBY|STANDBY")
_OTHERS: Final[tuple[tuple[PinDuty, re.Pattern[str]], ...]] = (
    (
        "power-good",
        re.compile(r"PG\d?|PGOOD\d?|PWR_?G(?:OO)?D|POK\d?|POWER_?(?:GOOD|OK)|PGD|DC_?OK"),
    ),
    ("feedback", re.compile(r"V?FB\d?|ADJ|FEEDBACK|V?ADJ\d?|FB_?[A-Z]{0,3}\d?|VSET\d?|VOSNS")),
    ("bootstrap", re.compile(r"BST\d?|BOOT\d?|CB|CBOOT|BS|VBST\d?|BOOTSTRAP|VBOOT")),
    ("compensation", re.compile(r"V?COMP\d?|VC|ITH\d?|CC|COMP_?[A-Z]?\d?")),
    ("soft-start", re.compile(r"SS\d?|SS_?TR(?:ACK)?|CSS|SOFT_?START|TR_?SS")),
    (
        "current-set",
        re.compile(r"R?ILIM\d?|ISET\d?|IREF|RLIM|RSET|SET|RT|FREQ|RT_?SYNC|RT_?CLK|PROG|ICHG"),
    ),
    ("bypass", re.compile(r"BYP(?:ASS)?|CBYP|NR|NR_?SS|VREF|REF|CREF|VCC_?INT|VREG\d?|INTVCC|VL")),
    ("reset", re.compile(r"(?:SYS_?|N|X)?RESET\d?|(?:SYS_?|N)?RST\d?|POR|MCLR|(?:SYS_?)?RES")),
)
_BAR: Final = re.compile(r"[~!/]|#|\*|[{}]|\\")


@lru_cache(maxsize=4096)
def pin_word(name: str) -> PinWord | None:
    """What the name says; None when it is no word of a supply chip.

    >>> pin_word("EN"), pin_word("~{SHDN}").high, pin_word("~{EN}").high, pin_word("SHDN").high
    (PinWord(duty='enable', high=True), True, False, None)
    >>> pin_word("PGOOD").duty, pin_word("EN/UVLO").high, pin_word("VIN")
    ('power-good', True, None)
    """
    for piece in _pieces(name):
        found = _of_piece(piece)
        if found is not None:
            return found
    return None


def _pieces(name: str) -> list[str]:
    """The functions of a shared pin, one by one: ``EN/UVLO`` has two."""
    text = name.strip()
    if not text or len(text) > 40:
        return []
    if text.startswith("/") or "/" not in text:
        return [text]
    return [_BAR.sub("", text.replace("/", "_")), *text.split("/")]


def _of_piece(text: str) -> PinWord | None:
    barred = _BAR.search(text) is not None
    plain = _BAR.sub("", text)
    if re.match(r"n[A-Z]", plain):
        barred, plain = True, plain[1:]
    plain = plain.upper()
    tail = re.search(r"_(N|B|L)$", plain)
    if tail is not None:
        barred, plain = True, plain[: tail.start()]
    if plain.startswith("N") and re.fullmatch(r"N(EN|ENABLE|CE|OE|SHDN|SHUTDOWN)\d?", plain):
        barred, plain = True, plain[1:]
    if _SHUT.fullmatch(plain):
        return PinWord("enable", True if barred else None)
    if _STOP.fullmatch(plain):
        return PinWord("enable", barred)
    for duty, pattern in _OTHERS:
        if pattern.fullmatch(plain):
            return PinWord(duty)
    if _ENABLE.fullmatch(plain):
        return PinWord("enable", not barred)
    return None
