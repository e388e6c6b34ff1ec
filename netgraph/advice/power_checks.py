# SPDX-License-Identifier: GPL-3.0-or-later
"""Which resistances are read before power, and what each reading says.

A big processor's core reads 1 to 10 ohm when it is sound, memory supplies 50 to 300 (bench
practice 4): such a rail is compared with a known-good one, never called shorted by its figure.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Final

from netgraph.advice.power_types import Check
from netgraph.diagnosis.bench_state import BenchState, Reading
from netgraph.plan.high_voltage import Exposed, exposed_pairs, high_voltage_nets
from netgraph.plan.keep_list import Keeps
from netgraph.plan.power_feed import LEAK_AMPS, Feed, joined_nets
from netgraph.plan.wiring import IRREPLACEABLE_ROLES, Wiring, name_list
from netgraph.reasons import Reason, reason
from netgraph.units import ohms_text

# Bench practice 4 (common practice, no source).
SHORT_OHMS: Final = 10.0
"""Below this a supply of ordinary loads looks shorted."""
LEAST_OHMS: Final = 100.0
"""A supply of ordinary loads reads above this, and above what leaks 20 mA at its nominal."""
CORE_OHMS: Final = 10.0
MEMORY_OHMS: Final = 50.0
CORE_VOLTS: Final = 1.25
MEMORY_VOLTS: Final = (1.0, 1.6)
PROVED_CLEAR_OHMS: Final = 1e6


def rail_checks(
    wiring: Wiring, keeps: Keeps, feed: Feed | None, bench: BenchState
) -> tuple[Check, ...]:
    """Every supply that the goal needs or the feed brings to life, joined ones as one.

    References and supplies that a chip makes for itself alone are left out: no current of the
    bench supply can be told apart there.
    """
    joined = joined_nets(wiring, bench.opened | bench.lifted)
    groups: dict[str, list[str]] = {}
    for net in sorted(_asked(wiring, keeps, feed)):
        groups.setdefault(joined.get(net, net), [])
    for net, top in sorted(joined.items()):
        if top in groups:
            groups[top].append(net)
    order = {rail.net: number for number, rail in enumerate(wiring.tree)}
    checks = [_rail_check(wiring, nets or [top], bench, feed) for top, nets in groups.items()]
    return tuple(sorted(checks, key=lambda one: (order.get(one.net, len(order)), one.net)))


def _asked(wiring: Wiring, keeps: Keeps, feed: Feed | None) -> set[str]:
    # A goal may leave the processor unfed, but once the board is powered its supplies rise too.
    held = {
        net
        for item in keeps.items
        if item.kind == "irreplaceable" and item.part_id in wiring.fitted
        for net in wiring.supplies(item.part_id)
    }
    found = {
        net
        for net in {*keeps.rails, *held}
        if wiring.kind(net) != "reference" and not _is_inner(wiring, net)
    }
    if feed is not None:
        found.add(feed.net)
        found |= {
            one.net
            for one in feed.injection.also_powered
            if one.counts and wiring.is_power(one.net) and not _is_inner(wiring, one.net)
        }
        found = {net for net in found if wiring.kind(net) != "reference" or net == feed.net}
    return found - wiring.grounds


def _is_inner(wiring: Wiring, net: str) -> bool:
    rail = wiring.tree.by_net.get(net)
    makers = {one.part_id for one in rail.feeders} if rail is not None else set()
    return len(makers) == 1 and wiring.is_inner_supply(net, *makers)


def _rail_check(wiring: Wiring, nets: list[str], bench: BenchState, feed: Feed | None) -> Check:
    """The judgement of one joined supply by its lowest reading that holds."""
    net = feed.net if feed is not None and feed.net in nets else _head(wiring, nets)
    readings = [one for one in (bench.resistance(each) for each in nets) if one is not None]
    reading = min(readings, key=lambda one: one.ohms, default=None)
    waived = next((each for each in nets if each.casefold() in bench.waived), None)
    pads = _touch(wiring, nets)
    least, why_open = _least(wiring, nets, net)
    ohms = None if reading is None else reading.ohms

    def check(state: str, why: Reason) -> Check:
        return Check("rail", net, None, pads, tuple(nets), least, ohms, state, why)  # type: ignore[arg-type]

    if reading is None:
        if waived is not None:
            return check(
                "waived", reason("check-waived", net=net, why=bench.waived[waived.casefold()])
            )
        return check("open", why_open)
    if least is None or _compares(wiring, nets):
        bound = CORE_OHMS if _is_core(wiring, nets) else MEMORY_OHMS
        if reading.ohms >= bound:
            return check("clear", reason("check-clear", net=net, ohms=_said(reading)))
        if waived is not None:
            return check(
                "waived", reason("check-waived", net=net, why=bench.waived[waived.casefold()])
            )
        return check("compare", reason("check-compare", net=net, ohms=_said(reading), bound=bound))
    if reading.ohms < SHORT_OHMS:
        return check("low", reason("check-low", net=net, ohms=_said(reading), bound=SHORT_OHMS))
    if reading.ohms >= least:
        return check("clear", reason("check-clear", net=net, ohms=_said(reading)))
    if waived is not None:
        return check("waived", reason("check-waived", net=net, why=bench.waived[waived.casefold()]))
    return check("leak", reason("check-leak", net=net, ohms=_said(reading), least=least))


def _said(reading: Reading) -> str:
    if reading.kind == "diode" and reading.ohms != float("inf"):
        return f"{reading.ohms / 1000:.3g} V in diode mode"
    return ohms_text(reading.ohms)


def _head(wiring: Wiring, nets: list[str]) -> str:
    """The net that stands for joined ones: nearest to the entry."""
    order = {rail.net: number for number, rail in enumerate(wiring.tree)}
    return min(nets, key=lambda one: (order.get(one, len(order)), one))


def _touch(wiring: Wiring, nets: list[str], most: int = 3) -> tuple[str, ...]:
    """Pads that are good to hold a probe on, test points first."""
    good = {"test-point": 0, "capacitor": 1, "inductor": 2, "connector": 3}
    ranked = sorted(
        (good[wiring.role(pad.part_id)], number, f"{pad.part_id}.{pad.pin}")
        for number, net in enumerate(nets)
        for part_id in wiring.parts(net)
        if wiring.role(part_id) in good
        for pad in wiring.pads_of[part_id]
        if pad.net == net
    )
    return tuple(dict.fromkeys(name for _, _, name in ranked))[:most]


def _volts(wiring: Wiring, nets: list[str]) -> float | None:
    known = [abs(volts) for volts in (wiring.nominal(one)[0] for one in nets) if volts]
    return min(known, default=None)


def _big_chips(wiring: Wiring, nets: list[str]) -> list[str]:
    return sorted(
        {
            one
            for net in nets
            for one in wiring.parts(net)
            if wiring.role(one) in ("processor", "programmable-logic")
        }
    )


def _memories(wiring: Wiring, nets: list[str]) -> bool:
    return any(wiring.role(one) == "memory" for net in nets for one in wiring.parts(net))


def _is_core(wiring: Wiring, nets: list[str]) -> bool:
    """Whether a big chip's core, or a supply of a big chip whose volts nobody knows."""
    volts = _volts(wiring, nets)
    return bool(_big_chips(wiring, nets)) and (volts is None or volts <= CORE_VOLTS)


