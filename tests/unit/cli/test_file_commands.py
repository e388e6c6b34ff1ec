# SPDX-License-Identifier: GPL-3.0-or-later
"""merge, compare and convert at the command line: nothing is lost, and what is odd is said."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import pytest

from netgraph.formats import read_board
from netgraph.formats.csv_table import read_csv_table
from netgraph.formats.writing import WRITERS, writer_for
from tests.unit.cli.run import netgraph

TABLE = (
    "Ref,Pin,Net,Value,Package,DNP\n"
    "C1,1,VDD,1u,0402,\nC1,2,GND,1u,0402,\nR1,1,VDD,1k,0402,dnp\nR1,2,GND,1k,0402,dnp\n"
)


def table(folder: Path, name: str = "board.csv", text: str = TABLE) -> Path:
    path = folder / name
    path.parent.mkdir(exist_ok=True)
    path.write_text(text)
    return path


@pytest.mark.parametrize("command", ["convert", "merge"])
@pytest.mark.parametrize("name", ["board.csv", "more.csv", "link.csv"])
def test_a_file_that_is_read_is_never_written(tmp_path: Path, command: str, name: str) -> None:
    file, more = table(tmp_path), table(tmp_path, "more.csv")
    (tmp_path / "link.csv").symlink_to(file)
    answer = netgraph(command, file, "--with", more, "-o", tmp_path / name)
    assert (answer.status, "is read for this answer" in answer.err) == (2, True)
    assert file.read_text() == more.read_text() == TABLE


def test_another_file_that_stands_there_is_kept_beside_it(tmp_path: Path) -> None:
    file, out = table(tmp_path), tmp_path / "out.csv"
    for number, text in enumerate(("precious", "more precious")):
        out.write_text(text)
        answer = netgraph("convert", file, "-o", out)
        kept = tmp_path / ("out.csv~" if number == 0 else "out.csv~2")
        assert f"kept as {kept.name}" in answer.err
        assert kept.read_text() == text
    # the same answer once more loses nothing, so nothing is kept
    assert "kept" not in netgraph("convert", file, "-o", out).err
    assert len(list(tmp_path.iterdir())) == 4


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    file = table(tmp_path)
    answer = netgraph("convert", file, "-o", tmp_path / "nodir" / "out.json")
    assert f"there is no folder {tmp_path / 'nodir'}" in answer.err
    assert "is a folder" in netgraph("convert", file, "-o", tmp_path, "--to", "csv").err


def test_files_of_one_name_are_told_apart_by_their_folders(tmp_path: Path) -> None:
    old = table(tmp_path, "old/board.csv")
    new = table(tmp_path, "new/board.csv", TABLE.replace("R1,1,VDD", "R1,1,GND"))
    page = netgraph("compare", old, new)
    assert page.status == 1
    assert "old/board.csv" in page.out.splitlines()[0]
    told = json.loads(netgraph("compare", old, new, "--json").out)
    assert (told["file_a"], told["file_b"]) == ("old/board.csv", "new/board.csv")
    assert [one["pads"] for one in told["differ"]] == [["R1.1"]]


def test_what_a_trace_leaves_open_and_pads_of_one_file_are_said_by_compare(tmp_path: Path) -> None:
    trace = tmp_path / "mine.trace"
    trace.write_text("# netgraph trace 1\nC1.1 R1.1 : VDD\n")
    told = netgraph("compare", table(tmp_path), trace, "--json").json()
    assert (told["partial_a"], told["partial_b"], told["same"]) == (False, True, True)
    assert "untraced" in [one["code"] for one in told["not_known_b"]]
    page = netgraph("compare", table(tmp_path), trace).out
    assert "the same nets on the pads of both" in page
    assert "pads: 2 only in board.csv" in page
    assert "only what was traced is known" in page


def test_every_answer_of_several_files_says_how_many_things_they_differ_in(tmp_path: Path) -> None:
    other = table(tmp_path, "other.csv", TABLE.replace("1u", "2u").replace("1k", "2k"))
    told = netgraph("rails", table(tmp_path), "--with", other, "--json").json()
    (why,) = [one for one in told["not_known"] if one["code"] == "files-disagree"]
    assert why["params"] == {"count": 2, "file": "other.csv"}
    for words in (("pads", "--csv"), ("convert", "--to", "csv")):
        answer = netgraph(*words, table(tmp_path), "--with", other)
        assert "the files differ in 2 things" in answer.err
    merged = netgraph("merge", table(tmp_path), "--with", other, "--with", other, "--json").json()
    assert [one["file"] for one in merged["disagreements"]] == ["other.csv"] * 4


@pytest.mark.parametrize(
    ("writer", "least"),
    [
        ("csv", {"pad-size": 1, "net-class": 1}),
        ("kicad-netlist", {"side": 1, "places": 1}),
        ("ipc-d356", {"value": 1, "package": 1, "not-fitted-mark": 1}),
        ("graphml", {"drawn-copper": 1}),
    ],
)
def test_what_a_format_cannot_hold_is_counted(
    boards_dir: Path, tmp_path: Path, writer: str, least: dict[str, int]
) -> None:
    """Counted again by reading the written file back, where the format is read at all."""
    board = read_board(boards_dir / "teres_main_c" / "board.kicad_pcb")
    out = tmp_path / f"out{writer_for('', writer).suffix}"
    told = netgraph("convert", boards_dir / "teres_main_c" / "board.kicad_pcb", "-o", out,
                    "--to", writer, "--json").json()["left_out"]  # fmt: skip
    assert all(told.get(kind, 0) >= count for kind, count in least.items())
    if writer == "ipc-d356":
        again = read_board(out)
        assert told["not-fitted-mark"] == sum(not part.fitted for part in board.parts)
        assert all(part.fitted and not part.footprint for part in again.parts)


def test_a_part_without_a_designator_is_counted_as_lost_in_a_table(boards_dir: Path) -> None:
    board = read_board(boards_dir / "teres_main_c" / "board.kicad_pcb")
    dropped: Counter[str] = Counter()
    (writer,) = [one for one in WRITERS if one.name == "csv"]
    again = read_csv_table(writer.write(board, dropped).encode())
    assert len(board.parts) - len(again.parts) == dropped["part-without-designator"] == 1
