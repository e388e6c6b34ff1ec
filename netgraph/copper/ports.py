# SPDX-License-Identifier: GPL-3.0-or-later
"""Resistances between the pads of a net: its network reduced by one sparse factorisation."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import inf

import numpy as np
from scipy.sparse import coo_matrix, csc_matrix
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import SuperLU, splu

from netgraph.copper.mesh import IntArray
from netgraph.copper.net_copper import NetCopper
from netgraph.copper.raster import FloatArray


@dataclass
class Ports:
    """A factored network; ports are counted as the pads of :class:`NetCopper`.

    `island` numbers the piece of copper a port lies on; ports of two islands are not joined by
    drawn copper. `areas` numbers, node by node of the network, the copper that no track parts;
    `strips` are the tracks between these, as (amperes, area, area).
    """

    copper: NetCopper
    island: IntArray
    row: IntArray
    areas: IntArray
    strips: Sequence[tuple[float, int, int]]
    _factor: SuperLU | None
    _size: int
    _columns: dict[int, FloatArray] = field(default_factory=dict)
    _bottleneck: dict[int, dict[int, float]] = field(default_factory=dict)

    @property
    def islands(self) -> int:
        """How many pieces of copper the pads lie on."""
        return len(set(self.island.tolist()))

    def column(self, port: int) -> FloatArray:
        """Volts at all ports per ampere into one, against the first port of its island."""
        if port not in self._columns:
            self._solve([port])
        return self._columns[port]

    def _solve(self, ports: Sequence[int]) -> None:
        wanted = [one for one in dict.fromkeys(ports) if one not in self._columns]
        for first in range(0, len(wanted), 32):
            some = wanted[first : first + 32]
            volts = np.zeros((self._size, len(some)))
            for k, port in enumerate(some):
                if self.row[port] >= 0:
                    volts[self.row[port], k] = 1.0
            if self._factor is not None:
                volts = self._factor.solve(volts)
            # The first port of an island has no row: all volts are counted from it.
            volts = np.vstack((volts, np.zeros((1, len(some)))))
            for k, port in enumerate(some):
                self._columns[port] = volts[self.row, k]

    def ohms(self, one: int, other: int) -> float:
        """Resistance between two ports; infinite where no drawn copper joins them."""
        if self.island[one] != self.island[other]:
            return inf
        a, b = self.column(one), self.column(other)
        return max(float(a[one] + b[other] - a[other] - b[one]), 0.0)

    def matrix(self, ports: Sequence[int] | None = None) -> FloatArray:
        """Resistances between these ports (default: all), shape (n, n), ohms."""
        chosen = list(range(len(self.row))) if ports is None else list(ports)
        if not chosen:
            return np.zeros((0, 0))
        self._solve(chosen)
        at = np.array(chosen)
        z = np.stack([self._columns[one][at] for one in chosen])
        found: FloatArray = np.maximum(np.diag(z)[:, None] + np.diag(z)[None, :] - z - z.T, 0.0)
        found[self.island[at][:, None] != self.island[at][None, :]] = inf
        return found

    def amps_between(self, one: int, others: Sequence[int]) -> float:
        """What the narrowest track on the widest way may carry, the least over `others`.

        Areas and barrels do not count; infinite where no track lies between.
        """
        least = inf
        for other in others:
            if self.island[one] == self.island[other]:
                least = min(least, self._widest(one, other))
        return least

    def _widest(self, one: int, other: int) -> float:
        low = self._bottleneck.get(one)
        if low is None:
            low = self._bottleneck[one] = _widest_ways(self.strips, self.areas, one)
        return low.get(int(self.areas[other]), inf)


def _widest_ways(
    strips: Sequence[tuple[float, int, int]], areas: IntArray, start: int
) -> dict[int, float]:
    """For each area the amperes of the narrowest track on the widest way to it from a node."""
    from heapq import heappop, heappush

    beside: dict[int, list[tuple[float, int]]] = {}
    for amps, a, b in strips:
        beside.setdefault(a, []).append((amps, b))
        beside.setdefault(b, []).append((amps, a))
    best: dict[int, float] = {}
    heap = [(-inf, int(areas[start]))]
    while heap:
        amps, area = heappop(heap)
        if area in best:
            continue
        best[area] = -amps
        for through, other in beside.get(area, ()):
            if other not in best:
                heappush(heap, (max(amps, -through), other))
    return best


def ports_of(copper: NetCopper) -> Ports:
    """Factor a network for its pads; everything that no pad reaches is left out."""
    count, pads = copper.nodes, len(copper.pads)
    one, two = copper.same[:, 0], copper.same[:, 1]
    joined = coo_matrix((np.ones(len(one)), (one, two)), shape=(count, count))
    merged, super_node = connected_components(joined, directed=False)
    a, b = super_node[copper.a].astype(np.int64), super_node[copper.b].astype(np.int64)
    apart = a != b
    a, b, g, amps = a[apart], b[apart], copper.siemens[apart], copper.amps[apart]
    net = coo_matrix((g, (a, b)), shape=(merged, merged))
    _, piece = connected_components(net, directed=False)
    ports = super_node[:pads].astype(np.int64)
    island = piece[ports].astype(np.int64)
    # The first port of each island is the one all volts are counted from.
    grounds = {int(ports[int(np.argmax(island == one))]) for one in set(island.tolist())}
    kept = np.isin(piece, island)
    kept[sorted(grounds)] = False
    row = np.full(merged, -1, dtype=np.int64)
    row[kept] = np.arange(int(kept.sum()))
    size = int(kept.sum())
    factor = None if not size else _factored(row[a], row[b], g, size)
    free = np.isinf(amps)
    areas = connected_components(
        coo_matrix((g[free], (a[free], b[free])), shape=(merged, merged)), directed=False
    )[1]
    bound = np.flatnonzero(~free)
    strips = [(float(amps[i]), int(areas[a[i]]), int(areas[b[i]])) for i in bound.tolist()]
    of_node = areas[super_node].astype(np.int64)
    return Ports(copper, island, row[ports], of_node, strips, factor, size)


def _factored(a: IntArray, b: IntArray, g: FloatArray, size: int) -> SuperLU:
    diagonal = np.zeros(size)
    np.add.at(diagonal, a[a >= 0], g[a >= 0])
    np.add.at(diagonal, b[b >= 0], g[b >= 0])
    both = (a >= 0) & (b >= 0)
    at = np.arange(size)
    rows = np.concatenate((at, a[both], b[both]))
    columns = np.concatenate((at, b[both], a[both]))
    values = np.concatenate((diagonal, -g[both], -g[both]))
    matrix: csc_matrix = coo_matrix((values, (rows, columns)), shape=(size, size)).tocsc()
    # Orderings for symmetric matrices keep the factor smaller by half, and are slower all the same.
    return splu(matrix)


def weighted_ohms(
    ports: Ports, candidates: Sequence[int], weights: Mapping[int, float]
) -> dict[int, tuple[float, float]]:
    """For each candidate: mean resistance to the suspect ports it reaches, and their share.

    Ohms, and the part from 0 to 1 of all weight that lies on the candidate's piece of copper; a
    candidate that reaches none is left out.
    """
    some = [port for port, weight in weights.items() if weight > 0]
    ports._solve([*candidates, *some])
    whole = sum(weights[port] for port in some)
    found: dict[int, tuple[float, float]] = {}
    for one in candidates:
        here = [port for port in some if ports.island[port] == ports.island[one]]
        reached = sum(weights[port] for port in here)
        if reached > 0:
            mean = sum(weights[port] * ports.ohms(one, port) for port in here) / reached
            found[one] = mean, reached / whole
    return found
