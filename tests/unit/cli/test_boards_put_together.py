# SPDX-License-Identifier: GPL-3.0-or-later
"""Files and boards put together: what is known in part stays so, whatever comes first; what names
and connectors say against each other is told, and never gives a higher ceiling.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from netgraph.formats import read_board
from netgraph.model.compare import compare_boards
from netgraph.roles.notes import BoardNotes, NetNote
from netgraph.roles.notes_check import fitting_notes
from tests.unit.cli.run import netgraph
from tests.unit.cli.small_board import write_small_board

TRACED = "# netgraph trace 1\nJ1.1 C1.1 U1.1 : VDD_3V3\nJ1.2 C1.2 U1.2 : GND\nC1 = 10uF 0603\n"


def write(folder: Path, **files: str) -> dict[str, Path]:
    found = {}
    for name, text in files.items():
        stem, _, ending = name.rpartition("_")
        found[stem] = folder / f"{stem}.{ending}"
        found[stem].write_text(text)
    return found


def codes(answer: Any) -> list[str]:
    return [one["code"] for one in answer["not_known"]]


@pytest.mark.parametrize(
    "table",
    [
        "Ref,X,Y,Side\nC1,1,2,top\nU1,3,4,top\nJ1,5,6,top\n",
        "Ref,Pin,Pin name\nU1,1,VDD\nU1,2,GND\n",
        "Ref,Pin,Net\nU1,1,VDD_3V3\nU1,2,GND\n",
        "Ref,Value\nC1,10uF\n",
    ],
)
def test_a_traced_board_stays_known_in_part_in_any_order(table: str, tmp_path: Path) -> None:
    """With the table first the ceiling was 3.3 V, as if the whole board were known."""
    files = write(tmp_path, t_trace=TRACED, table_csv=table)
    for first, second in (("t", "table"), ("table", "t")):
        words = (files[first], "VDD_3V3", "--with", files[second])
        told = netgraph("inject", *words, "--json").json()
        assert (told["verdict"], told["max_volts"], told["partial"]) == ("unsure", None, True)
        assert "untraced" in codes(told)


def test_a_netlist_that_knows_all_that_was_traced_makes_it_whole(tmp_path: Path) -> None:
    rows = ["J1,1,VDD_3V3", "C1,1,VDD_3V3", "U1,1,VDD_3V3", "R1,1,VDD_3V3", "R1,2,GND"]
    rows += ["J1,2,GND", "C1,2,GND", "U1,2,GND"]
    files = write(tmp_path, t_trace=TRACED, net_csv="\n".join(["Ref,Pin,Net", *rows]))
    for first, second in (("t", "net"), ("net", "t")):
        told = netgraph("show", files[first], "--with", files[second], "--json").json()
        assert told["partial"] is False
        assert "untraced" not in codes(told)


def test_a_template_stays_one_under_a_table_of_values(tmp_path: Path) -> None:
    """It was said that C1, C2 and the radio may come off, and up to 3.7 V on VBAT."""
    files = write(tmp_path, v_csv="Ref,Value\nC1,10uF\nC2,10uF\nU3,CPU\n")
    template = tmp_path / "phone.trace"
    netgraph("template", "phone", "-o", template)
    words = (files["v"], "--with", template, "--json")
    told = netgraph("inject", words[0], "VBAT", *words[1:]).json()
    assert (told["verdict"], told["max_volts"]) == ("unsure", None)
    assert {"template", "assumed-pads", "untraced"} <= set(codes(told))
    lifts = netgraph("lift", words[0], "--short", "VSYS", *words[1:]).json()["parts"]
    assert {one["verdict"] for one in lifts} == {"unsure"}


def two_boards(folder: Path, first: str) -> Path:
    """Two whole boards by one connector; the nets on it say 5 V and 3.3 V."""
    write(
        folder,
        v5_csv="Ref,Pin,Net\nJ3,1,VDD_5V\nC1,1,VDD_5V\nJ3,2,GND\nC1,2,GND\n",
        v3_csv="Ref,Pin,Net\nJ1,1,VDD_3V3\nC1,1,VDD_3V3\nJ1,2,GND\nC1,2,GND\n",
    )
    boards = ['A = "v5.csv"', 'B = "v3.csv"']
    file = folder / f"{first}.assembly.toml"
    lines = boards if first == "a" else boards[::-1]
    mate = '[[mates]]\na = "A/J3"\nb = "B/J1"\n'
    text = "\n".join(['schema = "netgraph.assembly/1"', "[boards]", *lines, mate])
    file.write_text(text)
    return file


def test_the_lower_volts_of_all_names_of_a_net_are_the_limit(tmp_path: Path) -> None:
    """In one order of the boards the ceiling was 5 V."""
    for first in ("a", "b"):
        file = two_boards(tmp_path, first)
        told = netgraph("inject", file, "B/VDD_3V3", "--json").json()
        assert told["max_volts"] is None or told["max_volts"] <= 3.3
        assert "names-volts-differ" in codes(told)
        saved = tmp_path / f"{first}.json"
        netgraph("convert", file, "-o", saved)
        again = netgraph("inject", saved, "A/VDD_5V", "--json").json()
        assert (again["max_volts"], codes(again)) == (told["max_volts"], codes(told))


def test_names_of_two_files_limit_each_other_too(tmp_path: Path) -> None:
    two_boards(tmp_path, "a")
    second = (tmp_path / "v5.csv").read_text().replace("VDD_5V", "VDD_3V3")
    (tmp_path / "n3.csv").write_text(second)
    words = ("inject", tmp_path / "v5.csv", "VDD_3V3", "--with", tmp_path / "n3.csv")
    told = netgraph(*words, "--json").json()
    assert told["net"] == "VDD_5V"
    assert told["max_volts"] is None or told["max_volts"] <= 3.3
    assert "names-volts-differ" in codes(told)


def test_an_unplugged_board_is_fed_and_predicted_against_its_own_ground(tmp_path: Path) -> None:
    """The ground clip was sent to the other board, and a leak of 5 ohm read megohms."""
    small = write_small_board(tmp_path)
    file = tmp_path / "d.toml"
    file.write_text(
        f'schema = "netgraph.assembly/1"\n[boards]\nA = "{small.name}"\nB = "{small.name}"\n'
    )
    for label in ("A", "B"):
        points = netgraph("inject", file, f"{label}/VSYS", "--json").json()["points"]
        grounds = {one["ground"] for one in points if one["ground"]}
        assert grounds
        assert all(one.startswith(f"{label}/") for one in grounds)
        words = ("--fault", f"leak {label}/VSYS {label}/GND 5R", "--at", f"{label}/VSYS")
        told = netgraph("predict", file, *words, "--json").json()
        alone = netgraph("predict", small, "--fault", "leak VSYS GND 5R", "--at", "VSYS", "--json")
        values = [
            [one["fault"]["value"] for one in answer["readings"] if one["kind"] == "ohms"]
            for answer in (told, alone.json())
        ]
        assert values[0] == pytest.approx(values[1])
        assert values[0][0] < 6


def test_notes_of_a_device_stay_in_force_with_a_board_unplugged(tmp_path: Path) -> None:
    file = two_boards(tmp_path, "a")
    note = netgraph("notes", "set", file, "--net", "A/VDD_5V", "--volts", "3.3", "--why", "seen")
    assert note.status == 0
    ran = netgraph("inject", file, "B/VDD_3V3", "--unplug", "A/J3", "--json")
    assert ran.status == 0, ran.err
    more = ("--net", "B/VDD_3V3", "--volts", "3.3", "--unplug", "A/J3")
    assert netgraph("notes", "set", file, *more).status == 0
    assert netgraph("rails", file).status == 0


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('pin = "reversed"', "mates[0] has the key 'pin'"),
        ("unpluged = true", "mates[0] has the key 'unpluged'"),
    ],
)
def test_a_mistyped_key_of_an_assembly_is_refused(line: str, told: str, tmp_path: Path) -> None:
    file = two_boards(tmp_path, "a")
    file.write_text(file.read_text() + line + "\n")
    ran = netgraph("show", file)
    assert told in ran.err
    assert ran.status != 0
    file.write_text(file.read_text().replace("[[mates]]", "[mate]"))
    assert "has the key 'mate'" in netgraph("show", file).err


def test_reversed_pins_need_a_board_that_knows_the_last_one(tmp_path: Path) -> None:
    """The last pin traced so far was taken for the last one there is."""
    write(
        tmp_path,
        a_trace="# netgraph trace 1\nJ3.1 C1.1 : VSYS\nJ3.2 C1.2 : GND\n",
        b_trace="# netgraph trace 1\nJ1.1 U1.1 : SDA\nJ1.2 U1.2 : BL\n",
        w_csv="Ref,Pin,Net\n" + "".join(f"J1,{i},N{i}\nR{i},1,N{i}\n" for i in range(1, 11)),
    )
    file = tmp_path / "d.toml"
    text = (
        'schema = "netgraph.assembly/1"\n[boards]\nA = "a.trace"\nB = "{}"\n'
        '[[mates]]\na = "A/J3"\nb = "B/J1"\npins = "reversed"\n'
    )
    file.write_text(text.format("b.trace"))
    ran = netgraph("show", file)
    assert "which pin is the last is not known" in ran.err
    file.write_text(text.format("w.csv"))
    board = read_board(file)
    assert board.known_as("B/N10") == "A/VSYS"


def test_a_part_of_an_assembly_is_met_by_its_whole_name_in_a_table(tmp_path: Path) -> None:
    file = two_boards(tmp_path, "a")
    table = tmp_path / "values.csv"
    table.write_text("Ref,Value\nB/C1,22uF\n")
    told = netgraph("merge", file, "--with", table, "--json").json()
    assert told["disagreements"] == []
    saved = tmp_path / "all.csv"
    netgraph("convert", file, "-o", saved)
    compared = netgraph("compare", file, saved, "--json").json()
    assert (compared["same"], compared["pads_only_a"], compared["pads_only_b"]) == (True, 0, 0)


def test_a_part_that_lies_elsewhere_is_compared_and_named(tmp_path: Path) -> None:
    """It was called missing on both sides, and its changed net was not found."""
    rows = "Ref,Pin,Net,X,Y\n" + "".join(f"R{i},1,A,{i},0\nR{i},2,B,{i},1\n" for i in range(1, 12))
    moved = rows.replace("R5,1,A,5,0\nR5,2,B,5,1", "R5,1,B,65,0\nR5,2,B,65,1")
    files = write(tmp_path, one_csv=rows, two_csv=moved)
    ran = netgraph("compare", files["one"], files["two"], "--json")
    told = json.loads(ran.out)
    assert (told["same"], told["moved"], told["pads_only_a"]) == (False, ["R5"], 0)
    assert told["worst_mm"] == 0
    listed = netgraph("merge", files["one"], "--with", files["two"], "--json").json()
    assert {(one["about"], one["name"]) for one in listed["disagreements"]} == {
        ("net", "R5.1"),
        ("place", "R5"),
    }


def test_the_pins_of_one_chip_contradict_nothing(tmp_path: Path) -> None:
    nets = {"1": "VSYS", "2": "GND", "3": "SDA", "4": "SCL"}
    rows = [f"U1,{pin},{net}\nR{pin},1,{net}" for pin, net in nets.items()]
    chip = [f"U1,{pin},{net}" for pin, net in nets.items()]
    files = write(
        tmp_path,
        net_csv="\n".join(["Ref,Pin,Net", *rows]),
        chip_csv="\n".join(["Ref,Pin,Net", *chip]),
    )
    for pair in (("net", "chip"), ("chip", "net")):
        boards = [read_board(files[one]) for one in pair]
        assert compare_boards(*boards).differ == ()
    told = netgraph("merge", files["net"], "--with", files["chip"], "--json").json()
    assert told["disagreements"] == []


def test_apart_is_not_taken_for_joins_nothing(tmp_path: Path) -> None:
    """Pads found apart were taken off the rail that the netlist has them on."""
    files = write(
        tmp_path,
        t_trace="# netgraph trace 1\nC1.1 U1.1 apart\nC1.2 U1.2 : GND\nL1.1 nc\n",
        net_csv="Ref,Pin,Net\nC1,1,VSYS\nU1,1,VIN\nC1,2,GND\nU1,2,GND\nL1,1,GND\nL1,2,VSYS\nR1,1,VIN\n",
    )
    for first, second in (("t", "net"), ("net", "t")):
        told = netgraph("merge", files[first], "--with", files[second], "--json").json()
        # That L1.1 joins nothing was measured, and is a contradiction.
        assert [one["name"] for one in told["disagreements"] if one["about"] == "net"] == ["L1.1"]
        saved = tmp_path / f"{first}.json"
        netgraph("merge", files[first], "--with", files[second], "-o", saved)
        board = read_board(saved)
        assert {
            (pad.ref, pad.net) for pad in board.pads if pad.pin == "1" and pad.ref in ("C1", "U1")
        } == {
            ("C1", "VSYS"),
            ("U1", "VIN"),
        }


def mated(folder: Path, a: str, b: str) -> Path:
    """Two traces as the boards A and B, mated at J1."""
    place = folder / "d.assembly.toml"
    place.write_text(
        f'schema = "netgraph.assembly/1"\n[boards]\nA = "{a}.trace"\nB = "{b}.trace"\n'
        '[[mates]]\na = "A/J1"\nb = "B/J1"\n'
    )
    return place


APART = TRACED + "C1.1 U9.1 apart\n"
JOINED = ["J1,1,VDD_3V3", "C1,1,VDD_3V3", "U1,1,VDD_3V3", "U9,1,VDD_3V3", "U9,2,GND"]
JOINED += ["J1,2,GND", "C1,2,GND", "U1,2,GND"]


@pytest.mark.parametrize("ending", ["trace", "json", "graphml"])
def test_pads_found_apart_are_held_against_a_netlist_that_joins_them(
    ending: str, tmp_path: Path
) -> None:
    """An open track is what a bench looks for; the netlist alone would give the rail 3.3 V."""
    files = write(tmp_path, t_trace=APART, net_csv="\n".join(["Ref,Pin,Net", *JOINED]))
    if ending != "trace":
        kept = tmp_path / f"kept.{ending}"
        assert netgraph("convert", files["t"], "-o", kept).status == 0
        assert read_board(kept).apart == ((("C1", "1"), ("U9", "1")),)
        files["t"] = kept
    for first, second in (("t", "net"), ("net", "t")):
        words = (files[first], "--with", files[second], "--json")
        told = netgraph("inject", files[first], "VDD_3V3", *words[1:]).json()
        assert "apart-but-joined" in codes(told)
        assert (told["verdict"], told["max_volts"]) == ("unsure", None)
        rows = netgraph("merge", *words).json()["disagreements"]
        (row,) = [one for one in rows if "found apart" in (one["first"], one["second"])]
        assert row["name"] == "C1.1 U9.1"
        lift = netgraph("lift", files[first], "--short", "VDD_3V3", *words[1:]).json()
        # A third file that says nothing of it doesn't disagree.
        third = write(tmp_path, v_csv="Ref,Value\nC1,10uF\n")["v"]
        told = netgraph("merge", *words, "--with", third).json()
        assert [one["file"] for one in told["disagreements"] if "apart" in str(one)] == [
            files[second].name
        ]
        assert all(one["verdict"] != "lift" for one in lift["parts"])


def test_pads_found_apart_in_an_assembly_are_its_parts(tmp_path: Path) -> None:
    write(tmp_path, t_trace=APART, u_trace="J1.1 R1.1 : VX\n")
    place = mated(tmp_path, "t", "u")
    assert read_board(place).apart == ((("A/C1", "1"), ("A/U9", "1")),)


def test_files_of_two_boards_are_asked_about(tmp_path: Path) -> None:
    """Real pairs of one board are never doubted: tests/oracle/test_two_doors.py."""
    rows = [f"U1,{i},N{i}" for i in range(8)] + [f"U2,{i},N{i}" for i in range(8)]
    other = [f"U1,{i},N{i // 2}" for i in range(8)] + [f"U2,{i},N{(i + 3) % 8}" for i in range(8)]
    third = [row.replace("U", "IC") for row in rows]
    files = write(
        tmp_path,
        **{
            f"{name}_csv": "\n".join(["Ref,Pin,Net", *lines])
            for name, lines in (("one", rows), ("two", other), ("three", third))
        },
    )
    for name, code in (("two", "files-of-two-boards"), ("three", "files-share-nothing")):
        told = netgraph("show", files["one"], "--with", files[name], "--json").json()
        assert code in codes(told)
        assert name in netgraph("merge", files["one"], "--with", files[name]).out
    same = netgraph("show", files["one"], "--with", files["one"], "--json").json()
    assert not {"files-of-two-boards", "files-share-nothing"} & set(codes(same))


def test_a_net_of_one_board_alone_is_found_by_its_own_name(tmp_path: Path) -> None:
    write(
        tmp_path,
        a_trace="J1.1 C1.1 : LCD_VCC\nJ1.2 C1.2 : GND\nC9.1 R9.1 : VX\n",
        b_trace="J1.1 U1.1 : PANEL_VCC\nJ1.2 U1.2 : GND\nC9.1 R9.1 : VX\n",
    )
    place = mated(tmp_path, "a", "b")
    for name in ("LCD_VCC", "PANEL_VCC"):
        told = netgraph("lift", place, "--short", name, "--json").json()
        assert told["net"] == read_board(place).known_as("A/LCD_VCC")
    board = read_board(place)
    noted = fitting_notes(board, BoardNotes(nets={"LCD_VCC": NetNote(kind="rail")}), "")
    assert list(noted.nets) == [board.known_as("LCD_VCC")], "and so it is in notes"
    refused = netgraph("lift", place, "--short", "VX")
    assert refused.status == 2
    assert "A/VX" in refused.err
    assert "B/VX" in refused.err


WHOLE = [
    "J1,1,VIN_5V",
    "C1,1,VIN_5V",
    "U1,1,VIN_5V",
    "C3,1,VDD_3V3",
    "U1,3,VDD_3V3",
    "C4,1,VDD_3V3",
]
WHOLE += ["J1,2,GND", "C1,2,GND", "U1,2,GND", "C3,2,GND", "C4,2,GND"]


@pytest.mark.parametrize(
    ("lines", "code", "net"),
    [
        ("C1.1 U1.1 : VIN_5V\nC3.1 U1.3 : VDD_3V3\nC1.1 C3.1\n", "joined-but-apart", "VIN_5V"),
        ("C1.1 U1.1 : VIN_5V\nC4.1 nc\n", "alone-but-joined", "VDD_3V3"),
    ],
)
def test_what_was_found_by_hand_is_held_against_a_netlist(
    lines: str, code: str, net: str, tmp_path: Path
) -> None:
    """With the netlist first a ceiling of 5 V was given on rails that were measured as joined."""
    text = "# netgraph trace 1\n" + lines
    files = write(tmp_path, t_trace=text, net_csv="\n".join(["Ref,Pin,Net", *WHOLE]))
    for first, second in (("t", "net"), ("net", "t")):
        told = netgraph("inject", files[first], net, "--with", files[second], "--json").json()
        assert (told["verdict"], told["max_volts"]) == ("unsure", None), first
        assert code in codes(told)
        assert "are one net here" not in json.dumps(told), "the netlist keeps them apart"
        words = ("--short", net, "--with", files[second], "--json")
        lift = netgraph("lift", files[first], *words).json()
        assert {one["verdict"] for one in lift["parts"]} <= {"keep", "unsure"}


def test_pads_found_apart_are_held_against_the_boards_of_an_assembly(tmp_path: Path) -> None:
    """The far board joins what was measured as apart: a fault of its own, or a slip."""
    write(
        tmp_path,
        a_trace="J1.1 C1.1 : VA\nJ1.2 C2.1 : VB\nJ1.1 J1.2 apart\n",
        b_trace="J1.1 J1.2 R1.1 : VX\n",
    )
    place = mated(tmp_path, "a", "b")
    board = read_board(place)
    assert "apart-but-joined" in [one.code for one in board.not_known]
    assert board.unclear_nets == {"A/VA"}


def test_values_written_otherwise_are_the_same(tmp_path: Path) -> None:
    """SI prefixes, IEC 60062 letters as decimal marks, a rating that only one file tells."""
    pairs = {"C1": ("10uF", "10u"), "C2": ("100nF", "0.1uF"), "C3": ("1uF", "1u/16V")}
    pairs |= {"R1": ("10k", "10 kOhm"), "R2": ("4k7", "4.7k"), "L1": ("2.2uH", "2u2H")}
    files = write(
        tmp_path,
        **{
            f"{name}_csv": "Ref,Value\n" + "".join(f"{r},{v[i]}\n" for r, v in pairs.items())
            for i, name in enumerate(("one", "two"))
        },
        mpn_csv="Ref,Value\n" + "".join(f"{r},PN-{i}00X\n" for i, r in enumerate(pairs)),
        small_csv="Ref,Value\n" + "".join(f"{r.lower()},1u\n" for r in pairs),
    )
    merged = netgraph("merge", files["one"], "--with", files["two"], "--json").json()
    assert merged["disagreements"] == []
    told = netgraph("show", files["one"], "--with", files["mpn"], "--json").json()
    assert "files-of-two-boards" not in codes(told)
    told = netgraph("show", files["one"], "--with", files["small"], "--json").json()
    assert "files-differ-in-case" in codes(told)


def test_two_traces_may_each_find_what_the_other_did_not(tmp_path: Path) -> None:
    """Two nets of a trace are not two for sure: nobody has tried yet."""
    files = write(
        tmp_path,
        a_trace="# netgraph trace 1\nC1.1 C2.1 : VSYS\nR1.1 R2.1 : VX\n",
        b_trace="# netgraph trace 1\nC1.1 R1.1\n",
    )
    for first, second in (("a", "b"), ("b", "a")):
        told = netgraph("show", files[first], "--with", files[second], "--json").json()
        assert "joined-but-apart" not in codes(told)
