# SPDX-License-Identifier: GPL-3.0-or-later
"""Preferred number series of IEC 60063: all values, and the places that break the formula."""

from __future__ import annotations

from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netgraph.preferred import Series
from netgraph.units import e_series, nearest_e
from tests.support import published

ALL_SERIES: tuple[Series, ...] = (3, 6, 12, 24, 48, 96, 192)


def test_series_have_their_published_values() -> None:
    table = published("e_series")
    for n in ALL_SERIES:
        expected = [float(row["mantissa"]) for row in table.rows if row["series"] == f"E{n}"]
        assert len(expected) == n, f"table {table.name}, status {table.status}: E{n} is incomplete"
        table.expect({"series": f"E{n}"}, list(e_series(n)) == expected, f"{list(e_series(n))}")


def test_exceptions_of_the_formula() -> None:
    table = published("e_series_facts")
    facts = {row["fact"]: row for row in table.rows}
    e24, e96, e192 = (list(e_series(n)) for n in (24, 96, 192))

    def numbers(fact: str) -> list[float]:
        return [float(one) for one in facts[fact]["value"].split()]

    formula = [round(10 ** (i / 24), 1) for i in range(24)]
    off = [one for one, by_rule in zip(e24, formula, strict=True) if one != by_rule]
    instead = [by_rule for one, by_rule in zip(e24, formula, strict=True) if one != by_rule]
    for fact, found in (
        ("E24_formula_exceptions", off),
        ("E24_formula_would_give", instead),
        ("E24_not_in_E96", [one for one in e24 if one not in e96]),
        ("E24_in_E192", [one for one in e24 if one in e192]),
    ):
        table.expect(facts[fact], found == numbers(fact), f"{found}")


@pytest.mark.parametrize("n", [0, 1, 5, 23, 384, -24])
def test_other_series_do_not_exist(n: int) -> None:
    with pytest.raises(ValueError, match="no series"):
        list(e_series(n))  # type: ignore[arg-type]


@given(st.sampled_from(ALL_SERIES), st.data(), st.integers(-12, 12))
def test_a_preferred_value_is_its_own_nearest(n: Series, data: st.DataObject, power: int) -> None:
    value = float(f"{data.draw(st.sampled_from(list(e_series(n))))}e{power}")
    assert nearest_e(value, n) == value


@given(st.sampled_from(ALL_SERIES), st.floats(1e-15, 1e15))
def test_no_other_preferred_value_is_nearer(n: Series, value: float) -> None:
    """Against trying all values of the decades around."""
    found = nearest_e(value, n)
    ratio = max(found / value, value / found)
    every = [float(f"{one}e{power}") for power in range(-17, 17) for one in e_series(n)]
    assert ratio <= min(max(one / value, value / one) for one in every) * (1 + 1e-12)


@pytest.mark.parametrize("value", [0.0, -1.0, nan, inf])
def test_nearest_needs_a_positive_number(value: float) -> None:
    with pytest.raises(ValueError, match="no positive number"):
        nearest_e(value, 24)
