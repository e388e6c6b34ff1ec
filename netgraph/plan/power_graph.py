# SPDX-License-Identifier: GPL-3.0-or-later
"""The and/or graph of a board: rails, feeders, loads, and what these need besides supplies."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from netgraph.plan.and_or import AndOrGraph, Node
from netgraph.plan.enables import Drive, Way
from netgraph.plan.needs import Need, Needs
from netgraph.plan.wiring import POWER_CHIPS, Wiring
from netgraph.rails.tree import Feeder, Rail
from netgraph.roles.answer import LIKELY


@dataclass(frozen=True)
class PowerGraph:
    """A graph with its nodes by number, the bit of each part, and what lives with all parts on.

    `relaxed` are the drivers that only have to be there, see `power_logic`.
    """

    graph: AndOrGraph
    nodes: tuple[Node, ...]
    bit_of: dict[str, int]
    relaxed: frozenset[str]
    lives: tuple[bool, ...]


def power_graph(
    wiring: Wiring,
    needs: Needs,
    *,
    trusted_only: bool = False,
    relaxed: frozenset[str] = frozenset(),
) -> PowerGraph:
    """The graph of a board; see `power_logic.PowerLogic.build` for what it takes for granted.

    Parameters
    ----------
    trusted_only
        Leave out feeders below the confidence to act on where a rail also has one above it.
    relaxed
        Drivers known not to live on the untouched board.
    """
    return _GraphMaker(wiring, needs, trusted_only, relaxed).made()


class _GraphMaker:
    """Collects nodes and inputs by name; all rails first, then feeders, then loads."""

    def __init__(
        self, wiring: Wiring, needs: Needs, trusted_only: bool, relaxed: frozenset[str]
    ) -> None:
        self.wiring = wiring
        self.needs = needs
        self.relaxed: set[str] = set(relaxed)
        self.drivers: list[str] = []
        self.number: dict[Node, int] = {}
        self.trusted_only = trusted_only
        self.inputs: dict[Node, list[Node]] = {}
        self.feeds: dict[str, list[tuple[str, Node]]] = {}
        self.all_needed: dict[Node, bool] = {}

    def made(self) -> PowerGraph:
        """The graph, all drivers that can't start on the untouched board relaxed."""
        wiring = self.wiring
        for part in wiring.board.parts:
            if part.id in wiring.fitted:
                self.node(("part", part.id), True)
        for rail in wiring.tree:
            self.node(("rail", rail.net), False)
        for rail in wiring.tree:
            self.add_rail(rail)
        for part in wiring.board.parts:
            if part.id in wiring.fitted:
                load = self.node(("load", part.id), True)
                self.inputs[load].append(("part", part.id))
                self.inputs[load].extend(("rail", net) for net in wiring.supplies(part.id))
        self.add_aids()
        nodes = tuple(self.inputs)
        self.number = {node: at for at, node in enumerate(nodes)}
        number = self.number
        bit_of = {name: at for at, (_, name) in enumerate(n for n in nodes if n[0] == "part")}
        graph = AndOrGraph(
            tuple(self.all_needed[node] for node in nodes),
            tuple(tuple([number[one] for one in inputs]) for inputs in self.inputs.values()),
            tuple([bit_of[name] if kind == "part" else -1 for kind, name in nodes]),
        )
        lives = graph.alive()
        there: list[int] = []
        while chosen := self.relax(graph, lives, there):
            there += [number["driver", chip] for chip in chosen]
            lives = graph.alive(given=there)
        if there:
            inputs = list(graph.inputs)
            for driver in there:
                inputs[driver] = (number["part", nodes[driver][1]],)
            graph = AndOrGraph(graph.is_and, tuple(inputs), graph.own)
        return PowerGraph(graph, nodes, bit_of, frozenset(self.relaxed), lives)

    def node(self, node: Node, needs_all: bool) -> Node:
        self.inputs.setdefault(node, [])
        self.all_needed[node] = needs_all
        return node

    def add_rail(self, rail: Rail) -> None:
        if rail.kind == "entry":
            holders = [
                one
                for one in self.wiring.parts(rail.net)
                if self.wiring.role(one) in ("connector", "battery", "slot")
            ]
            if holders:
                self.inputs["rail", rail.net].extend(("part", one) for one in holders)
            else:
                outside = self.node(("source", rail.net), True)
                self.inputs["rail", rail.net].append(outside)
        feeders = [one for one in rail.feeders if one.part_id in self.wiring.fitted]
        trusted = [one for one in feeders if one.confidence >= LIKELY]
        if self.trusted_only and trusted:
            feeders = trusted
        for at, feeder in enumerate(feeders):
            self.add_feeder(rail, feeder, at)

    def add_feeder(self, rail: Rail, feeder: Feeder, at: int) -> None:
        known = self.wiring.tree.by_net
        feed = self.node(("feed", f"{feeder.part_id}>{rail.net}#{at}"), True)
        self.inputs["rail", rail.net].append(feed)
        self.feeds.setdefault(rail.net, []).append((feeder.part_id, feed))
        self.inputs[feed].append(("part", feeder.part_id))
        for one in feeder.through:
            # A lifted inductor is gone for good: its converter can't feed the rail.
            self.inputs[feed].append(
                ("part", one) if one in self.wiring.fitted else self.node(("gone", one), False)
            )
        if feeder.from_net is not None and feeder.from_net in known:
            self.inputs[feed].append(("rail", feeder.from_net))
            return
        guesses = [net for net in self.wiring.supplies(feeder.part_id) if net != rail.net]
        if feeder.from_net is None and guesses:
            self.inputs[feed].extend(("rail", net) for net in guesses)
        else:
            self.inputs[feed].append(self.node(("unknown-input", rail.net), False))

    # -- enables, resets and helper parts ------------------------------------------------------

    def add_aids(self) -> None:
        """What feeds and loads need besides supplies."""
        feeds: dict[str, list[tuple[Node, str]]] = {}
        for rail, nodes in self.feeds.items():
            for part_id, node in nodes:
                feeds.setdefault(part_id, []).append((node, rail))
        for user, drives in self.needs.enables.items():
            for drive in drives:
                users = [node for node, rail in feeds.get(user, ()) if drive.serves(rail)]
                if not users and user in self.wiring.fitted:
                    users = [("load", user)]
                self.add_drive("enable", drive, users)
        for user, drives in self.needs.resets.items():
            for drive in drives:
                self.add_drive("reset", drive, [("load", user)])
        for need in self.needs.aids:
            if need.vital:
                self.add_aid(need, feeds)

    def add_aid(self, need: Need, feeds: Mapping[str, Sequence[tuple[Node, str]]]) -> None:
        users = [node for node, rail in feeds.get(need.user, ()) if need.rail in (None, rail)]
        aid = self.node(("aid", f"{need.user} {need.kind} {need.net}"), True)
        new = not self.inputs[aid]
        helper: Node = ("part", need.part_id)
        if need.kind == "clock" and self.wiring.role(need.part_id) == "oscillator":
            helper = self.driver(need.part_id)
        if helper not in self.inputs[aid]:
            self.inputs[aid].append(helper)
        if new:
            if need.kind in ("clock", "strap"):
                users = []
            for one in users or [("load", need.user)]:
                self.inputs[one].append(aid)

    def add_drive(self, kind: str, drive: Drive, users: Sequence[Node]) -> None:
        """A node for the line, below every feed or load that needs it."""
        held = [self.way_inputs(way) for way in drive.ways]
        needs: list[Node] = []
        name = f"{drive.user} {drive.net}"
        if len(held) > 1 and all(held):
            # A way without any need (an open tie to ground) holds the line in any case.
            ways = self.node(("ways", name), False)
            for at, inputs in enumerate(held):
                way = self.node(("way", f"{name}#{at}"), True)
                self.inputs[way].extend(inputs)
                self.inputs[ways].append(way)
            needs.append(ways)
        elif len(held) == 1:
            needs.extend(held[0])
        needs.extend(self.driver(one) for one in drive.also)
        needs.extend(self.gone_or_part(one) for one in drive.maybe)
        needs.extend(("rail", net) for net in drive.first)
        if not needs:
            return
        line = self.node((kind, name), True)
        self.inputs[line].extend(dict.fromkeys(needs))
        for one in users:
            self.inputs[one].append(line)

    def way_inputs(self, way: Way) -> list[Node]:
        found: list[Node] = [self.gone_or_part(one) for one in way.parts]
        if way.rail:
            found.append(("rail", way.rail))
        if way.chip:
            found.append(self.driver(way.chip))
        return found

    def gone_or_part(self, part_id: str) -> Node:
        if part_id in self.wiring.fitted:
            return ("part", part_id)
        return self.node(("gone", part_id), False)

    def driver(self, chip: str) -> Node:
        """A chip that has to live to drive a line; of a converter its few outputs as well."""
        if chip not in self.wiring.fitted:
            return self.gone_or_part(chip)
        node: Node = ("driver", chip)
        if node not in self.inputs:
            self.node(node, True)
            self.inputs[node].append(("load", chip))
            self.drivers.append(chip)
            if chip in self.relaxed:
                self.inputs[node] = [("part", chip)]
                return node
            made = self.wiring.outputs.get(chip, frozenset())
            if len(made) <= _FEW_OUTPUTS:
                self.inputs[node].extend(("rail", net) for net in sorted(made))
        return node

    def relax(self, graph: AndOrGraph, lives: Sequence[bool], there: Collection[int]) -> list[str]:
        """Drivers that can't live on the untouched board, and so only have to be there.

        First those that are dead for other reasons than the lines they drive, then those that
        are fed by what they enable: a driver behind such a one may live after all.

        Parameters
        ----------
        lives
            What lives as long as the drivers `there` only have to be there.
        """
        number = self.number
        dead = {
            number["driver", name]: name
            for name in self.drivers
            if name not in self.relaxed and not lives[number["driver", name]]
        }
        if not dead:
            return []
        if_driven = graph.alive(given=(*there, *dead))
        chosen = [name for name in dead.values() if not if_driven[number["load", name]]]
        if not chosen:
            # Chips of the supply first: they start before what they feed. Of drivers that hang on
            # each other only the first, for it may bring up the rest; those apart don't wait.
            above = {name: _dead_above(graph, lives, at) for at, name in dead.items()}
            at_of = {name: at for at, name in dead.items()}
            looped = [name for name, others in above.items() if at_of[name] in others]
            looped.sort(key=lambda name: (self.wiring.role(name) not in POWER_CHIPS, name))
            chosen = [
                name
                for place, name in enumerate(looped)
                if not any(
                    at_of[other] in above[name] or at_of[name] in above[other]
                    for other in looped[:place]
                )
            ]
        self.relaxed.update(chosen)
        return chosen


_FEW_OUTPUTS: Final = 2
"""The power-good output of a chip with more outputs may speak of any of them."""


def _dead_above(graph: AndOrGraph, lives: Sequence[bool], start: int) -> set[int]:
    """The dead nodes that a dead node hangs on; itself among them where it hangs on itself."""
    seen: set[int] = set()
    waiting = [start]
    while waiting:
        for one in graph.inputs[waiting.pop()]:
            if one not in seen and not lives[one]:
                seen.add(one)
                waiting.append(one)
    return seen
