# SPDX-License-Identifier: GPL-3.0-or-later
"""The form of what only the service sends and takes; answers to questions are `contract.models`."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from netgraph.contract.forms import BoardAnswer, Form
from netgraph.model.board import Side
from netgraph.rails.members import Connection
from netgraph.roles.answer import NetKind, Role
from netgraph.roles.notes import KeepWord, Topic


class Query(BaseModel):
    """Base of all questions in an address; what is not known is refused."""

    model_config = ConfigDict(extra="forbid")


Name = Field(max_length=4096)
NoteName = Annotated[str, Field(min_length=1, max_length=4096)]


class ListQuery(Query):
    """A part of a list."""

    limit: int = Field(200, ge=1, le=1000)
    cursor: int = Field(0, ge=0, le=1_000_000)


class NetQuery(Query):
    """One net."""

    net: str = Name


class LiftQuery(Query):
    """`netgraph lift`."""

    short: str = Name
    goal: str = Field("recover-data", max_length=100)
    all: bool = False
    together: list[str] = Field(
        default_factory=list, max_length=200, description="parts judged as one set"
    )


class KeepQuery(Query):
    """`netgraph keep`."""

    goal: str = Field("recover-data", max_length=100)
    storage: Literal["plain", "keyed"] | None = None


class IsolateQuery(Query):
    """`netgraph isolate`."""

    net: str = Name
    goal: str = Field("recover-data", max_length=100)


class InjectQuery(Query):
    """`netgraph inject`; the nth `bridge_a` and `bridge_b` are one bridge."""

    net: str = Name
    bridge_a: list[str] = Field(default_factory=list, max_length=20)
    bridge_b: list[str] = Field(default_factory=list, max_length=20)


class PathQuery(Query):
    """`netgraph path`."""

    net_a: str = Name
    net_b: str | None = Field(None, max_length=4096)


class ReviewQuery(Query):
    """`netgraph review`."""

    limit: int | None = Field(None, ge=1, le=10_000)


class NearQuery(Query):
    """A net or a part, one of them."""

    net: str | None = Field(None, max_length=4096)
    part: str | None = Field(None, max_length=4096)
    limit: int = Field(24, ge=4, le=60, description="most nodes beside the middle one")


class DrawingQuery(Query):
    """One side."""

    side: Side


class SearchQuery(Query):
    """Typed letters."""

    q: str = Field(min_length=1, max_length=200)
    limit: int = Field(20, ge=1, le=100)


class UploadQuery(Query):
    """A board file as the body."""

    name: str = Field("board", max_length=1000, description="name of the file")
    wait: float = Field(0, ge=0, le=20, description="seconds to wait for the end of the reading")
    unplug: str = Field(
        "",
        max_length=4096,
        description="with the files of an assembly: mating parts taken as unplugged, with commas",
    )


class WaitQuery(Query):
    """How long to wait."""

    wait: float = Field(0, ge=0, le=20, description="seconds to wait for its end")


# -- answers -----------------------------------------------------------------------------------


class Fault(Form):
    """One fault of a body."""

    pointer: str = Field(description="JSON Pointer into the body or the query")
    detail: str


class Problem(Form):
    """A failure (RFC 9457)."""

    type: str = Field(description="place in the documents")
    title: str
    status: int
    detail: str
    instance: str
    code: str = Field(description="code of docs/reference/errors.md")
    hint: str | None
    errors: list[Fault]
    file: str | None
    line: int | None
    column: int | None
    expected: str | None


class Health(Form):
    """The service itself."""

    version: str
    layout: int = Field(description="of the data folder")
    free_bytes: int
    boards: int
    workers: int


class BoardRow(Form):
    """A stored board."""

    sha256: str
    file: str
    bytes: int
    format: str
    name: str
    parts: int
    pads: int
    nets: int
    opened: float = Field(description="seconds since 1970, UTC")
    notes: bool = Field(description="whether a person has corrected something")
    traced: bool = Field(description="whether it is a photo board that is traced here")


class BoardList(Form):
    """The stored boards, the last opened first."""

    schema_: Literal["netgraph.boards/1"] = Field(alias="schema")
    boards: list[BoardRow]
    next: int | None = Field(description="cursor of the rest of the list")


class JobAnswer(Form):
    """Slow work."""

    schema_: Literal["netgraph.job/1"] = Field(alias="schema")
    id: str
    what: str
    state: Literal["waiting", "running", "done", "failed", "stopped"]
    stage: Literal["waiting", "reading", "roles", "keeping", "done"]
    progress: float = Field(ge=0, le=1)
    seconds: float
    board: str | None = Field(description="SHA-256 of the board that was made")
    problem: Problem | None


class Taken(Form):
    """What became of an upload: its board, or the job that reads it."""

    schema_: Literal["netgraph.upload/1"] = Field(alias="schema")
    board: BoardRow | None
    job: JobAnswer | None


class GoalRow(Form):
    """A goal that `lift` knows."""

    name: str


class Words(Form):
    """The closed lists that a person may choose from."""

    schema_: Literal["netgraph.words/1"] = Field(alias="schema")
    goals: list[str]
    roles: list[Role]
    net_kinds: list[NetKind]
    keep: list[KeepWord]
    suffixes: list[str] = Field(description="endings of files that can be read")


class TreeBox(Form):
    """A box of the drawn rail tree."""

    id: str
    nets: list[str] = Field(description="several: folded")
    label: str
    x: float
    y: float
    apart: bool = Field(description="what feeds it is not known")


class TreeLine(Form):
    """A line of the drawn rail tree."""

    start: str
    end: str
    feeders: list[str]
    points: list[tuple[float, float]]
    against: bool = Field(description="closes a ring of rails")


class TreeDrawing(BoardAnswer):
    """The rail tree with places, in CSS pixels."""

    schema_: Literal["netgraph.rails-drawing/1"] = Field(alias="schema")
    nodes: list[TreeBox]
    edges: list[TreeLine]
    box: tuple[float, float] = Field(description="width and height of a box")
    width: float
    height: float
    apart_y: float | None
    crossings: int
    folded: int


class PadColumns(Form):
    """Pads, one list a column; lengths in millimetres, angles in degrees counter-clockwise."""

    x: list[float]
    y: list[float]
    w: list[float]
    h: list[float]
    angle: list[float]
    shape: list[int] = Field(description="0 circle, 1 rect, 2 oval, 3 roundrect, 4, 5 others")
    net: list[int] = Field(description="index into nets, -1: none")
    part: list[int] = Field(description="index into part_ids")
    pin: list[str]


class PartColumns(Form):
    """Parts on one side, one list a column; the box is turned by the angle."""

    id: list[str]
    x: list[float]
    y: list[float]
    w: list[float]
    h: list[float]
    angle: list[float]
    fitted: list[bool]


class Drawing(BoardAnswer):
    """One side of a board, as columns; x and y as in the file, also for the bottom."""

    schema_: Literal["netgraph.drawing/1"] = Field(alias="schema")
    side: Side
    box: tuple[float, float, float, float] | None = Field(description="x0, y0, x1, y1 of all")
    outline: list[list[float]] = Field(description="lines as x, y, x, y ...")
    parts: PartColumns
    part_ids: list[str] = Field(description="all parts; pads.part is an index into it")
    nets: list[str]
    other_names: dict[str, str] = Field(description="further names of nets -> the name here")
    pads: PadColumns


class NearNode(Form):
    """A node of a close-up; `x` and `y` in boxes, the middle at 0, 0."""

    id: str
    kind: Literal["net", "part", "more"]
    name: str = Field(description="the net or part; empty for more")
    label: str
    role: str
    connection: Connection | None
    names: list[str] = Field(description="what is folded into it")
    x: float
    y: float


class NearEdge(Form):
    """A line of a close-up."""

    start: str
    end: str
    pins: list[str]


class Near(BoardAnswer):
    """A net or a part and what it touches."""

    schema_: Literal["netgraph.neighbourhood/1"] = Field(alias="schema")
    middle: str
    nodes: list[NearNode]
    edges: list[NearEdge]
    grounds: list[str] = Field(description="grounds it touches; never drawn as nodes")
    folded: int


class Found(Form):
    """One hit."""

    kind: Literal["net", "part"]
    name: str
    about: str


class SearchAnswer(BoardAnswer):
    """What begins with or holds the typed letters."""

    schema_: Literal["netgraph.search/1"] = Field(alias="schema")
    total: int
    found: list[Found]


class AskedBody(BaseModel):
    """A question that nobody could answer."""

    model_config = ConfigDict(extra="forbid")
    about: Topic
    target: str = Name


class PartNoteBody(BaseModel):
    """What a person says of a part."""

    model_config = ConfigDict(extra="forbid")
    ref: str = Name
    role: Role | None = None
    fitted: bool | None = None
    keep: KeepWord | None = None
    why: str = Field("", max_length=2000)
    enabled_by: list[NoteName] | None = Field(None, max_length=50)
    needs_first: list[NoteName] = Field(default_factory=list, max_length=50)


class FeederBody(BaseModel):
    """A feeder named by a person."""

    model_config = ConfigDict(extra="forbid")
    ref: str = Name
    from_net: str | None = Field(None, max_length=4096)


class NetNoteBody(BaseModel):
    """What a person says of a net."""

    model_config = ConfigDict(extra="forbid")
    net: str = Name
    kind: NetKind | None = None
    nominal_volts: float | None = Field(None, ge=-100_000, le=100_000, allow_inf_nan=False)
    feeders: list[FeederBody] | None = Field(None, max_length=50)
    always_on: bool | None = None
    why: str = Field("", max_length=2000)


class NotesBody(BaseModel):
    """All notes of a board, in the form in which they are sent."""

    model_config = ConfigDict(extra="forbid")
    parts: list[PartNoteBody] = Field(default_factory=list, max_length=20_000)
    nets: list[NetNoteBody] = Field(default_factory=list, max_length=20_000)
    asked: list[AskedBody] = Field(default_factory=list, max_length=20_000)
