# SPDX-License-Identifier: GPL-3.0-or-later
"""Forms of the answers about the keep list, lifts, cuts and splits."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from netgraph.contract.forms import BoardAnswer, Form, Place, Why
from netgraph.roles.answer import KeepKind


class Keep(Form):
    """A part that the goal needs."""

    ref: str
    function: str
    kind: KeepKind
    why: Why


class Jumper(Form):
    """A wire in place of a part, from pad to pad (``REF.PIN``)."""

    from_: str = Field(alias="from")
    to: str
    wire_mm: float
    caution: Why


class Floating(Form):
    """An input left without a driver, and the net to pull it to (null: not known)."""

    net: str
    pull_to: str | None


class NeededFor(Form):
    """What a small part does for a chip. `vital`: the chip does not run, or runs away, without."""

    kind: str = Field(
        description="enable, reset, timing, power-good, feedback, hold, catch, bootstrap, "
        "compensation, soft-start, current-set, bypass, clock, clock-load, strap or bus-pull"
    )
    chip: str
    net: str
    vital: bool
    why: Why


class Enable(Form):
    """What switches a converter on. `timing` are capacitors that only delay."""

    part: str
    pin: str
    net: str
    how: Literal["tied", "pulled", "chip", "power-good", "noted", "held-off", "unknown"]
    needs_parts: list[str]
    needs_nets: list[str]
    timing: list[str]
    why: Why


class LiftPart(Place):
    """The verdict on one part, on the board as it is."""

    ref: str
    value: str
    verdict: Literal["keep", "replace", "lift", "lift-and-jumper", "unsure"]
    why: Why
    confidence: float = Field(ge=0, le=1)
    loses: list[str]
    frees: list[str]
    jumper: Jumper | None
    open_to_test: bool
    floats: list[Floating] = Field(description="inputs of kept parts left without a driver")
    cautions: list[Why]
    needed_for: list[NeededFor] = Field(
        description="what it does for a chip, needed by the goal or not"
    )


class LiftRow(Form):
    """The verdict on one part of a set, on the board without the others."""

    ref: str
    verdict: Literal["keep", "replace", "lift", "lift-and-jumper", "unsure"]
    why: Why
    loses: list[str]
    frees: list[str]


class DeadNode(Form):
    """A step of a proof: a node (kind, name) and the dead inputs that kill it."""

    node: tuple[str, str]
    needs_all: bool
    because: list[tuple[str, str]] = Field(description="empty: the node is itself lifted")


class Proof(Form):
    """That the target dies when the parts are off; each step can be checked by itself."""

    target: tuple[str, str]
    lifted: list[str]
    dead: list[DeadNode]
    story: list[Why] = Field(description="the same in words, first cause first")


class LiftSet(Form):
    """May these parts come off together?"""

    parts: list[str]
    verdict: Literal["safe", "not-safe", "unsure"]
    why: Why
    rows: list[LiftRow]
    loses: list[str]
    floats: list[Floating]
    proof: Proof | None


class Lift(BoardAnswer):
    """What may come off?"""

    schema_: Literal["netgraph.lift/1"] = Field(alias="schema")
    net: str
    goal: str
    unclear: Why | None = Field(description="why the goal's needs are not known; then all unsure")
    needed_rails: list[str]
    rails_without_feeder: list[str]
    keeps: list[Keep]
    parts: list[LiftPart]
    together: LiftSet | None = Field(description="the verdict on a set of lifts, if asked for")
    cautions: list[Why]


class StorageRoute(Form):
    """How the data can be reached, and whether reading the chip by itself would do."""

    kind: Literal["removable", "soldered", "none-found"]
    parts: list[str]
    cards: list[str]
    chip_off: Literal["yes", "no", "unknown"]
    why: Why
    first: Why


class KeepAnswer(BoardAnswer):
    """What does the goal need?"""

    schema_: Literal["netgraph.keep/1"] = Field(alias="schema")
    goal: str
    unclear: Why | None
    keeps: list[Keep]
    needed_rails: list[str]
    rails_without_feeder: list[str]
    storage: StorageRoute
    cautions: list[Why]
    enables: list[Enable] = Field(description="of the feeders of needed supplies")
    doubts: list[Why] = Field(description="enables that are not known or not proved")


class Cut(Form):
    """One way to separate a branch from what the goal needs."""

    parts: list[str]
    cost: float = Field(description="a link being 1; our own scale")
    why: Why
    verify: list[Why]
    back_feeds: list[Why]
    nets_off: list[str]


class Isolate(BoardAnswer):
    """Which parts to take off so that a faulty branch no longer matters?"""

    schema_: Literal["netgraph.isolate/1"] = Field(alias="schema")
    net: str
    goal: str
    kept_rails: list[str]
    cuts: list[Cut]
    why: Why | None = Field(description="why there is no cut")
    cautions: list[Why]


class Split(Form):
    """Series parts to open together, and what that tells."""

    parts: list[str]
    share_behind: float = Field(ge=0, le=1)
    gain_bits: float = Field(ge=0, le=1)
    cost: float
    nets_behind: list[str]
    why: Why


class SplitAnswer(BoardAnswer):
    """Which series part to open to halve the suspicion?"""

    schema_: Literal["netgraph.split/1"] = Field(alias="schema")
    net: str
    splits: list[Split]
    why: Why | None = Field(description="why there is no split")
    cautions: list[Why]
