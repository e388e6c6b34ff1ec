# SPDX-License-Identifier: GPL-3.0-or-later
"""The ordered plan as data: steps with why, check, way back, stops and cautions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, get_args

from netgraph.plan.heat_plan import HeatPlan
from netgraph.reasons import Reason

Stage = Literal[
    "triage",
    "ask",
    "unplug",
    "clean",
    "measure",
    "inject",
    "open",
    "shunt",
    "suspect",
    "replaceable",
    "separate",
    "verify",
    "power",
    "copy",
]
STAGES: Final[tuple[Stage, ...]] = get_args(Stage)
"""In the order of the work (bench practice 1)."""

Action = Literal[
    "cell",
    "photo",
    "unplug",
    "shield",
    "look",
    "clean",
    "dry",
    "ohms",
    "inject",
    "image",
    "open-to-test",
    "lift",
    "lift-and-jumper",
    "power",
    "ask",
    "stop",
]
"""Named by the card that the step would produce; `look`, `image`, `ask`, `stop` as in `next`."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step. `target` holds the fields of the card it would produce, without the value.

    `check` is what to look at before going on, `undo` the way back (None: there is none), `stop`
    what ends the step at once, `vetoes` what stands in its way now, by the cards. `notes` are what
    this one step leaves behind: floating inputs, protection gone.
    """

    stage: Stage
    action: Action
    target: tuple[tuple[str, str | float], ...]
    why: Reason
    check: Reason | None = None
    undo: Reason | None = None
    stop: tuple[Reason, ...] = ()
    vetoes: tuple[Reason, ...] = ()
    cautions: tuple[Reason, ...] = ()
    minutes: float | None = None
    heat: HeatPlan | None = None
    weight: float | None = None
    done: bool = False
    notes: tuple[Reason, ...] = ()

    @property
    def ref(self) -> str | None:
        """The part the step works on, if it is one."""
        for key, value in self.target:
            if key == "ref":
                return str(value)
        return None

    def as_json(self, number: int, *, with_heat: bool = False) -> dict[str, object]:
        """Plain values for the JSON answer."""
        return {
            "number": number,
            "stage": self.stage,
            "action": self.action,
            "target": dict(self.target),
            "why": self.why.as_json(),
            "check": None if self.check is None else self.check.as_json(),
            "undo": None if self.undo is None else self.undo.as_json(),
            "stop": [one.as_json() for one in self.stop],
            "vetoes": [one.as_json() for one in self.vetoes],
            "notes": [one.as_json() for one in self.notes],
            "cautions": [one.as_json() for one in self.cautions],
            "minutes": self.minutes,
            "weight": self.weight,
            "heat": self.heat.as_json() if with_heat and self.heat is not None else None,
            "done": self.done,
        }


@dataclass(frozen=True, slots=True)
class OrderedPlan:
    """All steps for one shorted net and goal, in the order of the work.

    `cleared` says that the last reading on the net no longer looks shorted: then no lift is left
    in the plan. `left_out` are parts that might be lifted but were left out for want of room;
    `never_lifted` are the parts that hold the data, `unsure` those on the net of which the netlist
    can't tell whether they may come off.
    """

    net: str
    goal: str
    steps: tuple[Step, ...]
    cleared: bool
    reading: Reason | None
    warnings: tuple[Reason, ...]
    left_out: tuple[str, ...] = ()
    cards: int = 0
    never_lifted: tuple[str, ...] = ()
    unsure: tuple[str, ...] = ()
