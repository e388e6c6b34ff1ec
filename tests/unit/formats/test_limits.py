# SPDX-License-Identifier: GPL-3.0-or-later
"""Limits come from the one table, and each error says which one was passed."""

from __future__ import annotations

import ast
import re

from netgraph import limits
from tests.support import ROOT


def messages() -> list[tuple[str, str]]:
    """Place and words of each error ``limit-exceeded`` in the program's text."""
    found = []
    for path in sorted((ROOT / "netgraph").rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Call) and any(
                isinstance(one, ast.Constant) and one.value == "limit-exceeded" for one in node.args
            ):
                words = "".join(
                    str(one.value) if isinstance(one, ast.Constant) else "{limit}"
                    for one in ast.walk(node)
                    if isinstance(one, ast.Constant)
                    or (isinstance(one, ast.Name) and one.id == "limit")
                )
                found.append((f"{path.relative_to(ROOT)}:{node.lineno}", words))
    return found


def test_each_error_of_a_limit_names_it() -> None:
    told = messages()
    assert len(told) > 15
    for place, words in told:
        assert re.search(r"(?:MAX|CHILD)_[A-Z_]+|\{limit\}", words), (place, words)
        for name in re.findall(r"\b(?:MAX|CHILD)_[A-Z_]+", words):
            assert hasattr(limits, name), (place, name)
