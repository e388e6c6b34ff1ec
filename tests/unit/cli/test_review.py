# SPDX-License-Identifier: GPL-3.0-or-later
"""`netgraph review` as a person and a script meet it, and conflicts shown by `notes`."""

from __future__ import annotations

import errno
import os
import pty
import re
import select
import subprocess
import sys
from pathlib import Path

import pytest

from netgraph.cli import review
from netgraph.roles.notes import parse_notes
from tests.support import ROOT
from tests.unit.cli.run import Run, netgraph
from tests.unit.cli.small_board import write_small_board

TOLD = {
    "AP2112K-3.3": "XQ71",
    "VSYS": "NODE7",
    "VBUS_5V": "NODE5",
    '"VBUS"': '"~"',
    '"USB"': '"CON"',
    "USB_C_Receptacle": "Conn_01x02",
}


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """The small board with names and markings that say less: what comes in is not known."""
    path = write_small_board(tmp_path)
    text = path.read_text(encoding="utf-8")
    for told, untold in TOLD.items():
        assert told in text
        text = text.replace(told, untold)
    path.write_text(text, encoding="utf-8")
    return path


def notes_of(board: Path) -> Path:
    return board.with_name("small.notes.toml")


def asked(board: Path) -> list[tuple[str, str]]:
    rows = netgraph("review", board, "--json").json()["questions"]
    return [(row["about"], row["target"]) for row in rows]


def answering(monkeypatch: pytest.MonkeyPatch, board: Path, *lines: str, words: str = "") -> Run:
    """`review --ask` in this process, told that it is on a terminal, with these lines typed."""
    typed = iter(lines)

    def one_line() -> str:
        try:
            return next(typed)
        except StopIteration:
            raise EOFError from None

    monkeypatch.setattr(review, "is_terminal", lambda stream: True)
    monkeypatch.setattr("builtins.input", one_line)
    return netgraph("review", board, "--ask", *words.split())


def number_of(board: Path, nth: int, begin: str) -> str:
    """The number of a choice of the nth question, by its label."""
    choices = netgraph("review", board, "--json").json()["questions"][nth]["choices"]
    labels = [choice["label"]["text"] for choice in choices]
    return str(next(n for n, label in enumerate(labels, 1) if label.startswith(begin)))


def test_the_table_shows_the_heaviest_and_tells_of_the_rest(small: Path) -> None:
    answer = netgraph("review", small, "--json").json()
    weights = [row["weight"] for row in answer["questions"]]
    assert len(weights) == answer["total"] > 1
    assert weights == sorted(weights, reverse=True)
    run = netgraph("review", small, "--limit", "1")
    assert answer["questions"][0]["question"]["text"] in run.out
    assert answer["questions"][1]["question"]["text"] not in run.out
    assert f"{answer['total'] - 1} more" in run.out
    short = netgraph("review", small, "--limit", "1", "--json").json()
    assert (len(short["questions"]), short["total"]) == (1, answer["total"])


def test_nothing_is_written_without_an_answer(small: Path) -> None:
    netgraph("review", small)
    assert not notes_of(small).exists()


def test_asking_needs_a_terminal_and_no_json(small: Path) -> None:
    run = netgraph("review", small, "--ask")
    assert (run.status, run.out) == (2, "")
    assert "terminal" in run.err
    assert netgraph("review", small, "--ask", "--json").status == 2
    assert not notes_of(small).exists()


