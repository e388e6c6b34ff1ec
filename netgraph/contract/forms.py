# SPDX-License-Identifier: GPL-3.0-or-later
"""What the forms of all JSON answers are made of: reasons, places, and the head of an answer."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

from netgraph.model.board import Side


class Form(BaseModel):
    """Base of all forms; unknown fields are let through, so that a later program can add some."""

    model_config = ConfigDict(extra="allow", populate_by_name=True, ser_json_inf_nan="null")


class Why(Form):
    """A reason: a code with parameters, and the sentence made of them."""

    code: str
    params: dict[str, str | int | float | bool | None]
    text: str


class Place(Form):
    """Where a part or pad lies; null where the board's file has no places."""

    side: Side | None = Field(description="null: the file does not tell")
    x_mm: float | None = Field(description="millimetres, at most six decimals, exact")
    y_mm: float | None = Field(description="millimetres, running down")


class BoardAnswer(Form):
    """What all answers about a board share."""

    file: str = Field(description="name of the board file, without folders")
    notes: str | None = Field(description="name of the board notes that were used")
    partial: bool = Field(description="other parts may sit on any net; nothing is ever complete")
    not_known: list[Why] = Field(description="what the board's file leaves open")
