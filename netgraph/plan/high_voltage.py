# SPDX-License-Identifier: GPL-3.0-or-later
"""Which nets of high volts lie where a deposit could join them to a net of a kept chip.

A backlight boost, a flash or a power-over-Ethernet input next to a signal of the processor is how
a first power-up loses the data: each such pair is proved clear first (bench practice 1.5).
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np

from netgraph.plan.gaps import boxes_of, near_pairs, polygon_gaps, rectangle_corners
from netgraph.plan.keep_list import LIGHT_VOLTS
from netgraph.plan.wiring import IRREPLACEABLE_ROLES, Wiring

NEAR_NM: Final = 1_000_000
"""Pads further apart than this are not bridged by what a cleaned board still hides (our choice)."""

MAX_PAIRS: Final = 6
"""So many nets are asked for beside one of high volts, the nearest ones."""

_NAMED: Final = re.compile(r"(^|[^a-z])poe([^a-z]|$)|xenon|flash_?hv|hv_|_hv($|_)", re.I)


@dataclass(frozen=True, slots=True)
class Exposed:
    """A net of high volts (`net`) and a net of kept chips near it (`to`), with the pads to probe.

    `gap_mm` is None on a board without places; then the two share the part `ref`.
    """

    net: str
    to: str
    at_pad: str
    to_pad: str
    gap_mm: float | None
    chips: tuple[str, ...]


def high_voltage_nets(wiring: Wiring) -> tuple[str, ...]:
    """Nets that carry more than the chips stand: by kind, by a boost of 8 V or more, by name."""
    found: list[str] = []
    for net in wiring.board.nets:
        name = net.name
        if name in wiring.grounds:
            continue
        rail = wiring.tree.by_net.get(name)
        volts, _ = wiring.nominal(name)
        boosted = rail is not None and (
            rail.kind == "boost" or any(one.kind == "boost" for one in rail.feeders)
        )
        if (
            wiring.kind(name) == "high-voltage"
            or (boosted and (volts is None or volts >= LIGHT_VOLTS))
            or (_NAMED.search(name) is not None and wiring.is_power(name))
        ):
            found.append(name)
    return tuple(found)


def exposed_pairs(
    wiring: Wiring, kept: Collection[str], feed: str | None = None
) -> tuple[Exposed, ...]:
    """Pairs to prove clear: each net of high volts with the nets of kept chips beside it.

    Parameters
    ----------
    kept
        Parts the goal needs.
    feed
        The net that is fed: its own volts are no surprise.

    Returns
    -------
    tuple of Exposed
        At most six a net of high volts, the nearest first.
    """
    chips = {one for one in kept if wiring.role(one) in IRREPLACEABLE_ROLES}
    high = [net for net in high_voltage_nets(wiring) if net != feed]
    if not high or not chips:
        return ()
    guarded = _guarded_nets(wiring, chips, set(high))
    found: list[Exposed] = []
    for net in high:
        ties = _tied(wiring, net)
        beside = {one: names for one, names in guarded.items() if one not in ties}
        pairs = (
            _by_gap(wiring, net, beside) if wiring.is_placed() else _by_part(wiring, net, beside)
        )
        found += pairs[:MAX_PAIRS]
    return tuple(found)


def _guarded_nets(wiring: Wiring, chips: set[str], high: set[str]) -> dict[str, tuple[str, ...]]:
    """Nets on which an irreplaceable chip sits, or behind one two-net part from such a net."""
    on: dict[str, set[str]] = {}
    for chip in chips:
        for net in wiring.live_nets(chip):
            on.setdefault(net, set()).add(chip)
    for net, names in list(on.items()):
        if wiring.is_power(net):
            continue
        for part_id in wiring.parts(net):
            nets = wiring.live_nets(part_id)
            if len(nets) == 2 and len(wiring.nets(part_id)) == 2:
                other = nets[1] if nets[0] == net else nets[0]
                if not wiring.is_power(other):
                    on.setdefault(other, set()).update(names)
    return {net: tuple(sorted(names)) for net, names in on.items() if net not in high}


def _tied(wiring: Wiring, net: str) -> set[str]:
    """Nets joined to the net by design: what it is made from conducts into it anyway."""
    found: set[str] = {net}
    rail = wiring.tree.by_net.get(net)
    for feeder in rail.feeders if rail is not None else ():
        if feeder.from_net is not None:
            found.add(feeder.from_net)
    for part_id in wiring.parts(net):
        nets = wiring.nets(part_id)
        if len(nets) == 2 and wiring.role(part_id) != "capacitor":
            found.update(nets)
    return found


def _by_gap(wiring: Wiring, net: str, beside: dict[str, tuple[str, ...]]) -> list[Exposed]:
    c = wiring.board.columns
    ours = _touchable(wiring, [net])
    theirs = _touchable(wiring, beside)
    if not ours or not theirs:
        return []
    index = np.array([*ours, *theirs])
    corners = rectangle_corners(
        c.x_nm[index].astype(float),
        c.y_nm[index].astype(float),
        c.width_nm[index].astype(float),
        c.height_nm[index].astype(float),
        c.angle_deg[index],
    )
    boxes = boxes_of(corners)
    split = len(ours)
    pairs = near_pairs(boxes[:split], boxes[split:], float(NEAR_NM))
    if not len(pairs):
        return []
    gaps = polygon_gaps(corners[pairs[:, 0]], corners[split + pairs[:, 1]])
    best: dict[str, tuple[float, Exposed]] = {}
    for (a, b), gap in zip(pairs.tolist(), gaps.tolist(), strict=True):
        one, two = wiring.board.pad(ours[a]), wiring.board.pad(theirs[b])
        sides = {one.copper_side, two.copper_side}
        if gap > NEAR_NM or sides == {"top", "bottom"} or two.net is None:
            continue
        if two.net in best and best[two.net][0] <= gap:
            continue
        best[two.net] = (
            gap,
            Exposed(
                net,
                two.net,
                f"{one.part_id}.{one.pin}",
                f"{two.part_id}.{two.pin}",
                round(gap / 1e6, 2),
                beside[two.net],
            ),
        )
    return [one for _, one in sorted(best.values(), key=lambda pair: (pair[0], pair[1].to))]


def _touchable(wiring: Wiring, nets: Iterable[str]) -> list[int]:
    board = wiring.board
    fitted = wiring.fitted
    c = board.columns
    return [
        index
        for name in nets
        for index in board.pads_on_net(name)
        if board.parts[c.part[index]].id in fitted
    ]


def _by_part(wiring: Wiring, net: str, beside: dict[str, tuple[str, ...]]) -> list[Exposed]:
    found: dict[str, Exposed] = {}
    for part_id in wiring.parts(net):
        pins = {pad.net: pad.pin for pad in wiring.pads_of[part_id] if pad.net is not None}
        for other in wiring.live_nets(part_id):
            if other in beside and other not in found:
                found[other] = Exposed(
                    net,
                    other,
                    f"{part_id}.{pins[net]}",
                    f"{part_id}.{pins[other]}",
                    None,
                    beside[other],
                )
    return [found[name] for name in sorted(found)]