def test_an_answer_is_noted_told_and_not_asked_again(
    small: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = asked(small)
    nth = before.index(("volts", "NODE7"))
    number = number_of(small, nth, "type a figure")
    run = answering(monkeypatch, small, *[""] * nth, number, "5", "q")
    assert run.status == 0, run.err
    assert "How many volts has NODE7" in run.out
    assert re.search(r"Answers that differ now: .*1 net", run.out)
    noted = parse_notes(notes_of(small).read_text(encoding="utf-8"))
    assert noted.net("NODE7").nominal_volts == 5.0
    assert noted.fingerprint
    assert ("volts", "NODE7") not in asked(small)
    plan = netgraph("inject", small, "NODE7", "--json").json()
    assert plan["max_volts"] is None or plan["max_volts"] <= 5.0


def test_slips_are_told_and_asked_again(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    nth = asked(small).index(("volts", "NODE7"))
    number = number_of(small, nth, "type a figure")
    slips = ("99", "x", "0", number, "much", "q")
    run = answering(monkeypatch, small, *[""] * nth, *slips)
    assert run.status == 0
    assert "'99' is none of 1 to" in run.out
    assert "'much' is no figure in volts" in run.out
    assert not notes_of(small).exists()


def test_enter_skips_each_question_once_and_the_end_of_input_stops(
    small: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    total = len(asked(small))
    run = answering(monkeypatch, small, *[""] * total)
    assert "No more questions." in run.out
    assert answering(monkeypatch, small).status == 0
    limited = answering(monkeypatch, small, "", words="--limit 1")
    assert limited.out.count("so far") == 1
    assert not notes_of(small).exists()


def test_what_nobody_knows_is_shown_by_notes_and_can_be_forgotten(
    small: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    nth = asked(small).index(("volts", "NODE7"))
    number = number_of(small, nth, "nothing known")
    run = answering(monkeypatch, small, *[""] * nth, number, "q")
    assert "No other answer differs" in run.out
    assert ("volts", "NODE7") not in asked(small)
    shown = netgraph("notes", "show", small, "--json").json()
    assert shown["asked"] == [{"about": "volts", "target": "NODE7"}]
    assert "not asked again" in netgraph("notes", "show", small).out
    assert netgraph("notes", "set", small, "--net", "NODE7", "--forget").status == 0
    assert ("volts", "NODE7") in asked(small)


def test_on_a_real_terminal(small: Path) -> None:
    """A pseudo-terminal on both sides, as a person has it."""
    master, slave = pty.openpty()
    env = {"PATH": os.defpath, "PYTHONPATH": str(ROOT), "TERM": "dumb", "COLUMNS": "80"}
    with subprocess.Popen(
        [sys.executable, "-m", "netgraph", "review", str(small), "--ask"],
        stdin=slave,
        stdout=slave,
        stderr=slave,
        env=env,
    ) as child:
        os.close(slave)
        shown = b""
        answers = [b"1\n", b"q\n"]
        while True:
            # Typed once the question stands there: what is typed ahead may be thrown away.
            if not select.select([master], [], [], 20)[0]:
                child.kill()
                pytest.fail(f"nothing more was said after {shown[-200:]!r}")
            try:
                piece = os.read(master, 65536)
            except OSError as error:
                if error.errno == errno.EIO:  # Linux says so when the other end is gone
                    break
                raise
            if not piece:
                break
            shown += piece
            prompt = shown.rstrip(b" ")
            if answers and prompt.endswith(b"q: stop >"):
                os.write(master, answers.pop(0))
            elif prompt.endswith((b">", b":")):  # "type a figure" was the first choice
                os.write(master, b"3.3\n")
        os.close(master)
        assert child.wait() == 0, shown
    assert b"Noted." in shown
    assert notes_of(small).exists()


def test_notes_show_and_check_tell_where_the_file_differs(small: Path) -> None:
    assert netgraph("notes", "set", small, "--part", "R9", "--fitted").status == 0
    assert netgraph("notes", "set", small, "--net", "+3V3", "--volts", "1.8").status == 0
    for word in ("show", "check"):
        run = netgraph("notes", word, small)
        assert run.status == 0, "the person wins"
        assert "differs" in run.out
        assert "3.3 V" in run.out
        answer = netgraph("notes", word, small, "--json").json()
        assert [(one["name"], one["key"]) for one in answer["conflicts"]] == [
            ("R9", "fitted"),
            ("+3V3", "nominal_volts"),
        ]
    rails = netgraph("rails", small, "--json").json()["rails"]
    assert {rail["net"]: rail["nominal_volts"] for rail in rails}["+3V3"] == 1.8
