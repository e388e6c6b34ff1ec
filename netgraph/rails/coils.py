# SPDX-License-Identifier: GPL-3.0-or-later
"""Converters with a coil: buck, boost, inverting, and those that couple through a capacitor."""

from __future__ import annotations

import re
from typing import Literal

from netgraph.rails.candidate import Supplies
from netgraph.rails.power_pins import FEEDBACK_PIN, has_pin_names, uses_on
from netgraph.rails.tree import SwitchNode
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import Role
from netgraph.roles.polarity import junctions_of

_BOOST_WORD = re.compile(r"boost|step.?up", re.IGNORECASE)
_STRONG_INPUT = re.compile(r"P?VIN|PVCC|VCC_?IN|\w*VREG_?VIN", re.IGNORECASE)
_DRIVERS: tuple[Role, ...] = (
    "power-manager", "regulator", "charger", "display-driver", "power-controller",
)  # fmt: skip
_CLEAR_MARGIN = 1.0
"""An input must be likelier than the next by so much to be taken as told."""
_TRANSISTOR_RANK, _OTHER_RANK = 8, 6
_MANY: frozenset[Role] = frozenset(("power-manager",))


def find_coils(every: Supplies) -> None:
    """Add a candidate for each coil on a switch node, and the switch node itself."""
    for net, kind in enumerate(every.kind):
        if kind == "switch-node":
            _follow(every, net)


def _follow(every: Supplies, net: int) -> None:
    wiring = every.wiring
    for coil in [p for p in wiring.parts[net] if every.role[p] == "inductor"]:
        far = wiring.other_net(coil, net) if len(wiring.nets[coil]) == 2 else -1
        driver = _driver(every, net, coil)
        if driver is None or far < 0:
            continue
        if far in every.grounds:
            _inverting(every, net, coil, driver)
            continue
        boosted = _boosted(every, net, driver, far)
        name = every.part_id(coil)
        if boosted is not None:
            out, through = boosted
            why = reason("boost", coil=name, out=every.name(out), net=every.name(far))
            _keep(every, net, driver, far, out, "boost", 4.0, why, (coil, *through))
        elif far in every.supplies:
            source = input_of(every, driver, far)
            why = reason("buck", coil=name, net=every.name(source))
            score = 4.0 if source >= 0 else 3.2
            _keep(every, net, driver, source, far, "buck", score, why, (coil,))
        elif every.kind[far] == "switch-node":  # buck-boost: coil between two nodes
            _between_nodes(every, net, coil, driver)


def _keep(
    every: Supplies,
    net: int,
    driver: int,
    source: int,
    out: int,
    kind: Literal["buck", "boost"],
    score: float,
    why: Reason,
    through: tuple[int, ...],
) -> None:
    coil = through[0]
    every.coils_used.add(coil)
    named = has_pin_names(every.wiring, driver)
    every.add(driver, source, out, kind, score, why, through=through, by_name=named)
    every.switch_nodes.append(
        SwitchNode(
            every.name(net),
            every.part_id(driver),
            every.part_id(coil),
            every.name(source) if source >= 0 else None,
            every.name(out),
            kind,
        )
    )


def _driver(every: Supplies, net: int, coil: int) -> int | None:
    """The chip that drives a switch node; a transistor only when no chip is there."""
    chips = [
        part
        for part in every.wiring.parts[net]
        if part != coil and len(every.wiring.nets[part]) >= 3
    ]

    def rank(part: int) -> int:
        role = every.role[part]
        if role in _DRIVERS:
            return _DRIVERS.index(role)
        return _TRANSISTOR_RANK if role == "transistor" else _OTHER_RANK

    return min(chips, key=rank) if chips else None


def _between_nodes(every: Supplies, net: int, coil: int, driver: int) -> None:
    """A four-switch converter: its output is the pin that is named so."""
    wiring = every.wiring
    if coil in every.coils_used:
        return
    every.coils_used.add(coil)
    nets = [n for n in wiring.nets[driver] if n in every.supplies]
    outs = [n for n in nets if "out" in uses_on(wiring, driver, n)]
    ins = [n for n in nets if every.is_named_in(driver, n) and n not in outs]
    if len(outs) == 1 and ins:
        source = input_of(every, driver, outs[0])
        why = reason("buck-boost", coil=every.part_id(coil), net=every.name(source))
        _keep(every, net, driver, source, outs[0], "boost", 3.6, why, (coil,))


def _inverting(every: Supplies, net: int, coil: int, driver: int) -> None:
    """Coil from the switch node to ground, a diode from the negative rail to the switch node."""
    wiring = every.wiring
    for part in wiring.parts[net]:
        if every.role[part] not in ("diode", "tvs"):
            continue
        for junction in junctions_of(wiring, part):
            if junction.cathode == net and junction.anode in every.supplies:
                out = junction.anode
                source = input_of(every, driver, out)
                why = reason("inverting", coil=every.part_id(coil), net=every.name(source))
                _keep(every, net, driver, source, out, "buck", 3.6, why, (coil, part))
                return
    outs = [
        n
        for n in wiring.nets[driver]
        if n in every.supplies and "out" in uses_on(wiring, driver, n)
    ]
    if len(outs) == 1:
        source = input_of(every, driver, outs[0])
        why = reason("inverting", coil=every.part_id(coil), net=every.name(source))
        _keep(every, net, driver, source, outs[0], "buck", 3.0, why, (coil,))


