# SPDX-License-Identifier: GPL-3.0-or-later
"""Reads the tables that lie beside this file in ``tables/``."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from importlib.resources import files
from itertools import dropwhile

from netgraph.roles.answer import ROLES, Role


def read_table(name: str) -> Iterator[dict[str, str]]:
    """Rows of a table in ``roles/tables``, without its leading comment lines."""
    text = files("netgraph.roles").joinpath(f"tables/{name}").read_text(encoding="utf-8")
    lines = dropwhile(lambda line: line.startswith("#"), text.splitlines())
    yield from csv.DictReader(lines)


def checked_role(text: str) -> Role:
    """The role of that name.

    Raises
    ------
    ValueError
        A table names a role that does not exist: a programming fault, caught by the tests.
    """
    for role in ROLES:
        if role == text:
            return role
    raise ValueError(f"{text!r} is no role")
