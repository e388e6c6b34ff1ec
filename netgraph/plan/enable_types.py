# SPDX-License-Identifier: GPL-3.0-or-later
"""The enable of a part as data: its pin, the ways to hold it, and what is open about it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

How = Literal["tied", "pulled", "chip", "outside", "noted", "unknown"]
Told = Literal["pin-name", "pin-table", "net-name", "place", "notes"]


@dataclass(frozen=True, slots=True)
class Drive:
    """One way to hold an enable: all of `parts`, `nets` and `chips` are needed for it."""

    parts: tuple[str, ...] = ()
    nets: tuple[str, ...] = ()
    chips: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Enable:
    """The enable pin of a part and who holds it.

    Attributes
    ----------
    runs_high
        Level at which the part runs; None where the name leaves it open.
    drives
        Ways to hold it, any one of which is enough. Empty with `how` "unknown": nothing is proved.
    also
        Chips whose power good has to let the line go: each of them is needed as well.
    timing
        Capacitors that only delay it.
    holds_off
        Parts that hold it off, or may: not needed for it.
    told
        What says that the pin is an enable.
    doubt
        Why the answer is weak: "", "several", "outside", "transistor", "held-off", "nobody".
    word
        The pin's name; empty where the file has none.
    """

    part_id: str
    pin: str
    net: str
    runs_high: bool | None
    how: How
    drives: tuple[Drive, ...]
    also: tuple[str, ...] = ()
    timing: tuple[str, ...] = ()
    holds_off: tuple[str, ...] = ()
    told: Told = "pin-name"
    doubt: str = ""
    word: str = ""

    @property
    def name(self) -> str:
        """``REF.PIN``, the name of its node in the power logic."""
        return f"{self.part_id}.{self.pin}"

    def parts_needed(self) -> frozenset[str]:
        """Parts each of which is needed in all ways, chips included."""
        ways = [frozenset((*one.parts, *one.chips)) for one in self.drives]
        both = frozenset.intersection(*ways) if ways else frozenset[str]()
        return both | frozenset(self.also)

    def nets_needed(self) -> frozenset[str]:
        """Nets that all ways hang on."""
        ways = [frozenset(one.nets) for one in self.drives]
        return frozenset.intersection(*ways) if ways else frozenset()
