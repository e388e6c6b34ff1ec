# SPDX-License-Identifier: GPL-3.0-or-later
"""The form of the JSON answers about files of boards; see ``contract.models`` for the others."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from netgraph.contract.forms import BoardAnswer, Form, Why
from netgraph.model.board import Side
from netgraph.model.merge import About


class FormatName(Form):
    """One format that can be read or written."""

    name: str
    title: str
    suffixes: list[str]
    carries: list[str]
    limits: str


class Formats(Form):
    """Which files can be read and written?"""

    schema_: Literal["netgraph.formats/1"] = Field(alias="schema")
    formats: list[FormatName] = Field(description="formats that are read")
    written: list[FormatName]


class Disagreement(Form):
    """Two files say different things of one item."""

    about: About
    name: str = Field(description="the part, or pads")
    first: str
    second: str
    taken: str = Field(description="what the merged board says")
    file: str = Field(description="the file that says `second`; all before it say `first`")


class Merge(BoardAnswer):
    """Where do files of one board disagree?"""

    schema_: Literal["netgraph.merge/1"] = Field(alias="schema")
    others: list[str] = Field(description="files laid over the first, in order")
    parts: int
    pads: int
    nets: int
    unclear_nets: list[str] = Field(description="names that may be cut and stand for several nets")
    disagreements: list[Disagreement]


class SameNet(Form):
    """One net by its names in both files."""

    net_a: str
    net_b: str


class PadsApart(Form):
    """Pads on one net in the one file and on another net in the other; null: joined to nothing."""

    net_a: str | None
    net_b: str | None
    pads: list[str]
    sure: bool = Field(description="false: any of the unsure pads may be the wrong ones")


class NetDifference(Form):
    """Nets that don't hold the same pads; empty: the pads are not joined in that file."""

    nets_a: list[str]
    nets_b: list[str]
    pads: list[str] = Field(description="the fewest pads without which they would agree")
    unclear: bool = Field(description="a name that may be cut is among them")
    apart: list[PadsApart] = Field(description="these pads by their two nets")


class Compare(Form):
    """Are two boards the same, net by net?"""

    schema_: Literal["netgraph.compare/1"] = Field(alias="schema")
    file_a: str = Field(description="its name; with folders where both names are one")
    file_b: str
    same: bool
    pads_compared: int
    pads_only_a: int
    pads_only_b: int
    parts_only_a: list[str]
    parts_only_b: list[str]
    unsure: list[str] = Field(description="pads of one name on several nets, not told apart")
    worst_mm: float | None = Field(description="largest difference of places, moved parts aside")
    moved: list[str] = Field(description="parts that lie elsewhere in the second file")
    offset_x_mm: float | None
    offset_y_mm: float | None
    unclear_a: list[str]
    unclear_b: list[str]
    partial_a: bool = Field(description="further parts may sit on any net of the first")
    partial_b: bool
    not_known_a: list[Why] = Field(description="what the first file leaves open")
    not_known_b: list[Why]
    nets: list[SameNet]
    differ: list[NetDifference]


class CopperShort(Form):
    """Copper of two nets that overlaps."""

    net_a: str
    net_b: str
    x_mm: float
    y_mm: float
    layer: str


class CopperOpen(Form):
    """A net whose copper lies in several pieces."""

    net: str
    pieces: list[list[str]] = Field(description="pads of each piece")
    unfilled: bool = Field(description="the net has an unfilled zone, which may join them")


class CompareCopper(Form):
    """Does the drawn copper join what the netlist joins?"""

    schema_: Literal["netgraph.compare-copper/1"] = Field(alias="schema")
    file: str
    agrees: bool | None = Field(description="null: it can't be told, zones are not filled")
    shorts: list[CopperShort]
    opens: list[CopperOpen]
    unfilled_zones: int


class Convert(BoardAnswer):
    """What was written?"""

    schema_: Literal["netgraph.convert/1"] = Field(alias="schema")
    written: str
    format: str
    left_out: dict[str, int] = Field(description="what the format can't hold, by kind")


class TracedNet(Form):
    """One net of a hand trace."""

    net: str
    names: list[str] = Field(description="all names given to it; several: rails that became one")
    pads: list[str]
    assumed: bool = Field(description="wholly of a template, nothing of it traced")


class JoinedRails(Form):
    """Two named nets that became one."""

    a: str
    b: str
    line: int


class GivenUp(Form):
    """What was given up of an assumed line."""

    line: int
    pads: list[str] = Field(
        description="the pads that gave way; empty: the line says something else"
    )
    rest: bool = Field(description="whether the other pads of the line stay joined")


class TraceAnswer(Form):
    """What has been traced so far?"""

    schema_: Literal["netgraph.trace/1"] = Field(alias="schema")
    file: str
    lines: int = Field(description="facts, without comments")
    parts: list[str]
    nets: list[TracedNet]
    joined_rails: list[JoinedRails]
    gave_way: list[int] = Field(description="assumed lines that gave way to traced ones, in part")
    given_up: list[GivenUp] = Field(description="what of those lines gave way")
    events: list[Why] = Field(description="what a person should hear of the lines added just now")
    undone: str | None = Field(description="the line that was taken back")


class PhotoPicture(Form):
    """A photograph of one side."""

    side: Side
    file: str
    points: int = Field(description="points whose places are known; three are needed")


class Photo(Form):
    """What does a photo board hold?"""

    schema_: Literal["netgraph.photo/1"] = Field(alias="schema")
    file: str
    name: str
    pictures: list[PhotoPicture]
    parts: int
    pads: int
    traced: list[str]
    nets: list[str]
    places: bool = Field(description="whether every pad has a place")
    events: list[Why] = Field(description="what a person should hear of the lines added just now")
    undone: str | None = Field(description="the line that was taken back")


class ApartNet(Form):
    """A net that comes apart."""

    net: str
    was: list[str]
    stays: list[str] = Field(description="nets that stay joined under its name")


class StillJoined(Form):
    """Nets of several boards that are one."""

    net: str
    nets: list[str]


class Unplug(Form):
    """Which nets come apart when connectors are unplugged?"""

    schema_: Literal["netgraph.unplug/1"] = Field(alias="schema")
    file: str
    unplugged: list[str]
    apart: list[ApartNet]
    still_joined: list[StillJoined]


class TemplateAnswer(Form):
    """Which template was written?"""

    schema_: Literal["netgraph.template/1"] = Field(alias="schema")
    device: str
    written: str
    devices: list[str]


FILE_ANSWERS: dict[str, type[Form]] = {
    "formats": Formats,
    "merge": Merge,
    "compare": Compare,
    "compare-copper": CompareCopper,
    "convert": Convert,
    "trace": TraceAnswer,
    "photo": Photo,
    "unplug": Unplug,
    "template": TemplateAnswer,
}
"""Command -> form of its JSON answer."""
