# SPDX-License-Identifier: GPL-3.0-or-later
"""Parts that pass a supply on: series parts, diodes, transistors, transformers, rectifiers."""

from __future__ import annotations

import re

from netgraph.rails.candidate import Supplies
from netgraph.rails.tree import RailKind
from netgraph.reasons import reason
from netgraph.roles.answer import Role
from netgraph.roles.ground import last_segment
from netgraph.roles.polarity import junctions_of, switch_of, usual_switch_of

SMALL_OHM = 150.0
"""Series resistors up to this feed a filtered branch (bench rule of the injection ceiling)."""
SERIES_SCORE: dict[Role, float] = {
    "ferrite": 3.0,
    "fuse": 3.0,
    "sense-resistor": 2.6,
    "link": 2.4,
    "inductor": 2.6,
}
_KICKED: frozenset[Role] = frozenset(
    ("connector", "inductor", "switch", "speaker", "haptic", "other")
)
_NEGATIVE = re.compile(r"-\d|-V[A-Z]|VNEG|VEE(?![A-Z])|V-$", re.IGNORECASE)
_OR_CONTROL = re.compile(r"V?IN\d?|IN[AB]|ANODE|A|VS|SOURCE|S", re.IGNORECASE)
_OR_OUT = re.compile(r"V?OUT\d?|SENSE|CATHODE|C|K", re.IGNORECASE)


def pass_on(every: Supplies, part: int, nets: list[int]) -> None:
    """Candidates of one part; `nets` are those of its nets that are supplies."""
    role = every.role[part]
    two = len(nets) == 2
    if role == "diode":
        _diode(every, part)
    elif role == "transistor":
        _transistor(every, part, nets)
    elif role == "resistor":
        _resistor(every, part, nets)
    elif role == "link" and len(every.wiring.nets[part]) == 3:
        _selector(every, part, nets)
    elif role in SERIES_SCORE and part not in every.coils_used and two:
        _both_ways(every, part, nets, "filtered", SERIES_SCORE[role])
    elif role == "bridge-rectifier":
        _bridge(every, part, nets)
    elif role == "transformer":
        _transformer(every, part, nets)
    elif role == "switch" and two:
        _both_ways(every, part, nets, "switched", 2.0)
    elif role == "connector" and len(every.wiring.nets[part]) == 2 and two:
        _both_ways(every, part, nets, "filtered", 0.8)


def _both_ways(every: Supplies, part: int, nets: list[int], kind: RailKind, score: float) -> None:
    a, b = nets
    for source, to in ((a, b), (b, a)):
        why = reason("passes-on", net=every.name(source))
        every.add(part, source, to, kind, score, why, directed=False)


def _selector(every: Supplies, part: int, nets: list[int]) -> None:
    """A jumper with three pins: its middle pin takes one of the outer ones, or gives to one."""
    common = {pin.net for pin in every.wiring.pins[part] if pin.number in ("2", "C")}
    for middle in common & set(nets):
        for outer in [net for net in nets if net != middle]:
            why = reason("selects", net=every.name(outer))
            every.add(part, outer, middle, "filtered", 2.0, why, directed=False)
            why = reason("selects", net=every.name(middle))
            every.add(part, middle, outer, "filtered", 1.2, why, directed=False)


def _spans(every: Supplies, a: int, b: int, but: int) -> bool:
    """Whether a load (coil, motor, connector) stands between two nets beside this part."""
    return any(
        part != but
        and b in every.wiring.nets[part]
        and len(every.wiring.nets[part]) <= 4
        and every.role[part] in _KICKED
        for part in every.wiring.parts[a]
    )


def _diode(every: Supplies, part: int) -> None:
    for junction in junctions_of(every.wiring, part):
        a, k = junction.anode, junction.cathode
        if a not in every.supplies or k not in every.supplies or _spans(every, a, k, part):
            continue  # with a load across it, it catches the kick of a coil or motor
        if _is_negative(every, a) or _is_negative(every, k):
            a, k = k, a  # the current of a negative rail flows towards its source
        score = 3.2 if junction.named else 2.6
        if every.higher(k, a):
            score -= 1.2  # from less to more volts: a clamp, no feeder
        why = reason("diode", net=every.name(a))
        every.add(part, a, k, "filtered", score, why, by_name=junction.named)


def _is_negative(every: Supplies, net: int) -> bool:
    """Whether a net's name says that it lies below ground."""
    volts = every.volts[net]
    name = last_segment(every.name(net))
    return (volts is not None and volts < 0) or _NEGATIVE.match(name) is not None


def _transistor(every: Supplies, part: int, nets: list[int]) -> None:
    wiring = every.wiring
    switch = switch_of(wiring, part)
    usual = usual_switch_of(wiring, part)
    if switch.gate is None and usual.gate is not None:
        nets = [net for net in nets if net != usual.gate]
    ends = [net for net in nets if net != switch.gate]
    if len(ends) == 1:
        _back_to_back(every, part, ends[0], switch.gate)
    if len(ends) != 2:
        return
    known = {switch.drain, switch.source} == set(ends)
    ordered = _ordered_by_controller(every, ends, switch.gate)
    grounded = switch.gate is not None and _tied_to_ground(every, switch.gate)
    for source, to in ((ends[0], ends[1]), (ends[1], ends[0])):
        score = 2.0
        if not known and {usual.drain, usual.source} == set(ends):
            score = 2.1 if usual.source == source else 1.9
        if known:
            # P-channel high side: source at the supply, drain at the load. With the gate tied to
            # ground it guards against reversed polarity, and the drain is at the supply.
            first = switch.drain if grounded else switch.source
            score = 2.6 if first == source else 1.6
        if ordered is not None:
            score = 3.0 if ordered == (source, to) else 1.2
        why = reason("transistor", net=every.name(source))
        told = ordered == (source, to) or (known and score >= 2.6)
        every.add(part, source, to, "switched", score, why, directed=False, by_name=told)


