# SPDX-License-Identifier: GPL-3.0-or-later
"""Chips that stand between supplies: regulators, load switches, chargers, power managers."""

from __future__ import annotations

import re

from netgraph.rails.candidate import Supplies
from netgraph.rails.coils import feedback_tops, input_of
from netgraph.rails.passing import SMALL_OHM
from netgraph.rails.power_pins import PinUse, has_pin_names, use_of_pin, uses_on
from netgraph.rails.tree import RailKind
from netgraph.reasons import reason
from netgraph.roles.answer import Role
from netgraph.roles.pumps import PUMPED_PIN, flying_capacitors

CONVERTERS: frozenset[Role] = frozenset(
    ("regulator", "load-switch", "charger", "power-controller", "display-driver", "fuel-gauge")
)
CHIP_OWN: frozenset[Role] = frozenset(
    ("processor", "programmable-logic", "memory", "storage", "radio", "network", "interface",
     "audio", "sensor", "unknown", "other", "display-driver", "amplifier", "logic",
     "secure-element", "motor-driver", "level-shifter", "analog-switch")
)  # fmt: skip
_MOST_BETWEEN = 4
_INPUT_PIN = re.compile(
    r"[ADP]?V?IN\d?[AB]?|[PA]VIN.*|VIN(?!T)[A-Z0-9_]*|INPUT|VI|DC_?IN|AC_?IN|CHG_?IN|[A-Z0-9]+_V?IN",
    re.IGNORECASE,
)
_BRICK_INPUT = re.compile(r"\+V?IN|V?IN\+|VI\+", re.IGNORECASE)
_SYSTEM_PIN = re.compile(r"SYS|OUT|VSS_?LOAD|LOAD", re.IGNORECASE)
_BATTERY_PIN = re.compile(r"BAT", re.IGNORECASE)
_MANAGER_INPUT = re.compile(r"IN|VCC|VDD|VSYS|VBAT|PVDD", re.IGNORECASE)
_CELL_NET = re.compile(r"VBAT|BATT|LIPO|CELL|(?:^|[^A-Z])BAT(?:$|[^A-Z])", re.IGNORECASE)
_DRAWS: frozenset[Role] = frozenset(("regulator", "power-manager", "load-switch"))


def between_supplies(every: Supplies, chip: int, nets: list[int]) -> None:
    """Candidates of one chip; `nets` are those of its nets that are supplies.

    A net that the chip touches by pins named as inputs alone is never fed by it.
    """
    before = len(every.found)
    _between(every, chip, nets)
    every.found[before:] = [
        one for one in every.found[before:] if one.through or not _only_takes(every, chip, one.to)
    ]


def _only_takes(every: Supplies, chip: int, net: int) -> bool:
    """Whether the pins on the net are inputs by name; on a partial board any that take power."""
    pins = every.wiring.pins_on(chip, net)
    uses = {use_of_pin(pin) for pin in pins}
    if uses & {"out", "switch"}:
        return False
    if any(_INPUT_PIN.fullmatch(pin.name) for pin in pins):
        return True
    return every.board.partial and "in" in uses and every.role[chip] != "charger"


def _between(every: Supplies, chip: int, nets: list[int]) -> None:
    role = every.role[chip]
    if role in CONVERTERS:
        _converter(every, chip, nets)
    elif role == "power-manager":
        _manager(every, chip, nets)
    elif role in CHIP_OWN:
        _own_outputs(every, chip, nets)


def _converter(every: Supplies, chip: int, nets: list[int]) -> None:
    wiring, role = every.wiring, every.role[chip]
    drives = {c.to for c in every.found if c.part == chip and c.through}
    feeds = {c.source for c in every.found if c.part == chip and c.through}
    if drives and role != "charger":
        return
    if _pumped(every, chip, nets):
        return
    if has_pin_names(wiring, chip):
        uses = {net: _uses(every, chip, net) for net in nets}
        outs = [n for n in nets if "out" in uses[n] and n not in feeds]
        ins = [n for n in nets if "in" in uses[n] and "out" not in uses[n]]
        if role == "charger":
            _named_charger(every, chip, nets, outs, ins)
            return
        for out in outs:
            source = _nearest_input(every, chip, [n for n in ins if n != out], out)
            if source >= 0 and _transistor_between(every, chip, source, out):
                continue  # it only drives the gate of the part that carries the current
            why = reason("pin-in-out", net=every.name(source))
            kind = _chip_kind(every, chip, source, out)
            score = 3.6 if source >= 0 else 2.6
            every.add(chip, source, out, kind, score, why, by_name=True)
        if outs:
            return
        nets = [n for n in nets if uses[n] - {"sense", "enable", "other"} or not ins]
    elif role == "charger":
        _unnamed_charger(every, chip, nets)
        return
    if role in ("power-controller", "fuel-gauge"):
        return
    _unnamed_pairs(every, chip, nets)


