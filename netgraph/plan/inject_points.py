# SPDX-License-Identifier: GPL-3.0-or-later
"""Which pads of a net a probe or clip may be put on, the best first.

Access says which pads; where the drawn copper is known, its resistance says in which order.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import hypot, inf
from typing import Final

from netgraph.model import Pad
from netgraph.model.board import board_of
from netgraph.plan.feed_resistance import FeedResistance, feed_resistance, least_amps
from netgraph.plan.wiring import IRREPLACEABLE_ROLES, Wiring
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import Role

MAX_POINTS: Final = 12

SMALLEST_SPAN_NM: Final = 750_000
"""Pads of a 0402 (1005 metric) chip lie about 0.96 mm apart, of a 0201 about 0.64 mm."""

SMALLEST_PAD_NM: Final = 400_000
"""A probe slips off narrower pads, connector pins above all (our choice, common practice)."""

GROUND_PAD_NM: Final = 800_000
"""A clip wants more copper than a probe (our choice, common practice)."""

_CLIPS: Final[frozenset[Role]] = frozenset(
    {"capacitor", "resistor", "test-point", "connector", "slot", "mechanical", "switch", "battery"}
)

CLIP_MM: Final = 2.0
"""A clip nearer to the probe than this slips over (our choice, common practice)."""

NEAR_MM: Final = 1.0
"""A point nearer to a chip that may hold the data is named last, whichever side it lies on."""

_SMALLER_THAN_0402: Final = re.compile(r"(?<!\d)(0201(?!5)|01005|0603Metric|0402Metric)")

_GOOD: Final[dict[Role, int]] = {
    "test-point": 0,
    "capacitor": 1,
    "inductor": 1,
    "connector": 2,
    "battery": 2,
    "ferrite": 3,
    "fuse": 3,
}


@dataclass(frozen=True, slots=True)
class Point:
    """A pad to feed at, and a pad of ground near it for the other clip, as ``REF.PIN``.

    `data_mm` is how far the nearest chip lies that may hold the data. Millimetres; None on a
    board without places, and where the side has no ground to clip to. `milliohms` is the mean
    copper from here to the suspects; None where it is not known.
    """

    ref: str
    pin: str
    side: str | None
    x_mm: float | None
    y_mm: float | None
    why: Reason
    ground: str | None = None
    ground_mm: float | None = None
    data_mm: float | None = None
    milliohms: float | None = None

    def as_json(self) -> dict[str, object]:
        """The contract's fields."""
        return {
            "ref": self.ref,
            "pin": self.pin,
            "side": self.side,
            "x_mm": self.x_mm,
            "y_mm": self.y_mm,
            "why": self.why.as_json(),
            "ground": self.ground,
            "ground_mm": self.ground_mm,
            "data_mm": self.data_mm,
            "milliohms": self.milliohms,
        }


