# SPDX-License-Identifier: GPL-3.0-or-later
"""The form of what is sent and taken while a board is traced on its photographs."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from netgraph.contract.forms import Form
from netgraph.model.board import Side
from netgraph.service.forms import BoardRow, Name, Query

Pixel = Annotated[float, Field(ge=-1e6, le=1e6, allow_inf_nan=False)]
Millimetres = Annotated[float, Field(ge=-2147, le=2147, allow_inf_nan=False)]
Length = Annotated[float, Field(gt=0, le=2147, allow_inf_nan=False)]
Size = Annotated[float, Field(ge=0, le=500, allow_inf_nan=False)]


class Asked(BaseModel):
    """Base of all bodies; what is not known is refused."""

    model_config = ConfigDict(extra="forbid")


class StartBody(Asked):
    """A new board, or one that goes on from a stored photo board."""

    name: str = Field("", max_length=200)
    from_board: str | None = Field(None, max_length=64, description="SHA-256 of a stored board")


class PictureQuery(Query):
    """A photograph as the body."""

    revision: int = Field(ge=0, le=2**53)
    name: str = Field("picture", max_length=1000, description="name of the file")


class PointBody(Asked):
    """A point of a picture whose place on the board is known."""

    x_px: Pixel
    y_px: Pixel
    x_mm: Millimetres
    y_mm: Millimetres


class PixelBody(Asked):
    """A point of a picture."""

    x_px: Pixel
    y_px: Pixel


class ScaleStep(Asked):
    """Three or more points of known place; none: take the scale away."""

    do: Literal["scale"]
    side: Side
    points: list[PointBody] = Field(max_length=100)


class DistanceStep(Asked):
    """Three points and the distances first-second, second-third, third-first."""

    do: Literal["distances"]
    side: Side
    pixels: list[PixelBody] = Field(min_length=3, max_length=3)
    distances_mm: list[Length] = Field(min_length=3, max_length=3)


class PartStep(Asked):
    """A part added, or more said of one."""

    do: Literal["part"]
    ref: str = Name
    side: Side | None = None
    value: str | None = Field(None, max_length=4096)
    package: str | None = Field(None, max_length=4096)
    at: PixelBody | None = None


class PartMovedStep(Asked):
    """A part set elsewhere, with its pads."""

    do: Literal["part-moved"]
    ref: str = Name
    x_px: Pixel
    y_px: Pixel


class PartNamedStep(Asked):
    """Another designator."""

    do: Literal["part-named"]
    ref: str = Name
    new: str = Name


class PartGoneStep(Asked):
    """A part taken away."""

    do: Literal["part-gone"]
    ref: str = Name


class PadStep(Asked):
    """A pad set."""

    do: Literal["pad"]
    ref: str = Name
    pin: str = Name
    x_px: Pixel
    y_px: Pixel
    side: Side | None = Field(None, description="the picture on which it was seen")
    through: bool = False
    width_mm: Size = 0.0
    height_mm: Size = 0.0


class PadMovedStep(Asked):
    """A pad set elsewhere."""

    do: Literal["pad-moved"]
    ref: str = Name
    pin: str = Name
    x_px: Pixel
    y_px: Pixel


class PadNamedStep(Asked):
    """Another pin number."""

    do: Literal["pad-named"]
    ref: str = Name
    pin: str = Name
    new: str = Name


class PadGoneStep(Asked):
    """A pad taken away."""

    do: Literal["pad-gone"]
    ref: str = Name
    pin: str = Name


class LineStep(Asked):
    """A traced line, as in a hand trace."""

    do: Literal["line"]
    text: str = Name


class LineGoneStep(Asked):
    """A traced line taken away."""

    do: Literal["line-gone"]
    number: int = Field(ge=1, le=1_000_000)
    text: str = Name


Step = Annotated[
    ScaleStep
    | DistanceStep
    | PartStep
    | PartMovedStep
    | PartNamedStep
    | PartGoneStep
    | PadStep
    | PadMovedStep
    | PadNamedStep
    | PadGoneStep
    | LineStep
    | LineGoneStep,
    Field(discriminator="do"),
]


class StepBody(Asked):
    """One step, and the revision on which it is based."""

    revision: int = Field(ge=0, le=2**53)
    step: Step


class UndoBody(Asked):
    """Steps to take back, and the revision on which this is based."""

    revision: int = Field(ge=0, le=2**53)
    count: int = Field(1, ge=1, le=20_000)


# -- answers -------------------------------------------------------------------------------------


class ShownPoint(Form):
    """A point of known place, and how far it lies from where the scale puts it."""

    x_px: float
    y_px: float
    x_mm: float
    y_mm: float
    off_mm: float


class ShownScale(Form):
    """The scale of a picture."""

    affine: tuple[float, float, float, float, float, float] = Field(
        description="x = a px + b py + c, y = d px + e py + f, millimetres"
    )
    mm_per_px_least: float
    mm_per_px_most: float
    worst_mm: float
    warnings: list[str]


class ShownPicture(Form):
    """A photograph of one side."""

    side: Side
    file: str
    sha256: str
    here: bool = Field(description="whether it lies here; else it must be put in")
    width_px: int | None
    height_px: int | None
    points: list[ShownPoint]
    scale: ShownScale | None


class ShownPixel(Form):
    """A point of a picture."""

    x_px: float
    y_px: float


class ShownPad(Form):
    """A pad on the picture of its part's side."""

    pin: str
    x_px: float
    y_px: float
    through: bool
    width_mm: float
    height_mm: float
    net: str | None
    alone: bool = Field(description="found to join nothing")
    across: ShownPixel | None = Field(
        description="where a pad that goes through is seen on the other side's picture"
    )


class ShownPart(Form):
    """A part on the pictures."""

    ref: str
    side: Side
    value: str
    package: str
    x_px: float | None = Field(description="its own place, else the middle of its pads")
    y_px: float | None
    pads: list[ShownPad]
    next_pin: str


class ShownNet(Form):
    """A net as far as it is traced."""

    net: str
    names: list[str]
    pads: list[str]
    assumed: bool


class DidStep(Form):
    """A step and what it was about."""

    do: str
    name: str


class TraceAnswer(Form):
    """A board that is traced, as it stands."""

    schema_: Literal["netgraph.photo-trace/1"] = Field(alias="schema")
    board: BoardRow
    revision: int
    name: str
    pictures: list[ShownPicture]
    parts: list[ShownPart]
    traced: list[str]
    nets: list[ShownNet]
    unmarked: list[str] = Field(description="pads that are traced but not marked on a picture")
    steps: int = Field(description="steps that can be taken back")
    last: DidStep | None = Field(description="the step that would be taken back first")
    undone: list[DidStep]
    events: list[str] = Field(description="what a person should hear of this step")
