# SPDX-License-Identifier: GPL-3.0-or-later
"""Board notes: what is written is read back, what is wrong is told with its line.

Outside measure: Python's own `tomllib` (TOML 1.0) reads what `format_notes` writes.
"""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netgraph.errors import NotesError
from netgraph.model import Board, BoardBuilder
from netgraph.roles.answer import NET_KINDS, ROLES
from netgraph.roles.notes import (
    KEEP_WORDS,
    NOTES_SCHEMA,
    TOPICS,
    BoardNotes,
    FeederNote,
    NetNote,
    PartNote,
    format_notes,
    notes_file_name,
    parse_notes,
)
from netgraph.roles.notes_check import check_notes
from netgraph.roles.notes_order import find_contradiction


def a_board() -> Board:
    """U1 makes 3V3 from VIN; C1 hangs on it."""
    builder = BoardBuilder("notes")
    u1, c1 = builder.add_part("U1"), builder.add_part("C1")
    for part, pin, net in [(u1, "1", "VIN"), (u1, "2", "3V3"), (u1, "3", "GND")]:
        builder.add_pad(part, pin, net)
    builder.add_pad(c1, "1", "3V3")
    builder.add_pad(c1, "2", "GND")
    return builder.freeze()


# All of Unicode that TOML can hold: no lone surrogates.
texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
names = texts.filter(bool)
volts = st.floats(-1000, 1000).filter(lambda one: one != 0)
part_notes = st.builds(
    PartNote,
    st.none() | st.sampled_from(ROLES),
    st.none() | st.booleans(),
    st.none() | st.sampled_from(KEEP_WORDS),
    texts,
    st.none() | st.lists(names, unique=True, max_size=3).map(tuple),
    st.lists(names, unique=True, max_size=3).map(tuple),
).filter(lambda note: note != PartNote())
feeders = st.none() | st.lists(st.builds(FeederNote, names, st.none() | names)).map(tuple)
net_notes = st.builds(
    NetNote,
    st.none() | st.sampled_from(NET_KINDS),
    st.none() | volts,
    feeders,
    st.none() | st.booleans(),
    texts,
).filter(lambda note: note != NetNote())
all_notes = st.builds(
    BoardNotes,
    st.dictionaries(names, part_notes, max_size=4),
    st.dictionaries(names, net_notes, max_size=4),
    st.sampled_from(["", "0123456789abcdef" * 4]),
    st.frozensets(st.tuples(st.sampled_from(TOPICS), names), max_size=4),
).filter(lambda notes: find_contradiction(notes.parts, notes.nets) is None)


@given(all_notes)
def test_what_is_written_is_read_back(notes: BoardNotes) -> None:
    assert parse_notes(format_notes(notes)) == notes


@given(all_notes)
def test_an_independent_toml_reader_sees_the_same_names(notes: BoardNotes) -> None:
    tables = tomllib.loads(format_notes(notes))
    assert set(tables.get("parts", {})) == set(notes.parts)
    assert set(tables.get("nets", {})) == set(notes.nets)
    for name, note in notes.nets.items():
        assert tables["nets"][name].get("nominal_volts") == note.nominal_volts


