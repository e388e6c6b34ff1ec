# SPDX-License-Identifier: GPL-3.0-or-later
"""What holds the enable of a converter, switch or oscillator: a net, a resistor, a chip, a person.

A converter runs only while its enable pin is held. Where nobody can tell who holds it, nothing is
needed and the doubt is said; nothing is taken for granted that the netlist doesn't show.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

from netgraph.model import Pad
from netgraph.plan.enable_types import Drive, Enable, How, Told
from netgraph.plan.junctions import junctions
from netgraph.plan.wiring import SERIES_ROLES, Wiring
from netgraph.roles.answer import Role
from netgraph.roles.pin_tables import known_pins
from netgraph.roles.pin_words import PinWord, pin_word

SWITCHED: Final[frozenset[Role]] = frozenset({"regulator", "load-switch", "power-controller"})
"""Chips that feed a rail and run only while enabled. Power managers have enables of many
meanings, and a charger passes its input on without being told to: both need a person's note.
"""
_PASSES: Final[frozenset[Role]] = SERIES_ROLES | frozenset[Role](
    {"resistor", "thermistor", "switch"}
)
_NEVER_DRIVES: Final[frozenset[Role]] = frozenset(
    {"memory", "storage", "eeprom", "boot-flash", "sensor", "microphone", "oscillator"}
)
_FIRST: Final[frozenset[Role]] = frozenset(
    {"processor", "power-manager", "power-controller", "programmable-logic", "logic"}
)
"""Where several chips are on the line and no pin type tells, one of these drives it."""
_FAR = 3
_CROWD = 12
"""A net with more parts is a bus or a supply: the way of an enable doesn't lead over it."""
_OSCILLATOR_ENABLE: Final = re.compile(
    r"~?\{?(OE|EN|ENABLE|E/?D|ST|STBY|TRI[-_]?STATE|INH)\}?#?", re.I
)
_ENABLE_NET: Final = re.compile(r"(^|[_.\d-])(EN|ENABLE|PWR_?EN|ON)\d?([_.\d-]|$)", re.I)


def enables_of(wiring: Wiring) -> dict[str, tuple[Enable, ...]]:
    """Enables of all converters, switches and oscillators of a board, and those that are noted."""
    if not wiring.enable_memo:
        found: dict[str, tuple[Enable, ...]] = {}
        for part in wiring.board.parts:
            if part.id in wiring.fitted:
                own = tuple(_of_part(wiring, part.id))
                if own:
                    found[part.id] = own
        wiring.enable_memo.append(found)
    return wiring.enable_memo[0]


def enables_for(wiring: Wiring, part_id: str, net: str) -> tuple[Enable, ...]:
    """Enables that a rail made by a part hangs on: of a double converter the one of that output.

    ``EN2`` belongs to ``OUT2`` where the file names both; an enable without number counts for all.
    """
    every = enables_of(wiring).get(part_id, ())
    if len(every) < 2:
        return every
    outputs = {_number(name) for name in wiring.pin_names(part_id, net)} - {""}
    if not outputs:
        return every
    return tuple(one for one in every if _number(one.word) in outputs | {""})


def _number(name: str) -> str:
    found = re.search(r"(\d+)$", name)
    return "" if found is None else found[1]


# -- which pins ------------------------------------------------------------------------------------


def pin_names_of(wiring: Wiring, part_id: str) -> tuple[dict[str, str], Told]:
    """Names of a part's pins by number, from the file or else from the table of families.

    The table is used only where its ground pin lies on a ground and its input does not.
    """
    pads = wiring.pads_of[part_id]
    named = {pad.pin: pad.pin_name for pad in pads if pad.pin_name}
    if named:
        return named, "pin-name"
    part = wiring.board.part(part_id)
    table = known_pins(part.value, part.package)
    nets = {pad.pin: pad.net for pad in pads}
    for number, name in table.items():
        grounded = nets.get(number) in wiring.grounds
        if (name == "GND" and not grounded) or (name == "IN" and grounded):
            return {}, "pin-table"
    return table, "pin-table"


def duties_of(wiring: Wiring, part_id: str) -> dict[str, tuple[Pad, PinWord]]:
    """Pins of a supply chip that its word list knows: number -> (pad, word)."""
    names, _ = pin_names_of(wiring, part_id)
    found: dict[str, tuple[Pad, PinWord]] = {}
    for pad in wiring.pads_of[part_id]:
        word = pin_word(names.get(pad.pin, ""))
        if word is not None and pad.net is not None:
            found.setdefault(pad.pin, (pad, word))
    return found


