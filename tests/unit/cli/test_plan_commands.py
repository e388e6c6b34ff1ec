# SPDX-License-Identifier: GPL-3.0-or-later
"""Slips at the bench: ground as the short, a part for a net, damaged copper, endless names."""

from __future__ import annotations

from pathlib import Path

import pytest

from netgraph.assets import asset_path
from tests.unit.cli.run import netgraph
from tests.unit.cli.small_board import small_board_text, write_small_board

LARK = asset_path("sample_boards/lark/lark.kicad_pcb")


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


def test_a_new_figure_does_not_inherit_the_reason_of_the_old_one(tmp_path: Path) -> None:
    file = write_small_board(tmp_path)
    words = ("notes", "set", file, "--net", "+3V3", "--volts")
    assert netgraph(*words, "3.3", "--why", "good board").status == 0
    assert netgraph(*words, "33").status == 0
    plan = netgraph("inject", file, "+3V3", "--json").json()
    assert plan["verdict"] == "unsure"
    assert plan["max_volts"] is None
    assert "noted-volts" in {one["code"] for one in plan["warnings"]}


def test_the_questions_about_what_must_stay(tmp_path: Path) -> None:
    file = write_small_board(tmp_path)
    kept = netgraph("keep", file, "--json").json()
    assert {one["ref"]: one["kind"] for one in kept["keeps"]}["U3"] == "irreplaceable"
    assert kept["storage"]["chip_off"] == "unknown"
    assert (
        netgraph("keep", file, "--storage", "plain", "--json").json()["storage"]["chip_off"]
        == "yes"
    )
    assert "U3: irreplaceable" in netgraph("keep", file, "--why", "U3").out
    assert "not on the keep list" in netgraph("keep", file, "--why", "C1").out
    assert netgraph("isolate", file, "VSYS", "--json").json()["why"]["code"] == "cut-impossible"
    assert netgraph("split", file, "VSYS", "--suspect", "U1", "-1").status == 2
    assert netgraph("lift", file, "--short", "VSYS", "--goal", "no.toml").status == 3


def test_a_set_of_lifts_is_judged_as_one(tmp_path: Path) -> None:
    file = write_small_board(tmp_path)
    words = ("lift", file, "--short", "VSYS", "--together", "U3")
    answer = netgraph(*words, "--json").json()
    assert answer["together"]["verdict"] == "not-safe"
    assert "U3 together: not-safe" in netgraph(*words).out


def test_cards_take_parts_off_and_clear_or_forbid_current(tmp_path: Path) -> None:
    file = write_small_board(tmp_path)
    cards = tmp_path / "cards.jsonl"
    cards.write_text('{"kind": "cell", "connected": false}\n{"kind": "lift", "ref": "C1"}\n')
    lifted = netgraph("lift", file, "--short", "VSYS", "--all", "--cards", cards, "--json").json()
    assert "C1" not in {one["ref"] for one in lifted["parts"]}
    plan = netgraph("inject", file, "VSYS", "--cards", cards, "--json").json()
    assert "veto-cell" not in {one["code"] for one in plan["vetoes"]}
    assert {"veto-wet", "veto-solvent"} <= {one["code"] for one in plan["vetoes"]}
    cards.write_text('{"kind": "cell", "connected": true}\n')
    forbidden = netgraph("inject", file, "VSYS", "--cards", cards, "--json").json()
    assert (forbidden["verdict"], forbidden["why"]["code"]) == ("no", "inject-cell-connected")
    assert netgraph("path", file, "VSYS", "--cards", cards).status == 0
    cards.write_text('{"kind": "lift", "ref": "C999"}\n')
    assert netgraph("path", file, "VSYS", "--cards", cards).status == 3


def test_the_head_of_a_lift_table_says_what_was_counted() -> None:
    """With --all it called every part of the board one that sits on the net."""
    on_net = len(netgraph("lift", LARK, "--short", "VSYS", "--json").json()["parts"])
    everywhere = len(netgraph("lift", LARK, "--short", "VSYS", "--all", "--json").json()["parts"])
    assert everywhere > on_net
    first = netgraph("lift", LARK, "--short", "VSYS").out.splitlines()[0]
    assert first.endswith(f": {on_net} parts on it")
    first = netgraph("lift", LARK, "--short", "VSYS", "--all").out.splitlines()[0]
    assert first.endswith(f": {everywhere} parts of the whole board")
