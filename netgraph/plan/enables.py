# SPDX-License-Identifier: GPL-3.0-or-later
"""What holds a line at the level that lets a chip run: an enable, a released reset.

A line may be tied to a supply, pulled there over resistors, links or diodes, or driven by a chip.
A pull-up the line hangs on is needed as much as the supply behind it; what only pulls the line
the other way is not, and a capacitor on it only delays. A driver that can't be told is said, and
nothing is built on it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Final, Literal

from netgraph.plan.enable_pins import enable_pins, outputs_by_pin, pads_at
from netgraph.plan.wiring import POWER_CHIPS, SERIES_ROLES, Wiring, name_list
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import Role
from netgraph.roles.pin_words import PinWord, pin_word

DriveKind = Literal["tied", "pulled", "chip", "power-good", "noted", "held-off", "unknown"]

_PASSED: Final[frozenset[Role]] = SERIES_ROLES | frozenset[Role](
    {"resistor", "thermistor", "switch"}
)
_DRIVERS: Final[frozenset[Role]] = frozenset(
    {
        "processor",
        "programmable-logic",
        "power-manager",
        "power-controller",
        "fuel-gauge",
        "logic",
        "level-shifter",
    }
)
"""Chips that switch others on, as a rule (common practice); others count where none of these is."""

_LISTENS: Final[frozenset[Role]] = frozenset({"regulator", "load-switch", "charger"})
_NO_OUTPUT: Final = frozenset({"input", "power_in", "power_out", "no_connect"})
_PUSHES: Final = frozenset({"output"})
_DEPTH: Final = 3
_MANY_PARTS: Final = 16
"""A line with more parts is no enable; our choice."""
_MANY_WAYS: Final = 6


@dataclass(frozen=True, slots=True)
class Way:
    """One way a level comes to a line: the parts in between, and the supply or chip at its end.

    `rail` is empty for a ground, `chip` for a supply.
    """

    parts: tuple[str, ...]
    rail: str = ""
    chip: str = ""


@dataclass(frozen=True, slots=True)
class Drive:
    """What a line of a chip hangs on.

    Any one of `ways` holds it; every chip of `also` has to live besides (a power-good output that
    must let go), every part of `maybe` has to be there (one of them drives it, and it isn't known
    which). `timing` are capacitors that delay, `first` nets that a person says must be up.
    `doubt` is what isn't known.
    """

    user: str
    net: str
    pin: str
    how: DriveKind
    ways: tuple[Way, ...] = ()
    also: tuple[str, ...] = ()
    maybe: tuple[str, ...] = ()
    timing: tuple[str, ...] = ()
    first: tuple[str, ...] = ()
    only: str | None = None
    doubt: Reason | None = None

    def serves(self, rail: str | None) -> bool:
        """Whether this output of the chip depends on the line; None: the chip as a whole."""
        return self.only in (None, rail)

    @property
    def rails(self) -> tuple[str, ...]:
        """Supplies the line hangs on, each once."""
        found = [way.rail for way in self.ways if way.rail]
        return tuple(dict.fromkeys([*found, *self.first]))

    @property
    def chips(self) -> tuple[str, ...]:
        """Chips that drive the line, or may."""
        found = [way.chip for way in self.ways if way.chip]
        return tuple(dict.fromkeys([*found, *self.also, *self.maybe]))

    @property
    def vital(self) -> tuple[str, ...]:
        """Parts without any one of which the line loses its level."""
        shared: set[str] | None = None
        for way in self.ways:
            own = {*way.parts, way.chip} - {""}
            shared = own if shared is None else shared & own
        return tuple(sorted({*(shared or ()), *self.also, *self.maybe}))


@dataclass(slots=True)
class _Walk:
    """What a walk from a line found."""

    high: list[Way] = field(default_factory=list)
    low: list[Way] = field(default_factory=list)
    chips: list[tuple[Way, bool]] = field(default_factory=list)
    good: list[str] = field(default_factory=list)
    pushing: list[str] = field(default_factory=list)
    timing: list[str] = field(default_factory=list)
    others: list[str] = field(default_factory=list)


def find_enables(wiring: Wiring) -> dict[str, tuple[Drive, ...]]:
    """Enables of all converters, load switches and oscillators on the board, by part."""
    found: dict[str, tuple[Drive, ...]] = {}
    makers = dict.fromkeys(feeder.part_id for _, feeder in wiring.feeders())
    others = (
        part.id
        for part in wiring.board.parts
        if part.id in wiring.fitted
        and part.id not in makers
        and (wiring.role(part.id) == "oscillator" or _is_noted(wiring, part.id))
    )
    for part_id in (*makers, *others):
        switched = wiring.role(part_id) in POWER_CHIPS | {"oscillator", "transistor"}
        if not switched and not _is_noted(wiring, part_id):
            continue
        drives = tuple(_drives_of(wiring, part_id))
        if drives:
            found[part_id] = drives
    return found


def _is_noted(wiring: Wiring, part_id: str) -> bool:
    role = wiring.part_role(part_id)
    return role.enabled_by is not None or bool(role.needs_first)


def _drives_of(wiring: Wiring, part_id: str) -> Iterator[Drive]:
    role = wiring.part_role(part_id)
    first = tuple(net for net in role.needs_first if net in wiring.tree.by_net)
    if role.enabled_by is not None:
        enablers = tuple(one for one in role.enabled_by if one in wiring.board.nets_of_part)
        yield Drive(part_id, "", "", "noted", also=enablers, first=first)
        return
    pins = enable_pins(wiring, part_id)
    if first and not pins:
        yield Drive(part_id, "", "", "noted", first=first)
    outputs = outputs_by_pin(wiring, part_id, pins) if len(pins) > 1 else {}
    for net, (pin, high) in pins.items():
        drive = trace_line(wiring, part_id, net, pin, high)
        if wiring.role(part_id) == "transistor" and drive.doubt is not None and not drive.maybe:
            # Whichever way it switches: nothing is known, and few readers would ask.
            continue
        if len(pins) > 1 and len(wiring.outputs.get(part_id, ())) > 1:
            drive = _one_of_many(drive, outputs.get(net))
        yield replace(drive, first=first) if first else drive


def _one_of_many(drive: Drive, output: str | None) -> Drive:
    """An enable of a chip with several: for the output of the same number, or nothing built on."""
    if output is not None:
        return replace(drive, only=output)
    why = reason("enable-which-output", part=drive.user, pin=drive.pin, net=drive.net)
    parts = tuple(one for one in drive.vital if one not in drive.also)
    return Drive(
        drive.user, drive.net, drive.pin, "unknown", maybe=parts, timing=drive.timing, doubt=why
    )


# -- the line ----------------------------------------------------------------------------------


def trace_line(wiring: Wiring, user: str, net: str, pin: str, high: bool | None) -> Drive:
    """What holds a line of a chip at the level it needs.

    Parameters
    ----------
    high
        The level; None when the pin's name doesn't tell, then what the line is tied to tells it.
    """
    walk = _walk(wiring, user, net)
    own = wiring.outputs.get(user, frozenset())
    outside = [way for way in walk.high if way.rail not in own or not way.parts]
    timing = tuple(dict.fromkeys(walk.timing))
    if high is None:
        high = bool(outside) or not walk.low or bool(walk.chips)
    base = Drive(user, net, pin, "unknown", timing=timing)
    if not high and (net in wiring.grounds or (walk.low and not (walk.chips and walk.high))):
        how: DriveKind = "tied" if net in wiring.grounds else "pulled"
        return replace(base, how=how, ways=tuple(walk.low))
    if high and outside:
        how = "tied" if any(not way.parts for way in outside) else "pulled"
        also = tuple(dict.fromkeys([*walk.good, *walk.pushing]))
        if set(walk.good) & wiring.outputs.keys():
            how = "power-good"
        return replace(base, how=how, ways=tuple(outside), also=also)
    if walk.chips:
        return _driven(wiring, base, walk)
    if walk.others:
        why = reason("enable-through", part=user, net=net, pin=pin, parts=name_list(walk.others))
        return replace(base, maybe=tuple(sorted(set(walk.others))), doubt=why)
    if high and (walk.low or net in wiring.grounds):
        why = reason("enable-held-off", part=user, net=net, pin=pin)
        return replace(base, how="held-off", doubt=why)
    return replace(base, doubt=reason("enable-unknown", part=user, net=net, pin=pin))


def _driven(wiring: Wiring, base: Drive, walk: _Walk) -> Drive:
    """Driven by a chip: the likely drivers before others, typed outputs before all."""
    good = [way for way, _ in walk.chips if way.chip in walk.good]
    if good:
        how: DriveKind = "power-good" if set(walk.good) & wiring.outputs.keys() else "chip"
        return replace(base, how=how, ways=_shortest(good), also=tuple(dict.fromkeys(walk.good)))
    pushing = [way for way, _ in walk.chips if way.chip in walk.pushing]
    likely = [way for way, strong in walk.chips if strong]
    ways = pushing or likely or [way for way, _ in walk.chips]
    chips = tuple(dict.fromkeys(way.chip for way in ways))
    if len(chips) == 1:
        return replace(base, how="chip", ways=_shortest(ways))
    parts = {one for way in ways for one in way.parts}
    why = reason(
        "enable-several", part=base.user, net=base.net, pin=base.pin, chips=name_list(chips)
    )
    return replace(base, how="chip", maybe=tuple(sorted({*chips, *parts})), doubt=why)


def _shortest(ways: Iterable[Way]) -> tuple[Way, ...]:
    return (min(ways, key=lambda way: (len(way.parts), way.parts)),)


def _walk(wiring: Wiring, user: str, start: str) -> _Walk:
    found = _Walk()
    waiting: list[tuple[str, tuple[str, ...]]] = [(start, ())]
    seen = {start}
    while waiting:
        net, path = waiting.pop(0)
        if net in wiring.grounds:
            found.low.append(Way(path))
            continue
        if wiring.is_power(net):
            if net in wiring.tree.by_net:
                found.high.append(Way(path, rail=net))
            continue
        parts = _parts_ever(wiring, net)
        if len(parts) > _MANY_PARTS:
            continue
        _note_chips(wiring, user, net, path, found)
        for one in parts:
            if one == user or one in path:
                continue
            other = _beyond(wiring, one, net)
            if (
                not path
                and wiring.role(one) == "capacitor"
                and wiring.grounds & set(wiring.nets(one))
            ):
                found.timing.append(one)
            if other is None or len(path) >= _DEPTH:
                continue
            if other in seen and other not in wiring.grounds and not wiring.is_power(other):
                continue
            seen.add(other)
            waiting.append((other, (*path, one)))
            if len(found.high) + len(waiting) > 2 * _MANY_WAYS:
                return found
    return found


def _parts_ever(wiring: Wiring, net: str) -> tuple[str, ...]:
    """Parts on the net, those taken off included: what hung on one hangs on nothing now."""
    off = wiring.taken_off
    if not off:
        return wiring.parts(net)
    gone = [one for one in wiring.board.parts_on_net[net] if one in off]
    return (*wiring.parts(net), *gone)


def _beyond(wiring: Wiring, part_id: str, net: str) -> str | None:
    """The net from which a level may come over a part; None when none may."""
    nets = wiring.nets(part_id)
    role = wiring.role(part_id)
    if len(nets) != 2:
        return None
    other = nets[1] if nets[0] == net else nets[0]
    if role in _PASSED:
        return other
    if role == "diode" and _cathode(wiring, part_id) == net:
        return other
    return None


def _cathode(wiring: Wiring, part_id: str) -> str | None:
    """The cathode's net of a diode: by pin name, else pin 1 (the usual numbering, from memory)."""
    pads = wiring.pads_of[part_id]
    for pad in pads:
        if pad.pin_name.upper() in ("K", "C", "CATHODE", "-"):
            return pad.net
    return next((pad.net for pad in pads if pad.pin == "1"), None)


def _note_chips(wiring: Wiring, user: str, net: str, path: tuple[str, ...], found: _Walk) -> None:
    for part_id, _, name, kind in pads_at(wiring, net):
        if part_id == user:
            continue
        role = wiring.role(part_id)
        if role in ("transistor", "optocoupler"):
            found.others.append(part_id)
            continue
        if not wiring.is_chip(part_id):
            continue
        word = pin_word(name) if name else None
        if role in POWER_CHIPS and _reports(word):
            found.good.append(part_id)
            found.chips.append((Way(path, chip=part_id), True))
            continue
        if kind in _NO_OUTPUT or (
            word is not None and word.duty in ("enable", "reset") and kind != "output"
        ):
            continue
        if role in _LISTENS and kind not in _PUSHES:
            # Another converter's enable on the same line: it listens as well.
            continue
        if role == "power-controller" and kind not in _PUSHES:
            found.good.append(part_id)
        if kind in _PUSHES:
            found.pushing.append(part_id)
        found.chips.append((Way(path, chip=part_id), role in _DRIVERS))


def _reports(word: PinWord | None) -> bool:
    return word is not None and word.duty in ("power-good", "reset")
