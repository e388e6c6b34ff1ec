# SPDX-License-Identifier: GPL-3.0-or-later
"""The option --goal: one of the program's own goals, or a file with a person's."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from netgraph.plan.goals import Goal


def _complete(_: click.Context, __: click.Parameter, begun: str) -> list[str]:
    from netgraph.plan.goals import GOALS

    return [name for name in GOALS if name.startswith(begun)]


goal_option = click.option(
    "--goal",
    metavar="GOAL",
    default="recover-data",
    show_default=True,
    shell_complete=_complete,
    help="What the board must still do: recover-data, recover-data-no-display, "
    "image-storage-in-circuit, full-repair, or a file NAME.toml with your own.",
)


def chosen_goal(text: str) -> Goal:
    """The goal of this name, or that of the file.

    Raises
    ------
    UnknownNameError
        No goal has this name.
    GoalError
        The file can't be read as a goal.
    """
    from netgraph.errors import GoalError
    from netgraph.formats.reading import read_bytes
    from netgraph.plan.goal_text import parse_goal
    from netgraph.plan.goals import goal_named

    if not text.endswith(".toml"):
        return goal_named(text)
    try:
        words = read_bytes(Path(text), "a goal file").decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise GoalError(f"not UTF-8: {error.reason}", path=text) from None
    return parse_goal(words, path=text)
