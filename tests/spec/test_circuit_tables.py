# SPDX-License-Identifier: GPL-3.0-or-later
"""The circuit solver against exact results: networks, ladders, lattices, junctions.

Each table names its source on top of its file in tests/spec/data.
"""

from __future__ import annotations

import math
from collections import defaultdict
from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest

from netgraph.circuit.instruments import OHMS_MOST, apply, diode_mode, ohms_mode, reading
from netgraph.circuit.junction import thermal_volts
from netgraph.circuit.lump import lump_circuit
from netgraph.circuit.network import GROUND, Circuit, CircuitBuilder
from netgraph.circuit.solve import Source, System, solve_point
from netgraph.circuit.sweep import LinearSweep
from netgraph.circuit.values import insulation
from tests.support import published

EXACT = 1e-9
"""Tables hold 12 to 15 digits; a direct solver keeps 9 of them at these sizes."""


def networks() -> dict[str, list[tuple[str, str, float]]]:
    found = defaultdict(list)
    for row in published("resistor_network_edges").rows:
        found[row["network"]].append((row["u"], row["v"], float(row["ohm"])))
    return dict(found)


def grounded(edges: list[tuple[str, str, float]], ground: str) -> Circuit:
    builder = CircuitBuilder()

    def node(name: str) -> int:
        return GROUND if name == ground else builder.node(name)

    for u, v, ohm in edges:
        builder.branch(node(u), node(v), ohm)
    return builder.freeze()


def resistance(edges: list[tuple[str, str, float]], a: str, b: str) -> float:
    """Two-point resistance: one ampere in at `a`, out at `b`."""
    circuit = grounded(edges, b)
    return solve_point(circuit, [Source(circuit.node(a), GROUND, 1.0)]).at(circuit.node(a))


@pytest.mark.parametrize("row", published("resistor_networks").rows, ids=str)
def test_two_point_resistances(row: dict[str, str]) -> None:
    """Bridges, cube, Platonic bodies, complete graphs: exact fractions, cube as published."""
    table = published("resistor_networks")
    found = resistance(networks()[row["network"]], row["from"], row["to"])
    wanted = float(Fraction(row["ohm_exact"]))
    table.expect(row, math.isclose(found, wanted, rel_tol=EXACT), f"{found}")


@pytest.mark.parametrize("name", ["wheatstone_balanced", "wheatstone_unbalanced"])
def test_volts_and_currents_of_bridges(name: str) -> None:
    """10 V over a microohm, the least a branch may have: 1e-6 of 1 ohm."""
    edges = networks()[name]
    circuit = grounded(edges, "D")
    point = solve_point(circuit, [Source(circuit.node("A"), GROUND, 10.0 / 1e-9, 1e9)])
    wanted = {
        row["quantity"]: float(Fraction(row["exact"]))
        for row in published("wheatstone_solution").rows
        if row["network"] == name
    }
    volts = {"D": 0.0} | {one: point.at(circuit.node(one)) for one in "ABC"}
    for quantity, value in wanted.items():
        if quantity.startswith("V("):
            assert volts[quantity[2]] == pytest.approx(value, rel=1e-8)
        elif quantity == "I(source)":
            assert point.source_amps(0) == pytest.approx(value, rel=1e-6)
        else:
            ohm = next(ohm for u, v, ohm in edges if {u, v} == {"B", "C"})
            assert (volts["B"] - volts["C"]) / ohm == pytest.approx(value, abs=1e-8)


@pytest.mark.parametrize("row", published("ladder").rows, ids=lambda row: row["sections"])
def test_ladders_down_to_their_limit(row: dict[str, str]) -> None:
    """Ratios of Fibonacci numbers; sixty sections reach the golden ratio to the last digit."""
    sections = 60 if row["sections"] == "inf" else int(row["sections"])
    edges = []
    for k in range(sections):
        edges += [(f"{k}", f"{k + 1}", 1.0), (f"{k + 1}", "G", 1.0)]
    assert resistance(edges, "0", "G") == pytest.approx(float(row["ohm"]), rel=1e-12)


@pytest.mark.parametrize("row", published("spanning_trees").rows, ids=lambda row: row["network"])
def test_determinants_count_spanning_trees(row: dict[str, str]) -> None:
    """Kirchhoff's theorem: the determinant of the nodal matrix of unit resistors."""
    edges = [(u, v, 1.0) for u, v, _ in networks()[row["network"]]]
    last = edges[0][0]
    matrix = System(grounded(edges, last)).matrix(np.empty(0)).toarray()
    assert np.linalg.det(matrix) == pytest.approx(int(row["spanning_trees"]), rel=1e-9)


