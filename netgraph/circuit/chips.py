# SPDX-License-Identifier: GPL-3.0-or-later
"""What a chip conducts while it is off: clamps of its pins, substrate, standby load; and what a
converter passes backwards.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from netgraph.circuit.switches import add_battery_switch, battery_side
from netgraph.circuit.values import junction_laws, resistances
from netgraph.roles.answer import Role

if TYPE_CHECKING:
    from netgraph.circuit.elements import Drawing
    from netgraph.rails.tree import Feeder, Rail

CORE_VOLTS: Final = 1.25
"""Up to here a supply of a processor counts as its core [practice]."""
MEMORY_VOLTS: Final = 1.6
_CORES: Final[frozenset[Role]] = frozenset({"processor"})
_PASSIVE: Final[frozenset[Role]] = frozenset(
    {"ferrite", "link", "fuse", "sense-resistor", "inductor", "resistor", "diode", "led",
     "thermistor", "connector", "slot", "switch", "battery", "transformer", "bridge-rectifier"}
)  # fmt: skip
"""Feeders that have branches of their own, or none at all."""


def add_chip(drawing: Drawing, index: int) -> None:
    """Junctions and loads of one chip on all its nets."""
    part = drawing.board.parts[index]
    role = drawing.role(part.id)
    laws = junction_laws()
    nets = [net for net in drawing.wiring.nets[index] if not drawing.is_ground(net)]
    rails = [net for net in nets if _supplies(drawing, net)]
    switching = drawing.switching.get(part.id, frozenset())
    own = drawing.outputs.get(part.id, frozenset())
    supply = _pin_supply(
        drawing, index, [n for n in rails if drawing.board.nets[n].name not in own]
    )
    for net in nets:
        name = drawing.board.nets[net].name
        if name in switching:
            continue
        if net in rails:
            shared = f"{part.id} substrate"
            drawing.join(None, net, laws["substrate"], part.id, "substrate", shared=shared)
            if name not in own:
                _load(drawing, part.id, role, net)
            continue
        if _is_bare(drawing, net):
            continue
        shared = f"{part.id} clamp"
        drawing.join(None, net, laws["clamp"], part.id, "clamp", shared=shared)
        if supply is not None:
            drawing.join(net, supply, laws["clamp"], part.id, "clamp", shared=shared)


def _supplies(drawing: Drawing, net: int) -> bool:
    """Whether a chip's pin on this net is a supply pin; on a reference it only looks."""
    name = drawing.board.nets[net].name
    return drawing.is_rail(net) and drawing.kind(name) != "reference"


def _is_bare(drawing: Drawing, net: int) -> bool:
    """Whether nothing but this pin is on the net: no lead can reach it, no deposit begins there."""
    name = drawing.board.nets[net].name
    return drawing.kind(name) == "no-connect" and drawing.wiring.pads[net] <= 1


def _pin_supply(drawing: Drawing, index: int, rails: list[int]) -> int | None:
    """The supply that a chip's signal pins clamp to: of several the one with the highest nominal
    up to 3.6 V, then with most pins [practice]. Which pin belongs to which is in no netlist.
    """
    if not rails:
        return None

    def weight(net: int) -> tuple[bool, float, int, int]:
        rail = drawing.tree.by_net.get(drawing.board.nets[net].name)
        volts = rail.nominal_volts if rail is not None and rail.nominal_volts else 0.0
        fits = 1.1 <= volts <= 3.6
        pins = len(drawing.wiring.pins_on(index, net))
        return fits, volts if fits else 0.0, pins, -net

    return max(rails, key=weight)


def _load(drawing: Drawing, part_id: str, role: Role, net: int) -> None:
    """What the chip draws from a supply at rest: core logic like a resistor, all else softly."""
    rail = drawing.tree.by_net.get(drawing.board.nets[net].name)
    volts = rail.nominal_volts if rail is not None else None
    table = resistances()
    if role in _CORES and volts is not None and volts <= CORE_VOLTS:
        drawing.resist(net, _ground(drawing), table["load-core"], part_id, "core")
        return
    if role == "memory" and volts is not None and volts <= MEMORY_VOLTS:
        drawing.resist(net, _ground(drawing), table["load-memory"], part_id, "memory")
        return
    value = table["load-manager" if role == "power-manager" else "load-chip"]
    # The resistance behind the junction keeps the exponential from running away.
    drawing.join(net, None, junction_laws()["load"], part_id, "load", series=value)


