# SPDX-License-Identifier: GPL-3.0-or-later
"""Volts of every node: sparse nodal analysis, Newton on the junctions.

Sources are in Norton form, so that the matrix stays symmetric and one sparse factorisation without
pivoting does [mna]. Nodes without a path to ground are left out and named, never tied down.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from netgraph.circuit.junction import FloatArray, junction_current, limited_volts
from netgraph.circuit.network import Circuit, IntArray, reach_of_ground
from netgraph.errors import CircuitError

MOST_STEPS: Final = 100
REST_VOLTS: Final = 1e-7
"""Largest last movement. Newton's method squares it: what is left is its square by 2 n kT/q, about
2e-13 V. Clusters of nodes that hang on nanoamperes alone rest in their ninth digit at best."""
RELATIVE: Final = 1e-9
_RAMP: Final = (1e-4, 1e-3, 1e-2, 0.1, 0.3, 0.6, 1.0)


@dataclass(frozen=True, slots=True)
class Source:
    """A Norton source: `amps` flow into node `a` and out of node `b`, `siemens` lies across.

    A supply of V volts behind R ohm is ``Source(a, b, V / R, 1 / R)``.
    """

    a: int
    b: int
    amps: float
    siemens: float = 0.0


@dataclass(frozen=True, eq=False)
class OperatingPoint:
    """A solved circuit.

    Attributes
    ----------
    volts
        Shape (n,): of each node against ground; nan on islands.
    branch_amps
        Shape (b,): from `a` to `b`.
    junction_volts, junction_amps
        Shape (j,): anode against cathode, and from anode to cathode.
    steps
        Newton steps taken.
    unreached
        Names of the nodes without any path to ground, also over the sources.
    """

    circuit: Circuit
    sources: tuple[Source, ...]
    volts: FloatArray
    branch_amps: FloatArray
    junction_volts: FloatArray
    junction_amps: FloatArray
    steps: int
    unreached: tuple[str, ...]

    def at(self, node: int) -> float:
        """Volts of a node, 0 for ground, nan on an island."""
        return 0.0 if node < 0 else float(self.volts[node])

    def source_amps(self, number: int) -> float:
        """What source `number` gives into its node `a`."""
        one = self.sources[number]
        return one.amps - one.siemens * (self.at(one.a) - self.at(one.b))


class System:
    """The matrix of a circuit with sources: its pattern made once, its values as often as needed.

    Parameters
    ----------
    sources
        Their ends and siemens; amperes may be changed from solution to solution.
    """

    def __init__(self, circuit: Circuit, sources: Sequence[Source] = ()) -> None:
        self.circuit = circuit
        self.sources = tuple(sources)
        _check_sources(len(circuit.nodes), self.sources)
        tied = [one for one in self.sources if one.siemens > 0]
        a = np.array([one.a for one in tied], dtype=np.int64)
        b = np.array([one.b for one in tied], dtype=np.int64)
        reached = reach_of_ground(
            len(circuit.nodes), (circuit.a, circuit.anode, a), (circuit.b, circuit.cathode, b)
        )
        self.live = np.flatnonzero(reached < 0)
        self.unreached = tuple(circuit.nodes[i] for i in np.flatnonzero(reached >= 0))
        place = np.full(len(circuit.nodes) + 1, -1, dtype=np.int64)
        place[self.live] = np.arange(len(self.live))
        # Index -1 picks the last entry: ground.
        self.place = place
        left = np.concatenate([circuit.a, a, circuit.anode])
        right = np.concatenate([circuit.b, b, circuit.cathode])
        self.fixed = np.concatenate([circuit.siemens, np.array([s.siemens for s in tied])])
        fixed = len(self.fixed)
        self._fixed_left, self._fixed_right = place[left[:fixed]], place[right[:fixed]]
        self._pattern(place[left], place[right])
        self.anode, self.cathode = place[circuit.anode], place[circuit.cathode]

    def _pattern(self, left: IntArray, right: IntArray) -> None:
        """Where each row's stamps go in the values of the sparse matrix."""
        size = len(self.live)
        element = np.arange(len(left))
        both = (left >= 0) & (right >= 0) & (left != right)
        rows = np.concatenate([left[left >= 0], right[right >= 0], left[both], right[both]])
        cols = np.concatenate([left[left >= 0], right[right >= 0], right[both], left[both]])
        which = np.concatenate([element[left >= 0], element[right >= 0], element[both]])
        self._which = np.concatenate([which, element[both]])
        self._sign = np.concatenate(
            [np.ones(len(rows) - 2 * int(both.sum())), -np.ones(2 * int(both.sum()))]
        )
        keys, self._slot = np.unique(cols * size + rows, return_inverse=True)
        self._rows = (keys % max(size, 1)).astype(np.int32)
        starts = np.searchsorted(keys // max(size, 1), np.arange(size + 1))
        self._starts = starts.astype(np.int32)

    def matrix(self, junction_siemens: FloatArray) -> Any:
        """The nodal matrix of the live nodes with these slopes of the junctions, CSC."""
        from scipy.sparse import csc_matrix

        siemens = np.concatenate([self.fixed, junction_siemens])
        data = np.bincount(
            self._slot, weights=self._sign * siemens[self._which], minlength=len(self._rows)
        )
        size = len(self.live)
        return csc_matrix((data, self._rows, self._starts), shape=(size, size))

    def factor(self, junction_siemens: FloatArray) -> Any:
        """Its factorisation: symmetric, pivots on the diagonal."""
        return factor(self.matrix(junction_siemens))

    def inflow(self, sources: Sequence[Source] | None = None) -> FloatArray:
        """Shape (live nodes,): what the sources push into each node."""
        into = np.zeros(len(self.live) + 1)
        for one in self.sources if sources is None else sources:
            into[self.place[one.a]] += one.amps
            into[self.place[one.b]] -= one.amps
        return into[:-1]

    def junction_drop(self, volts: FloatArray) -> FloatArray:
        """Anode against cathode for the volts of the live nodes."""
        padded = np.append(volts, 0.0)
        drop: FloatArray = padded[self.anode] - padded[self.cathode]
        return drop

    def branch_outflow(self, volts: FloatArray) -> FloatArray:
        """Shape (live nodes,): what branches and sources of siemens take out of each node.

        Each current is found from one difference and counted at both ends, so that the large
        currents of a link cancel to the last digit where they should.
        """
        padded = np.append(volts, 0.0)
        amps = self.fixed * (padded[self._fixed_left] - padded[self._fixed_right])
        size = len(self.live) + 1
        out = np.bincount(self._fixed_left % size, weights=amps, minlength=size)
        back = np.bincount(self._fixed_right % size, weights=amps, minlength=size)
        return np.asarray(out - back, dtype=np.float64)[:-1]

    def outflow(self, junction_amps: FloatArray) -> FloatArray:
        """Shape (live nodes,): what currents through the junctions take out of each node."""
        size = len(self.live) + 1
        anode, cathode = self.anode % size, self.cathode % size
        out = np.bincount(anode, weights=junction_amps, minlength=size)
        back = np.bincount(cathode, weights=junction_amps, minlength=size)
        return np.asarray(out - back, dtype=np.float64)[:-1]


def factor(matrix: Any) -> Any:
    """Sparse LU of a symmetric, diagonally dominant matrix without row exchanges."""
    from scipy.sparse.linalg import splu

    return splu(
        matrix,
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )


def solve_point(
    circuit: Circuit, sources: Sequence[Source] = (), *, start: FloatArray | None = None
) -> OperatingPoint:
    """Volts and currents of a circuit with its sources, all at rest.

    Parameters
    ----------
    start
        Shape (n,): volts to begin with, for example those of the sound board; nan counts as 0.

    Raises
    ------
    CircuitError
        A source drives an island or has impossible values (``circuit-island``,
        ``circuit-invalid``), or Newton's method does not settle (``circuit-diverged``).
    """
    return solve_system(System(circuit, sources), start=start)


def solve_system(
    system: System,
    sources: Sequence[Source] | None = None,
    *,
    start: FloatArray | None = None,
) -> OperatingPoint:
    """The same for a system whose pattern is known; `sources` may differ in their amperes only."""
    given = system.sources if sources is None else tuple(sources)
    _check_driven(system, given)
    into = system.inflow(given)
    cold = np.zeros(len(system.live))
    volts = cold if start is None else np.nan_to_num(start[system.live])
    found = _newton(system, into, volts)
    steps = MOST_STEPS if found is None else found[1]
    if found is None:
        # Turn the sources up slowly, each stage begun where the last one ended.
        volts = np.zeros(len(system.live))
        for part in _RAMP:
            found = _newton(system, part * into, volts)
            if found is None:
                raise _diverged(system, volts, part)
            volts = found[0]
            steps += found[1]
    assert found is not None  # noqa: S101 - the loop above ends with a find or an error
    return _point(system, given, found[0], steps)


def _newton(system: System, into: FloatArray, volts: FloatArray) -> tuple[FloatArray, int] | None:
    """Volts of the live nodes and steps taken, or None where it does not settle."""
    circuit = system.circuit
    at = system.junction_drop(volts)
    for step in range(1, MOST_STEPS + 1):
        amps, slope = _currents(circuit, at)
        right = into - system.outflow(amps - slope * at)
        try:
            new = system.factor(slope).solve(right)
        except RuntimeError:  # an exactly singular matrix, after rounding
            return None
        if not np.isfinite(new).all():
            return None
        used = limited_volts(
            system.junction_drop(new),
            at,
            amps,
            slope,
            circuit.saturation,
            circuit.scale_volts,
            circuit.series_ohm,
        )
        # Unknowns alone may rest while a limited junction is still on its way: both must.
        moved = np.abs(new - volts) - RELATIVE * np.abs(new)
        apart = np.abs(used - at) - RELATIVE * np.abs(used)
        volts, at = new, used
        if max(moved.max(initial=0.0), apart.max(initial=0.0)) <= REST_VOLTS:
            return _refined(system, into, volts), step + 1
    return None


def _refined(system: System, into: FloatArray, volts: FloatArray) -> FloatArray:
    """One more step from what is left over at each node.

    Nets that hang on leaks alone behind a link of milliohms lose digits in the factors; what their
    currents leave over doesn't.
    """
    amps, slope = _currents(system.circuit, system.junction_drop(volts))
    left_over = into - system.branch_outflow(volts) - system.outflow(amps)
    better: FloatArray = volts + system.factor(slope).solve(left_over)
    return better


def _currents(circuit: Circuit, at: FloatArray) -> tuple[FloatArray, FloatArray]:
    plain = circuit.series_ohm == 0
    if not plain.any() or plain.all():
        return junction_current(at, circuit.saturation, circuit.scale_volts, circuit.series_ohm)
    amps, slope = np.empty(len(at)), np.empty(len(at))
    for rows in (plain, ~plain):
        amps[rows], slope[rows] = junction_current(
            at[rows],
            circuit.saturation[rows],
            circuit.scale_volts[rows],
            circuit.series_ohm[rows],
        )
    return amps, slope


def _point(
    system: System, sources: tuple[Source, ...], live_volts: FloatArray, steps: int
) -> OperatingPoint:
    circuit = system.circuit
    volts = np.full(len(circuit.nodes), np.nan)
    volts[system.live] = live_volts
    padded = np.append(volts, 0.0)
    drop = padded[circuit.anode] - padded[circuit.cathode]
    amps, _ = _currents(circuit, np.nan_to_num(drop))
    return OperatingPoint(
        circuit,
        sources,
        volts,
        circuit.siemens * (padded[circuit.a] - padded[circuit.b]),
        drop,
        np.where(np.isnan(drop), np.nan, amps),
        steps,
        system.unreached,
    )


def slopes_at(point: OperatingPoint) -> FloatArray:
    """Slopes of all junctions at a solved point, siemens."""
    return _currents(point.circuit, np.nan_to_num(point.junction_volts))[1]


def _check_sources(count: int, sources: Sequence[Source]) -> None:
    for one in sources:
        values = np.array([one.amps, one.siemens])
        if not np.isfinite(values).all() or one.siemens < 0:
            raise CircuitError("circuit-invalid", "a source's value is negative or no number")
        if not (-1 <= one.a < count and -1 <= one.b < count):
            raise CircuitError("circuit-invalid", "a source ends on a node that does not exist")
        if one.a == one.b:
            raise CircuitError(
                "circuit-invalid",
                "both leads of a source are on the same node",
                hint="put one lead on another net",
            )


def _check_driven(system: System, sources: Sequence[Source]) -> None:
    place = system.place
    for one in sources:
        for node in (one.a, one.b):
            if node >= 0 and place[node] < 0 and one.amps != 0:
                name = system.circuit.nodes[node]
                raise CircuitError(
                    "circuit-island",
                    f"a current is pushed into {name}, which has no path to ground",
                    hint="nothing that conducts joins it to ground: the meter reads over range",
                )


def _diverged(system: System, volts: FloatArray, part: float) -> CircuitError:
    drop = np.abs(system.junction_drop(volts))
    worst = int(np.argmax(drop)) if len(drop) else -1
    label = system.circuit.junction_label[worst] if worst >= 0 else None
    near = f"; the largest junction voltage is at {label.part_id}" if label else ""
    return CircuitError(
        "circuit-diverged",
        f"no operating point was found within {MOST_STEPS} steps at {100 * part:g} % of the "
        f"sources{near}",
        hint="try a lower voltage, or report the board",
    )
