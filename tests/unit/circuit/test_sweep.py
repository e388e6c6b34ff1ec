# SPDX-License-Identifier: GPL-3.0-or-later
"""Sweeps over faults against boards built and solved anew."""

from __future__ import annotations

import math

import numpy as np
import pytest

from netgraph.circuit.batch import PortFault
from netgraph.circuit.elements import board_circuit
from netgraph.circuit.instruments import Instrument, apply, diode_mode, ohms_mode, reading, supply
from netgraph.circuit.network import GROUND, Circuit, Label
from netgraph.circuit.solve import Source, solve_point
from netgraph.circuit.sweep import FaultSweep, LinearSweep
from netgraph.errors import CircuitError
from tests.unit.plan.sketch import recorder

FAULT = Label("", "fault", "fault", "")


def board() -> Circuit:
    return board_circuit(*recorder().done())


def alone(circuit: Circuit, one: Instrument) -> float:
    found = apply(circuit, [one])
    read = reading(one, found.volts(0), found.amps(0))
    return math.inf if read is None else read


def instruments(circuit: Circuit) -> list[Instrument]:
    node = circuit.node("3V3")
    entry = circuit.node("VBUS")
    return [
        diode_mode(node),
        diode_mode(node, red="at"),
        ohms_mode(node),
        supply(node, 0.3, 0.5),
        supply(entry, 5.0, 0.1),
    ]


@pytest.mark.parametrize("number", range(5))
def test_leaks_and_pairs_of_leaks_are_read_as_on_boards_of_their_own(number: int) -> None:
    """Severities over eight decades; some reach the current limit, some read over range."""
    circuit = board()
    one = instruments(circuit)[number]
    nodes = [circuit.node(name) for name in ("3V3", "VIN", "RADIO", "SCL", "VBUS")]
    random = np.random.default_rng(number)
    a = random.choice(nodes, 40)
    b = np.where(a == nodes[0], GROUND, nodes[0])
    siemens = 10.0 ** random.uniform(-6, 2, 40)
    second = random.choice(nodes[1:], 40)
    weak = 10.0 ** random.uniform(-6, 2, 40)
    sweep = FaultSweep(circuit, one, nodes)
    ground = np.full(40, GROUND)
    found = sweep.read([PortFault(a, b, siemens), PortFault(second, ground, weak)]).values
    for k in range(40):
        rows = [
            (int(a[k]), int(b[k]), float(1 / siemens[k]), FAULT),
            (int(second[k]), GROUND, float(1 / weak[k]), FAULT),
        ]
        wanted = alone(circuit.with_branches(rows), one)
        assert found[k] == pytest.approx(wanted, rel=1e-5, abs=1e-6)


@pytest.mark.parametrize("number", range(5))
def test_open_parts_are_read_as_on_boards_without_them(number: int) -> None:
    """A ferrite that is the only way, one resistor of several, a chip with all its junctions."""
    circuit = board()
    one = instruments(circuit)[number]
    names = ("3V3", "VIN", "VBUS", "SW", "FB", "SCL")
    sweep = FaultSweep(circuit, one, [circuit.node(name) for name in names])
    parts = ["FB1", "L1", "R1", "R2", "R3", "U1", "C1"]
    found = sweep.read_opens(parts)
    for part, value in zip(parts, found.tolist(), strict=True):
        wanted = alone(circuit.without_parts([part]), one)
        assert value == pytest.approx(wanted, rel=1e-5, abs=1e-6), part


def test_a_leak_onto_an_island_is_answered_too() -> None:
    """A net that nothing joins to ground gets a path by the fault itself."""
    circuit = board()
    lone = circuit.node("USB_DP")
    circuit = circuit.without_parts(["U1", "J1"])
    assert any("USB_DP" in island for island in circuit.islands)
    one = diode_mode(lone, red="at")
    sweep = FaultSweep(circuit, one, [lone, circuit.node("3V3")])
    ends = np.array([lone, lone]), np.array([GROUND, circuit.node("3V3")])
    found = sweep.read([PortFault(*ends, np.array([1 / 470.0, 1 / 470.0]))]).values
    assert found[0] == pytest.approx(0.47, rel=1e-6)
    row = (lone, int(ends[1][1]), 470.0, FAULT)
    assert found[1] == pytest.approx(alone(circuit.with_branches([row]), one), rel=1e-5)


def test_opening_the_only_path_is_reported_as_an_island() -> None:
    circuit = board()
    entry = circuit.node("VBUS")
    point = solve_point(circuit, [Source(entry, GROUND, 1e-3)])
    sweep = LinearSweep(point)
    row = next(k for k, one in enumerate(circuit.branch_label) if one.part_id == "FB1")
    volts, lone = sweep.opens(np.array([row]), np.array([entry]))
    opened = circuit.without_parts(["FB1"])
    if lone[0]:
        assert np.isnan(volts).all()
    else:
        again = solve_point(opened, [Source(entry, GROUND, 0.0)])
        assert np.isfinite(again.at(entry))


def test_impossible_faults_are_refused() -> None:
    circuit = board()
    node = circuit.node("3V3")
    sweep = FaultSweep(circuit, ohms_mode(node), [node])
    for siemens in (-1.0, math.nan, math.inf):
        with pytest.raises(CircuitError, match="negative, zero or no number"):
            sweep.read([PortFault(np.array([node]), np.array([GROUND]), np.array([siemens]))])
    other = circuit.node("VIN")
    with pytest.raises(CircuitError, match="not named"):
        sweep.read([PortFault(np.array([other]), np.array([GROUND]), np.array([1.0]))])
    linear = LinearSweep(solve_point(circuit, [Source(node, GROUND, 1e-3)]))
    with pytest.raises(CircuitError):
        linear.all_pairs(-1.0, node)
