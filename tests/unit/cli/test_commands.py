# SPDX-License-Identifier: GPL-3.0-or-later
"""The command line as people and scripts meet it: statuses, one-line errors, width, pipes."""

from __future__ import annotations

import csv
import errno
import io
import os
import pty
import re
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pytest

from netgraph.cli import session
from netgraph.cli.main import COMMANDS
from netgraph.cli.page import cells
from netgraph.formats import read_board
from tests.support import ROOT
from tests.unit.cli.run import netgraph, process
from tests.unit.cli.small_board import TURNED, small_board_text, write_small_board

HUMAN = [
    ("show", "FILE"),
    ("parts", "FILE"),
    ("pads", "FILE"),
    ("rails", "FILE"),
    ("rail", "FILE", "VSYS"),
    ("rail", "FILE", "SPI CLK, fast"),
    ("lift", "FILE", "--short", "VSYS"),
    ("lift", "FILE", "--short", "VSYS", "--all"),
    ("inject", "FILE", "VSYS"),
    ("inject", "FILE", "GND"),
    ("inject", "FILE", "VSYS", "--bridge", "VSYS", "RESET_N"),
    ("path", "FILE", "VSYS"),
    ("path", "FILE", "VSYS", "+3V3", "--all"),
    ("review", "FILE"),
    ("notes", "show", "FILE"),
    ("notes", "check", "FILE"),
]


@pytest.fixture
def small(tmp_path: Path) -> Path:
    return write_small_board(tmp_path)


def with_file(words: tuple[str, ...], file: Path) -> list[str]:
    return [str(file) if word == "FILE" else word for word in words]


# -- human answers -----------------------------------------------------------------------------


