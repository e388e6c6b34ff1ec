# SPDX-License-Identifier: GPL-3.0-or-later
"""The form of the answer of `resistance`."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from netgraph.contract.forms import BoardAnswer, Form, Why


class ResistancePair(Form):
    """Two pads ``REF.PIN`` and the drawn copper between them."""

    a: str
    b: str
    milliohms: float


class ResistanceAnswer(BoardAnswer):
    """How much copper lies between pads of one net, at 20 C, all parts taken as absent?"""

    schema_: Literal["netgraph.resistance/1"] = Field(alias="schema")
    net: str
    a: str | None = Field(description="the pad asked, REF.PIN; null: the whole net")
    b: str | None = Field(description="the second pad; null: all others")
    known: bool = Field(description="false: no figure can be given, `why` says why")
    why: Why
    milliohms: float | None = Field(
        description="between `a` and `b`; null where not asked, not known or not joined"
    )
    mesh_milliohms: float | None = Field(
        description="change of the answer with cells twice as large, an estimate of its error"
    )
    amps: float | None = Field(
        description="what the narrowest track between `a` and `b` bears at 10 K (IPC-2221), on "
        "the widest way; null: no track on it"
    )
    pairs: list[ResistancePair] = Field(description="the least resistance first")
    islands: list[list[str]] = Field(
        description="pads of each piece of drawn copper, the largest first"
    )
    cells: int = Field(description="cells of areas; 0: no area takes part")
    cell_mm: float | None
    strips: int = Field(description="pieces of track")
    narrowest_mm: float | None
    copper_um: list[float] = Field(description="thickness used for each copper layer, from the top")
    remarks: list[Why] = Field(description="what was assumed")
