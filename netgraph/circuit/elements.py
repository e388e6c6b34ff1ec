# SPDX-License-Identifier: GPL-3.0-or-later
"""Which branches and junctions does a dead board have? One part after the other, from its role.

What is not known is not guessed into a path: it stands in the circuit's notes instead.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from netgraph.circuit.chips import add_chip, add_feeders
from netgraph.circuit.grounds import merged_grounds
from netgraph.circuit.junction import ROOM_KELVIN, saturation_at
from netgraph.circuit.network import GROUND, Circuit, CircuitBuilder, Label
from netgraph.circuit.values import (
    JunctionLaw,
    Resistance,
    coil,
    diode_law,
    insulation,
    junction_laws,
    resistances,
    resistor,
)
from netgraph.model import Board
from netgraph.rails.tree import RailTree
from netgraph.reasons import reason
from netgraph.roles.answer import NetKind, PartRole, Role, Roles
from netgraph.roles.polarity import junctions_of, switch_of
from netgraph.roles.values import PartText
from netgraph.roles.wiring import Wiring

SERIES: Final[frozenset[Role]] = frozenset(
    {"ferrite", "link", "fuse", "sense-resistor", "inductor"}
)
SILENT: Final[frozenset[Role]] = frozenset(
    {"connector", "slot", "switch", "battery", "test-point", "mechanical", "antenna", "crystal"}
)
"""What conducts nothing by itself: open keys, empty sockets, a cell that is off the board."""
_UNMODELLED: Final[frozenset[Role]] = frozenset(
    {"transformer", "optocoupler", "bridge-rectifier", "haptic", "microphone"}
)
_OPEN = re.compile(r"\bopen\b", re.IGNORECASE)
_BATTERY = re.compile(r"BAT|CELL|LIPO|LION", re.IGNORECASE)
_BASE, _COLLECTOR, _EMITTER = (re.compile(f"{letter}[0-9]?", re.I) for letter in "BCE")


@dataclass(frozen=True, slots=True)
class Hypotheses:
    """What the netlist can't tell and a person may state.

    `battery_switch`: whether the switch between cell and system conducts both ways; off, only its
    body diode does.
    """

    battery_switch: bool = False


@dataclass
class Drawing:
    """A circuit in the making, with what every rule asks for."""

    board: Board
    roles: Roles
    tree: RailTree
    wiring: Wiring
    grounds: frozenset[str]
    hypotheses: Hypotheses
    builder: CircuitBuilder
    kelvin: float
    unmodelled: set[str]
    unsure: set[str]

    @cached_property
    def outputs(self) -> dict[str, frozenset[str]]:
        """Part identity -> rails it feeds."""
        found: dict[str, set[str]] = {}
        for rail in self.tree:
            for one in rail.feeders:
                found.setdefault(one.part_id, set()).add(rail.net)
        return {part: frozenset(nets) for part, nets in found.items()}

    @cached_property
    def passing(self) -> frozenset[str]:
        """Parts that feed a rail from a net that is known."""
        return frozenset(
            one.part_id for rail in self.tree for one in rail.feeders if one.from_net is not None
        )

    @cached_property
    def switching(self) -> dict[str, frozenset[str]]:
        """Part identity -> its switch nodes."""
        found: dict[str, set[str]] = {}
        for one in self.tree.switch_nodes:
            found.setdefault(one.converter, set()).add(one.net)
        return {part: frozenset(nets) for part, nets in found.items()}

    def node(self, net: int | str) -> int:
        """Node of a net by index or name; ground is -1."""
        name = net if isinstance(net, str) else self.board.nets[net].name
        return GROUND if name in self.grounds else self.builder.node_of[name]

    def resist(
        self, a: int | str, b: int | str, value: Resistance, part_id: str, what: str
    ) -> None:
        """A resistance of a part between two nets."""
        self.builder.branch(
            self.node(a),
            self.node(b),
            value.ohm,
            sd=value.sd,
            label=Label(part_id, what, value.basis, value.source),
        )

    def join(
        self,
        anode: int | str | None,
        cathode: int | str | None,
        law: JunctionLaw,
        part_id: str,
        what: str,
        *,
        series_ohm: float | None = None,
        shared: str = "",
    ) -> None:
        """A junction of a part; None stands for ground.

        One that does not end at ground leaks a little in its blocking direction; what ends there
        leaks with the pin (``leak``).
        """
        left = GROUND if anode is None else self.node(anode)
        right = GROUND if cathode is None else self.node(cathode)
        self.builder.junction(
            left,
            right,
            float(saturation_at(law.saturation, law.emission, self.kelvin, law.volts_per_kelvin)),
            law.emission,
            law.series_ohm if series_ohm is None else series_ohm,
            sd=law.sd,
            label=Label(part_id, what, law.basis, law.source),
            shared=shared,
        )
        if left >= 0 and right >= 0 and what not in ("clamp", "load"):
            value = resistances()["junction-leak"]
            self.builder.branch(
                left,
                right,
                value.ohm,
                sd=value.sd,
                label=Label(part_id, "leak", value.basis, value.source),
                shared=f"{part_id} leak",
            )
        elif left < 0 <= right:
            self.leak(right, part_id)

    def leak(self, node: int, part_id: str) -> None:
        """What flows from a pin or supply to ground through a part that is off."""
        value = resistances()["pin-leak"]
        self.builder.branch(
            node,
            GROUND,
            value.ohm,
            sd=value.sd,
            label=Label(part_id, "leak", value.basis, value.source),
            shared=f"{part_id} leak",
        )

    def is_ground(self, net: int) -> bool:
        """Whether the net is the reference of all volts."""
        return self.board.nets[net].name in self.grounds

    def is_rail(self, net: int) -> bool:
        """Whether the net distributes a supply."""
        name = self.board.nets[net].name
        return name in self.tree.by_net or self.kind(name) in ("rail", "high-voltage")

    def part_role(self, part_id: str) -> PartRole:
        """The role of a part; unknown when nobody judged it."""
        return self.roles.parts.get(part_id) or PartRole(part_id, "unknown", 0.0)

    def role(self, part_id: str) -> Role:
        """The role's name."""
        return self.part_role(part_id).role

    def kind(self, net: str) -> NetKind:
        """The kind of a net; unknown when nobody judged it."""
        found = self.roles.nets.get(net)
        return "unknown" if found is None else found.kind