def _is_memory(wiring: Wiring, nets: list[str]) -> bool:
    volts = _volts(wiring, nets)
    return (
        _memories(wiring, nets)
        and volts is not None
        and MEMORY_VOLTS[0] <= volts <= MEMORY_VOLTS[1]
    )


def _compares(wiring: Wiring, nets: list[str]) -> bool:
    return _is_core(wiring, nets) or _is_memory(wiring, nets)


def _least(wiring: Wiring, nets: list[str], net: str) -> tuple[float | None, Reason]:
    """The least resistance of a sound rail of this kind, or None; and how to ask for it."""
    if _is_core(wiring, nets):
        chips = name_list(_big_chips(wiring, nets))
        return None, reason("check-core", net=net, chips=chips)
    if _is_memory(wiring, nets):
        return MEMORY_OHMS, reason("check-memory", net=net, least=MEMORY_OHMS)
    volts = _volts(wiring, nets)
    least = LEAST_OHMS if volts is None else max(LEAST_OHMS, round(volts / LEAK_AMPS, 0))
    return least, reason("check-rail", net=net, least=least)


# -- high volts --------------------------------------------------------------------------------


def high_voltage_checks(
    wiring: Wiring, kept: Collection[str], feed: Feed | None, bench: BenchState
) -> tuple[Check, ...]:
    """Each net of high volts against the nets of kept chips beside it, and what was read so far.

    A reading between any such net and any net of an irreplaceable chip counts, asked for or not.
    """
    fed = None if feed is None else feed.net
    pairs = {(one.net, one.to): one for one in exposed_pairs(wiring, kept, fed)}
    found = [_high_check(one, bench) for one in pairs.values()]
    return (*found, *_unasked(wiring, kept, pairs, bench))