def test_a_star_is_its_mesh() -> None:
    """Star of 1, 2, 3 ohm read between two of its ends against its mesh (table of Kron)."""
    rows = {
        row["terminal_pair"]: float(Fraction(row["mesh_ohm_exact"]))
        for row in published("kron_star_mesh").rows
        if row["star_ohms"] == "star 1,2,3"
    }
    star = {"1": 1.0, "2": 2.0, "3": 3.0}
    edges = [("m", name, ohm) for name, ohm in star.items()]
    for a, b in combinations(star, 2):
        (c,) = set(star) - {a, b}
        # In the mesh the way over c is the sum of two sides beside the direct one.
        direct = rows[f"{a}-{b}"]
        around = rows["-".join(sorted((a, c)))] + rows["-".join(sorted((b, c)))]
        assert resistance(edges, a, b) == pytest.approx(direct * around / (direct + around))


def test_cube_reduced_to_three_corners_keeps_its_resistances() -> None:
    """Table of the reduced cube: a triangle of three resistors."""
    rows = published("kron_cube").rows
    triangle = []
    for row in rows:
        a, b = row["terminal_pair"].split("-")
        triangle.append((a, b, float(Fraction(row["ohm_exact"]))))
    for a, b, _ in triangle:
        cube = resistance(networks()["cube"], a, b)
        assert resistance(triangle, a, b) == pytest.approx(cube, rel=EXACT)


def grid(side: int) -> tuple[Circuit, dict[tuple[int, int], int]]:
    """Side x side nodes joined by one ohm; the corner is ground."""
    builder = CircuitBuilder()
    node = {
        (x, y): GROUND if x == y == 0 else builder.node(f"{x},{y}")
        for x in range(side)
        for y in range(side)
    }
    for (x, y), at in node.items():
        for beyond in ((x + 1, y), (x, y + 1)):
            if beyond in node:
                builder.branch(at, node[beyond], 1.0)
    return builder.freeze(), node


@pytest.mark.parametrize("row", published("square_lattice_finite").rows[:4], ids=str)
def test_finite_lattices(row: dict[str, str]) -> None:
    """Centre of a free-edged grid (table: another program's sparse solution, ten digits)."""
    side = int(row["side_nodes"])
    circuit, node = grid(side)
    middle = side // 2
    for step, key in (((1, 0), "R_neighbour"), ((1, 1), "R_diagonal"), ((2, 1), "R_knight")):
        a, b = node[middle, middle], node[middle + step[0], middle + step[1]]
        point = solve_point(circuit, [Source(a, b, 1.0)])
        assert point.at(a) - point.at(b) == pytest.approx(float(row[key]), abs=2e-9)


def test_the_lattice_nears_its_limits_with_the_square_of_its_size() -> None:
    """R(1,0) = 1/2, R(1,1) = 2/pi, R(2,1) = 4/pi - 1/2 (Cserti; Atkinson, van Steenwijk)."""
    limits = {
        (int(row["m"]), int(row["n"])): float(row["R_over_r"])
        for row in published("square_lattice").rows
    }
    errors: dict[int, list[float]] = {}
    for side in (41, 81):
        circuit, node = grid(side)
        middle = side // 2
        for m, n in ((1, 0), (1, 1), (2, 1)):
            a, b = node[middle, middle], node[middle + m, middle + n]
            point = solve_point(circuit, [Source(a, b, 1.0)])
            errors.setdefault(side, []).append(point.at(a) - point.at(b) - limits[m, n])
    for small, large in zip(errors[41], errors[81], strict=True):
        assert 0 < large < 2e-3
        assert small / large == pytest.approx(4.0, rel=0.1)


def test_neighbours_of_infinite_lattices_by_fosters_rule() -> None:
    """2/z for z neighbours; met on tori of unit resistors, which have (n - 1)/m exactly."""
    wanted = {
        row["lattice"]: float(Fraction(row["R_over_r"]))
        for row in published("other_infinite").rows
        if "neighbours" in row["lattice"]
    }
    size = 12
    cells = [(x, y) for x in range(size) for y in range(size)]
    for name, steps in (
        ("square, neighbours", ((1, 0), (0, 1))),
        ("triangular, neighbours", ((1, 0), (0, 1), (1, 1))),
    ):
        edges = [
            (f"{x},{y}", f"{(x + dx) % size},{(y + dy) % size}", 1.0)
            for x, y in cells
            for dx, dy in steps
        ]
        found = resistance(edges, "0,0", "1,0")
        assert found == pytest.approx((len(cells) - 1) / len(edges), rel=EXACT)
        assert found == pytest.approx(wanted[name], rel=1.1 / len(cells))


