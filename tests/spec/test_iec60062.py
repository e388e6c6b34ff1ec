# SPDX-License-Identifier: GPL-3.0-or-later
"""Marking codes of resistors, capacitors and coils: IEC 60062 as restated publicly, and EIA-96."""

from __future__ import annotations

from math import isclose

import pytest

from netgraph.units import (
    QuantityError,
    QuantityKind,
    decode_eia96,
    find_quantity,
    parse_quantity,
    tolerance_of,
)
from tests.support import PublishedTable, SoftCheckWarning, published

KINDS: tuple[QuantityKind, ...] = ("resistance", "capacitance", "inductance")


def _outcome(text: str, kind: QuantityKind) -> float | None:
    try:
        return parse_quantity(text, kind)
    except QuantityError:
        return None


def test_codes_have_their_published_values() -> None:
    table = published("rkm_codes")
    assert {row["quantity"] for row in table.rows} == set(KINDS)
    for row in table.rows:
        kind = next(one for one in KINDS if one == row["quantity"])
        value = _outcome(row["code"], kind)
        table.expect(row, value == float(row["value_si"]), f"read as {value}")


def test_codes_with_a_letter_are_found_in_a_value_text() -> None:
    """Letter codes mean the same on a drawing; L and m for milli and teraohm are left out there."""
    table = published("rkm_codes")
    tried = 0
    for row in table.rows:
        if row["code"].isdigit() or set(row["code"]) & {"L", "m", "T"}:
            continue
        tried += 1
        kind = next(one for one in KINDS if one == row["quantity"])
        found = find_quantity(f"{row['code']} 1% 0402", kind)
        value = None if found is None else found.value
        table.expect(row, value == float(row["value_si"]), f"found {found}")
    assert tried > 40


def test_texts_that_must_be_refused() -> None:
    table = published("rkm_invalid")
    for row in table.rows:
        for kind in KINDS:
            value = _outcome(row["text"], kind)
            table.expect(row, value is None, f"read as {kind} {value}")


def test_tolerance_letters() -> None:
    table = published("tolerance_letters")
    for row in table.rows:
        small = row["unit"] == "pF"
        found = tolerance_of(row["letter"], farad=4.7e-12 if small else 1e-7)
        expected = (float(row["plus"]), float(row["minus"]), row["unit"])
        table.expect(
            row,
            found is not None and (found.plus, found.minus, found.unit) == expected,
            f"read as {found}",
        )


def test_tolerance_letter_behind_a_code_does_not_change_the_value() -> None:
    """A rule of IEC 60062: the letter follows the value; K on a resistor stays a multiplier."""
    assert parse_quantity("104K", "capacitance") == parse_quantity("104", "capacitance") == 1e-7
    assert parse_quantity("4R7M", "inductance") == 4.7e-6
    assert parse_quantity("472J", "resistance") == 4700.0
    assert parse_quantity("104K", "resistance") == 104e3


def test_two_digit_markings() -> None:
    table = published("eia96_worked")
    for row in table.rows:
        value = decode_eia96(row["marking"])
        table.expect(row, isclose(value, float(row["ohm"]), rel_tol=1e-12), f"read as {value}")


def test_two_digit_significands_and_multipliers() -> None:
    values, multipliers = published("eia96_values"), published("eia96_multipliers")
    assert len(values.rows) == 96
    assert len(multipliers.rows) == 12
    for row in values.rows:
        value = decode_eia96(row["code"] + "A")
        values.expect(row, value == float(row["significand"]), f"read as {value}")
    for row in multipliers.rows:
        value = decode_eia96("01" + row["letter"])
        expected = 100 * float(row["multiplier"])
        multipliers.expect(row, isclose(value, expected, rel_tol=1e-12), f"read as {value}")


@pytest.mark.parametrize(
    "marking", ["", "00A", "97A", "1A", "001A", "01G", "01a", "\u0660\u0661A", "01A "]
)
def test_markings_that_must_be_refused(marking: str) -> None:
    """Outside of 01 to 96, and letters that no list of the marking has."""
    with pytest.raises(ValueError, match="no EIA-96 marking"):
        decode_eia96(marking)


def test_a_sure_row_fails_and_a_soft_row_warns() -> None:
    """The tables' own machinery: a wrong published row must not pass as a warning."""
    sure = PublishedTable("t.csv", "published", ())
    with pytest.raises(pytest.fail.Exception, match=r"t\.csv, status published"):
        sure.expect({"code": "1R"}, False, "read as 2")
    with pytest.warns(SoftCheckWarning, match="status from memory"):
        sure.expect({"code": "1R", "status": "from memory"}, False, "read as 2")
