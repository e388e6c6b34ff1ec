# SPDX-License-Identifier: GPL-3.0-or-later
"""The form of every JSON answer, as pydantic models; the published schemas are made from them.

Within ``/1`` fields are only added. A reader should ignore fields it does not know.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from netgraph.contract.advice_models import OrderedPlan, Power
from netgraph.contract.copper_forms import ResistanceAnswer
from netgraph.contract.file_models import FILE_ANSWERS
from netgraph.contract.forms import BoardAnswer, Form, Place, Why
from netgraph.contract.lift_forms import Isolate, KeepAnswer, Lift, SplitAnswer
from netgraph.contract.predict_forms import Predict
from netgraph.model.board import Capability, CopperSide, Side
from netgraph.plan.review_types import Typed
from netgraph.rails.members import Connection
from netgraph.rails.tree import RailKind
from netgraph.roles.answer import AnswerSource, NetKind, Role
from netgraph.roles.notes import KeepWord, Topic

# -- show, pads, parts -------------------------------------------------------------------------


class ReadWarning(Form):
    """Something odd that did not stop the reading."""

    code: str
    text: str
    count: int
    line: int | None = Field(description="first line of the file it stands on")


class LargeNet(Form):
    """A net and how many pads it has."""

    net: str
    pads: int


class Show(BoardAnswer):
    """What is this board?"""

    schema_: Literal["netgraph.show/1"] = Field(alias="schema")
    name: str
    format: str
    format_version: str
    generator: str
    sha256: str
    fingerprint: str = Field(description="hash of the netlist alone")
    parts: int = Field(description="all footprints, also holes and logos")
    pads: int
    nets: int = Field(description="named nets")
    copper_layers: int
    copper_layer_names: list[str]
    parts_top: int | None = Field(description="null: the file tells no sides")
    parts_bottom: int | None
    not_fitted: list[str]
    capabilities: list[Capability] = Field(description="what the file can tell at all")
    largest_nets: list[LargeNet]
    warnings: list[ReadWarning]


class Pad(Place):
    """One copper pad; (id, pin, ordinal) names it. Sides are null where the file tells none."""

    id: str
    ref: str
    pin: str
    ordinal: int
    net: str | None
    angle_deg: float | None
    copper_side: CopperSide | None


class Pads(BoardAnswer):
    """Every pad."""

    schema_: Literal["netgraph.pads/1"] = Field(alias="schema")
    pads: list[Pad]


class Part(Place):
    """One part and its role."""

    id: str
    ref: str
    value: str
    package: str
    role: Role
    confidence: float = Field(ge=0, le=1)
    source: AnswerSource
    reasons: list[Why]
    fitted: bool = Field(description="with a person's word")
    not_fitted_because: str | None = Field(description="the mark in the file, in its own words")
    ohm: float | None
    farad: float | None
    henry: float | None
    nets: list[str]


class Parts(BoardAnswer):
    """What is each part?"""

    schema_: Literal["netgraph.parts/1"] = Field(alias="schema")
    parts: list[Part]


# -- rails, rail -------------------------------------------------------------------------------


class Feeder(Form):
    """A part that drives a rail; several are alternatives."""

    ref: str
    from_net: str | None
    confidence: float = Field(ge=0, le=1)
    kind: RailKind
    through: list[str]
    reasons: list[Why]


class SeriesPart(Form):
    """A part in the power path, and the net behind it."""

    ref: str
    to_net: str


class Rail(Form):
    """One supply net."""

    net: str
    kind: RailKind
    nominal_volts: float | None
    volts_range: list[float] | None = Field(min_length=2, max_length=2)
    feeders: list[Feeder]
    series: list[SeriesPart]
    loads: list[str]
    capacitors: int
    capacitor_refs: list[str]
    always_on: bool | None
    confidence: float = Field(ge=0, le=1)
    reasons: list[Why]


class SwitchNode(Form):
    """The net between a converter and its coil."""

    net: str
    converter: str
    inductor: str
    in_net: str | None
    out_net: str | None
    kind: Literal["buck", "boost", "unknown"]


class Rails(BoardAnswer):
    """Which rails, fed by what? From the entries outwards."""

    schema_: Literal["netgraph.rails/1"] = Field(alias="schema")
    ground: list[str]
    entries: list[str]
    rails: list[Rail]
    switch_nodes: list[SwitchNode]
    cycles: list[list[str]]


class Member(Place):
    """One fitted part on a net."""

    ref: str
    role: Role
    value: str
    pins: list[str]
    connection: Connection
    other_nets: list[str]


class RailAnswer(BoardAnswer):
    """Who sits on this rail? Works for any net; `rail` is null when it is none."""

    schema_: Literal["netgraph.rail/1"] = Field(alias="schema")
    net: str
    kind: NetKind
    nominal_volts: float | None
    rail: Rail | None
    parts: list[Member]
    not_fitted: list[str]


# -- lift, inject, path ------------------------------------------------------------------------


class Point(Form):
    """A pad to feed at."""

    ref: str
    pin: str
    side: Side | None = Field(description="null: the file doesn't tell")
    x_mm: float | None
    y_mm: float | None
    why: Why
    ground: str | None = Field(description="a ground pad near it for the other clip, REF.PIN")
    ground_mm: float | None
    data_mm: float | None = Field(description="to the nearest chip that may hold the data")
    milliohms: float | None = Field(
        description="mean drawn copper to the suspects; null where it is not known"
    )


class AlsoPowered(Form):
    """A net that comes alive too; `through` is a part or ``bridge``."""

    net: str
    through: str
    from_net: str
    how: Literal["conducts", "resistor", "converter"]
    counts: bool
    nominal_volts: float | None


class Inject(BoardAnswer):
    """Where, and up to what?"""

    schema_: Literal["netgraph.inject/1"] = Field(alias="schema")
    net: str
    verdict: Literal["ok", "unsure", "no"]
    why: Why
    points: list[Point]
    points_by: Why | None = Field(description="what the order of the points goes by")
    first_volts: float
    stop_volts: float
    max_volts: float | None
    max_volts_because: Why
    max_amps: float
    max_watts: float
    max_seconds: float
    also_powered: list[AlsoPowered]
    fed_forward: list[AlsoPowered] = Field(
        description="fed by converters that may start; they hold their own volts"
    )
    to_note: list[str] = Field(description="nets whose volts must be noted for a ceiling")
    vetoes: list[Why]
    warnings: list[Why]
    cautions: list[Why]


class SiteEnd(Form):
    """One side of a place where nets come close; pad null for vias and tracks."""

    ref: str | None
    pin: str | None
    net: str


class Site(Form):
    """A place where two nets could be joined."""

    kind: Literal["part", "pad-gap", "under-package", "via", "track"]
    a: SiteEnd
    b: SiteEnd
    gap_mm: float | None
    refs: list[str]
    likelihood: float = Field(ge=0, le=1, description="a rank score, not a probability")
    why: Why
    x_mm: float | None
    y_mm: float | None
    side: str | None


class Path(BoardAnswer):
    """How could these two be joined?"""

    schema_: Literal["netgraph.path/1"] = Field(alias="schema")
    net_a: str
    net_b: str | None = Field(description="null: any ground")
    sites: list[Site]
    copper_fault: str | None = Field(description="why drawn copper was left out; null: it was not")


# -- notes, formats, demo ----------------------------------------------------------------------


class NotedPart(Form):
    """What a person says of a part; null where nothing is said."""

    ref: str
    role: Role | None
    fitted: bool | None
    keep: KeepWord | None
    why: str
    enabled_by: list[str] | None = Field(
        description="parts that switch it on, all of them needed; empty: it is always on"
    )
    needs_first: list[str] = Field(description="nets that have to be up before it runs")


class NotedFeeder(Form):
    """A feeder named by a person."""

    ref: str
    from_net: str | None


class NotedNet(Form):
    """What a person says of a net; `feeders` empty: nothing on the board feeds it."""

    net: str
    kind: NetKind | None
    nominal_volts: float | None
    feeders: list[NotedFeeder] | None
    always_on: bool | None
    why: str


class Problem(Form):
    """What does not fit the board."""

    code: Literal["other-netlist", "unknown-part", "unknown-net", "feeder-not-on-net"]
    text: str


class NoteConflict(Form):
    """A note that says something else than the board's file."""

    about: Literal["part", "net"]
    name: str
    key: Literal["role", "fitted", "kind", "nominal_volts", "feeders"]
    why: Why


