# SPDX-License-Identifier: GPL-3.0-or-later
"""Every way in which a part could feed one net from another, before one is chosen.

A candidate says "part P may drive net `to` from net `source`", with a score; the choice between
them is made over the whole board (``find``), since one part alone often can't tell.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from netgraph.rails.power_pins import has_pin_names, uses_on
from netgraph.rails.tree import RailKind, SwitchNode
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import Role, Roles
from netgraph.roles.polarity import junctions_of, switch_of
from netgraph.roles.wiring import Wiring

SMALL_OHM = 150.0
_CONVERTERS: frozenset[Role] = frozenset(
    ("regulator", "load-switch", "charger", "power-controller", "display-driver", "fuel-gauge")
)
_MANY: frozenset[Role] = frozenset(("power-manager",))
_PASSING: dict[Role, float] = {
    "ferrite": 3.0,
    "fuse": 3.0,
    "sense-resistor": 2.6,
    "link": 2.4,
    "inductor": 2.6,
}
_BOOST_WORD = re.compile(r"boost|step.?up", re.IGNORECASE)
_CHIP_OWN: frozenset[Role] = frozenset(
    ("processor", "programmable-logic", "memory", "storage", "radio", "network", "interface",
     "audio", "sensor", "unknown", "other", "display-driver", "amplifier", "logic",
     "secure-element", "motor-driver", "level-shifter", "analog-switch")
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Candidate:
    """One possible feeding: nets as indices, `source` -1 when not known.

    `directed` False: the same part stands as a second candidate the other way round.
    """

    part: int
    source: int
    to: int
    kind: RailKind
    score: float
    directed: bool
    reasons: tuple[Reason, ...]
    through: tuple[int, ...] = ()


class CandidateFinder:
    """Finds candidates on one board; `supplies` are the indices of all rails."""

    def __init__(self, wiring: Wiring, roles: Roles) -> None:
        self.wiring = wiring
        self.board = wiring.board
        self.roles = roles
        self.role: list[Role] = [roles.parts[part.id].role for part in self.board.parts]
        kinds = [roles.nets[net.name].kind for net in self.board.nets]
        self.kind = kinds
        self.supplies = {
            i for i, kind in enumerate(kinds) if kind in ("rail", "high-voltage", "reference")
        }
        self.grounds = {i for i, kind in enumerate(kinds) if kind == "ground"}
        self.volts = [roles.nets[net.name].nominal_volts for net in self.board.nets]
        self.switch_nodes: list[SwitchNode] = []
        self.found: list[Candidate] = []
        self.coils_used: set[int] = set()

    def find(self) -> list[Candidate]:
        """All candidates, converters with coils first."""
        for net, kind in enumerate(self.kind):
            if kind == "switch-node":
                self._switch_node(net)
        for part in self.board.parts:
            i = part.index
            if not self.wiring.fitted[i]:
                continue
            role = self.role[i]
            nets = [net for net in self.wiring.nets[i] if net in self.supplies]
            if not nets:
                continue
            if role in _CONVERTERS:
                self._converter(i, nets)
            elif role in _MANY:
                self._manager(i, nets)
            elif role == "diode":
                self._diode(i)
            elif role == "transistor":
                self._transistor(i, nets)
            elif role == "resistor":
                self._resistor(i, nets)
            elif role in _PASSING and i not in self.coils_used and len(nets) == 2:
                self._both_ways(i, nets, "filtered", _PASSING[role])
            elif role in _CHIP_OWN:
                self._own_outputs(i, nets)
            elif role == "bridge-rectifier":
                self._bridge(i, nets)
            elif role == "transformer":
                self._transformer(i, nets)
            elif role == "switch" and len(nets) == 2:
                self._both_ways(i, nets, "switched", 2.0)
            elif role == "connector" and len(self.wiring.nets[i]) == 2 and len(nets) == 2:
                self._both_ways(i, nets, "filtered", 0.8)
        return self.found

    def _add(
        self,
        part: int,
        source: int,
        to: int,
        kind: RailKind,
        score: float,
        why: Reason,
        *,
        directed: bool = True,
        through: tuple[int, ...] = (),
    ) -> None:
        if source != to:
            self.found.append(Candidate(part, source, to, kind, score, directed, (why,), through))

    def _name(self, net: int) -> str:
        return self.board.nets[net].name if net >= 0 else "an unknown net"

    # -- converters with a coil ----------------------------------------------------------------

    def _switch_node(self, net: int) -> None:
        wiring = self.wiring
        coils = [p for p in wiring.parts[net] if self.role[p] == "inductor"]
        for coil in coils:
            far = wiring.other_net(coil, net) if len(wiring.nets[coil]) == 2 else -1
            driver = self._driver(net, coil)
            if driver is None or far < 0:
                continue
            boosted = self._boosted(net, driver, far)
            if boosted is not None:
                out, through = boosted
                self.coils_used.add(coil)
                why = reason("boost", coil=self._id(coil), out=self._name(out), net=self._name(far))
                self._add(driver, far, out, "boost", 4.0, why, through=(coil, *through))
                self._node(net, driver, coil, far, out, "boost")
                continue
            if far not in self.supplies:
                if self.kind[far] == "switch-node":  # buck-boost: coil between two nodes
                    self.coils_used.add(coil)
                continue
            self.coils_used.add(coil)
            source = self._input_of(driver, far)
            why = reason("buck", coil=self._id(coil), net=self._name(source))
            self._add(
                driver, source, far, "buck", 4.0 if source >= 0 else 3.2, why, through=(coil,)
            )
            self._node(net, driver, coil, source, far, "buck")

    def _id(self, part: int) -> str:
        return self.board.parts[part].id

    def _node(self, net: int, driver: int, coil: int, source: int, out: int, kind: str) -> None:
        self.switch_nodes.append(
            SwitchNode(
                self._name(net),
                self._id(driver),
                self._id(coil),
                self._name(source) if source >= 0 else None,
                self._name(out) if out >= 0 else None,
                "boost" if kind == "boost" else "buck",
            )
        )

    def _driver(self, net: int, coil: int) -> int | None:
        """The chip that drives a switch node; a transistor only when no chip is there."""
        chips = [
            part
            for part in self.wiring.parts[net]
            if part != coil and len(self.wiring.nets[part]) >= 3
        ]
        order = ("power-manager", "regulator", "charger", "display-driver", "power-controller")

        def rank(part: int) -> int:
            role = self.role[part]
            return order.index(role) if role in order else 8 if role == "transistor" else 6

        return min(chips, key=rank) if chips else None

    def _boosted(self, net: int, driver: int, far: int) -> tuple[int, tuple[int, ...]] | None:
        """The rail a boost converter makes, and the diode if any; None for a buck."""
        wiring = self.wiring
        for part in wiring.parts[net]:
            if self.role[part] not in ("diode", "tvs"):
                continue
            for junction in junctions_of(wiring, part):
                if junction.anode == net and junction.cathode in self.supplies:
                    return junction.cathode, (part,)
        nets = [n for n in wiring.nets[driver] if n in self.supplies and n != far]
        on_far = uses_on(wiring, driver, far)
        if has_pin_names(wiring, driver):
            outs = [n for n in nets if "out" in uses_on(wiring, driver, n)]
            ins = [n for n in nets if "in" in uses_on(wiring, driver, n)]
            if "in" in on_far and outs and self.role[driver] not in _MANY:
                higher = [n for n in outs if self._higher(n, far)]
                if (higher or not ins) and far in self.supplies:
                    return (higher or outs)[0], ()
        text = f"{self.board.parts[driver].value} {self.board.parts[driver].fields}"
        if _BOOST_WORD.search(text) and nets and far in self.supplies:
            return nets[0], ()
        return None

    def _higher(self, net: int, than: int) -> bool:
        a, b = self.volts[net], self.volts[than]
        return a is not None and b is not None and a > b

    def _input_of(self, chip: int, out: int) -> int:
        """The net a converter takes its power from; -1 when it can't be told."""
        wiring = self.wiring
        nets = [n for n in wiring.nets[chip] if n in self.supplies and n != out]
        if not nets:
            return -1
        if has_pin_names(wiring, chip):
            ins = [n for n in nets if "in" in uses_on(wiring, chip, n)]
            if len(ins) == 1:
                return ins[0]
            nets = ins or nets
        return max(nets, key=lambda n: self._input_likeness(chip, n, out))

    def _input_likeness(self, chip: int, net: int, out: int) -> float:
        pins = self.wiring.pins_on(chip, net)
        score = 0.5 * len(pins) + 0.1 * len(self.wiring.parts[net])
        if self._higher(net, out):
            score += 2.0
        if self._higher(out, net):
            score -= 2.0
        if any(use == "in" for use in uses_on(self.wiring, chip, net)):
            score += 2.0
        if any(re.search(r"P?VIN|PVCC|VCC_?IN", pin.name, re.IGNORECASE) for pin in pins):
            score += 1.0
        return score

    # -- chips between supplies ----------------------------------------------------------------

    def _converter(self, chip: int, nets: list[int]) -> None:
        wiring = self.wiring
        drives = {c.to for c in self.found if c.part == chip and c.through}
        feeds = {c.source for c in self.found if c.part == chip and c.through}
        if drives and self.role[chip] != "charger":
            return
        if has_pin_names(wiring, chip):
            uses = {net: uses_on(wiring, chip, net) for net in nets}
            outs = [n for n in nets if "out" in uses[n] and n not in feeds]
            ins = [n for n in nets if "in" in uses[n] and "out" not in uses[n]]
            if self.role[chip] == "charger":
                self._charger(chip, nets, outs, ins)
                return
            for out in outs:
                if out in drives:
                    continue
                sources = [n for n in ins if n != out] or [-1]
                why = reason("pin-in-out", net=self._name(sources[0]))
                kind = self._chip_kind(chip, sources[0], out)
                self._add(chip, sources[0], out, kind, 3.6 if sources[0] >= 0 else 2.6, why)
            if outs:
                return
            nets = [n for n in nets if uses[n] - {"sense", "enable", "other"} or not ins]
        if self.role[chip] in ("power-controller", "fuel-gauge"):
            return
        pairs = [(a, b) for a in nets for b in nets if a != b]
        if len(nets) > 4:
            return
        for a, b in pairs:
            score = 1.2
            if self._higher(a, b):
                score += 1.2
            elif self._higher(b, a):
                score -= 1.0
            pins_a, pins_b = len(wiring.pins_on(chip, a)), len(wiring.pins_on(chip, b))
            score += 0.4 * (pins_a > pins_b) - 0.2 * (pins_a < pins_b)
            if score > 0:
                why = reason("between-supplies", net=self._name(a))
                self._add(chip, a, b, self._chip_kind(chip, a, b), score, why, directed=False)
        if len(nets) == 1:
            why = reason("only-supply")
            self._add(chip, -1, nets[0], "linear", 0.3, why)

    def _chip_kind(self, chip: int, source: int, out: int) -> RailKind:
        if self.role[chip] == "load-switch":
            return "switched"
        if self.role[chip] == "charger":
            return "charger"
        if self.role[chip] == "power-controller":
            return "switched"
        if source >= 0 and self._higher(out, source):
            return "boost"
        return "linear"

    def _charger(self, chip: int, nets: list[int], outs: list[int], ins: list[int]) -> None:
        """A charger makes the system supply and the cell's charge from its input."""
        cells = [n for n in nets if re.search(r"BAT", self._pin_text(chip, n), re.IGNORECASE)]
        sources = [n for n in ins if n not in cells and n not in outs]
        sources += [n for n in nets if n not in sources and n not in cells and n not in outs]
        for out in [n for n in outs if n not in cells]:
            for source in (sources[:1] or [-1]) + cells[:1]:
                why = reason("power-path", net=self._name(source))
                self._add(chip, source, out, "charger", 3.4 if source >= 0 else 2.2, why)
        for cell in cells:
            source = sources[0] if sources else -1
            why = reason("charges", net=self._name(source))
            self._add(chip, source, cell, "charger", 1.6, why)

    def _pin_text(self, chip: int, net: int) -> str:
        return " ".join(pin.name for pin in self.wiring.pins_on(chip, net))

    def _manager(self, chip: int, nets: list[int]) -> None:
        """Direct outputs of a power manager; its coils were followed before."""
        wiring = self.wiring
        named = has_pin_names(wiring, chip)
        for net in nets:
            uses = uses_on(wiring, chip, net)
            if named and "out" in uses:
                why = reason("manager-output", pin=wiring.pins_on(chip, net)[0].name)
                self._add(chip, self._manager_input(chip, net), net, "linear", 3.4, why)
            elif not named or uses <= {"other"}:
                pins = wiring.pins_on(chip, net)
                why = reason("manager-pin", pin=pins[0].number)
                score = 1.5 if len(pins) == 1 else 1.0 if len(pins) == 2 else 0.4
                self._add(chip, -1, net, "linear", score, why)

    def _manager_input(self, chip: int, out: int) -> int:
        """The input net of one output, by the numbers in the pin names (LDO1, VIN_LDO1)."""
        wiring = self.wiring
        mine = {
            found
            for pin in wiring.pins_on(chip, out)
            for found in re.findall(r"(?:LDO|BUCK|DCDC|SW)\d+", pin.name.upper())
        }
        ins: dict[int, int] = {}
        for pin in wiring.pins[chip]:
            if (
                pin.net in self.supplies
                and pin.net != out
                and re.search(r"IN|VCC|VDD|VSYS|VBAT|PVDD", pin.name, re.IGNORECASE)
            ):
                near = any(word in pin.name.upper() for word in mine)
                ins[pin.net] = ins.get(pin.net, 0) + (10 if near else 1)
        return max(ins, key=lambda net: (ins[net], -net)) if ins else -1

    def _own_outputs(self, chip: int, nets: list[int]) -> None:
        """Pins of other chips that are named as outputs, or bypass-only nets."""
        wiring = self.wiring
        for net in nets:
            why_codes = {why.code for why in self.roles.nets[self._name(net)].reasons}
            uses = uses_on(wiring, chip, net)
            source = self._input_of(chip, net) if "out" in uses else -1
            alone = self._is_alone(chip, net)
            if "own-output" in why_codes or (alone and self.kind[net] != "reference"):
                self._add(chip, -1, net, "linear", 2.4, reason("bypass-only"))
            elif "own-reference" in why_codes or alone:
                self._add(chip, -1, net, "reference", 2.4, reason("bypass-only"))
            elif "out" in uses and any(
                pin.type == "power_out" for pin in wiring.pins_on(chip, net)
            ):
                self._add(
                    chip, source, net, "linear", 2.6, reason("pin-in-out", net=self._name(source))
                )

    def _is_alone(self, chip: int, net: int) -> bool:
        """Whether nothing but this chip, capacitors and test points lies on a net."""
        rest = {self.role[p] for p in self.wiring.parts[net] if p != chip}
        return rest <= {"capacitor", "test-point", "mechanical"} and "capacitor" in rest

    # -- parts that pass a supply on -----------------------------------------------------------

    def _both_ways(self, part: int, nets: list[int], kind: RailKind, score: float) -> None:
        a, b = nets
        for source, to in ((a, b), (b, a)):
            why = reason("passes-on", net=self._name(source))
            self._add(part, source, to, kind, score, why, directed=False)

    def _spans(self, a: int, b: int, but: int) -> bool:
        """Whether a load (coil, motor, connector) stands between two nets beside this part."""
        return any(
            part != but
            and b in self.wiring.nets[part]
            and len(self.wiring.nets[part]) <= 4
            and self.role[part] in ("connector", "inductor", "switch", "speaker", "haptic", "other")
            for part in self.wiring.parts[a]
        )

    def _diode(self, part: int) -> None:
        for junction in junctions_of(self.wiring, part):
            if self._spans(junction.anode, junction.cathode, part):
                continue  # it catches the kick of a coil or motor
            if junction.anode in self.supplies and junction.cathode in self.supplies:
                why = reason("diode", net=self._name(junction.anode))
                score = 3.2 if junction.named else 2.6
                self._add(part, junction.anode, junction.cathode, "filtered", score, why)

    def _transistor(self, part: int, nets: list[int]) -> None:
        switch = switch_of(self.wiring, part)
        ends = [net for net in nets if net != switch.gate]
        if len(ends) != 2:
            return
        known = {switch.drain, switch.source} == set(ends)
        for source, to in ((ends[0], ends[1]), (ends[1], ends[0])):
            score = 2.0
            if known:
                # P-channel high side: source at the supply, drain at the load.
                score = 2.6 if switch.source == source else 1.6
            why = reason("transistor", net=self._name(source))
            self._add(part, source, to, "switched", score, why, directed=False)

    def _resistor(self, part: int, nets: list[int]) -> None:
        ohm = self.roles.parts[self._id(part)].ohm
        if len(self.wiring.nets[part]) != 2 or ohm is None:
            return
        if len(nets) == 2 and ohm <= SMALL_OHM:
            self._both_ways(part, nets, "filtered", 1.8 if ohm <= 10 else 1.3)
        elif len(nets) == 2:
            for source, to in ((nets[0], nets[1]), (nets[1], nets[0])):
                if self.kind[to] == "reference" and self.kind[source] != "reference":
                    why = reason("divider-top", net=self._name(source))
                    self._add(part, source, to, "reference", 2.0, why)

    def _transformer(self, part: int, nets: list[int]) -> None:
        """An isolated converter: from a rail on one winding to rails on or behind the others."""
        behind: dict[int, int] = {}
        for winding in self.wiring.nets[part]:
            for diode in self.wiring.parts[winding]:
                if self.role[diode] == "diode":
                    for junction in junctions_of(self.wiring, diode):
                        if junction.anode == winding and junction.cathode in self.supplies:
                            behind.setdefault(junction.cathode, diode)
        for source in nets:
            for to in [*nets, *behind]:
                if to != source:
                    why = reason("transformer", net=self._name(source))
                    through = (behind[to],) if to in behind else ()
                    self._add(
                        part, source, to, "unknown", 1.6, why, directed=False, through=through
                    )

    def _bridge(self, part: int, nets: list[int]) -> None:
        """From the two inputs, which were found as such, to the rectified rail."""
        sides = {
            net: any(why.code == "rectified" for why in self.roles.nets[self._name(net)].reasons)
            for net in nets
        }
        for out in [net for net in nets if not sides[net]]:
            for source in [net for net in nets if sides[net]]:
                self._add(part, source, out, "unknown", 2.6, reason("bridge"))
