# SPDX-License-Identifier: GPL-3.0-or-later
"""The form of the files that this program writes and reads itself, as published schemas.

The readers check by hand and say more on a fault; tests hold both together.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from netgraph.contract.forms import Form
from netgraph.model.board import Capability, CopperSide, PadKind, Side


class MadeFrom(Form):
    """Where the board itself came from."""

    format: str = ""
    file_name: str = ""
    version: str = ""
    generator: str = ""


class NotKnown(Form):
    """A sentence that belongs to every answer: a code of this version and its parameters."""

    code: str
    params: dict[str, str | int | float | bool | None] = Field(default={})


class FileWarning(Form):
    """Something odd that was seen while reading."""

    code: str
    text: str
    count: int = 1
    line: int | None = None


class FileNet(Form):
    """A net and its class."""

    name: str = Field(min_length=1)
    class_: str = Field(default="", alias="class")


class FilePad(Form):
    """One copper pad; lengths in millimetres, y running down."""

    pin: str
    net: str | None = None
    x_mm: float = 0.0
    y_mm: float = 0.0
    angle_deg: float = 0.0
    width_mm: float = 0.0
    height_mm: float = 0.0
    drill_mm: float = 0.0
    copper_side: CopperSide = "top"
    kind: PadKind = "smd"
    shape: str = "rect"
    pin_name: str = ""
    pin_type: str = ""


class FilePart(Form):
    """A part and its pads."""

    ref: str
    id: str = Field(default="", description="identity; the reference where it is left out")
    value: str = ""
    footprint: str = ""
    side: Side = "top"
    x_mm: float = 0.0
    y_mm: float = 0.0
    angle_deg: float = 0.0
    not_fitted_because: str | None = None
    attributes: list[str] = Field(default=[])
    fields: list[tuple[str, str]] = Field(default=[])
    tags: str = ""
    pads: list[FilePad] = Field(default=[])


class FileTie(Form):
    """Pins of one part joined by copper though their nets differ."""

    part: str
    pins: list[str]


class FilePadName(Form):
    """A pad by its part and pin."""

    part: str
    pin: str


class BoardFile(Form):
    """A board without its copper."""

    schema_: Literal["netgraph.board/1"] = Field(alias="schema")
    name: str = "board"
    made_from: MadeFrom = MadeFrom()
    copper_layers: list[str] = Field(default=[])
    capabilities: list[Capability] = Field(default=[])
    partial: bool = False
    other_names: dict[str, str] = Field(default={}, description="further names of nets")
    apart: list[list[FilePadName]] = Field(
        default=[], description="pads that were measured and are not joined with each other"
    )
    unclear_nets: list[str] = Field(default=[])
    not_known: list[NotKnown] = Field(default=[])
    warnings: list[FileWarning] = Field(default=[])
    nets: list[FileNet] = Field(default=[])
    parts: list[FilePart] = Field(default=[])
    net_ties: list[FileTie] = Field(default=[])


class FilePoint(Form):
    """A point of a picture whose place on the board is known."""

    x_px: float
    y_px: float
    x_mm: float
    y_mm: float


class FilePicture(Form):
    """A photograph of one side."""

    side: Side = "top"
    file: str
    sha256: str = ""
    width_px: int = Field(default=0, description="as it is seen; 0 or left out: not known")
    height_px: int = 0
    points: list[FilePoint] = Field(default=[], description="three or more give the scale")


class FilePhotoPad(Form):
    """A pad on the picture of its part's side."""

    pin: str
    x_px: float
    y_px: float
    through: bool = False
    width_mm: float = 0.0
    height_mm: float = 0.0


class FilePhotoPart(Form):
    """A part seen on the pictures."""

    ref: str
    side: Side = "top"
    value: str = ""
    package: str = ""
    x_px: float | None = Field(default=None, description="its middle; left out: that of its pads")
    y_px: float | None = None
    pads: list[FilePhotoPad] = Field(default=[])


class PhotoBoardFile(Form):
    """A board from photographs."""

    schema_: Literal["netgraph.photo-board/1"] = Field(alias="schema")
    name: str = "board"
    pictures: list[FilePicture] = Field(default=[], max_length=2)
    parts: list[FilePhotoPart] = Field(default=[])
    traced: list[str] = Field(default=[], description="lines of a hand trace")


FILES: dict[str, type[Form]] = {"board": BoardFile, "photo-board": PhotoBoardFile}
"""Name of the schema -> form of the file."""


def file_schema(name: str) -> dict[str, object]:
    """JSON Schema (draft 2020-12) of a file, as published."""
    schema = FILES[name].model_json_schema(by_alias=True, mode="validation")
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = f"netgraph.{name}/1"
    return schema
