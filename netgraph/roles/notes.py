# SPDX-License-Identifier: GPL-3.0-or-later
"""Board notes: a person's corrections to roles, rails, volts; kept beside the board, in TOML.

A person's word always wins; where it contradicts the file, both are shown.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from netgraph.roles.answer import NetKind, Role

KeepWord = Literal["irreplaceable", "replace", "no"]


@dataclass(frozen=True, slots=True)
class PartNote:
    """What a person says of one part; None where nothing is said."""

    role: Role | None = None
    fitted: bool | None = None
    keep: KeepWord | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class FeederNote:
    """A feeder named by a person: the part and the net it takes the power from."""

    part_id: str
    from_net: str | None = None


@dataclass(frozen=True, slots=True)
class NetNote:
    """What a person says of one net; `feeders` None: nothing said, empty: it has none."""

    kind: NetKind | None = None
    nominal_volts: float | None = None
    feeders: tuple[FeederNote, ...] | None = None
    always_on: bool | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class BoardNotes:
    """All notes of one board; `fingerprint` is that of the netlist they were written for."""

    parts: Mapping[str, PartNote] = field(default_factory=dict)
    nets: Mapping[str, NetNote] = field(default_factory=dict)
    fingerprint: str = ""

    def part(self, part_id: str) -> PartNote:
        """The note of a part; an empty one when there is none."""
        return self.parts.get(part_id, PartNote())

    def net(self, name: str) -> NetNote:
        """The note of a net; an empty one when there is none."""
        return self.nets.get(name, NetNote())


NO_NOTES = BoardNotes()
