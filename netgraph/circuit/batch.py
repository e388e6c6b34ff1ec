# SPDX-License-Identifier: GPL-3.0-or-later
"""Many operating points of one circuit at once: faults, or values drawn from their spreads.

Newton's method for all of them side by side, begun at the sound board; those that rest leave the
batch. Faults change the factored systems by low rank [woodbury], so the pattern stays sparse.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from netgraph.circuit.eliminate import Elimination, Factors
from netgraph.circuit.junction import FloatArray, junction_current, limited_volts
from netgraph.circuit.network import Circuit, IntArray, reach_of_ground
from netgraph.circuit.solve import Source
from netgraph.errors import CircuitError

MOST_STEPS: Final = 80
REST_VOLTS: Final = 1e-4
"""Largest last movement: its square by 2 n kT/q leaves 0.2 microvolt."""
ALONE: Final = 1e-9
"""A branch whose opening leaves less than this share of a path has been the only path."""
CHUNK: Final = 384
"""So many systems side by side keep their values in a processor's cache."""


@dataclass(frozen=True, eq=False)
class PortFault:
    """One path in each of the cases.

    Attributes
    ----------
    a, b
        Shape (cases,): nodes, -1 for ground.
    siemens
        Shape (cases,): conductance added; 0 for none, negative for a branch taken away.
    """

    a: IntArray
    b: IntArray
    siemens: FloatArray


@dataclass(frozen=True, eq=False)
class Cases:
    """What differs from case to case; None where nothing does.

    Attributes
    ----------
    faults
        Paths that all cases have, each with its own ends and values; no two of them touch the
        same node unless the matrix of the ports stays regular.
    branch_factor, saturation_factor, series_factor
        Shape (b, cases), (j, cases), (j, cases): factors on the circuit's own values.
    """

    count: int
    faults: tuple[PortFault, ...] = ()
    branch_factor: FloatArray | None = None
    saturation_factor: FloatArray | None = None
    series_factor: FloatArray | None = None


@dataclass(frozen=True, eq=False)
class BatchPoints:
    """Volts of all nodes in all cases, shape (n, cases); nan where a node has no path to ground.

    `settled` tells in which cases the method came to rest.
    """

    volts: FloatArray
    settled: np.ndarray[tuple[int], np.dtype[np.bool_]]
    steps: int

    def between(self, a: int, b: int) -> FloatArray:
        """Shape (cases,): volts of node `a` against node `b`."""
        return self._of(a) - self._of(b)

    def _of(self, node: int) -> FloatArray:
        found: FloatArray = np.zeros(self.volts.shape[1]) if node < 0 else self.volts[node]
        return found


