# SPDX-License-Identifier: GPL-3.0-or-later
"""What is routed in which order: thermal vias, plane pads, supplies, then signals by length."""

from __future__ import annotations

from dataclasses import dataclass, field

from .maps import Copper
from .placement import BOARD, PlacedPad
from .planes import ANTENNA, SUPPLY_PLANES
from .router import Router

POWER = frozenset({
    "VBAT", "VBAT_CELL", "VBAT_FUSED", "VBUS", "VBUS_IN", "VBUS_FUSED", "VSYS", "3V3", "3V3_AUDIO",
    "3V3_RADIO", "1V8", "1V8_ALWAYS", "1V8_EMMC", "PLL_1V8", "USB_3V3", "CORE_0V95", "MEM_1V1",
    "MEM_1V8", "SENSOR_2V8", "ANALOG_2V8", "CODEC_1V2", "BACKLIGHT_19V", "BACKLIGHT_FB", "SW_CORE",
    "SW_MEM", "SW_1V8", "SW_3V3", "SW_CHG", "SW_CODEC", "SW_BACKLIGHT", "CHG_PMID", "MOTOR_M",
    "SPK_P", "SPK_N", "SPK_OUT_P", "SPK_OUT_N", "CHASSIS",
})  # fmt: skip
"""Nets that get the widest track that finds a way."""


PATIENCE = 14
"""How often a net may be laid anew before it has to find a way that crosses nothing."""
ROUNDS = 420
"""How many nets are taken from the queue before the rest is laid without crossing."""


@dataclass
class Group:
    """Pads of one net that copper joins, with the grid points of that copper."""

    pads: list[PlacedPad]
    points: list[int]
    on_plane: bool = False


@dataclass
class Routed:
    """Copper and, for each net, its groups of joined pads."""

    copper: Copper
    groups: dict[str, list[Group]] = field(default_factory=dict)

    def open_nets(self) -> list[str]:
        """Nets whose pads are not all joined."""
        return [
            net for net, groups in self.groups.items()
            if sum(not g.on_plane for g in groups) + any(g.on_plane for g in groups) > 1
        ]  # fmt: skip


class Plan:
    """The order of work, and which pads of a net are joined so far."""

    def __init__(self, router: Router, pads: list[PlacedPad]) -> None:
        self.router = router
        self.pads: dict[str, list[PlacedPad]] = {}
        for pad in pads:
            if pad.net is not None:
                self.pads.setdefault(pad.net, []).append(pad)
        self.points = {id(p): router.pad_points(p) for ps in self.pads.values() for p in ps}
        self.planes = ["GND", *(net for net, _ in SUPPLY_PLANES)]
        self.grounded: set[int] = set()
        self.tries: dict[str, int] = {}

    def groups(self, net: str) -> list[Group]:
        """Groups of joined pads, from the ways that are laid now."""
        number = self.router.numbers[net]
        out: list[tuple[Group, set[int]]] = []
        items = [
            (Group([p], self.points[id(p)], id(p) in self.grounded)) for p in self.pads[net]
        ] + [Group([], w.points, w.plane) for w in self.router.ways.values() if w.net == number]
        for item in items:
            mine = set(item.points)
            joined = [entry for entry in out if not mine.isdisjoint(entry[1])]
            out = [entry for entry in out if mine.isdisjoint(entry[1])]
            for group, points in joined:
                item = Group(
                    group.pads + item.pads,
                    group.points + [k for k in item.points if k not in points],
                    group.on_plane or item.on_plane,
                )
                mine |= points
            out.append((item, mine))
        return [group for group, _ in out if group.pads]

    def join(self, net: str, *, soft: bool, margin: int) -> set[str]:
        """Join what is apart in a net; returns the nets that lost copper for it."""
        plane = net in self.planes
        fine = ((400, 200), (100,)) if net in POWER else ((), (100,))
        number = self.router.numbers[net]
        lost: set[str] = set()
        stuck: set[int] = set()
        groups = self.groups(net)
        while True:
            loose = [
                g for g in groups
                if not (plane and g.on_plane) and id(g.pads[0]) not in stuck
            ]  # fmt: skip
            if not loose or (len(groups) < 2 and not plane):
                return lost
            group = min(loose, key=lambda g: (len(g.pads), self.pads[net].index(g.pads[0])))
            # With a plane below, only copper that reaches it is worth going to.
            goals = {
                k for g in groups if g is not group and (g.on_plane or not plane or margin > 50)
                for k in g.points
            }  # fmt: skip
            gone = self.router.connect(
                number, group.points, goals, fine[0], min(margin, 40), plane=plane
            )
            if gone is None:
                gone = self.router.connect(
                    number, group.points, goals, fine[1], margin, plane=plane, soft=soft
                )
            if gone is None:
                stuck.add(id(group.pads[0]))
                continue
            lost |= {self.name(w.net) for w in gone}
            way = self.router.ways[max(self.router.ways)]
            if way.plane and net not in lost:
                group.on_plane = True
                group.points = group.points + way.points
            else:
                groups = self.groups(net)
            if len(lost) > 40:
                return lost

    def prune(self) -> None:
        """Take up ways that lead nowhere, left when a neighbour had to go."""
        while True:
            loose = []
            for number, way in self.router.ways.items():
                mine = set(way.points)
                touched = sum(
                    not mine.isdisjoint(self.points[id(p)]) for p in self.pads[self.name(way.net)]
                ) + sum(
                    other.net == way.net and other is not way and not mine.isdisjoint(other.points)
                    for other in self.router.ways.values()
                )
                if touched + way.plane < 2:
                    loose.append(number)
            if not loose:
                return
            for number in loose:
                self.router.take_up(number)

    def name(self, number: int) -> str:
        """Net name of a number."""
        return next(n for n, k in self.router.numbers.items() if k == number)