def _ground(drawing: Drawing) -> str:
    return min(drawing.grounds)


def add_feeders(drawing: Drawing) -> None:
    """What converters, switches and chargers conduct backwards while they are off."""
    _switch_nodes(drawing)
    nodes = {(one.converter, one.in_net, one.out_net) for one in drawing.tree.switch_nodes}
    for rail in drawing.tree:
        for feeder in rail.feeders:
            part = drawing.board.part(feeder.part_id)
            role = drawing.role(feeder.part_id)
            if not drawing.wiring.fitted[part.index] or role in _PASSIVE:
                continue
            if feeder.from_net is None:
                drawing.unsure.add(feeder.part_id)
            elif (feeder.part_id, feeder.from_net, rail.net) not in nodes:
                _feeder(drawing, rail, feeder)


def _feeder(drawing: Drawing, rail: Rail, feeder: Feeder) -> None:
    assert feeder.from_net is not None  # noqa: S101 - the caller asked
    source = drawing.board.net(feeder.from_net).index
    law = junction_laws()["body"]
    if feeder.kind == "charger" or (feeder.kind == "switched" and battery_side(drawing, source)):
        if _is_inner(drawing, rail.net, feeder.part_id):
            return  # a supply the charger makes for itself: nothing flows while it is off
        if battery_side(drawing, source):
            add_battery_switch(drawing, feeder.from_net, rail.net, feeder.part_id)
        else:
            value = resistances()["charger-off"]
            drawing.resist(rail.net, feeder.from_net, value, feeder.part_id, "charger-off")
    elif feeder.kind == "boost":
        drawing.join(feeder.from_net, rail.net, law, feeder.part_id, "body")
    else:
        drawing.join(rail.net, feeder.from_net, law, feeder.part_id, "body")


def _is_inner(drawing: Drawing, net: str, part_id: str) -> bool:
    """Whether nothing but the chip itself, capacitors and resistors are on its output."""
    roles = [
        drawing.role(one)
        for one in drawing.board.parts_on_net[net]
        if one != part_id and one in drawing.roles.fitted
    ]
    return all(role in ("capacitor", "resistor", "test-point") for role in roles)


def _switch_nodes(drawing: Drawing) -> None:
    law = junction_laws()["body"]
    for node in drawing.tree.switch_nodes:
        if not drawing.wiring.fitted[drawing.board.part(node.converter).index]:
            continue
        drawing.join(None, node.net, law, node.converter, "low-side")
        if drawing.role(node.converter) == "charger":
            # A charger blocks what comes back from the cell: a leak is all that passes.
            drawing.unsure.add(node.converter)
            if node.in_net is not None and node.out_net is not None:
                value = resistances()["charger-off"]
                drawing.resist(node.out_net, node.in_net, value, node.converter, "charger-off")
        elif node.kind == "buck" and node.in_net is not None:
            drawing.join(node.net, node.in_net, law, node.converter, "high-side")
        elif node.kind == "boost" and node.out_net is not None:
            if not _has_diode(drawing, node.net, node.out_net):
                drawing.join(node.net, node.out_net, law, node.converter, "high-side")
        elif node.kind == "unknown":
            drawing.unsure.add(node.converter)


def _has_diode(drawing: Drawing, a: str, b: str) -> bool:
    """Whether a diode part stands between the two nets: then it is the way, with its own row."""
    one, two = drawing.board.net(a).index, drawing.board.net(b).index
    return any(
        drawing.role(drawing.board.parts[part].id) == "diode"
        for part in set(drawing.wiring.parts[one]) & set(drawing.wiring.parts[two])
    )
