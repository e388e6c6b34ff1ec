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
