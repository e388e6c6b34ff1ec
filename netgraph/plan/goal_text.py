# SPDX-License-Identifier: GPL-3.0-or-later
"""A person's own goal, from the text of a TOML file; the form is in docs/reference/goals.md."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Final, TypeVar, get_args

from netgraph.errors import GoalError, UnknownNameError
from netgraph.plan.goals import Function, Goal, Link, goal_named
from netgraph.roles.answer import ROLES, KeepKind
from netgraph.roles.notes_text import line_of_many_dots, shown

GOAL_SCHEMA: Final = "netgraph.goal/1"
LONGEST_TEXT: Final = 1 << 16

_KEYS = ("schema", "name", "base", "without", "functions")
_FUNCTION_KEYS = ("name", "roles", "parts", "kind", "link", "powered")
_KINDS: tuple[KeepKind, ...] = get_args(KeepKind)
_LINKS: tuple[Link, ...] = get_args(Link)
_Word = TypeVar("_Word", bound=str)


def parse_goal(text: str, *, path: str = "") -> Goal:
    """A goal from the text of a goal file.

    Raises
    ------
    GoalError
        The text is no TOML, or says something a goal can't say; the place is named.
    """
    if len(text) > LONGEST_TEXT or line_of_many_dots(text) is not None:
        raise GoalError(f"more than {LONGEST_TEXT} characters, or a key of many dots", path=path)
    try:
        tables = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        message = str(error)[:200]
        raise GoalError(f"not valid TOML: {message[:1].lower()}{message[1:]}", path=path) from None
    return _Reader(path).goal(tables)


class _Reader:
    def __init__(self, path: str) -> None:
        self.path = path

    def fault(self, message: str, *, hint: str = "") -> GoalError:
        return GoalError(message, path=self.path, hint=hint)

    def goal(self, tables: Mapping[str, object]) -> Goal:
        self.only_known(tables, _KEYS, "the goal")
        if tables.get("schema", GOAL_SCHEMA) != GOAL_SCHEMA:
            raise self.fault(f"the goal is of the kind {shown(tables['schema'])}", hint=GOAL_SCHEMA)
        name = self.text(tables, "name", "the goal")
        functions: list[Function] = []
        if "base" in tables:
            try:
                functions += goal_named(self.text(tables, "base", name)).functions
            except UnknownNameError as error:
                raise self.fault(error.message, hint=error.hint) from None
        without = self.texts(tables, "without", name)
        unknown = [one for one in without if one not in {each.name for each in functions}]
        if unknown:
            names = ", ".join(dict.fromkeys(one.name for one in functions))
            raise self.fault(
                f"{name}: without names {shown(unknown[0])}, which the base does not have",
                hint=f"one of: {names}",
            )
        functions = [one for one in functions if one.name not in without]
        rows = tables.get("functions", [])
        if not isinstance(rows, list) or not all(isinstance(one, dict) for one in rows):
            raise self.fault(f"{name}: functions are tables: [[functions]]")
        own = [self.function(row) for row in rows]
        # A person's own functions claim their parts first.
        if not own and not functions:
            raise self.fault(f"{name}: no functions, so nothing would be kept", hint="add a base")
        return Goal(name, (*own, *functions))

    def function(self, row: Mapping[str, object]) -> Function:
        name = self.text(row, "name", "a function")
        self.only_known(row, _FUNCTION_KEYS, name)
        roles = self.texts(row, "roles", name)
        for one in roles:
            self.word(one, ROLES, f"{name}: roles")
        parts = self.texts(row, "parts", name)
        if not roles and not parts:
            raise self.fault(f"{name}: neither roles nor parts are named")
        powered = row.get("powered", True)
        if not isinstance(powered, bool):
            raise self.fault(f"{name}: powered is true or false")
        return Function(
            name,
            frozenset(self.word(one, ROLES, f"{name}: roles") for one in roles),
            self.word(row.get("kind", "replace"), _KINDS, f"{name}: kind"),
            self.word(row.get("link", "always"), _LINKS, f"{name}: link"),
            powered,
            frozenset(parts),
        )

    def only_known(self, table: Mapping[str, object], known: tuple[str, ...], where: str) -> None:
        for key in table:
            if key not in known:
                raise self.fault(f"{where}: unknown key {shown(key)}", hint=", ".join(known))

    def text(self, table: Mapping[str, object], key: str, where: str) -> str:
        value = table.get(key)
        if isinstance(value, str) and value.strip():
            return value
        raise self.fault(f"{where}: {key} is a text in quotes, and must be there")

    def texts(self, table: Mapping[str, object], key: str, where: str) -> list[str]:
        value = table.get(key, [])
        if isinstance(value, list) and all(isinstance(one, str) for one in value):
            return list(value)
        raise self.fault(f"{where}: {key} is a list of texts in quotes")

    def word(self, value: object, known: tuple[_Word, ...], where: str) -> _Word:
        for one in known:
            if one == value:
                return one
        raise self.fault(f"{where} can't be {shown(value)}", hint=f"one of: {', '.join(known)}")