@dataclass(frozen=True, slots=True)
class Points:
    """Points, the best first; `why` says what their order goes by.

    `amps` is what the narrowest track between any of them and a suspect may carry; infinite where
    none is known.
    """

    points: tuple[Point, ...]
    why: Reason
    amps: float = inf


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A pad that is good to touch: how near the data, how good the part, the pad and the point."""

    near: float
    grade: int
    pad: Pad
    role: Role
    point: Point


def injection_points(
    wiring: Wiring,
    net: str,
    weights: Mapping[str, float] | None = None,
    *,
    by_copper: bool = True,
) -> Points:
    """Pads on `net` to feed at, the best first; those beside a chip that may hold the data last.

    Where the copper is known, the pad with the least weighted resistance to the suspects comes
    first. Else: far from chips that may hold the data, easy to hold a probe on, points of one
    board side together.

    Parameters
    ----------
    weights
        Part -> how suspect it is; see ``feed_resistance``.
    by_copper
        False: go by access alone.

    Returns
    -------
    Points
        At most twelve; none when the net has no pad that is good to touch.
    """
    found = _candidates(wiring, net)
    if not by_copper:
        return _by_access(wiring, found, reason("points-by-access", net=net))
    if not found:
        return Points((), reason("points-none", net=net))
    copper = feed_resistance(wiring, net, [one.pad for one in found], weights)
    if not copper.ohms:
        return _by_access(wiring, found, copper.why)
    return _by_copper(found, copper)


def _by_access(wiring: Wiring, found: Sequence[_Candidate], why: Reason) -> Points:
    placed = wiring.is_placed()
    ranked = sorted(found, key=lambda one: (one.near, one.grade, one.pad.index))
    best = ranked[:MAX_POINTS]
    sides = [one.point.side for one in best]
    best.sort(key=lambda one: (placed and one.near > -NEAR_MM, sides.index(one.point.side)))
    return Points(tuple(one.point for one in best), why)


def _by_copper(found: Sequence[_Candidate], copper: FeedResistance) -> Points:
    """A tenth of a milliohm more or less is no reason to take the worse hold; a pad on a smaller
    piece of copper comes behind all that reach more of the suspects.
    """

    def rank(one: _Candidate) -> tuple[bool, float, float, int, int]:
        milliohms = 1e3 * copper.ohms.get(one.pad.index, inf)
        share = copper.share.get(one.pad.index, 0.0)
        near = one.near > -NEAR_MM
        return near, -round(share, 3), round(milliohms, 1), one.grade, one.pad.index

    best = sorted(found, key=rank)[:MAX_POINTS]
    points = []
    for one in best:
        ohms = copper.ohms.get(one.pad.index)
        if ohms is None:
            points.append(one.point)
            continue
        milliohms = float(f"{1e3 * ohms:.3g}")
        part, role = one.point.ref, one.role
        why = reason("point-copper", part=part, role=role, milliohms=milliohms)
        points.append(replace(one.point, why=why, milliohms=milliohms))
    return Points(tuple(points), copper.why, least_amps(copper, (one.pad.index for one in best)))


def _candidates(wiring: Wiring, net: str) -> list[_Candidate]:
    """One pad, the largest, of each part on the net that is good to touch."""
    placed = wiring.is_placed()
    guarded = [
        pad
        for part_id in sorted(wiring.fitted)
        if wiring.role(part_id) in IRREPLACEABLE_ROLES
        for pad in wiring.pads_of[part_id]
    ]
    # A pad that nobody measured may be large enough to touch.
    measured = placed and all(one.code != "pad-sizes-assumed" for one in wiring.board.not_known)
    boards = {board_of(part_id) for part_id in wiring.parts(net)} if placed else set()
    grounds = {label: _ground_pads(wiring, label) for label in boards}
    found: list[_Candidate] = []
    for part_id in wiring.parts(net):
        role = wiring.role(part_id)
        if role not in _GOOD or not wiring.is_sure(part_id):
            continue
        if role not in ("test-point", "connector", "battery") and not _is_big(
            wiring, part_id, placed
        ):
            continue
        pads = [
            pad
            for pad in wiring.pads_of[part_id]
            if pad.net == net
            and pad.copper_side in ("top", "bottom", "both")
            and (not measured or min(pad.width_nm, pad.height_nm) >= SMALLEST_PAD_NM)
        ]
        if not pads:
            continue
        pad = max(pads, key=lambda one: (one.width_nm * one.height_nm, -one.index))
        far = _distance_mm(pad, guarded) if placed and guarded else None
        if far is None:
            why = reason("point-by-part", part=part_id, role=role)
        else:
            why = reason("point-distance", part=part_id, role=role, mm=round(far, 1))
        side = pad.copper_side if pad.copper_side in ("top", "bottom") else pad.side
        ground = _nearest_ground(pad, side, grounds.get(board_of(part_id), []))
        point = Point(
            part_id,
            pad.pin,
            side if wiring.board.knows_side_of(part_id) else None,
            pad.x_nm / 1e6 if placed else None,
            pad.y_nm / 1e6 if placed else None,
            why,
            None if ground is None else f"{ground.part_id}.{ground.pin}",
            None if ground is None else round(_distance_mm(pad, [ground]), 1),
            None if far is None else round(far, 1),
        )
        # Beyond 10 mm more distance is no more gain; nearer, each millimetre counts.
        near = -min(far or 0.0, 10.0)
        found.append(_Candidate(near, _GOOD[role], pad, role, point))
    return found


def _ground_pads(wiring: Wiring, label: str) -> list[Pad]:
    """Pads of one board's ground that has most of them there, large enough to touch.

    Unplugged boards have grounds that nothing joins: a clip on another board closes no circuit.
    """
    board = wiring.board
    here = [part.id for part in board.parts if board_of(part.id) == label]
    count = Counter(
        pad.net for one in here for pad in wiring.pads_of[one] if pad.net in wiring.grounds
    )
    if not count:
        return []
    ground = max(sorted(net for net in count if net is not None), key=lambda net: count[net])
    # A clip finds no hold on the pads of a chip, least of all on one below it.
    holders = [
        one for one in wiring.parts(ground)
        if board_of(one) == label and wiring.role(one) in _CLIPS
    ]  # fmt: skip
    pads = (pad for one in holders for pad in wiring.pads_of[one])
    return [
        pad
        for pad in pads
        if pad.net == ground and min(pad.width_nm, pad.height_nm) >= SMALLEST_PAD_NM
    ]


def _nearest_ground(pad: Pad, side: str, grounds: list[Pad]) -> Pad | None:
    """The nearest ground pad on this side that takes a clip and is not so near that it slips over;
    a small or near one where there is no better.
    """

    def rank(one: Pad) -> tuple[bool, float, int]:
        far = _distance_mm(pad, [one])
        small = min(one.width_nm, one.height_nm) < GROUND_PAD_NM
        return small or far < CLIP_MM, far, one.index

    here = (one for one in grounds if one.copper_side in (side, "both"))
    return min(here, key=rank, default=None)


def _is_big(wiring: Wiring, part_id: str, placed: bool) -> bool:
    """Whether a chip part is 0402 or larger; on a bare netlist only the package name can tell."""
    if _SMALLER_THAN_0402.search(wiring.board.part(part_id).package):
        return False
    pads = wiring.pads_of[part_id]
    if not placed or len(pads) < 2:
        return True
    return max(hypot(a.x_nm - b.x_nm, a.y_nm - b.y_nm) for a, b in combinations(pads, 2)) >= (
        SMALLEST_SPAN_NM
    )


def _distance_mm(pad: Pad, others: list[Pad]) -> float:
    return min(hypot(pad.x_nm - one.x_nm, pad.y_nm - one.y_nm) for one in others) / 1e6
