# SPDX-License-Identifier: GPL-3.0-or-later
"""How could two nets be joined: parts on both, pads that lie close, vias and tracks side by side.

`likelihood` is a rank score from 0 to 1, not a probability: by kind of part, by gap, by whether
water stays there. The weights are our own (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from netgraph.errors import UsageError
from netgraph.model import Board, Pad
from netgraph.plan.copper_gaps import copper_neighbours
from netgraph.plan.gaps import boxes_of, near_pairs, polygon_gaps, rectangle_corners
from netgraph.plan.wiring import NOT_CHIPS, SERIES_ROLES
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import Role, Roles

PAD_GAP_NM: Final = 500_000
"""Deposits between pads further apart than 0.5 mm are seen by eye (common practice)."""

SiteKind = Literal["part", "pad-gap", "under-package", "via", "track"]

_PART_SCORE: Final[dict[Role, float]] = {
    "capacitor": 0.8,
    "tvs": 0.65,
    "esd-array": 0.6,
    "charger": 0.55,
    "power-manager": 0.5,
    "regulator": 0.5,
    "load-switch": 0.5,
    "transistor": 0.5,
    "connector": 0.5,
    "diode": 0.45,
    "battery": 0.4,
    "led": 0.2,
    "crystal": 0.2,
    "resistor": 0.1,
    "test-point": 0.02,
    "mechanical": 0.02,
}
"""How often a part of this role is what joins two nets on a wet board; others: 0.35."""

_FLOWS: Final[frozenset[Role]] = SERIES_ROLES | frozenset[Role]({"resistor"})


@dataclass(frozen=True, slots=True)
class SiteEnd:
    """One side of a site: the pad, or only the net where it is a via or track."""

    ref: str | None
    pin: str | None
    net: str

    def as_json(self) -> dict[str, object]:
        """``{"ref", "pin", "net"}``."""
        return {"ref": self.ref, "pin": self.pin, "net": self.net}


@dataclass(frozen=True, slots=True)
class Site:
    """A place where the two nets could meet. Millimetres; None where places are not known."""

    kind: SiteKind
    a: SiteEnd
    b: SiteEnd
    gap_mm: float | None
    refs: tuple[str, ...]
    likelihood: float
    why: Reason
    x_mm: float | None = None
    y_mm: float | None = None
    side: str | None = None

    def as_json(self) -> dict[str, object]:
        """The fields of the contract's `path` row, plus the place."""
        return {
            "kind": self.kind,
            "a": self.a.as_json(),
            "b": self.b.as_json(),
            "gap_mm": self.gap_mm,
            "refs": list(self.refs),
            "likelihood": self.likelihood,
            "why": self.why.as_json(),
            "x_mm": self.x_mm,
            "y_mm": self.y_mm,
            "side": self.side,
        }


def path_sites(
    board: Board,
    roles: Roles,
    net_a: str,
    net_b: str | None = None,
    *,
    limit: int = 200,
    use_copper: bool = True,
) -> tuple[Site, ...]:
    """Places where `net_a` and `net_b` (None: any ground) could be joined, the likeliest first.

    Pads count as their rotated rectangles, so that round ones come out a little nearer than they
    are; filled copper areas are not looked at, since they keep one clearance everywhere. At most
    `limit` sites come back, the least likely ones are left out. Without `use_copper` tracks and
    vias are not looked at.

    Raises
    ------
    UnknownNameError
        The board has no such net.
    UsageError
        Both names are the same, or the only net named is the ground itself.
    """
    board.net(net_a)
    if net_b is not None:
        board.net(net_b)
        if net_b == net_a:
            raise UsageError(f"{net_a} is one net", hint="name two nets, or one against ground")
    others = {net_b} if net_b is not None else set(roles.grounds())
    others.discard(net_a)
    if net_b is None and net_a in roles.grounds() and not others:
        raise UsageError(
            f"{net_a} is ground itself", hint="name the net that is shorted to it, or two nets"
        )
    found = [*_part_sites(board, roles, net_a, others)]
    columns = board.columns
    if len(columns) and (columns.x_nm.any() or columns.y_nm.any()):
        found += _pad_sites(board, roles, net_a, others)
        found += _copper_sites(board, net_a, others) if use_copper else ()
    found.sort(key=lambda one: (-one.likelihood, one.kind, one.refs, str(one.a), str(one.b)))
    return tuple(found[:limit])


def _part_sites(board: Board, roles: Roles, net_a: str, others: Iterable[str]) -> Iterable[Site]:
    for other in sorted(others):
        both = set(board.parts_on_net[net_a]) & set(board.parts_on_net[other])
        for part_id in sorted(both & roles.fitted):
            if board.part(part_id).not_fitted_because == "lifted":
                continue
            role = roles.parts[part_id].role if part_id in roles.parts else "unknown"
            if role in _FLOWS and len(board.nets_of_part[part_id]) == 2:
                score = 0.95 if role in SERIES_ROLES else 0.3
                why = reason("site-by-design", part=part_id, role=role, a=net_a, b=other)
            else:
                score = _PART_SCORE.get(role, 0.35)
                why = reason("site-part", part=part_id, role=role, a=net_a, b=other)
            yield Site(
                "part",
                SiteEnd(part_id, board.pins_on_net(part_id, net_a)[0], net_a),
                SiteEnd(part_id, board.pins_on_net(part_id, other)[0], other),
                None,
                (part_id,),
                score,
                why,
            )


def _corners(board: Board, pads: list[int]) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    c = board.columns
    return rectangle_corners(
        *(
            column[pads].astype(np.float64)
            for column in (c.x_nm, c.y_nm, c.width_nm, c.height_nm, c.angle_deg)
        )
    )


