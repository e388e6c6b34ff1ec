# SPDX-License-Identifier: GPL-3.0-or-later
"""Numbers and rules with no named source do not enter: every key used has its entry."""

from __future__ import annotations

import ast
import csv
import re
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import pytest

from netgraph.roles.answer import AnswerSource
from netgraph.sources import SOURCES
from tests.support import PACKAGE, package_calls

PROVENANCE = set(get_args(AnswerSource))
"""``source="user"`` of a role says who decided it; that is no key of a publication."""


def keys_of(table: Path) -> Iterator[tuple[str, str]]:
    """Place and key of each row (several are parted by ``;`` or spaces); "" where there is none.

    A table from one place has no column `source` but says it once, in words, on top of the file:
    ``# source: ...``. It has no keys then, but for a "" when it does not say it either.
    """
    lines = table.read_text(encoding="utf-8").splitlines(keepends=True)
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    if "source" not in (rows.fieldnames or ()):
        said = [line for line in lines if re.match(r"# source: \S+ \S+", line)]
        yield from [] if said else [(f"{table.name}: no column and no line '# source:'", "")]
        return
    for number, row in enumerate(rows, start=1):
        keys = (row["source"] or "").replace(";", " ").split()
        yield from ((f"{table.name}: row {number}", key) for key in keys or [""])


def keys_in_code() -> Iterator[tuple[str, str]]:
    """Place and text of each ``source="..."`` argument."""
    for place, _, call in package_calls():
        for keyword in call.keywords:
            value = keyword.value.value if isinstance(keyword.value, ast.Constant) else None
            if keyword.arg == "source" and isinstance(value, str) and value not in PROVENANCE:
                yield place, value


def test_every_row_of_every_table_has_a_known_source() -> None:
    tables = sorted(PACKAGE.glob("**/tables/*.csv"))
    assert tables, "no table found under netgraph/: the pattern of this test is wrong"
    used = [pair for table in tables for pair in keys_of(table)]
    if unknown := [f"{place}: source {key!r}" for place, key in used if key not in SOURCES]:
        pytest.fail("\n".join(unknown), pytrace=False)


def test_every_source_named_in_code_is_known() -> None:
    assert [f"{place}: source {key!r}" for place, key in keys_in_code() if key not in SOURCES] == []


def test_every_source_says_something() -> None:
    assert [key for key, words in SOURCES.items() if len(words.split()) < 2] == []


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        ("# a remark\nname,source\nR,kicad\n", ["kicad"]),
        ("name,source\nR,usb; iec60062\nC,\n", ["usb", "iec60062", ""]),
        ("# source: sizes as sellers print them\nname,size\nR,1\n", []),
        ("# source:\nname,size\nR,1\n", [""]),
        ("name,size\nR,1\n", [""]),
    ],
)
def test_keys_are_read_from_a_table(tmp_path: Path, text: str, keys: list[str]) -> None:
    """A row or a table without a source counts as one with an unknown key."""
    table = tmp_path / "t.csv"
    table.write_text(text, encoding="utf-8")
    assert [key for _, key in keys_of(table)] == keys
