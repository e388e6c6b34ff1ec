# SPDX-License-Identifier: GPL-3.0-or-later
"""Operating points against ngspice (Debian package), with its tolerances at 1e-9, 1e-15, 1e-12."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.special import wrightomega

from netgraph.circuit.elements import board_circuit
from netgraph.circuit.faults import parse_faults, place_faults, with_fault
from netgraph.circuit.network import GROUND, Circuit, CircuitBuilder, IntArray, Label
from netgraph.circuit.solve import Source, System, slopes_at, solve_point
from netgraph.formats import read_board
from netgraph.rails import find_rails
from netgraph.roles import find_roles
from tests.oracle.spice import ngspice, solve_with_ngspice
from tests.property.circuit_strategies import Drawn, circuits

RELATIVE = 1e-6
LEAST_VOLTS = 1e-3
"""A nanovolt is left to ngspice: nets that hang on gigaohms behind a coil of milliohms lose digits
in its factors (6e-6 of 30 microvolts, seen by the extended-precision check below)."""


def compared(circuit: Circuit, sources: list[Source], folder: Path) -> float | None:
    """Largest difference of all nodes, by their volts or a millivolt; None: ngspice found none."""
    ours = solve_point(circuit, sources).volts
    theirs = solve_with_ngspice(circuit, sources, folder, guess=ours)
    if theirs is None:
        return None
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
        apart = compared(circuit, list(drawn.sources), Path(folder))
    # Too many circuits without an answer are an error of their own.
    assume(apart is not None)
    assert apart is not None
    assert apart <= RELATIVE


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
    assert theirs is not None
    ours = solve_point(circuit, sources).volts
    assert np.abs(ours / theirs - 1).max() <= RELATIVE


POINTS = [
    ("VBAT", 4.0 / 0.12, 1 / 0.12),
    ("IPS", 1e-3, 0.0),
    ("+3V3", 1e-3, 0.0),
    ("+5V", 0.3 / 0.12, 1 / 0.12),
    ("IPS", 3.7 / 0.12, 1 / 0.12),
]


def test_the_largest_board(boards_dir: Path, tmp_path: Path) -> None:
    """OLIMEX/DIY-LAPTOP@a9501ffe (Apache-2.0): about 470 nets, 1 100 junctions, with faults.

    ngspice finds most of these points, not all; every one that it finds must agree.
    """
    board = read_board(boards_dir / "teres_main_c" / "board.kicad_pcb")
    roles = find_roles(board)
    sound = board_circuit(board, roles, find_rails(board, roles))
    grounds = frozenset(name for name, node in sound.node_of.items() if node < 0)
    found = []
    for fault in ("", "leak IPS GND 11R", "leak +3V3 +1.5V 300R + part C117 2R + open L14"):
        placed = place_faults(parse_faults(fault) if fault else (), board, roles, grounds)
        circuit = with_fault(sound, placed)
        for net, amps, siemens in POINTS:
            source = Source(circuit.node(net), GROUND, amps, siemens)
            # Nets on islands have no equation in either program.
            apart = compared(circuit, [source], tmp_path)
            if apart is not None:
                found.append(apart)
                assert apart <= RELATIVE, (fault, net)
    assert len(found) >= 10


@pytest.mark.parametrize(
    ("net", "amps", "siemens"),
    [("VBAT", 4.0 / 0.12, 1 / 0.12), ("+3V3", -1e-3, 0.0), ("IPS", 1e-3, 0.0)],
)
def test_volts_are_exact_in_extended_precision(
    net: str, amps: float, siemens: float, boards_dir: Path
) -> None:
    """Refined with residuals in 80-bit numbers until nothing moves; +3V3 in reverse is a point that
    ngspice doesn't find at these tolerances.
    """
    if np.finfo(np.longdouble).eps > 1e-18:
        pytest.skip("no extended precision on this machine")
    board = read_board(boards_dir / "teres_main_c" / "board.kicad_pcb")
    roles = find_roles(board)
    circuit = board_circuit(board, roles, find_rails(board, roles))
    sources = [Source(circuit.node(net), GROUND, amps, siemens)]
    point = solve_point(circuit, sources)
    system = System(circuit, sources)
    lu = system.factor(slopes_at(point))
    ours = point.volts[system.live]
    volts = ours.astype(np.longdouble)
    for _ in range(6):
        step = lu.solve(left_over(system, volts).astype(np.float64))
        volts = volts + step
    assert np.abs(step).max() < 1e-17
    exact = volts.astype(np.float64)
    assert (np.abs(ours - exact) <= 1e-9 * np.maximum(np.abs(exact), 1e-6)).all()


def left_over(system: System, volts: NDArray[np.longdouble]) -> NDArray[np.longdouble]:
    """Currents that do not sum to nothing, from the elements alone, in extended precision."""
    circuit = system.circuit
    padded = np.append(volts, np.longdouble(0))
    place = system.place
    out = np.zeros(len(padded), dtype=np.longdouble)

    def flow(a: IntArray, b: IntArray, amps: NDArray[np.longdouble]) -> None:
        np.add.at(out, place[a], amps)
        np.add.at(out, place[b], -amps)

    def drop(a: IntArray, b: IntArray) -> NDArray[np.longdouble]:
        return padded[place[a]] - padded[place[b]]

    flow(circuit.a, circuit.b, circuit.siemens * drop(circuit.a, circuit.b))
    for one in system.sources:
        a, b = np.array([one.a]), np.array([one.b])
        flow(a, b, one.siemens * drop(a, b) - np.longdouble(one.amps))
    scale = circuit.scale_volts.astype(np.longdouble)
    knee = scale / circuit.series_ohm
    z = np.log(circuit.saturation / knee) + drop(circuit.anode, circuit.cathode) / scale
    z = z + circuit.saturation / knee
    w = wrightomega(z.astype(np.float64)).astype(np.longdouble)
    for _ in range(3):
        w = w * (1 + (z - w - np.log(w)) / (1 + w))
    flow(circuit.anode, circuit.cathode, knee * w - circuit.saturation)
    return -out[:-1]
