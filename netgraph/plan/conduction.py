# SPDX-License-Identifier: GPL-3.0-or-later
"""Which nets come alive when one net is fed from outside while everything is off.

Walks from net to net over whatever may conduct: wires in all but name (links, ferrites, inductors,
fuses, sense resistors, resistors up to 150 ohm, net ties), junctions in the direction in which they
may conduct, converters that are off (backwards through their body diodes), and bridges that are
still believed in. Where a direction can't be told both are taken: too many nets lower the
ceiling, too few burn a chip. Converters that may start once their input is fed are followed last:
they hold their outputs at their own volts, so they lower no ceiling, but what lies behind them is
alive all the same.
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import permutations
from typing import Final, Literal

from netgraph.plan.wiring import NOT_CHIPS, PASSIVES, POWER_CHIPS, SERIES_ROLES, SMALL_OHM, Wiring
from netgraph.roles.answer import LIKELY, Role

_SENSE_PIN: Final = re.compile(
    r"I(?:P|N|S)?_?\d?[+-]|I(?:P|N)_?[PN]?\d?|V?IN[+-]|SH(?:UNT)?[+-]", re.I
)
"""Pins between which a current sensor's own conductor lies (from memory)."""

_SENSES: Final = re.compile(r"hall|current[ _-]?(?:sens|mon)|shunt[ _-]?mon", re.IGNORECASE)
_ZENER: Final = re.compile(
    r"zener|(?<![A-Z0-9])(?:BZ[XTV]|MMSZ|MM3Z|TZM|1SMA59|DDZ|PDZ)", re.IGNORECASE
)
"""Words and series of diodes that are made to break down backwards (from memory)."""

_SMALL_CHIP_PADS: Final = 10
BRIDGE: Final = "bridge"
"""What stands in `through` for a deposit, as opposed to a part's identity."""

_BACKWARDS: Final = frozenset({"buck", "linear", "switched", "reference"})
_JOINS_ALL: Final[frozenset[Role]] = SERIES_ROLES | frozenset[Role](
    {"bridge-rectifier", "transformer", "switch", "battery"}
)
_ANODE = re.compile(r"A\d*|ANODE|\+?A")
_CATHODE = re.compile(r"K\d*|C|CATHODE|-?K")


@dataclass(frozen=True, slots=True)
class Edge:
    """Current may pass from net `a` to net `b` through this part; `hard` if it counts."""

    a: str
    b: str
    through: str
    hard: bool = True


How = Literal["conducts", "resistor", "converter"]
"""Over conducting parts; behind a resistor above 150 ohm; forwards by a converter that starts."""


@dataclass(frozen=True, slots=True)
class Powered:
    """A net that comes alive, what the last step went through, and how.

    Only nets reached over conducting parts (`hard`) may be counted for the ceiling.
    """

    net: str
    through: str
    from_net: str
    how: How

    @property
    def hard(self) -> bool:
        """Whether the way leads over conducting parts alone."""
        return self.how == "conducts"


def conducting_edges(wiring: Wiring, bridges: Iterable[tuple[str, str]] = ()) -> list[Edge]:
    """All ways current may take on the unpowered board, one edge a direction.

    Grounds are no way: current that reaches ground is gone.

    Raises
    ------
    UnknownNameError
        A bridge names a net the board does not have.
    """
    edges: list[Edge] = []
    for a, b in bridges:
        for name in (a, b):
            wiring.board.net(name)
        edges += [Edge(a, b, BRIDGE), Edge(b, a, BRIDGE)]
    for tie in wiring.board.net_ties:
        # Copper joins these pins whether or not the part itself is there.
        nets = [pad.net for pad in wiring.pads_of[tie.part_id] if pad.pin in tie.pins]
        edges += _all_pairs(tie.part_id, [net for net in nets if net is not None])
    for part in wiring.board.parts:
        if part.id in wiring.fitted:
            edges += _part_edges(wiring, part.id)
    edges += _parallel_edges(wiring)
    edges += _converter_edges(wiring)
    return [
        edge
        for edge in edges
        if edge.a != edge.b and edge.a not in wiring.grounds and edge.b not in wiring.grounds
    ]


