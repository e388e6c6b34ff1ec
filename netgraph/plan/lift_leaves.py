# SPDX-License-Identifier: GPL-3.0-or-later
"""Parts that only hang on lines of kept parts: a sensor on a bus, an indicator, a level shifter.

Such a part may go when nothing kept is reached through it and it drives no reset, enable or clock
of a kept part. What is left without a driver is named, with the net to pull it to.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from netgraph.plan.enable_pins import pads_at
from netgraph.plan.lift_types import Floating, LiftState
from netgraph.plan.wiring import POWER_CHIPS, Wiring, name_list
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import NetKind, Role

_LISTENERS: Final[frozenset[Role]] = frozenset(
    {"sensor", "audio", "haptic", "motor-driver", "amplifier", "microphone", "speaker", "radio"}
)
"""They take clocks, resets and enables and give none to the processor, but for reference clocks
(common practice).
"""

LEAF_ROLES: Final[frozenset[Role]] = _LISTENERS | frozenset[Role](
    {
        "network",
        "interface",
        "level-shifter",
        "analog-switch",
        "display-driver",
        "optocoupler",
        "other",
        "led",
        "connector",
        "slot",
        "esd-array",
        "tvs",
    }
)
"""Roles of which a part may be a leaf. Not among them: fuel gauges, without which many devices do
not start (bench practice 1.5), supervisors and logic, which hold resets, and what is not known.
"""

_CARRIERS: Final[frozenset[Role]] = frozenset(
    {"interface", "level-shifter", "analog-switch", "other", "network", "optocoupler"}
)
_DEPTH: Final = 4
_TWO_WIRE = re.compile(r"scl|sda|i2c|twi", re.I)

_NO_PEERS: Final[frozenset[Role]] = POWER_CHIPS | frozenset[Role]({"oscillator", "crystal"})

_CONTROL: Final[frozenset[NetKind]] = frozenset({"reset", "enable", "clock"})
_BUS_LINE = re.compile(r"scl|sda|sck|sclk|mosi|miso|twi|i2c", re.I)
"""Lines of a bus whose master is the kept chip; their clock is no clock to start by."""
_GIVEN = re.compile(r"ref|osc|xtal|32k", re.I)
_STRAP = re.compile(r"boot|strap|reset|rst|por_?[bn]?$", re.I)
_ACTIVE_LOW = re.compile(r"(_N|_B|#|\\+|/)$|^(n[A-Z]|~)", re.ASCII)


def find_obstacle(
    state: LiftState, part_id: str, shared: Mapping[str, tuple[str, ...]]
) -> Reason | None:
    """Why a part on lines of kept parts can't be called a leaf; None when it is one.

    Parameters
    ----------
    shared
        Its nets with kept parts on or near them, as `LiftState.shared_nets` gives them.
    """
    wiring = state.wiring
    role = wiring.role(part_id)
    chips = name_list(one for kept in shared.values() for one in kept)
    way_out = role in ("network", "interface", "connector", "slot")
    if role not in LEAF_ROLES or (way_out and not _has_port(state)):
        return reason("load-shares", part=part_id, nets=name_list(shared), chips=chips)
    if role == "display-driver" and any("screen" in item.function for item in state.keeps.items):
        return reason("load-shares", part=part_id, nets=name_list(shared), chips=chips)
    passed = _NO_PEERS if role in _LISTENERS else POWER_CHIPS
    ends = _ends(wiring, shared, passed)
    if role in _CARRIERS:
        ends |= _reached(state, part_id, shared)
    if ends:
        return reason("load-bridges", part=part_id, chips=name_list(ends))
    driven = [net for net in shared if _may_drive(state, part_id, net)]
    if driven:
        return reason("load-may-drive", part=part_id, nets=name_list(driven), chips=chips)
    return None


def _has_port(state: LiftState) -> bool:
    """Whether the data have another way out than this part."""
    return any(item.function == "port to the host" for item in state.keeps.items)


def _ends(
    wiring: Wiring, shared: Mapping[str, tuple[str, ...]], passed: frozenset[Role]
) -> set[str]:
    """Kept chips and connectors that only this part may join: one on a net the other is not on.

    Roles in `passed` give a part its supply or clock and get nothing from it.
    """
    sets = {
        frozenset(
            one
            for one in kept
            if wiring.role(one) in ("connector", "slot", "switch")
            or (wiring.is_chip(one) and wiring.role(one) not in passed)
        )
        for kept in shared.values()
    }
    return {one for a in sets for b in sets if a - b and b - a for one in (*(a - b), *(b - a))}


def _reached(state: LiftState, part_id: str, shared: Mapping[str, tuple[str, ...]]) -> set[str]:
    """Kept chips and connectors behind the part's other lines that it doesn't meet directly.

    Walks through chips and passive parts that are not kept, at most four of them; control buses
    (two-wire) are no way for data and are not followed.
    """
    wiring = state.wiring
    met = {one for kept in shared.values() for one in kept}
    found: set[str] = set()
    seen = {part_id}
    nets = [net for net in wiring.signal_nets(part_id) if net not in shared]
    for _ in range(_DEPTH):
        following: list[str] = []
        for net in nets:
            for one in wiring.parts(net):
                if one in seen:
                    continue
                seen.add(one)
                if one in state.kept or _might_be_kept(wiring, one):
                    found.add(one)
                elif wiring.role(one) not in ("connector", "slot", "test-point"):
                    following += [
                        other for other in wiring.signal_nets(one) if not _TWO_WIRE.search(other)
                    ]
        nets = following
    return {
        one
        for one in found - met
        if wiring.is_chip(one) or wiring.role(one) in ("connector", "slot", "switch")
    }


def _might_be_kept(wiring: Wiring, part_id: str) -> bool:
    """Whether a chip's role leaves open that it holds the data."""
    return wiring.is_chip(part_id) and (
        wiring.role(part_id) == "unknown" or not wiring.is_sure(part_id)
    )


