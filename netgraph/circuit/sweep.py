# SPDX-License-Identifier: GPL-3.0-or-later
"""What would be read under each of many faults? One factorisation, low-rank updates of it.

`LinearSweep` holds the junctions at their slopes of the sound board and answers all pairs of nets
in one sweep; `FaultSweep` follows the junctions too.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from netgraph.circuit.batch import ALONE, Cases, PortFault
from netgraph.circuit.cases import CaseReader, CaseReadings, moved
from netgraph.circuit.instruments import Instrument, apply, reading
from netgraph.circuit.junction import FloatArray
from netgraph.circuit.lump import lump_circuit
from netgraph.circuit.network import Circuit, IntArray
from netgraph.circuit.solve import OperatingPoint, System, factor, slopes_at
from netgraph.errors import CircuitError

BoolArray = NDArray[np.bool_]


class LinearSweep:
    """Readings of a linear network under leaks, opens and pairs of them.

    Junctions stay at their slopes at `point`. With Z the inverse of the nodal matrix, a path of
    conductance g between a and b changes the volts of node k by
    ``-(Z_ka - Z_kb) (v_a - v_b) / (1/g + z_ab)``, ``z_ab = Z_aa + Z_bb - 2 Z_ab`` [woodbury].

    Attributes
    ----------
    impedance
        Shape (n + 1, n + 1): Z over all nodes, the last row and column ground; nan on islands.
    volts
        Shape (n + 1,): volts of the sound board, 0 at the end.
    """

    def __init__(self, point: OperatingPoint) -> None:
        self.point = point
        circuit = point.circuit
        system = System(circuit, point.sources)
        lu = factor(system.matrix(slopes_at(point)))
        count, live = len(circuit.nodes), system.live
        self.impedance = np.full((count + 1, count + 1), np.nan)
        self.impedance[np.ix_(live, live)] = lu.solve(np.eye(len(live)))
        # From and to ground nothing is pushed: row and column of zeros.
        self.impedance[live, count] = self.impedance[count, live] = 0.0
        self.impedance[count, count] = 0.0
        self.volts = np.append(point.volts, 0.0)
        self.own = np.diagonal(self.impedance).copy()

    def all_pairs(self, siemens: float, observe: int) -> FloatArray:
        """Volts of one node under a leak between every two nodes, ground included.

        Returns
        -------
        Shape (n + 1, n + 1), symmetric, the diagonal being the sound board; nan where an end is on
        an island.

        Raises
        ------
        CircuitError
            `siemens` is not positive.
        """
        _check_siemens(np.array([siemens]))
        row = self.impedance[observe]
        fall = self.impedance * -2.0
        fall += self.own[:, None]
        fall += self.own[None, :]
        fall += 1.0 / siemens
        change = row[:, None] - row[None, :]
        change *= self.volts[:, None] - self.volts[None, :]
        change /= fall
        found: FloatArray = np.subtract(self.volts[observe], change, out=change)
        return found

    def leaks(self, a: IntArray, b: IntArray, siemens: FloatArray, observe: IntArray) -> FloatArray:
        """Volts of some nodes under single leaks.

        Parameters
        ----------
        a, b, siemens
            Shape (f,): ends (-1: ground) and conductances.
        observe
            Shape (k,): nodes that are read.

        Returns
        -------
        Shape (f, k).
        """
        _check_siemens(siemens)
        across = 1.0 / siemens + self._between(a, b)
        flow = (self.volts[a] - self.volts[b]) / across
        shift = self.impedance[np.ix_(a, observe)] - self.impedance[np.ix_(b, observe)]
        found: FloatArray = self.volts[observe][None, :] - shift * flow[:, None]
        return found

    def opens(self, branches: IntArray, observe: IntArray) -> tuple[FloatArray, BoolArray]:
        """Volts of some nodes with single branches open, and where that makes an island.

        Returns
        -------
        Shape (f, k), nan where the branch has been the only path of something (then the second
        array, shape (f,), is True).
        """
        circuit = self.point.circuit
        a, b, siemens = circuit.a[branches], circuit.b[branches], circuit.siemens[branches]
        left = 1.0 - siemens * self._between(a, b)
        alone = ~(left > ALONE)
        with np.errstate(divide="ignore", invalid="ignore"):
            flow = -siemens * (self.volts[a] - self.volts[b]) / left
            shift = self.impedance[np.ix_(a, observe)] - self.impedance[np.ix_(b, observe)]
            found = self.volts[observe][None, :] - shift * flow[:, None]
        found[alone] = np.nan
        return found, alone

    def several(
        self, a: IntArray, b: IntArray, siemens: FloatArray, observe: IntArray
    ) -> FloatArray:
        """Volts of some nodes under k paths at once, by a k x k system a case.

        Parameters
        ----------
        a, b, siemens
            Shape (f, k); conductances may be negative where a path is taken away.

        Returns
        -------
        Shape (f, observed).
        """
        if not (np.isfinite(siemens).all() and (siemens != 0).all()):
            raise CircuitError("circuit-invalid", "the conductance of a fault is zero or no number")
        z = self.impedance
        ports = (
            z[a[:, :, None], a[:, None, :]]
            - z[a[:, :, None], b[:, None, :]]
            - z[b[:, :, None], a[:, None, :]]
            + z[b[:, :, None], b[:, None, :]]
        )
        index = np.arange(a.shape[1])
        ports[:, index, index] += 1.0 / siemens
        flow = np.linalg.solve(ports, (self.volts[a] - self.volts[b])[:, :, None])
        shift = z[a[:, :, None], observe] - z[b[:, :, None], observe]
        found: FloatArray = self.volts[observe] - (shift * flow).sum(axis=1)
        return found

    def _between(self, a: IntArray, b: IntArray) -> FloatArray:
        found: FloatArray = self.own[a] + self.own[b] - 2.0 * self.impedance[a, b]
        return found


def _check_siemens(siemens: FloatArray) -> None:
    if not (np.isfinite(siemens).all() and (siemens > 0).all()):
        raise CircuitError(
            "circuit-invalid", "the conductance of a leak is negative, zero or no number"
        )


class FaultSweep:
    """One instrument on one board under many faults, junctions followed.

    Parameters
    ----------
    touched
        All nodes that faults may touch and readings ask; the others are joined where they can't
        differ (`lump`).
    """

    def __init__(self, circuit: Circuit, instrument: Instrument, touched: Iterable[int]) -> None:
        keep = {*touched, instrument.a, instrument.b}
        self.circuit, self.instrument = circuit, instrument
        self.lumped = lump_circuit(circuit, keep)
        self._class = np.append(self.lumped.class_of, -1)
        self._keep = frozenset(keep)
        self.reader = CaseReader(self.lumped.circuit, moved(instrument, self.lumped))

    def read(self, faults: Sequence[PortFault]) -> CaseReadings:
        """Readings under faults; several are there at once in each case.

        Raises
        ------
        CircuitError
            A fault touches a node that was not named, or its conductance is impossible.
        """
        placed = []
        for one in faults:
            _check_siemens(one.siemens[one.siemens != 0])
            if not self._keep.issuperset(one.a.tolist()) or not self._keep.issuperset(
                [node for node in one.b.tolist() if node >= 0]
            ):
                raise CircuitError("circuit-invalid", "a fault touches a node that was not named")
            placed.append(PortFault(self._class[one.a], self._class[one.b], one.siemens))
        count = len(faults[0].a) if faults else 1
        found = self.reader.read(Cases(count, tuple(placed)))
        return CaseReadings(found.values, self.lumped.spread(found.volts), found.amps)

    def read_opens(self, part_ids: Sequence[str]) -> FloatArray:
        """Readings with one part open at a time, shape (parts,).

        A part that is a single resistance between touched nodes is taken away by update; what
        leaves something without a path, or has junctions too, is solved on its own. Infinite
        means over range, nan that no operating point was found.
        """
        found = np.full(len(part_ids), np.nan)
        plain = {}
        for number, part_id in enumerate(part_ids):
            row = self._single_branch(part_id)
            if row is not None:
                plain[number] = row
        if plain:
            rows = np.array(list(plain.values()))
            a, b = self.circuit.a[rows], self.circuit.b[rows]
            away = PortFault(self._class[a], self._class[b], -self.circuit.siemens[rows])
            cases = self.reader.read(Cases(len(rows), (away,)), alone=False)
            found[list(plain)] = cases.values
        for number in np.flatnonzero(np.isnan(found)).tolist():
            circuit = self.circuit.without_parts([part_ids[number]])
            try:
                point = apply(circuit, [self.instrument])
            except CircuitError:
                continue
            read = reading(self.instrument, point.volts(0), point.amps(0))
            found[number] = np.inf if read is None else read
        return found

    def _single_branch(self, part_id: str) -> int | None:
        """Row of a part that is one branch between kept nodes and nothing else."""
        rows = self._rows.get(part_id, [])
        if len(rows) != 1 or part_id in self._joints:
            return None
        ends = {int(self.circuit.a[rows[0]]), int(self.circuit.b[rows[0]])} - {-1}
        return rows[0] if ends <= self._keep else None

    @cached_property
    def _rows(self) -> dict[str, list[int]]:
        found: dict[str, list[int]] = {}
        for row, label in enumerate(self.circuit.branch_label):
            found.setdefault(label.part_id, []).append(row)
        return found

    @cached_property
    def _joints(self) -> frozenset[str]:
        return frozenset(label.part_id for label in self.circuit.junction_label)