def _all_pairs(part_id: str, nets: Iterable[str], *, hard: bool = True) -> list[Edge]:
    unique = dict.fromkeys(nets)
    return [Edge(a, b, part_id, hard) for a, b in permutations(unique, 2)]


def _parallel_edges(wiring: Wiring) -> list[Edge]:
    """Large resistors side by side between two nets that together are a small one."""
    siemens: dict[tuple[str, str], list[tuple[str, float]]] = {}
    for part in wiring.board.parts:
        role = wiring.part_role(part.id)
        nets = wiring.live_nets(part.id)
        if part.id in wiring.fitted and role.role == "resistor" and len(nets) == 2 and role.ohm:
            a, b = sorted(nets)
            siemens.setdefault((a, b), []).append((part.id, 1.0 / role.ohm))
    return [
        edge
        for nets, found in siemens.items()
        if len(found) > 1 and sum(one for _, one in found) * SMALL_OHM >= 1.0
        for edge in _all_pairs(found[0][0], nets)
    ]


def _part_edges(wiring: Wiring, part_id: str) -> list[Edge]:
    role = wiring.part_role(part_id)
    nets = wiring.live_nets(part_id)
    if len(nets) < 2:
        return []
    if role.role in _JOINS_ALL:
        return _all_pairs(part_id, nets)
    if role.role in ("resistor", "thermistor"):
        return _all_pairs(part_id, nets, hard=role.ohm is None or role.ohm <= SMALL_OHM)
    if role.role in ("diode", "led", "tvs"):
        return diode_edges(wiring, part_id)
    if role.role == "transistor":
        gates = {net for net in nets if set(wiring.pin_names(part_id, net)) == {"G"}}
        return _all_pairs(part_id, [net for net in nets if net not in gates])
    if role.role == "analog-switch":
        lines = [net for net in nets if not wiring.is_power(net)]
        return _all_pairs(part_id, lines) + _pin_junctions(wiring, part_id)
    if role.role == "esd-array" or role.role not in NOT_CHIPS:
        if role.role in ("unknown", "other") and len(nets) == 2 and not _is_big(wiring, part_id):
            # A two-net part of unknown kind may be a ferrite or a diode as well as anything.
            return _all_pairs(part_id, nets)
        if len(nets) >= 2 and not wiring.is_sure(part_id) and not wiring.outputs.get(part_id):
            return _pin_junctions(wiring, part_id) + _through_unknown(wiring, part_id)
        if _SENSES.search(wiring.board.part(part_id).value) or role.role == "sensor":
            return _pin_junctions(wiring, part_id) + _sense_edges(wiring, part_id)
        return _pin_junctions(wiring, part_id)
    return []


def _through_unknown(wiring: Wiring, part_id: str) -> list[Edge]:
    """A small chip that nobody could tell, between two supplies: it may switch or regulate."""
    supplies = [net for net in wiring.live_nets(part_id) if wiring.is_power(net)]
    if len(supplies) < 2 or len(wiring.pads_of[part_id]) > _SMALL_CHIP_PADS:
        return []
    return _all_pairs(part_id, supplies)


def _sense_edges(wiring: Wiring, part_id: str) -> list[Edge]:
    """The way of the current through a current sensor: IP+ to IP-, IN+ to IN-."""
    ways = [
        net
        for net in wiring.live_nets(part_id)
        if any(_SENSE_PIN.fullmatch(name) for name in wiring.pin_names(part_id, net))
    ]
    return _all_pairs(part_id, ways)


def _is_big(wiring: Wiring, part_id: str) -> bool:
    return len(wiring.pads_of[part_id]) > 4


def diode_edges(wiring: Wiring, part_id: str) -> list[Edge]:
    """Anode to cathode where all pins are named, one of them common; else all ways."""
    sides: dict[str, set[str]] = {"anode": set(), "cathode": set()}
    for pad in wiring.pads_of[part_id]:
        if pad.net is None:
            continue
        name = (pad.pin_name or pad.pin).upper()
        if _ANODE.fullmatch(name):
            sides["anode"].add(pad.net)
        elif _CATHODE.fullmatch(name):
            sides["cathode"].add(pad.net)
    nets = wiring.nets(part_id)
    anodes, cathodes = sides["anode"], sides["cathode"]
    told = anodes | cathodes == set(nets) and not anodes & cathodes
    breaks = _ZENER.search(wiring.board.part(part_id).value)
    if (
        wiring.role(part_id) != "tvs"
        and not breaks
        and told
        and min(len(anodes), len(cathodes)) == 1
    ):
        return [Edge(a, k, part_id) for a in sorted(anodes) for k in sorted(cathodes)]
    return _all_pairs(part_id, nets)


