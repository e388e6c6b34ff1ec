# SPDX-License-Identifier: GPL-3.0-or-later
"""What dies when parts come off: a load needs all its supplies, a rail any of its feeders.

A feeder needs its part, its input, what drives its enable, and the small parts it can't run
without; a load also its clock, its reset and its straps (see `needs`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from functools import cached_property

from netgraph.model import Board
from netgraph.plan.and_or import AndOrGraph, DeadNode, Node, Proof
from netgraph.plan.enables import Drive
from netgraph.plan.needs import Needs, find_needs
from netgraph.plan.power_graph import power_graph
from netgraph.plan.wiring import Wiring
from netgraph.rails.tree import RailTree
from netgraph.roles.answer import Roles


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
        made = power_graph(wiring, needs, trusted_only=trusted_only, relaxed=relaxed)
        return cls(wiring, made.graph, made.nodes, made.bit_of, needs, made.relaxed, made.lives)

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
