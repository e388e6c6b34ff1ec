# SPDX-License-Identifier: GPL-3.0-or-later
"""Predicted readings, bench cards as questions, and bounds for the ceiling."""

from __future__ import annotations

import math

import numpy as np
import pytest

from netgraph.circuit.bounds import volt_bounds
from netgraph.circuit.draws import interval, normal_rows
from netgraph.circuit.elements import board_circuit
from netgraph.circuit.faults import parse_faults
from netgraph.circuit.feeding import part_watts
from netgraph.circuit.predict import Predictions, predict_readings
from netgraph.circuit.questions import Question, read_cards
from netgraph.circuit.solve import Source, solve_point
from netgraph.errors import BoardFileError, CircuitError, UnknownNameError
from netgraph.model import Board
from netgraph.rails.tree import RailTree
from netgraph.roles.answer import Roles
from tests.unit.plan.sketch import Sketch, recorder

GROUNDS = frozenset({"GND"})
DRAWS = 199


def asked(fault: str = "", questions: list[Question] | None = None, **rest: object) -> Predictions:
    board, roles, tree = recorder().done()
    return predict_readings(
        board,
        roles,
        tree,
        parse_faults(fault) if fault else (),
        questions=questions,
        random=np.random.default_rng(3),
        draws=DRAWS,
        **rest,  # type: ignore[arg-type]
    )


def test_a_short_is_read_by_the_meter_and_warms_the_leak() -> None:
    found = asked("leak 3V3 GND 2R", [Question("ohms", "3V3"), inject("3V3")])
    ohms, amps = found.readings
    assert ohms.fault.value == pytest.approx(2.0, rel=1e-3)
    assert ohms.sound.value is None or ohms.sound.value > 1000
    assert amps.fault.value == pytest.approx(0.3 / 2.12, rel=1e-3)
    (feeding,) = found.feeding
    assert feeding.parts[0].part_id is None
    assert feeding.parts[0].watts == pytest.approx(2.0 * (0.3 / 2.12) ** 2, rel=1e-3)


def inject(net: str, volts: float = 0.3) -> Question:
    return Question("inject", net, volts=volts, limit_amps=0.5, fed=net)


def test_a_leak_inside_a_part_warms_that_part() -> None:
    found = asked("part C1 2R", [inject("3V3")])
    assert found.feeding[0].parts[0].part_id == "C1"


def test_an_open_ferrite_cuts_the_supply_from_what_it_fed() -> None:
    """Nothing comes through: the draw at the entry falls, and the rail behind stays dark."""
    draw = Question("draw", "VBUS", volts=5.0, limit_amps=1.0, fed="VBUS")
    behind = Question("volts", "VIN", volts=5.0, limit_amps=1.0, fed="VBUS")
    found = asked("open FB1", [draw, behind])
    assert found.opens == ("FB1",)
    amps, volts = found.readings
    assert amps.fault.value is not None
    assert amps.sound.value is not None
    assert amps.fault.value < amps.sound.value / 2
    assert volts.fault.value == pytest.approx(0.0, abs=0.05)
    assert volts.sound.value == pytest.approx(5.0, abs=0.01)


def test_the_value_lies_in_its_interval_and_the_same_question_gives_the_same_answer() -> None:
    one, two = asked("leak 3V3 GND 50R"), asked("leak 3V3 GND 50R")
    assert one == two
    for row in one.readings:
        for answer in (row.fault, row.sound):
            if answer.value is not None and answer.low is not None:
                assert answer.low <= answer.value * 1.02 + 2e-3
                assert answer.high is None or answer.value <= answer.high * 1.02 + 2e-3


def test_measured_readings_are_held_against_both() -> None:
    questions = [
        Question("ohms", "3V3", measured=2.0),
        Question("ohms", "RADIO", measured=2.0),
        Question("diode", "USB_DP", red="at", measured=math.inf),
    ]
    near, far, _ = asked("leak 3V3 GND 2R", questions).readings
    assert (near.inside, near.sound_inside) == (True, False)
    assert (far.inside, far.sound_inside) == (False, False)


def test_fewer_diode_milliamperes_and_more_warmth_read_lower() -> None:
    question = [Question("diode", "3V3")]
    usual = asked("", question).readings[0].sound.value
    weak = asked("", question, diode_amps=0.5e-3).readings[0].sound.value
    warm = asked("", question, kelvin=320.0).readings[0].sound.value
    assert usual is not None
    assert weak is not None
    assert warm is not None
    assert weak < usual - 0.005
    assert usual - 0.06 < warm < usual - 0.02


