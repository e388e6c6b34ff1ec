# SPDX-License-Identifier: GPL-3.0-or-later
"""What small parts are needed for: the one place that says what a part does for a chip.

Enables and resets come from `enables`; here are feedback dividers, bootstraps, compensation,
current setting, bypass, clocks, start-up straps and bus pull-ups. A need is `vital` when the chip
doesn't run, or runs away, without the part: then it stands in the power logic. The others serve
the chip and should stay, but nothing is proved from them.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal

from netgraph.plan.enable_pins import named_nets, pads_at
from netgraph.plan.enables import Drive, find_enables, trace_line
from netgraph.plan.holds import find_holds
from netgraph.plan.wiring import IRREPLACEABLE_ROLES, POWER_CHIPS, Wiring
from netgraph.rails.tree import RailTree
from netgraph.reasons import Reason, reason
from netgraph.roles.pin_words import PinDuty, pin_word

NeedKind = Literal[
    "enable",
    "reset",
    "timing",
    "power-good",
    "feedback",
    "hold",
    "catch",
    "bootstrap",
    "compensation",
    "soft-start",
    "current-set",
    "bypass",
    "clock",
    "clock-load",
    "strap",
    "bus-pull",
]

_STARTS: Final = frozenset({"processor", "programmable-logic"})
_GET_RESET: Final = frozenset({"memory", "storage", "boot-flash", "slot"})
_HOLD_RESET: Final = frozenset({"power-manager", "power-controller"})
_STRAP: Final = re.compile(r"boot|strap", re.I)
_PULLED_BUS: Final = re.compile(r"scl|sda|twi|i2c|cmd|(^|[^a-z])pmu?[-_]?s(c[lk]|da)", re.I)
_PULLED: Final = frozenset({"power-manager", "storage", "slot", "eeprom", "connector"})
_FEW_NETS: Final = 64
"""Chips with more nets are no small converters: their pins are not read one by one."""


@dataclass(frozen=True, slots=True)
class Need:
    """A part that a chip needs: for what, and on which line.

    `rail` is the output a feedback divider belongs to, where known, or the supply held down.
    """

    kind: NeedKind
    part_id: str
    user: str
    net: str
    vital: bool
    rail: str | None = None

    @property
    def why(self) -> Reason:
        """The fact as a sentence."""
        if self.kind == "timing":
            return reason("need-timing", part=self.part_id, chip=self.user, net=self.net)
        if self.kind == "feedback":
            return reason("need-feedback", part=self.part_id, chip=self.user, net=self.net)
        if self.kind == "hold":
            return reason("need-hold", part=self.part_id, rail=self.rail or self.net)
        if self.kind == "catch":
            return reason("need-catch", part=self.part_id, chip=self.user, net=self.net)
        if self.kind == "bootstrap":
            return reason("need-bootstrap", part=self.part_id, chip=self.user, net=self.net)
        if self.kind == "compensation":
            return reason("need-compensation", part=self.part_id, chip=self.user, net=self.net)
        if self.kind == "soft-start":
            return reason("need-soft-start", part=self.part_id, chip=self.user, net=self.net)
        if self.kind == "current-set":
            return reason("need-current-set", part=self.part_id, chip=self.user, net=self.net)
        if self.kind == "bypass":
            return reason("need-bypass", part=self.part_id, chip=self.user, net=self.net)
        if self.kind == "clock":
            return reason("need-clock", part=self.part_id, chip=self.user, net=self.net)
        if self.kind == "clock-load":
            return reason("need-clock-load", part=self.part_id, chip=self.user, net=self.net)
        if self.kind == "strap":
            return reason("need-strap", part=self.part_id, chip=self.user, net=self.net)
        if self.kind == "bus-pull":
            return reason("need-bus-pull", part=self.part_id, chip=self.user, net=self.net)
        if self.kind == "power-good":
            return reason("need-power-good", part=self.part_id, chip=self.user, net=self.net)
        if self.kind == "reset":
            return reason("need-reset", part=self.part_id, chip=self.user, net=self.net)
        if not self.net:
            return reason("need-noted", part=self.part_id, chip=self.user)
        return reason("need-enable", part=self.part_id, chip=self.user, net=self.net)

    def as_json(self) -> dict[str, object]:
        """``{"kind", "chip", "net", "vital", "why"}``."""
        return {
            "kind": self.kind,
            "chip": self.user,
            "net": self.net,
            "vital": self.vital,
            "why": self.why.as_json(),
        }


@dataclass(frozen=True)
class Needs:
    """All enables, resets and helper parts of a board."""

    enables: dict[str, tuple[Drive, ...]]
    resets: dict[str, tuple[Drive, ...]]
    aids: tuple[Need, ...]

    @cached_property
    def by_part(self) -> dict[str, tuple[Need, ...]]:
        """What each part is needed for."""
        found: dict[str, dict[Need, None]] = {}
        for need in (*self._of_drives(), *self.aids):
            found.setdefault(need.part_id, {})[need] = None
        return {part: tuple(needs) for part, needs in found.items()}

    def of(self, part_id: str) -> tuple[Need, ...]:
        """What the part is needed for: enables and resets first, then the rest."""
        return self.by_part.get(part_id, ())

    def _of_drives(self) -> Iterator[Need]:
        kinds: tuple[tuple[NeedKind, dict[str, tuple[Drive, ...]]], ...] = (
            ("enable", self.enables),
            ("reset", self.resets),
        )
        for kind, table in kinds:
            for user, drives in table.items():
                for drive in drives:
                    vital = drive.vital
                    for one in vital:
                        yield Need(kind, one, user, drive.net, True)
                    for way in drive.ways:
                        for one in (*way.parts, way.chip):
                            if one and one not in vital:
                                yield Need(kind, one, user, drive.net, False)
                    for one in drive.timing:
                        yield Need("timing", one, user, drive.net, False)


RISES_WITHOUT: Final[frozenset[NeedKind]] = frozenset({"feedback", "hold"})
"""Without such a part a supply rises beyond its volts."""

NO_NEEDS: Final = Needs({}, {}, ())
"""Of a board nobody has looked at."""


def find_needs(wiring: Wiring) -> Needs:
    """What every small part of the board is needed for."""
    enables = find_enables(wiring)
    aids: list[Need] = []
    resets: dict[str, tuple[Drive, ...]] = {}
    for part in wiring.board.parts:
        part_id = part.id
        role = wiring.role(part_id)
        if part_id not in wiring.fitted:
            continue
        makes = role in POWER_CHIPS or part_id in wiring.outputs
        if makes and wiring.is_chip(part_id) and len(wiring.nets(part_id)) <= _FEW_NETS:
            aids.extend(_of_converter(wiring, part_id))
        if role in IRREPLACEABLE_ROLES:
            aids.extend(_of_kept(wiring, part_id))
            if role in _STARTS:
                found = tuple(_resets(wiring, part_id))
                if found:
                    resets[part_id] = found
    aids.extend(
        Need("hold", one.part_id, one.feeder, one.net, True, one.rail) for one in find_holds(wiring)
    )
    aids.extend(_bus_pulls(wiring))
    return Needs(enables, resets, tuple(dict.fromkeys(aids)))


def needed_enables(needs: Needs, tree: RailTree, rails: Collection[str]) -> tuple[Drive, ...]:
    """Enables of the feeders of these supplies, in the order of the rail tree."""
    found: dict[Drive, None] = {}
    for rail in tree:
        if rail.net not in rails:
            continue
        for feeder in rail.feeders:
            for drive in needs.enables.get(feeder.part_id, ()):
                if drive.serves(rail.net):
                    found[drive] = None
    return tuple(found)


# -- converters --------------------------------------------------------------------------------


def _of_converter(wiring: Wiring, chip: str) -> Iterator[Need]:
    """By pin names where there are any, and by how parts lie around the switch node."""
    seen: set[str] = set()
    for net, name in named_nets(wiring, chip):
        word = pin_word(name)
        if word is None or net in seen or net in wiring.grounds:
            continue
        seen.add(net)
        yield from _at_pin(wiring, chip, net, word.duty)
    nodes = {one.net for one in wiring.tree.switch_nodes if one.converter == chip}
    for net in nodes:
        for one in wiring.parts(net):
            if wiring.role(one) == "diode" and len(wiring.live_nets(one)) == 1:
                yield Need("catch", one, chip, net, True)
            if wiring.role(one) != "capacitor":
                continue
            lines = set(wiring.signal_nets(chip)) - {net}
            other = [each for each in wiring.nets(one) if each in lines]
            if len(other) == 1:
                yield Need("bootstrap", one, chip, other[0], True)
    if wiring.role(chip) in POWER_CHIPS:
        for net in wiring.signal_nets(chip):
            if net not in seen:
                yield from _divider(wiring, chip, net)


def _at_pin(wiring: Wiring, chip: str, net: str, duty: PinDuty) -> Iterator[Need]:
    if wiring.is_power(net) and duty != "bypass":
        return
    if duty == "feedback":
        yield from _divider(wiring, chip, net, named=True)
        return
    if duty == "compensation":
        yield from _compensation(wiring, chip, net)
        return
    for one in wiring.parts(net):
        role = wiring.role(one)
        nets = wiring.nets(one)
        if len(nets) != 2:
            continue
        grounded = bool(wiring.grounds & set(nets))
        if duty == "bootstrap" and role == "capacitor" and not grounded:
            yield Need("bootstrap", one, chip, net, True)
        elif duty == "soft-start" and role == "capacitor":
            yield Need("soft-start", one, chip, net, False)
        elif duty == "current-set" and role == "resistor" and grounded:
            yield Need("current-set", one, chip, net, True)
        elif duty == "bypass" and role == "capacitor" and grounded:
            yield Need("bypass", one, chip, net, False)
        elif duty == "power-good" and role == "resistor" and not grounded:
            yield Need("power-good", one, chip, net, False)


def _divider(wiring: Wiring, chip: str, net: str, *, named: bool = False) -> Iterator[Need]:
    """Resistors from the chip's output and to ground on one line: its output is set there.

    Without a pin's name both legs must be there: one alone may pull up a report or a bus.
    """
    made = wiring.outputs.get(chip, frozenset())
    legs = [
        (one, [each for each in wiring.nets(one) if each != net])
        for one in wiring.parts(net)
        if wiring.role(one) == "resistor" and len(wiring.nets(one)) == 2
    ]
    upper = [(one, ends[0]) for one, ends in legs if ends and ends[0] in made]
    lower = [one for one, ends in legs if ends and ends[0] in wiring.grounds]
    if not upper or not (named or lower):
        return
    rail = upper[0][1]
    for one, _ in upper:
        yield Need("feedback", one, chip, net, True, rail)
    for one in lower:
        yield Need("feedback", one, chip, net, True, rail)


def _compensation(wiring: Wiring, chip: str, net: str) -> Iterator[Need]:
    """Resistors and capacitors on the line, and one small line further."""
    for one in wiring.parts(net):
        if wiring.role(one) not in ("resistor", "capacitor") or len(wiring.nets(one)) != 2:
            continue
        yield Need("compensation", one, chip, net, True)
        for other in wiring.nets(one):
            if other == net or other in wiring.grounds or wiring.is_power(other):
                continue
            if len(wiring.parts(other)) == 2:
                for each in wiring.parts(other):
                    if each != one and wiring.role(each) in ("resistor", "capacitor"):
                        yield Need("compensation", each, chip, net, True)


# -- kept chips --------------------------------------------------------------------------------


def _of_kept(wiring: Wiring, chip: str) -> Iterator[Need]:
    """Clocks with their load capacitors, and straps."""
    starts = wiring.role(chip) in _STARTS
    for net in wiring.nets(chip):
        if net in wiring.grounds or wiring.is_power(net):
            continue
        parts = wiring.parts(net)
        strap = starts and _STRAP.search(net.rpartition("/")[2]) is not None
        for one in parts:
            role = wiring.role(one)
            if role == "crystal":
                yield Need("clock", one, chip, net, True)
                for end in wiring.live_nets(one):
                    yield from _loads(wiring, chip, end)
            elif role == "oscillator" and starts:
                yield Need("clock", one, chip, net, True)
            elif strap and role == "resistor" and len(wiring.nets(one)) == 2:
                other = [each for each in wiring.nets(one) if each != net]
                if other and (other[0] in wiring.grounds or wiring.is_power(other[0])):
                    yield Need("strap", one, chip, net, True)
            elif role == "resistor" and len(wiring.nets(one)) == 2:
                # A crystal behind a resistor in the drive line.
                (end, *_) = [each for each in wiring.nets(one) if each != net] or [net]
                if end in wiring.grounds or wiring.is_power(end) or len(wiring.parts(end)) > 4:
                    continue
                for each in wiring.parts(end):
                    if wiring.role(each) == "crystal":
                        yield Need("clock", one, chip, net, True)
                        yield Need("clock", each, chip, net, True)
                        yield from _loads(wiring, chip, end)


def _loads(wiring: Wiring, chip: str, net: str) -> Iterator[Need]:
    for one in wiring.parts(net):
        if wiring.role(one) == "capacitor" and wiring.grounds & set(wiring.nets(one)):
            yield Need("clock-load", one, chip, net, False)


def _resets(wiring: Wiring, chip: str) -> Iterator[Drive]:
    """What releases the chip's reset; where nothing is seen the chip pulls it up itself."""
    for net in wiring.nets(chip):
        if wiring.kind(net) != "reset" or wiring.is_power(net):
            continue
        names = [name for part, _, name, _ in pads_at(wiring, net) if part == chip and name]
        words = [pin_word(name) for name in names]
        if names and not any(
            word is not None and word.duty in ("reset", "enable") for word in words
        ):
            # A pin by another name gives a reset to others, as a rule.
            continue
        if not names and any(wiring.role(one) in _GET_RESET for one in wiring.parts(net)):
            # The chip gives this reset to a memory.
            continue
        drive = trace_line(wiring, chip, net, names[0] if names else "", True)
        # Another chip that only might drive it: a reset is seldom pushed, nothing is built on it.
        holds = all(wiring.role(one) in _HOLD_RESET for one in drive.chips)
        if drive.doubt is None and (drive.how != "chip" or holds):
            yield drive


def _bus_pulls(wiring: Wiring) -> Iterator[Need]:
    """Pull-ups of two-wire buses and card commands, with the chip that needs them."""
    for part in wiring.board.parts:
        one = part.id
        if wiring.role(one) != "resistor" or one not in wiring.fitted:
            continue
        nets = wiring.live_nets(one)
        if len(nets) != 2:
            continue
        for net, other in (nets, nets[::-1]):
            if wiring.is_power(net) or not wiring.is_power(other):
                continue
            if not _PULLED_BUS.search(net.rpartition("/")[2]):
                continue
            users = [each for each in wiring.parts(net) if wiring.role(each) in _PULLED]
            for user in users[:1]:
                yield Need("bus-pull", one, user, net, False)