def _ordered_by_controller(
    every: Supplies, ends: list[int], gate: int | None
) -> tuple[int, int] | None:
    """(from, to) by the pin names of the ideal-diode or switch controller that drives the gate."""
    if gate is None:
        return None
    wiring = every.wiring
    for chip in wiring.parts[gate]:
        if every.role[chip] not in ("power-controller", "load-switch", "charger", "regulator"):
            continue
        names = {net: [pin.name for pin in wiring.pins_on(chip, net)] for net in ends}
        for a, b in ((ends[0], ends[1]), (ends[1], ends[0])):
            if any(_OR_CONTROL.fullmatch(n) for n in names[a]) and any(
                _OR_OUT.fullmatch(n) for n in names[b]
            ):
                return a, b
    return None


def _tied_to_ground(every: Supplies, gate: int) -> bool:
    """The gate is on ground, or only resistors and clamps are on it, one of them to ground."""
    if gate in every.grounds:
        return True
    others = {every.role[p] for p in every.wiring.parts[gate] if every.role[p] != "transistor"}
    return others <= {"resistor", "tvs", "diode", "capacitor"} and any(
        every.role[p] == "resistor"
        and len(every.wiring.nets[p]) == 2
        and every.wiring.other_net(p, gate) in every.grounds
        for p in every.wiring.parts[gate]
    )


def _back_to_back(every: Supplies, part: int, rail: int, gate: int | None) -> None:
    """Two transistors in series with a middle that is no rail: rail to rail through both."""
    wiring = every.wiring
    middles = [
        net
        for net in wiring.nets[part]
        if net not in (rail, gate) and net not in every.supplies and net not in every.grounds
    ]
    for middle in middles:
        for other in wiring.parts[middle]:
            if other == part or every.role[other] != "transistor":
                continue
            far = switch_of(wiring, other)
            ends = [n for n in wiring.nets[other] if n in every.supplies and n != far.gate]
            if len(ends) == 1 and ends[0] != rail and middle != far.gate:
                why = reason("back-to-back", other=every.part_id(part), net=every.name(rail))
                every.add(
                    other, rail, ends[0], "switched", 2.0, why, directed=False, through=(part,)
                )


def _resistor(every: Supplies, part: int, nets: list[int]) -> None:
    ohm = every.roles.parts[every.part_id(part)].ohm
    if len(every.wiring.nets[part]) != 2 or ohm is None or len(nets) != 2:
        return
    if ohm <= SMALL_OHM:
        _both_ways(every, part, nets, "filtered", 1.8 if ohm <= 10 else 1.3)
        return
    for source, to in ((nets[0], nets[1]), (nets[1], nets[0])):
        if every.kind[to] == "reference" and every.kind[source] != "reference":
            why = reason("divider-top", net=every.name(source))
            every.add(part, source, to, "reference", 2.0, why)


def _transformer(every: Supplies, part: int, nets: list[int]) -> None:
    """An isolated converter: from a rail on one winding to rails on or behind the others."""
    behind = _rectified_rails(every, part)
    for source in nets:
        for to in [*nets, *behind]:
            if to != source:
                why = reason("transformer", net=every.name(source))
                every.add(
                    part,
                    source,
                    to,
                    "unknown",
                    1.6,
                    why,
                    directed=False,
                    through=behind.get(to, ()),
                )
    if not nets:  # mains or another source that is no rail of this board
        for to, through in behind.items():
            why = reason("transformer", net=every.name(-1))
            every.add(part, -1, to, "unknown", 1.6, why, through=through)


def _rectified_rails(every: Supplies, part: int) -> dict[int, tuple[int, ...]]:
    """Rails behind the rectifier diodes of a transformer's windings, and the parts between."""
    wiring = every.wiring
    behind: dict[int, tuple[int, ...]] = {}
    for winding in wiring.nets[part]:
        starts: list[tuple[int, tuple[int, ...]]] = [(winding, ())]
        for resistor in wiring.parts[winding]:
            ohm = every.roles.parts[every.part_id(resistor)].ohm
            if every.role[resistor] in ("resistor", "ferrite", "link") and (
                len(wiring.nets[resistor]) == 2 and (ohm is None or ohm <= SMALL_OHM)
            ):
                starts.append((wiring.other_net(resistor, winding), (resistor,)))
        for start, before in starts:
            for diode in wiring.parts[start]:
                if every.role[diode] != "diode":
                    continue
                for junction in junctions_of(wiring, diode):
                    if junction.anode == start and junction.cathode in every.supplies:
                        behind.setdefault(junction.cathode, (*before, diode))
    return behind


def _bridge(every: Supplies, part: int, nets: list[int]) -> None:
    """From the two inputs, which were found as such, to the rectified rail."""
    sides = {
        net: any(why.code == "rectified" for why in every.roles.nets[every.name(net)].reasons)
        for net in nets
    }
    for out in [net for net in nets if not sides[net]]:
        for source in [net for net in nets if sides[net]]:
            every.add(part, source, out, "unknown", 2.6, reason("bridge"))