class BatchSystem:
    """One circuit with the places of its sources, ready for many cases.

    Parameters
    ----------
    sources
        Their nodes and siemens are part of the pattern; amperes come with the question.
    """

    def __init__(self, circuit: Circuit, sources: Sequence[Source]) -> None:
        from scipy.sparse import csr_array

        self.circuit = circuit
        self.sources = tuple(sources)
        tied = [one for one in self.sources if one.siemens > 0]
        a = np.array([one.a for one in tied], dtype=np.int64)
        b = np.array([one.b for one in tied], dtype=np.int64)
        count = len(circuit.nodes)
        reached = reach_of_ground(
            count, (circuit.a, circuit.anode, a), (circuit.b, circuit.cathode, b)
        )
        self.live = np.flatnonzero(reached < 0)
        place = np.full(count + 1, -1, dtype=np.int64)
        place[self.live] = np.arange(len(self.live))
        self.place = place
        # Rows on islands have no equation; they stay as rows of zero so that numbers keep.
        self._on = (place[circuit.a] >= 0) | (place[circuit.b] >= 0)
        self._joint_on = (place[circuit.anode] >= 0) | (place[circuit.cathode] >= 0)
        ends_a = np.concatenate([circuit.a[self._on], a])
        ends_b = np.concatenate([circuit.b[self._on], b])
        anode = place[circuit.anode[self._joint_on]]
        cathode = place[circuit.cathode[self._joint_on]]
        left, right = place[ends_a], place[ends_b]
        self.plan = Elimination(
            len(self.live), np.concatenate([left, anode]), np.concatenate([right, cathode])
        )
        self._fixed = self.plan.stamps(left, right)
        self._slopes = self.plan.stamps(anode, cathode)
        self._source_siemens = np.array([one.siemens for one in tied])
        rows, cols, data = [], [], []
        for number, (one, two) in enumerate(zip(anode.tolist(), cathode.tolist(), strict=True)):
            for end, sign in ((one, 1.0), (two, -1.0)):
                if end >= 0:
                    rows.append(end)
                    cols.append(number)
                    data.append(sign)
        shape = (len(self.live), len(anode))
        self._incidence = csr_array((data, (rows, cols)), shape=shape)
        self._drops = csr_array(self._incidence.T)
        self._saturation = circuit.saturation[self._joint_on][:, None]
        self._scale = circuit.scale_volts[self._joint_on][:, None]
        self._series = circuit.series_ohm[self._joint_on][:, None]

    def _inflow(self, amps: Sequence[float]) -> FloatArray:
        into = np.zeros(len(self.live) + 1)
        for one, value in zip(self.sources, amps, strict=True):
            for node, signed in ((one.a, value), (one.b, -value)):
                if node >= 0 and self.place[node] < 0 and value != 0:
                    name = self.circuit.nodes[node]
                    raise CircuitError(
                        "circuit-island",
                        f"a current is pushed into {name}, which has no path to ground",
                    )
                into[self.place[node]] += signed
        return into[:-1]

    def solve(
        self, cases: Cases, *, amps: Sequence[float] | None = None, start: FloatArray | None = None
    ) -> BatchPoints:
        """Volts of all nodes in all cases.

        Parameters
        ----------
        amps
            Amperes of the sources; as given to the system if left out.
        start
            Shape (n,): volts to begin with, best those of the sound board.

        Raises
        ------
        CircuitError
            A source drives an island, or a fault ends on one.
        """
        given = [one.amps for one in self.sources] if amps is None else list(amps)
        into = self._inflow(given)
        begin = np.zeros(len(self.live)) if start is None else np.nan_to_num(start[self.live])
        volts = np.full((len(self.circuit.nodes), cases.count), np.nan)
        settled = np.zeros(cases.count, dtype=np.bool_)
        steps = 0
        for first in range(0, cases.count, CHUNK):
            chosen = np.arange(first, min(first + CHUNK, cases.count))
            found, rest, used = self._chunk(cases, chosen, into, begin)
            volts[np.ix_(self.live, chosen)] = found
            settled[chosen] = rest
            steps = max(steps, used)
        return BatchPoints(volts, settled, steps)

    def _chunk(
        self, cases: Cases, chosen: IntArray, into: FloatArray, begin: FloatArray
    ) -> tuple[FloatArray, np.ndarray[tuple[int], np.dtype[np.bool_]], int]:
        size = len(chosen)
        work = _Work(self, cases, chosen, into)
        volts = np.repeat(begin[:, None], size, axis=1)
        at = self._drops @ volts
        done = volts.copy()
        rest = np.zeros(size, dtype=np.bool_)
        active = np.arange(size)
        for step in range(1, MOST_STEPS + 1):
            new, used = work.step(at)
            moved = np.abs(new - volts).max(axis=0, initial=0.0)
            apart = np.abs(used - at).max(axis=0, initial=0.0)
            bad = ~np.isfinite(moved)
            still = (np.maximum(moved, apart) <= REST_VOLTS) & ~bad
            gone = still | bad
            if gone.any():
                done[:, active[still]] = new[:, still]
                rest[active[still]] = True
                stay = ~gone
                active = active[stay]
                if not len(active):
                    return done, rest, step
                new, used = new[:, stay], used[:, stay]
                work.keep(stay)
            volts, at = new, used
        return done, rest, MOST_STEPS