def _pin_junctions(wiring: Wiring, part_id: str) -> list[Edge]:
    """From each signal pin of a chip to all of its supplies: the clamp diode inside.

    Which supply a pin belongs to is no fact of the netlist, so all of them may come alive.
    """
    # A supply chip's own outputs are not what its pins clamp to.
    outputs = wiring.outputs.get(part_id, frozenset())
    supplies = [net for net in supply_nets(wiring, part_id) if net not in outputs]
    return [
        Edge(net, supply, part_id)
        for net in wiring.live_nets(part_id)
        if net not in supplies
        and net not in outputs
        # A converter's switch node conducts to its input: its feeder says which that is.
        and not (outputs and wiring.kind(net) == "switch-node")
        for supply in supplies
    ]


def supply_nets(wiring: Wiring, part_id: str) -> tuple[str, ...]:
    """Nets by which a chip is supplied: rails, references, and pins typed as supply inputs."""
    typed = {pad.net for pad in wiring.pads_of[part_id] if pad.pin_type.startswith("power_in")}
    return tuple(net for net in wiring.live_nets(part_id) if wiring.is_power(net) or net in typed)


def _converter_edges(wiring: Wiring) -> list[Edge]:
    edges: list[Edge] = []
    for rail, feeder in wiring.feeders():
        others = [feeder.from_net]
        if feeder.from_net is None:
            outputs = wiring.outputs.get(feeder.part_id, frozenset())
            others = [net for net in supply_nets(wiring, feeder.part_id) if net not in outputs]
        sure = feeder.confidence >= LIKELY
        if not sure and feeder.kind in _BACKWARDS and _is_manager(wiring, feeder.part_id):
            # An output of a power manager, off, conducts to the input it is made from. Which of
            # its inputs that is may be wrong, but the direction isn't.
            inputs = dict.fromkeys([*others, *_inputs(wiring, feeder.part_id)])
            edges += [Edge(rail.net, one, feeder.part_id) for one in inputs if one is not None]
            continue
        for other in others:
            if other is None:
                continue
            back = Edge(rail.net, other, feeder.part_id)
            forth = Edge(other, rail.net, feeder.part_id)
            if sure and feeder.kind in _BACKWARDS:
                edges.append(back)
            elif sure and feeder.kind == "boost":
                edges.append(forth)
            elif wiring.role(feeder.part_id) in ("resistor", "diode", "led"):
                # Their own edges say more: the value, the direction.
                continue
            elif (
                sure
                and feeder.kind == "charger"
                and wiring.is_inner_supply(rail.net, feeder.part_id)
            ) or (feeder.from_net is None and wiring.role(feeder.part_id) not in POWER_CHIPS):
                # A supply that a chip makes for itself inside: alive only when the chip runs.
                edges.append(back)
            else:
                edges += [back, forth]
    for node in wiring.tree.switch_nodes:
        if node.converter not in wiring.fitted:
            continue
        inside = {
            "buck": [(node.net, node.in_net)],
            "boost": [(node.net, node.out_net)],
            "unknown": [(node.net, node.in_net), (node.net, node.out_net)],
        }[node.kind]
        edges += [Edge(a, b, node.converter) for a, b in inside if b is not None]
    edges += _charger_edges(wiring)
    feeding = set(wiring.outputs)
    for part_id in wiring.fitted - feeding:
        if wiring.role(part_id) in POWER_CHIPS:
            # A power chip that the rail tree could not place: its inside is not known.
            edges += _all_pairs(part_id, supply_nets(wiring, part_id))
    return edges


def _is_manager(wiring: Wiring, part_id: str) -> bool:
    """Whether the part is surely a power manager: a chip with many outputs from few inputs."""
    return wiring.role(part_id) == "power-manager" and wiring.is_sure(part_id)


