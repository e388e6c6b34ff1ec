# SPDX-License-Identifier: GPL-3.0-or-later
"""What several test files share: where the sources lie, and how to read them as syntax trees."""

from __future__ import annotations

import ast
import csv
import warnings
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import takewhile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "netgraph"


@cache
def package_trees() -> dict[str, ast.Module]:
    """Syntax tree of each module, by its path from the repository root."""
    return {
        path.relative_to(ROOT).as_posix(): ast.parse(path.read_text(encoding="utf-8"), str(path))
        for path in sorted(PACKAGE.rglob("*.py"))
    }


def package_calls() -> Iterator[tuple[str, str, ast.Call]]:
    """Each call in the package: its place as ``path:line``, the last part of its name, itself."""
    for path, tree in package_trees().items():
        for node in ast.walk(tree):
            if isinstance(node, ast.Call):
                called = node.func
                name = called.attr if isinstance(called, ast.Attribute) else ast.unparse(called)
                yield f"{path}:{node.lineno}", name, node


class SoftCheckWarning(UserWarning):
    """The program differs from a table row that is only remembered or merely usual."""


SOFT_STATUS = {"from memory", "common practice"}


@dataclass(frozen=True)
class PublishedTable:
    """Rows typed off a published table; the file's head says where from and how sure."""

    name: str
    status: str
    rows: tuple[dict[str, str], ...]

    def expect(self, row: Mapping[str, str], holds: bool, found: str) -> None:
        """Fail when a sure row does not hold; warn when the row is soft."""
        status = row.get("status") or self.status
        if holds:
            return
        text = f"table {self.name}, status {status}: {dict(row)}: {found}"
        if status in SOFT_STATUS:
            warnings.warn(text, SoftCheckWarning, stacklevel=2)
        else:
            pytest.fail(text, pytrace=False)


@cache
def published(name: str) -> PublishedTable:
    """A table of tests/spec/data; only its leading lines with ``#`` are its head."""
    path = ROOT / "tests" / "spec" / "data" / f"{name}.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    head = list(takewhile(lambda line: line.startswith("#"), lines))
    assert any(line.startswith("# source: ") for line in head), f"{path.name} names no source"
    status = next(line[10:] for line in head if line.startswith("# status: "))
    return PublishedTable(path.name, status, tuple(csv.DictReader(lines[len(head) :])))


REAL_BOARDS = (
    "pico_ice_r2",
    "pocketbeagle",
    "scalenode",
    "orangecrab_r021",
    "hackrf_marzipan",
    "glasgow_c3",
    "teres_main_c",
)
"""Folders of the real boards with a KiCad file."""