def board_circuit(
    board: Board,
    roles: Roles,
    tree: RailTree,
    *,
    hypotheses: Hypotheses | None = None,
    kelvin: float = ROOM_KELVIN,
) -> Circuit:
    """The circuit of an unpowered board: every net a node, all grounds that belong together one.

    Parameters
    ----------
    kelvin
        Temperature of the board; junction volts move by about -2 mV/K.

    Raises
    ------
    CircuitError
        A value is impossible.
    """
    lifted = {part.id for part in board.parts if part.not_fitted_because == "lifted"}
    wiring = Wiring(board, roles.fitted - lifted)
    grounds = merged_grounds(board, roles, tree, wiring)
    drawing = Drawing(
        board,
        roles,
        tree,
        wiring,
        grounds,
        hypotheses or Hypotheses(),
        CircuitBuilder(),
        kelvin,
        set(),
        set(),
    )
    for net in board.nets:
        if net.name in grounds:
            drawing.builder.node_of[net.name] = GROUND
        else:
            drawing.builder.node(net.name)
    _net_ties(drawing)
    for part in board.parts:
        if wiring.fitted[part.index]:
            _part(drawing, part.index)
    add_feeders(drawing)
    _notes(drawing)
    return drawing.builder.freeze(kelvin)


def _net_ties(drawing: Drawing) -> None:
    for tie in drawing.board.net_ties:
        part = drawing.board.part(tie.part_id)
        nets = [
            pin.net
            for pin in drawing.wiring.pins[part.index]
            if pin.number in tie.pins and pin.net >= 0
        ]
        for other in nets[1:]:
            drawing.resist(nets[0], other, resistances()["net-tie"], tie.part_id, "net-tie")


def _part(drawing: Drawing, index: int) -> None:
    part = drawing.board.parts[index]
    role = drawing.role(part.id)
    nets = drawing.wiring.nets[index]
    if role in SILENT or not nets:
        return
    if role in ("resistor", "thermistor", "sense-resistor"):
        _resistor(drawing, index, role)
    elif role in SERIES or role == "speaker":
        _series(drawing, index, role)
    elif role == "capacitor":
        if len(nets) == 2:
            value = insulation(drawing.part_role(part.id).farad)
            drawing.resist(*nets, value, part.id, "insulation")
        elif len(nets) > 2:
            drawing.unmodelled.add(part.id)
    elif role in ("diode", "led"):
        _diode(drawing, index, role)
    elif role == "tvs":
        _tvs(drawing, index)
    elif role == "esd-array":
        _esd(drawing, index)
    elif role == "transistor":
        _transistor(drawing, index)
    elif role in _UNMODELLED or (role in ("unknown", "other") and len(nets) <= 2):
        if len(nets) > 1:
            drawing.unmodelled.add(part.id)
    else:
        add_chip(drawing, index)