class _Work:
    """The values of the cases of one chunk that have not come to rest yet."""

    def __init__(
        self, system: BatchSystem, cases: Cases, chosen: IntArray, into: FloatArray
    ) -> None:
        self.system = system
        circuit = system.circuit
        size = len(chosen)
        branch = circuit.siemens[system._on][:, None]
        if cases.branch_factor is not None:
            branch = branch * cases.branch_factor[np.ix_(system._on, chosen)]
        source = system._source_siemens[:, None]
        columns = max(branch.shape[1], 1)
        fixed = np.concatenate([branch, np.repeat(source, columns, axis=1)])
        self.fixed = system._fixed @ fixed
        self.saturation = system._saturation
        if cases.saturation_factor is not None:
            factor = cases.saturation_factor[np.ix_(system._joint_on, chosen)]
            self.saturation = system._saturation * factor
        self.series = system._series
        if cases.series_factor is not None:
            self.series = system._series * cases.series_factor[np.ix_(system._joint_on, chosen)]
        self.into = into[:, None]
        self.faults = []
        for one in cases.faults:
            a, b = system.place[one.a[chosen]], system.place[one.b[chosen]]
            lost = ((one.a[chosen] >= 0) & (a < 0)) | ((one.b[chosen] >= 0) & (b < 0))
            if lost.any():
                # A path that ends on an island alone joins it to something, or to nothing.
                raise CircuitError(
                    "circuit-island", "a fault ends on a node that has no path to ground"
                )
            self.faults.append((a, b, one.siemens[chosen]))
        self.size = size

    def keep(self, stay: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> None:
        """Only these cases go on."""
        self.size = int(stay.sum())
        if self.fixed.shape[1] > 1:
            self.fixed = self.fixed[:, stay]
        if self.saturation.shape[1] > 1:
            self.saturation = self.saturation[:, stay]
        if self.series.shape[1] > 1:
            self.series = self.series[:, stay]
        self.faults = [(a[stay], b[stay], g[stay]) for a, b, g in self.faults]

    def step(self, at: FloatArray) -> tuple[FloatArray, FloatArray]:
        """One step of Newton's method: new volts, and where the junctions are looked at next."""
        system = self.system
        scale, series = system._scale, self.series
        amps, slope = _laws(at, self.saturation, scale, series)
        values = system._slopes @ slope
        values += self.fixed
        right = self.into - system._incidence @ (amps - slope * at)
        factors = system.plan.factor(values)
        new = factors.solve(right)
        if self.faults:
            new = self._with_faults(factors, new)
        drop = system._drops @ new
        used = limited_volts(drop, at, amps, slope, self.saturation, scale, series)
        return new, used

    def _with_faults(self, factors: Factors, volts: FloatArray) -> FloatArray:
        """Volts after the paths are added: one solution a path, then a small dense system."""
        column = np.arange(self.size)
        count = len(self.faults)
        answers = []
        for a, b, _ in self.faults:
            push = np.zeros((len(volts) + 1, self.size))
            # The last row takes what goes to ground.
            push[a, column] += 1.0
            push[b, column] -= 1.0
            answers.append(factors.solve(push[:-1]))

        def across(of: FloatArray, a: IntArray, b: IntArray) -> FloatArray:
            return np.where(a >= 0, of[a, column], 0.0) - np.where(b >= 0, of[b, column], 0.0)

        if count == 1:
            a, b, siemens = self.faults[0]
            left = 1.0 + siemens * across(answers[0], a, b)
            # A branch taken away that has been the only path leaves nothing: no answer.
            left[np.abs(left) < ALONE] = np.nan
            return volts - answers[0] * (siemens * across(volts, a, b) / left)
        ports = np.empty((self.size, count, count))
        open_volts = np.empty((self.size, count))
        for row, (a, b, siemens) in enumerate(self.faults):
            open_volts[:, row] = siemens * across(volts, a, b)
            for col in range(count):
                ports[:, row, col] = siemens * across(answers[col], a, b) + (row == col)
        flows = np.linalg.solve(ports, open_volts[:, :, None])[:, :, 0]
        for col in range(count):
            volts = volts - answers[col] * flows[:, col]
        return volts


def junction_laws_at(
    at: FloatArray, circuit: Circuit, cases: Cases | None = None
) -> tuple[FloatArray, FloatArray]:
    """Currents and slopes of all junctions of a circuit at these volts, shape (j, cases)."""
    saturation, series = circuit.saturation[:, None], circuit.series_ohm[:, None]
    if cases is not None and cases.saturation_factor is not None:
        saturation = saturation * cases.saturation_factor
    if cases is not None and cases.series_factor is not None:
        series = series * cases.series_factor
    return _laws(at, saturation, circuit.scale_volts[:, None], series)


def _laws(
    at: FloatArray, saturation: FloatArray, scale: FloatArray, series: FloatArray
) -> tuple[FloatArray, FloatArray]:
    plain = series[:, 0] == 0
    if not plain.any() or plain.all():
        return junction_current(at, saturation, scale, series)
    amps, slope = np.empty(at.shape), np.empty(at.shape)
    for rows in (plain, ~plain):
        amps[rows], slope[rows] = junction_current(
            at[rows], saturation[rows], scale[rows], series[rows]
        )
    return amps, slope
