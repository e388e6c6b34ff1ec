# SPDX-License-Identifier: GPL-3.0-or-later
"""The form of the answer of `predict`."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from netgraph.contract.forms import BoardAnswer, Form, Why


class Expected(Form):
    """A reading with the interval that holds 90 % of boards; null where it reads over range."""

    value: float | None = Field(description="with all values as designed")
    low: float | None
    high: float | None
    over_range: bool = Field(description="the interval reaches over range")


class PredictedReading(Form):
    """One reading under the fault, and on the sound board."""

    kind: Literal["ohms", "diode", "volts", "draw", "inject", "warm", "cold"]
    at: str = Field(description="net; a part for warm and cold")
    instrument: Literal["meter", "supply", "usb", "camera"]
    to: str | None = Field(description="net of the second lead; null: ground")
    red: Literal["ground", "at"] | None = Field(description="where the red lead is, for diode")
    fed: str | None = Field(description="net that a supply feeds meanwhile")
    set_volts: float | None
    limit_amps: float | None
    unit: Literal["V", "A", "ohm", "K"]
    fault: Expected
    sound: Expected
    measured: float | None = Field(description="what the card says, if it says something")
    measured_over_range: bool
    inside: bool | None = Field(description="measured lies in the interval of the fault")
    sound_inside: bool | None = Field(description="measured lies in that of the sound board")
    card: str | None = Field(description="id of the card")


class WarmPart(Form):
    """Power in a part; `ref` null is a leak whose place is not known."""

    ref: str | None
    watts: float
    watts_low: float
    watts_high: float
    kelvin: float = Field(description="above surroundings, an order of magnitude")
    kelvin_low: float
    kelvin_high: float


class LiveNet(Form):
    """Volts of another rail meanwhile."""

    net: str
    volts: float
    low: float
    high: float


class Feeding(Form):
    """What warms up and what comes alive while a supply feeds a net."""

    net: str
    set_volts: float
    limit_amps: float
    volts: float = Field(description="at the pads")
    amps: float
    mode: Literal["cv", "cc"]
    parts: list[WarmPart]
    alive: list[LiveNet]


class ConductingRow(Form):
    """One thing that conducts at a net that is asked."""

    ref: str | None
    what: str = Field(description="resistor, clamp, body, load, insulation and so on")
    a: str = Field(description="net, or ground; of a junction the anode")
    b: str
    ohm: float = Field(description="of a junction the resistance in series")
    saturation_amps: float | None = Field(description="of a junction, else null")
    emission: float | None
    sd_ln: float = Field(description="standard deviation of the logarithm of ohm or saturation")
    basis: Literal["part", "table", "default", "fault", "test"]
    source: str | None = Field(description="where the figure comes from, in words")


class Predict(BoardAnswer):
    """What would supply, meter and camera read?"""

    schema_: Literal["netgraph.predict/1"] = Field(alias="schema")
    fault: str = Field(description="in the fault grammar; empty: the sound board")
    share: float = Field(description="share of boards that the intervals hold")
    draws: int = Field(description="boards drawn for them")
    celsius: float
    diode_amps: float
    battery_switch: bool = Field(description="whether the cell's switch is taken to conduct")
    readings: list[PredictedReading]
    feeding: list[Feeding]
    values: list[ConductingRow]
    islands: list[list[str]] = Field(description="nets that the fault cuts off from ground")
    skipped: list[Why]
    remarks: list[Why]