class AskedQuestion(Form):
    """A question that nobody could answer."""

    about: Topic
    target: str


class Notes(BoardAnswer):
    """A person's corrections, and whether they fit; answer of show, set and check."""

    schema_: Literal["netgraph.notes/1"] = Field(alias="schema")
    exists: bool
    fingerprint: str | None
    board_fingerprint: str
    parts: list[NotedPart]
    nets: list[NotedNet]
    fits: bool
    problems: list[Problem]
    conflicts: list[NoteConflict] = Field(description="the note wins")
    asked: list[AskedQuestion] = Field(description="nobody knows; not asked again")


class ReviewChoice(Form):
    """A possible answer: a note that stands ready, one to be typed, or that nobody knows."""

    label: Why
    part_note: NotedPart | None
    net_note: NotedNet | None
    typed: Typed | None = Field(description="what has to be typed to make the note")
    gives_up: bool


class ReviewQuestion(Form):
    """An answer that is not sure, as a question."""

    about: Topic
    target: str = Field(description="the part or net")
    question: Why
    now: Why = Field(description="the answer so far")
    confidence: float = Field(ge=0, le=1)
    weight: float = Field(ge=0, description="how much hangs on it")
    parts: int
    kept: int = Field(description="of the parts, those that may hold the data")
    ceilings: int = Field(description="other rails whose injection ceiling counts the net")
    why: Why
    choices: list[ReviewChoice]


