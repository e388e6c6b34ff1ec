# SPDX-License-Identifier: GPL-3.0-or-later
"""The form of the answers of ``power`` and ``plan``."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from netgraph.advice.plan_types import Action, Stage
from netgraph.advice.power_types import CheckState
from netgraph.contract.forms import BoardAnswer, Form, Why
from netgraph.plan.heat_plan import Method
from netgraph.plan.power_feed import FeedClass


class PowerFeed(Form):
    """Where the board is fed: net, and the connector or pad's part on it."""

    net: str
    ref: str | None
    class_: FeedClass = Field(alias="class")
    because: Why
    missing: Why | None = Field(description="why no volts can be given; null: they can")
    to_note: list[str] = Field(description="nets whose volts must be noted first")
    other_entries: list[str]


class ExpectedAmps(Form):
    """The draw of a sound board, by rule of thumb; null where the volts are not known."""

    before_key: float | None = Field(description="at most, after the surge")
    after_key: float | None = Field(description="about, the middle of the range")
    before_key_range: list[float] | None
    after_key_range: list[float] | None


class PowerCheck(Form):
    """A resistance to read first, and what was read. `to` null: ground."""

    kind: Literal["rail", "high-voltage"]
    net: str
    to: str | None
    at_pads: list[str] = Field(description="pads good to probe, REF.PIN")
    nets: list[str] = Field(description="all nets the reading speaks for")
    least_ohms: float | None = Field(description="null: no figure tells sound from shorted")
    ohms: float | None = Field(description="null: not read, or over range")
    over_range: bool
    state: CheckState
    why: Why


class PowerPlug(Form):
    """A connector that stays unplugged at first."""

    ref: str
    why: Why


class PowerCellLine(Form):
    """A line by which the device knows its cell."""

    net: str
    kind: Literal["thermistor", "identification"]
    why: Why


class Power(BoardAnswer):
    """May I power it now, and how?"""

    schema_: Literal["netgraph.power/1"] = Field(alias="schema")
    verdict: Literal["yes", "no", "not-yet"]
    goal: str
    because: list[Why] = Field(description="what stands against it, the gravest first")
    feed: PowerFeed | None
    volts: float | None
    limit_amps: float | None = Field(description="after the power key")
    limit_because: Why | None
    first_limit_amps: float | None = Field(description="before the power key")
    expected_amps: ExpectedAmps
    off_if: list[Why]
    clear_first: list[PowerCheck]
    stays_unplugged: list[str]
    plugs: list[PowerPlug] = Field(description="why each stays unplugged")
    cell_lines: list[PowerCellLine]
    never_with_cell: list[Why] = Field(description="not empty: never with a cell again")
    warnings: list[Why]
    before_boot: list[Why]
    after: list[Why]
    cautions: list[Why]
    cards: int = Field(description="how many cards stood behind the answer")


class Heat(Form):
    """How a part comes off with the least heat for the kept chips."""

    ref: str
    method: Method
    why: Why
    steps: list[Why]
    nearest_kept: str | None
    nearest_kept_mm: float | None
    beneath: bool = Field(description="a kept chip lies right under it on the other side")
    limit_c: float = Field(description="stop when the nearest kept chip reads this")
    alloy: str
    alloy_known: bool
    solidus_c: float
    liquidus_c: float
    seconds: float
    minutes: float
    cycles_before: int
    retention_years_spent: float = Field(description="orders of magnitude, at 40 degrees C")
    retention_account: Why


class PlanStep(Form):
    """One step; `target` holds the fields of the card it would produce, without the value."""

    number: int
    stage: Stage
    action: Action
    target: dict[str, str | float]
    why: Why
    check: Why | None
    undo: Why | None = Field(description="null: there is no way back, or none is needed")
    stop: list[Why]
    vetoes: list[Why] = Field(description="what stands in its way now")
    notes: list[Why] = Field(description="what this step leaves behind")
    cautions: list[Why]
    minutes: float | None
    weight: float | None
    heat: Heat | None
    done: bool


class OrderedPlan(BoardAnswer):
    """All steps for one shorted net, in the order of the work."""

    schema_: Literal["netgraph.plan/1"] = Field(alias="schema")
    net: str
    goal: str
    cleared: bool = Field(description="the last reading no longer looks shorted: no lifts left")
    reading: Why | None
    steps: list[PlanStep]
    never_lifted: list[str] = Field(description="parts that may hold the data")
    left_out: list[str] = Field(description="parts that could follow, left out for want of room")
    unsure: list[str] = Field(description="parts on the net to find out about; see `lift`")
    warnings: list[Why]
    cards: int
