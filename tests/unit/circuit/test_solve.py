# SPDX-License-Identifier: GPL-3.0-or-later
"""The solver by closed forms, its limits, islands, and what it refuses."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import lambertw, wrightomega

from netgraph.circuit.instruments import (
    Instrument,
    apply,
    diode_mode,
    ohms_mode,
    reading,
    supply,
    usb_meter,
)
from netgraph.circuit.junction import junction_current, saturation_at, thermal_volts, wright_omega
from netgraph.circuit.network import GROUND, Circuit, CircuitBuilder
from netgraph.circuit.solve import Source, solve_point
from netgraph.errors import CircuitError


def one_resistor(ohm: float) -> Circuit:
    builder = CircuitBuilder()
    builder.branch(builder.node("A"), GROUND, ohm)
    return builder.freeze()


def test_wright_omega_is_that_of_another_library() -> None:
    """scipy's function for complex arguments (Lawrence, Corless, Jeffrey), over all that occurs."""
    z = np.concatenate([np.linspace(-600, -3, 4000), np.linspace(-3, 60, 8000), np.logspace(2, 7)])
    assert np.abs(wright_omega(z) / wrightomega(z) - 1).max() < 1e-13


@pytest.mark.parametrize("volts", [-3.0, -0.1, 0.0, 0.3, 0.6, 1.0, 5.0])
@pytest.mark.parametrize("ohm", [0.1, 2.0, 1e4])
def test_a_junction_with_series_resistance_is_lamberts_w(volts: float, ohm: float) -> None:
    """I = nVt/R W(Is R/nVt exp((V + Is R)/nVt)) - Is, by scipy's W where it doesn't overflow."""
    saturation, scale = 1e-12, 1.1 * thermal_volts(300.0)
    power = (volts + saturation * ohm) / scale
    if power > 700:
        pytest.skip("the closed form overflows here")
    inner = saturation * ohm / scale * math.exp(power)
    wanted = scale / ohm * lambertw(inner).real - saturation
    columns = [np.array([one]) for one in (volts, saturation, scale, ohm)]
    amps, slope = junction_current(*columns)
    assert amps[0] == pytest.approx(wanted, rel=1e-9, abs=1e-24)
    step = 1e-6
    up, _ = junction_current(columns[0] + step, *columns[1:])
    down, _ = junction_current(columns[0] - step, *columns[1:])
    assert slope[0] == pytest.approx((up[0] - down[0]) / (2 * step), rel=1e-3, abs=1e-13)


def test_a_warmer_junction_needs_two_millivolts_less_a_kelvin() -> None:
    """-2 mV/K at 1 mA is the rule (tables of typical semiconductors, from memory)."""

    def volts_at(kelvin: float) -> float:
        builder = CircuitBuilder()
        node = builder.node("A")
        builder.junction(node, GROUND, saturation_at(1e-13, 1.1, kelvin, -0.002), 1.1)
        return solve_point(builder.freeze(kelvin), [Source(node, GROUND, 1e-3)]).at(node)

    assert volts_at(310.0) - volts_at(300.0) == pytest.approx(-0.020, abs=1e-9)


def test_a_supply_stands_until_its_limit_and_then_gives_that() -> None:
    circuit = one_resistor(10.0)
    within = apply(circuit, [supply(0, 3.0, 0.5)])
    assert within.modes == ("cv",)
    assert within.amps(0) == pytest.approx(3.0 / 10.12)
    beyond = apply(circuit, [supply(0, 3.0, 0.1)])
    assert beyond.modes == ("cc",)
    assert (beyond.amps(0), beyond.volts(0)) == pytest.approx((0.1, 1.0))


def test_two_supplies_on_two_nets_keep_their_own_limits() -> None:
    """3 V behind 0.12 ohm against 1 V at its limit of 10 mA: that one can't take current in."""
    builder = CircuitBuilder()
    a, b = builder.node("A"), builder.node("B")
    builder.branch(a, b, 10.0)
    builder.branch(b, GROUND, 1000.0)
    found = apply(builder.freeze(), [supply(a, 3.0, 1.0), supply(b, 1.0, 0.01)])
    assert found.modes == ("cv", "cv")
    assert found.amps(0) + found.amps(1) == pytest.approx(found.point.at(b) / 1000.0)


def test_diode_mode_by_hand_and_over_range() -> None:
    assert read(one_resistor(470.0), diode_mode(0, red="at")) == pytest.approx(0.47)
    assert read(one_resistor(470.0), diode_mode(0)) == pytest.approx(0.47)
    assert read(one_resistor(10e3), diode_mode(0)) is None
    assert read(one_resistor(1000.0), diode_mode(0, amps=0.5e-3)) == pytest.approx(0.5)


def test_a_usb_meter_reads_amperes_behind_its_cable() -> None:
    assert read(one_resistor(49.8), usb_meter(0)) == pytest.approx(0.1)
    assert read(one_resistor(1.0), usb_meter(0)) == pytest.approx(0.5)


def test_ohms_mode_opens_no_junction() -> None:
    """A junction of 0.59 V at 1 mA beside a resistor: 0.4 V at most don't open it."""
    builder = CircuitBuilder()
    node = builder.node("A")
    builder.branch(node, GROUND, 22_000.0)
    builder.junction(node, GROUND, 1e-13, 1.1, 1.0)
    assert read(builder.freeze(), ohms_mode(node)) == pytest.approx(22_000.0, rel=0.01)


