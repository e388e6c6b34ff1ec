# SPDX-License-Identifier: GPL-3.0-or-later
"""Supplies that show only through their neighbours: behind a bead, a fuse, a diode, a coil.

Runs after nets are judged alone; each round may use what the round before has found.
"""

from __future__ import annotations

import re

from netgraph.reasons import Reason, reason
from netgraph.roles.answer import NetRole, PartRole, Role
from netgraph.roles.ground import last_segment
from netgraph.roles.net_words import (
    CAPACITOR_PIN,
    INPUT_PART,
    OUTPUT_PIN,
    SUPPLY_PIN,
    is_generated,
)
from netgraph.roles.nets import COIL_HENRY, SMALL_FARAD, NetJudge
from netgraph.roles.polarity import junctions_of, switch_of
from netgraph.roles.pumps import PUMPED_PIN, flying_capacitors

SMALL_OHM = 150.0
"""Series resistors up to this feed a filtered branch (bench rule of the injection ceiling)."""
_ROUNDS = 6
_CHIP_BYPASS = 0.9e-7
_REGULATOR_BYPASS = 0.45e-6
_REGULATING: frozenset[Role] = frozenset(
    ("regulator", "power-manager", "charger", "load-switch", "power-controller", "fuel-gauge")
)
_NO_CHIP: frozenset[Role] = frozenset(
    ("resistor", "capacitor", "inductor", "ferrite", "fuse", "link", "sense-resistor", "diode",
     "tvs", "esd-array", "led", "transistor", "crystal", "connector", "slot", "switch", "battery",
     "test-point", "mechanical", "thermistor", "antenna", "transformer", "bridge-rectifier",
     "microphone", "speaker", "optocoupler")
)  # fmt: skip
_NO_REGULATOR: frozenset[Role] = frozenset(
    ("logic", "level-shifter", "analog-switch", "amplifier", "optocoupler")
)
"""Chips that have no regulator of their own: a capacitor on a pin is a delay or a filter."""
_MEASURING: frozenset[Role] = frozenset(("audio", "amplifier", "other", "sensor"))
_REFERENCE_NET = re.compile(r"V?REF[A-Z0-9_+-]*|V?COM|V?CM|VMID|VBIAS", re.IGNORECASE)
_NOT_AN_OUTPUT = re.compile(
    r"(?:.*REF.*|V?CM|VMID|BIAS|.*BIAS|COMP|SS|SS/TR|TR|NR.*|BYP.*|CT|RT.*|FILT.*|C[1-4]?[PN+-]|C\d|"
    r".*RST.*|.*RESET.*|EN.*|.*_EN|ISET.*|ILIM.*|TIMER|TMR|BST.*|BOOT.*|CB|FLY.*|CAP_?[PN+-])",
    re.IGNORECASE,
)


def _is_supply_like(name: str) -> bool:
    return any(pattern.fullmatch(name) for pattern in (SUPPLY_PIN, OUTPUT_PIN, CAPACITOR_PIN))


_PROMOTABLE = frozenset(("signal", "unknown", "no-connect", "chassis", "bus", "clock"))


