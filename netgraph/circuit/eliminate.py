# SPDX-License-Identifier: GPL-3.0-or-later
"""Many symmetric systems of one sparse pattern, factored and solved side by side.

The order of elimination is found once; then each step is one array operation over all systems.
Nodes that don't touch each other are eliminated together, in levels, so that a board of hundreds
of nets needs a few dozen steps. No pivoting: the matrices are those of conductances.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from netgraph.circuit.junction import FloatArray
from netgraph.circuit.network import IntArray

_SLACK: Final = 1
"""How far above the least degree a node may lie to be eliminated in the same level."""


@dataclass(frozen=True, eq=False)
class _Level:
    """Nodes eliminated together, their entries (node k, later node i), and what they change."""

    nodes: IntArray
    entry: IntArray
    entry_k: IntArray
    entry_i: IntArray
    pair_left: IntArray
    pair_right: IntArray
    targets: IntArray
    spread: Any
    gather_i: Any
    rows_i: IntArray
    gather_k: Any


class Elimination:
    """Order of elimination for a pattern of `count` nodes; ground is -1 and has no row.

    Parameters
    ----------
    a, b
        Shape (e,): ends of the elements that make the pattern.
    """

    def __init__(self, count: int, a: IntArray, b: IntArray) -> None:
        self.count = count
        near: list[set[int]] = [set() for _ in range(count)]
        for one, two in zip(a.tolist(), b.tolist(), strict=True):
            if one >= 0 and two >= 0 and one != two:
                near[one].add(two)
                near[two].add(one)
        self._entry: dict[tuple[int, int], int] = {}
        self._levels = [self._level(level) for level in _order(near, self._slot)]
        self.entries = len(self._entry)

    def _slot(self, a: int, b: int) -> int:
        """Row of an off-diagonal entry behind the diagonal ones."""
        key = (a, b) if a < b else (b, a)
        return self._entry.setdefault(key, self.count + len(self._entry))

    def _level(self, level: list[tuple[int, list[int]]]) -> _Level:
        from scipy.sparse import csr_array

        entry: list[int] = []
        entry_k: list[int] = []
        entry_i: list[int] = []
        left, right, target = [], [], []
        for k, later in level:
            at = {}
            for i in later:
                at[i] = len(entry)
                entry.append(self._slot(k, i))
                entry_k.append(k)
                entry_i.append(i)
            for number, i in enumerate(later):
                for j in later[number:]:
                    left.append(at[i])
                    right.append(at[j])
                    target.append(i if i == j else self._slot(i, j))
        targets, where = np.unique(np.array(target, dtype=np.int64), return_inverse=True)
        pairs, ones = np.arange(len(left)), np.ones(len(left))
        spread = csr_array((ones, (where, pairs)), shape=(len(targets), len(left)))
        rows_i, where_i = np.unique(np.array(entry_i, dtype=np.int64), return_inverse=True)
        numbers, ones = np.arange(len(entry)), np.ones(len(entry))
        gather_i = csr_array((ones, (where_i, numbers)), shape=(len(rows_i), len(entry)))
        nodes = np.array([k for k, _ in level], dtype=np.int64)
        place = {k: number for number, (k, _) in enumerate(level)}
        where_k = np.array([place[k] for k in entry_k], dtype=np.int64)
        gather_k = csr_array((ones, (where_k, numbers)), shape=(len(nodes), len(entry)))
        return _Level(
            nodes,
            np.array(entry, dtype=np.int64),
            np.array(entry_k, dtype=np.int64),
            np.array(entry_i, dtype=np.int64),
            np.array(left, dtype=np.int64),
            np.array(right, dtype=np.int64),
            targets,
            spread,
            gather_i,
            rows_i,
            gather_k,
        )

    @property
    def size(self) -> int:
        """Rows of the value array: the diagonal, then the other entries with their fill-in."""
        return self.count + self.entries

    def stamps(self, a: IntArray, b: IntArray) -> Any:
        """Sparse (size, e): adds conductances of elements into the value array.

        Raises
        ------
        KeyError
            An element joins two nodes that the pattern doesn't.
        """
        from scipy.sparse import csr_array

        rows, cols, data = [], [], []
        for number, (one, two) in enumerate(zip(a.tolist(), b.tolist(), strict=True)):
            for end in (one, two):
                if end >= 0:
                    rows.append(end)
                    cols.append(number)
                    data.append(1.0)
            if one >= 0 and two >= 0 and one != two:
                rows.append(self._entry[(one, two) if one < two else (two, one)])
                cols.append(number)
                data.append(-1.0)
        return csr_array((data, (rows, cols)), shape=(self.size, len(a)))

    def factor(self, values: FloatArray) -> Factors:
        """Factor all systems; `values` has shape (size, batch) and is used up."""
        for level in self._levels:
            if not len(level.entry):
                continue
            upper = values.take(level.entry, axis=0)
            lower = upper / values.take(level.entry_k, axis=0)
            products = lower.take(level.pair_left, axis=0)
            products *= upper.take(level.pair_right, axis=0)
            values[level.targets] -= level.spread @ products
            values[level.entry] = lower
        return Factors(self, values)

    def levels(self) -> Iterable[_Level]:
        """Levels from first eliminated to last."""
        return self._levels


@dataclass(frozen=True, eq=False)
class Factors:
    """Factored systems: pivots on the first rows, the lower factor's entries behind."""

    plan: Elimination
    values: FloatArray

    def solve(self, right: FloatArray) -> FloatArray:
        """Solutions for right sides of shape (count, batch), which are used up."""
        values = self.values
        levels = list(self.plan.levels())
        for level in levels:
            if len(level.entry):
                carried = values.take(level.entry, axis=0)
                carried *= right.take(level.entry_k, axis=0)
                right[level.rows_i] -= level.gather_i @ carried
        right /= values[: self.plan.count]
        for level in reversed(levels):
            if len(level.entry):
                carried = values.take(level.entry, axis=0)
                carried *= right.take(level.entry_i, axis=0)
                right[level.nodes] -= level.gather_k @ carried
        return right


def _order(near: list[set[int]], slot: Any) -> list[list[tuple[int, list[int]]]]:
    """Levels of (node, its neighbours at that time); each is free of neighbours in itself."""
    left = set(range(len(near)))
    levels = []
    while left:
        least = min(len(near[k]) for k in left)
        level: list[tuple[int, list[int]]] = []
        blocked: set[int] = set()
        for k in sorted(
            (k for k in left if len(near[k]) <= least + _SLACK), key=lambda k: len(near[k])
        ):
            if k in blocked:
                continue
            level.append((k, sorted(near[k])))
            blocked |= near[k]
        for k, later in level:
            for i in later:
                slot(k, i)
                near[i].discard(k)
            for number, i in enumerate(later):
                for j in later[number + 1 :]:
                    near[i].add(j)
                    near[j].add(i)
                    slot(i, j)
            left.discard(k)
        levels.append(level)
    return levels
