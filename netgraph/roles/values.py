# SPDX-License-Identifier: GPL-3.0-or-later
"""What the value and the other texts of a part say, read once per part."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property

from netgraph.model.board import Part
from netgraph.quantity import find_quantity

_HERTZ_UNIT = re.compile(r"(\d+(?:[.,]\d+)?)\s*([kKmM]?)[hH][zZ]")
_MILLIOHM = re.compile(r"\s*(\d{1,3}(?:\.\d{1,3})?)\s*m(?:R|Ω|[oO]hms?)?(?![A-Za-z0-9])")
_COMMA_ONLY = re.compile(r"\s*\d{1,3},\d{1,2}\s*")
_IMPEDANCE = re.compile(r"\d\s*(?:R|ohms?|Ω)?\s*@\s*\d+\s*M(?:hz)?", re.IGNORECASE)
_NOT_FITTED_WRAP = re.compile(
    r"^\s*\(?(?:NA|NC|NP|DNP|NM|NF|DNF|DNI)\)?\s*[(:/_ ]\s*(.*?)\)?\s*$", re.I
)
_TEXT_FIELDS = (
    "description",
    "ki_description",
    "ki_keywords",
    "desc",
    "keywords",
    "comment",
    "note",
)
_NUMBER_FIELDS = (
    "mpn", "part number", "partnumber", "manufacturer_part_number", "manf#", "mfr. part",
    "part", "manufacturer part", "mfg part", "mfr part number", "pn", "part no",
)  # fmt: skip


@dataclass(frozen=True)
class PartText:
    """The texts of one part, ready for the rules."""

    part: Part

    @cached_property
    def value(self) -> str:
        """The value without the words that say "not fitted"."""
        text = self.part.value
        wrapped = _NOT_FITTED_WRAP.match(text)
        return wrapped.group(1) if wrapped else text

    @cached_property
    def package(self) -> str:
        """The footprint's name without its library."""
        return self.part.package

    @cached_property
    def description(self) -> str:
        """Tags and descriptive fields, joined."""
        texts = [self.part.tags]
        texts += [text for key, text in self.part.fields if key.strip().lower() in _TEXT_FIELDS]
        return " ; ".join(text for text in texts if text)

    @cached_property
    def numbers(self) -> tuple[str, ...]:
        """Texts that may be part markings: the value, then part-number fields."""
        found = [self.value]
        found += [text for key, text in self.part.fields if key.strip().lower() in _NUMBER_FIELDS]
        return tuple(text for text in found if text)

    @cached_property
    def ohm(self) -> float | None:
        """Resistance in the value, in ohms; "10m" on a resistor is ten milliohms."""
        milli = _MILLIOHM.match(self.value)
        if milli:
            return float(milli.group(1)) / 1000.0
        if _COMMA_ONLY.fullmatch(self.value):
            return float(self.value.strip().replace(",", "."))
        found = find_quantity(self.value, "resistance")
        return found.value if found else None

    @cached_property
    def farad(self) -> float | None:
        """Capacitance in the value, in farads."""
        found = find_quantity(self.value, "capacitance")
        return found.value if found else None

    @cached_property
    def henry(self) -> float | None:
        """Inductance in the value, in henries."""
        found = find_quantity(self.value, "inductance")
        return found.value if found else None

    @cached_property
    def hertz(self) -> float | None:
        """A frequency in the value that stands for itself (not a bead's test frequency)."""
        found = _HERTZ_UNIT.search(self.value)
        if not found or _IMPEDANCE.search(self.value):
            return None
        scale = {"": 1.0, "k": 1e3, "m": 1e6}[found.group(2).lower()]
        return float(found.group(1).replace(",", ".")) * scale

    @cached_property
    def is_impedance(self) -> bool:
        """Whether the value is an impedance at a frequency, as beads have it."""
        return _IMPEDANCE.search(self.value) is not None