class Promoter:
    """Raises nets to rails by what they are joined to."""

    def __init__(self, judge: NetJudge, parts: list[PartRole], nets: dict[str, NetRole]) -> None:
        self.judge = judge
        self.wiring = judge.wiring
        self.parts = parts
        self.role = judge.role
        self.names = [net.name for net in judge.wiring.board.nets]
        self.kind = [nets[name].kind for name in self.names]
        self.nets = nets
        self._pumps: dict[int, bool] = {}
        self._empty = self._empty_places()

    def _empty_places(self) -> set[int]:
        """Nets with a place for a capacitor to ground that is not fitted."""
        found = set()
        for part in self.wiring.board.parts:
            nets = self.wiring.nets[part.index]
            if self.wiring.fitted[part.index] or self.role[part.index] != "capacitor":
                continue
            inside = [net for net in nets if self.kind[net] != "ground"]
            if len(nets) == 2 and len(inside) == 1:
                found.add(inside[0])
        return found

    def run(self) -> dict[str, NetRole]:
        """The nets' roles with the promoted ones replaced."""
        for _ in range(_ROUNDS):
            found: list[tuple[int, float, Reason]] = []
            for net in range(len(self.names)):
                if self.kind[net] in _PROMOTABLE and self.nets[self.names[net]].source != "user":
                    why = self._promotion(net)
                    if why is not None:
                        found.append((net, *why))
            if not found:
                break
            for net, sure, fact in found:
                name = self.names[net]
                volts = self.wiring.volts[net] if not is_generated(name) else None
                bypass = fact.code == "own-reference" or _REFERENCE_NET.fullmatch(
                    last_segment(name)
                )
                self.kind[net] = "reference" if bypass else "rail"
                self.nets[name] = NetRole(name, self.kind[net], sure, volts, (fact,))
        return self.nets

    def _rectifier_input(self, net: int) -> tuple[float, Reason] | None:
        """An input of a bridge whose other nets are the rectified rail and its return."""
        for part in self.wiring.parts[net]:
            nets = self.wiring.nets[part]
            if self.role[part] != "bridge-rectifier" or len(nets) != 4:
                continue
            out = [one for one in nets if self._is_rail(one) and not self._rectified(one)]
            bridges = [
                one
                for one in nets
                if sum(self.role[p] == "bridge-rectifier" for p in self.wiring.parts[one]) > 1
            ]
            if len(out) == 1 and net not in out and net not in bridges and not self._grounded(net):
                return 0.7, reason("rectified", ref=self.wiring.board.parts[part].id)
        return None

    def _rectified(self, net: int) -> bool:
        return any(why.code == "rectified" for why in self.nets[self.names[net]].reasons)

    def _grounded(self, net: int) -> bool:
        """Joined to a ground by a coil or transistor: the bridge's return side."""
        return self.kind[net] == "ground" or any(
            self.kind[one] == "ground"
            for part in self.wiring.parts[net]
            if self.role[part] in ("ferrite", "inductor", "link", "transistor", "sense-resistor")
            for one in self.wiring.nets[part]
        )

    def _promotion(self, net: int) -> tuple[float, Reason] | None:
        bridge = self._rectifier_input(net)
        if bridge is not None:
            return bridge
        for part in self.wiring.parts[net]:
            found = self._through(part, net)
            if found is not None:
                return found, reason("series-power", ref=self.wiring.board.parts[part].id)
        return self._pumped(net) or self._own_output(net)

    def _pumped(self, net: int) -> tuple[float, Reason] | None:
        """The output of a charge pump: its chip, and a capacitor to ground or to a supply."""
        chips = self._chips(net)
        if len(chips) != 1 or not self._flying(chips[0]):
            return None
        chip = chips[0]
        held = [
            part
            for part in self.wiring.parts[net]
            if self.role[part] == "capacitor" and len(self.wiring.nets[part]) == 2
        ]
        far = {self.wiring.other_net(part, net) for part in held}
        if not any(self.kind[one] == "ground" or self._is_rail(one) for one in far):
            return None
        if any(one in self.wiring.nets[chip] and self.kind[one] == "signal" for one in far):
            return None
        names = [pin.name for pin in self.wiring.pins_on(chip, net) if pin.name]
        if names and not any(PUMPED_PIN.fullmatch(name) for name in names):
            return None
        return 0.7 if names else 0.5, reason("pump-output", ref=self.wiring.board.parts[chip].id)

    def _flying(self, chip: int) -> bool:
        if chip not in self._pumps:
            self._pumps[chip] = bool(flying_capacitors(self.wiring, self.role, chip))
        return self._pumps[chip]

    def _buffered(self, net: int) -> bool:
        return any(f is None or f >= SMALL_FARAD for f in self.judge.shunt[net])

    def _chips(self, net: int) -> list[int]:
        return [
            part
            for part in self.wiring.parts[net]
            if self.role[part] not in _NO_CHIP and len(self.wiring.nets[part]) >= 3
        ]

    def _through(self, part: int, net: int) -> float | None:
        """Confidence that this part makes the net a supply, or None."""
        role, nets = self.role[part], self.wiring.nets[part]
        buffered = self._buffered(net)
        if role == "transistor" and len(nets) == 3 and (buffered or self._feeds_choke(net, part)):
            switch = switch_of(self.wiring, part)
            if net == switch.gate:
                return None
            ends = [one for one in nets if one not in (net, switch.gate)]
            return 0.7 if any(self._is_rail(one) for one in ends) else None
        if role == "diode":
            for junction in junctions_of(self.wiring, part):
                if junction.cathode == net and self._is_rail(junction.anode):
                    return 0.75 if buffered or self._chips(net) else None
                if junction.anode == net and self._is_rail(junction.cathode):
                    if self._spans(net, junction.cathode, part):
                        return None  # it catches the kick of a coil or motor
                    others = {self.role[p] for p in self.wiring.parts[net]} - {role, "capacitor"}
                    if others & {"connector", "fuse", "battery"}:
                        return 0.7
            return None
        if role == "switch":
            # A power switch: one side is a supply, the other comes from a connector.
            brings = any(self._brings_power(p) for p in self.wiring.parts[net])
            joined = any(self._is_rail(one) for one in nets if one != net)
            return 0.65 if brings and joined else None
        if len(nets) != 2:
            return None
        far = self.wiring.other_net(part, net)
        if role == "inductor":
            henry = self.parts[part].henry
            if henry is not None and henry < COIL_HENRY:
                return None
            if buffered and (self.kind[far] == "switch-node" or self._is_rail(far)):
                return 0.85
            return None
        if not self._is_rail(far):
            return None
        if role in ("fuse", "ferrite", "link", "sense-resistor") and self._leads_on(net, part):
            return 0.7
        if role == "fuse":
            return 0.85
        if role == "ferrite":
            return 0.85 if buffered else 0.75
        if role == "sense-resistor":
            return 0.8
        if role == "link":
            return 0.7 if buffered else None
        if role == "resistor":
            ohm = self.parts[part].ohm
            if ohm is not None and ohm <= SMALL_OHM and buffered and self._chips(net):
                return 0.65 if ohm <= 33 else 0.5
        return None

    def _feeds_choke(self, net: int, but: int) -> bool:
        """Besides the transistor only a coil is on the net: a switched bias line."""
        rest = [part for part in self.wiring.parts[net] if part != but]
        return bool(rest) and all(self.role[part] == "inductor" for part in rest)

    def _leads_on(self, net: int, but: int) -> bool:
        """Between two series power parts, the second of which leads to a buffered net."""
        rest = [
            part
            for part in self.wiring.parts[net]
            if part != but and self.role[part] not in ("test-point", "capacitor")
        ]
        return len(rest) == 1 and (
            self.role[rest[0]] in ("fuse", "ferrite", "inductor", "link", "sense-resistor")
            and len(self.wiring.nets[rest[0]]) == 2
            and self._buffered(self.wiring.other_net(rest[0], net))
            and self.kind[self.wiring.other_net(rest[0], net)] != "ground"
        )

    def _brings_power(self, part: int) -> bool:
        """A cell, or a connector with few nets that looks like a supply's."""
        own = self.wiring.board.parts[part]
        looks = INPUT_PART.search(f"{own.ref} {own.value} {own.package}") is not None
        few = len(self.wiring.nets[part]) <= 4
        return self.role[part] == "battery" or (self.role[part] == "connector" and looks and few)

    def _spans(self, a: int, b: int, but: int) -> bool:
        return any(
            one != but and b in self.wiring.nets[one] and len(self.wiring.nets[one]) <= 4
            for one in self.wiring.parts[a]
            if self.role[one] not in ("capacitor", "resistor", "diode")
        )

    def _is_rail(self, net: int) -> bool:
        return self.kind[net] in ("rail", "high-voltage")

    def _own_output(self, net: int) -> tuple[float, Reason] | None:
        """A chip's pin with nothing on it but capacitors to ground: its own regulator's output."""
        chips = self._chips(net)
        if len(chips) != 1 or self.wiring.board.partial:
            return None  # of a partial board nobody knows what else is on the net
        chip = chips[0]
        rest = {
            self.role[part]
            for part in self.wiring.parts[net]
            if part != chip and self.role[part] not in ("test-point", "mechanical")
        }
        farads = self.judge.shunt[net]
        whole = sum(farad if farad is not None else _CHIP_BYPASS for farad in farads)
        least = _REGULATOR_BYPASS if self.role[chip] in _REGULATING else _CHIP_BYPASS
        if self.role[chip] == "power-manager" and not rest and net in self._empty:
            return 0.5, reason("empty-output", ref=self.wiring.board.parts[chip].id)
        if rest != {"capacitor"} or whole < least or not farads:
            return None
        pins = self.wiring.pins_on(chip, net)
        names = [pin.name for pin in pins if pin.name and pin.name != "~"]
        if any(_NOT_AN_OUTPUT.fullmatch(name) for name in names):
            return None
        power = any(pin.type in ("power_out", "power_in") for pin in pins)
        if self.role[chip] in _NO_REGULATOR and not power:
            return None
        if names and not power and not any(_is_supply_like(name) for name in names):
            return None
        typed = any(pin.type in ("power_out", "power_in") for pin in pins)
        sure = 0.8 if typed else 0.5
        if self.role[chip] in _MEASURING:
            return 0.5, reason("own-reference", ref=self.wiring.board.parts[chip].id)
        return sure, reason("own-output", ref=self.wiring.board.parts[chip].id)
