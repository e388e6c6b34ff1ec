# SPDX-License-Identifier: GPL-3.0-or-later
"""Laws that every circuit obeys, whatever its values: no outside numbers are needed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from netgraph.circuit.batch import BatchSystem, Cases, PortFault
from netgraph.circuit.draws import draw_scores, drawn_cases
from netgraph.circuit.lump import lump_circuit
from netgraph.circuit.network import GROUND, Circuit, IntArray, Label
from netgraph.circuit.solve import OperatingPoint, Source, solve_point
from netgraph.circuit.sweep import LinearSweep
from tests.property.circuit_strategies import Drawn, circuits

FAULT = Label("", "fault", "fault", "")


def scale(point: OperatingPoint) -> float:
    return float(np.abs(point.volts).max(initial=0.0)) + 1e-9


@given(circuits(junctions=False), st.floats(-3, 3))
def test_superposition(drawn: Drawn, factor: float) -> None:
    """Linear: volts under all sources are the sum of those under each alone."""
    circuit, sources = drawn.circuit, list(drawn.sources)
    sources.append(Source(0, GROUND, factor * 1e-3))
    # Off means no amperes; the siemens of a supply stay where they are.
    alone = [
        solve_point(
            circuit,
            [
                one if k == other else Source(one.a, one.b, 0.0, one.siemens)
                for k, one in enumerate(sources)
            ],
        ).volts
        for other in range(len(sources))
    ]
    whole = solve_point(circuit, sources)
    size = sum(np.abs(one) for one in alone) + 1e-12
    assert (np.abs(whole.volts - sum(alone)) <= 1e-8 * size.max()).all()


@given(circuits(junctions=False), st.data())
def test_reciprocity(drawn: Drawn, data: st.DataObject) -> None:
    """Linear: push at a and read at b, or push at b and read at a: the same volts."""
    circuit = drawn.circuit
    nodes = st.sampled_from([GROUND, *range(len(circuit.nodes))])
    a, b, c, d = (data.draw(nodes) for _ in range(4))
    assume(a != b and c != d)
    one = solve_point(circuit, [Source(a, b, 1e-3)])
    two = solve_point(circuit, [Source(c, d, 1e-3)])
    there, back = one.at(c) - one.at(d), two.at(a) - two.at(b)
    assert abs(there - back) <= 1e-8 * max(scale(one), scale(two))


@given(circuits(plain=True))
def test_power_balance(drawn: Drawn) -> None:
    """What the sources give is what branches and junctions take (Tellegen)."""
    point = solve_point(drawn.circuit, drawn.sources)
    circuit = drawn.circuit
    padded = np.append(point.volts, 0.0)
    taken = (point.branch_amps * (padded[circuit.a] - padded[circuit.b])).sum()
    joints = point.junction_amps * point.junction_volts
    given_ = sum(
        point.source_amps(k) * (point.at(one.a) - point.at(one.b))
        for k, one in enumerate(drawn.sources)
    )
    size = np.abs(joints).sum() + abs(taken) + abs(given_)
    assert abs(given_ - taken - joints.sum()) <= 1e-6 * size + 1e-15
    assert (joints >= -1e-15).all(), "a junction gives no power"


@given(circuits(plain=True))
def test_currents_of_every_node_sum_to_nothing(drawn: Drawn) -> None:
    """Kirchhoff, from the currents of the elements alone."""
    circuit, point = drawn.circuit, solve_point(drawn.circuit, drawn.sources)
    left = np.zeros(len(circuit.nodes) + 1)
    size = np.zeros(len(circuit.nodes) + 1)
    rows = [(circuit.a, circuit.b, point.branch_amps)]
    rows.append((circuit.anode, circuit.cathode, point.junction_amps))
    ends = [(one.a, one.b, -point.source_amps(k)) for k, one in enumerate(drawn.sources)]
    rows.append(
        (
            np.array([e[0] for e in ends]),
            np.array([e[1] for e in ends]),
            np.array([e[2] for e in ends]),
        )
    )
    for a, b, amps in rows:
        np.add.at(left, a, amps)
        np.add.at(left, b, -amps)
        np.add.at(size, a, np.abs(amps))
        np.add.at(size, b, np.abs(amps))
    # A link of 10 mohm between nodes of volts carries rounding of 1e-14 A.
    assert (np.abs(left)[:-1] <= 1e-6 * size[:-1] + 1e-11).all()


def doubled(circuit: Circuit, kept: set[int]) -> Circuit:
    """The circuit with a twin of everything, grown together at the kept nodes."""
    count = len(circuit.nodes)
    twin = np.array([k if k in kept else count + k for k in range(count)] + [GROUND])

    def both(ends: IntArray) -> IntArray:
        return np.concatenate([ends, twin[ends]])

    return replace(
        circuit,
        nodes=(*circuit.nodes, *(f"{name} twin" for name in circuit.nodes)),
        a=both(circuit.a),
        b=both(circuit.b),
        anode=both(circuit.anode),
        cathode=both(circuit.cathode),
        branch_label=circuit.branch_label * 2,
        junction_label=circuit.junction_label * 2,
        **{
            name: np.concatenate([getattr(circuit, name)] * 2)
            for name in (
                *("siemens", "branch_sd", "branch_group", "saturation", "emission"),
                *("series_ohm", "junction_sd", "series_sd", "junction_group"),
            )
        },
    )


@given(circuits(), st.data())
def test_lumping_joins_twins_and_loses_no_volt(drawn: Drawn, data: st.DataObject) -> None:
    count = len(drawn.circuit.nodes)
    kept = data.draw(st.sets(st.integers(0, count - 1), max_size=3))
    kept |= {node for one in drawn.sources for node in (one.a, one.b) if node >= 0}
    circuit = doubled(drawn.circuit, kept)
    full = solve_point(circuit, drawn.sources)
    lumped = lump_circuit(circuit, kept, drawn=data.draw(st.booleans()))
    # One class for each pair of twins, one for the twins of kept nodes, which hang on nothing.
    assert len(lumped.circuit.nodes) <= count + 1
    classes = np.append(lumped.class_of, GROUND)
    moved = [
        Source(int(classes[one.a]), int(classes[one.b]), one.amps, one.siemens)
        for one in drawn.sources
    ]
    found = lumped.spread(solve_point(lumped.circuit, moved).volts)
    there = ~np.isnan(full.volts)
    assert (np.isnan(found) == np.isnan(full.volts)).all()
    size = np.abs(full.volts[there]).max(initial=0.0)
    assert (np.abs(found - full.volts)[there] <= 1e-6 * size + 1e-7).all()


@given(circuits(), st.data())
def test_a_batch_of_faults_is_each_fault_alone(drawn: Drawn, data: st.DataObject) -> None:
    """Low-rank updates and batched steps against building and solving each circuit anew."""
    circuit = drawn.circuit
    nodes = st.integers(0, len(circuit.nodes) - 1)
    cases, width = data.draw(st.integers(1, 4)), data.draw(st.integers(1, 2))
    ends = [
        [(data.draw(nodes), data.draw(st.sampled_from([GROUND, *range(len(circuit.nodes))])))
         for _ in range(cases)]
        for _ in range(width)
    ]  # fmt: skip
    ohm = 10.0 ** np.array(
        data.draw(
            st.lists(
                st.lists(st.floats(-2, 6), min_size=cases, max_size=cases),
                min_size=width,
                max_size=width,
            )
        )
    )
    faults = tuple(
        PortFault(np.array([e[0] for e in row]), np.array([e[1] for e in row]), 1 / ohm[k])
        for k, row in enumerate(ends)
    )
    sound = solve_point(circuit, drawn.sources)
    found = BatchSystem(circuit, drawn.sources).solve(Cases(cases, faults), start=sound.volts)
    assert found.settled.all()
    for case in range(cases):
        rows = [
            (ends[k][case][0], ends[k][case][1], float(ohm[k, case]), FAULT)
            for k in range(width)
            if ends[k][case][0] != ends[k][case][1]
        ]
        alone = solve_point(circuit.with_branches(rows), drawn.sources)
        wrong = np.abs(found.volts[:, case] - alone.volts)
        # The batch rests at 1e-4 V, which leaves 0.2 microvolt by its square.
        assert (wrong <= 2e-6 + 1e-6 * scale(alone)).all()


@given(circuits(junctions=False), st.data())
def test_linear_sweeps_are_refactored_circuits(drawn: Drawn, data: st.DataObject) -> None:
    """Leaks, opens and pairs by update, against the changed circuit."""
    circuit = drawn.circuit
    count = len(circuit.nodes)
    sweep = LinearSweep(solve_point(circuit, drawn.sources))
    observe = np.arange(count)
    a = data.draw(st.integers(0, count - 1))
    b = data.draw(st.sampled_from([k for k in (GROUND, *range(count)) if k != a]))
    ohm = 10 ** data.draw(st.floats(-2, 6))
    alone = solve_point(circuit.with_branches([(a, b, ohm, FAULT)]), drawn.sources)
    ends = np.array([a]), np.array([b]), np.array([1 / ohm])
    size = scale(alone) + scale(sweep.point)
    assert (np.abs(sweep.leaks(*ends, observe)[0] - alone.volts) <= 1e-6 * size).all()
    all_pairs = [sweep.all_pairs(1 / ohm, k)[a, b] for k in range(count)]
    assert (np.abs(all_pairs - alone.volts) <= 1e-6 * size).all()

    branch = data.draw(st.integers(0, len(circuit.a) - 1))
    opened = circuit._of_rows([k for k in range(len(circuit.a)) if k != branch], [])
    # A branch of 10 mohm across a megohm is "the only path" up to a part in a thousand million.
    found, lone = sweep.opens(np.array([branch]), observe)
    driven = [one for one in drawn.sources if one.siemens > 0]
    if not opened.islands:
        again = solve_point(opened, drawn.sources)
        assert (
            lone[0]
            or (np.abs(found[0] - again.volts) <= 1e-4 * (scale(again) + scale(sweep.point))).all()
        )
    elif not driven:
        assert lone[0]

    c = data.draw(st.integers(0, count - 1))
    if c not in (a, b):
        rows = [(a, b, ohm, FAULT), (c, GROUND, 2 * ohm, FAULT)]
        both = solve_point(circuit.with_branches(rows), drawn.sources)
        two = sweep.several(
            np.array([[a, c]]), np.array([[b, GROUND]]), np.array([[1 / ohm, 0.5 / ohm]]), observe
        )
        assert (np.abs(two[0] - both.volts) <= 1e-6 * (scale(both) + scale(sweep.point))).all()


@given(circuits(), st.integers(0, 2**32 - 1))
def test_drawn_boards_are_the_circuits_with_those_values(drawn: Drawn, seed: int) -> None:
    """The batch over drawn values against each drawn circuit on its own."""
    circuit = drawn.circuit
    cases = drawn_cases(circuit, draw_scores(circuit, 3, np.random.default_rng(seed)))
    found = BatchSystem(circuit, drawn.sources).solve(cases)
    assert cases.branch_factor is not None
    assert cases.saturation_factor is not None
    assert cases.series_factor is not None
    for k in range(3):
        one = replace(
            circuit,
            siemens=circuit.siemens * cases.branch_factor[:, k],
            saturation=circuit.saturation * cases.saturation_factor[:, k],
            series_ohm=circuit.series_ohm * cases.series_factor[:, k],
        )
        alone = solve_point(one, drawn.sources)
        assert (np.abs(found.volts[:, k] - alone.volts) <= 2e-6 + 1e-6 * scale(alone)).all()
