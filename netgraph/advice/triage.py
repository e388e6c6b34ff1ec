# SPDX-License-Identifier: GPL-3.0-or-later
"""What must have been done before any current: the triage, item by item (bench practice 1.1).

An item is done by its card or passed by `waive` with a reason. A waiver answers an open question;
it never overrides a card that says the bench is not safe.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from netgraph.diagnosis.bench_state import DRY_HOURS, BenchState
from netgraph.plan.wiring import Wiring, name_list
from netgraph.reasons import Reason, reason

TriageItem = Literal[
    "cell", "photo", "unplug", "shield", "look", "clean", "dry", "solvent", "look-again"
]
TRIAGE: Final[tuple[TriageItem, ...]] = (
    "cell",
    "photo",
    "unplug",
    "shield",
    "look",
    "clean",
    "dry",
    "solvent",
    "look-again",
)
"""In the order of the work; these are the words that `waive` takes."""

FLEX_PINS: Final = 6
"""A connector with so many pins has a flex or plug that comes off by hand (our choice)."""


@dataclass(frozen=True, slots=True)
class OpenItem:
    """A triage item that stands in the way. `danger`: a card says so, no waiver helps."""

    item: TriageItem
    why: Reason
    danger: bool = False


def open_triage(bench: BenchState, flexes: Sequence[str] = ()) -> tuple[OpenItem, ...]:
    """The items that are neither carded nor waived, in the order of the work.

    Parameters
    ----------
    flexes
        Connectors that must have been unplugged.
    """
    found: list[OpenItem] = []

    def ask(item: TriageItem, done: bool, why: Reason, *, danger: bool = False) -> None:
        if not done and (danger or item not in bench.waived):
            found.append(OpenItem(item, why, danger))

    if bench.swollen_line is not None:
        ask("cell", False, reason("triage-cell-swollen"), danger=True)
    if bench.cell_connected:
        ask("cell", False, reason("triage-cell-connected"), danger=True)
    else:
        ask("cell", bench.cell_connected is False, reason("triage-cell"))
    ask("photo", bench.photographed, reason("triage-photo"))
    still = [one for one in flexes if one not in bench.unplugged]
    in_use = [one for one in still if one in bench.plugged]
    if in_use:
        ask("unplug", False, reason("triage-plugged", parts=name_list(in_use)), danger=True)
    elif still:
        ask("unplug", False, reason("triage-unplug", parts=name_list(still)))
    ask("shield", bench.shields_off, reason("triage-shield"))
    ask("look", bench.looked, reason("triage-look"))
    ask("clean", bench.cleaned, reason("triage-clean"))
    if bench.wet:
        ask("dry", False, reason("triage-wet"), danger=True)
    else:
        ask("dry", bench.dried, reason("triage-dry"))
    if bench.dried:
        hours = bench.dry_hours
        if hours is None:
            ask("solvent", False, reason("triage-solvent", hours=DRY_HOURS))
        elif hours < DRY_HOURS:
            short = reason("triage-solvent-short", said=hours, hours=DRY_HOURS)
            ask("solvent", False, short, danger=True)
    ask("look-again", bench.looked_again, reason("triage-look-again"))
    return tuple(found)


def flex_connectors(wiring: Wiring, names: Sequence[str]) -> tuple[str, ...]:
    """Of these connectors those with something plugged on that comes off by hand."""
    return tuple(one for one in names if len(wiring.pads_of[one]) >= FLEX_PINS)
