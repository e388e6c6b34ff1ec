# SPDX-License-Identifier: GPL-3.0-or-later
"""Which rails there are, what feeds each and what hangs on it: the answer of the `rails` room."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from netgraph.reasons import Reason

RailKind = Literal[
    "entry",
    "buck",
    "boost",
    "linear",
    "switched",
    "charger",
    "filtered",
    "reference",
    "unknown",
]


@dataclass(frozen=True, slots=True)
class Feeder:
    """A part that drives a rail, and the net it takes the power from (None: not known).

    `kind` is how it feeds: a converter (``buck``, ``boost``, ``linear``, ``charger``), something
    that passes the supply on (``switched``, ``filtered``), a ``reference`` or ``unknown``.
    `through` names the further parts of the power path (the inductor, the diode), by identity.
    """

    part_id: str
    from_net: str | None
    kind: RailKind
    confidence: float
    reasons: tuple[Reason, ...] = ()
    through: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SeriesPart:
    """A two-net part in the power path from this rail onwards, and the net behind it."""

    part_id: str
    to_net: str


@dataclass(frozen=True, slots=True)
class Rail:
    """One supply net. Several feeders are alternatives: any of them may carry the rail.

    `loads` are parts that draw from the rail, `capacitors` those between it and a ground, both by
    identity, fitted ones only. `always_on` is None when it can't be told. `volts_range` is the
    least and the most to expect in use, None when there is no figure or a person set it.
    """

    net: str
    kind: RailKind
    nominal_volts: float | None
    feeders: tuple[Feeder, ...] = ()
    series: tuple[SeriesPart, ...] = ()
    loads: tuple[str, ...] = ()
    capacitors: tuple[str, ...] = ()
    always_on: bool | None = None
    confidence: float = 0.0
    reasons: tuple[Reason, ...] = ()
    volts_range: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class SwitchNode:
    """The net between a converter chip and its inductor, and the rails on either side."""

    net: str
    converter: str
    inductor: str
    in_net: str | None
    out_net: str | None
    kind: Literal["buck", "boost", "unknown"]


@dataclass(frozen=True)
class RailTree:
    """All grounds and rails of a board; rails are sorted from the entries outwards."""

    grounds: tuple[str, ...]
    rails: tuple[Rail, ...]
    switch_nodes: tuple[SwitchNode, ...] = ()
    cycles: tuple[tuple[str, ...], ...] = field(default=())

    @cached_property
    def by_net(self) -> dict[str, Rail]:
        """Rail by its net's name."""
        return {rail.net: rail for rail in self.rails}

    def __iter__(self) -> Iterator[Rail]:
        return iter(self.rails)
