# SPDX-License-Identifier: GPL-3.0-or-later
"""What warms up and what comes alive while a supply feeds a net?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from netgraph.circuit.batch import Cases, junction_laws_at
from netgraph.circuit.cases import CaseReadings
from netgraph.circuit.draws import interval, normal_rows
from netgraph.circuit.instruments import Applied, Instrument, Mode
from netgraph.circuit.junction import FloatArray
from netgraph.circuit.network import Circuit

WARM_KELVIN_PER_WATT: Final = 60.0
WARM_SD: Final = 0.6
"""A small part on a board in still air after a second or two [practice]: a camera sees the watts
only through this, so its kelvin are an order of magnitude."""
WARM_PARTS: Final = 8
LEAST_WATTS, LEAST_VOLTS = 1e-4, 0.05
"""Below it a part does not warm and a rail is not called alive."""


@dataclass(frozen=True, slots=True)
class Warmth:
    """Power in one part while a supply stands on a net; `part_id` None is a leak without place."""

    part_id: str | None
    watts: float
    low_watts: float
    high_watts: float
    kelvin: float
    low_kelvin: float
    high_kelvin: float


@dataclass(frozen=True, slots=True)
class Alive:
    """Volts of another rail while a supply stands on a net."""

    net: str
    volts: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Feeding:
    """What warms up and what comes alive with this supply on, the warmest and the highest first.

    `volts` are those at the pads; `set_volts` and `limit_amps` what is set.
    """

    net: str
    set_volts: float
    limit_amps: float
    volts: float
    amps: float
    mode: Mode
    parts: tuple[Warmth, ...]
    alive: tuple[Alive, ...]


@dataclass(frozen=True, eq=False)
class Asked:
    """One instrument on one circuit: at the design's values, and on the drawn boards."""

    circuit: Circuit
    instrument: Instrument
    applied: Applied
    cases: Cases
    drawn: CaseReadings


def part_watts(
    circuit: Circuit, volts: FloatArray, cases: Cases | None = None
) -> dict[str, FloatArray]:
    """Power in each part, shape (cases,), by its identity; "" is a leak without a part.

    Parameters
    ----------
    volts
        Shape (n, cases).
    cases
        The factors with which those volts were found.
    """
    siemens = circuit.siemens[:, None]
    if cases is not None and cases.branch_factor is not None:
        siemens = siemens * cases.branch_factor
    padded = np.concatenate([volts, np.zeros((1, volts.shape[1]))])
    drop = np.nan_to_num(padded[circuit.a] - padded[circuit.b])
    across = np.nan_to_num(padded[circuit.anode] - padded[circuit.cathode])
    amps, _ = junction_laws_at(across, circuit, cases)
    found: dict[str, FloatArray] = {}
    for labels, power in (
        (circuit.branch_label, siemens * drop**2),
        (circuit.junction_label, amps * across),
    ):
        for label, row in zip(labels, power, strict=True):
            found[label.part_id] = found.get(label.part_id, 0.0) + row
    return found


def warm_kelvin(watts: FloatArray, random: np.random.Generator) -> FloatArray:
    """Kelvin above surroundings that a camera sees of these watts, each drawn on its own."""
    spread = np.exp(WARM_SD * normal_rows(1, len(watts), random)[0])
    found: FloatArray = watts * WARM_KELVIN_PER_WATT * spread
    return found


def feeding_of(
    asked: Asked, net: str, rails: Sequence[str], random: np.random.Generator
) -> Feeding:
    """What warms up and what comes alive under one supply, from its answers.

    Parameters
    ----------
    net
        The fed net.
    rails
        Nets that are looked at.
    """
    now = part_watts(asked.circuit, asked.applied.point.volts[:, None])
    many = part_watts(asked.circuit, asked.drawn.volts, asked.cases)
    warmest = sorted(now, key=lambda part: (-float(now[part][0]), part))[:WARM_PARTS]
    parts = [
        _warmth(part, float(now[part][0]), many[part], random)
        for part in warmest
        if float(now[part][0]) > LEAST_WATTS
    ]
    return Feeding(
        net,
        asked.instrument.volts,
        asked.instrument.limit_amps,
        asked.applied.volts(0),
        asked.applied.amps(0),
        asked.applied.modes[0],
        tuple(one for one in parts if one is not None),
        _alive(asked, net, rails),
    )


def _alive(asked: Asked, fed: str, rails: Sequence[str]) -> tuple[Alive, ...]:
    found = []
    for net in rails:
        node = asked.circuit.node(net)
        if node < 0 or net == fed:
            continue
        volts = asked.applied.point.at(node)
        share = interval(asked.drawn.volts[node])
        if share is not None and max(volts, share.high) > LEAST_VOLTS:
            found.append(Alive(net, volts, share.low, share.high))
    return tuple(sorted(found, key=lambda one: (-one.volts, one.net)))


def _warmth(
    part: str, watts: float, drawn: FloatArray, random: np.random.Generator
) -> Warmth | None:
    power, kelvin = interval(drawn), interval(warm_kelvin(drawn, random))
    if power is None or kelvin is None:
        return None  # hardly any drawn board came to rest: nothing to show
    return Warmth(
        part or None,
        watts,
        power.low,
        power.high,
        watts * WARM_KELVIN_PER_WATT,
        kelvin.low,
        kelvin.high,
    )