def _may_drive(state: LiftState, part_id: str, net: str) -> bool:
    """Whether the part may hold a control line of a kept part, for all the netlist says."""
    wiring = state.wiring
    role = wiring.role(part_id)
    short = net.rpartition("/")[2]
    if role in ("connector", "slot", "esd-array", "tvs", "led"):
        # They drive nothing themselves; what is plugged in is another question.
        return False
    if _BUS_LINE.search(short):
        return False
    types = {pad.pin_type for pad in wiring.pads_of[part_id] if pad.net == net}
    if types == {"input"}:
        return False
    supplier = any(wiring.role(one) in POWER_CHIPS for one in state.kept_near(net, part_id))
    kind = wiring.kind(net)
    if role in _LISTENERS:
        # A reset goes to it as to all others; an enable of a supply might come from it.
        return (supplier and kind not in ("reset", "bus")) or _GIVEN.search(short) is not None
    return supplier or kind in _CONTROL or _STRAP.search(short) is not None


def left_floating(
    state: LiftState, part_id: str, shared: Mapping[str, tuple[str, ...]]
) -> tuple[Floating, ...]:
    """Lines that nobody drives or pulls once the part is off."""
    wiring = state.wiring
    if wiring.role(part_id) in ("connector", "slot", "esd-array", "tvs", "led"):
        return ()
    found: list[Floating] = []
    for net in shared:
        stays = [one for one in wiring.parts(net) if one != part_id]
        chips = [one for one in stays if wiring.is_chip(one)]
        pulled = any(
            wiring.role(one) == "resistor"
            and any(
                other in wiring.grounds or wiring.is_power(other)
                for other in wiring.nets(one)
                if other != net
            )
            for one in stays
        )
        if len(chips) != 1:
            continue
        types = {kind for one, _, _, kind in pads_at(wiring, net) if one in chips}
        if not pulled and "output" not in types:
            found.append(Floating(net, _pull_to(state, part_id, chips[0], net)))
    return tuple(found)


def _pull_to(state: LiftState, part_id: str, chip: str, net: str) -> str | None:
    """A supply that both chips have for lines that are active low by name; else ground."""
    wiring = state.wiring
    if _ACTIVE_LOW.search(net.rpartition("/")[2]):
        both = set(wiring.supplies(part_id)) & set(wiring.supplies(chip))
        return min(both, key=lambda one: (wiring.nominal(one)[0] or 0.0, one), default=None)
    return min(wiring.grounds & set(wiring.nets(chip)), default=None)
