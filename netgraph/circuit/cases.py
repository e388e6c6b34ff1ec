# SPDX-License-Identifier: GPL-3.0-or-later
"""What does one instrument read in each of many cases? Its mode is found case by case."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np

from netgraph.circuit.batch import BatchPoints, BatchSystem, Cases, PortFault
from netgraph.circuit.instruments import Instrument, apply, reading
from netgraph.circuit.junction import FloatArray
from netgraph.circuit.lump import Lumped
from netgraph.circuit.network import Circuit, IntArray, Label
from netgraph.circuit.solve import Source
from netgraph.errors import CircuitError

_FAULT: Final = Label("", "fault", "fault", "")


@dataclass(frozen=True, eq=False)
class CaseReadings:
    """What an instrument reads in each case.

    Attributes
    ----------
    values
        Shape (cases,): amperes, volts or ohms; infinite where it reads over range, nan where no
        operating point was found.
    volts
        Shape (n, cases): of all nodes of the circuit that was asked.
    amps
        Shape (cases,): what the instrument gives.
    """

    values: FloatArray
    volts: FloatArray
    amps: FloatArray


class CaseReader:
    """One instrument on one circuit, for many cases (faults, or drawn values)."""

    def __init__(self, circuit: Circuit, instrument: Instrument) -> None:
        self.circuit = circuit
        self.instrument = instrument
        self.sound = apply(circuit, [instrument])

    @cached_property
    def _inside(self) -> BatchSystem:
        """With the instrument within its limit."""
        return BatchSystem(self.circuit, [self.instrument.source()])

    @cached_property
    def _beyond(self) -> BatchSystem | None:
        """With the instrument at its limit; None where it would drive an island."""
        one = self.instrument
        node = one.a if one.a >= 0 else one.b
        if any(self.circuit.nodes[node] in island for island in self.circuit.islands):
            return None
        return BatchSystem(self.circuit, [Source(one.a, one.b, one.limit_amps)])

    def read(self, cases: Cases, *, alone: bool = True) -> CaseReadings:
        """Readings in all cases; the mode of the instrument is found in each.

        Parameters
        ----------
        alone
            Solve what the batch can't tell case by case; else it stays nan.
        """
        one = self.instrument
        count = cases.count
        volts = np.full((len(self.circuit.nodes), count), np.nan)
        amps = np.full(count, np.nan)
        start = self.sound.point.volts
        limited = self._beyond if self.sound.modes[0] == "cc" else None
        first = limited or self._inside
        self._fill(first, cases, np.arange(count), start, volts, amps)
        across = _between(volts, one)
        if first is self._inside:
            wrong = np.flatnonzero(amps > one.limit_amps * (1 + 1e-9))
            second = self._beyond if len(wrong) else None
        else:
            wrong = np.flatnonzero(across + one.limit_amps * one.ohm > one.volts * (1 + 1e-9))
            second = self._inside
        if len(wrong) and second is not None:
            self._fill(second, _some(cases, wrong), wrong, start, volts, amps)
        elif len(wrong):
            amps[wrong] = np.nan
        if alone:
            self._one_by_one(cases, volts, amps)
        return CaseReadings(_values(one, _between(volts, one), amps), volts, amps)

    def _fill(
        self,
        system: BatchSystem,
        cases: Cases,
        where: IntArray,
        start: FloatArray,
        volts: FloatArray,
        amps: FloatArray,
    ) -> None:
        lost = np.zeros(cases.count, dtype=np.bool_)
        for fault in cases.faults:
            for ends in (fault.a, fault.b):
                lost |= (ends >= 0) & (system.place[ends] < 0) & (fault.siemens > 0)
        good = np.flatnonzero(~lost)
        if not len(good):
            return
        found: BatchPoints = system.solve(_some(cases, good), start=start)
        volts[:, where[good]] = found.volts
        source = system.sources[0]
        given = source.amps - source.siemens * found.between(source.a, source.b)
        amps[where[good]] = np.where(found.settled, given, np.nan)

    def _one_by_one(self, cases: Cases, volts: FloatArray, amps: FloatArray) -> None:
        """Cases that the batch can't tell: faults on islands, and what did not come to rest."""
        for case in np.flatnonzero(np.isnan(amps)).tolist():
            circuit = self._circuit_of(cases, case)
            try:
                found = apply(circuit, [self.instrument])
            except CircuitError:
                continue
            volts[:, case] = found.point.volts
            amps[case] = found.amps(0)

    def _circuit_of(self, cases: Cases, case: int) -> Circuit:
        circuit = self.circuit
        if cases.branch_factor is not None:
            circuit = replace(circuit, siemens=circuit.siemens * cases.branch_factor[:, case])
        if cases.saturation_factor is not None:
            factor = cases.saturation_factor[:, case]
            circuit = replace(circuit, saturation=circuit.saturation * factor)
        if cases.series_factor is not None:
            circuit = replace(circuit, series_ohm=circuit.series_ohm * cases.series_factor[:, case])
        return circuit.with_branches(
            (int(one.a[case]), int(one.b[case]), 1.0 / float(one.siemens[case]), _FAULT)
            for one in cases.faults
            if one.siemens[case] > 0
        )


def moved(one: Instrument, lumped: Lumped) -> Instrument:
    """The instrument on the classes of its nodes, which were kept."""
    classes = np.append(lumped.class_of, -1)
    return replace(one, a=int(classes[one.a]), b=int(classes[one.b]))


def _between(volts: FloatArray, one: Instrument) -> FloatArray:
    zero = np.zeros(volts.shape[1])
    a = volts[one.a] if one.a >= 0 else zero
    b = volts[one.b] if one.b >= 0 else zero
    return a - b


def _some(cases: Cases, chosen: IntArray) -> Cases:
    if len(chosen) == cases.count:
        return cases
    return Cases(
        len(chosen),
        tuple(PortFault(f.a[chosen], f.b[chosen], f.siemens[chosen]) for f in cases.faults),
        None if cases.branch_factor is None else cases.branch_factor[:, chosen],
        None if cases.saturation_factor is None else cases.saturation_factor[:, chosen],
        None if cases.series_factor is None else cases.series_factor[:, chosen],
    )


def _values(one: Instrument, volts: FloatArray, amps: FloatArray) -> FloatArray:
    found = np.full(len(amps), np.nan)
    for case in np.flatnonzero(~np.isnan(amps)).tolist():
        read = reading(one, float(volts[case]), float(amps[case]))
        found[case] = np.inf if read is None else read
    return found