def _uses(every: Supplies, chip: int, net: int) -> set[PinUse]:
    """Uses of a converter's pins; VIN+ is an input here, at other chips a measured voltage."""
    uses = uses_on(every.wiring, chip, net)
    if any(_BRICK_INPUT.fullmatch(pin.name) for pin in every.wiring.pins_on(chip, net)):
        uses = {*(uses - {"sense"}), "in"}
    return uses


def _nearest_input(every: Supplies, chip: int, ins: list[int], out: int) -> int:
    """The input of one output; with several the one with the same number in its pin name."""
    if len(ins) <= 1:
        return ins[0] if ins else -1
    digits = set(re.findall(r"\d+|[AB]$", every.pin_text(chip, out).upper()))

    def rank(net: int) -> tuple[bool, int, int]:
        mine = set(re.findall(r"\d+|[AB]$", every.pin_text(chip, net).upper()))
        text = every.pin_text(chip, net)
        plain = re.search(r"IN", text, re.IGNORECASE) is not None
        return (bool(digits & mine), plain + (len(every.wiring.pins_on(chip, net)) > 1), -net)

    return max(ins, key=rank)


def _transistor_between(every: Supplies, chip: int, a: int, b: int) -> bool:
    """A transistor from one net to the other, with its gate on the chip."""
    wiring = every.wiring
    own = set(wiring.nets[chip])
    return any(
        every.role[part] == "transistor"
        and {a, b} <= set(wiring.nets[part])
        and any(net in own for net in wiring.nets[part] if net not in (a, b))
        for part in wiring.parts[a]
    )


def _unnamed_pairs(every: Supplies, chip: int, nets: list[int]) -> None:
    """Direction by volts, by the divider to a feedback pin, by the number of pins."""
    wiring = every.wiring
    if len(nets) > _MOST_BETWEEN:
        return
    tops = set(feedback_tops(every, chip)) if every.role[chip] == "regulator" else set()
    for a, b in [(a, b) for a in nets for b in nets if a != b]:
        score = 1.2
        if every.higher(a, b):
            score += 1.2
        elif every.higher(b, a):
            score -= 1.0
        pins_a, pins_b = len(wiring.pins_on(chip, a)), len(wiring.pins_on(chip, b))
        score += 0.4 * (pins_a > pins_b) - 0.2 * (pins_a < pins_b)
        score += 0.8 * (tops == {b}) - 0.8 * (tops == {a})
        if score > 0:
            why = reason("between-supplies", net=every.name(a))
            kind = _chip_kind(every, chip, a, b)
            every.add(chip, a, b, kind, score, why, directed=False)
    if len(nets) == 1 and not every.board.partial:
        every.add(chip, -1, nets[0], "linear", 0.3, reason("only-supply"))


def _chip_kind(every: Supplies, chip: int, source: int, out: int) -> RailKind:
    role = every.role[chip]
    if role in ("load-switch", "power-controller"):
        return "switched"
    if role == "charger":
        return "charger"
    if source >= 0 and every.higher(out, source):
        return "boost"
    return "linear"


# -- charge pumps --------------------------------------------------------------------------------