def test_notes_written_by_hand_are_read() -> None:
    notes = parse_notes(
        """
        [parts.U1]
        role = "regulator"
        keep = "replace"
        [nets."3V3"]
        kind = "rail"
        nominal_volts = 3
        feeders = [{ part = "U1", from = "VIN" }, { part = "U9" }]
        [nets.VIN]
        feeders = []
        """
    )
    assert notes.part("U1") == PartNote(role="regulator", keep="replace")
    assert notes.net("3V3").nominal_volts == 3.0
    assert notes.net("3V3").feeders == (FeederNote("U1", "VIN"), FeederNote("U9"))
    assert notes.net("VIN").feeders == ()
    assert notes.net("GND").feeders is None, "nothing said is not: it has none"
    assert notes.keep_words() == {"U1": "replace"}


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("[parts.U1]\nrole = 'regulater'\n", 2, "near words: regulator"),
        ("[parts.U1]\nfitted = 'yes'\n", 2, "true or false"),
        ("[parts.U1]\nrole = 'led'\nroll = 1\n", 3, "unknown key 'roll'"),
        ("[parts.U1]\nkeep = 'yes'\n", 2, "one of: irreplaceable, replace, no"),
        ("[nets.A]\nkind = 'rail'\n[nets.B]\nkind = 'rial'\n", 4, "near words: rail"),
        ("[nets.A]\nnominal_volts = '3V3'\n", 2, "a plain number in volts"),
        ("[nets.A]\nnominal_volts = true\n", 2, "a plain number in volts"),
        ("[nets.A]\nnominal_volts = inf\n", 2, "no nominal is that high"),
        ("[nets.A]\nnominal_volts = nan\n", 2, "nan is no number of volts"),
        ("[nets.A]\nnominal_volts = 0\n", 2, "0 V is no nominal"),
        ("[nets.A]\nnominal_volts = 1" + "0" * 400 + "\n", 2, "no nominal is that high"),
        ("[nets.A]\nfeeders = 'U1'\n", 2, "feeders is a list"),
        ("[nets.A]\nfeeders = [{ from = 'X' }]\n", 2, 'a feeder is { part = "U1"'),
        ("[nets.A.1]\nkind = 'rail'\n", None, 'needs quotes: [nets."A.1"]'),
        ("parts = 3\n", None, "must be a table"),
        ("schema = 'netgraph.board-notes/2'\n", 1, "this version reads"),
        ("fingerprint = 'abc'\n", 1, "64 digits"),
        ("[parts.U1\n", 1, "not valid TOML"),
        ("[parts.U1]\n[parts.U1]\n", 2, "not valid TOML"),
    ],
)
def test_a_fault_is_told_with_its_line_and_a_way_out(
    text: str, line: int | None, says: str
) -> None:
    with pytest.raises(NotesError) as caught:
        parse_notes(text, path="b.notes.toml")
    assert says in caught.value.one_line()
    assert caught.value.one_line().startswith("b.notes.toml")
    if line is not None:
        assert caught.value.line == line
    assert caught.value.exit_status == 3


def test_the_line_is_that_of_the_right_entry() -> None:
    """U10 comes before U1, and both have a role; the fault is in U1's."""
    text = '[parts.U10]\nrole = "led"\n\n[parts."U1"]\nwhy = ""\nrole = "lamp"\n'
    with pytest.raises(NotesError) as caught:
        parse_notes(text)
    assert caught.value.line == 6


def test_notes_that_fit_have_no_problems() -> None:
    board = a_board()
    notes = BoardNotes(
        {"U1": PartNote(role="regulator")},
        {"3V3": NetNote(feeders=(FeederNote("U1", "VIN"),))},
        board.fingerprint,
    )
    assert check_notes(board, notes) == ()


def test_names_the_board_does_not_have_are_listed_with_near_ones() -> None:
    notes = BoardNotes(
        {"U11": PartNote(role="regulator")},
        {"3V33": NetNote(kind="rail"), "3V3": NetNote(feeders=(FeederNote("X9", "VOUT"),))},
    )
    problems = check_notes(a_board(), notes)
    assert [one.code for one in problems] == [
        "unknown-part",
        "unknown-net",
        "unknown-part",
        "unknown-net",
    ]
    assert "U1" in problems[0].text
    assert "3V3" in problems[1].text


def test_notes_of_another_netlist_are_told_apart() -> None:
    (problem,) = check_notes(a_board(), BoardNotes(fingerprint="0" * 64))
    assert problem.code == "other-netlist"


def test_a_feeder_has_a_pad_on_the_net_it_takes_from() -> None:
    notes = BoardNotes(nets={"VIN": NetNote(feeders=(FeederNote("C1", "VIN"),))})
    (problem,) = check_notes(a_board(), notes)
    assert problem.code == "feeder-not-on-net"


def test_the_schema_stands_in_each_written_file() -> None:
    assert tomllib.loads(format_notes(BoardNotes()))["schema"] == NOTES_SCHEMA


