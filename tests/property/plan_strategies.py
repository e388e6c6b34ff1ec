# SPDX-License-Identifier: GPL-3.0-or-later
"""Random boards with random roles and rail trees: wild ones, where anything goes, and plausible
ones, grown from an entry, in which needed supplies live and there is something to advise.
"""

from __future__ import annotations

from typing import get_args

from hypothesis import strategies as st

from netgraph.model import Board, BoardBuilder
from netgraph.rails.tree import Feeder, Rail, RailKind, RailTree
from netgraph.roles.answer import ROLES, NetKind, NetRole, PartRole, Role, Roles

Drawn = tuple[Board, Roles, RailTree]

RAIL_KINDS: tuple[RailKind, ...] = get_args(RailKind)
POWER_KINDS: tuple[NetKind, ...] = ("rail", "rail", "rail", "reference")
SIGNAL_KINDS: tuple[NetKind, ...] = ("signal", "signal", "bus", "reset", "clock", "enable")
CONFIDENCES = st.sampled_from((0.2, 0.5, 0.6, 0.9, 0.99))
VOLTS = st.sampled_from((None, 0.6, 0.9, 1.2, 1.8, 3.3, 3.8, 5.0, 19.0))

TWO_PINS: tuple[Role, ...] = (
    *("capacitor", "capacitor", "capacitor", "resistor", "resistor", "ferrite", "link"),
    *("fuse", "sense-resistor", "inductor", "diode", "tvs", "led", "crystal", "thermistor"),
)
MANY_PINS: tuple[Role, ...] = (
    *("processor", "memory", "storage", "eeprom", "boot-flash", "power-manager", "regulator"),
    *("charger", "load-switch", "transistor", "radio", "sensor", "connector", "unknown"),
    *("esd-array", "analog-switch", "other"),
)


@st.composite
def wild_boards(draw: st.DrawFn) -> Drawn:
    """Two to seven rails, up to five signals, up to eighteen parts, roles of any confidence."""
    rails = [f"V{n}" for n in range(draw(st.integers(2, 7)))]
    signals = [f"S{n}" for n in range(draw(st.integers(0, 5)))]
    nets = ["GND", *rails, *signals]
    builder = BoardBuilder("random")
    for name in nets:
        builder.add_net(name)
    parts: dict[str, PartRole] = {}
    for n in range(draw(st.integers(2, 18))):
        many = draw(st.booleans())
        role = draw(st.sampled_from(MANY_PINS if many else TWO_PINS))
        ref = f"P{n}"
        index = builder.add_part(ref)
        for pin in range(draw(st.integers(3, 6)) if many else 2):
            name = draw(st.sampled_from(nets))
            builder.add_pad(index, str(pin + 1), name, x_nm=n * 3_000_000, y_nm=pin * 1_000_000)
        parts[ref] = PartRole(
            ref,
            role,
            draw(CONFIDENCES),
            ohm=draw(st.sampled_from((None, 0.0, 33.0, 150.0, 1e4)))
            if role == "resistor"
            else None,
            farad=draw(st.sampled_from((None, 1e-8, 1e-7, 1e-6))) if role == "capacitor" else None,
        )
    board = builder.freeze()
    fitted = frozenset(ref for ref in parts if draw(st.integers(0, 9)))
    found = {"GND": NetRole("GND", "ground", 0.99)}
    tree_rails = []
    for name in rails:
        volts, confidence = draw(VOLTS), draw(CONFIDENCES)
        kind: NetKind = draw(st.sampled_from(POWER_KINDS))
        found[name] = NetRole(name, kind, confidence, volts)
        if draw(st.integers(0, 7)) == 0:
            continue
        touching = [one for one in board.parts_on_net[name] if parts[one].role != "capacitor"]
        feeders = []
        made: RailKind = draw(st.sampled_from(RAIL_KINDS))
        for part_id in draw(st.lists(st.sampled_from(touching), max_size=2)) if touching else ():
            others = [one for one in board.nets_of_part[part_id] if one in rails and one != name]
            source = draw(st.sampled_from([*others, None]))
            feeders.append(Feeder(part_id, source, made, draw(CONFIDENCES)))
        loads = tuple(one for one in touching if draw(st.booleans()))
        tree_rails.append(Rail(name, made, volts, tuple(feeders), (), loads, confidence=confidence))
    for name in signals:
        found[name] = NetRole(name, draw(st.sampled_from(SIGNAL_KINDS)), draw(CONFIDENCES))
    return board, Roles(parts, found, fitted), RailTree(("GND",), tuple(tree_rails))