def _pumped(every: Supplies, chip: int, nets: list[int]) -> list[int]:
    """Outputs of a chip that has flying capacitors, as far as found."""
    wiring = every.wiring
    if not flying_capacitors(wiring, every.role, chip):
        return []
    named = has_pin_names(wiring, chip)
    outs = [n for n in nets if "pump-output" in _codes(every, n)]
    said = [
        n
        for n in nets
        if n not in outs and any(PUMPED_PIN.fullmatch(p.name) for p in wiring.pins_on(chip, n))
    ]
    if any(every.is_named_in(chip, n) and n not in said for n in nets):
        outs += said
    else:  # V+ is the input where nothing else can be
        outs += [n for n in said if "in" not in uses_on(wiring, chip, n)]
    if every.role[chip] in CONVERTERS:
        outs += [n for n in nets if named and n not in outs and "out" in uses_on(wiring, chip, n)]
    for out in outs:
        ins = [n for n in nets if n not in outs and (not named or every.is_named_in(chip, n))]
        source = ins[0] if len(ins) == 1 else input_of(every, chip, out) if ins else -1
        why = reason("charge-pump", net=every.name(source))
        kind: RailKind = "boost" if source >= 0 and every.higher(out, source) else "linear"
        every.add(chip, source, out, kind, 3.0 if named else 2.2, why, by_name=named)
    return outs


def _codes(every: Supplies, net: int) -> set[str]:
    return {why.code for why in every.roles.nets[every.name(net)].reasons}


# -- chargers ------------------------------------------------------------------------------------


def _named_charger(
    every: Supplies, chip: int, nets: list[int], outs: list[int], ins: list[int]
) -> None:
    """A charger makes the system supply and the cell's charge from its input."""
    cells = [n for n in nets if _BATTERY_PIN.search(every.pin_text(chip, n))]
    sources = [n for n in ins if n not in cells and n not in outs]
    sources += [n for n in nets if n not in sources and n not in cells and n not in outs]
    for out in [n for n in outs if n not in cells]:
        first = sources[0] if sources else -1
        if not _SYSTEM_PIN.search(every.pin_text(chip, out)):
            # Its own regulator or the node behind its input: the cell doesn't feed that.
            why = reason("pin-in-out", net=every.name(first))
            every.add(chip, first, out, "linear", 2.6, why, by_name=True)
            continue
        for source in [first, *cells[:1]]:
            why = reason("power-path", net=every.name(source))
            score = 3.4 if source >= 0 else 2.2
            every.add(chip, source, out, "charger", score, why, by_name=True)
    for cell in cells:
        source = sources[0] if sources else -1
        why = reason("charges", net=every.name(source))
        every.add(chip, source, cell, "charger", 1.6, why, by_name=True)


def _unnamed_charger(every: Supplies, chip: int, nets: list[int]) -> None:
    """A charger whose pins have no names, by what hangs on its nets.

    The cell's net carries a cell or its connector; the input comes from outside or from a rail;
    a third net that feeds converters is the system supply, made from both.
    """
    cells = [n for n in nets if _is_cell(every, n)]
    rest = [n for n in nets if n not in cells]
    systems = [n for n in rest if not every.entries.get(n) and _feeds_converters(every, n, chip)]
    inputs = [n for n in rest if n not in systems]
    if len(systems) != 1 and len(rest) == 2 and cells:
        outside = [n for n in rest if every.entries.get(n)]
        if len(outside) == 1:
            inputs, systems = outside, [n for n in rest if n not in outside]
    if not cells or len(systems) > 1 or len(inputs) > 1:
        _unnamed_pairs(every, chip, nets)
        return
    source = inputs[0] if inputs else -1
    for system in systems:
        for one in [source, *cells[:1]]:
            why = reason("power-path", net=every.name(one))
            every.add(chip, one, system, "charger", 2.6 if one >= 0 else 2.0, why)
    for cell in cells:
        why = reason("charges", net=every.name(source))
        every.add(chip, source, cell, "charger", 1.4, why)


def _is_cell(every: Supplies, net: int) -> bool:
    named = _CELL_NET.search(every.name(net)) is not None
    return any(
        every.role[part] == "battery"
        or (
            every.role[part] in ("connector", "slot")
            and (named or _CELL_NET.search(_text(every, part)) is not None)
        )
        for part in every.wiring.parts[net]
    )


def _text(every: Supplies, part: int) -> str:
    own = every.board.parts[part]
    return f"{own.ref} {own.value} {own.package}".upper()


