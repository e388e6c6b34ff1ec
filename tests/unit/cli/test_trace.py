# SPDX-License-Identifier: GPL-3.0-or-later
"""The command trace: what is said outside the prompt, and a file that others write too."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.service.photographs import png
from tests.support import ROOT
from tests.unit.cli.run import netgraph


def test_what_happens_by_a_line_is_told_outside_the_prompt_too(tmp_path: Path) -> None:
    file = tmp_path / "a.trace"
    netgraph("trace", file, "--add", "C1.1 C2.1 : VSYS", "--add", "C3.1 C4.1 : GND")
    told = netgraph("trace", file, "--add", "C1.1 C3.1")
    assert "VSYS and GND are one net now" in told.err
    netgraph("trace", file, "--undo")
    answer = netgraph("trace", file, "--add", "C1.1 C3.1", "--json").json()
    assert [one["code"] for one in answer["events"]] == ["trace-rails-joined"]


def test_what_is_given_up_of_a_template_is_told(tmp_path: Path) -> None:
    file = tmp_path / "a.trace"
    netgraph("template", "phone", "-o", file)
    told = netgraph("trace", file, "--add", "U2.1 nc", "--json")
    (given,) = told.json()["given_up"]
    assert (given["pads"], given["rest"]) == (["U2.1"], True)
    assert "U2.1" in told.err


def test_assumed_pads_are_marked_and_counted_in_every_answer(tmp_path: Path) -> None:
    file = tmp_path / "a.trace"
    netgraph("template", "phone", "-o", file)
    told = netgraph("trace", file, "--add", "U1.3 U2.1 : VSYS")
    assert "VSYS  U1.3 U2.1 ~C1.1 ~C2.1 ~U6.1\n" in told.out
    assert "~ in front of a pad: assumed, not traced" in told.out
    all_pads = netgraph("pads", file, "--json").json()
    (why,) = [one for one in all_pads["not_known"] if one["code"] == "assumed-pads"]
    assert why["params"]["count"] == len(all_pads["pads"]) - 2
    file.write_text("# netgraph trace 1\nU1.3 U2.1 : VSYS\n")
    codes = [one["code"] for one in netgraph("show", file, "--json").json()["not_known"]]
    assert "assumed-pads" not in codes
    assert "~" not in netgraph("trace", file, "--add", "C1.1 U1.3").out


def test_undo_says_what_it_took_and_ends_with_2_when_there_is_nothing(tmp_path: Path) -> None:
    file = tmp_path / "a.trace"
    file.write_text("# netgraph trace 1\nC1.1 C2.1 : A\n# my words\n")
    told = netgraph("trace", file, "--undo", "--json")
    assert told.json()["undone"] == "C1.1 C2.1 : A"
    assert "taken away: C1.1 C2.1 : A" in told.err
    again = netgraph("trace", file, "--undo")
    assert again.status == 2
    assert str(file) in again.err
    assert file.read_text() == "# netgraph trace 1\n# my words\n"


@pytest.mark.parametrize("line", ["foo bar", "C1.1 nc"])
def test_an_error_of_a_line_names_the_file_and_the_line(line: str, tmp_path: Path) -> None:
    file = tmp_path / "a.trace"
    told = netgraph("trace", file, "--add", "C1.1 C2.1 : A", "--add", line)
    assert told.status in (3, 4)
    assert f"{file}: '{line}'" in told.err
    assert "the 1 before it are saved" in told.err
    assert len(told.err.splitlines()) == 1
    assert "C1.1 C2.1 : A" in file.read_text()


class Prompt:
    """The prompt in a process of its own, one line typed at a time."""

    def __init__(self, file: Path) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-u", "-m", "netgraph", "trace", str(file)],
            cwd=ROOT,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        assert "help shows" in self.heard()

    def heard(self) -> str:
        assert self.process.stdout is not None
        return self.process.stdout.readline()

    def type(self, line: str) -> str:
        """The first line that is answered."""
        assert self.process.stdin is not None
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()
        return self.heard()

    def end(self) -> None:
        self.process.communicate("quit\n")


def test_what_another_process_saved_meanwhile_is_taken_in(tmp_path: Path) -> None:
    file = tmp_path / "a.trace"
    prompt = Prompt(file)
    prompt.type("C1.1 C2.1 : A")
    netgraph("trace", file, "--add", "C3.1 C4.1 : B", "--add", "C5.1 C4.1")
    assert "2 lines" in prompt.type("C6.1 C1.1")
    prompt.end()
    assert file.read_text().splitlines()[1:] == [
        "C1.1 C2.1 : A",
        "C3.1 C4.1 : B",
        "C5.1 C4.1",
        "C6.1 C1.1",
    ]


def test_undo_takes_nothing_of_what_another_process_saved(tmp_path: Path) -> None:
    file = tmp_path / "a.trace"
    prompt = Prompt(file)
    prompt.type("C1.1 C2.1 : A")
    netgraph("trace", file, "--add", "C3.1 C4.1 : B")
    assert "nothing taken away" in prompt.type("undo")
    prompt.end()
    assert "C3.1 C4.1 : B" in file.read_text()


@pytest.mark.parametrize("other", ["# netgraph trace 1\nC9.1 C8.1 : Z\n", "no trace at all\n"])
def test_a_file_that_lacks_what_was_saved_here_is_not_written_over(
    other: str, tmp_path: Path
) -> None:
    file = tmp_path / "a.trace"
    prompt = Prompt(file)
    prompt.type("C1.1 C2.1 : A")
    file.write_text(other)
    told = prompt.type("C6.1 C1.1")
    assert str(file) in told
    prompt.end()
    assert file.read_text() == other


def test_a_photo_board_tells_what_a_line_did_too(tmp_path: Path) -> None:
    file = tmp_path / "b.photo.json"
    netgraph("photo", "new", file)
    netgraph("photo", "trace", file, "C1.1 L1.1 : VSYS", "C1.2 U1.1 : GND")
    told = netgraph("photo", "trace", file, "C1.1 C1.2")
    assert "VSYS and GND are one net now" in told.err
    assert "VSYS: 4 pads: C1.1 L1.1 C1.2 U1.1" in told.out
    undone = netgraph("photo", "trace", file, "--undo", "--json")
    assert undone.json()["undone"] == "C1.1 C1.2"
    stray = netgraph("photo", "trace", file, "C1.1, C2.1 : VDD")
    assert (stray.status, "b.photo.json" in stray.err) == (3, True)
    for _ in range(2):
        netgraph("photo", "trace", file, "--undo")
    assert netgraph("photo", "trace", file, "--undo").status == 2


def test_a_photo_board_knows_its_picture_and_takes_numbers_below_zero(tmp_path: Path) -> None:
    """-5 is a number, not an option; off the picture it is refused as what it is."""
    picture, file = tmp_path / "top.png", tmp_path / "b.photo.json"
    picture.write_bytes(png(900, 600))
    assert netgraph("photo", "new", file, "--top", picture).status == 0
    corners = ["0", "0", "-30", "-20", "900", "0", "30", "-20", "0", "600", "-30", "20"]
    assert netgraph("photo", "scale", file, "top", *corners).status == 0
    assert netgraph("photo", "pad", file, "C1.1", "812", "440", "--through").status == 0
    wrong = netgraph("photo", "pad", file, "C1.2", "-5", "440")
    assert wrong.status == 2
    assert "pixel -5, 440, does not lie on the picture of the top" in wrong.err
    assert "900 by 600 pixels" in wrong.err
    slip = netgraph("photo", "pad", file, "C1.2", "5", "440", "--trough")
    assert (slip.status, "--trough" in slip.err) == (2, True)
    (pad,) = [one for one in netgraph("pads", file, "--json").json()["pads"] if one["ref"] == "C1"]
    assert (pad["x_mm"], pad["y_mm"]) == (
        pytest.approx(24.133, abs=1e-3),
        pytest.approx(9.333, abs=1e-3),
    )


def template(folder: Path, *lines: str) -> Path:
    file = folder / "t.trace"
    netgraph("template", "phone", "-o", file)
    words = [word for line in lines for word in ("--add", line)]
    assert not words or netgraph("trace", file, *words).status == 0
    return file


def nets_of(file: Path) -> dict[str, list[str]]:
    rows = netgraph("pads", file, "--json").json()["pads"]
    found: dict[str, list[str]] = {}
    for one in rows:
        found.setdefault(one["net"], []).append(f"{one['ref']}.{one['pin']}")
    return found


def test_a_true_pin_does_not_weld_an_assumed_net_to_a_traced_one(tmp_path: Path) -> None:
    """Pin 1 of the true chip is ground; the template's pin 1 was on VBUS, and both became one."""
    file = template(tmp_path, "U1 named U2700", "U2700.1 C40.2 U900.4 : GND")
    nets = nets_of(file)
    assert nets["VBUS"] == ["J1.1"]
    assert "U2700.1" in nets["GND"]
    assert "J1.1" not in nets["GND"]


