# SPDX-License-Identifier: GPL-3.0-or-later
"""Which pins of a chip are its enables: by name, by family and package, by what is left of it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from netgraph.plan.wiring import Wiring
from netgraph.roles.answer import Role
from netgraph.roles.pin_tables import known_pins
from netgraph.roles.pin_words import pin_word

_MAKES: Final[frozenset[Role]] = frozenset({"regulator", "load-switch"})
_FEW_PADS: Final = 8
_OSCILLATOR: Final = re.compile(r"OE|E/?D|ST|STBY|STANDBY|INH|TRI[-_ ]?STATE|VC/OE", re.I)
"""Names that only an oscillator's enable has (common practice, no source)."""


def named_nets(wiring: Wiring, part_id: str) -> list[tuple[str, str]]:
    """(net, pin name) of a chip's pins: by the file, else by the table of families.

    The table counts only where its ground pin lies on a ground and its input does not; empty
    where neither has names.
    """
    pads = wiring.pads_of[part_id]
    of_file = [(pad.net, pad.pin_name) for pad in pads if pad.net and pad.pin_name]
    if any(pad.pin_name and pad.pin_name != pad.pin for pad in pads):
        return of_file
    if wiring.role(part_id) not in _MAKES:
        return []
    part = wiring.board.part(part_id)
    table = known_pins(part.value, part.package)
    nets = {pad.pin: pad.net for pad in pads}
    for pin, name in table.items():
        grounded = nets.get(pin) in wiring.grounds
        if (name == "GND" and not grounded) or (name == "IN" and grounded):
            return []
    return [(net, table[pin]) for pin, net in nets.items() if net and pin in table]


def pads_at(wiring: Wiring, net: str) -> Iterator[tuple[str, str, str, str]]:
    """Part, pin, name and type of the pads on a net."""
    board = wiring.board
    columns, parts = board.columns, board.parts
    for index in board.pads_on_net(net):
        part = parts[int(columns.part[index])].id
        if part in wiring.fitted or part in wiring.taken_off:
            yield part, columns.pin[index], columns.pin_name[index], columns.pin_type[index]


def enable_pins(wiring: Wiring, part_id: str) -> dict[str, tuple[str, bool | None]]:
    """Net -> pin and running level of each enable of the chip."""
    if wiring.role(part_id) == "transistor":
        return _gate(wiring, part_id)
    pads = [pad for pad in wiring.pads_of[part_id] if pad.net]
    found: dict[str, tuple[str, bool | None]] = {}
    named = named_nets(wiring, part_id)
    for net, name in named:
        if wiring.role(part_id) == "oscillator" and _OSCILLATOR.fullmatch(name):
            # Low, as a rule, stops the output; what the pin is tied to tells the rest.
            found.setdefault(net, (name, None))
            continue
        word = pin_word(name)
        if word is None or word.duty != "enable":
            continue
        if wiring.role(part_id) == "charger" and not _lets_charge(wiring, part_id, name):
            continue
        found.setdefault(net, (name, word.high))
    if named:
        return found
    numbers = {pad.net: pad.pin for pad in reversed(pads) if pad.net is not None}
    if wiring.role(part_id) == "oscillator":
        # Pin 1 of a four-pad oscillator is its enable (from memory); it may lie on the supply.
        first = [pad.net for pad in pads if pad.pin == "1" and pad.net is not None]
        whole = len(pads) == 4 and not wiring.board.partial
        return {first[0]: ("1", None)} if whole and first else {}
    if wiring.role(part_id) not in _MAKES or len(pads) > 3 * _FEW_PADS:
        return {}
    for net in wiring.live_nets(part_id):
        if wiring.kind(net) == "enable":
            found[net] = (numbers[net], None)
    if not found and not wiring.board.partial and len({pad.pin for pad in pads}) <= _FEW_PADS + 1:
        found.update(_left_over(wiring, part_id, numbers))
    return found


def _gate(wiring: Wiring, part_id: str) -> dict[str, tuple[str, bool | None]]:
    """The gate of a transistor in a supply: its one line beside what it joins.

    Taken as on when low, as a p-channel switch before a load is (common practice); of an n-channel
    one with its gate pulled up nothing is said.
    """
    ends = set(wiring.outputs.get(part_id, frozenset()))
    ends.update(one.from_net or "" for _, one in wiring.feeders_with(part_id))
    lines = [net for net in wiring.signal_nets(part_id) if net not in ends]
    if len(lines) != 1 or len(wiring.nets(part_id)) != 3:
        return {}
    pins = [pad for pad in wiring.pads_of[part_id] if pad.net == lines[0]]
    return {lines[0]: (pins[0].pin_name or pins[0].pin, False)}


def _lets_charge(wiring: Wiring, part_id: str, pin_name: str) -> bool:
    """Whether a charger's pin switches all that it makes.

    EN1 and EN2 choose a current; where the charger also passes the supply on to the device, CE
    stops the charging alone (common practice).
    """
    feeds = [rail for rail, one in wiring.feeders_with(part_id) if one.part_id == part_id]
    return pin_name.upper().strip("~{}/#_NB").startswith("CE") and len(feeds) == 1


def _left_over(
    wiring: Wiring, part_id: str, numbers: dict[str, str]
) -> dict[str, tuple[str, bool | None]]:
    """The enable of a small converter without pin names, as what is left of its pins.

    A supply that is neither input nor output, or a line pulled up to the input and not divided
    from the output. A second supply pin is needed as well, so that a mistake is none here.
    """
    feeders = [one for _, one in wiring.feeders_with(part_id) if one.part_id == part_id]
    ends = {one.from_net for one in feeders} | wiring.outputs.get(part_id, frozenset())
    if None in ends:
        return {}
    for net in wiring.live_nets(part_id):
        if net in wiring.tree.by_net and net not in ends:
            return {net: (numbers[net], None)}
    inputs = {one.from_net for one in feeders}
    outputs = wiring.outputs.get(part_id, frozenset())
    for net in wiring.live_nets(part_id):
        if net in ends or wiring.is_power(net) or wiring.kind(net) == "switch-node":
            continue
        ends_here = {
            other
            for one in wiring.parts(net)
            if wiring.role(one) == "resistor"
            for other in wiring.nets(one)
        }
        if ends_here & inputs and not ends_here & outputs:
            return {net: (numbers[net], None)}
    return {}


def outputs_by_pin(
    wiring: Wiring, part_id: str, pins: dict[str, tuple[str, bool | None]]
) -> dict[str, str]:
    """Enable's net -> the rail whose pin ends on the same number (EN2, OUT2 or SW2)."""
    made = wiring.outputs.get(part_id, frozenset())
    nodes = {
        one.net: one.out_net
        for one in wiring.tree.switch_nodes
        if one.converter == part_id and one.out_net
    }
    by_tail: dict[str, str] = {}
    for pad in wiring.pads_of[part_id]:
        name = pad.pin_name.upper()
        rail = pad.net if pad.net in made else nodes.get(pad.net or "")
        if (
            rail
            and name[-1:].isdigit()
            and name.startswith(("OUT", "VOUT", "SW", "LX", "VO", "LDO", "BUCK"))
        ):
            by_tail[name[-1]] = rail
    return {net: by_tail[pin[-1]] for net, (pin, _) in pins.items() if pin[-1:] in by_tail}