def _feeds_converters(every: Supplies, net: int, chip: int) -> bool:
    """Another converter takes its power here, or a coil starts here."""
    return any(
        part != chip
        and (
            every.role[part] in _DRAWS
            or (every.role[part] == "inductor" and part not in every.coils_used)
        )
        for part in every.wiring.parts[net]
    )


# -- power managers ------------------------------------------------------------------------------


def _manager(every: Supplies, chip: int, nets: list[int]) -> None:
    """Direct outputs of a power manager; its coils were followed before."""
    wiring = every.wiring
    named = has_pin_names(wiring, chip)
    for net in nets:
        uses = uses_on(wiring, chip, net)
        pins = wiring.pins_on(chip, net)
        if named and "out" in uses:
            why = reason("manager-output", pin=pins[0].name)
            source = _manager_input(every, chip, net)
            every.add(chip, source, net, "linear", 3.4, why, by_name=True)
        elif not named or uses <= {"other"}:
            if len(pins) == 1:
                why = reason("manager-pin", pin=pins[0].number)
            else:  # more likely an input
                why = reason("manager-pins", count=len(pins))
            score = 1.5 if len(pins) == 1 else 1.0 if len(pins) == 2 else 0.4
            every.add(chip, -1, net, "linear", score, why)


def _manager_input(every: Supplies, chip: int, out: int) -> int:
    """The input net of one output, by the numbers in the pin names (LDO1, VIN_LDO1)."""
    wiring = every.wiring
    mine = {
        found
        for pin in wiring.pins_on(chip, out)
        for found in re.findall(r"(?:LDO|BUCK|DCDC|SW)\d+", pin.name.upper())
    }
    ins: dict[int, int] = {}
    for pin in wiring.pins[chip]:
        if pin.net in every.supplies and pin.net != out and _MANAGER_INPUT.search(pin.name):
            near = any(word in pin.name.upper() for word in mine)
            ins[pin.net] = ins.get(pin.net, 0) + (10 if near else 1)
    return max(ins, key=lambda net: (ins[net], -net)) if ins else -1


# -- outputs of other chips ----------------------------------------------------------------------


def _own_outputs(every: Supplies, chip: int, nets: list[int]) -> None:
    """Pins of other chips that are named as outputs, or bypass-only nets."""
    wiring = every.wiring
    pumped = _pumped(every, chip, nets)
    named = has_pin_names(wiring, chip)
    for net in [one for one in nets if one not in pumped]:
        codes = _codes(every, net)
        uses = uses_on(wiring, chip, net)
        source = input_of(every, chip, net) if "out" in uses else -1
        alone = _is_alone(every, chip, net)
        if "own-output" in codes or (alone and every.kind[net] != "reference"):
            every.add(chip, -1, net, "linear", 2.4, reason("bypass-only"), by_name="out" in uses)
        elif "own-reference" in codes or alone:
            every.add(chip, -1, net, "reference", 2.4, reason("bypass-only"))
        elif "out" in uses and any(pin.type == "power_out" for pin in wiring.pins_on(chip, net)):
            # Without a name the type alone is weak: symbols call supply pins outputs too.
            score = 2.6 if named and not _series_feed(every, net) else 1.2
            why = reason("pin-in-out", net=every.name(source))
            every.add(chip, source, net, "linear", score, why, by_name=named)


def _series_feed(every: Supplies, net: int) -> bool:
    """A small series resistor or bead from another supply is on the net."""
    wiring = every.wiring
    for part in wiring.parts[net]:
        if len(wiring.nets[part]) != 2 or wiring.other_net(part, net) not in every.supplies:
            continue
        ohm = every.roles.parts[every.part_id(part)].ohm
        if every.role[part] in ("ferrite", "link", "inductor", "fuse") or (
            every.role[part] == "resistor" and ohm is not None and ohm <= SMALL_OHM
        ):
            return True
    return False


def _is_alone(every: Supplies, chip: int, net: int) -> bool:
    """Whether nothing but this chip, capacitors and test points lies on a net.

    Of a partial board that is never known.
    """
    if every.board.partial:
        return False
    rest = {every.role[p] for p in every.wiring.parts[net] if p != chip}
    return rest <= {"capacitor", "test-point", "mechanical"} and "capacitor" in rest
