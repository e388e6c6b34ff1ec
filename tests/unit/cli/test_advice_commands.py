# SPDX-License-Identifier: GPL-3.0-or-later
"""`power` and `plan` on the command line: cards and weights from files, slips told in one line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from netgraph.assets import asset_path
from tests.unit.advice.bench import lark_sound, triage_done
from tests.unit.cli.run import netgraph
from tests.unit.cli.small_board import write_small_board

LARK = asset_path("sample_boards/lark/lark.kicad_pcb")


@pytest.fixture
def small(tmp_path: Path) -> Path:
    return write_small_board(tmp_path)


def cards(folder: Path, *lines: str) -> Path:
    file = folder / "cards.jsonl"
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return file


def test_the_contract_of_power(tmp_path: Path) -> None:
    """Fields by the table of the contract (architecture paper), below the top too."""
    answer = netgraph("power", LARK, "--json").json()
    assert answer["verdict"] == "not-yet"
    assert (answer["feed"]["net"], answer["feed"]["ref"]) == ("VBAT_CELL", "J1")
    assert set(answer["expected_amps"]) >= {"before_key", "after_key"}
    assert answer["volts"] == 3.7
    assert "J3" in answer["stays_unplugged"]
    file = cards(tmp_path, *triage_done("J2", "J3", "J5"), *lark_sound())
    ready = netgraph("power", LARK, "--cards", file, "--json").json()
    assert (ready["verdict"], ready["cards"]) == ("yes", 25)


def test_power_in_words_fits_the_page_and_names_pads_to_probe() -> None:
    ran = netgraph("power", LARK)
    assert ran.status == 0
    assert max(map(len, ran.out.splitlines())) <= 80
    assert ran.out.startswith("power: not-yet\n")
    assert "TP4.1" in ran.out


def test_plan_in_words_fits_the_page(tmp_path: Path) -> None:
    file = cards(tmp_path, *triage_done("J2", "J3", "J5"))
    ran = netgraph("plan", LARK, "--short", "VSYS", "--cards", file, "--with-heat")
    assert ran.status == 0
    assert max(map(len, ran.out.splitlines())) <= 80
    assert " 2 done  disconnect the cell" in ran.out


def test_heat_is_told_only_when_asked_for(small: Path) -> None:
    words = ("plan", small, "--short", "VSYS", "--json")
    assert all(one["heat"] is None for one in netgraph(*words).json()["steps"])
    heated = [one["heat"] for one in netgraph(*words, "--with-heat").json()["steps"]]
    assert any(one is not None for one in heated)


def test_weights_come_from_a_file(small: Path, tmp_path: Path) -> None:
    file = tmp_path / "weights.json"
    file.write_text(json.dumps({"C5": 9}))
    answer = netgraph("plan", small, "--short", "VSYS", "--weights", file, "--json").json()
    lifts = [one for one in answer["steps"] if one["action"] == "lift"]
    assert (lifts[0]["target"], lifts[0]["weight"]) == ({"ref": "C5"}, 9.0)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('{"kind": "ohms", "at": "VSYSS", "value": 1}', "cards.jsonl:2: no net, part or pad"),
        ('{"kind": "ohms", "at": "VSYS"}', "cards.jsonl:2: the card ohms lacks value"),
        ("0R4", "cards.jsonl:2:2: no JSON"),
    ],
)
def test_a_bad_card_is_one_line_with_its_place(
    small: Path, tmp_path: Path, line: str, told: str
) -> None:
    file = cards(tmp_path, '{"kind": "cell", "connected": false}', line)
    for words in (("power", small), ("plan", small, "--short", "VSYS")):
        ran = netgraph(*words, "--cards", file)
        assert ran.status == 3
        assert told in ran.err
        assert ran.err.count("\n") == 1
        assert ran.out == ""


@pytest.mark.parametrize(
    ("words", "status", "told"),
    [
        (("power", "FILE", "--cards", "none.jsonl"), 3, "no such file"),
        (("power", "FILE", "--feed", "VSYSS"), 2, "near names: VSYS"),
        (("power", "FILE", "--goal", "fame"), 2, "no goal is named"),
        (("plan", "FILE"), 2, "--short"),
        (("plan", "FILE", "--short", "GND"), 2, "GND is ground"),
        (("plan", "FILE", "--short", "VSYS", "--alloy", "lead"), 2, "SAC305"),
        (("plan", "FILE", "--short", "VSYS", "--cycles", "-1"), 2, "--cycles"),
        (("plan", "FILE", "--short", "VSYS", "--weights", "none.json"), 3, "no such file"),
    ],
)
def test_a_slip_is_told(small: Path, words: tuple[str, ...], status: int, told: str) -> None:
    ran = netgraph(*(small if word == "FILE" else word for word in words))
    assert (ran.status, told in ran.err) == (status, True), ran.err
