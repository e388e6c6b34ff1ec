# SPDX-License-Identifier: GPL-3.0-or-later
"""Operating points against ngspice (Debian package), with its tolerances at 1e-9, 1e-15, 1e-12."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from netgraph.circuit.elements import board_circuit
from netgraph.circuit.faults import parse_faults, place_faults, with_fault
from netgraph.circuit.network import GROUND, Circuit, CircuitBuilder, Label
from netgraph.circuit.solve import Source, solve_point
from netgraph.formats import read_board
from netgraph.rails import find_rails
from netgraph.roles import find_roles
from tests.oracle.spice import ngspice, solve_with_ngspice
from tests.property.circuit_strategies import Drawn, circuits

RELATIVE = 1e-6
LEAST_VOLTS = 1e-6
"""Below a microvolt both programs are at their own tolerances."""


def compared(circuit: Circuit, sources: list[Source], folder: Path) -> float:
    """Largest relative difference of all nodes of more than a microvolt."""
    ours = solve_point(circuit, sources).volts
    theirs = solve_with_ngspice(circuit, sources, folder, guess=ours)
    seen = np.isfinite(ours) & np.isfinite(theirs)
    assert seen.sum() == np.isfinite(ours).sum(), "ngspice names every node that we do"
    size = np.maximum(np.abs(ours[seen]), LEAST_VOLTS)
    return float((np.abs(ours[seen] - theirs[seen]) / size).max(initial=0.0))


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(circuits(), st.data())
def test_random_boards_with_diodes_and_faults(drawn: Drawn, data: st.DataObject) -> None:
    ngspice()
    nodes = range(len(drawn.circuit.nodes))
    rows = []
    for _ in range(data.draw(st.integers(1, 3))):
        a = data.draw(st.sampled_from(list(nodes)))
        b = data.draw(st.sampled_from([k for k in (GROUND, *nodes) if k != a]))
        rows.append((a, b, 10 ** data.draw(st.floats(-2, 6)), Label("", "f", "fault", "")))
    circuit = drawn.circuit.with_branches(rows)
    with tempfile.TemporaryDirectory() as folder:
        assert compared(circuit, list(drawn.sources), Path(folder)) <= RELATIVE


def test_its_own_diode_agrees_where_every_junction_conducts(tmp_path: Path) -> None:
    """ngspice 39 takes k and q of CODATA 2014: its kT/q is smaller by 3.4e-7."""
    builder = CircuitBuilder()
    last = GROUND
    for k, (saturation, emission) in enumerate([(1e-13, 1.1), (3e-9, 1.8), (1e-6, 1.05)]):
        node = builder.node(f"N{k}")
        builder.junction(node, last, saturation, emission, 2.0)
        builder.branch(node, GROUND, 2200.0)
        last = node
    circuit, sources = builder.freeze(), [Source(last, GROUND, 1e-3)]
    theirs = solve_with_ngspice(circuit, sources, tmp_path, own_diodes=True)
    ours = solve_point(circuit, sources).volts
    assert np.abs(ours / theirs - 1).max() <= RELATIVE


@pytest.mark.parametrize(
    ("net", "amps", "siemens"),
    [
        ("VBAT", 4.0 / 0.12, 1 / 0.12),
        ("IPS", 1e-3, 0.0),
        ("+3V3", 1e-3, 0.0),
        ("+5V", 0.3 / 0.12, 1 / 0.12),
    ],
)
@pytest.mark.parametrize(
    "fault", ["", "leak IPS GND 11R", "leak +3V3 +1.5V 300R + part C117 2R + open L14"]
)
def test_the_largest_board(
    net: str, amps: float, siemens: float, fault: str, boards_dir: Path, tmp_path: Path
) -> None:
    """OLIMEX/DIY-LAPTOP@a9501ffe (Apache-2.0): about 470 nets, 1 100 junctions, with faults."""
    board = read_board(boards_dir / "teres_main_c" / "board.kicad_pcb")
    roles = find_roles(board)
    circuit = board_circuit(board, roles, find_rails(board, roles))
    if fault:
        grounds = frozenset(name for name, node in circuit.node_of.items() if node < 0)
        placed = place_faults(parse_faults(fault), board, roles, grounds)
        circuit = with_fault(circuit, placed)
    source = Source(circuit.node(net), GROUND, amps, siemens)
    # Nets on islands have no equation in either program.
    assert compared(circuit, [source], tmp_path) <= RELATIVE