@pytest.mark.parametrize(
    ("board", "notes"),
    [("a.kicad_pcb", "a.notes.toml"), ("a.b.net", "a.b.notes.toml"), ("plain", "plain.notes.toml")],
)
def test_the_notes_lie_beside_the_board(board: str, notes: str) -> None:
    assert notes_file_name(board) == notes


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ('[nets.A]\nwhy = "x"\n[ parts . A ]\nrole = "bad"\n', 4),
        ('[parts.AB]\nrole = "storage"\n[nets.AB]\nkind = "bad"\n', 4),
        ('[parts.A]\nwhy = """\nrole = 1\n"""\nrole = "bad"\n', 5),
        ('[parts.A]\nwhy = "a\u2028b"\nrole = "bad"\n', 3),
    ],
)
def test_a_fault_names_the_line_of_its_own_entry(text: str, line: int) -> None:
    with pytest.raises(NotesError) as caught:
        parse_notes(text)
    assert caught.value.line == line


def test_a_key_of_very_many_dots_is_refused_at_once() -> None:
    with pytest.raises(NotesError, match="dots") as caught:
        parse_notes("# first\n" + "a." * 60_000 + "a = 1\n")
    assert caught.value.line == 2


def test_a_number_of_thousands_of_digits_is_not_echoed() -> None:
    with pytest.raises(NotesError) as caught:
        parse_notes("[parts.A]\nrole = 0x" + "f" * 5_000)
    assert len(caught.value.one_line()) < 1_000


# -- who switches whom on ----------------------------------------------------------------------


def test_what_enables_a_part_and_what_it_needs_first_is_read() -> None:
    text = (
        '[parts.U4]\nenabled_by = ["U2", "U3"]\nneeds_first = ["+1V8"]\n'
        "[parts.U5]\nenabled_by = []\n"
    )
    notes = parse_notes(text)
    assert notes.part("U4") == PartNote(enabled_by=("U2", "U3"), needs_first=("+1V8",))
    assert notes.part("U5").enabled_by == ()
    assert notes.part("U6").enabled_by is None


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        ('[parts.U4]\nwhy = "x"\nenabled_by = ["U4"]', 3, "enabled by itself"),
        ('[parts.U4]\nenabled_by = ["U2"]\n[parts.U2]\nfitted = false', 2, "not fitted"),
        ('[parts.U4]\nenabled_by = ["U2"]\n[parts.U2]\nenabled_by = ["U4"]', 2, "circle"),
        (
            '[nets.V2]\nfeeders = [{ part = "U2" }]\n[parts.U4]\nneeds_first = ["V2"]\n'
            '[parts.U2]\nenabled_by = ["U4"]',
            4,
            "circle",
        ),
        ('[nets.V4]\nfeeders = [{ part = "U4" }]\n[parts.U4]\nneeds_first = ["V4"]', 4, "feeds"),
        ('[nets.G]\nkind = "ground"\n[parts.U4]\nneeds_first = ["G"]', 4, "ground"),
    ],
)
def test_notes_that_can_not_all_be_true_are_refused_with_their_line(
    text: str, line: int, said: str
) -> None:
    with pytest.raises(NotesError, match=said) as caught:
        parse_notes(text, path="b.notes.toml")
    assert caught.value.line == line
    assert (caught.value.exit_status, caught.value.code) == (4, "notes-contradictory")


@pytest.mark.parametrize("said", ['enabled_by = "U2"', "needs_first = [1]", 'needs_first = [""]'])
def test_an_order_is_a_list_of_names(said: str) -> None:
    with pytest.raises(NotesError, match="list of names") as caught:
        parse_notes(f"[parts.U4]\n{said}\n")
    assert (caught.value.exit_status, caught.value.line) == (3, 2)


def test_a_longer_order_without_a_circle_is_no_contradiction() -> None:
    text = '[parts.U4]\nenabled_by = ["U3", "U2"]\n[parts.U3]\nenabled_by = ["U2"]\n'
    assert parse_notes(text).part("U3").enabled_by == ("U2",)


def test_names_in_an_order_must_be_on_the_board() -> None:
    notes = BoardNotes({"U1": PartNote(enabled_by=("U9",), needs_first=("NOWHERE",))})
    assert [one.code for one in check_notes(a_board(), notes)] == ["unknown-part", "unknown-net"]
