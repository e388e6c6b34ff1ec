# SPDX-License-Identifier: GPL-3.0-or-later
"""Words on the pins of supply chips, as pin tables print them (common practice, no source)."""

from __future__ import annotations

import pytest

from netgraph.roles.pin_words import pin_word


@pytest.mark.parametrize(
    "name",
    [
        *("EN", "ENABLE", "EN1", "EN_A", "VEN", "PWR_EN", "EN/UVLO", "RUN", "ON", "CE", "ENN"),
        *("~{SHDN}", "SHDN#", "nSHDN", "SHDN_N", "/SHDN", "~{DIS}"),
    ],
)
def test_high_lets_it_run(name: str) -> None:
    word = pin_word(name)
    assert word is not None
    assert (word.duty, word.high) == ("enable", True)


@pytest.mark.parametrize("name", ["~{EN}", "EN#", "nEN", "EN_N", "~{CE}", "DIS", "INH", "OFF"])
def test_low_lets_it_run(name: str) -> None:
    word = pin_word(name)
    assert word is not None
    assert (word.duty, word.high) == ("enable", False)


def test_a_plain_shutdown_leaves_the_level_open() -> None:
    word = pin_word("SHDN")
    assert word is not None
    assert word.high is None


@pytest.mark.parametrize(
    ("name", "duty"),
    [
        *(("PG", "power-good"), ("PGOOD", "power-good"), ("PWRGD", "power-good")),
        *(("FB", "feedback"), ("ADJ", "feedback"), ("BST", "bootstrap"), ("BOOT", "bootstrap")),
        *(("COMP", "compensation"), ("ITH", "compensation"), ("SS", "soft-start")),
        *(("ILIM", "current-set"), ("BYP", "bypass"), ("~{RESET}", "reset")),
    ],
)
def test_other_duties(name: str, duty: str) -> None:
    word = pin_word(name)
    assert word is not None
    assert word.duty == duty


@pytest.mark.parametrize("name", ["", "VIN", "GND", "OUT", "SENSE", "ENTER", "GPIO12", "1", "SW"])
def test_other_names_say_nothing(name: str) -> None:
    assert pin_word(name) is None