def read(circuit: Circuit, one: Instrument) -> float | None:
    found = apply(circuit, [one])
    return reading(one, found.volts(0), found.amps(0))


def test_islands_are_named_and_have_no_volts() -> None:
    builder = CircuitBuilder()
    a, b, c, d = (builder.node(one) for one in "ABCD")
    builder.branch(a, GROUND, 100.0)
    builder.branch(b, c, 100.0)
    circuit = builder.freeze()
    assert circuit.islands == (("B", "C"), ("D",))
    point = solve_point(circuit, [Source(a, GROUND, 1e-3)])
    assert point.at(a) == pytest.approx(0.1)
    assert np.isnan(point.volts[[b, c, d]]).all()
    assert point.unreached == ("B", "C", "D")


def test_a_current_into_an_island_is_refused_by_name() -> None:
    builder = CircuitBuilder()
    builder.branch(builder.node("A"), builder.node("B"), 100.0)
    with pytest.raises(CircuitError, match="into A, which has no path to ground") as caught:
        solve_point(builder.freeze(), [Source(0, GROUND, 1e-3)])
    assert (caught.value.code, caught.value.exit_status) == ("circuit-island", 4)


def test_a_meter_on_an_island_reads_over_range() -> None:
    builder = CircuitBuilder()
    builder.branch(builder.node("A"), builder.node("B"), 100.0)
    circuit = builder.freeze()
    assert read(circuit, diode_mode(0)) is None
    assert read(circuit, ohms_mode(0)) is None
    assert read(circuit, ohms_mode(0, 1)) == pytest.approx(100.0)


@pytest.mark.parametrize("ohm", [0.0, -1.0, math.nan, math.inf, 1e-9])
def test_resistances_that_can_not_be_are_refused(ohm: float) -> None:
    with pytest.raises(CircuitError, match="resistance is") as caught:
        one_resistor(ohm)
    assert caught.value.code == "circuit-invalid"
    builder = CircuitBuilder()
    node = builder.node("A")
    builder.branch(node, GROUND, 1.0)
    from netgraph.circuit.network import Label

    with pytest.raises(CircuitError):
        builder.freeze().with_branches([(node, GROUND, ohm, Label("", "f", "fault", ""))])


@pytest.mark.parametrize(
    ("saturation", "emission", "series"),
    [(-1e-12, 1.1, 1.0), (math.nan, 1.1, 1.0), (1e-12, 0.0, 1.0), (1e-12, 1.1, -1.0), (2.0, 1, 1)],
)
def test_junctions_that_can_not_be_are_refused(
    saturation: float, emission: float, series: float
) -> None:
    builder = CircuitBuilder()
    builder.junction(builder.node("A"), GROUND, saturation, emission, series)
    with pytest.raises(CircuitError):
        builder.freeze()


@pytest.mark.parametrize(
    ("volts", "amps"), [(-3.0, 1.0), (math.nan, 1.0), (3.0, -1.0), (3.0, math.inf), (0.0, 1.0)]
)
def test_supplies_that_can_not_be_are_refused(volts: float, amps: float) -> None:
    with pytest.raises(CircuitError, match="a positive number is needed"):
        supply(0, volts, amps)


def test_contradictory_sources_are_refused_by_name() -> None:
    with pytest.raises(CircuitError, match="two sources are on A: 3 V and 5 V") as caught:
        apply(one_resistor(10.0), [supply(0, 3.0, 1.0), supply(0, 5.0, 1.0)])
    assert caught.value.exit_status == 4
    with pytest.raises(CircuitError, match="two sources are on A"):
        apply(one_resistor(10.0), [supply(0, 3.0, 1.0), diode_mode(0)])


def test_leads_on_one_node_and_supplies_on_ground_are_refused() -> None:
    with pytest.raises(CircuitError, match="both leads"):
        ohms_mode(0, 0)
    with pytest.raises(CircuitError, match="on ground"):
        supply(GROUND, 3.0, 1.0)
    with pytest.raises(CircuitError, match="both leads"):
        solve_point(one_resistor(1.0), [Source(0, 0, 1.0)])


@pytest.mark.parametrize("kelvin", [0.0, 1000.0, math.nan])
def test_temperatures_off_the_bench_are_refused(kelvin: float) -> None:
    builder = CircuitBuilder()
    builder.branch(builder.node("A"), GROUND, 1.0)
    with pytest.raises(CircuitError, match="temperature"):
        builder.freeze(kelvin)


def test_a_point_that_is_not_found_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two steps are too few for any junction: the error names the place and ends the search."""
    monkeypatch.setattr("netgraph.circuit.solve.MOST_STEPS", 2)
    builder = CircuitBuilder()
    node = builder.node("A")
    builder.junction(node, GROUND, 1e-14, 1.0)
    with pytest.raises(CircuitError, match="no operating point was found within 2 steps") as caught:
        solve_point(builder.freeze(), [Source(node, GROUND, 1e-3)])
    assert caught.value.code == "circuit-diverged"
