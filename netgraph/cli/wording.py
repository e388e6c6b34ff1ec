# SPDX-License-Identifier: GPL-3.0-or-later
"""Small pieces of wording that several commands share: counts, groups, figures, orders."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from netgraph.roles.answer import Role

_MANY: Mapping[str, str] = {
    "memory": "memories",
    "storage": "storage chips",
    "programmable-logic": "programmable-logic chips",
    "switch": "switches",
    "load-switch": "load switches",
    "analog-switch": "analog switches",
    "battery": "batteries",
    "boot-flash": "boot flash chips",
    "mechanical": "mechanical parts",
    "other": "other parts",
    "unknown": "parts of unknown role",
    "tvs": "TVS diodes",
    "esd-array": "ESD arrays",
    "led": "LEDs",
    "eeprom": "EEPROMs",
    "audio": "audio chips",
    "radio": "radio chips",
    "network": "network chips",
    "interface": "interface chips",
    "logic": "logic chips",
    "haptic": "haptic parts",
}
_ONE: Mapping[str, str] = {
    "storage": "storage chip",
    "programmable-logic": "programmable-logic chip",
    "boot-flash": "boot flash chip",
    "mechanical": "mechanical part",
    "other": "other part",
    "unknown": "part of unknown role",
    "tvs": "TVS diode",
    "esd-array": "ESD array",
    "led": "LED",
    "eeprom": "EEPROM",
    "audio": "audio chip",
    "radio": "radio chip",
    "network": "network chip",
    "interface": "interface chip",
    "logic": "logic chip",
    "haptic": "haptic part",
}


def role_word(role: Role | str, count: int = 1) -> str:
    """The role as people say it, in singular or plural.

    >>> role_word("load-switch", 2), role_word("sense-resistor"), role_word("tvs", 3)
    ('load switches', 'sense resistor', 'TVS diodes')
    """
    if count == 1:
        return _ONE.get(role, role.replace("-", " "))
    return _MANY.get(role, role.replace("-", " ") + "s")


def grouped(role: Role | str, part_ids: Iterable[str]) -> str:
    """Count, role and names of like parts.

    >>> grouped("capacitor", ["C10", "C2"])
    '2 capacitors: C2 C10'
    """
    names = in_order(part_ids)
    return f"{len(names)} {role_word(role, len(names))}: {' '.join(names)}"


def counted(number: int, word: str, many: str = "") -> str:
    """A number with its word in the right form.

    >>> counted(1, "part"), counted(0, "part"), counted(2, "supply", "supplies")
    ('1 part', '0 parts', '2 supplies')
    """
    return f"{number} {word if number == 1 else many or word + 's'}"


def in_order(names: Iterable[str]) -> list[str]:
    """Names as people sort them: C2 before C10."""
    return sorted(names, key=_natural)


def _natural(name: str) -> tuple[list[tuple[int, int, str]], str]:
    pieces = re.findall(r"[0-9]{1,18}|[^0-9]+|[0-9]+", name)
    key = [
        (0, int(piece), "") if piece.isascii() and piece.isdigit() else (1, 0, piece)
        for piece in pieces
    ]
    return key, name


def volts(value: float | None) -> str:
    """Volts as people write them; "? V" when not known.

    >>> volts(3.3), volts(None)
    ('3.3 V', '? V')
    """
    return "? V" if value is None else f"{value:.4g} V"


def sure(confidence: float) -> str:
    """A confidence as percent, never rounded up to certainty.

    >>> sure(0.996), sure(0.4)
    ('99 %', '40 %')
    """
    return f"{int(confidence * 100 + 1e-9)} %"