def _of_part(wiring: Wiring, part_id: str) -> Iterable[Enable]:
    role = wiring.part_role(part_id)
    if role.enabled_by is not None:
        if role.enabled_by:
            chips = tuple(one for one in role.enabled_by if one in wiring.board.nets_of_part)
            nets = tuple(one for one in role.enabled_by if one not in chips)
            yield Enable(
                part_id, "", "", True, "noted", (Drive(nets=nets, chips=chips),), told="notes"
            )
        return
    if role.role == "oscillator":
        yield from _of_oscillator(wiring, part_id)
    elif role.role in SWITCHED and part_id in wiring.outputs:
        seen: set[str] = set()
        _, told = pin_names_of(wiring, part_id)
        for pin, (pad, word) in duties_of(wiring, part_id).items():
            if word.duty == "enable" and pad.net and pad.net not in seen:
                seen.add(pad.net)
                yield _Walk(wiring, part_id, pin, pad.net, word.high).answer(told)
        if not seen and not any(pad.pin_name for pad in wiring.pads_of[part_id]):
            # No names at all: a net called EN that it doesn't feed is its enable.
            for pad in wiring.pads_of[part_id]:
                net = pad.net
                if net and net not in seen and _is_enable_net(wiring, part_id, net):
                    seen.add(net)
                    yield _Walk(wiring, part_id, pad.pin, net, True).answer("net-name")


def _is_enable_net(wiring: Wiring, part_id: str, net: str) -> bool:
    return (
        net not in wiring.grounds
        and net not in wiring.outputs.get(part_id, ())
        and not wiring.is_power(net)
        and _ENABLE_NET.search(net.rpartition("/")[2]) is not None
    )


def _of_oscillator(wiring: Wiring, part_id: str) -> Iterable[Enable]:
    """By pin name, or pin 1 of a four-pad can (common practice); open pins are held inside."""
    pads = wiring.pads_of[part_id]
    named = [pad for pad in pads if _OSCILLATOR_ENABLE.fullmatch(pad.pin_name.strip())]
    told: Told = "pin-name"
    if not named and not any(pad.pin_name for pad in pads):
        numbers = {pad.pin for pad in pads if pad.pin}
        if numbers == {"1", "2", "3", "4"}:
            named = [pad for pad in pads if pad.pin == "1"]
            told = "place"
    for pad in named:
        if pad.net and wiring.parts(pad.net) != (part_id,):
            low = "~" in pad.pin_name or "#" in pad.pin_name
            yield _Walk(wiring, part_id, pad.pin, pad.net, not low).answer(told)


# -- who holds it ----------------------------------------------------------------------------------


