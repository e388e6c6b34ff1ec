# SPDX-License-Identifier: GPL-3.0-or-later
"""What each net is for: ground, rail, reference, switch node, clock, reset and so on.

Facts are added up as for parts; a net is a rail from a score of 1.6. Weights were chosen on the
labelled boards of the tests.
"""

from __future__ import annotations

import re
from math import exp

from netgraph.net_names import volts_in_name
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import NetRole, PartRole, Role
from netgraph.roles.ground import Ground, is_chassis_name, is_ground_name, last_segment
from netgraph.roles.net_words import (
    FEEDBACK_PIN,
    GENERATED_PIN,
    INPUT_NAME,
    KIND_NAMES,
    OUTPUT_PIN,
    OWN_CONVERTER_PIN,
    PLAIN_REFERENCE,
    REFERENCE_NAME,
    SIGNAL_NAME,
    SUPPLY_NAME,
    SUPPLY_PIN,
    USB_SUPPLY_PINS,
    VOLT_RANGE,
    is_generated,
    is_signal_name,
)
from netgraph.roles.wiring import Pin, Wiring
from netgraph.units import format_quantity

RAIL_SCORE = 1.6
SMALL_FARAD = 9e-9
"""Capacitors below this are not counted as buffers of a supply."""
COIL_HENRY = 0.2e-6
"""Coils below this belong to radio matching, not to converters."""
CONVERTER_FARAD = 0.9e-6
"""A converter's coil ends in at least this much capacitance (common practice, no source)."""
SERIES_OHM = 33.0
"""Resistors up to this may well carry a supply (common practice, no source)."""
TIMING_OHM = 1000.0
"""Resistors above it don't feed anything (common practice, no source)."""
HIGH_VOLTS = 60.0
"""From here a net is dangerous to touch (direct current, from memory)."""

_COIL_DRIVERS: frozenset[Role] = frozenset(
    ("regulator", "power-manager", "charger", "power-controller", "display-driver", "load-switch",
     "transistor")
)  # fmt: skip
_SERIES: frozenset[Role] = frozenset(
    ("ferrite", "fuse", "sense-resistor", "link", "inductor", "diode")
)
_PASSIVE2: frozenset[Role] = frozenset(
    ("resistor", "capacitor", "link", "sense-resistor", "ferrite", "thermistor")
)
_REGULATING: frozenset[Role] = frozenset(("regulator", "load-switch", "power-manager", "charger"))
_CONTROLLING: frozenset[Role] = frozenset(
    ("regulator", "power-manager", "charger", "power-controller")
)
_NO_LOAD: frozenset[Role] = frozenset(
    ("connector", "esd-array", "slot", "test-point", "mechanical")
)


