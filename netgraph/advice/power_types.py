# SPDX-License-Identifier: GPL-3.0-or-later
"""The answer to "may I power it now, and how?"."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from netgraph.plan.power_feed import Feed
from netgraph.reasons import Reason

PowerVerdict = Literal["yes", "no", "not-yet"]

CheckState = Literal["open", "clear", "waived", "compare", "leak", "low", "bridged"]
"""``open``: not measured yet; ``compare``: low, as a sound chip of its kind may read; ``leak``
and ``low``: too little for its kind; ``bridged``: a net of high volts reaches a kept chip's net."""


@dataclass(frozen=True, slots=True)
class Check:
    """One resistance to read before power: `net` to `to` (None: ground), with the pads.

    `nets` are all supplies that the reading speaks for. `least_ohms` is None where no figure
    tells sound from shorted; `ohms` is None when not measured, infinite over range.
    """

    kind: Literal["rail", "high-voltage"]
    net: str
    to: str | None
    at_pads: tuple[str, ...]
    nets: tuple[str, ...]
    least_ohms: float | None
    ohms: float | None
    state: CheckState
    why: Reason

    @property
    def passed(self) -> bool:
        """Whether nothing more is asked of it."""
        return self.state in ("clear", "waived")

    def as_json(self) -> dict[str, object]:
        """The contract's `clear_first[]`; over range is null with `over_range` true."""
        over = self.ohms is not None and math.isinf(self.ohms)
        return {
            "kind": self.kind,
            "net": self.net,
            "to": self.to,
            "at_pads": list(self.at_pads),
            "nets": list(self.nets),
            "least_ohms": self.least_ohms,
            "ohms": None if over else self.ohms,
            "over_range": over,
            "state": self.state,
            "why": self.why.as_json(),
        }


@dataclass(frozen=True, slots=True)
class Plug:
    """A connector that stays unplugged at first, and why."""

    ref: str
    why: Reason

    def as_json(self) -> dict[str, object]:
        """``{"ref", "why"}``."""
        return {"ref": self.ref, "why": self.why.as_json()}


@dataclass(frozen=True, slots=True)
class PowerGate:
    """May the board be powered now, and how. Volts, amperes.

    `because` holds what stands against it, the gravest first, or the one reason that nothing does.
    `clear_first` are all readings that are asked for, done or not. `expected_before` and
    `expected_after` are ranges of the draw before and after the power key, rules of thumb.
    """

    verdict: PowerVerdict
    goal: str
    because: tuple[Reason, ...]
    feed: Feed | None
    expected_before: tuple[float, float] | None
    expected_after: tuple[float, float] | None
    off_if: tuple[Reason, ...]
    clear_first: tuple[Check, ...]
    plugs: tuple[Plug, ...]
    never_with_cell: tuple[Reason, ...]
    warnings: tuple[Reason, ...]
    before_boot: tuple[Reason, ...]
    after: tuple[Reason, ...]
    cautions: tuple[Reason, ...]
    cards: int = 0

    @property
    def limit_amps(self) -> float | None:
        """Current limit after the key."""
        return None if self.feed is None else self.feed.limit_amps