def _length(pads: list[PlacedPad]) -> int:
    xs, ys = [p.x for p in pads], [p.y for p in pads]
    return max(xs) - min(xs) + max(ys) - min(ys)


def route(pads: list[PlacedPad], numbers: dict[str, int]) -> Routed:
    """Route the board; what finds no way stays open.

    Parameters
    ----------
    pads
        All pads; pads without a net only stand in the way.
    numbers
        Net name to net number of the file, counted from one.
    """
    router = Router(pads, numbers)
    plan = Plan(router, pads)
    for pad in plan.pads["GND"]:
        if pad.drill or (min(pad.width, pad.height) >= 1600 and router.stitch(pad, 1000)):
            plan.grounded.add(id(pad))
    router.keep_base()
    # Balls of fine pitch first: their places for vias are few.
    for net in plan.planes[::-1]:
        for pad in plan.pads[net]:
            if pad.shape == "circle" and pad.width == 400:
                router.connect(numbers[net], plan.points[id(pad)], set(), (100,), 8, plane=True)
    order = sorted(
        plan.pads,
        key=lambda n: (n in plan.planes, n not in POWER, _length(plan.pads[n]), n),
    )
    queue = list(order)
    rounds = 0
    while queue and rounds < ROUNDS:
        net = queue.pop(0)
        rounds += 1
        plan.tries[net] = plan.tries.get(net, 0) + 1
        soft = plan.tries[net] <= PATIENCE
        margin = 25 if net in plan.planes and plan.tries[net] == 1 else 120
        for other in sorted(plan.join(net, soft=soft, margin=margin)):
            if other not in queue:
                queue.append(other)
    # Supplies and ground come to an end by all means, signals with the room that is left.
    supplies = [n for n in order if n in POWER]
    queue = [*plan.planes, *supplies]
    for _ in range(40):
        lost: set[str] = set()
        for net in queue:
            lost |= plan.join(net, soft=True, margin=120)
        queue = [n for n in (*plan.planes, *supplies) if n in lost]
    for net in order:
        plan.join(net, soft=False, margin=160)
    plan.prune()
    for y in range(2000, BOARD[1], 2500):
        for x in range(2000, BOARD[0], 2500):
            if not (ANTENNA[0] < x < ANTENNA[2] and y < ANTENNA[3]):
                router.fix_via(numbers["GND"], x, y)
    return Routed(router.copper(), {net: plan.groups(net) for net in plan.pads})
