# SPDX-License-Identifier: GPL-3.0-or-later
"""Transistors and the switch of the cell: which way do they conduct while everything is off?"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from netgraph.circuit.values import junction_laws, resistances
from netgraph.roles.answer import Role
from netgraph.roles.polarity import switch_of
from netgraph.roles.wiring import Wiring

if TYPE_CHECKING:
    from netgraph.circuit.elements import Drawing

SERIES: Final[frozenset[Role]] = frozenset(
    {"ferrite", "link", "fuse", "sense-resistor", "inductor"}
)
_BATTERY = re.compile(r"BAT|CELL|LIPO|LION", re.IGNORECASE)
_BASE, _COLLECTOR, _EMITTER = (re.compile(f"{letter}[0-9]?", re.I) for letter in "BCE")


def add_transistor(drawing: Drawing, index: int) -> None:
    """Body diode or base junctions of a transistor, as far as its pins are known."""
    part = drawing.board.parts[index]
    wiring = drawing.wiring
    law = junction_laws()["body"]
    switch = switch_of(wiring, index)
    drain, source = switch.drain, switch.source
    if drain is not None and source is not None:
        if drawing.is_ground(source):
            drawing.join(None, drain, law, part.id, "body")
        elif drawing.is_rail(source) and part.id in drawing.passing:
            return  # the rail tree says which way it feeds; its body diode stands there
        elif drawing.is_rail(source):
            drawing.join(drain, source, law, part.id, "body")
        else:
            drawing.unsure.add(part.id)
            drawing.join(source, drain, law, part.id, "body")
        return
    legs = [_only(wiring, index, pattern) for pattern in (_BASE, _COLLECTOR, _EMITTER)]
    base, collector, emitter = legs
    if base is not None and collector is not None and emitter is not None:
        clamp = junction_laws()["silicon"]
        for other in (collector, emitter):
            if drawing.is_rail(emitter):
                drawing.join(other, base, clamp, part.id, "base")
            else:
                drawing.join(base, other, clamp, part.id, "base")
        return
    if part.id not in drawing.passing:
        _unnamed_switch(drawing, index)


def _unnamed_switch(drawing: Drawing, index: int) -> None:
    """A transistor without pin names between two rails: the switch of the cell, if it is one."""
    part = drawing.board.parts[index]
    rails = [net for net in drawing.wiring.nets[index] if drawing.is_rail(net)]
    cell = [net for net in rails if battery_side(drawing, net)]
    if len(rails) == 2 and len(cell) == 1:
        other = next(net for net in rails if net not in cell)
        add_battery_switch(drawing, cell[0], other, part.id)
        drawing.unsure.add(part.id)
    else:
        drawing.unmodelled.add(part.id)


def battery_side(drawing: Drawing, net: int) -> bool:
    """Whether a cell sits on the net or behind next to no resistance."""
    seen, stack = set(), [net]
    while stack:
        one = stack.pop()
        if one in seen or drawing.is_ground(one):
            continue
        seen.add(one)
        rail = drawing.tree.by_net.get(drawing.board.nets[one].name)
        parts = drawing.wiring.parts[one]
        roles = {drawing.role(drawing.board.parts[part].id) for part in parts}
        if "battery" in roles or (
            rail is not None and rail.kind == "entry" and _BATTERY.search(rail.net)
        ):
            return True
        for part in parts:
            role = drawing.role(drawing.board.parts[part].id)
            if role in SERIES - {"inductor"} and len(drawing.wiring.nets[part]) == 2:
                stack.append(drawing.wiring.other_net(part, one))
    return False


def add_battery_switch(drawing: Drawing, cell: int | str, system: int | str, part_id: str) -> None:
    """The switch between cell and system: on as the hypothesis says, else its body diode."""
    if drawing.hypotheses.battery_switch:
        value = resistances()["battery-switch"]
        drawing.resist(cell, system, value, part_id, "battery-switch")
    else:
        drawing.join(cell, system, junction_laws()["body"], part_id, "battery-switch")


def _only(wiring: Wiring, index: int, pattern: re.Pattern[str]) -> int | None:
    found = {
        pin.net for pin in wiring.pins[index] if pin.net >= 0 and pattern.fullmatch(pin.name or "-")
    }
    return found.pop() if len(found) == 1 else None
