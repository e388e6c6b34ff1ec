# SPDX-License-Identifier: GPL-3.0-or-later
"""How one part comes off with the least heat for the kept chips: tool, limit, what it costs.

Risk goes by method and by the temperature measured at the nearest kept chip, not by a radius: in
a small device everything lies within 10 mm (bench practice 7, common practice).
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from itertools import combinations
from math import hypot
from typing import Final, Literal

import numpy as np

from netgraph.errors import UsageError
from netgraph.plan.keep_list import Keeps
from netgraph.plan.retention import about, equivalent_years
from netgraph.plan.wiring import IRREPLACEABLE_ROLES, PASSIVES, Wiring
from netgraph.reasons import Reason, reason

Method = Literal["hot-tweezers", "two-irons", "iron", "air-shielded", "none"]
"""``none``: the part holds the data, or nothing is soldered there."""

LIMIT_C: Final = 150.0
"""Stop when the nearest kept chip reads this (bench practice 7, common practice)."""

TWEEZERS_SPAN_MM: Final = 4.0
"""Wider parts are not gripped by hot tweezers (our choice, common practice)."""

AIR_PINS: Final = 9
"""From here on a part with pads on several sides is not freed by irons (our choice)."""

SECONDS: Final[dict[Method, float]] = {
    "hot-tweezers": 10.0,
    "two-irons": 20.0,
    "iron": 30.0,
    "air-shielded": 180.0,
    "none": 0.0,
}
"""Time that heat acts, to plan with (our choice, common practice)."""

MINUTES: Final[dict[Method, float]] = {
    "hot-tweezers": 3.0,
    "two-irons": 5.0,
    "iron": 8.0,
    "air-shielded": 20.0,
    "none": 0.0,
}
"""Time of the whole action, to rank plans with (our choice, common practice)."""

# Melting ranges (solidus, liquidus) in °C: sources "solder-alloys".
ALLOYS: Final[dict[str, tuple[float, float]]] = {
    "Sn96.5Ag3.0Cu0.5": (217.0, 220.0),
    "Sn99.3Cu0.7": (227.0, 227.0),
    "Sn96.5Ag3.5": (221.0, 221.0),
    "Sn63Pb37": (183.0, 183.0),
    "Sn60Pb40": (183.0, 188.0),
    "Sn62Pb36Ag2": (179.0, 179.0),
    "Sn43Pb43Bi14": (144.0, 163.0),
    "Sn42Bi58": (138.0, 138.0),
    "Sn42Bi57Ag1": (139.0, 140.0),
    "In97Ag3": (143.0, 143.0),
    "In52Sn48": (118.0, 118.0),
    "Sn95Sb5": (235.0, 240.0),
}
ASSUMED_ALLOY: Final = "Sn96.5Ag3.0Cu0.5"
"""Taken when nobody knows: most boards of today, and the hotter of the two usual ones."""

COMMON_NAMES: Final = {"SAC305": "Sn96.5Ag3.0Cu0.5"}


@dataclass(frozen=True, slots=True)
class HeatPlan:
    """How to take one part off. °C, seconds, minutes, millimetres; None where not known.

    `nearest` is the kept chip to watch; `beneath` says that one lies on the other side right
    under the part. `years_spent` is the retention account of this lift with the cycles before,
    by the limit at the kept chip: orders of magnitude.
    """

    part_id: str
    method: Method
    why: Reason
    steps: tuple[Reason, ...]
    nearest: str | None
    nearest_mm: float | None
    beneath: bool
    limit_c: float
    alloy: str
    alloy_known: bool
    melts_c: tuple[float, float]
    seconds: float
    minutes: float
    cycles_before: int
    years_spent: float
    account: Reason

    def as_json(self) -> dict[str, object]:
        """Plain values for the JSON answers."""
        return {
            "ref": self.part_id,
            "method": self.method,
            "why": self.why.as_json(),
            "steps": [one.as_json() for one in self.steps],
            "nearest_kept": self.nearest,
            "nearest_kept_mm": self.nearest_mm,
            "beneath": self.beneath,
            "limit_c": self.limit_c,
            "alloy": self.alloy,
            "alloy_known": self.alloy_known,
            "solidus_c": self.melts_c[0],
            "liquidus_c": self.melts_c[1],
            "seconds": self.seconds,
            "minutes": self.minutes,
            "cycles_before": self.cycles_before,
            "retention_years_spent": self.years_spent,
            "retention_account": self.account.as_json(),
        }


class HeatPlanner:
    """Plans lifts on one board; the places of the kept chips are worked out once.

    Parameters
    ----------
    underfilled
        Parts under or beside which a person has seen underfill.
    alloy
        Name of the solder, for example ``SAC305`` or ``Sn63Pb37``; None when nobody knows.
    cycles_before
        How often the kept chips were heated to soldering work before.

    Raises
    ------
    UsageError
        The alloy is not in the table, or the cycles are negative.
    """

    def __init__(
        self,
        wiring: Wiring,
        keeps: Keeps,
        *,
        underfilled: Collection[str] = (),
        alloy: str | None = None,
        cycles_before: int = 0,
    ) -> None:
        self.wiring = wiring
        self.underfilled = frozenset(underfilled)
        self.alloy = alloy_named(alloy)
        self.alloy_known = alloy is not None
        if cycles_before < 0:
            raise UsageError("heat cycles so far are zero or more")
        self.cycles_before = cycles_before
        self.kept = keeps.by_part()
        self.guarded = {
            part_id: box
            for part_id, item in sorted(self.kept.items())
            if item.kind == "irreplaceable" and part_id in wiring.fitted
            for box in (self._box(part_id),)
            if box is not None and wiring.is_placed()
        }

    def plan(self, part_id: str) -> HeatPlan:
        """How this part comes off.

        Raises
        ------
        UnknownNameError
            The board has no such part.
        """
        self.wiring.board.part(part_id)
        nearest, distance, beneath = self._nearest(part_id)
        method, why = self._method(part_id)
        melts = ALLOYS[self.alloy]
        seconds = SECONDS[method]
        years = equivalent_years(LIMIT_C, seconds) * (self.cycles_before + 1)
        return HeatPlan(
            part_id=part_id,
            method=method,
            why=why,
            steps=self._steps(part_id, method, nearest, distance, beneath),
            nearest=nearest,
            nearest_mm=distance,
            beneath=beneath,
            limit_c=LIMIT_C,
            alloy=self.alloy,
            alloy_known=self.alloy_known,
            melts_c=melts,
            seconds=seconds,
            minutes=MINUTES[method],
            cycles_before=self.cycles_before,
            years_spent=years,
            account=reason(
                "heat-account",
                seconds=seconds,
                limit=LIMIT_C,
                cycles=self.cycles_before + 1,
                years=about(years),
            ),
        )

    def _box(self, part_id: str) -> tuple[float, float, float, float] | None:
        """x0, y0, x1, y1 of the part's pads in nanometres."""
        board = self.wiring.board
        rows = board.pad_range(board.part(part_id))
        if not len(rows):
            return None
        c = board.columns
        index = slice(rows.start, rows.stop)
        half = np.maximum(c.width_nm[index], c.height_nm[index]) / 2
        return (
            float((c.x_nm[index] - half).min()),
            float((c.y_nm[index] - half).min()),
            float((c.x_nm[index] + half).max()),
            float((c.y_nm[index] + half).max()),
        )

    def _nearest(self, part_id: str) -> tuple[str | None, float | None, bool]:
        """The kept chip nearest in place, its distance over both sides, whether it lies beneath."""
        box = self._box(part_id)
        if box is None:
            return None, None, False
        best: tuple[float, str] | None = None
        for other, its in self.guarded.items():
            if other == part_id:
                continue
            gap = hypot(
                max(its[0] - box[2], box[0] - its[2], 0.0),
                max(its[1] - box[3], box[1] - its[3], 0.0),
            )
            if best is None or (gap, other) < best:
                best = gap, other
        if best is None:
            return None, None, False
        board = self.wiring.board
        beneath = best[0] == 0 and board.part(best[1]).side != board.part(part_id).side
        return best[1], round(best[0] / 1e6, 1), beneath

    def _method(self, part_id: str) -> tuple[Method, Reason]:
        wiring = self.wiring
        pads = wiring.pads_of[part_id]
        item = self.kept.get(part_id)
        if (item is not None and item.kind == "irreplaceable") or (
            wiring.role(part_id) in IRREPLACEABLE_ROLES
        ):
            return "none", reason("heat-never", part=part_id)
        if not pads:
            return "none", reason("heat-no-pads", part=part_id)
        if any(pad.kind == "through" and pad.drill_nm > 0 for pad in pads) and len(pads) > 1:
            if len(pads) >= AIR_PINS:
                return "air-shielded", reason("heat-through-many", part=part_id, pads=len(pads))
            return "iron", reason("heat-through", part=part_id, pads=len(pads))
        untraced = wiring.board.partial and wiring.role(part_id) not in PASSIVES
        if untraced and len(pads) < AIR_PINS:
            return "air-shielded", reason("heat-untraced", part=part_id)
        if len(pads) <= 2:
            if wiring.is_placed() and _span_mm(wiring, part_id) > TWEEZERS_SPAN_MM:
                return "two-irons", reason("heat-two-irons", part=part_id)
            return "hot-tweezers", reason("heat-tweezers", part=part_id)
        if len(pads) < AIR_PINS:
            return "two-irons", reason("heat-small-chip", part=part_id, pads=len(pads))
        return "air-shielded", reason("heat-air", part=part_id, pads=len(pads))

    def _steps(
        self,
        part_id: str,
        method: Method,
        nearest: str | None,
        distance: float | None,
        beneath: bool,
    ) -> tuple[Reason, ...]:
        if method == "none":
            return ()
        found = [reason("heat-dry")]
        wet = self.underfilled & {part_id, *([nearest] if nearest else [])}
        found += [reason("heat-underfill", part=one) for one in sorted(wet)]
        if not wet and method == "air-shielded":
            found.append(reason("heat-underfill-look", part=part_id))
        if nearest is None:
            found.append(reason("heat-no-distance", part=part_id))
        elif beneath:
            found.append(reason("heat-beneath", part=part_id, chip=nearest))
        elif distance is not None:
            found.append(reason("heat-distance", part=part_id, chip=nearest, mm=distance))
        watch = nearest or "the nearest kept chip"
        if method == "air-shielded":
            found.append(reason("heat-shield", chip=watch))
            found.append(reason("heat-preheat", chip=watch))
        else:
            found.append(reason("heat-no-air"))
        found.append(reason("heat-limit", chip=watch, limit=LIMIT_C))
        solidus, liquidus = ALLOYS[self.alloy]
        if self.alloy_known:
            found.append(reason("heat-melts", alloy=self.alloy, solidus=solidus, liquidus=liquidus))
        else:
            found.append(reason("heat-melts-assumed", solidus=solidus, liquidus=liquidus))
        found.append(reason("heat-low-melt"))
        return tuple(found)


def alloy_named(name: str | None) -> str:
    """The alloy by its composition or common name; the assumed one for None.

    Raises
    ------
    UsageError
        Not in the table; the hint lists the names.

    >>> alloy_named("SAC305")
    'Sn96.5Ag3.0Cu0.5'
    """
    if name is None:
        return ASSUMED_ALLOY
    folded = {one.casefold(): one for one in ALLOYS}
    folded |= {common.casefold(): one for common, one in COMMON_NAMES.items()}
    try:
        return folded[name.strip().casefold()]
    except KeyError:
        known = ", ".join([*COMMON_NAMES, *ALLOYS])
        raise UsageError(
            f"no melting point is known for the alloy {name[:80]!r}", hint=f"one of {known}"
        ) from None


def _span_mm(wiring: Wiring, part_id: str) -> float:
    pads = wiring.pads_of[part_id]
    if len(pads) < 2:
        return max(pads[0].width_nm, pads[0].height_nm) / 1e6
    return max(hypot(a.x_nm - b.x_nm, a.y_nm - b.y_nm) for a, b in combinations(pads, 2)) / 1e6
