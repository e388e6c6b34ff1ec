# SPDX-License-Identifier: GPL-3.0-or-later
"""The bench after some cards: what is off, wet, read; and names that the board does not have."""

from __future__ import annotations

import math

import pytest

from netgraph.diagnosis.bench_state import BenchState, replay
from netgraph.diagnosis.cards import parse_cards
from netgraph.errors import CardsError
from tests.unit.plan.sketch import recorder


def bench(*lines: str) -> BenchState:
    board, _, _ = recorder().done()
    return replay(board, parse_cards("\n".join(lines), path="c"), frozenset({"GND"}))


def test_without_cards_nothing_is_known() -> None:
    state = bench()
    assert state.cell_connected is None
    assert not state.dried
    assert state.resistance("3V3") is None


def test_a_reading_holds_whichever_way_round_it_was_taken() -> None:
    state = bench('{"kind": "ohms", "at": "GND", "to": "3V3", "value": 500}')
    reading = state.resistance("3V3")
    assert reading is not None
    assert reading.ohms == 500


def test_pads_and_parts_stand_for_their_net() -> None:
    by_pad = bench('{"kind": "ohms", "at": "C1.1", "value": 7}').resistance("3V3")
    by_part = bench('{"kind": "ohms", "at": "C1", "value": 7}').resistance("3V3")
    assert by_pad is not None
    assert by_part is not None
    assert by_pad.ohms == by_part.ohms == 7


def test_diode_mode_gives_the_least_resistance_at_about_a_milliampere() -> None:
    """0.5 V at 1 mA: 500 ohm or more (Ohm's law; a junction only takes current away)."""
    reading = bench('{"kind": "diode", "at": "3V3", "value": 0.5}').resistance("3V3")
    assert reading is not None
    assert reading.ohms == pytest.approx(500)
    over = bench('{"kind": "diode", "at": "3V3", "value": null}').resistance("3V3")
    assert over is not None
    assert over.ohms == math.inf


@pytest.mark.parametrize(
    "action",
    [
        '{"kind": "clean", "at": "board"}',
        '{"kind": "lift", "ref": "C1"}',
        '{"kind": "fit", "ref": "C1"}',
        '{"kind": "cut", "net": "3V3"}',
    ],
)
def test_a_reading_does_not_outlive_work_on_its_net(action: str) -> None:
    read = '{"kind": "ohms", "at": "3V3", "value": 500}'
    assert bench(read, action).resistance("3V3") is None
    assert bench(action, read).resistance("3V3") is not None


def test_work_elsewhere_leaves_a_reading_alone() -> None:
    read = '{"kind": "ohms", "at": "3V3", "value": 500}'
    assert bench(read, '{"kind": "lift", "ref": "C4"}').resistance("3V3") is not None


def test_a_part_is_lifted_until_it_is_fitted() -> None:
    lift, fit = '{"kind": "lift", "ref": "C1"}', '{"kind": "fit", "ref": "C1", "from": "new"}'
    assert bench(lift).lifted == {"C1"}
    assert not bench(lift, fit).lifted
    assert bench(lift, '{"kind": "jumper", "ref": "C1"}').jumpered == {"C1"}


def test_water_after_drying_makes_it_wet_again() -> None:
    dry, clean = '{"kind": "dry", "hours": 4}', '{"kind": "clean"}'
    assert bench(clean, dry).dried
    assert not bench(clean, dry).wet
    assert bench(clean, dry, clean).wet
    assert not bench(clean, dry, clean).dried


def test_drying_one_place_does_not_dry_the_board() -> None:
    clean = '{"kind": "clean"}'
    assert bench(clean, '{"kind": "dry", "at": "J1", "hours": 1}').wet
    near = '{"kind": "clean", "at": "J1"}', '{"kind": "dry", "at": "J1", "hours": 1}'
    assert not bench(*near).wet


def test_looking_counts_again_only_after_drying() -> None:
    look = '{"kind": "not-seen", "at": "J1"}'
    assert not bench(look, '{"kind": "dry", "hours": 4}').looked_again
    assert bench('{"kind": "dry", "hours": 4}', look).looked_again


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('{"kind": "ohms", "at": "3V4", "value": 1}', "near names: 3V3"),
        ('{"kind": "ohms", "at": "U1", "value": 1}', "lies on several nets"),
        ('{"kind": "ohms", "at": "U1.99", "value": 1}', "no pad named"),
        ('{"kind": "lift", "ref": "C99"}', "no part is named 'C99'"),
        ('{"kind": "seen", "at": "nowhere"}', "no net, part or pad"),
        ('{"kind": "temp", "at": "U99", "value": 3}', "no net, part or pad"),
    ],
)
def test_a_name_the_board_does_not_have_is_told_with_its_line(line: str, told: str) -> None:
    with pytest.raises(CardsError) as caught:
        bench('{"kind": "cell", "connected": false}', line)
    assert told in caught.value.one_line()
    assert caught.value.line == 2


def test_the_name_of_the_board_may_stand_before_a_part() -> None:
    assert bench('{"kind": "seen", "at": "sketch/C1", "what": "deposit"}').deposits == {"C1"}