def _boosted(
    every: Supplies, net: int, driver: int, far: int
) -> tuple[int, tuple[int, ...]] | None:
    """The rail a boost converter makes, and the diode if any; None for a buck."""
    wiring = every.wiring
    behind = _through_diode(every, net)
    if behind is not None:
        return behind
    nets = [n for n in wiring.nets[driver] if n in every.supplies and n != far]
    if has_pin_names(wiring, driver):
        outs = [n for n in nets if "out" in uses_on(wiring, driver, n)]
        ins = [n for n in nets if every.is_named_in(driver, n)]
        if every.is_named_in(driver, far) and outs and every.role[driver] not in _MANY:
            higher = [n for n in outs if every.higher(n, far)]
            if (higher or not ins) and far in every.supplies:
                return (higher or outs)[0], ()
    elif every.role[driver] not in _MANY and far in every.supplies:
        tops = feedback_tops(every, driver)
        lower = [n for n in tops if every.higher(far, n)]
        if far not in tops and len(tops) == 1 and not lower and not every.entries.get(tops[0]):
            return tops[0], ()
    own = every.board.parts[driver]
    if _BOOST_WORD.search(f"{own.value} {own.fields}") and nets and far in every.supplies:
        higher = [n for n in nets if every.higher(n, far)]
        return (higher or nets)[0], ()
    return None


def _through_diode(every: Supplies, net: int) -> tuple[int, tuple[int, ...]] | None:
    """The rail behind a diode from the switch node, straight or through a coupling capacitor."""
    wiring = every.wiring
    starts: list[tuple[int, tuple[int, ...]]] = [(net, ())]
    for part in wiring.parts[net]:
        if every.role[part] == "capacitor" and len(wiring.nets[part]) == 2:
            other = wiring.other_net(part, net)
            if other not in every.grounds and other not in every.supplies:
                starts.append((other, (part,)))
    for start, before in starts:
        for part in wiring.parts[start]:
            if every.role[part] not in ("diode", "tvs"):
                continue
            for junction in junctions_of(wiring, part):
                if junction.anode == start and junction.cathode in every.supplies:
                    return junction.cathode, (*before, part)
    return None


def feedback_tops(every: Supplies, chip: int) -> list[int]:
    """Rails on which a divider to one of the chip's pins hangs: what the chip regulates.

    A pin named otherwise than a feedback pin doesn't count (a divider may also hang on enable).
    """
    wiring = every.wiring
    found: list[int] = []
    for middle in wiring.nets[chip]:
        if middle in every.grounds or middle in every.supplies:
            continue
        pins = [pin for pin in wiring.pins_on(chip, middle) if pin.name]
        if pins and not any(FEEDBACK_PIN.fullmatch(pin.name) for pin in pins):
            continue
        tops, down = set(), False
        for part in wiring.parts[middle]:
            if every.role[part] == "resistor" and len(wiring.nets[part]) == 2:
                far = wiring.other_net(part, middle)
                down |= far in every.grounds
                if far in every.supplies:
                    tops.add(far)
        if down and len(tops) == 1:
            found += tops
    return sorted(set(found))


def input_of(every: Supplies, chip: int, out: int) -> int:
    """The net a converter takes its power from; -1 when it can't be told."""
    wiring = every.wiring
    nets = [n for n in wiring.nets[chip] if n in every.supplies and n != out]
    if not nets:
        return -1
    if has_pin_names(wiring, chip):
        ins = [n for n in nets if every.is_named_in(chip, n)]
        if len(ins) == 1:
            return ins[0]
        nets = ins or nets
    return max(nets, key=lambda n: _input_likeness(every, chip, n, out))


def rival_input(every: Supplies, chip: int, out: int, chosen: int) -> int:
    """Another net that a converter without telling pin names may take its power from; else -1."""
    wiring = every.wiring
    nets = [n for n in wiring.nets[chip] if n in every.supplies and n not in (out, chosen)]
    if has_pin_names(wiring, chip):
        ins = [n for n in nets if every.is_named_in(chip, n)]
        if every.is_named_in(chip, chosen) and not ins:
            return -1
        nets = ins or nets
    fed = {c.to for c in every.found if c.part == chip and c.through}
    best = _input_likeness(every, chip, chosen, out)
    near = [
        n
        for n in nets
        if n not in fed and _input_likeness(every, chip, n, out) > best - _CLEAR_MARGIN
    ]
    return near[0] if near else -1


def _input_likeness(every: Supplies, chip: int, net: int, out: int) -> float:
    pins = every.wiring.pins_on(chip, net)
    score = 0.5 * len(pins) + 0.1 * len(every.wiring.parts[net])
    if every.higher(net, out):
        score += 2.0
    if every.higher(out, net):
        score -= 2.0
    if every.is_named_in(chip, net):
        score += 2.0
    if any(_STRONG_INPUT.search(pin.name) for pin in pins):
        score += 3.0
    return score