FEEDER_ROLES: dict[Role, RailKind] = {
    "regulator": "linear",
    "ferrite": "filtered",
    "link": "filtered",
    "fuse": "filtered",
    "sense-resistor": "filtered",
    "diode": "filtered",
    "load-switch": "switched",
    "transistor": "switched",
    "power-manager": "buck",
}
MOSTLY_SURE = st.sampled_from((0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.5))
LOADS: tuple[Role, ...] = (
    *("processor", "storage", "radio", "sensor", "audio", "level-shifter", "regulator"),
    *("connector", "unknown", "transistor"),
)


@st.composite
def plausible_boards(draw: st.DrawFn) -> Drawn:
    """Rails in a tree below one entry, now and then with a second feeder, a cycle or a gap."""
    builder = BoardBuilder("plausible")
    parts: dict[str, PartRole] = {}

    def add(role: Role, *nets: str, ohm: float | None = None, farad: float | None = None) -> str:
        ref = f"P{len(parts)}"
        index = builder.add_part(ref)
        for pin, net in enumerate(nets):
            builder.add_pad(
                index, str(pin + 1), net, x_nm=len(parts) * 3_000_000, y_nm=pin * 1_000_000
            )
        sure = 0.9 if role in ("processor", "connector") else draw(MOSTLY_SURE)
        parts[ref] = PartRole(ref, role, sure, ohm=ohm, farad=farad)
        return ref

    count = draw(st.integers(1, 6))
    rails = [f"V{n}" for n in range(count)]
    signals = [f"S{n}" for n in range(draw(st.integers(1, 6)))]
    feeding: dict[str, list[Feeder]] = {rail: [] for rail in rails}
    for rail in rails:
        builder.add_net(rail)
    add("connector", "V0", "GND")
    for n, rail in enumerate(rails[1:], start=1):
        for _ in range(draw(st.sampled_from((1, 1, 1, 1, 2, 0)))):
            # From below, as a rule; once in a while from anywhere, which makes cycles.
            source = rails[draw(st.integers(0, n - 1))]
            if draw(st.integers(0, 9)) == 0:
                source = draw(st.sampled_from([one for one in rails if one != rail]))
            role = draw(st.sampled_from(sorted(FEEDER_ROLES)))
            more = ("GND",) if role in ("regulator", "power-manager", "load-switch") else ()
            ref = add(role, source, rail, *more)
            known = source if draw(st.integers(0, 5)) else None
            feeding[rail].append(Feeder(ref, known, FEEDER_ROLES[role], draw(MOSTLY_SURE)))
    add("processor", draw(st.sampled_from(rails)), "GND", *signals[:3])
    for _ in range(draw(st.integers(2, 14))):
        rail = draw(st.sampled_from(rails))
        role = draw(st.sampled_from((*TWO_PINS, *LOADS)))
        signal = draw(st.sampled_from([*signals, f"N{len(parts)}"]))
        if role == "capacitor":
            add(role, rail, "GND", farad=draw(st.sampled_from((None, 1e-7, 1e-6))))
        elif role in LOADS:
            add(role, rail, "GND", signal)
        elif role in ("tvs", "crystal"):
            add(role, rail if role == "tvs" else signal, "GND")
        else:
            to = draw(st.sampled_from((signal, signal, "GND", rails[-1])))
            add(role, rail, to, ohm=draw(st.sampled_from((None, 10.0, 1e4))))
    board = builder.freeze()
    found = {net.name: NetRole(net.name, "signal", 0.9) for net in board.nets}
    found["GND"] = NetRole("GND", "ground", 0.99)
    tree = []
    for n, rail in enumerate(rails):
        volts = draw(st.sampled_from((0.9, 1.1, 1.8, 3.3, 5.0, 5.0, None)))
        found[rail] = NetRole(rail, "rail", 0.9, volts)
        fed = tuple(feeding[rail])
        kind: RailKind = "entry" if n == 0 else (fed[0].kind if fed else "unknown")
        tree.append(Rail(rail, kind, volts, fed, confidence=0.9))
    fitted = frozenset(ref for ref in parts if draw(st.integers(0, 15)))
    return board, Roles(parts, found, fitted), RailTree(("GND",), tuple(tree))


def boards() -> st.SearchStrategy[Drawn]:
    """One wild board for every two plausible ones."""
    return st.sampled_from((0, 1, 1)).flatmap(
        lambda plausible: plausible_boards() if plausible else wild_boards()
    )


def pairs_of_nets(board: Board) -> st.SearchStrategy[tuple[str, str]]:
    """Two nets of the board that a deposit may join."""
    names = st.sampled_from([net.name for net in board.nets])
    return st.tuples(names, names)


assert set(TWO_PINS) | set(MANY_PINS) <= set(ROLES)
