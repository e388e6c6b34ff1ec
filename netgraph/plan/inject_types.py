# SPDX-License-Identifier: GPL-3.0-or-later
"""The answer to where and up to what a net may be fed: limits, places, vetoes, warnings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from netgraph.plan.conduction import How
from netgraph.plan.inject_points import Point
from netgraph.reasons import Reason

Verdict = Literal["ok", "unsure", "no"]


@dataclass(frozen=True, slots=True)
class AlsoPowered:
    """A net that comes alive too; `through` is a part's identity or ``bridge``.

    `how` is ``conducts``, ``resistor`` (above 150 ohm) or ``converter`` (fed forwards by a
    converter once that starts); `counts` says whether it takes part in the ceiling. A converter
    holds its output at its own volts, so what it feeds never counts.
    """

    net: str
    through: str
    from_net: str
    how: How
    counts: bool
    nominal_volts: float | None

    def as_json(self) -> dict[str, object]:
        """The contract's fields and ours."""
        return {
            "net": self.net,
            "through": self.through,
            "from_net": self.from_net,
            "how": self.how,
            "counts": self.counts,
            "nominal_volts": self.nominal_volts,
        }


@dataclass(frozen=True, slots=True)
class Injection:
    """Where and up to what a net may be fed. Volts, amperes, watts, seconds.

    `max_volts` is None when no ceiling can be given; then nothing above `first_volts` is advised.
    `also_powered` comes alive over conducting parts or behind resistors, `fed_forward` by
    converters that may start; `to_note` are nets whose volts a person would have to note before a
    ceiling can be given. `vetoes` stop everything until each is cleared; `why` says how the
    verdict came about, `points_by` what the order of the points goes by.
    """

    net: str
    verdict: Verdict
    why: Reason
    points: tuple[Point, ...]
    first_volts: float
    stop_volts: float
    max_volts: float | None
    max_volts_because: Reason
    max_amps: float
    max_watts: float
    max_seconds: float
    also_powered: tuple[AlsoPowered, ...]
    fed_forward: tuple[AlsoPowered, ...]
    vetoes: tuple[Reason, ...]
    warnings: tuple[Reason, ...]
    cautions: tuple[Reason, ...]
    to_note: tuple[str, ...] = ()
    points_by: Reason | None = None

    def as_json(self) -> dict[str, object]:
        """The fields of the contract's `inject` row, plus net, why and cautions."""
        return {
            "net": self.net,
            "verdict": self.verdict,
            "why": self.why.as_json(),
            "points": [one.as_json() for one in self.points],
            "points_by": None if self.points_by is None else self.points_by.as_json(),
            "first_volts": self.first_volts,
            "stop_volts": self.stop_volts,
            "max_volts": self.max_volts,
            "max_volts_because": self.max_volts_because.as_json(),
            "max_amps": self.max_amps,
            "max_watts": self.max_watts,
            "max_seconds": self.max_seconds,
            "also_powered": [one.as_json() for one in self.also_powered],
            "fed_forward": [one.as_json() for one in self.fed_forward],
            "to_note": list(self.to_note),
            "vetoes": [one.as_json() for one in self.vetoes],
            "warnings": [one.as_json() for one in self.warnings],
            "cautions": [one.as_json() for one in self.cautions],
        }
