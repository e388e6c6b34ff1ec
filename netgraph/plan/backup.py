# SPDX-License-Identifier: GPL-3.0-or-later
"""Small cells that keep a chip's content while the board is off: what holds it, and by what way.

A memory or a key store that a coin cell feeds over a diode or a resistor forgets when the cell, or
anything on that way, comes off. That its supply has a second feeder helps only while the board is
powered (practice).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Final, NamedTuple

from netgraph.plan.conduction import diode_edges
from netgraph.plan.wiring import IRREPLACEABLE_ROLES, SERIES_ROLES, Wiring, name_list
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import Role

_PASSED: Final[frozenset[Role]] = SERIES_ROLES | frozenset[Role](
    {"resistor", "diode", "switch", "transistor", "thermistor"}
)
_SMALL_CELL: Final = re.compile(
    r"(?<![A-Z0-9])(?:CR|BR|ML|MS|VL|LIR|SR|LR)[ -]?\d{2,4}(?!\d)|coin|button|back-?up|"
    r"rtc|vbackup|super-?cap|gold-?cap",
    re.IGNORECASE,
)
"""Sizes of coin cells (IEC 60086-3) and words for what they are for (practice)."""

_SUPERCAP_FARAD: Final = 0.01
"""No other capacitor is as large (practice)."""
_DEPTH: Final = 4
_MANY_PADS: Final = 6


class Backup(NamedTuple):
    """`cell` keeps `chips` while the board is off; `parts` lie on the way from it, itself too."""

    cell: str
    chips: tuple[str, ...]
    parts: frozenset[str]


def find_backups(wiring: Wiring) -> tuple[Backup, ...]:
    """All small cells from which a chip that may hold data is fed with no converter between.

    A cell that a converter, charger or power manager draws from is the device's main one.
    """
    found = []
    for cell in _cells(wiring):
        chips: set[str] = set()
        parts = {cell}
        for net in wiring.live_nets(cell):
            for way, net_there in _ways(wiring, net):
                there = [
                    one
                    for one in wiring.parts(net_there)
                    if wiring.is_power(net_there) and _may_hold(wiring, one)
                ]
                if there:
                    chips.update(there)
                    parts.update(way)
        if chips:
            found.append(Backup(cell, tuple(sorted(chips)), frozenset(parts)))
    return tuple(found)


def erase_cautions(wiring: Wiring, backups: Iterable[Backup]) -> tuple[Reason, ...]:
    """What would be erased by disconnecting: by a small cell gone, by a line that is watched."""
    found = [reason("backup-cell", cell=one.cell, chips=name_list(one.chips)) for one in backups]
    watched = [
        part.id
        for part in wiring.board.parts
        if part.id in wiring.fitted
        and wiring.role(part.id) in ("connector", "switch")
        and wiring.watched_nets(part.id)
    ]
    if watched:
        found.append(reason("watched-lines", parts=name_list(watched)))
    return tuple(found)


def _may_hold(wiring: Wiring, part_id: str) -> bool:
    """Whether a chip may hold data or keys: by role, or because its role is not sure."""
    if wiring.role(part_id) in IRREPLACEABLE_ROLES:
        return True
    many = len(wiring.pads_of[part_id]) >= _MANY_PADS
    return many and wiring.is_chip(part_id) and not wiring.is_sure(part_id)


def _cells(wiring: Wiring) -> Iterator[str]:
    feeding = {one.from_net for _, one in wiring.feeders() if wiring.is_chip(one.part_id)}
    for part in wiring.board.parts:
        role = wiring.role(part.id)
        if part.id not in wiring.fitted or len(wiring.live_nets(part.id)) != 1:
            continue
        words = f"{part.value} {part.footprint} {' '.join(wiring.live_nets(part.id))}"
        farad = wiring.part_role(part.id).farad or 0.0
        if (
            (role == "capacitor" and farad >= _SUPERCAP_FARAD)
            or (role in ("battery", "connector", "slot") and _SMALL_CELL.search(words))
            or (role == "battery" and not feeding & set(wiring.live_nets(part.id)))
        ):
            yield part.id


def _ways(wiring: Wiring, start: str) -> Iterator[tuple[tuple[str, ...], str]]:
    """Nets that the cell reaches over passive parts, each with the parts on the way."""
    waiting: list[tuple[str, tuple[str, ...]]] = [(start, ())]
    seen = {start}
    while waiting:
        net, way = waiting.pop(0)
        yield way, net
        rail = wiring.tree.by_net.get(net)
        others = rail is not None and any(
            one.part_id not in way and wiring.is_chip(one.part_id) for one in rail.feeders
        )
        if len(way) >= _DEPTH or others:
            # A supply that a converter makes: from here on it is the board's, not the cell's.
            continue
        for one in wiring.parts(net):
            if one in way or wiring.role(one) not in _PASSED:
                continue
            ends = wiring.live_nets(one)
            if wiring.role(one) == "diode":
                ends = tuple(edge.b for edge in diode_edges(wiring, one) if edge.a == net)
            for other in ends:
                if other not in seen and other not in wiring.grounds:
                    seen.add(other)
                    waiting.append((other, (*way, one)))
