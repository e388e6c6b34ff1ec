# SPDX-License-Identifier: GPL-3.0-or-later
"""A partial board of eleven nets, a photo board and an assembly go through every question."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from netgraph.cli.main import COMMANDS
from netgraph.contract.models import ANSWERS
from netgraph.formats import read_board
from tests.unit.cli.bench_boards import TRACED, write_assembly, write_photo, write_traced
from tests.unit.cli.run import netgraph

QUESTIONS: dict[str, tuple[str, ...]] = {
    "show": ("FILE",),
    "parts": ("FILE",),
    "pads": ("FILE",),
    "rails": ("FILE",),
    "rail": ("FILE", "VSYS"),
    "keep": ("FILE",),
    "lift": ("FILE", "--short", "VSYS"),
    "isolate": ("FILE", "VBUS"),
    "split": ("FILE", "VSYS"),
    "inject": ("FILE", "VSYS"),
    "path": ("FILE", "VSYS"),
    "resistance": ("FILE", "VSYS"),
    "predict": ("FILE", "--fault", "leak VSYS GND 12R"),
    "plan": ("FILE", "--short", "VSYS"),
    "power": ("FILE",),
    "review": ("FILE",),
    "merge": ("FILE",),
}
OTHERS = {
    *("notes", "serve", "demo", "doctor", "trace", "photo", "template", "unplug"),
    *("compare", "convert", "formats", "schema"),
}
"""Commands that ask nothing of one board; unplug, compare and convert have tests of their own."""
KINDS = {"traced": write_traced, "photo": write_photo, "assembly": write_assembly}
ABSOLUTE = ("nothing else", "no other part", "only these parts")


def words_for(command: str, file: Path, *, assembly: bool) -> list[str]:
    before = "MAIN/" if assembly else ""
    names = {"VSYS": f"{before}VSYS", "VBUS": f"{before}VBUS_5V", "FILE": str(file)}
    fault = f"leak {before}VSYS {before}GND 12R"
    return [
        fault if word.startswith("leak ") else names.get(word, word) for word in QUESTIONS[command]
    ]


def test_the_list_of_questions_is_whole() -> None:
    """A new command must be asked here, or be told to be no question."""
    assert set(COMMANDS) - OTHERS == set(QUESTIONS)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("command", QUESTIONS)
def test_every_question_is_answered_and_says_what_is_not_known(
    command: str, kind: str, tmp_path: Path
) -> None:
    file = KINDS[kind](tmp_path)
    words = words_for(command, file, assembly=kind == "assembly")
    told = netgraph(command, *words)
    assert told.status == 0, told.err
    flat = " ".join(told.out.split())
    assert "Not known of this board" in flat
    assert "what is not listed is untraced, not absent" in flat
    assert [phrase for phrase in ABSOLUTE if phrase in flat.casefold()] == []
    assert all(len(line) <= 80 for line in told.out.splitlines())
    answer = netgraph(command, *words, "--json").json()
    assert answer["partial"] is True
    assert "untraced" in [one["code"] for one in answer["not_known"]]
    ANSWERS[command].model_validate(answer, strict=True)


@pytest.mark.parametrize("kind", KINDS)
def test_no_ceiling_and_no_bold_lift_on_what_is_partly_known(kind: str, tmp_path: Path) -> None:
    file = KINDS[kind](tmp_path)
    assembly = kind == "assembly"
    plan = netgraph("inject", *words_for("inject", file, assembly=assembly), "--json").json()
    assert plan["verdict"] == "unsure"
    assert plan["max_volts"] is None
    assert plan["first_volts"] <= 0.3
    assert plan["max_watts"] <= 0.25
    table = netgraph("lift", *words_for("lift", file, assembly=assembly), "--json").json()
    for row in table["parts"]:
        if row["verdict"] in ("lift", "lift-and-jumper", "replace"):
            assert row["ref"].rpartition("/")[2].startswith("C"), row


def test_the_same_netlist_in_full_gets_a_ceiling_and_lifts(tmp_path: Path) -> None:
    """What is held back above is held back because the board is partial, for nothing else."""
    traced = write_traced(tmp_path)
    whole = tmp_path / "whole.net"
    assert netgraph("convert", traced, "-o", whole).status == 0
    plan = netgraph("inject", whole, "VSYS", "--json").json()
    assert (plan["verdict"], plan["max_volts"]) == ("ok", 5.0)
    assert plan["partial"] is False


def test_a_trace_becomes_whole_with_a_netlist_and_stays_partial_with_another_trace(
    tmp_path: Path,
) -> None:
    traced = write_traced(tmp_path)
    whole = tmp_path / "whole.net"
    netgraph("convert", traced, "-o", whole)
    assert netgraph("show", traced, "--with", whole, "--json").json()["partial"] is False
    other = tmp_path / "other.trace"
    other.write_text(TRACED)
    assert netgraph("show", traced, "--with", other, "--json").json()["partial"] is True


def test_pads_of_the_bottom_picture_lie_where_they_are_seen_from_the_top(tmp_path: Path) -> None:
    """By hand: the picture of the bottom is mirrored, x = 50 mm - 0.05 mm a pixel."""
    board = read_board(write_photo(tmp_path))
    pad = next(pad for pad in board.pads if pad.part_id == "C10" and pad.pin == "1")
    pixel = next(
        pad["x_px"]
        for part in json.loads((tmp_path / "pictured.photo.json").read_text())["parts"]
        if part["ref"] == "C10"
        for pad in part["pads"]
        if pad["pin"] == "1"
    )
    assert pad.side == "bottom"
    assert (pad.x_nm, pad.y_nm) == (round((50 - 0.05 * pixel) * 1e6), 5_000_000)


def test_path_sites_work_on_a_photo_board(tmp_path: Path) -> None:
    """Pads of J1 are 12 pixels apart: 0.6 mm from middle to middle, each 0.3 mm wide."""
    answer = netgraph("path", write_photo(tmp_path), "VBUS_5V", "GND", "--json").json()
    gaps = [one for one in answer["sites"] if one["kind"] in ("pad-gap", "under-package")]
    assert gaps
    assert min(one["gap_mm"] for one in gaps) == pytest.approx(0.3, abs=0.001)


def test_unplugging_parts_the_nets_and_says_so(tmp_path: Path) -> None:
    file = write_assembly(tmp_path)
    joined = netgraph("rail", file, "MAIN/+3V3", "--json").json()
    assert "PANEL/U9" in [one["ref"] for one in joined["parts"]]
    parted = netgraph("rail", file, "MAIN/+3V3", "--unplug", "MAIN/C10", "--json").json()
    assert "PANEL/U9" not in [one["ref"] for one in parted["parts"]]
    assert "mates-open" in [one["code"] for one in parted["not_known"]]
    assert netgraph("rail", file, "PANEL/VPANEL", "--unplug", "MAIN/C10").status == 0
    answer = netgraph("unplug", file, "MAIN/C10", "--json").json()
    assert {one["net"] for one in answer["apart"]} == {"MAIN/+3V3", "MAIN/GND"}
    ANSWERS["unplug"].model_validate(answer, strict=True)
    wrong = netgraph("unplug", file, "MAIN/U1")
    assert (wrong.status, "mates with nothing" in wrong.err) == (2, True)
    lasting = write_assembly(tmp_path, unplugged=True)
    assert netgraph("rail", lasting, "MAIN/+3V3", "--json").json()["parts"] == parted["parts"]


@pytest.mark.parametrize("device", ["phone", "laptop", "pocket", "box"])
def test_every_question_works_on_a_template(device: str, tmp_path: Path) -> None:
    file = tmp_path / "t.trace"
    assert netgraph("template", device, "-o", file).status == 0
    net = "VSYS_MAIN" if device == "laptop" else "VSYS"
    for command, words in QUESTIONS.items():
        if command in ("isolate", "predict"):
            continue
        shown = [{"FILE": str(file), "VSYS": net}.get(word, word) for word in words]
        told = netgraph(command, *shown)
        assert told.status == 0, (command, told.err)
        assert "plain template" in " ".join(told.out.split()), command
    kept = netgraph("keep", file, "--json").json()["keeps"]
    functions = {one["function"] for one in kept}
    wanted = {"processing", "stored data"}
    if device != "pocket":
        wanted.add("working memory")
    assert wanted <= functions, functions


def test_what_is_traced_takes_the_place_of_the_template(tmp_path: Path) -> None:
    file = tmp_path / "t.trace"
    netgraph("template", "pocket", "-o", file)
    assert netgraph("trace", file, "--add", "U5 named U2700").status == 0
    netgraph("trace", file, "--add", "U2700 = KLMAG1JETD BGA-153")
    netgraph("trace", file, "--add", "U6.1 U1.3 apart")
    board = read_board(file)
    assert board.part("U2700").value == "KLMAG1JETD"
    assert not board.has_part("U5")
    # the assumed line that joined U1.3 and U6.1 has given way as a whole
    answer = netgraph("trace", file, "--json").json()
    assert len(answer["gave_way"]) == 1
