# SPDX-License-Identifier: GPL-3.0-or-later
"""Names of the pins of common supply chips where a board file has none, by family and package."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from netgraph.roles.table_files import read_table


@dataclass(frozen=True, slots=True)
class _Row:
    package: re.Pattern[str]
    names: dict[str, str]


@cache
def _rows() -> dict[str, tuple[_Row, ...]]:
    found: dict[str, list[_Row]] = {}
    for row in read_table("pins.csv"):
        names = dict(pair.split("=", 1) for pair in row["pins"].split())
        one = _Row(re.compile(row["package"], re.IGNORECASE), names)
        for prefix in row["prefixes"].split():
            found.setdefault(prefix, []).append(one)
    return {prefix: tuple(rows) for prefix, rows in found.items()}


def known_pins(value: str, package: str) -> dict[str, str]:
    """Pin number -> name of a family in a package; empty where the table has neither.

    Parameters
    ----------
    value
        The marking; its longest beginning in the table counts.
    package
        Footprint or package name; the value is searched too, since some files write it there.

    >>> known_pins("MT3608(SOT23-6)", "")["4"], known_pins("MT3608", "QFN")
    ('EN', {})
    """
    text = re.sub(r"[^A-Z0-9]", "", value.upper())
    table = _rows()
    for length in range(min(10, len(text)), 3, -1):
        for row in table.get(text[:length], ()):
            if row.package.search(f"{package} {value}"):
                return row.names
    return {}
