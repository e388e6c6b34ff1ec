# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""The command about the program itself: schema."""

from __future__ import annotations

import click

from netgraph.cli.page import Page
from netgraph.cli.session import debug_option, write_json, write_page
from netgraph.errors import UnknownNameError


@click.command()
@click.argument("command", required=False)
@debug_option
def schema(command: str | None) -> None:
    """What does the JSON of a command look like?

    Prints the JSON Schema of the answer of COMMAND; without COMMAND the names that have one.

    \b
    Example:  netgraph schema rails

    Each answer names its schema in the field "schema", such as netgraph.rails/1. Within one
    number fields are only added.
    """
    from netgraph.contract.models import ANSWERS, json_schema

    if command is None:
        names = list(ANSWERS)

        def fill(page: Page) -> None:
            for name in names:
                page.text(name)

        write_page(fill)
        return
    if command not in ANSWERS:
        raise UnknownNameError("answer", command, tuple(ANSWERS))
    write_json(json_schema(command))