def _inputs(wiring: Wiring, part_id: str) -> list[str]:
    """Supplies of a power manager that it doesn't make itself."""
    outputs = wiring.outputs.get(part_id, frozenset())
    return [net for net in supply_nets(wiring, part_id) if net not in outputs]


def _charger_edges(wiring: Wiring) -> list[Edge]:
    """A charger's switches join input, system and cell, whichever way the tree has them.

    Whether the switch between cell and system conducts without a key is a hypothesis (bench
    practice 4), and its body diode always does: all supplies but those the charger makes for
    itself count both ways.
    """
    edges: list[Edge] = []
    for part_id in wiring.fitted:
        made = wiring.outputs.get(part_id, frozenset())
        nets = [
            net
            for net in supply_nets(wiring, part_id)
            if net not in made or not wiring.is_inner_supply(net, part_id)
        ]
        if wiring.role(part_id) == "charger":
            edges += _all_pairs(part_id, nets)
        elif wiring.role(part_id) == "power-manager":
            charged = {
                name
                for rail, feeder in wiring.feeders_with(part_id)
                if feeder.part_id == part_id and feeder.kind == "charger"
                for name in (rail.net, feeder.from_net)
                if name is not None
            }
            cells = [
                net
                for net in nets
                if any(wiring.role(one) == "battery" for one in wiring.parts(net))
                or (charged and wiring.tree.by_net.get(net) and _is_entry(wiring, net))
            ]
            edges += _all_pairs(part_id, sorted({*charged, *cells}))
    return edges


def _is_entry(wiring: Wiring, net: str) -> bool:
    rail = wiring.tree.by_net.get(net)
    return rail is not None and rail.kind == "entry"


def powered_nets(
    wiring: Wiring, net: str, bridges: Iterable[tuple[str, str]] = ()
) -> dict[str, Powered]:
    """Nets that may come alive when `net` is fed, by name, without `net` itself.

    A net reached both ways, over parts that count and behind a larger resistor, counts. Behind a
    larger resistor only plain series parts are followed further: its current is too small to
    carry a chip.
    """
    ways: dict[str, list[Edge]] = {}
    for edge in conducting_edges(wiring, bridges):
        ways.setdefault(edge.a, []).append(edge)
    found: dict[str, Powered] = {}
    waiting = deque([net])
    while waiting:
        here = waiting.popleft()
        for edge in ways.get(here, ()):
            if edge.hard and edge.b != net and edge.b not in found:
                found[edge.b] = Powered(edge.b, edge.through, here, "conducts")
                waiting.append(edge.b)
    soft = deque([net, *found])
    while soft:
        here = soft.popleft()
        weak = here in found and not found[here].hard
        for edge in ways.get(here, ()):
            if edge.b == net or edge.b in found:
                continue
            plain = wiring.role(edge.through) in SERIES_ROLES if edge.through != BRIDGE else True
            if weak and not (edge.hard and plain):
                continue
            found[edge.b] = Powered(edge.b, edge.through, here, "resistor")
            soft.append(edge.b)
    _follow_converters(wiring, net, found, ways)
    return found


def _follow_converters(
    wiring: Wiring, net: str, found: dict[str, Powered], ways: dict[str, list[Edge]]
) -> None:
    """Add what converters feed once their input is up, and what plain parts pass on from there."""
    fed_from: dict[str, list[tuple[str, str]]] = {}
    for rail, feeder in wiring.feeders():
        inputs = [feeder.from_net]
        if feeder.from_net is None:
            inputs = list(wiring.supplies(feeder.part_id))
        for one in inputs:
            if one is not None:
                fed_from.setdefault(one, []).append((rail.net, feeder.part_id))
    waiting = deque([net, *(one.net for one in found.values() if one.hard)])
    while waiting:
        here = waiting.popleft()
        onwards = list(fed_from.get(here, ()))
        if here in found and not found[here].hard:
            onwards += [(edge.b, edge.through) for edge in ways.get(here, ()) if edge.hard]
        for name, through in onwards:
            known = found.get(name)
            if name == net or not wiring.is_power(name) or (known and known.how != "resistor"):
                continue
            if known and wiring.role(through) in PASSIVES:
                # A divider follows at once, at its own share.
                continue
            found[name] = Powered(name, through, here, "converter")
            waiting.append(name)
