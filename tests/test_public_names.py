# SPDX-License-Identifier: GPL-3.0-or-later
"""The public names are a promise: they change only on purpose."""

from __future__ import annotations

import netgraph
from tests.support import ROOT

SNAPSHOT = ROOT / "tests" / "golden" / "public_names.txt"


def test_public_names_are_those_of_the_snapshot(update_golden: bool) -> None:
    """Names that go or come show as a difference of tests/golden/public_names.txt."""
    names = sorted(netgraph.__all__)
    if update_golden:
        SNAPSHOT.write_text("".join(f"{name}\n" for name in names), encoding="utf-8")
    assert names == SNAPSHOT.read_text(encoding="utf-8").split()


def test_each_public_name_exists_once() -> None:
    assert len(set(netgraph.__all__)) == len(netgraph.__all__)
    assert [name for name in netgraph.__all__ if not hasattr(netgraph, name)] == []


def test_public_names_fit_on_one_screen() -> None:
    """The house rule (about 15 names); 24 is a screen of lines."""
    assert 0 < len(netgraph.__all__) <= 24