def test_a_beep_through_the_fault_is_warned_of_on_a_template_too(tmp_path: Path) -> None:
    file = template(tmp_path)
    told = netgraph("trace", file, "--add", "C1.1 C1.2")
    assert "VSYS and GND are one net now" in told.err
    nets = nets_of(file)
    assert "U1.3" in nets["VSYS"]
    assert "U1.4" in nets["GND"]


def test_apart_says_nothing_of_the_nets(tmp_path: Path) -> None:
    file = template(tmp_path, "C1.1 C1.2 apart")
    (why,) = [
        one
        for one in netgraph("show", file, "--json").json()["not_known"]
        if one["code"] == "assumed-pads"
    ]
    assert why["params"]["count"] == 48
    told = netgraph("trace", file, "--add", "C3.1 nc").out
    assert "~C1.1" in told


def test_nothing_comes_off_on_assumed_pads_alone(tmp_path: Path) -> None:
    file = template(tmp_path, "C1 = 10uF", "C2 = 10uF", "C7 = 10uF", "C7.1 C1.1 C8.1")
    rows = netgraph("lift", file, "--short", "VSYS", "--json").json()["parts"]
    assert {one["verdict"] for one in rows} == {"unsure"}


def test_a_true_name_is_for_the_part_known_so_far(tmp_path: Path) -> None:
    file = template(tmp_path, "U1 named U2700", "U1.7 R3.1 : NEWNET")
    nets = nets_of(file)
    assert nets["NEWNET"] == ["U1.7", "R3.1"]
    assert "U2700.3" in nets["VSYS"]


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("U1.1 C1.1:VSYS", "a colon within C1.1:VSYS"),
        ("U2.1: U2.2", "a colon within U2.1:"),
        ("C12.1 L3.2 :", "no name behind ':'"),
        ("C1 = 10uF 0603 bottom # note", "a comment behind a fact"),
    ],
)
def test_slips_of_wet_fingers_are_refused(line: str, told: str, tmp_path: Path) -> None:
    file = tmp_path / "a.trace"
    ran = netgraph("trace", file, "--add", line)
    assert ran.status != 0
    assert told in ran.err
    assert not file.exists()


