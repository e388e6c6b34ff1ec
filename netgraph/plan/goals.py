# SPDX-License-Identifier: GPL-3.0-or-later
"""What must survive, as data: goals made of functions, each tied to parts by role and wiring.

Two kinds (bench practice 2): `irreplaceable` holds data, keys or what is paired with them and is
never lifted by advice of the program; `replace` is needed, but a like part may take its place.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from netgraph.errors import UnknownNameError
from netgraph.plan.wiring import BODILESS, PASSIVES
from netgraph.roles.answer import ROLES, KeepKind, Role

Link = Literal[
    "always", "supply-path", "clock", "host-port", "card", "screen", "key", "strap", "entry"
]
"""How a part must be tied to the kept chips for a function to claim it."""


@dataclass(frozen=True, slots=True)
class Function:
    """One thing the goal needs: parts of these roles, tied to the kept chips in this way.

    Where `powered` is false the part must stay but need not run: its supplies aren't needed.
    `parts` are further parts by identity, whatever their role.
    """

    name: str
    roles: frozenset[Role]
    kind: KeepKind
    link: Link
    powered: bool = True
    parts: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Goal:
    """A named goal: its functions, in the order in which they claim parts."""

    name: str
    functions: tuple[Function, ...]


def _function(name: str, kind: KeepKind, link: Link, *roles: Role) -> Function:
    return Function(name, frozenset(roles), kind, link)


RECOVER_DATA: Final = Goal(
    "recover-data",
    (
        _function("processing", "irreplaceable", "always", "processor", "programmable-logic"),
        _function("working memory", "irreplaceable", "always", "memory"),
        _function("stored data", "irreplaceable", "always", "storage"),
        _function("start-up program", "irreplaceable", "always", "boot-flash"),
        _function("calibration and pairing", "irreplaceable", "always", "eeprom"),
        _function("keys", "irreplaceable", "always", "secure-element"),
        _function(
            "power supply",
            "replace",
            "supply-path",
            "power-manager",
            "charger",
            "regulator",
            "load-switch",
            "power-controller",
            "transistor",
            "bridge-rectifier",
            "transformer",
            "unknown",
            "other",
        ),
        _function("power entry", "replace", "entry", "connector", "slot"),
        _function("clock", "replace", "clock", "crystal", "oscillator"),
        _function("card", "replace", "card", "slot"),
        _function("port to the host", "replace", "host-port", "connector"),
        _function("unlocking by screen", "replace", "screen", "connector", "slot"),
        _function("unlocking by key", "replace", "key", "switch"),
        _function("reset and start-up straps", "replace", "strap", "resistor", "power-controller"),
    ),
)

NO_DISPLAY: Final = Goal(
    "recover-data-no-display",
    tuple(one for one in RECOVER_DATA.functions if one.link != "screen"),
)
"""For devices that need no unlocking: screen and touch are not kept."""

IMAGE_STORAGE: Final = Goal(
    "image-storage-in-circuit",
    (
        _function("stored data", "irreplaceable", "always", "storage", "boot-flash"),
        *(
            Function(one.name, one.roles, one.kind, one.link, powered=False)
            for one in RECOVER_DATA.functions
            if one.link == "always" and one.name not in ("stored data", "start-up program")
        ),
        *(one for one in RECOVER_DATA.functions if one.link in ("supply-path", "entry", "card")),
    ),
)
"""Storage is read in place with the processor held in reset: only the storage has to be fed. What
may hold keys stays on the board all the same.
"""

FULL_REPAIR: Final = Goal(
    "full-repair",
    (
        *RECOVER_DATA.functions,
        Function(
            "the device itself",
            frozenset(ROLES) - (PASSIVES - {"led"}) - BODILESS - {"tvs", "esd-array"},
            "replace",
            "always",
        ),
    ),
)
"""Every function of the device is to work again; only what has a twin may come off."""

GOALS: Final[dict[str, Goal]] = {
    goal.name: goal for goal in (RECOVER_DATA, NO_DISPLAY, IMAGE_STORAGE, FULL_REPAIR)
}


def goal_named(name: str) -> Goal:
    """The goal with this name.

    Raises
    ------
    UnknownNameError
        No such goal.
    """
    if name not in GOALS:
        raise UnknownNameError("goal", name, tuple(GOALS))
    return GOALS[name]