def _pad_sites(board: Board, roles: Roles, net_a: str, others: Iterable[str]) -> Iterable[Site]:
    seen: set[tuple[int, int]] = set()
    for side in ("top", "bottom"):
        mine = _pads_on_side(board, board.pads_on_net(net_a), side)
        theirs = _pads_on_side(
            board, [pad for other in sorted(others) for pad in board.pads_on_net(other)], side
        )
        if not mine or not theirs:
            continue
        a, b = _corners(board, mine), _corners(board, theirs)
        pairs = near_pairs(boxes_of(a), boxes_of(b), PAD_GAP_NM)
        if not len(pairs):
            continue
        gaps = polygon_gaps(a[pairs[:, 0]], b[pairs[:, 1]])
        bodies = _Bodies(board, roles, side)
        for (i, j), gap in zip(pairs.tolist(), gaps.tolist(), strict=True):
            key = (mine[i], theirs[j])
            if gap <= PAD_GAP_NM and key not in seen:
                seen.add(key)
                yield _pad_site(board.pad(key[0]), board.pad(key[1]), gap / 1e6, side, bodies)


def _pads_on_side(board: Board, pads: Iterable[int], side: str) -> list[int]:
    chosen = []
    for index in pads:
        pad = board.pad(index)
        if pad.copper_side in (side, "both") and pad.kind != "hole":
            chosen.append(index)
    return chosen


class _Bodies:
    """Rectangles that the pads of each fitted part span, per side: what lies under a part."""

    def __init__(self, board: Board, roles: Roles, side: str) -> None:
        c = board.columns
        self.names: list[str] = []
        self.chips: set[str] = set()
        self.open: set[str] = set()
        boxes: list[list[float]] = []
        for part in board.parts:
            pads = board.pad_range(part)
            if part.id not in roles.fitted or part.side != side or len(pads) < 2:
                continue
            rows = slice(pads.start, pads.stop)
            boxes.append(
                [
                    float(c.x_nm[rows].min()),
                    float(c.y_nm[rows].min()),
                    float(c.x_nm[rows].max()),
                    float(c.y_nm[rows].max()),
                ]
            )
            self.names.append(part.id)
            role = roles.parts[part.id].role if part.id in roles.parts else "unknown"
            if role not in NOT_CHIPS or role == "esd-array":
                self.chips.add(part.id)
            elif role in ("connector", "slot", "test-point", "mechanical"):
                self.open.add(part.id)
        self.boxes = np.array(boxes, dtype=np.float64).reshape(-1, 4)

    def over(self, x: float, y: float, owners: set[str]) -> tuple[str, ...]:
        """Chips whose pads span the point, and the pads' own part when both are of one.

        Between the pins of a connector one can look; that is no hidden place.
        """
        b = self.boxes
        hit = (b[:, 0] <= x) & (x <= b[:, 2]) & (b[:, 1] <= y) & (y <= b[:, 3])
        names = [self.names[index] for index in np.flatnonzero(hit)]
        return tuple(
            name
            for name in names
            if name in self.chips or (owners == {name} and name not in self.open)
        )


def _pad_site(a: Pad, b: Pad, gap_mm: float, side: str, bodies: _Bodies) -> Site:
    assert a.net is not None  # noqa: S101 - pads come from nets
    assert b.net is not None  # noqa: S101
    x, y = (a.x_nm + b.x_nm) / 2, (a.y_nm + b.y_nm) / 2
    over = bodies.over(x, y, {a.part_id, b.part_id})
    closeness = 1.0 - gap_mm / (PAD_GAP_NM / 1e6)
    mm = round(gap_mm, 3)
    names = {
        "a": f"{a.part_id}.{a.pin}",
        "b": f"{b.part_id}.{b.pin}",
    }
    kind: SiteKind
    if over:
        # Water dries last under a body, and nobody sees what it leaves there.
        kind, score = "under-package", 0.3 + 0.4 * closeness
        why = reason("site-under", mm=mm, over=over[0], a=names["a"], b=names["b"])
    else:
        kind, score = "pad-gap", 0.15 + 0.4 * closeness
        why = reason("site-gap", mm=mm, a=names["a"], b=names["b"])
    return Site(
        kind,
        SiteEnd(a.part_id, a.pin, a.net),
        SiteEnd(b.part_id, b.pin, b.net),
        mm,
        tuple(dict.fromkeys((a.part_id, b.part_id, *over))),
        round(score, 4),
        why,
        x / 1e6,
        y / 1e6,
        side,
    )


def _copper_sites(board: Board, net_a: str, others: Iterable[str]) -> Iterable[Site]:
    for other in sorted(others):
        for near in copper_neighbours(board, net_a, other):
            mm = round(near.gap_nm / 1e6, 3)
            outer = near.layer in (0, len(board.copper_layers) - 1)
            closeness = 1.0 - near.gap_nm / near.reach_nm
            # Inner layers never see the water; on outer ones solder resist covers tracks.
            score = (0.1 + 0.25 * closeness) if outer else 0.02 + 0.03 * closeness
            layer = board.copper_layers[near.layer]
            why = reason("site-copper", kind=near.kind, mm=mm, layer=layer, a=net_a, b=other)
            yield Site(
                near.kind,
                SiteEnd(None, None, net_a),
                SiteEnd(None, None, other),
                mm,
                (),
                round(score, 4),
                why,
                near.x_nm / 1e6,
                near.y_nm / 1e6,
                layer,
            )
