# SPDX-License-Identifier: GPL-3.0-or-later
"""Who sits on a net, and how: in series, as a shunt, as a load, as a source, as a sense line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from netgraph.model.board import Board
from netgraph.rails.power_pins import use_of_pin
from netgraph.rails.tree import RailTree
from netgraph.roles.answer import Role, Roles
from netgraph.roles.wiring import Wiring

Connection = Literal["series", "shunt", "load", "source", "sense"]

_SERIES: frozenset[Role] = frozenset(("ferrite", "fuse", "link", "inductor", "sense-resistor"))
_SHUNT: frozenset[Role] = frozenset(("capacitor", "tvs", "esd-array"))
SENSE_OHM = 1000.0
"""Resistors from here on only look at a rail (dividers, pull-ups): common practice, no source."""


@dataclass(frozen=True, slots=True)
class RailMember:
    """One fitted part on a net: its pins there, how it hangs on it, and its other nets."""

    part_id: str
    role: Role
    pins: tuple[str, ...]
    connection: Connection
    other_nets: tuple[str, ...]


def rail_members(board: Board, roles: Roles, tree: RailTree, net: str) -> tuple[RailMember, ...]:
    """All fitted parts with a pad on a net, in board order.

    Parameters
    ----------
    net
        Any net's name; on a net that is no rail no part is a ``source``.

    Raises
    ------
    UnknownNameError
        The board has no such net.
    """
    index = board.net(net).index
    wiring = Wiring(board, roles.fitted)
    rail = tree.by_net.get(net)
    sources = {one.part_id for one in rail.feeders} if rail else set()
    through = {part for one in rail.feeders for part in one.through} if rail else set()
    grounds = set(tree.grounds)
    found = []
    for part in wiring.parts[index]:
        own = board.parts[part]
        others = tuple(name for name in board.nets_of_part[own.id] if name != net)
        role = roles.parts[own.id].role
        if own.id in sources:
            connection: Connection = "source"
        elif own.id in through:
            connection = "series"
        elif rail is not None and rail.kind == "entry" and _brings_in(role, rail.reasons, own.id):
            connection = "source"
        else:
            connection = _connection(
                role, roles, own.id, others, grounds, tree, wiring, part, index
            )
        found.append(RailMember(own.id, role, board.pins_on_net(own.id, net), connection, others))
    return tuple(found)


def _brings_in(role: Role, reasons: tuple[object, ...], part_id: str) -> bool:
    said = [getattr(why, "params", ()) for why in reasons[:1]]
    return role in ("connector", "battery", "slot") and any(("ref", part_id) in p for p in said)


def _connection(
    role: Role,
    roles: Roles,
    part_id: str,
    others: tuple[str, ...],
    grounds: set[str],
    tree: RailTree,
    wiring: Wiring,
    part: int,
    net: int,
) -> Connection:
    to_ground = any(name in grounds for name in others)
    onward = [name for name in others if name not in grounds]
    if role in _SHUNT and (to_ground or not onward):
        return "shunt"
    untraced = wiring.board.partial and not others
    if role in _SERIES:
        return "series" if onward or untraced else "shunt"
    if role == "diode":
        return "series" if onward and not to_ground else "shunt"
    if role == "transistor":
        return "series" if any(name in tree.by_net for name in onward) else "load"
    if role in ("resistor", "thermistor"):
        ohm = roles.parts[part_id].ohm
        if onward and ohm is not None and ohm < SENSE_OHM:
            return "series"
        return "sense" if onward or ohm is None or ohm >= SENSE_OHM else "shunt"
    if role == "capacitor":
        return "sense"
    if role in ("test-point", "mechanical"):
        return "sense"
    uses = {use_of_pin(pin) for pin in wiring.pins_on(part, net)}
    if uses and uses <= {"sense", "enable"}:
        return "sense"
    return "load"
