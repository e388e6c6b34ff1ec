# SPDX-License-Identifier: GPL-3.0-or-later
"""Do notes on who switches whom on contradict each other?

A note that can't be true together with another is refused: built on it, a part that keeps the
board alive would look spare.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from netgraph.roles.notes import NetNote, PartNote

_NO_SUPPLY = frozenset({"ground", "chassis", "no-connect"})


@dataclass(frozen=True, slots=True)
class Contradiction:
    """Which note can't be true (part and key), and why in plain words."""

    part_id: str
    key: str
    message: str


def find_contradiction(
    parts: Mapping[str, PartNote], nets: Mapping[str, NetNote]
) -> Contradiction | None:
    """The first note on enabling or order that can't be true; None when there is none.

    >>> one = {"U4": PartNote(enabled_by=("U4",))}
    >>> find_contradiction(one, {}).message
    'U4 is said to be enabled by itself'
    """
    for name, note in parts.items():
        found = _of_enables(name, note, parts) or _of_order(name, note, nets)
        if found is not None:
            return found
    return _circle(parts, nets)


def _of_enables(name: str, note: PartNote, parts: Mapping[str, PartNote]) -> Contradiction | None:
    for one in note.enabled_by or ():
        if one == name:
            return Contradiction(name, "enabled_by", f"{name} is said to be enabled by itself")
        other = parts.get(one)
        if other is not None and other.fitted is False and note.fitted is not False:
            message = f"{name} is said to be enabled by {one}, which is noted as not fitted"
            return Contradiction(name, "enabled_by", message)
    return None


def _of_order(name: str, note: PartNote, nets: Mapping[str, NetNote]) -> Contradiction | None:
    for net in note.needs_first:
        said = nets.get(net)
        if said is None:
            continue
        if said.kind in _NO_SUPPLY:
            message = f"{name} is said to need {net} first, which is noted as {said.kind}"
            return Contradiction(name, "needs_first", message)
        makers = {one.part_id for one in said.feeders or ()}
        if makers == {name}:
            message = f"{name} is said to need {net} first, and to be all that feeds it"
            return Contradiction(name, "needs_first", message)
    return None


def _circle(parts: Mapping[str, PartNote], nets: Mapping[str, NetNote]) -> Contradiction | None:
    """Parts that all wait for each other: the last of them could never start."""
    waits: dict[str, list[tuple[str, str]]] = {}
    for name, note in parts.items():
        own = [(one, "enabled_by") for one in note.enabled_by or ()]
        for net in note.needs_first:
            said = nets.get(net)
            makers = {one.part_id for one in (said.feeders or ())} if said is not None else set()
            if len(makers) == 1:
                own.append((makers.pop(), "needs_first"))
        waits[name] = own
    for name, own in waits.items():
        for first, key in own:
            way = _way(waits, first, name)
            if way is not None:
                names = " for ".join([name, *way])
                message = f"a circle that can never start: {names} (each waits for the next)"
                return Contradiction(name, key, message)
    return None


def _way(
    waits: Mapping[str, list[tuple[str, str]]], start: str, goal: str
) -> tuple[str, ...] | None:
    """Parts from start to goal, each waiting for the next."""
    came: dict[str, tuple[str, ...]] = {start: (start,)}
    waiting = [start]
    while waiting:
        one = waiting.pop()
        if one == goal:
            return came[one]
        for other, _ in waits.get(one, ()):
            if other not in came:
                came[other] = (*came[one], other)
                waiting.append(other)
    return None