class NetJudge:
    """Judges all nets of one board from the roles of its parts."""

    def __init__(self, wiring: Wiring, roles: list[PartRole], grounds: list[Ground]) -> None:
        self.wiring = wiring
        self.roles = roles
        self.role = [one.role for one in roles]
        self.grounds: dict[int, Ground] = {one.net: one for one in grounds}
        self._join_grounds()
        self.shunt: list[list[float | None]] = [[] for _ in wiring.board.nets]
        for part in wiring.board.parts:
            nets = wiring.nets[part.index]
            if wiring.fitted[part.index] and self.role[part.index] == "capacitor":
                self._count_shunt(roles[part.index].farad, nets)

    def _count_shunt(self, farad: float | None, nets: tuple[int, ...]) -> None:
        inside = [net for net in nets if net not in self.grounds]
        if len(inside) == 1 and len(nets) == 2:
            self.shunt[inside[0]].append(farad)

    def _join_grounds(self) -> None:
        """Nets joined to a ground by a link, tie or bead are that ground, if they look like one."""
        wiring = self.wiring
        for _ in range(3):
            added = False
            for part in wiring.board.parts:
                i, nets = part.index, wiring.nets[part.index]
                if len(nets) != 2 or not wiring.fitted[i]:
                    continue
                if self.role[i] not in ("link", "ferrite", "inductor"):
                    continue
                a, b = nets
                if (a in self.grounds) == (b in self.grounds):
                    continue
                known, new = (a, b) if a in self.grounds else (b, a)
                name = wiring.board.nets[new].name
                named = is_ground_name(name)
                bead = self.role[i] == "ferrite" and self._looks_grounded(new)
                if wiring.volts[new] is None and (named or bead):
                    facts = (
                        reason("ground-joined", net=wiring.board.nets[known].name, ref=part.id),
                    )
                    self.grounds[new] = Ground(new, 0.9 if named else 0.7, facts)
                    added = True
            if not added:
                break

    def _looks_grounded(self, net: int) -> bool:
        """Many pads, none of them a supply pin, no buffer capacitor to ground, no other feed."""
        wiring = self.wiring
        if SUPPLY_NAME.search(wiring.board.nets[net].name):
            return False
        pins = [
            pin for part in wiring.parts[net] for pin in wiring.pins_on(part, net) if pin.number
        ]
        if any(SUPPLY_PIN.fullmatch(pin.name) or pin.type.startswith("power") for pin in pins):
            return False
        kinds = {self.role[part] for part in wiring.parts[net]} - {"ferrite", "link"}
        holds = kinds <= {"connector", "mechanical", "capacitor", "tvs", "esd-array", "antenna"}
        both = any(
            set(wiring.nets[part]) == {net, known}
            for part in wiring.parts[net]
            if self.role[part] == "capacitor"
            for known in self.grounds
        )
        return holds and "connector" in kinds and len(pins) >= 3 and not both

    # -- facts ---------------------------------------------------------------------------------

    def rail_score(self, net: int) -> tuple[float, list[Reason]]:
        """How much speaks for a supply net, and what."""
        wiring, board = self.wiring, self.wiring.board
        name = board.nets[net].name
        last = last_segment(name)
        score = 0.0
        facts: list[Reason] = []
        signal_name = (
            is_signal_name(last)
            or name.startswith("unconnected-")
            or VOLT_RANGE.search(last) is not None
        )
        generated = is_generated(name)
        volts = None if VOLT_RANGE.search(last) else wiring.volts[net]
        label = self._label(net) if generated else None
        if label is not None:
            score += 2.0
            facts.append(reason("test-point-name", word=label))
        if volts is not None and volts != 0 and not generated:
            all_volts = re.fullmatch(r"[+-]?\d+(?:[.,]\d+)?V\d*[A-Z]?", last, re.IGNORECASE)
            score += 2.8 if all_volts else 2.0 if not signal_name else 0.5
            facts.append(reason("name-volts", volts=volts))
        supply = None if generated else SUPPLY_NAME.search(last)
        if supply:
            score += 1.5 if not signal_name else 0.0
            facts.append(reason("name-supply", word=supply.group(0).strip("_./- ")))
        if signal_name and not generated:
            score -= 1.5
        buffers = [farad for farad in self.shunt[net] if farad is None or farad >= SMALL_FARAD]
        whole = sum(farad or 0.0 for farad in buffers)
        if buffers:
            score += min(4.0, 0.8 * len(buffers))
            facts.append(
                reason(
                    "shunt-capacitors",
                    count=len(buffers),
                    farad=format_quantity(whole, "farad") if whole else "of unknown size",
                )
            )
        if whole >= 0.9e-6:
            score += 0.8
        supply_pins = outputs = 0
        others = 0
        for part in wiring.parts[net]:
            role = self.role[part]
            if role != "capacitor":
                others += 1
            pins = wiring.pins_on(part, net)
            if role == "crystal":
                score -= 3.0
            if role in _PASSIVE2 or role in ("test-point", "mechanical"):
                continue
            if len(wiring.nets[part]) >= 3:
                named = sum(1 for pin in pins if self._is_supply_pin(part, pin.name, pin.type))
                supply_pins += named
                outputs += sum(
                    1
                    for pin in pins
                    if pin.type == "power_out" or OUTPUT_PIN.fullmatch(pin.name)
                    if role not in _NO_LOAD
                )
                if len(pins) >= 3 and role not in _NO_LOAD:
                    score += 1.0
                    facts.append(reason("many-pins", ref=board.parts[part].id, count=len(pins)))
            if role == "connector" and self._is_usb_supply(part, pins):
                score += 2.0
            if role == "connector" and any(SUPPLY_PIN.fullmatch(pin.name) for pin in pins):
                score += 0.8
                facts.append(
                    reason("connector-supply", ref=board.parts[part].id, pin=pins[0].number)
                )
            if role == "battery":
                score += 2.0
                facts.append(reason("battery-on-it", ref=board.parts[part].id))
        if supply_pins or outputs:
            score += min(2.4, 0.8 * (supply_pins + 1.5 * bool(outputs)))
            facts.append(reason("supply-pins", count=supply_pins + outputs))
        if outputs and any(
            self.role[part] in _REGULATING and OUTPUT_PIN.fullmatch(pin.name)
            for part in wiring.parts[net]
            for pin in wiring.pins_on(part, net)
        ):
            score += 1.2
            facts.append(reason("regulator-output"))
        if supply and INPUT_NAME.search(last) and not signal_name and self._has_connector(net):
            score += 1.2
        feeding = self._series_part(net)
        if feeding is not None:
            score += 0.6
            facts.append(reason("series-power", ref=board.parts[feeding].id))
        resistors = [p for p in wiring.parts[net] if self.role[p] == "resistor"]
        driven = any(fact.code == "regulator-output" for fact in facts)
        pulled = [p for p in resistors if (self.roles[p].ohm or TIMING_OHM) > SERIES_OHM]
        if wiring.pads[net] <= 3 and pulled and not buffers and not driven:
            score -= 1.0
        if others <= 1 and not outputs and supply_pins == 0:
            score -= 1.0
        if (
            len(buffers) == 1
            and ((buffers[0] or 0) <= 1.1e-7 or self._is_timed(resistors))
            and resistors
            and volts is None
            and not supply_pins
            and feeding is None
        ):
            score -= 1.2
        if self._is_divided(net) and not supply_pins and not outputs:
            score -= 1.5
        return score, facts

    def _is_timed(self, resistors: list[int]) -> bool:
        """Fed by large resistors only: the node of a delay, not a supply."""
        ohms = [self.roles[part].ohm for part in resistors]
        return all(ohm is not None and ohm > TIMING_OHM for ohm in ohms)

    def _has_connector(self, net: int) -> bool:
        return any(self.role[part] in ("connector", "battery") for part in self.wiring.parts[net])

    def _label(self, net: int) -> str | None:
        """What a test point's text calls a net without a name of its own, if that is a supply."""
        for part in self.wiring.parts[net]:
            if self.role[part] == "test-point":
                own = self.wiring.board.parts[part]
                for text in (own.value, own.ref):
                    named = SUPPLY_NAME.search(text) and not SIGNAL_NAME.search(text)
                    if named or volts_in_name(text):
                        return text
        return None

    def _is_usb_supply(self, part: int, pins: list[Pin]) -> bool:
        """The supply pin of a USB connector: by name, or pin 1 of types A, B, mini and micro."""
        own = self.wiring.board.parts[part]
        if "USB" not in f"{own.ref} {own.value} {own.package}".upper():
            return False
        return any("VBUS" in pin.name.upper() or pin.number in USB_SUPPLY_PINS for pin in pins)

    def _is_supply_pin(self, part: int, name: str, kind: str) -> bool:
        if self.role[part] in _NO_LOAD:
            return False
        return kind == "power_in" or (
            kind != "power_out" and SUPPLY_PIN.fullmatch(name) is not None
        )

    def _series_part(self, net: int) -> int | None:
        """A coil, bead, fuse, link or sense resistor on the net whose far side is no ground."""
        for part in self.wiring.parts[net]:
            nets = self.wiring.nets[part]
            if self.role[part] in _SERIES and len(nets) == 2:
                far = self.wiring.other_net(part, net)
                if far not in self.grounds and self._is_power_coil(part):
                    return part
        return None

    def _is_power_coil(self, part: int) -> bool:
        henry = self.roles[part].henry
        return self.role[part] != "inductor" or henry is None or henry >= COIL_HENRY

    def _is_divided(self, net: int) -> bool:
        """Whether the net is the middle of a resistor divider to ground."""
        up = down = False
        for part in self.wiring.parts[net]:
            if self.role[part] == "resistor" and len(self.wiring.nets[part]) == 2:
                far = self.wiring.other_net(part, net)
                down |= far in self.grounds
                up |= far not in self.grounds
        return up and down

    def switch_node(self, net: int) -> tuple[int, int] | None:
        """(coil, driver) when a power coil and a chip or transistor meet here, unbuffered."""
        buffers = [farad for farad in self.shunt[net] if farad is None or farad >= SMALL_FARAD]
        if buffers or sum(farad or 0.0 for farad in self.shunt[net]) >= 5e-9:
            return None
        coils = [
            part
            for part in self.wiring.parts[net]
            if self.role[part] == "inductor"
            and len(self.wiring.nets[part]) == 2
            and self._is_power_coil(part)
        ]
        drivers = [
            part
            for part in self.wiring.parts[net]
            if part not in coils
            and len(self.wiring.nets[part]) >= 3
            and (self.role[part] in _COIL_DRIVERS or self._converts_itself(part, net))
        ]
        if not coils or not drivers:
            return None
        far = self.wiring.other_net(coils[0], net)
        if self.role[drivers[0]] == "transistor" and len(drivers) == 1:
            # A single transistor before a coil: a choke in a bias line, unless the coil's far
            # side holds charge as a converter's does.
            whole = sum(farad or 0.0 for farad in self.shunt[far])
            if far not in self.grounds and whole < CONVERTER_FARAD:
                return None
        if far in self.grounds and self.role[drivers[0]] not in ("regulator", "power-manager"):
            return None
        return coils[0], self._best_driver(drivers)

    def _converts_itself(self, part: int, net: int) -> bool:
        """Processors, radios and others with a converter inside name its pin."""
        return self.role[part] not in _NO_LOAD and any(
            pin.name and OWN_CONVERTER_PIN.fullmatch(pin.name)
            for pin in self.wiring.pins_on(part, net)
        )

    def _best_driver(self, drivers: list[int]) -> int:
        order = ("power-manager", "regulator", "charger", "display-driver", "power-controller")
        return min(
            drivers,
            key=lambda part: order.index(self.role[part]) if self.role[part] in order else 9,
        )

    # -- the answer ----------------------------------------------------------------------------

    def judge(self, net: int) -> NetRole:
        """Kind of one net, without volts from neighbours (see ``volts``)."""
        wiring, board = self.wiring, self.wiring.board
        name = board.nets[net].name
        if net in self.grounds:
            found = self.grounds[net]
            return NetRole(name, "ground", found.confidence, 0.0, found.reasons)
        switch = self.switch_node(net)
        score, facts = self.rail_score(net)
        if switch is not None and score < RAIL_SCORE + 1.5:
            coil, chip = switch
            why = reason("switch-node", coil=board.parts[coil].id, chip=board.parts[chip].id)
            return NetRole(name, "switch-node", 0.85, None, (why,))
        last = last_segment(name)
        generated = is_generated(name)
        if is_chassis_name(name) and not generated and wiring.volts[net] is None:
            return NetRole(name, "chassis", 0.8, None, (reason("chassis-name", net=name),))
        if score >= RAIL_SCORE:
            reference = self._reference(net, last)
            if reference is not None:
                return NetRole(name, "reference", 0.7, wiring.volts[net], (reference, *facts))
            volts = wiring.volts[net]
            if volts is not None and abs(volts) >= HIGH_VOLTS:
                return NetRole(
                    name, "high-voltage", 0.8, volts, (reason("high-volts", volts=volts), *facts)
                )
            return NetRole(
                name, "rail", _sure(score), volts if not generated else None, tuple(facts)
            )
        if wiring.pads[net] <= 1:
            return NetRole(name, "no-connect", 0.9, None, (reason("one-pad"),))
        if self._is_divided(net):
            middle = self._divider(net, last)
            if middle is not None:
                return middle
        crystals = [p for p in wiring.parts[net] if self.role[p] in ("crystal",)]
        if crystals:
            why = reason("crystal-on-it", ref=board.parts[crystals[0]].id)
            return NetRole(name, "clock", 0.9, None, (why,))
        if not generated and PLAIN_REFERENCE.fullmatch(last) and wiring.pads[net] >= 2:
            return NetRole(name, "reference", 0.65, None, (reason("name-kind", word=last),))
        if not generated:
            for kind, pattern in KIND_NAMES:
                match = pattern.search(last)
                if match:
                    said = reason("name-kind", word=match.group(0).strip("_./- "))
                    return NetRole(name, kind, 0.7, None, (said,))
        else:
            pin = GENERATED_PIN.search(name)
            for kind, pattern in KIND_NAMES[:3] if pin else ():
                match = pattern.search(pin.group(1).strip("~{}")) if pin else None
                if match:
                    return NetRole(
                        name, kind, 0.6, None, (reason("name-kind", word=match.group(0)),)
                    )
        sure = 1.0 - _sure(score) if score > 0 else 0.55
        return NetRole(name, "signal", round(min(sure, 0.55), 3), None, (reason("plain-signal"),))

    def _reference(self, net: int, last: str) -> Reason | None:
        found = REFERENCE_NAME.search(last)
        named = [
            pin
            for part in self.wiring.parts[net]
            for pin in self.wiring.pins_on(part, net)
            if pin.name and REFERENCE_NAME.search(pin.name)
        ]
        if found and not is_generated(last):
            return reason("name-kind", word=found.group(0).strip("_./- "))
        if self._is_divided(net) and named:
            return reason("name-kind", word=named[0].name)
        return None

    def _divider(self, net: int, last: str) -> NetRole | None:
        wiring, board = self.wiring, self.wiring.board
        name = board.nets[net].name
        for part in wiring.parts[net]:
            if self.role[part] not in _CONTROLLING:
                continue
            named = any(pin.name for pin in wiring.pins[part])
            if not named or any(
                FEEDBACK_PIN.fullmatch(pin.name) for pin in wiring.pins_on(part, net)
            ):
                why = reason("feedback", ref=board.parts[part].id)
                return NetRole(name, "signal", 0.85, None, (why,))
        reference = REFERENCE_NAME.search(last)
        if reference and not is_generated(last):
            why = reason("name-kind", word=reference.group(0).strip("_./- "))
            return NetRole(name, "reference", 0.8, wiring.volts[net], (why,))
        buffers = [farad for farad in self.shunt[net] if farad is None or farad >= SMALL_FARAD]
        loads = [
            p
            for p in wiring.parts[net]
            if self.role[p] in ("memory", "processor", "programmable-logic")
        ]
        if buffers and loads:
            why = reason("divider", net=self._upper(net))
            return NetRole(name, "reference", 0.65, None, (why,))
        return None

    def _upper(self, net: int) -> str:
        for part in self.wiring.parts[net]:
            if self.role[part] == "resistor" and len(self.wiring.nets[part]) == 2:
                far = self.wiring.other_net(part, net)
                if far not in self.grounds:
                    return self.wiring.board.nets[far].name
        return ""


def _sure(score: float) -> float:
    """Confidence of a rail from its score (fitted on the labelled boards, see docs)."""
    return round(min(0.99, 1.0 / (1.0 + exp(-(1.3 * (score - RAIL_SCORE) + 0.4)))), 3)
