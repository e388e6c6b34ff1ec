# SPDX-License-Identifier: GPL-3.0-or-later
"""The service's answers are the command line's, for every question, with notes and without."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from netgraph.contract.models import ANSWERS
from netgraph.service.questions import QUESTIONS
from tests.service.client import LARK, Bench
from tests.unit.cli.run import netgraph

REAL = "teres_main_c"
ASKED: dict[str, tuple[str, dict[str, str], list[str]]] = {
    "show": ("", {}, []),
    "parts": ("/parts", {}, []),
    "pads": ("/pads", {}, []),
    "rails": ("/rails", {}, []),
    "rail": ("/rail", {"net": "{net}"}, ["{net}"]),
    "lift": ("/lift", {"short": "{net}"}, ["--short", "{net}"]),
    "lift --all": ("/lift", {"short": "{net}", "all": "true"}, ["--short", "{net}", "--all"]),
    "inject": ("/inject", {"net": "{net}"}, ["{net}"]),
    "inject --bridge": (
        "/inject",
        {"net": "{net}", "bridge_a": "{net}", "bridge_b": "{other}"},
        ["{net}", "--bridge", "{net}", "{other}"],
    ),
    "path": ("/path", {"net_a": "{net}"}, ["{net}"]),
    "path to": ("/path", {"net_a": "{net}", "net_b": "{other}"}, ["{net}", "{other}"]),
    "lift --together": (
        "/lift",
        {"short": "{net}", "together": "{part}"},
        ["--short", "{net}", "--together", "{part}"],
    ),
    "keep": ("/keep", {}, []),
    "keep --storage": ("/keep", {"storage": "keyed"}, ["--storage", "keyed"]),
    "isolate": ("/isolate", {"net": "{other}"}, ["{other}"]),
    "split": ("/split", {"net": "{net}"}, ["{net}"]),
    "review": ("/review", {}, []),
    "review --limit": ("/review", {"limit": "3"}, ["--limit", "3"]),
}
"""What is asked: address and query of the service, words of the command."""


def same(on_bench: Bench, sha: str, board: Path, net: str, other: str, part: str) -> None:
    def filled(text: str) -> str:
        return text.format(net=net, other=other, part=part)

    for name, (path, query, words) in ASKED.items():
        command = name.split()[0]
        said = netgraph(command, board, *map(filled, words), "--json").json()
        told = on_bench.answer(f"/boards/{sha}{path}", **{k: filled(v) for k, v in query.items()})
        assert told == json.loads(json.dumps(said)), name
        assert list(told) == list(said), f"{name}: order of the keys"
    said = netgraph("notes", "show", board, "--json").json()
    assert on_bench.answer(f"/boards/{sha}/notes") == said


def test_every_question_of_the_contract_is_asked_here() -> None:
    elsewhere = {"notes", "demo", "formats", "doctor"}
    later = {name for name in ANSWERS if not any(name == r.name for r in QUESTIONS.routes)}
    assert {one.split()[0] for one in ASKED} == set(ANSWERS) - elsewhere - later


def test_answers_equal_those_of_the_command_line_on_the_sample_board(
    on_bench: Bench, tmp_path: Path
) -> None:
    """Twice: as the board is, and after corrections made through the service."""
    board = tmp_path / "lark.kicad_pcb"
    shutil.copy(LARK, board)
    sha = on_bench.board(board)
    same(on_bench, sha, board, "VSYS", "1V8", "C35")
    body: dict[str, Any] = {
        "parts": [{"ref": "C34", "fitted": False, "why": "lifted"}],
        "nets": [{"net": "VSYS", "nominal_volts": 3.8}],
    }
    assert on_bench.notes(sha, body, **{"If-Match": '"none"'}).status_code == 200
    # The same corrections by the command line.
    netgraph("notes", "set", board, "--part", "C34", "--not-fitted", "--why", "lifted")
    netgraph("notes", "set", board, "--net", "VSYS", "--volts", "3.8")
    same(on_bench, sha, board, "VSYS", "1V8", "C35")
    lift = on_bench.answer(f"/boards/{sha}/lift", short="VSYS")
    assert "C34" not in {row["ref"] for row in lift["parts"]}
    assert lift["notes"] == "lark.notes.toml"


def test_answers_equal_those_of_the_command_line_on_a_real_board(
    on_bench: Bench, boards_dir: Path
) -> None:
    """teres_main_c of OLIMEX/DIY-LAPTOP (Apache-2.0), read where it lies."""
    board = boards_dir / REAL / "board.kicad_pcb"
    same(on_bench, on_bench.board(board), board, "+1.5V", "+3V3", "C5")


def test_a_board_read_again_from_the_cache_gives_the_same_answers(
    on_bench: Bench, boards_dir: Path
) -> None:
    sha = on_bench.board(boards_dir / REAL / "board.kicad_pcb")
    before = [on_bench.answer(f"/boards/{sha}{path}") for path in ("", "/pads", "/rails")]
    on_bench.service.workbench.forget(sha)
    on_bench.service.intake.guards = frozenset({"none"})  # reading anew would go another way
    on_bench.service.workbench._read_again = lambda _: pytest.fail("not from the cache")
    after = [on_bench.answer(f"/boards/{sha}{path}") for path in ("", "/pads", "/rails")]
    assert after == before