@pytest.mark.parametrize("row", published("thermal_voltage").rows, ids=lambda row: row["T_K"])
def test_thermal_voltage(row: dict[str, str]) -> None:
    volts = thermal_volts(float(row["T_K"]))
    assert 1000 * volts == pytest.approx(float(row["kT_over_q_mV"]), rel=1e-8)
    assert 1000 * volts * math.log(10) == pytest.approx(float(row["mV_per_decade_n1"]), rel=1e-8)


@pytest.mark.parametrize("row", published("diode_law").rows, ids=str)
def test_diode_law(row: dict[str, str]) -> None:
    """A current pushed through a model diode, by the solver; nine digits in the table."""
    builder = CircuitBuilder()
    node = builder.node("A")
    builder.junction(node, GROUND, float(row["Is_A"]), float(row["n"]))
    point = solve_point(builder.freeze(), [Source(node, GROUND, float(row["I_A"]))])
    assert point.at(node) == pytest.approx(float(row["V_volt"]), rel=1e-8)


@pytest.mark.parametrize("row", published("diode_mode_leak").rows, ids=str)
def test_a_leak_beside_a_junction(row: dict[str, str]) -> None:
    """What diode mode reads with a leak beside the junction (checked there with Lambert's W)."""
    builder = CircuitBuilder()
    node = builder.node("A")
    builder.junction(node, GROUND, float(row["Is_A"]), float(row["n"]))
    ohm = float(row["parallel_R_ohm"])
    if math.isfinite(ohm):
        builder.branch(node, GROUND, ohm)
    circuit = builder.freeze()
    point = solve_point(circuit, [Source(node, GROUND, float(row["source_A"]))])
    wanted = float(row["reading_V"])
    assert point.at(node) == pytest.approx(wanted, rel=1e-7)
    through = float(point.junction_amps[0]) / float(row["source_A"])
    assert through == pytest.approx(float(row["fraction_through_diode"]), rel=2e-5, abs=1e-12)
    if 0.5e-3 <= float(row["source_A"]) <= 1.5e-3:
        one = diode_mode(node, red="at", amps=float(row["source_A"]))
        read = apply(circuit, [one])
        assert reading(one, read.volts(0), read.amps(0)) == pytest.approx(wanted, rel=1e-7)


def test_the_sweep_of_leaks_reads_the_bridge_tables() -> None:
    """The middle resistor of a bridge as a leak added to the bridge without it."""
    for name in ("wheatstone_balanced", "wheatstone_unbalanced", "wheatstone_equal_bridge"):
        edges = networks()[name]
        bare = [one for one in edges if {one[0], one[1]} != {"B", "C"}]
        ohm = next(one[2] for one in edges if {one[0], one[1]} == {"B", "C"})
        circuit = grounded(bare, "D")
        a, b, c = (circuit.node(one) for one in "ABC")
        sweep = LinearSweep(solve_point(circuit, [Source(a, GROUND, 1.0)]))
        wanted = next(
            float(Fraction(row["ohm_exact"]))
            for row in published("resistor_networks").rows
            if row["network"] == name
        )
        assert sweep.all_pairs(1 / ohm, a)[b, c] == pytest.approx(wanted, rel=EXACT)


def test_lumping_a_cube_between_opposite_corners_gives_three_steps() -> None:
    """By symmetry 3, 6 and 3 resistors side by side: 1/3 + 1/6 + 1/3 = 5/6 (published cube)."""
    circuit = grounded(networks()["cube"], "111")
    lumped = lump_circuit(circuit, [circuit.node("000")])
    assert sorted(lumped.circuit.siemens.tolist()) == [3.0, 3.0, 6.0]


@pytest.mark.parametrize("row", published("mlcc_leak_worked").rows, ids=str)
def test_insulation_of_capacitors_is_the_lowest_class(row: dict[str, str]) -> None:
    """50 ohm farad, 1 Mohm to 10 Gohm: equal to rows of that class, below the others."""
    table = published("mlcc_leak_worked")
    found = insulation(float(row["C_farad"])).ohm
    wanted = max(float(row["R_min_ohm"]), 1e6)
    if float(row["RC_second"]) == 50:
        table.expect(row, math.isclose(found, wanted, rel_tol=1e-5), f"{found}")
    else:
        assert found <= wanted * (1 + 1e-9)


def test_ohms_mode_reads_a_resistor_and_over_range() -> None:
    builder = CircuitBuilder()
    node = builder.node("A")
    builder.branch(node, GROUND, 4700.0)
    circuit = builder.freeze()
    one = ohms_mode(node)
    read = apply(circuit, [one])
    assert reading(one, read.volts(0), read.amps(0)) == pytest.approx(4700.0, rel=1e-9)
    builder = CircuitBuilder()
    node = builder.node("A")
    builder.branch(node, GROUND, OHMS_MOST * 1.1)
    read = apply(builder.freeze(), [ohms_mode(node)])
    assert reading(one, read.volts(0), read.amps(0)) is None
