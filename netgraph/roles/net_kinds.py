# SPDX-License-Identifier: GPL-3.0-or-later
"""Buses, clocks, resets and enables that show only through what a plain signal is joined to."""

from __future__ import annotations

from dataclasses import replace

from netgraph.reasons import Reason, reason
from netgraph.roles.answer import NetKind, NetRole, PartRole, Role
from netgraph.roles.net_words import KIND_NAMES, is_generated
from netgraph.roles.wiring import Wiring

SERIES_OHM = 150.0
"""Series resistors of signal lines are no larger (common practice, no source)."""
_MANY_NETS = 8
_TAKES_BUSES: frozenset[Role] = frozenset(("memory", "storage", "boot-flash", "eeprom"))
_NO_CHIP: frozenset[Role] = frozenset(
    ("connector", "slot", "switch", "test-point", "mechanical", "transistor", "resistor")
)
_HANDED_ON: frozenset[NetKind] = frozenset(("bus", "clock", "reset"))
_BY_PIN = dict(KIND_NAMES[:3])


def refine_kinds(
    wiring: Wiring, parts: list[PartRole], nets: dict[str, NetRole]
) -> dict[str, NetRole]:
    """Plain signals given a kind by the chips and resistors on them; other nets stay.

    A person's word stays as well.
    """
    found = dict(nets)
    role = [one.role for one in parts]

    def settle(net: int, kind: NetKind, sure: float, why: Reason) -> None:
        name = wiring.board.nets[net].name
        found[name] = replace(found[name], kind=kind, confidence=sure, reasons=(why,))

    plain = [
        net.index
        for net in wiring.board.nets
        if found[net.name].kind == "signal"
        and found[net.name].source != "user"
        and found[net.name].reasons[:1] == (reason("plain-signal"),)
    ]
    for net in plain:
        by_pin = _by_pin(wiring, role, net) if is_generated(wiring.board.nets[net].name) else None
        if by_pin is not None:
            settle(net, by_pin[0], 0.6, by_pin[1])
            continue
        memory = _memory_on(wiring, role, net)
        if memory is not None:
            settle(net, "bus", 0.65, reason("bus-end", ref=wiring.board.parts[memory].id))
    for net in plain:
        name = wiring.board.nets[net].name
        if found[name].kind == "signal" and is_generated(name):
            behind = _behind_resistor(wiring, parts, found, net)
            if behind is not None:
                settle(net, behind[0], 0.6, behind[1])
    _bus_clocks(wiring, found)
    return found


def _by_pin(wiring: Wiring, role: list[Role], net: int) -> tuple[NetKind, Reason] | None:
    """Kind by the name of a chip's pin."""
    for part in wiring.parts[net]:
        if role[part] in _NO_CHIP or len(wiring.nets[part]) < 3:
            continue
        for pin in wiring.pins_on(part, net):
            plain = pin.name.replace("~{", "").replace("}", "")
            for kind, pattern in _BY_PIN.items():
                if plain and pattern.search(plain):
                    return kind, reason("pin-kind", pin=pin.name, ref=wiring.board.parts[part].id)
    return None


def _memory_on(wiring: Wiring, role: list[Role], net: int) -> int | None:
    """A memory on the net, if another chip with many lines is on it too."""
    memories = [part for part in wiring.parts[net] if role[part] in _TAKES_BUSES]
    others = [
        part
        for part in wiring.parts[net]
        if part not in memories and len(wiring.nets[part]) >= _MANY_NETS
    ]
    return memories[0] if memories and others else None


def _behind_resistor(
    wiring: Wiring, parts: list[PartRole], nets: dict[str, NetRole], net: int
) -> tuple[NetKind, Reason] | None:
    """The kind of the net at the other end of a small series resistor."""
    for part in wiring.parts[net]:
        ohm = parts[part].ohm
        if parts[part].role != "resistor" or len(wiring.nets[part]) != 2:
            continue
        if ohm is None or ohm > SERIES_OHM:
            continue
        far = wiring.board.nets[wiring.other_net(part, net)].name
        if nets[far].kind in _HANDED_ON:
            return nets[far].kind, reason(
                "behind-resistor", ref=wiring.board.parts[part].id, net=far
            )
    return None


def _bus_clocks(wiring: Wiring, nets: dict[str, NetRole]) -> None:
    """The clock of a two-wire bus belongs to the bus: a name with SCK beside one with SDA."""
    for net in wiring.board.nets:
        own = nets[net.name]
        if own.kind != "clock" or own.source == "user" or "SCK" not in net.name:
            continue
        partner = net.name.replace("SCK", "SDA")
        if partner in nets and nets[partner].kind == "bus":
            nets[net.name] = replace(
                own, kind="bus", confidence=0.75, reasons=(reason("clock-of-bus", net=partner),)
            )