def test_power_of_the_parts_is_power_of_the_supply() -> None:
    board, roles, tree = recorder().done()
    circuit = board_circuit(board, roles, tree)
    point = solve_point(circuit, [Source(circuit.node("VBUS"), -1, 5.0 / 0.12, 1 / 0.12)])
    watts = part_watts(circuit, point.volts[:, None])
    given = point.source_amps(0) * point.at(circuit.node("VBUS"))
    assert sum(float(row[0]) for row in watts.values()) == pytest.approx(given, rel=1e-6)


# -- intervals ---------------------------------------------------------------------------------


def test_an_interval_holds_the_middle_ninety_percent() -> None:
    assert interval(np.arange(1.0, 1000.0)) is not None
    found = interval(np.random.default_rng(0).permutation(np.arange(1.0, 1000.0)))
    assert found is not None
    assert (found.low, found.high) == (50.0, 950.0)


def test_an_end_that_cuts_nothing_off_leaves_it_to_the_other() -> None:
    """Half of the draws at 0 A: the interval is [0, 90 %], not [0, 95 %]."""
    half = np.concatenate([np.zeros(500), np.arange(1.0, 500.0)])
    found = interval(half)
    assert found is not None
    assert found.low == 0.0
    assert np.mean(half <= found.high) == pytest.approx(0.9, abs=0.002)
    over = interval(np.concatenate([np.full(500, np.inf), np.arange(1.0, 500.0)]))
    assert over is not None
    assert over.high == math.inf
    assert over.low == pytest.approx(100.0, abs=1)


def test_cases_without_an_answer_make_no_interval() -> None:
    assert interval(np.array([1.0, np.nan, np.nan])) is None
    assert interval(np.array([])) is None


def test_draws_cover_each_range_evenly() -> None:
    """One number in each of the equal shares of the normal distribution: quartiles are exact."""
    rows = normal_rows(3, 400, np.random.default_rng(5))
    for row in rows:
        assert (row < 0).sum() == 200
        # Phi(-0.674490) = 1/4 (any table of the normal distribution)
        assert (row < -0.674490).sum() == 100


# -- cards -------------------------------------------------------------------------------------


def cards(text: str, board: Board | None = None) -> list[Question]:
    return read_cards(text, board or recorder().done()[0], GROUNDS).questions


def test_each_kind_of_card_becomes_its_question() -> None:
    found = cards(
        """
{"kind": "ohms", "at": "3V3", "value": 2.5}
{"kind": "ohms", "at": "C1", "to": "RADIO", "value": null}
{"kind": "diode", "at": "U1.3", "red": "at", "value": 0.61, "id": "k7"}
{"kind": "inject", "at": "3V3", "set_volts": 0.3, "limit_amps": 0.5, "volts": 0.29, "amps": 0.1}
{"kind": "warm", "at": "U3", "value": 4.5}
{"kind": "volts", "at": "VIN", "value": 0.2, "state": "standby"}
{"kind": "draw", "at": "VBUS", "volts": 5.0, "value": 0.002, "state": "before-key"}
"""
    )
    assert [one.kind for one in found] == [
        *("ohms", "ohms", "diode", "inject", "warm", "volts", "draw")
    ]
    assert (found[0].at, found[0].measured) == ("3V3", 2.5)
    assert (found[1].at, found[1].to, found[1].measured) == ("3V3", "RADIO", math.inf)
    assert (found[2].at, found[2].red, found[2].card) == ("USB_DP", "at", "k7")
    assert (found[3].measured, found[3].volts, found[3].limit_amps) == (0.1, 0.3, 0.5)
    assert (found[4].at, found[4].fed, found[4].volts) == ("U3", "3V3", 0.3)
    assert (found[5].fed, found[5].volts) == ("3V3", 0.3)
    assert (found[6].fed, found[6].volts) == ("VBUS", 5.0)


def test_what_is_lifted_is_off_for_the_readings_after_it() -> None:
    found = cards(
        '{"kind": "ohms", "at": "3V3"}\n{"kind": "lift", "ref": "C1"}\n'
        '{"kind": "ohms", "at": "3V3"}\n{"kind": "fit", "ref": "C1"}\n'
        '{"kind": "ohms", "at": "3V3"}\n'
    )
    assert [one.off for one in found] == [(), ("C1",), ()]
    before, after = asked("part C1 2R", [found[0], found[1]]).readings
    assert before.fault.value == pytest.approx(2.0, rel=1e-3)
    assert after.fault.value is None or after.fault.value > 1000