class Review(BoardAnswer):
    """Which answers should a person confirm first?"""

    schema_: Literal["netgraph.review/1"] = Field(alias="schema")
    total: int = Field(description="questions in all, also those beyond the limit")
    questions: list[ReviewQuestion]


class Finding(Form):
    """Something that is not sound."""

    code: Literal["layout", "unreadable", "entry", "hash", "file", "notes", "incoming"]
    text: str


class Doctor(Form):
    """Is the data folder of the page sound?"""

    schema_: Literal["netgraph.doctor/1"] = Field(alias="schema")
    folder: str
    layout: int | None = Field(description="null: never used")
    layout_of_program: int
    boards: int
    notes: int
    cache_bytes: int
    limits_hold: bool = Field(description="whether this system limits the reading child")
    sound: bool
    findings: list[Finding]


class Demo(Form):
    """The main job on the sample board, one answer a step."""

    schema_: Literal["netgraph.demo/1"] = Field(alias="schema")
    board: str
    short: str
    show: Show
    rail: RailAnswer
    lift: Lift
    inject: Inject
    path: Path


ANSWERS: dict[str, type[Form]] = {
    "show": Show,
    "parts": Parts,
    "pads": Pads,
    "rails": Rails,
    "rail": RailAnswer,
    "keep": KeepAnswer,
    "lift": Lift,
    "isolate": Isolate,
    "split": SplitAnswer,
    "inject": Inject,
    "path": Path,
    "resistance": ResistanceAnswer,
    "predict": Predict,
    "plan": OrderedPlan,
    "power": Power,
    "review": Review,
    "notes": Notes,
    "doctor": Doctor,
    "demo": Demo,
    **FILE_ANSWERS,
}
"""Command -> form of its JSON answer."""


def json_schema(command: str) -> dict[str, object]:
    """JSON Schema (draft 2020-12) of a command's answer, as published."""
    schema = ANSWERS[command].model_json_schema(by_alias=True, mode="serialization")
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = f"netgraph.{command}/1"
    return schema
