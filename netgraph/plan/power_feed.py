# SPDX-License-Identifier: GPL-3.0-or-later
"""Where a board may be fed to run, with how many volts, and what it should then draw.

The entry of the cell comes first, then USB, then other inputs. The volts are the nominal of the
entry, never above the one ceiling of injection (``plan.inject``): what the entry feeds backwards
counts too. Draws are rules of thumb (common practice, no source).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, Literal

from netgraph.model import Board
from netgraph.plan.conduction import powered_nets
from netgraph.plan.inject import injection_plan
from netgraph.plan.inject_types import Injection
from netgraph.plan.wiring import IRREPLACEABLE_ROLES, SERIES_ROLES, Wiring
from netgraph.rails.tree import RailTree
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import Roles

FeedClass = Literal[
    "single-cell", "cells-in-series", "usb", "dc-input", "supply", "inner", "unknown"
]
"""``supply``: an entry of other volts; ``inner``: no entry, a person wants it fed all the same."""

# Cell voltages by class: netgraph.sources "cells"; empty, nominal from, nominal to.
PACKS: Final = ((1, 3.0, 3.2, 4.0), (2, 6.0, 7.2, 7.8), (3, 9.0, 10.8, 11.7), (4, 12.0, 14.4, 15.6))

USB_VOLTS: Final = (4.75, 5.25)
"""What a port gives (sources: usb)."""

DC_VOLTS: Final = (8.0, 24.0)
"""Barrel inputs of small devices, mostly 12 to 20 V (bench practice 1.5)."""

# Rules of thumb of bench practice 4 (common practice, no source).
QUIET_AMPS: Final = 0.003
LEAK_AMPS: Final = 0.02
START_WATTS: Final = (5.0, 10.0)
"""A device that starts takes about 1 to 2 A at 5 V."""
FIRST_LIMIT_AMPS: Final = 0.2
"""Enough for the surge and a quiet board, too little to burn much before the key (our choice)."""
MOST_AMPS: Final = 2.0

_CELL: Final = re.compile(r"batt?(?![a-z])|batt(ery)?|vbat|(^|[^a-z])cell", re.I)
_USB: Final = re.compile(r"usb|vbus", re.I)
_THERMISTOR: Final = re.compile(
    r"temp|therm|ntc|(^|[_/])ts($|[_\d])|(^|[_/])t_?bat|bat_?t($|_)", re.I
)
_IDENTITY: Final = re.compile(
    r"(^|[_/])(bat|batt|battery|cell|b)?_?(id|bsi|ident)($|[_\d])|hdq|sdq", re.I
)
_AMPERES: Final = re.compile(r"(?<![\w.])(\d+(?:[.,]\d+)?)\s*(m?)A(?![A-Za-z0-9])")


@dataclass(frozen=True, slots=True)
class CellLine:
    """A line by which a device knows its cell: without it many refuse a bare supply."""

    net: str
    kind: Literal["thermistor", "identification"]
    why: Reason


@dataclass(frozen=True, slots=True)
class Feed:
    """Where and how a board is fed. Volts and amperes; None where they can't be told.

    `volts` is None when the nominal or the ceiling is not known, or when the ceiling lies below
    what the board needs; `missing` says why and
    `to_note` which nets' volts a person would have to note.
    """

    net: str
    ref: str | None
    feed_class: FeedClass
    volts: float | None
    because: Reason
    injection: Injection
    missing: Reason | None = None
    to_note: tuple[str, ...] = ()
    limit_amps: float | None = None
    limit_because: Reason | None = None
    after_key_amps: tuple[float, float] | None = None
    cell_lines: tuple[CellLine, ...] = ()
    other_entries: tuple[str, ...] = ()


def choose_feed(board: Board, roles: Roles, tree: RailTree, net: str | None = None) -> Feed | None:
    """The entry to feed the board at; None when it has no entry that is known.

    Parameters
    ----------
    net
        The net a person wants to feed.

    Raises
    ------
    UnknownNameError
        There is no such net.
    """
    wiring = Wiring(board, roles, tree)
    entries = [rail.net for rail in tree if rail.kind == "entry" and rail.net not in wiring.grounds]
    if net is not None:
        board.net(net)
    elif entries:
        net = min(entries, key=lambda one: _rank(wiring, one))
    else:
        return None
    return _feed(wiring, net, tuple(one for one in entries if one != net))


def feed_class(wiring: Wiring, net: str) -> FeedClass:
    """What kind of source feeds this net, by its volts, its name and its connector."""
    volts, _ = wiring.nominal(net)
    if _is_cell(wiring, net):
        if volts is None:
            return "unknown"
        cells = [count for count, _, low, high in PACKS if low <= volts <= high]
        if cells:
            return "single-cell" if cells[0] == 1 else "cells-in-series"
    if volts is None:
        return "unknown"
    if USB_VOLTS[0] <= volts <= USB_VOLTS[1]:
        return "usb" if _is_usb(wiring, net) else "supply"
    return "dc-input" if DC_VOLTS[0] <= volts <= DC_VOLTS[1] else "supply"


def _is_cell(wiring: Wiring, net: str) -> bool:
    if _CELL.search(net.rpartition("/")[2]):
        return True
    return any(
        wiring.role(one) == "battery"
        or (
            wiring.role(one) == "connector"
            and _CELL.search(f"{one} {wiring.board.part(one).value}") is not None
        )
        for one in wiring.parts(net)
    )


def _is_usb(wiring: Wiring, net: str) -> bool:
    words = " ".join(
        f"{one} {wiring.board.part(one).value} {wiring.board.part(one).package}"
        for one in wiring.parts(net)
        if wiring.role(one) == "connector"
    )
    return _USB.search(f"{net} {words}") is not None


_ORDER: Final[dict[FeedClass, int]] = {
    "single-cell": 0,
    "cells-in-series": 0,
    "usb": 1,
    "dc-input": 2,
    "supply": 3,
    "unknown": 4,
    "inner": 5,
}


def _rank(wiring: Wiring, net: str) -> tuple[int, int, float, str]:
    """Entries from which the most chips that may hold data live, then by kind and confidence."""
    alive = {net, *powered_nets(wiring, net)}
    fed = sum(
        wiring.role(part.id) in IRREPLACEABLE_ROLES and alive.issuperset(wiring.supplies(part.id))
        for part in wiring.board.parts
        if part.id in wiring.fitted and wiring.supplies(part.id)
    )
    return -fed, _ORDER[feed_class(wiring, net)], -wiring.tree.by_net[net].confidence, net


def _feed(wiring: Wiring, net: str, others: tuple[str, ...]) -> Feed:
    rail = wiring.tree.by_net.get(net)
    entry = rail is not None and rail.kind == "entry"
    kind = feed_class(wiring, net) if entry else "inner"
    # Only limits are asked here, not where to put a clip.
    injection = injection_plan(wiring.board, wiring.roles, wiring.tree, net, by_copper=False)
    nominal, sure = wiring.nominal(net)
    to_note = injection.to_note
    ceiling = injection.max_volts
    if ceiling is None and wiring.board.partial:
        ceiling = _traced_ceiling(wiring, net, kind, injection)
        to_note = to_note or _unknown_beside(wiring, injection)
    volts: float | None = None
    missing: Reason | None = None
    because = reason("feed-unknown", net=net)
    if injection.verdict == "no":
        missing = injection.why
    elif nominal is None or not sure:
        missing = reason("feed-volts-unknown", net=net)
        to_note = to_note or (net,)
    elif ceiling is None:
        missing = injection.max_volts_because
    elif ceiling < least_useful(kind, nominal):
        missing = reason(
            "feed-ceiling-low", net=net, volts=nominal, ceiling=injection.max_volts_because.text
        )
    else:
        volts = min(nominal, ceiling)
        because = _because(kind, net, volts)
        if volts < nominal:
            because = reason(
                "feed-lowered",
                net=net,
                volts=volts,
                nominal=nominal,
                ceiling=injection.max_volts_because.text,
            )
    limit, why_limit = _limit(wiring, net, volts)
    return Feed(
        net=net,
        ref=_entry_part(wiring, net, injection, entry),
        feed_class=kind,
        volts=volts,
        because=because,
        injection=injection,
        missing=missing,
        to_note=to_note,
        limit_amps=limit,
        limit_because=why_limit,
        after_key_amps=None
        if volts is None or not entry
        else (
            round(min(START_WATTS[0] / volts, MOST_AMPS), 2),
            round(min(START_WATTS[1] / volts, MOST_AMPS), 2),
        ),
        cell_lines=_cell_lines(wiring, net) if kind in ("single-cell", "cells-in-series") else (),
        other_entries=others,
    )


def _traced_ceiling(
    wiring: Wiring, net: str, kind: FeedClass, injection: Injection
) -> float | None:
    """The least nominal among what is traced, for the cell's own entry of a partial board.

    Injection gives no ceiling there, since more may hang on any net. But a supply in place of the
    cell gives the board no more than the cell gave it; whoever goes on says so (waive untraced).
    """
    if kind not in ("single-cell", "cells-in-series"):
        return None
    if _unknown_beside(wiring, injection):
        return None
    known = [wiring.nominal(net)[0]]
    known += [one.nominal_volts for one in injection.also_powered if one.counts]
    return min((volts for volts in known if volts is not None and volts > 0), default=None)


def _unknown_beside(wiring: Wiring, injection: Injection) -> tuple[str, ...]:
    """Nets that come alive with it and count, whose volts are not known for sure."""
    return tuple(
        one.net for one in injection.also_powered if one.counts and not wiring.nominal(one.net)[1]
    )


def least_useful(kind: FeedClass, nominal: float) -> float:
    """Volts below which the board would not start: an empty cell, a port that sags."""
    if kind in ("single-cell", "cells-in-series"):
        for _, empty, low, high in PACKS:
            if low <= nominal <= high:
                return empty
    # A tenth below the nominal, as supplies go (common practice, no source).
    return USB_VOLTS[0] if kind == "usb" else 0.9 * nominal


def _because(kind: FeedClass, net: str, volts: float) -> Reason:
    if kind == "single-cell":
        return reason("feed-single-cell", net=net, volts=volts)
    if kind == "cells-in-series":
        return reason("feed-cells", net=net, volts=volts)
    if kind == "usb":
        return reason("feed-usb", net=net, volts=volts)
    if kind == "inner":
        return reason("feed-inner", net=net, volts=volts)
    if kind == "dc-input":
        return reason("feed-dc", net=net, volts=volts)
    return reason("feed-supply", net=net, volts=volts)


def _limit(wiring: Wiring, net: str, volts: float | None) -> tuple[float | None, Reason | None]:
    """Current limit after the key: what a start takes, never above a fuse on the way in."""
    if volts is None:
        return None, None
    limit = round(min(MOST_AMPS, 1.25 * START_WATTS[1] / volts), 2)
    why = reason("limit-start", amps=limit)
    for part_id in wiring.parts(net):
        rated = _AMPERES.search(wiring.board.part(part_id).value)
        if wiring.role(part_id) == "fuse" and rated is not None:
            amps = float(rated[1].replace(",", ".")) * (1e-3 if rated[2] else 1.0)
            if 0 < amps < limit:
                limit, why = amps, reason("limit-fuse", part=part_id, amps=amps)
    return limit, why


def _entry_part(wiring: Wiring, net: str, injection: Injection, entry: bool) -> str | None:
    """The connector or battery on the entry, else the best pad to clip on."""
    parts = wiring.parts(net)
    for role in ("battery", "connector", "test-point", "slot") if entry else ():
        named = [one for one in parts if wiring.role(one) == role]
        if named:
            return min(
                named,
                key=lambda one: (
                    not _USB.search(f"{one} {wiring.board.part(one).value}"),
                    len(wiring.pads_of[one]),
                    one,
                ),
            )
    return injection.points[0].ref if injection.points else None


def _cell_lines(wiring: Wiring, net: str) -> tuple[CellLine, ...]:
    """Thermistor and identification lines of the cell's connector."""
    found: dict[str, CellLine] = {}
    for part_id in wiring.parts(net):
        if wiring.role(part_id) not in ("connector", "battery"):
            continue
        for other in wiring.live_nets(part_id):
            name = other.rpartition("/")[2]
            pins = " ".join(wiring.pin_names(part_id, other))
            if other == net or other in found or len(wiring.parts(other)) < 2:
                continue
            if _THERMISTOR.search(name) or _THERMISTOR.search(pins):
                why = reason("cell-thermistor", net=other, part=part_id)
                found[other] = CellLine(other, "thermistor", why)
            elif _IDENTITY.search(name) or _IDENTITY.search(pins):
                why = reason("cell-identity", net=other, part=part_id)
                found[other] = CellLine(other, "identification", why)
    return tuple(found.values())


def joined_nets(wiring: Wiring, opened: frozenset[str] = frozenset()) -> dict[str, str]:
    """Supplies that a meter sees as one: net -> name that stands for all joined to it.

    Joined by links, ferrites, fuses, inductors and sense resistors that are fitted, sure and not
    `opened`.
    """
    above: dict[str, str] = {}

    def top(name: str) -> str:
        while above.get(name, name) != name:
            name = above[name]
        return name

    for part_id in sorted(wiring.fitted - opened):
        if wiring.role(part_id) not in SERIES_ROLES or not wiring.is_sure(part_id):
            continue
        nets = [net for net in wiring.live_nets(part_id) if wiring.is_power(net)]
        if len(nets) == 2 and len(wiring.nets(part_id)) == 2:
            a, b = sorted((top(nets[0]), top(nets[1])))
            above[b] = a
    return {net.name: top(net.name) for net in wiring.board.nets if wiring.is_power(net.name)}