@pytest.mark.parametrize(
    ("line", "value", "package"),
    [
        ("C1 = 10 uF", "10uF", ""),
        ("C1 = 10 uF 0603", "10uF", "0603"),
        ("C1 = 100n X7R", "100n X7R", ""),
        ("C1 = 4,7 k", "4,7k", ""),
        ("C1 = 10uF 0402 bottom", "10uF", "0402"),
        ("C1 = STM32 LQFP-64", "STM32", "LQFP-64"),
    ],
)
def test_values_as_people_write_them(line: str, value: str, package: str, tmp_path: Path) -> None:
    file = tmp_path / "a.trace"
    netgraph("trace", file, "--add", line, "--add", "C1.1 U1.1 : VSYS")
    part = next(
        one for one in netgraph("parts", file, "--json").json()["parts"] if one["ref"] == "C1"
    )
    assert (part["value"], part["package"]) == (value, package)


def test_a_joined_rail_is_asked_by_both_names(tmp_path: Path) -> None:
    file = tmp_path / "a.trace"
    lines = ("J1.1 C1.1 : VBUS", "J2.1 C2.1 : VSYS", "C1.1 C2.1")
    netgraph("trace", file, *(word for line in lines for word in ("--add", line)))
    told = netgraph("rail", file, "VSYS", "--json")
    assert (told.status, told.json()["net"]) == (0, "VBUS")