def _resistor(drawing: Drawing, index: int, role: Role) -> None:
    part = drawing.board.parts[index]
    nets = drawing.wiring.nets[index]
    default = {"sense-resistor": "sense", "thermistor": "thermistor"}.get(role, "resistor")
    value = resistor(drawing.part_role(part.id).ohm, part.value, default)
    if len(nets) == 2:
        drawing.resist(*nets, value, part.id, role)
        return
    pairs = _array_pairs(drawing, index)
    if pairs is None:
        if len(nets) > 1:
            drawing.unmodelled.add(part.id)
        return
    for a, b in pairs:
        drawing.resist(a, b, value, part.id, role)


def _array_pairs(drawing: Drawing, index: int) -> list[tuple[int, int]] | None:
    """Nets of the single resistors of an array with 4, 6, 8 ... pins numbered around it
    [practice]: pin 1 faces the last one.
    """
    pins = {pin.number: pin.net for pin in drawing.wiring.pins[index]}
    count = len(pins)
    if count < 4 or count % 2 or set(pins) != {str(n) for n in range(1, count + 1)}:
        return None
    pairs = [(pins[str(n)], pins[str(count + 1 - n)]) for n in range(1, count // 2 + 1)]
    return [(a, b) for a, b in pairs if a >= 0 and b >= 0 and a != b]


def _series(drawing: Drawing, index: int, role: Role) -> None:
    part = drawing.board.parts[index]
    nets = drawing.wiring.nets[index]
    if role == "link" and _OPEN.search(part.value):
        return
    if len(nets) != 2:
        if len(nets) > 2:
            drawing.unmodelled.add(part.id)
        return
    value = coil(part.value) if role == "inductor" else resistances()[role]
    drawing.resist(*nets, value, part.id, role)


def _diode(drawing: Drawing, index: int, role: Role) -> None:
    part = drawing.board.parts[index]
    found = junctions_of(drawing.wiring, index)
    if not found and len(drawing.wiring.nets[index]) > 1:
        drawing.unmodelled.add(part.id)
    texts = " ".join([part.value, PartText(part).description])
    law = junction_laws()["led"] if role == "led" else diode_law(texts)
    for one in found:
        if not one.named:
            drawing.unsure.add(part.id)
        drawing.join(one.anode, one.cathode, law, part.id, role)


def _tvs(drawing: Drawing, index: int) -> None:
    part = drawing.board.parts[index]
    law = junction_laws()["tvs"]
    for net in drawing.wiring.nets[index]:
        if not drawing.is_ground(net):
            drawing.join(None, net, law, part.id, "tvs")


def _esd(drawing: Drawing, index: int) -> None:
    part = drawing.board.parts[index]
    law = junction_laws()["clamp"]
    nets = [net for net in drawing.wiring.nets[index] if not drawing.is_ground(net)]
    supplies = [net for net in nets if drawing.is_rail(net)]
    shared = f"{part.id} clamp"
    for net in nets:
        drawing.join(None, net, law, part.id, "clamp", shared=shared)
        if net not in supplies and len(supplies) == 1:
            drawing.join(net, supplies[0], law, part.id, "clamp", shared=shared)


def _transistor(drawing: Drawing, index: int) -> None:
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


def _notes(drawing: Drawing) -> None:
    for names, code in ((drawing.unmodelled, True), (drawing.unsure, False)):
        if names:
            text = _names(names)
            drawing.builder.notes.append(
                reason("circuit-not-modelled", count=len(names), parts=text)
                if code
                else reason("circuit-direction-unsure", count=len(names), parts=text)
            )


def _names(names: Iterable[str], most: int = 8) -> str:
    unique = sorted(set(names))
    more = f" and {len(unique) - most} more" if len(unique) > most else ""
    return ", ".join(unique[:most]) + more
