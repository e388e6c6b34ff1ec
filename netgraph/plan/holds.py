# SPDX-License-Identifier: GPL-3.0-or-later
"""Parts that hold a supply down: without one of them it rises, and what hangs on it burns.

Zener diodes and shunt references behind a resistor, the divider that sets such a reference, and
the way of a reference's answer over an optocoupler to the converter on the other side. Dividers
of converters are found by `needs`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final, NamedTuple

from netgraph.plan.wiring import Wiring

_SHUNT_REFERENCE: Final = re.compile(
    r"(?<![A-Z0-9])(?:TLV?|LMV?|KA|AZ|UA|AS|ZR|ATL|NCP|SC|CJ|HT|LMx)H?\d?43[12]|"
    r"(?<![A-Z0-9])LM(?:385|336|4040|4041|4050)|shunt[ _-]?(?:ref|reg)",
    re.IGNORECASE,
)
"""Adjustable shunt references and their two-pin kin, by value (from memory)."""

_REFERENCE_PINS: Final = re.compile(r"REF|R|ADJ|FB", re.IGNORECASE)
_CATHODE_PINS: Final = re.compile(r"K|C|CATH(?:ODE)?", re.IGNORECASE)
_ANODE_PINS: Final = re.compile(r"A|ANODE", re.IGNORECASE)
_FEW_PINS: Final = 8
_RESISTORS: Final = frozenset({"resistor", "thermistor"})


class Hold(NamedTuple):
    """`part_id` holds `rail` down; `feeder` is the part over which it would rise, where known."""

    part_id: str
    feeder: str
    net: str
    rail: str


def find_holds(wiring: Wiring) -> Iterator[Hold]:
    """All parts that hold a supply down, some of them more than once."""
    for part in wiring.board.parts:
        one = part.id
        if one not in wiring.fitted:
            continue
        if wiring.role(one) == "diode":
            yield from _of_diode(wiring, one)
        elif _is_shunt_reference(wiring, one):
            yield from _of_reference(wiring, one)


def _of_diode(wiring: Wiring, part_id: str) -> Iterator[Hold]:
    """A diode from a supply to ground, where the supply comes over a resistor alone."""
    live = wiring.live_nets(part_id)
    if len(live) != 1 or len(wiring.nets(part_id)) != 2:
        return
    feeder = _resistor_feeding(wiring, live[0])
    if feeder:
        yield Hold(part_id, feeder, live[0], live[0])


def _resistor_feeding(wiring: Wiring, net: str) -> str:
    """The resistor that alone feeds this supply; empty where there is another feeder or none."""
    if not wiring.is_power(net):
        return ""
    rail = wiring.tree.by_net.get(net)
    feeders = [] if rail is None else [one.part_id for one in rail.feeders]
    if rail is not None and (
        rail.kind == "entry" or any(wiring.role(one) not in _RESISTORS for one in feeders)
    ):
        return ""
    found = [
        one
        for one in wiring.parts(net)
        if wiring.role(one) in _RESISTORS
        and any(other != net and wiring.is_power(other) for other in wiring.live_nets(one))
    ]
    return next((one for one in feeders if one in found), found[0] if found else "")


def _is_shunt_reference(wiring: Wiring, part_id: str) -> bool:
    """By value, or by its three pins: reference, cathode, anode."""
    pads = wiring.pads_of[part_id]
    if len(pads) > _FEW_PINS or wiring.role(part_id) in ("transistor", "tvs", "led"):
        return False
    if _SHUNT_REFERENCE.search(wiring.board.part(part_id).value):
        return True
    names = [pad.pin_name for pad in pads if pad.pin_name and pad.net]
    return all(
        any(wanted.fullmatch(name) for name in names)
        for wanted in (re.compile("REF", re.IGNORECASE), _CATHODE_PINS, _ANODE_PINS)
    )


def _nets_at(wiring: Wiring, part_id: str, names: re.Pattern[str]) -> list[str]:
    return [
        net
        for net in wiring.live_nets(part_id)
        if any(names.fullmatch(name) for name in wiring.pin_names(part_id, net))
    ]


def _of_reference(wiring: Wiring, part_id: str) -> Iterator[Hold]:
    """A shunt reference, what sets it, and what its cathode pulls on."""
    live = wiring.live_nets(part_id)
    set_at = _nets_at(wiring, part_id, _REFERENCE_PINS)
    pulls_at = _nets_at(wiring, part_id, _CATHODE_PINS)
    if not set_at and not pulls_at:
        # Without pin names each of its lines may be either.
        set_at = pulls_at = list(live)
    dividers = [(one, net, other) for net in set_at for one, other in _legs(wiring, net, part_id)]
    rails = {other for _, _, other in dividers if wiring.is_power(other)} | {
        net for net in pulls_at if wiring.is_power(net)
    }
    for rail in sorted(rails - set(set_at) or rails):
        feeder = _feeder(wiring, rail)
        yield Hold(part_id, feeder, rail, rail)
        for one, net, other in dividers:
            if other == rail or other in wiring.grounds:
                yield Hold(one, feeder, net, rail)
        for net in pulls_at:
            if net != rail:
                for one in _answer_way(wiring, part_id, net):
                    yield Hold(one, feeder, net, rail)


def _legs(wiring: Wiring, net: str, user: str) -> Iterator[tuple[str, str]]:
    """Resistors on a line with the net at their other end."""
    for one in wiring.parts(net):
        nets = wiring.nets(one)
        if one != user and wiring.role(one) in _RESISTORS and len(nets) == 2:
            yield one, nets[1] if nets[0] == net else nets[0]


def _answer_way(wiring: Wiring, part_id: str, net: str) -> Iterator[str]:
    """Optocouplers on the line or one resistor further, and the resistors in line with them."""
    lines = [(net, "")]
    lines += [
        (other, one)
        for one, other in _legs(wiring, net, part_id)
        if other not in wiring.grounds and not wiring.is_power(other)
    ]
    for line, over in lines:
        couplers = [one for one in wiring.parts(line) if wiring.role(one) == "optocoupler"]
        for coupler in couplers:
            yield coupler
            if over:
                yield over
            for other in wiring.signal_nets(coupler):
                if other == line:
                    continue
                for one, end in _legs(wiring, other, coupler):
                    # The lamp's own resistor, from the supply that is held.
                    if wiring.is_power(end):
                        yield one


def _feeder(wiring: Wiring, rail: str) -> str:
    known = wiring.tree.by_net.get(rail)
    feeders = () if known is None else known.feeders
    return feeders[0].part_id if feeders else _resistor_feeding(wiring, rail)