def test_a_contradiction_names_both_lines(tmp_path: Path) -> None:
    file = tmp_path / "a.trace"
    file.write_text("# netgraph trace 1\nC1.1 U1.1 : VSYS\nC1.1 nc\n")
    ran = netgraph("show", file)
    assert "line 3: C1.1 is joined by line 2" in ran.err
    file.write_text("# netgraph trace 1\nC1.1 U1.1 : VSYS\nC1.1 U1.1 apart\n")
    assert "C1.1 and U1.1 are joined, says line 2" in netgraph("show", file).err


def test_sides_of_some_parts_say_nothing_of_the_others(tmp_path: Path) -> None:
    file = tmp_path / "a.trace"
    file.write_text("# netgraph trace 1\nC1.1 U1.1 : VSYS\nC1.2 : GND\nC1 = 10uF bottom\n")
    sides = {one["ref"]: one["side"] for one in netgraph("parts", file, "--json").json()["parts"]}
    assert sides == {"C1": "bottom", "U1": None}
    assert "(0 top, 1 bottom, 1 side unknown)" in netgraph("show", file).out
    file.write_text("# netgraph trace 1\nC1.1 U1.1 : VSYS\nC1.2 : GND\nC1 = 10uF\n")
    points = netgraph("inject", file, "VSYS", "--json").json()["points"]
    assert points
    assert {one["side"] for one in points} == {None}
    assert " top " not in netgraph("inject", file, "VSYS").out


def test_a_trace_of_a_later_version_is_not_gone_on_with(tmp_path: Path) -> None:
    file = tmp_path / "a.trace"
    file.write_text("# netgraph trace 2\nC1.1 U1.1 : VSYS\n")
    assert "trace version 2" in netgraph("trace", file, "--add", "C2.1 C1.1").err
    assert file.read_text() == "# netgraph trace 2\nC1.1 U1.1 : VSYS\n"


def test_photo_show_doubts_a_scale_as_the_page_does(tmp_path: Path) -> None:
    file, picture = tmp_path / "b.photo.json", tmp_path / "top.png"
    picture.write_bytes(png(900, 600))
    netgraph("photo", "new", file, "--top", picture)
    turned = ["0", "0", "60", "0", "900", "0", "0", "0", "0", "600", "60", "40"]
    told = netgraph("photo", "scale", file, "top", *turned)
    assert "turn the picture over" in " ".join(told.out.split())
    netgraph("photo", "pad", file, "C2.1", "10", "10")
    moved = netgraph("photo", "part", file, "C2", "--side", "bottom")
    assert (moved.status, "1 pads marked" in moved.err) == (2, True)
    named = netgraph("photo", "trace", file, "C2 named C5")
    assert (named.status, "--named C5" in named.err) == (2, True)


def test_pads_that_only_an_assumption_joins_are_assumed(tmp_path: Path) -> None:
    """U3.4 and R1.1 were found joined; that they are on +3V3 nobody found."""
    file = tmp_path / "a.trace"
    lines = ("U2.3 C3.1 U3.2 : +3V3", "U3.4 R1.1", "C3.2 U3.3 : GND", "~ R1.1 C3.1")
    ran = netgraph("trace", file, *(word for line in lines for word in ("--add", line)))
    assert "~U3.4 ~R1.1" in ran.out
    (why,) = [
        one
        for one in netgraph("show", file, "--json").json()["not_known"]
        if one["code"] == "assumed-pads"
    ]
    assert why["params"]["count"] == 2


def test_a_pad_that_nobody_measured_may_be_touched(tmp_path: Path) -> None:
    """Photographs gave no point to feed at unless each pad's size had been typed."""
    file, picture = tmp_path / "b.photo.json", tmp_path / "top.png"
    picture.write_bytes(png(900, 600))
    netgraph("photo", "new", file, "--top", picture)
    netgraph(
        "photo",
        "scale",
        file,
        "top",
        *["0", "0", "0", "0", "900", "0", "60", "0", "0", "600", "0", "40"],
    )
    netgraph("photo", "part", file, "C2", "--value", "22uF", "--package", "0805")
    for pin, x in (("1", 300), ("2", 340)):
        netgraph("photo", "pad", file, f"C2.{pin}", str(x), "200")
    netgraph("photo", "trace", file, "C2.1 : +5V", "C2.2 : GND")
    points = netgraph("inject", file, "+5V", "--json").json()["points"]
    assert [f"{one['ref']}.{one['pin']}" for one in points] == ["C2.1"]
