# SPDX-License-Identifier: GPL-3.0-or-later
"""What would supply, meter and camera read? For the sound board and for a fault, with intervals."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from netgraph import limits
from netgraph.circuit.cases import CaseReader, CaseReadings, moved
from netgraph.circuit.draws import (
    DRAWS,
    as_read,
    draw_scores,
    drawn_cases,
    interval,
)
from netgraph.circuit.elements import Hypotheses, board_circuit
from netgraph.circuit.faults import Fault, PlacedFault, format_faults, place_faults, with_fault
from netgraph.circuit.feeding import (
    WARM_KELVIN_PER_WATT,
    Asked,
    Feeding,
    feeding_of,
    part_watts,
    warm_kelvin,
)
from netgraph.circuit.instruments import (
    DIODE_AMPS,
    USB_VOLTS,
    Instrument,
    apply,
    diode_mode,
    ohms_mode,
    reading,
    referenced,
    supply,
    usb_meter,
)
from netgraph.circuit.junction import ROOM_KELVIN, FloatArray
from netgraph.circuit.lump import lump_circuit
from netgraph.circuit.network import GROUND, Circuit, Row
from netgraph.circuit.questions import Question, suited
from netgraph.errors import CircuitError
from netgraph.model import Board
from netgraph.rails.tree import Rail, RailTree
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import Roles

LEAST_DRAWS, MOST_VALUES = 99, 10_000_000
"""Fewer draws on enormous boards: so many values are held at once at most."""
_USB_NAME: Final = re.compile(r"USB|VBUS", re.IGNORECASE)
NETS_SHOWN: Final = 3


@dataclass(frozen=True, slots=True)
class Answer:
    """A predicted value with its interval; None where the instrument reads over range."""

    value: float | None
    low: float | None
    high: float | None
    over_range: bool


@dataclass(frozen=True, slots=True)
class Prediction:
    """One reading under the fault and on the sound board.

    `unit` is V, A, ohm or K. `inside` says whether what was measured lies in the fault's interval
    (None when nothing was measured); `sound_inside` the same of the sound board.
    """

    question: Question
    unit: str
    fault: Answer
    sound: Answer
    inside: bool | None
    sound_inside: bool | None


@dataclass(frozen=True, slots=True)
class Predictions:
    """The whole answer; `islands` are nets that the fault cuts off.

    `values` are all that conducts at the nets asked, with figures, sources and spreads.
    """

    fault: str
    opens: tuple[str, ...]
    readings: tuple[Prediction, ...]
    feeding: tuple[Feeding, ...]
    notes: tuple[Reason, ...]
    islands: tuple[tuple[str, ...], ...]
    draws: int
    kelvin: float
    diode_amps: float
    battery_switch: bool
    values: tuple[Row, ...]


@dataclass
class _Bench:
    """The two circuits and their answers, each instrument asked once."""

    sound: Circuit
    fault: Circuit
    scores: FloatArray
    random: np.random.Generator
    diode_amps: float
    cache: dict[tuple[object, ...], Asked] = field(default_factory=dict)


def predict_readings(
    board: Board,
    roles: Roles,
    tree: RailTree,
    faults: Sequence[Fault] = (),
    *,
    questions: Sequence[Question] | None = None,
    at: Sequence[str] = (),
    hypotheses: Hypotheses | None = None,
    kelvin: float = ROOM_KELVIN,
    diode_amps: float = DIODE_AMPS,
    random: np.random.Generator,
    draws: int | None = None,
) -> Predictions:
    """Readings of a dead board under a fault, beside those of the sound board.

    Parameters
    ----------
    questions
        Readings to predict; without them a set that suits the fault.
    at
        Nets to ask at instead of the fault's.
    random
        Draws the boards behind the intervals.
    draws
        How many; by itself 399, on enormous boards fewer, so that memory stays bounded.

    Raises
    ------
    UnknownNameError, FaultError, CircuitError
        The fault does not fit the board, or can't be solved.
    """
    chosen = hypotheses or Hypotheses()
    sound = board_circuit(board, roles, tree, hypotheses=chosen, kelvin=kelvin)
    draws = _draws(sound) if draws is None else draws
    grounds = frozenset(name for name, node in sound.node_of.items() if node == GROUND)
    placed = place_faults(faults, board, roles, grounds)
    scores = draw_scores(sound, draws, random)
    faulty = with_fault(sound, placed) if faults else sound
    bench = _Bench(sound, faulty, scores, random, diode_amps)
    asked = list(questions) if questions is not None else _suited(board, tree, grounds, placed, at)
    readings, notes = [], list(sound.notes)
    for one in asked:
        try:
            readings.append(_predict(bench, one))
        except CircuitError as error:
            notes.append(reason("predict-no-answer", kind=one.kind, at=one.at, why=error.message))
    islands = tuple(one for one in bench.fault.islands if one not in sound.islands)
    return Predictions(
        format_faults(faults),
        placed.opens,
        tuple(readings),
        _feedings(bench, asked, [rail.net for rail in tree]),
        tuple(notes),
        islands,
        draws,
        kelvin,
        diode_amps,
        chosen.battery_switch,
        bench.fault.rows_at(_nodes(bench.fault, asked)),
    )


def _nodes(circuit: Circuit, questions: Sequence[Question]) -> set[int]:
    """Nodes at which something is asked; of supplies at the entries only where nothing else is."""
    near = [one for one in questions if one.kind != "draw"] or questions
    nets = {net for one in near for net in (one.at, one.to) if net is not None}
    found = {circuit.node_of[net] for net in nets if net in circuit.node_of}
    return found - {GROUND}


def _draws(circuit: Circuit) -> int:
    rows = len(circuit.a) + len(circuit.anode)
    if rows > limits.MAX_CIRCUIT_ROWS:
        raise CircuitError(
            "circuit-invalid",
            f"the board has {rows} conducting rows, the limit is {limits.MAX_CIRCUIT_ROWS}",
            hint="predict a part of it: traced nets are a board too",
        )
    return max(LEAST_DRAWS, min(DRAWS, MOST_VALUES // max(rows, 1)))


def _suited(
    board: Board,
    tree: RailTree,
    grounds: frozenset[str],
    placed: PlacedFault,
    at: Sequence[str],
) -> list[Question]:
    nets = [board.known_as(name) for name in at] or [
        *placed.nets(),
        *(net for part in placed.opens for net in board.nets_of_part[part] if net not in grounds),
    ]
    entries = [
        (rail.net, rail.nominal_volts, _is_usb(rail)) for rail in tree if rail.kind == "entry"
    ]
    if not nets:
        nets = [net for net, _, _ in entries]
    pairs = [(a, b) for a, b, _, _ in placed.paths if a is not None and b is not None]
    unique = [net for net in dict.fromkeys(nets) if net not in grounds]
    return suited(unique[:NETS_SHOWN], entries, pairs)


def _is_usb(rail: Rail) -> bool:
    """Whether an entry is a USB port: 5 V, by its name or by what its volts come from."""
    told = any(why.code == "volts-usb" for why in rail.reasons)
    return rail.nominal_volts == USB_VOLTS and (told or bool(_USB_NAME.search(rail.net)))


def _instrument(circuit: Circuit, one: Question, diode_amps: float) -> Instrument:
    if one.kind == "ohms":
        return ohms_mode(circuit.node(one.at), GROUND if one.to is None else circuit.node(one.to))
    if one.kind == "diode":
        return diode_mode(circuit.node(one.at), red=one.red, amps=diode_amps)
    assert one.fed is not None and one.volts is not None and one.limit_amps is not None  # noqa: S101, PT018 - set with the question
    if one.usb:
        return usb_meter(circuit.node(one.fed), volts=one.volts, limit_amps=one.limit_amps)
    return supply(circuit.node(one.fed), one.volts, one.limit_amps)


def _ask(bench: _Bench, circuit: Circuit, one: Question) -> Asked:
    meter = one.kind in ("ohms", "diode")
    setting = (
        (one.kind, one.at, one.to, one.red)
        if meter
        else (one.fed, one.volts, one.limit_amps, one.usb)
    )
    key = (id(circuit), setting, one.off)
    if key not in bench.cache:
        if one.off:
            circuit = circuit.without_parts(one.off)
        instrument = _instrument(circuit, one, bench.diode_amps)
        circuit = referenced(circuit, [instrument])
        lumped = lump_circuit(circuit, (instrument.a, instrument.b), drawn=True)
        reader = CaseReader(lumped.circuit, moved(instrument, lumped))
        drawn = reader.read(drawn_cases(lumped.circuit, bench.scores))
        bench.cache[key] = Asked(
            circuit,
            instrument,
            apply(circuit, [instrument]),
            drawn_cases(circuit, bench.scores),
            replace(drawn, volts=lumped.spread(drawn.volts)),
        )
    return bench.cache[key]


def _predict(bench: _Bench, one: Question) -> Prediction:
    fault = _answer_of(bench, bench.fault, one)
    sound = fault if bench.sound is bench.fault else _answer_of(bench, bench.sound, one)
    unit = {"ohms": "ohm", "diode": "V", "volts": "V", "warm": "K", "cold": "K"}.get(one.kind, "A")
    inside = _inside(fault, one.measured), _inside(sound, one.measured)
    return Prediction(one, unit, fault, sound, *inside)


def _answer_of(bench: _Bench, circuit: Circuit, one: Question) -> Answer:
    asked = _ask(bench, circuit, one)
    if one.kind == "volts":
        node = asked.circuit.node(one.at)
        other = GROUND if one.to is None else asked.circuit.node(one.to)
        value = asked.applied.point.at(node) - asked.applied.point.at(other)
        values = _row(asked.drawn, node) - _row(asked.drawn, other)
        meter = replace(asked.instrument, kind="diode", gain_sd=0.005, least_sd=1e-3)
        return _answer(value, as_read(values, meter, bench.random))
    if one.kind in ("warm", "cold"):
        nothing = np.zeros(len(bench.scores[0]))
        watts = part_watts(asked.circuit, asked.applied.point.volts[:, None])
        many = part_watts(asked.circuit, asked.drawn.volts, asked.cases)
        kelvin = float(watts[one.at][0]) * WARM_KELVIN_PER_WATT if one.at in watts else 0.0
        return _answer(kelvin, warm_kelvin(many.get(one.at, nothing), bench.random))
    read = reading(asked.instrument, asked.applied.volts(0), asked.applied.amps(0))
    return _answer(read, as_read(asked.drawn.values, asked.instrument, bench.random))


def _row(drawn: CaseReadings, node: int) -> FloatArray:
    found: FloatArray = np.zeros(drawn.volts.shape[1]) if node < 0 else drawn.volts[node]
    return found


def _answer(value: float | None, values: FloatArray) -> Answer:
    found = interval(values)
    known = value if value is not None and math.isfinite(value) else None
    low, high = (None, None) if found is None else (_finite(found.low), _finite(found.high))
    return Answer(known, low, high, bool(found is not None and found.high == math.inf))


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _inside(answer: Answer, measured: float | None) -> bool | None:
    """Whether a reading lies in the interval; over range lies in one that reaches over range."""
    if measured is None:
        return None
    if measured == math.inf:
        return answer.over_range
    if answer.low is None:
        return False
    return answer.low <= measured and (answer.high is None or measured <= answer.high)


def _feedings(
    bench: _Bench, questions: Sequence[Question], rails: Sequence[str]
) -> tuple[Feeding, ...]:
    found: dict[tuple[str, float], Feeding] = {}
    for one in questions:
        if one.kind not in ("draw", "inject") or one.volts is None or one.fed is None:
            continue
        if (one.fed, one.volts) not in found:
            try:
                asked = _ask(bench, bench.fault, one)
            except CircuitError:
                continue
            found[one.fed, one.volts] = feeding_of(asked, one.fed, rails, bench.random)
    return tuple(found.values())
