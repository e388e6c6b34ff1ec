# SPDX-License-Identifier: GPL-3.0-or-later
"""Slips at the bench: ground as the short, a part for a net, damaged copper, endless names."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.unit.cli.run import netgraph
from tests.unit.cli.small_board import small_board_text, write_small_board


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("lift", "FILE", "--short", "GND"), "GND is ground"),
        (("path", "FILE", "GND"), "GND is ground itself"),
        (("rail", "FILE", "U1"), "U1 is a part; its nets:"),
        (("inject", "FILE", "U1"), "U1 is a part; its nets:"),
    ],
)
def test_a_slip_is_wrong_use_with_a_way_out(
    tmp_path: Path, words: tuple[str, ...], told: str
) -> None:
    file = write_small_board(tmp_path)
    ran = netgraph(*(file if word == "FILE" else word for word in words))
    assert ran.status == 2
    assert told in ran.err
    assert "hint" in ran.err


def test_a_name_without_end_is_not_repeated_in_full(tmp_path: Path) -> None:
    file = write_small_board(tmp_path)
    ran = netgraph("inject", file, "N" * 100_000)
    assert ran.status == 2
    assert len(ran.err) < 400


def test_a_damaged_track_leaves_copper_out_and_says_so(tmp_path: Path) -> None:
    text = small_board_text().rstrip()
    assert text.endswith(")")
    file = tmp_path / "b.kicad_pcb"
    file.write_text(text[:-1] + '  (segment (start 1 x) (end 2 2) (width 0.2) (layer "F.Cu"))\n)\n')
    answer = netgraph("path", file, "VSYS", "--json").json()
    assert "'x' is no number" in answer["copper_fault"]
    assert answer["sites"]
