# SPDX-License-Identifier: GPL-3.0-or-later
"""What dies when parts come off: a load needs all its supplies, a rail any of its feeders.

Plain dominators get this wrong because they know no "all". For every node v the set K(v) of
single parts whose loss kills v is the greatest solution of K(or) = own + intersection over the
inputs, K(and) = own + union over the inputs; sets are Python integers, one bit a part. Cycles are
safe: a rail that is kept alive only by itself is dead.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from functools import cached_property

from netgraph.model import Board
from netgraph.plan.wiring import Wiring
from netgraph.rails.tree import Feeder, Rail, RailTree
from netgraph.roles.answer import LIKELY, Roles

Node = tuple[str, str]
"""(kind, name): kind is ``part``, ``rail``, ``feed``, ``load`` or ``source``."""


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

    def alive(self, lifted: int = 0) -> tuple[bool, ...]:
        """Which nodes live when the parts of the bitset are off; linear in the graph."""
        left = [
            len(inputs) if one else 1 for one, inputs in zip(self.is_and, self.inputs, strict=True)
        ]
        lives = [False] * len(self.inputs)
        ready = [node for node, count in enumerate(left) if self.is_and[node] and count == 0]
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
        """
        return _GraphMaker(Wiring(board, roles, tree), trusted_only).made()

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
        lives = self.graph.alive(self._mask(lifted))
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
        found: set[str] = set()
        number = self._number.get(("rail", net))
        for feed in () if number is None else self.graph.inputs[number]:
            for one in self.graph.inputs[feed]:
                kind, name = self.nodes[one]
                if kind == "rail" and name not in self.base.rails:
                    found.add(name)
        return found

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

    def __init__(self, wiring: Wiring, trusted_only: bool) -> None:
        self.wiring = wiring
        self.trusted_only = trusted_only
        self.inputs: dict[Node, list[Node]] = {}
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
        nodes = tuple(self.inputs)
        number = {node: at for at, node in enumerate(nodes)}
        bit_of = {name: at for at, (_, name) in enumerate(n for n in nodes if n[0] == "part")}
        graph = AndOrGraph(
            tuple(self.all_needed[node] for node in nodes),
            tuple(tuple(number[one] for one in self.inputs[node]) for node in nodes),
            tuple(bit_of[name] if kind == "part" else -1 for kind, name in nodes),
        )
        return PowerLogic(wiring, graph, nodes, bit_of)

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
