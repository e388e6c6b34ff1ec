# SPDX-License-Identifier: GPL-3.0-or-later
"""How parts come off: tool by place and package, the limit, and what heat costs stored charge."""

from __future__ import annotations

import math

import pytest

from netgraph.errors import UnknownNameError, UsageError
from netgraph.plan.heat_plan import ALLOYS, HeatPlanner, alloy_named
from netgraph.plan.keep_list import find_keeps
from netgraph.plan.retention import about, equivalent_years
from netgraph.plan.wiring import Wiring
from tests.unit.plan.sketch import Sketch, recorder

# Bench practice 7 (design paper): heat -> years at 40 °C, by 1.1 eV, to one digit or "about".
CHECK_VALUES = [(245, 30, 10), (217, 60, 5), (150, 180, 0.2), (125, 24 * 3600, 16)]


@pytest.mark.parametrize(("celsius", "seconds", "years"), CHECK_VALUES)
def test_the_account_gives_the_check_values_within_their_rounding(
    celsius: float, seconds: float, years: float
) -> None:
    assert equivalent_years(celsius, seconds) == pytest.approx(years, rel=0.2)


def test_the_account_is_the_arrhenius_law() -> None:
    """Worked anew with the gas constant instead of Boltzmann's: k = R / N_A (CODATA 2018)."""
    joule_per_mole = 1.1 * 1.602176634e-19 * 6.02214076e23
    factor = math.exp(joule_per_mole / 8.314462618 * (1 / 313.15 - 1 / 423.15))
    assert equivalent_years(150, 365.25 * 86400) == pytest.approx(factor, rel=1e-6)


def test_at_the_storage_temperature_a_year_is_a_year() -> None:
    assert equivalent_years(40, 365.25 * 86400) == pytest.approx(1)


def test_more_heat_never_costs_less() -> None:
    costs = [equivalent_years(celsius, 60) for celsius in range(20, 260, 20)]
    assert costs == sorted(costs)


def test_drying_at_65_degrees_costs_next_to_nothing_beside_baking_at_125() -> None:
    """Why boards that hold data are dried at 60 to 70 °C (bench practice 7)."""
    assert equivalent_years(65, 24 * 3600) < equivalent_years(125, 24 * 3600) / 100


@pytest.mark.parametrize(("celsius", "seconds"), [(-300, 1), (20, -1)])
def test_what_cannot_be_is_refused(celsius: float, seconds: float) -> None:
    with pytest.raises(UsageError):
        equivalent_years(celsius, seconds)


@pytest.mark.parametrize(
    ("years", "text"), [(9.6, "about 10 years"), (0.23, "about 0.2 years"), (0.01, "about 4 days")]
)
def test_years_are_said_with_one_digit(years: float, text: str) -> None:
    assert about(years) == text


def planner(sketch: Sketch, **more: object) -> HeatPlanner:
    board, roles, tree = sketch.done()
    keeps = find_keeps(board, roles, tree)
    return HeatPlanner(Wiring(board, roles, tree), keeps, **more)  # type: ignore[arg-type]


def test_two_ends_come_off_without_air() -> None:
    plan = planner(recorder()).plan("C1")
    assert plan.method == "hot-tweezers"
    assert "heat-no-air" in [one.code for one in plan.steps]


def test_a_wide_two_ended_part_takes_two_irons() -> None:
    s = recorder().part("C8", "capacitor", "3V3", "GND", pitch_mm=6.0)
    assert planner(s).plan("C8").method == "two-irons"


def test_a_larger_chip_takes_air_with_shield_preheat_and_a_thermocouple() -> None:
    s = recorder().part("U9", "radio", *(f"N{n}" for n in range(20)), at=(80, 0))
    plan = planner(s).plan("U9")
    assert plan.method == "air-shielded"
    codes = [one.code for one in plan.steps]
    assert codes.index("heat-shield") < codes.index("heat-limit")
    assert "heat-preheat" in codes
    assert plan.limit_c == 150


def test_the_nearest_kept_chip_is_named_with_its_distance() -> None:
    """U1 has pads 0.6 mm wide from x = 30 to 37 mm at y = 0; C8 stands at x = 28, y = 0."""
    s = recorder().part("C8", "capacitor", "3V3", "GND", at=(28, 0), pitch_mm=1.0)
    plan = planner(s).plan("C8")
    assert (plan.nearest, plan.nearest_mm) == ("U1", 0.4)


def test_what_holds_the_data_is_never_heated() -> None:
    for part in ("U1", "U2"):
        assert planner(recorder()).plan(part).method == "none"


def test_underfill_is_scraped_warm_before_any_solder_melts() -> None:
    plan = planner(recorder(), underfilled=("C1",)).plan("C1")
    codes = [one.code for one in plan.steps]
    assert codes.index("heat-underfill") < codes.index("heat-limit")


def test_the_solder_is_taken_as_the_hotter_one_when_nobody_knows() -> None:
    """SAC305: 217 to 220 °C, Sn63Pb37: 183 °C (solder makers' lists after J-STD-006)."""
    assert planner(recorder()).plan("C1").melts_c == (217, 220)
    assert not planner(recorder()).plan("C1").alloy_known
    assert planner(recorder(), alloy="Sn63Pb37").plan("C1").melts_c == (183, 183)
    assert alloy_named("sac305") == alloy_named(None)
    with pytest.raises(UsageError, match="Sn63Pb37"):
        alloy_named("unobtainium")


def test_every_alloy_melts_from_its_solidus_to_its_liquidus() -> None:
    assert all(20 < solidus <= liquidus < 400 for solidus, liquidus in ALLOYS.values())


def test_cycles_before_count_in_the_account() -> None:
    once = planner(recorder()).plan("C1").years_spent
    thrice = planner(recorder(), cycles_before=2).plan("C1").years_spent
    assert thrice == pytest.approx(3 * once)


def test_an_unknown_part_is_told() -> None:
    with pytest.raises(UnknownNameError):
        planner(recorder()).plan("C99")


def test_a_board_without_places_gives_no_distance() -> None:
    s = Sketch()
    s.rail("3V3", "entry", 3.3).part("U1", "processor", "3V3", "GND", "A", pitch_mm=0)
    s.part("C1", "capacitor", "3V3", "GND", pitch_mm=0)
    plan = planner(s).plan("C1")
    assert plan.nearest_mm is None
    assert "heat-no-distance" in [one.code for one in plan.steps]
