# SPDX-License-Identifier: GPL-3.0-or-later
"""The answer of `predict` as plain dictionaries."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from netgraph.reasons import Reason

if TYPE_CHECKING:
    from netgraph.circuit.feeding import Feeding
    from netgraph.circuit.network import Row
    from netgraph.circuit.predict import Answer, Prediction, Predictions

Json = dict[str, object]

KELVIN_AT_ZERO_CELSIUS = 273.15


def predict_fields(found: Predictions, skipped: Iterable[Reason] = ()) -> Json:
    """All fields but the head."""
    from netgraph.circuit.draws import COVERAGE

    return {
        "fault": found.fault,
        "share": COVERAGE,
        "draws": found.draws,
        "celsius": round(found.kelvin - KELVIN_AT_ZERO_CELSIUS, 6),
        "diode_amps": found.diode_amps,
        "battery_switch": found.battery_switch,
        "readings": [_reading(one) for one in found.readings],
        "feeding": [_feeding(one) for one in found.feeding],
        "values": [_value(one) for one in found.values],
        "islands": [list(one) for one in found.islands],
        "skipped": [one.as_json() for one in skipped],
        "remarks": [one.as_json() for one in found.notes],
    }


def _reading(one: Prediction) -> Json:
    asked = one.question
    over = asked.measured == math.inf
    supplied = asked.volts is not None
    return {
        "kind": asked.kind,
        "at": asked.at,
        "instrument": _instrument(one),
        "to": asked.to,
        "red": asked.red if asked.kind == "diode" else None,
        "fed": asked.fed,
        "set_volts": asked.volts if supplied else None,
        "limit_amps": asked.limit_amps if supplied else None,
        "unit": one.unit,
        "fault": _expected(one.fault),
        "sound": _expected(one.sound),
        "measured": None if over else asked.measured,
        "measured_over_range": over,
        "inside": one.inside,
        "sound_inside": one.sound_inside,
        "card": asked.card,
    }


def _instrument(one: Prediction) -> str:
    asked = one.question
    if asked.kind in ("warm", "cold"):
        return "camera"
    if asked.kind in ("draw", "inject"):
        return "usb" if asked.usb else "supply"
    return "meter"


def _expected(one: Answer) -> Json:
    return {"value": one.value, "low": one.low, "high": one.high, "over_range": one.over_range}


def _value(one: Row) -> Json:
    from netgraph.sources import SOURCES

    return {
        "ref": one.label.part_id or None,
        "what": one.label.what,
        "a": one.a,
        "b": one.b,
        "ohm": one.ohm,
        "saturation_amps": one.saturation,
        "emission": one.emission,
        "sd_ln": one.sd,
        "basis": one.label.basis,
        "source": SOURCES.get(one.label.source),
    }


def _feeding(one: Feeding) -> Json:
    return {
        "net": one.net,
        "set_volts": one.set_volts,
        "limit_amps": one.limit_amps,
        "volts": one.volts,
        "amps": one.amps,
        "mode": one.mode,
        "parts": [
            {
                "ref": part.part_id,
                "watts": part.watts,
                "watts_low": part.low_watts,
                "watts_high": part.high_watts,
                "kelvin": part.kelvin,
                "kelvin_low": part.low_kelvin,
                "kelvin_high": part.high_kelvin,
            }
            for part in one.parts
        ],
        "alive": [
            {"net": net.net, "volts": net.volts, "low": net.low, "high": net.high}
            for net in one.alive
        ],
    }
