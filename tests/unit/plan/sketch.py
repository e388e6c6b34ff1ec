# SPDX-License-Identifier: GPL-3.0-or-later
"""Boards, roles and rails drawn by hand in a few lines, for the tests of the `plan` room."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from netgraph.model import Board, BoardBuilder
from netgraph.rails.tree import Feeder, Rail, RailKind, RailTree, SwitchNode
from netgraph.roles.answer import NetKind, NetRole, PartRole, Role, Roles

MM = 1_000_000


@dataclass
class Sketch:
    """Collects parts with roles and nets with kinds; ``done`` gives board, roles and tree."""

    builder: BoardBuilder = field(default_factory=lambda: BoardBuilder("sketch"))
    parts: dict[str, PartRole] = field(default_factory=dict)
    nets: dict[str, NetRole] = field(default_factory=dict)
    rails: list[Rail] = field(default_factory=list)
    switch_nodes: list[SwitchNode] = field(default_factory=list)
    unfitted: set[str] = field(default_factory=set)

    def part(
        self,
        ref: str,
        role: Role,
        *pins: str,
        names: Mapping[str, str] | None = None,
        types: Mapping[str, str] | None = None,
        confidence: float = 0.9,
        ohm: float | None = None,
        farad: float | None = None,
        value: str = "",
        footprint: str = "",
        at: tuple[float, float] = (0.0, 0.0),
        pitch_mm: float = 1.0,
        pad_mm: float = 0.6,
        fitted: bool = True,
    ) -> Sketch:
        """A part with pins 1, 2, ... on these nets in a row; `names`, `types` by net."""
        x, y = int(at[0] * MM), int(at[1] * MM)
        index = self.builder.add_part(ref, value=value, footprint=footprint, x_nm=x, y_nm=y)
        for number, net in enumerate(pins, start=1):
            self.builder.add_pad(
                index,
                str(number),
                net or None,
                x_nm=x + int((number - 1) * pitch_mm * MM),
                y_nm=y,
                width_nm=int(pad_mm * MM),
                height_nm=int(pad_mm * MM),
                pin_name=(names or {}).get(net, ""),
                pin_type=(types or {}).get(net, ""),
            )
        self.parts[ref] = PartRole(ref, role, confidence, ohm=ohm, farad=farad)
        if not fitted:
            self.unfitted.add(ref)
        return self

    def net(
        self, name: str, kind: NetKind, volts: float | None = None, confidence: float = 0.9
    ) -> Sketch:
        """What a net is for; nets not named here are signals, GND is ground."""
        self.builder.add_net(name)
        self.nets[name] = NetRole(name, kind, confidence, volts)
        return self

    def rail(
        self,
        name: str,
        kind: RailKind,
        volts: float | None,
        *feeders: tuple[str, str | None],
        through: tuple[str, ...] = (),
        confidence: float = 0.9,
    ) -> Sketch:
        """A supply; `feeders` are (part, input net)."""
        self.net(name, "reference" if kind == "reference" else "rail", volts, confidence)
        self.rails.append(
            Rail(
                name,
                kind,
                volts,
                tuple(
                    Feeder(part, source, kind, confidence, through=through)
                    for part, source in feeders
                ),
                confidence=confidence,
            )
        )
        return self

    def done(self) -> tuple[Board, Roles, RailTree]:
        """The board and what is known about it."""
        board = self.builder.freeze()
        nets = {net.name: NetRole(net.name, "signal", 0.9) for net in board.nets}
        if "GND" in nets:
            nets["GND"] = NetRole("GND", "ground", 0.99)
        nets.update(self.nets)
        fitted = frozenset(part.id for part in board.parts) - self.unfitted
        grounds = tuple(name for name, role in nets.items() if role.kind == "ground")
        tree = RailTree(grounds, tuple(self.rails), tuple(self.switch_nodes))
        return board, Roles(self.parts, nets, fitted), tree


def recorder() -> Sketch:
    """A pocket recorder in small: VBUS -> ferrite -> VIN -> buck -> 3V3, a radio rail behind it.

    U1 processor, U2 storage, U3 buck with L1, U4 radio regulator, U5 radio, J1 USB.
    """
    s = Sketch()
    s.rail("VBUS", "entry", 5.0)
    s.rail("VIN", "filtered", 5.0, ("FB1", "VBUS"))
    s.rail("3V3", "buck", 3.3, ("U3", "VIN"), through=("L1",))
    s.rail("RADIO", "linear", 2.8, ("U4", "3V3"))
    s.net("SW", "switch-node")
    s.switch_nodes.append(SwitchNode("SW", "U3", "L1", "VIN", "3V3", "buck"))
    s.part("J1", "connector", "VBUS", "USB_DP", "USB_DM", "GND", value="USB-C", at=(0, 0))
    s.part("FB1", "ferrite", "VBUS", "VIN", at=(0, 5))
    s.part("U3", "regulator", "VIN", "SW", "FB", "GND", names={"FB": "FB"}, at=(10, 0))
    s.part("L1", "inductor", "SW", "3V3", at=(20, 0))
    s.part(
        "U1",
        "processor",
        *("3V3", "GND", "USB_DP", "USB_DM", "XIN", "SCL", "EN_RADIO", "LAMP"),
        at=(30, 0),
    )
    s.part("U2", "storage", "3V3", "GND", "CLK", "CMD", at=(40, 0))
    s.part("Y1", "crystal", "XIN", "GND", at=(30, 10))
    s.part("C9", "capacitor", "XIN", "GND", farad=10e-12, at=(32, 10))
    s.part("U4", "regulator", *("3V3", "RADIO", "EN_RADIO", "GND"), names={"EN_RADIO": "EN"})
    s.part("U5", "radio", "RADIO", "GND", "ANT", "RF_A", at=(50, 0))
    s.part("U6", "sensor", "3V3", "GND", "SCL", at=(60, 0))
    for ref, net in (("C1", "3V3"), ("C2", "3V3"), ("C3", "VIN"), ("C4", "RADIO")):
        s.part(ref, "capacitor", net, "GND", farad=1e-6, at=(int(ref[1:]) * 4, 20))
    s.part("R1", "resistor", "3V3", "FB", ohm=100e3)
    s.part("R2", "resistor", "FB", "GND", ohm=30e3)
    s.part("R3", "resistor", "3V3", "SCL", ohm=4700.0)
    s.part("R4", "resistor", "3V3", "LED_A", ohm=1000.0)
    s.part("D1", "led", "LED_A", "GND")
    s.part("TP1", "test-point", "3V3", at=(5, 30))
    return s
