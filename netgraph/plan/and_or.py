# SPDX-License-Identifier: GPL-3.0-or-later
"""And/or graphs: what lives, what single losses kill, and proofs of death.

Plain dominators get this wrong because they know no "all". For every node v the set K(v) of
single parts whose loss kills v is the greatest solution of K(or) = own + intersection over the
inputs, K(and) = own + union over the inputs; sets are Python integers, one bit a part. Cycles are
safe: a rail that is kept alive only by itself is dead.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property

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