@dataclass
class _Walk:
    """Goes from an enable over resistors, links and diodes to whatever may hold it."""

    wiring: Wiring
    part_id: str
    pin: str
    net: str
    high: bool | None
    up: list[Drive] = field(default_factory=list)
    down: list[Drive] = field(default_factory=list)
    good: list[str] = field(default_factory=list)
    strong: list[Drive] = field(default_factory=list)
    weak: list[Drive] = field(default_factory=list)
    outside: list[Drive] = field(default_factory=list)
    switched: list[Drive] = field(default_factory=list)
    timing: list[str] = field(default_factory=list)
    off: list[str] = field(default_factory=list)

    def answer(self, told: Told) -> Enable:
        wiring = self.wiring
        if self.net in wiring.grounds:
            if self.high is True:
                return self._made("unknown", (), told, "held-off")
            return self._made("tied", (Drive(),), told)
        if self._is_fed(self.net):
            if self.net in wiring.outputs.get(self.part_id, ()):
                return self._made("unknown", (), told, "nobody")
            if self.high is False:
                return self._made("unknown", (), told, "held-off")
            return self._made("tied", (Drive(nets=(self.net,)),), told)
        self._visit(self.net, (), {self.net}, 0)
        high = self.high
        if high is None:
            # A plain SHDN: whoever drew a pull meant the chip to run, or to wait for a driver.
            high = bool(self.up) or not self.down or bool(self.strong or self.weak)
        holding, against = (self.up, self.down) if high else (self.down, self.up)
        self.off += [name for one in against for name in one.parts]
        if holding:
            self.off += [name for one in self.weak for name in one.chips]
            self.off += [name for one in self.outside for name in one.parts]
            also = tuple(dict.fromkeys(self.good)) if high else ()
            return self._made("pulled", (*holding, *self.strong), told, also=also)
        chips = self.strong + [Drive(chips=(one,)) for one in dict.fromkeys(self.good)]
        if chips:
            self.off += [name for one in self.weak for name in one.chips]
            self.off += [name for one in self.outside for name in one.parts]
            return self._made("chip", tuple(chips), told)
        return self._of_weak(told, bool(against))

    def _of_weak(self, told: Told, against: bool) -> Enable:
        """Nothing but chips of untyped pins, transistors and plugs on the line."""
        wiring = self.wiring
        first = [one for one in self.weak if wiring.role(one.chips[0]) in _FIRST] or self.weak
        if first:
            self.off += [one.chips[0] for one in self.weak if one not in first]
            self.off += [name for one in self.outside for name in one.parts]
            names = {one.chips for one in first}
            return self._made("chip", tuple(first), told, "several" if len(names) > 1 else "")
        if self.switched:
            return self._made("pulled", tuple(self.switched), told, "transistor")
        if self.outside:
            return self._made("outside", tuple(self.outside), told, "outside")
        return self._made("unknown", (), told, "held-off" if against else "nobody")

    def _made(
        self,
        how: How,
        drives: tuple[Drive, ...],
        told: Told,
        doubt: str = "",
        also: tuple[str, ...] = (),
    ) -> Enable:
        return Enable(
            self.part_id,
            self.pin,
            self.net,
            self.high,
            how,
            tuple(dict.fromkeys(drives)),
            also,
            tuple(dict.fromkeys(self.timing)),
            tuple(one for one in dict.fromkeys(self.off) if one not in also),
            told,
            doubt,
            pin_names_of(self.wiring, self.part_id)[0].get(self.pin, ""),
        )

    def _is_fed(self, net: str) -> bool:
        """Whether the net is a supply somebody is known to feed."""
        rail = self.wiring.tree.by_net.get(net)
        return rail is not None and (rail.kind == "entry" or bool(rail.feeders))

    def _visit(self, net: str, over: tuple[str, ...], seen: set[str], depth: int) -> None:
        wiring = self.wiring
        for one in wiring.parts(net):
            if one in over or one == self.part_id:
                continue
            role = wiring.role(one)
            if role in _PASSES and len(wiring.nets(one)) == 2:
                a, b = wiring.nets(one)
                self._pass(b if a == net else a, (*over, one), seen, depth)
            elif role == "capacitor":
                if not over or wiring.grounds & set(wiring.nets(one)):
                    self.timing.append(one)
            elif role == "diode":
                self._diode(one, net, over, seen, depth)
            elif role == "transistor":
                self._transistor(one, net, over)
            elif role in ("connector", "slot", "switch"):
                self.outside.append(Drive((*over, one)))
            elif wiring.is_chip(one):
                self._chip(one, net, over)

    def _pass(self, other: str, over: tuple[str, ...], seen: set[str], depth: int) -> None:
        wiring = self.wiring
        if other in wiring.grounds:
            self.down.append(Drive(over))
        elif self._is_fed(other):
            self.up.append(Drive(over, (other,)))
        elif wiring.is_power(other):
            self.up.append(Drive(over))
        elif depth < _FAR and other not in seen and len(wiring.parts(other)) <= _CROWD:
            self._visit(other, over, seen | {other}, depth + 1)

    def _diode(
        self, part: str, net: str, over: tuple[str, ...], seen: set[str], depth: int
    ) -> None:
        """A diode hands on the level that its direction lets through, no other."""
        passed = False
        for anode, cathode in junctions(self.wiring.board, part):
            if cathode == net and self.high is not False:
                passed = True
                self._pass(anode, (*over, part), seen, depth)
            elif anode == net and self.high is False:
                passed = True
                self._pass(cathode, (*over, part), seen, depth)
        if not passed:
            self.off.append(part)

    def _transistor(self, part: str, net: str, over: tuple[str, ...]) -> None:
        wiring = self.wiring
        others = [one for one in wiring.nets(part) if one != net]
        supplies = [one for one in others if self._is_fed(one)]
        grounded = any(one in wiring.grounds for one in others)
        if self.high is False and grounded:
            self.switched.append(Drive((*over, part)))
        elif self.high is not False and supplies and not grounded:
            self.switched.append(Drive((*over, part), (supplies[0],)))
        else:
            self.off.append(part)

    def _chip(self, chip: str, net: str, over: tuple[str, ...]) -> None:
        wiring = self.wiring
        pads = [pad for pad in wiring.pads_of[chip] if pad.net == net]
        types = {pad.pin_type for pad in pads if pad.pin_type}
        role = wiring.role(chip)
        words = set()
        if role in SWITCHED | {"power-manager", "charger"}:
            names, _ = pin_names_of(wiring, chip)
            found = (pin_word(names.get(pad.pin, "")) for pad in pads)
            words = {one.duty for one in found if one is not None}
        drive = Drive(over, chips=(chip,))
        if "power-good" in words:
            self.good.append(chip)
            if over:
                # Over a resistor the line may still follow it: the way counts, not the chip alone.
                self.strong.append(drive)
        elif words & {"enable", "feedback"} or types <= {"input", "power_in"} and types:
            return
        elif any("output" in one for one in types) or ("reset" in words and role in SWITCHED):
            self.strong.append(drive)
        elif any(one.startswith("open") for one in types):
            # It can only pull low.
            (self.strong if self.high is False else self.weak).append(drive)
        elif role not in _NEVER_DRIVES and not types & {"no_connect"}:
            self.weak.append(drive)
