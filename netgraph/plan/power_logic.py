# SPDX-License-Identifier: GPL-3.0-or-later
"""What dies when parts come off: a load needs all its supplies, a rail any of its feeders.

A feeder needs its part, its input, what drives its enable, and the small parts it can't run
without; a load also its clock, its reset and its straps (see `needs`).

Plain dominators get this wrong because they know no "all". For every node v the set K(v) of
single parts whose loss kills v is the greatest solution of K(or) = own + intersection over the
inputs, K(and) = own + union over the inputs; sets are Python integers, one bit a part. Cycles are
safe: a rail that is kept alive only by itself is dead.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

from netgraph.model import Board
from netgraph.plan.enables import Drive, Way
from netgraph.plan.needs import Need, Needs, find_needs
from netgraph.plan.wiring import POWER_CHIPS, Wiring
from netgraph.rails.tree import Feeder, Rail, RailTree
from netgraph.roles.answer import LIKELY, Roles

Node = tuple[str, str]
"""(kind, name): kind is ``part``, ``rail``, ``feed``, ``load`` or ``source``; ``enable`` and
``reset`` are lines that must have their level, ``ways`` and ``way`` how they may get it,
``driver`` a chip that drives one, ``aid`` a small part a chip can't do without.
"""


@dataclass(frozen=True)
class AndOrGraph:
    """Nodes by number: `is_and` says whether all inputs are needed or any one is enough.

    `own` is the bit of the part that is the node itself, -1 for none. An and-node without inputs
    is alive by itself, an or-node without inputs is dead.
    """

    is_and: tuple[bool, ...]
    inputs: tuple[tuple[int, ...], ...]
    own: tuple[int, ...]

    @cached_property
    def bits(self) -> int:
        """How many bits a set of parts has."""
        return max(self.own, default=-1) + 1

    @cached_property
    def _users(self) -> tuple[tuple[int, ...], ...]:
        users: list[list[int]] = [[] for _ in self.inputs]
        for node, inputs in enumerate(self.inputs):
            for one in inputs:
                users[one].append(node)
        return tuple(tuple(each) for each in users)

    @cached_property
    def kill_sets(self) -> tuple[int, ...]:
        """K(v) for every node, as bitsets; all bits where v is dead on the untouched board."""
        everything = (1 << self.bits) - 1
        sets = [everything] * len(self.inputs)
        waiting = list(range(len(sets)))
        queued = [True] * len(sets)
        while waiting:
            node = waiting.pop()
            queued[node] = False
            if self.is_and[node]:
                new = 0
                for one in self.inputs[node]:
                    new |= sets[one]
            else:
                new = everything
                for one in self.inputs[node]:
                    new &= sets[one]
            if self.own[node] >= 0:
                new |= 1 << self.own[node]
            if new != sets[node]:
                sets[node] = new
                for user in self._users[node]:
                    if not queued[user]:
                        queued[user] = True
                        waiting.append(user)
        return tuple(sets)

    def alive(self, lifted: int = 0, given: Collection[int] = ()) -> tuple[bool, ...]:
        """Which nodes live when the parts of the bitset are off; linear in the graph.

        Nodes in `given` are taken to live whatever their inputs do.
        """
        left = [
            len(inputs) if one else 1 for one, inputs in zip(self.is_and, self.inputs, strict=True)
        ]
        lives = [False] * len(self.inputs)
        ready = [node for node, count in enumerate(left) if self.is_and[node] and count == 0]
        ready.extend(given)
        while ready:
            node = ready.pop()
            if lives[node] or (self.own[node] >= 0 and lifted >> self.own[node] & 1):
                continue
            lives[node] = True
            for user in self._users[node]:
                # An input named twice counts twice in `left` and in `_users` alike.
                left[user] -= 1
                if left[user] <= 0:
                    ready.append(user)
        return tuple(lives)


@dataclass(frozen=True, slots=True)
class DeadNode:
    """One node of a proof and the dead inputs that kill it (none: it is itself lifted)."""

    node: Node
    needs_all: bool
    because: tuple[Node, ...]


@dataclass(frozen=True, slots=True)
class Proof:
    """That `target` dies when `lifted` come off: a set of nodes that can only be dead together.

    Every and-node names one dead input, every or-node all of its inputs; whoever has the graph
    can check it node by node without computing anything (see `PowerLogic.check`).
    """

    target: Node
    lifted: frozenset[str]
    dead: tuple[DeadNode, ...]


@dataclass(frozen=True, slots=True)
class Alive:
    """What lives: `rails` by net name, `parts` by identity (present and fully supplied)."""

    rails: frozenset[str]
    parts: frozenset[str]


@dataclass(frozen=True)
class PowerLogic:
    """The and/or graph of a board's supplies, with questions asked in names."""

    wiring: Wiring
    graph: AndOrGraph
    nodes: tuple[Node, ...]
    bit_of: dict[str, int] = field(repr=False)
    needs: Needs = field(repr=False)
    relaxed: frozenset[str]
    base_lives: tuple[bool, ...] = field(repr=False)

    @classmethod
    def build(
        cls, board: Board, roles: Roles, tree: RailTree, *, trusted_only: bool = False
    ) -> PowerLogic:
        """Make the graph from the rail tree.

        Parameters
        ----------
        trusted_only
            Leave out feeders below the confidence to act on where a rail also has one above it:
            a wrong second feeder must not make the true one look spare.

        A feeder whose input net is not known is taken to need every supply of its part; one whose
        part has no known supply either is dead. An entry needs one of the connectors or cells on
        it, or nothing where there are none.

        A chip that drives an enable has to live. Where it can't on the untouched board, because
        it is fed by what it enables or because some supply of it isn't known, it only has to be
        there: how it starts can't be seen in a netlist. Such chips are named in `relaxed`.
        """
        wiring = Wiring(board, roles, tree)
        return cls.of(wiring, find_needs(wiring), trusted_only=trusted_only)

    @classmethod
    def of(
        cls,
        wiring: Wiring,
        needs: Needs,
        *,
        trusted_only: bool = False,
        relaxed: frozenset[str] = frozenset(),
    ) -> PowerLogic:
        """The same from a view of the board and its needs that are there already.

        Parameters
        ----------
        relaxed
            Drivers known not to live on the untouched board: those of the logic with all feeders
            can't live with fewer either.
        """
        return _GraphMaker(wiring, needs, trusted_only, relaxed).made()

    @cached_property
    def _number(self) -> dict[Node, int]:
        return {node: number for number, node in enumerate(self.nodes)}

    def supplies(self, part_id: str) -> tuple[str, ...]:
        """Rails this part needs all of."""
        return self.wiring.supplies(part_id)

    def _mask(self, lifted: Iterable[str]) -> int:
        mask = 0
        for part_id in lifted:
            if part_id in self.bit_of:
                mask |= 1 << self.bit_of[part_id]
        return mask

    def alive(self, lifted: Collection[str] = ()) -> Alive:
        """Rails and parts that live with these parts off."""
        mask = self._mask(lifted)
        lives = self.graph.alive(mask) if mask else self.base_lives
        rails, parts = set(), set()
        for (kind, name), living in zip(self.nodes, lives, strict=True):
            if living and kind == "rail":
                rails.add(name)
            elif living and kind == "load":
                parts.add(name)
        return Alive(frozenset(rails), frozenset(parts))

    @cached_property
    def _killed_by(self) -> dict[int, tuple[list[str], list[str]]]:
        """Bit of a part -> the rails and the parts, alive on the untouched board, that it kills."""
        found: dict[int, tuple[list[str], list[str]]] = {}
        base = self.base
        for (kind, name), kills in zip(self.nodes, self.graph.kill_sets, strict=True):
            if kind == "rail" and name in base.rails:
                place = 0
            elif kind == "load" and name in base.parts:
                place = 1
            else:
                continue
            while kills:
                lowest = kills & -kills
                found.setdefault(lowest.bit_length() - 1, ([], []))[place].append(name)
                kills ^= lowest
        return found

    def lost_without(self, part_id: str) -> Alive:
        """What of the untouched board's living rails and parts dies when one part comes off.

        The same as `base` less ``alive((part_id,))``, from the kill sets of all nodes at once.
        """
        rails, parts = self._killed_by.get(self.bit_of.get(part_id, -1), ([], []))
        return Alive(frozenset(rails), frozenset(parts))

    @cached_property
    def base(self) -> Alive:
        """What lives on the untouched board."""
        return self.alive()

    def reaches(
        self, rails: Collection[str], parts: Collection[str], lifted: Collection[str] = ()
    ) -> bool:
        """Whether all these rails and parts live with the lifted ones off."""
        lives = self.alive(lifted)
        return lives.rails.issuperset(rails) and lives.parts.issuperset(parts)

    def missing_feeders(self, rails: Iterable[str]) -> tuple[str, ...]:
        """Rails at the root of why some of these are dead on the untouched board.

        A root has no feeder that could live even if all other dead rails did; where dead rails
        only feed each other in a circle all of them are named.
        """
        dead = {net for net in rails if net not in self.base.rails}
        seen: set[str] = set()
        roots: set[str] = set()
        while dead:
            net = dead.pop()
            seen.add(net)
            above = self._dead_rails_above(net)
            if not above:
                roots.add(net)
            dead |= above - seen
        return tuple(sorted(roots or seen))

    def _dead_rails_above(self, net: str) -> set[str]:
        """Dead rails that a dead one hangs on, over its feeders and what enables them."""
        found: set[str] = set()
        seen: set[int] = set()
        number = self._number.get(("rail", net))
        waiting = [] if number is None else list(self.graph.inputs[number])
        while waiting:
            one = waiting.pop()
            if one in seen:
                continue
            seen.add(one)
            kind, name = self.nodes[one]
            if kind == "rail":
                if name not in self.base.rails:
                    found.add(name)
            elif kind not in ("part", "source") and not self.base_lives[one]:
                waiting.extend(self.graph.inputs[one])
        return found - {net}

    def missing_enables(self, rails: Iterable[str]) -> tuple[Drive, ...]:
        """Enables that keep these dead rails dead though nothing above them is: what drove them
        is off the board.
        """
        found: list[Drive] = []
        for net in self.missing_feeders(rails):
            number = self._number.get(("rail", net))
            for feed in () if number is None else self.graph.inputs[number]:
                for one in self.graph.inputs[feed]:
                    kind, name = self.nodes[one]
                    if kind == "enable" and not self.base_lives[one]:
                        found.extend(
                            drive
                            for drives in self.needs.enables.values()
                            for drive in drives
                            if f"{drive.user} {drive.net}" == name
                        )
        return tuple(dict.fromkeys(found))

    def single_points(
        self, rails: Collection[str] = (), parts: Collection[str] = ()
    ) -> frozenset[str]:
        """Parts whose loss alone kills one of these rails or parts.

        Rails and parts that are dead on the untouched board are left out: nothing can be said
        about them (ask `missing_feeders` first).
        """
        mask = 0
        for kind, names, lives in (
            ("rail", rails, self.base.rails),
            ("load", parts, self.base.parts),
        ):
            for name in names:
                if name in lives:
                    mask |= self.graph.kill_sets[self._number[kind, name]]
        found = []
        while mask:
            lowest = mask & -mask
            found.append(self._part_of_bit[lowest.bit_length() - 1])
            mask ^= lowest
        return frozenset(found)

    @cached_property
    def _part_of_bit(self) -> dict[int, str]:
        return {bit: part_id for part_id, bit in self.bit_of.items()}

    def proof(self, target: Node, lifted: Collection[str]) -> Proof | None:
        """Why the target dies with these parts off; None when it lives or is not in the graph."""
        number = self._number.get(target)
        mask = self._mask(lifted)
        lives = self.graph.alive(mask)
        if number is None or lives[number]:
            return None
        dead: dict[Node, DeadNode] = {}
        waiting = [number]
        while waiting:
            one = waiting.pop()
            node = self.nodes[one]
            if node in dead:
                continue
            own = self.graph.own[one]
            needs_all = self.graph.is_and[one]
            if own >= 0 and mask >> own & 1:
                inputs: tuple[int, ...] = ()
            elif needs_all:
                inputs = tuple(each for each in self.graph.inputs[one] if not lives[each])[:1]
            else:
                inputs = self.graph.inputs[one]
            dead[node] = DeadNode(node, needs_all, tuple(self.nodes[each] for each in inputs))
            waiting.extend(inputs)
        return Proof(target, frozenset(lifted), tuple(dead.values()))

    def check(self, proof: Proof) -> bool:
        """Whether a proof holds against this graph: each node's claim, one by one."""
        dead = {one.node for one in proof.dead}
        mask = self._mask(proof.lifted)
        for one in proof.dead:
            number = self._number.get(one.node)
            if number is None or self.graph.is_and[number] != one.needs_all:
                return False
            inputs = {self.nodes[each] for each in self.graph.inputs[number]}
            own = self.graph.own[number]
            if own >= 0 and mask >> own & 1:
                continue
            if not set(one.because) <= dead & inputs:
                return False
            if one.needs_all and not one.because:
                return False
            if not one.needs_all and set(one.because) != inputs:
                return False
        return proof.target in dead


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

    def made(self) -> PowerLogic:
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
        while chosen := self.relax(graph, lives):
            inputs = list(graph.inputs)
            for chip in chosen:
                inputs[number["driver", chip]] = (number["part", chip],)
            graph = AndOrGraph(graph.is_and, tuple(inputs), graph.own)
            lives = graph.alive()
        relaxed = frozenset(self.relaxed)
        return PowerLogic(wiring, graph, nodes, bit_of, self.needs, relaxed, lives)

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
                users = [node for node, rail in feeds.get(user, ()) if drive.only in (None, rail)]
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

    def relax(self, graph: AndOrGraph, lives: Sequence[bool]) -> list[str]:
        """Drivers that can't live on the untouched board, and so only have to be there.

        First those that are dead for other reasons than the lines they drive, then those that
        are fed by what they enable: a driver behind such a one may live after all.
        """
        number = self.number
        dead = {
            number["driver", name]: name
            for name in self.drivers
            if name not in self.relaxed and not lives[number["driver", name]]
        }
        if not dead:
            return []
        if_driven = graph.alive(given=tuple(dead))
        chosen = [name for name in dead.values() if not if_driven[number["load", name]]]
        if not chosen:
            # One at a time, chips of the supply first: they start before what they feed.
            looped = [name for at, name in dead.items() if _leads_back(graph, lives, at)]
            looped.sort(key=lambda name: (self.wiring.role(name) not in POWER_CHIPS, name))
            chosen = looped[:1]
        self.relaxed.update(chosen)
        return chosen


_FEW_OUTPUTS: Final = 2
"""The power-good output of a chip with more outputs may speak of any of them."""


def _leads_back(graph: AndOrGraph, lives: Sequence[bool], start: int) -> bool:
    """Whether a dead node hangs on itself, over dead nodes."""
    waiting = [one for one in graph.inputs[start] if not lives[one]]
    seen = set(waiting)
    while waiting:
        node = waiting.pop()
        if node == start:
            return True
        for one in graph.inputs[node]:
            if one not in seen and not lives[one]:
                seen.add(one)
                waiting.append(one)
    return False