def test_a_withdrawn_card_asks_nothing() -> None:
    text = '{"kind": "ohms", "at": "3V3", "id": "a"}\n{"kind": "undo", "id": "a"}\n'
    assert cards(text) == []


def test_cards_that_ask_nothing_of_the_model_are_named() -> None:
    board = recorder().done()[0]
    found = read_cards(
        '{"kind": "photo", "file": "x.jpg"}\n{"kind": "volts", "at": "3V3", "value": 1}\n'
        '{"kind": "draw", "at": "VBUS", "volts": 5, "value": 1, "state": "after-key"}',
        board,
        GROUNDS,
    )
    assert found.questions == []
    assert [one.code for one in found.skipped] == [
        *("predict-card-skipped", "predict-no-supply", "predict-needs-running")
    ]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "cards:1:2: no JSON object"),
        ("\n[1]", "cards:2: no JSON object"),
        ('{"kind": "guess"}', "cards:1: 'guess' is no kind of card"),
        ('{"kind": "ohms", "at": "3V3", "value": "low"}', "cards:1: 'value' is no number"),
        ('{"kind": "ohms", "at": "3V3", "value": -1}', "'value' is negative"),
        ('{"kind": "ohms", "at": "3V3", "value": NaN}', "'value' is no number"),
        ('{"kind": "ohms", "at": "GND"}', "both leads are on the same net"),
        ('{"kind": "diode", "at": "GND"}', "the place is on ground"),
        ('{"kind": "inject", "at": "3V3", "limit_amps": 1}', "'set_volts' is missing"),
        ('{"kind": "inject", "at": "3V3", "set_volts": -1, "limit_amps": 1}', "'set_volts' is -1"),
        ("[" * 100_000, "cards:1: no JSON object"),
    ],
)
def test_bad_cards_are_refused_with_their_line(text: str, said: str) -> None:
    with pytest.raises(BoardFileError) as caught:
        cards(text)
    assert said in str(caught.value)
    assert caught.value.exit_status == 3


def test_unknown_places_on_cards_name_the_nearest() -> None:
    with pytest.raises(UnknownNameError, match="3V3"):
        cards('{"kind": "ohms", "at": "3V33"}')
    with pytest.raises(UnknownNameError):
        cards('{"kind": "lift", "ref": "C99"}')


# -- bounds ------------------------------------------------------------------------------------


def small() -> tuple[Board, Roles, RailTree]:
    s = Sketch()
    s.rail("VBUS", "entry", 5.0)
    s.rail("3V3", "linear", 3.3, ("U1", "VBUS"))
    s.net("A", "signal").net("B", "signal").net("C", "signal")
    s.part("U1", "regulator", "VBUS", "3V3", "GND")
    s.part("U2", "sensor", "3V3", "A", "GND")
    s.part("R1", "resistor", "A", "B", ohm=150.0)
    s.part("R2", "resistor", "B", "C", ohm=10_000.0)
    s.part("C1", "capacitor", "C", "VBUS", farad=1e-6)
    return s.done()


def test_bounds_give_no_credit_for_drops_and_loads() -> None:
    found = volt_bounds(*small(), "B", 1.0)
    assert {name: (one.upper_volts, one.way) for name, one in found.items()} == {
        "A": (1.0, "hard"),
        "3V3": (1.0, "hard"),
        "VBUS": (1.0, "hard"),
        "C": (1.0, "soft"),
    }


def test_bounds_follow_bridges_and_the_direction_of_junctions() -> None:
    assert volt_bounds(*small(), "VBUS", 1.0) == {}
    bridged = volt_bounds(*small(), "VBUS", 1.0, [("VBUS", "B")])
    assert bridged["3V3"].way == "hard"
    assert bridged["B"].through == ""


def test_bounds_of_impossible_volts_are_refused() -> None:
    with pytest.raises(CircuitError):
        volt_bounds(*small(), "B", -1.0)
    with pytest.raises(CircuitError):
        volt_bounds(*small(), "B", math.nan)
    with pytest.raises(UnknownNameError):
        volt_bounds(*small(), "X", 1.0)


def test_enormous_boards_are_refused_and_large_ones_get_fewer_draws(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("netgraph.circuit.predict.MOST_VALUES", 20_000)
    board, roles, tree = recorder().done()
    random = np.random.default_rng(0)
    assert 99 <= predict_readings(board, roles, tree, at=["3V3"], random=random).draws < 399
    monkeypatch.setattr("netgraph.limits.MAX_CIRCUIT_ROWS", 10)
    with pytest.raises(CircuitError, match="the limit is 10"):
        predict_readings(board, roles, tree, at=["3V3"], random=random)
