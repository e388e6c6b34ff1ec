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
from netgraph.circuit.switches import SERIES, add_transistor
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
from netgraph.roles.polarity import junctions_of
from netgraph.roles.values import PartText
from netgraph.roles.wiring import Wiring

SILENT: Final[frozenset[Role]] = frozenset(
    {"connector", "slot", "switch", "battery", "test-point", "mechanical", "antenna", "crystal"}
)
"""What conducts nothing by itself: open keys, empty sockets, a cell that is off the board."""
_UNMODELLED: Final[frozenset[Role]] = frozenset(
    {"transformer", "optocoupler", "bridge-rectifier", "haptic", "microphone"}
)
_OPEN = re.compile(r"\bopen\b", re.IGNORECASE)


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
        series: Resistance | None = None,
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
            law.series_ohm if series is None else series.ohm,
            sd=law.sd,
            series_sd=0.0 if series is None else series.sd,
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
        add_transistor(drawing, index)
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
    """Nets of the single resistors of an array: pins 1.1 and 1.2, or 4, 6, 8 ... pins numbered
    around it, the first facing the last [practice].
    """
    pins = {pin.number: pin.net for pin in drawing.wiring.pins[index]}
    units = {number.rpartition(".")[0] for number in pins}
    if len(pins) == 2 * len(units) and all(f"{one}.{k}" in pins for one in units for k in (1, 2)):
        own = [(pins[f"{one}.1"], pins[f"{one}.2"]) for one in sorted(units)]
        return [(a, b) for a, b in own if a >= 0 and b >= 0 and a != b]
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
