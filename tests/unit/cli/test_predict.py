# SPDX-License-Identifier: GPL-3.0-or-later
"""`netgraph predict` as a person and as a program meet it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.unit.cli.run import Run, netgraph
from tests.unit.cli.small_board import write_small_board


@pytest.fixture
def small(tmp_path: Path) -> Path:
    return write_small_board(tmp_path)


def ask(board: Path, *words: str) -> Run:
    return netgraph("predict", board, *words)


def test_a_fault_is_shown_beside_the_sound_board(small: Path) -> None:
    ran = ask(small, "--fault", "leak VSYS GND 12R")
    assert ran.status == 0, ran.err
    assert "with the fault" in ran.out
    assert "sound board" in ran.out
    assert "12 Ω (11." in ran.out
    assert max(len(line) for line in ran.out.splitlines()) <= 80


def test_the_sound_board_has_one_column(small: Path) -> None:
    ran = ask(small, "--at", "VSYS")
    assert ran.status == 0, ran.err
    assert "with the fault" not in ran.out


def test_the_same_question_gives_the_same_json(small: Path) -> None:
    words = ("--fault", "part C1 2R", "--json")
    first, second = ask(small, *words), ask(small, *words)
    assert first.json() == second.json()
    assert first.json()["fault"] == "part C1 2R"


def test_cards_are_compared_with_fault_and_sound_board(small: Path, tmp_path: Path) -> None:
    cards = tmp_path / "readings.jsonl"
    cards.write_text(
        '{"kind": "ohms", "at": "VSYS", "value": 12.0, "id": "a"}\n{"kind": "photo"}\n',
        encoding="utf-8",
    )
    words = ("--fault", "leak VSYS GND 12R", "--cards", str(cards))
    answer = ask(small, *words, "--json").json()
    (row,) = answer["readings"]
    assert (row["card"], row["measured"], row["inside"], row["sound_inside"]) == (
        *("a", 12.0, True, False),
    )
    assert [one["code"] for one in answer["skipped"]] == ["predict-card-skipped"]
    page = ask(small, *words).out
    assert "fits fault" in page


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (("--fault", "leak VSYS"), 2, "does not take 1 words"),
        (("--fault", "leak VSYS GND 0R"), 2, "outside the model"),
        (("--fault", "leak VSYSS GND 1R"), 2, "near names: VSYS"),
        (("--at", "VSYSS"), 2, "near names: VSYS"),
        (("--celsius", "900"), 2, "900"),
        (("--diode-ma", "9"), 2, "9"),
        (("--cards", "nowhere.jsonl"), 3, "nowhere.jsonl"),
    ],
)
def test_wrong_questions_end_in_one_line(
    small: Path, words: tuple[str, ...], status: int, said: str
) -> None:
    ran = ask(small, *words)
    assert ran.status == status
    assert said in ran.err
    assert len(ran.err.strip().splitlines()) == 1
    assert "Traceback" not in ran.err


def test_bad_cards_are_named_by_file_and_line(small: Path, tmp_path: Path) -> None:
    cards = tmp_path / "readings.jsonl"
    cards.write_bytes(b'{"kind": "ohms", "at": "VSYS"}\n{"kind": "ohms", "at"\n')
    ran = ask(small, "--cards", str(cards))
    assert ran.status == 3
    assert "readings.jsonl:2:" in ran.err
    cards.write_bytes(b"\xff\xfe\x00")
    assert ask(small, "--cards", str(cards)).status == 3


def test_numbers_in_json_are_plain(small: Path) -> None:
    """No infinity and no NaN: over range is null with its flag."""
    text = ask(small, "--fault", "open FB1", "--json").out
    assert "Infinity" not in text
    assert "NaN" not in text
    for row in json.loads(text)["readings"]:
        for which in ("fault", "sound"):
            expected = row[which]
            assert expected["value"] is not None or expected["over_range"]