def _high_check(pair: Exposed, bench: BenchState) -> Check:
    reading = bench.resistance(pair.net, pair.to)
    return _proved(pair, reading)


def _proved(pair: Exposed, reading: Reading | None) -> Check:
    pads = tuple(one for one in (pair.at_pad, pair.to_pad) if one)

    def check(state: str, ohms: float | None, why: Reason) -> Check:
        return Check(
            "high-voltage",
            pair.net,
            pair.to,
            pads,
            (pair.net, pair.to),
            PROVED_CLEAR_OHMS,
            ohms,
            state,  # type: ignore[arg-type]
            why,
        )

    chips = name_list(pair.chips)
    if reading is None:
        return check("open", None, reason("check-high", net=pair.net, to=pair.to, chips=chips))
    if reading.kind == "ohms" and reading.ohms >= PROVED_CLEAR_OHMS:
        clear = reason("check-high-clear", net=pair.net, to=pair.to)
        return check("clear", reading.ohms, clear)
    if reading.kind == "diode" and reading.ohms == float("inf"):
        # Diode mode ends far below a megohm: it can't prove anything here.
        asked = reason("check-high", net=pair.net, to=pair.to, chips=chips)
        return check("open", None, asked)
    bridged = reason("check-bridged", net=pair.net, to=pair.to, chips=chips, ohms=_said(reading))
    return check("bridged", reading.ohms, bridged)


def _unasked(
    wiring: Wiring,
    kept: Collection[str],
    pairs: Mapping[tuple[str, str], Exposed],
    bench: BenchState,
) -> list[Check]:
    """Bridges that a person has read between nets that nobody asked for."""
    high = set(high_voltage_nets(wiring))
    chips = {one for one in kept if wiring.role(one) in IRREPLACEABLE_ROLES}
    found: list[Check] = []
    for one in bench.readings:
        for net, to in ((one.net, one.to), (one.to, one.net)):
            if net not in high or to is None or to in high or (net, to) in pairs or net is None:
                continue
            on = tuple(sorted(chips & set(wiring.parts(to))))
            latest = bench.resistance(net, to)
            if not on or latest is not one:
                continue
            found.append(_proved(Exposed(net, to, "", "", None, on), one))
    return found


def rail_state(wiring: Wiring, net: str, bench: BenchState) -> tuple[Reason | None, bool]:
    """What the last reading on a net says, and whether it no longer looks shorted."""
    joined = joined_nets(wiring, bench.opened | bench.lifted)
    nets = [one for one, top in joined.items() if top == joined.get(net)] or [net]
    check = _rail_check(wiring, nets, bench, None)
    return (None if check.ohms is None else check.why), check.state == "clear"