@pytest.mark.parametrize("words", HUMAN, ids=" ".join)
@pytest.mark.parametrize("columns", ["80", "40"])
def test_no_line_is_wider_than_the_page(
    words: tuple[str, ...], columns: str, small: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    run = netgraph(*with_file(words, small))
    assert run.status == 0, run.err
    assert run.out.strip()
    assert [line for line in run.out.splitlines() if cells(line) > int(columns)] == []


@pytest.mark.parametrize("words", HUMAN, ids=" ".join)
def test_piped_text_has_no_boxes_no_colours_and_no_control_characters(
    words: tuple[str, ...], small: Path
) -> None:
    out = netgraph(*with_file(words, small)).out
    assert not re.search(r"[\u2500-\u257f]", out)
    assert [char for char in set(out) if not char.isprintable() and char != "\n"] == []


def test_a_name_that_turns_the_writing_direction_is_shown_as_an_escape(small: Path) -> None:
    out = netgraph("pads", small).out
    assert TURNED not in out
    assert "EVIL\\u202eNET" in out


def test_every_pad_and_every_designator_is_whole_in_the_answer(small: Path) -> None:
    board = read_board(small)
    words = netgraph("parts", small).out.split()
    assert {part.id for part in board.parts} <= set(words)


def test_many_like_parts_stand_in_one_line(small: Path) -> None:
    out = netgraph("rail", small, "VSYS").out
    assert "6 capacitors: C1 C2 C3 C4 C5 C6" in out


def test_lift_shows_every_part_of_the_net_and_the_cautions(small: Path) -> None:
    out = netgraph("lift", small, "--short", "VSYS").out
    for name in ("U1", "FB1", "C1", "C6"):
        assert re.search(rf"\b{name}\b", out)
    assert "Cautions" in out
    assert "cell" in out.lower()


def test_inject_shows_ceiling_vetoes_and_cautions(small: Path) -> None:
    out = netgraph("inject", small, "+3V3").out
    for word in ("first step", "never over", "Stops everything until cleared", "Cautions"):
        assert word in out


def test_an_unfitted_part_is_told_apart(small: Path) -> None:
    assert re.search(r"not fitted\s+1 part: R9", netgraph("show", small).out)


# -- pads as CSV -------------------------------------------------------------------------------


def test_the_csv_says_the_same_as_the_json_with_exact_places(small: Path) -> None:
    run = netgraph("pads", "--csv", small)
    rows = list(csv.DictReader(io.StringIO(run.out)))
    pads = netgraph("pads", "--json", small).json()["pads"]
    assert len(rows) == len(pads) == 41
    for row, pad in zip(rows, pads, strict=True):
        assert list(row) == list(pad)
        for key in ("id", "ref", "pin", "side", "copper_side"):
            assert row[key] == pad[key]
        assert row["net"] == (pad["net"] or "")
        assert re.fullmatch(r"-?\d+\.\d{6}", row["x_mm"])
        assert Decimal(row["x_mm"]) == Decimal(repr(pad["x_mm"]))
        assert float(row["angle_deg"]) == pad["angle_deg"]


def test_the_csv_gives_nets_exactly_as_the_file_has_them(small: Path) -> None:
    """A net such as +3V3 must not be changed, though a spreadsheet may take it for a formula."""
    nets = {row["net"] for row in csv.DictReader(io.StringIO(netgraph("pads", "--csv", small).out))}
    assert {"+3V3", "SPI CLK, fast", TURNED} <= nets


def test_negative_places_keep_their_sign_below_a_millimetre() -> None:
    from netgraph.cli.board import _mm

    assert _mm(-1) == "-0.000001"
    assert _mm(-1_500_000) == "-1.500000"
    assert _mm(0) == "0.000000"


def test_pads_of_a_real_board_agree_with_an_independent_list(boards_dir: Path) -> None:
    """pico_ice_r2 (tinyvision-ai-inc/pico-ice, MIT); pads.csv there is made by KiCad 6.0.11."""
    folder = boards_dir / "pico_ice_r2"
    ours = csv.DictReader(io.StringIO(netgraph("pads", "--csv", folder / "board.kicad_pcb").out))
    with (folder / "pads.csv").open(encoding="utf-8", newline="") as file:
        theirs = list(csv.DictReader(file))
    key = ("ref", "pin", "net", "side")
    assert sorted(tuple(row[k] for k in key) for row in ours) == sorted(
        tuple(row[k] for k in key) for row in theirs
    )


# -- statuses and errors -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "status", "says"),
    [
        (("shwo", "FILE"), 2, "shwo"),
        (("show",), 2, "FILE"),
        (("show", "FILE", "--jsn"), 2, "--json"),
        (("show", "FILE", "--format", "nope"), 2, "kicad-board"),
        (("rail", "FILE", "VSYSS"), 2, "near names: VSYS"),
        (("lift", "FILE", "--short", "3V3"), 2, "+3V3"),
        (("lift", "FILE"), 2, "--short"),
        (("lift", "FILE", "--short", "VSYS", "--goal", "recover"), 2, "recover-data"),
        (("inject", "FILE", "vsys"), 2, "VSYS"),
        (("inject", "FILE", "VSYS", "--bridge", "VSYS", "NOPE"), 2, "NOPE"),
        (("path", "FILE", "VSYS", "GDN"), 2, "GND"),
        (("pads", "FILE", "--csv", "--json"), 2, "exclude"),
        (("schema", "shows"), 2, "show"),
        (("show", "missing.kicad_pcb"), 3, "no such file"),
        (("show", "FOLDER"), 3, "is a folder"),
        (("show", "BROKEN"), 3, "broken.kicad_pcb:"),
        (("rails", "FILE", "--notes", "missing.toml"), 3, "missing.toml"),
        (("notes", "set", "FILE"), 2, "--part"),
        (("notes", "set", "FILE", "--part", "U1"), 2, "nothing to write"),
        (("notes", "set", "FILE", "--net", "VSYS", "--role", "led"), 2, "--part"),
        (("notes", "set", "FILE", "--part", "U1", "--volts", "3"), 2, "--net"),
        (("notes", "set", "FILE", "--part", "U99", "--role", "led"), 2, "U99"),
        (("notes", "set", "FILE", "--net", "VSYS", "--fed-by", "U1,NOPE"), 2, "NOPE"),
        (("notes", "set", "FILE", "--part", "U1", "--role", "lamp"), 2, "lamp"),
        (("notes", "set", "FILE", "--net", "VSYS", "--volts", "inf"), 3, "no nominal"),
        (("notes", "set", "FILE", "--part", "U1", "--enabled-by", "U1"), 4, "by itself"),
        (("notes", "set", "FILE", "--part", "U1", "--enabled-by", "U99"), 2, "U99"),
        (("notes", "set", "FILE", "--part", "U1", "--needs-first", "NOPE"), 2, "NOPE"),
        (
            ("notes", "set", "FILE", "--part", "U1", "--enabled-by", "C1", "--always-enabled"),
            2,
            "contradict",
        ),
        (("notes", "set", "FILE", "--net", "VSYS", "--enabled-by", "U1"), 2, "--part"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else None,
)
def test_an_error_is_one_line_on_stderr_with_the_right_status(
    words: tuple[str, ...], status: int, says: str, small: Path
) -> None:
    broken = small.with_name("broken.kicad_pcb")
    broken.write_text(small_board_text()[:400], encoding="utf-8")
    places = {"FILE": small, "FOLDER": small.parent, "BROKEN": broken}
    run = netgraph(*[places.get(word, word) for word in words])
    assert run.status == status
    assert run.out == ""
    assert run.err.count("\n") == 1
    assert run.err.startswith("netgraph: ")
    assert says in run.err
    assert "Traceback" not in run.err
    assert not small.with_name("small.notes.toml").exists()


def test_a_fault_of_the_program_is_one_line_and_status_70(
    small: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise RuntimeError("boom\nagain")

    monkeypatch.setattr("netgraph.formats.read_boards", fail)
    run = netgraph("show", small)
    assert run.status == 70
    assert run.err.count("\n") == 1
    assert "please report" in run.err
    assert "boom\\nagain" in run.err
    shown = netgraph("show", small, "--debug")
    assert "Traceback" in shown.err
    assert netgraph("--debug", "show", small).err.count("Traceback") == 1


def test_an_interrupt_is_status_130(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupt(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("netgraph.formats.read_boards", interrupt)
    run = netgraph("show", small)
    assert run.status == 130
    assert "Traceback" not in run.err


def test_a_closed_pipe_is_no_fault(boards_dir: Path) -> None:
    """`netgraph pads --csv board | head -1` must print no word of complaint."""
    words = [sys.executable, "-m", "netgraph", "pads", "--csv"]
    words.append(str(boards_dir / "teres_main_c" / "board.kicad_pcb"))
    with subprocess.Popen(words, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as child:
        assert child.stdout is not None
        assert child.stderr is not None
        child.stdout.readline()
        child.stdout.close()
        assert child.stderr.read() == b""
        assert child.wait() == 0


# -- terminal ----------------------------------------------------------------------------------


def on_a_terminal(words: list[str], **environment: str) -> str:
    """What a terminal of 80 columns receives."""
    master, slave = pty.openpty()
    env = {
        "PATH": os.defpath,
        "PYTHONPATH": str(ROOT),
        "TERM": "xterm-256color",
        "COLUMNS": "80",
        **environment,
    }
    with subprocess.Popen(
        [sys.executable, "-m", "netgraph", *words],
        stdin=subprocess.DEVNULL,
        stdout=slave,
        stderr=subprocess.PIPE,
        env=env,
    ) as child:
        os.close(slave)
        pieces = []
        while True:
            try:
                piece = os.read(master, 65536)
            except OSError as error:
                if error.errno == errno.EIO:  # Linux says so when the other end is gone
                    break
                raise
            if not piece:
                break
            pieces.append(piece)
        os.close(master)
        assert child.wait() == 0, child.stderr.read() if child.stderr else ""
    return b"".join(pieces).decode("utf-8").replace("\r\n", "\n")


ESCAPES = re.compile(r"\x1b\[[0-9;]*m")


@pytest.mark.parametrize(
    "words",
    [("pads", "FILE"), ("lift", "FILE", "--short", "VSYS"), ("inject", "FILE", "VSYS")],
    ids=" ".join,
)
def test_a_terminal_gets_colours_within_its_width_and_the_same_words(
    words: tuple[str, ...], small: Path
) -> None:
    shown = on_a_terminal(with_file(words, small))
    assert ESCAPES.search(shown)
    plain = ESCAPES.sub("", shown)
    assert [line for line in plain.splitlines() if cells(line) > 80] == []
    piped = netgraph(*with_file(words, small)).out
    letters = re.compile(r"[^\s\u2500-\u257f]+")
    assert sorted(letters.findall(plain)) == sorted(letters.findall(piped))


def test_no_color_is_honoured(small: Path) -> None:
    shown = on_a_terminal(["pads", str(small)], NO_COLOR="1")
    assert not re.search(r"\x1b\[[0-9;]*(?:3[0-7]|9[0-7]|38)", shown)


def test_slow_work_is_told_on_a_terminal_only(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    import time

    monkeypatch.setattr(session, "PROGRESS_AFTER_S", 0.0)
    with session.progress("reading x"):
        time.sleep(0.05)
    assert capsys.readouterr().err == ""
    monkeypatch.setattr(session, "is_terminal", lambda stream: True)
    with session.progress("reading x"):
        time.sleep(0.05)
    assert "reading x ..." in capsys.readouterr().err


# -- start-up, help, completion ----------------------------------------------------------------


@pytest.mark.parametrize("command", ["show", "pads", "rails"])
def test_plain_answers_load_no_heavy_library(command: str, small: Path) -> None:
    code = (
        "import sys; from netgraph.cli.main import main; "
        f"main([{command!r}, {str(small)!r}]); "
        "print(*{m.split('.')[0] for m in sys.modules}, file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert not {"networkx", "pydantic", "rich", "kiutils"} & set(done.stderr.split())


def test_importing_the_package_loads_nothing_heavy() -> None:
    code = "import sys, netgraph; print(*{m.split('.')[0] for m in sys.modules})"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert not {"numpy", "networkx", "pydantic", "rich", "click"} & set(done.stdout.split())


@pytest.mark.parametrize("command", COMMANDS)
def test_help_begins_with_a_question_and_shows_an_example(
    command: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    out = netgraph(command, "--help").out
    text = " ".join(out.split("Usage:")[1].split("\n\n")[1].split())
    assert text.endswith("?"), text
    assert "Example" in out
    assert f"netgraph {command}" in out
    assert max(map(len, out.splitlines())) <= 80


def test_version_and_bare_call() -> None:
    from netgraph import __version__

    assert netgraph("--version").out == f"netgraph {__version__}\n"
    bare = netgraph()
    assert bare.status == 0
    for command in COMMANDS:
        assert command in bare.out


def test_net_names_complete_from_the_file(small: Path) -> None:
    """By click's own protocol for bash; docs/reference/commands.md says how to switch it on."""
    done = process(
        [],
        _NETGRAPH_COMPLETE="bash_complete",
        COMP_WORDS=f"netgraph rail {small} VS",
        COMP_CWORD="3",
    )
    assert "plain,VSYS" in done.stdout


# -- notes -------------------------------------------------------------------------------------


def test_notes_are_set_shown_used_and_forgotten(small: Path) -> None:
    place = small.with_name("small.notes.toml")
    run = netgraph("notes", "set", small, "--part", "C1", "--not-fitted", "--why", "lifted")
    assert run.status == 0
    assert place.name in run.err
    set_net = ["--net", "VSYS", "--kind", "rail", "--volts", "5", "--fed-by", "FB1,VBUS_5V"]
    assert netgraph("notes", "set", small, *set_net, "--always-on").status == 0
    noted = netgraph("notes", "show", small, "--json").json()
    assert noted["fits"] is True
    assert noted["parts"] == [
        {
            "ref": "C1",
            "role": None,
            "fitted": False,
            "keep": None,
            "why": "lifted",
            "enabled_by": None,
            "needs_first": [],
        }
    ]
    assert noted["nets"][0]["feeders"] == [{"ref": "FB1", "from_net": "VBUS_5V"}]
    used = netgraph("lift", small, "--short", "VSYS", "--json")
    assert place.name in used.err, "it must be said that notes are used"
    assert used.json()["notes"] == place.name
    assert "C1" not in {part["ref"] for part in used.json()["parts"]}
    assert netgraph("notes", "check", small).status == 0
    assert netgraph("notes", "set", small, "--part", "C1", "--forget").status == 0
    again = netgraph("lift", small, "--short", "VSYS", "--json").json()
    assert "C1" in {part["ref"] for part in again["parts"]}


def test_a_person_wins_over_what_is_inferred(small: Path) -> None:
    netgraph("notes", "set", small, "--part", "U1", "--role", "storage")
    parts = netgraph("parts", small, "--json").json()["parts"]
    (u1,) = [part for part in parts if part["id"] == "U1"]
    assert (u1["role"], u1["source"]) == ("storage", "user")
    rows = netgraph("lift", small, "--short", "VSYS", "--json").json()["parts"]
    assert {row["ref"]: row["verdict"] for row in rows}["U1"] == "keep"


def test_notes_that_do_not_fit_stop_every_answer_and_check_says_no(small: Path) -> None:
    place = small.with_name("small.notes.toml")
    place.write_text('[parts.U99]\nrole = "led"\n', encoding="utf-8")
    for command in ("show", "parts", "rails"):
        run = netgraph(command, small)
        assert run.status == 3
        assert "U99" in run.err
    check = netgraph("notes", "check", small)
    assert check.status == 1
    assert "U99" in check.out


def test_notes_of_another_netlist_are_refused_until_adopted(small: Path) -> None:
    place = small.with_name("small.notes.toml")
    place.write_text(f'fingerprint = "{"0" * 64}"\n', encoding="utf-8")
    assert netgraph("rails", small).status == 3
    assert netgraph("notes", "set", small, "--part", "C1", "--why", "x").status == 3
    assert netgraph("notes", "set", small, "--adopt").status == 0
    assert netgraph("rails", small).status == 0


def test_hand_written_comments_are_kept_aside(small: Path) -> None:
    place = small.with_name("small.notes.toml")
    by_hand = '# seen under the microscope\n[parts.U1]\nrole = "regulator"\n'
    place.write_text(by_hand, encoding="utf-8")
    run = netgraph("notes", "set", small, "--part", "C1", "--not-fitted")
    assert run.status == 0
    aside = place.with_name(place.name + ".bak")
    assert aside.read_text(encoding="utf-8") == by_hand
    assert aside.name in run.err
    assert 'role = "regulator"' in place.read_text(encoding="utf-8")


def test_the_board_file_is_never_changed(small: Path) -> None:
    before = small.read_bytes()
    for words in HUMAN:
        netgraph(*with_file(words, small))
    netgraph("notes", "set", small, "--part", "C1", "--not-fitted")
    assert small.read_bytes() == before
