# SPDX-License-Identifier: GPL-3.0-or-later
"""Facts of a person with a tester: nets grow, contradictions are refused, assumptions give way."""

from __future__ import annotations

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from netgraph.errors import BoardCheckError, BoardFileError
from netgraph.formats.hand_trace import HandTraceReader, Trace, read_hand_trace
from netgraph.formats.trace_lines import fact_of
from netgraph.model import Board


def read(*lines: str) -> Board:
    return read_hand_trace("\n".join(["# netgraph trace 1", *lines]).encode())


def test_nets_merge_as_they_are_found_to_be_one() -> None:
    board = read("C1.1 L1.1 : A", "C2.1 L2.1", "L1.1 C2.1")
    assert board.parts_on_net == {"A": ("C1", "L1", "C2", "L2")}
    assert board.partial


def test_a_name_brings_pads_together_in_different_lines() -> None:
    board = read("C1.1 : GND", "C2.1 : GND")
    assert board.parts_on_net["GND"] == ("C1", "C2")


def test_two_named_rails_that_become_one_are_warned_of() -> None:
    board = read("C1.1 : VSYS", "C2.1 : 3V3", "C1.1 C2.1")
    (warning,) = board.warnings
    assert (warning.code, warning.line) == ("rails-joined", 4)
    assert [net.name for net in board.nets] == ["VSYS"]


def test_a_net_without_a_name_gets_one_that_says_no_volts() -> None:
    from netgraph.net_names import volts_in_name

    board = read("C1.1 L1.1")
    assert [net.name for net in board.nets] == ["NET_C1.1"]
    assert volts_in_name("NET_C1.1") is None


@pytest.mark.parametrize(
    "lines",
    [
        ("C1.1 C2.1 apart", "C1.1 C2.1"),
        ("C1.1 C2.1", "C1.1 C2.1 apart"),
        ("C1.1 C2.1 apart", "C1.1 R1.1", "R1.1 C2.1"),
        ("C1.1 C2.1 apart", "C1.1 : A", "C2.1 : A"),
        ("C1.1 nc", "C1.1 C2.1"),
        ("C1.1 C2.1", "C1.1 nc"),
        ("C1.1 : A", "C2.1 : A", "C1.1 nc"),
        ("U1 = a", "U2 = b", "U1 named U2"),
    ],
)
def test_contradictions_end_with_status_4_and_name_the_line(lines: tuple[str, ...]) -> None:
    with pytest.raises(BoardCheckError) as caught:
        read(*lines)
    assert caught.value.exit_status == 4
    assert f"line {len(lines) + 1}" in caught.value.message


def test_assumed_lines_give_way_and_fill_what_is_open() -> None:
    board = read(
        "~ C1.1 L1.1 : VDD",
        "~ C2.1 L1.1 : VDD",
        "~ C1 = 1uF",
        "C1 = 10uF",
        "C1.1 L1.1 apart",
    )
    assert board.parts_on_net["VDD"] == ("L1", "C2")
    assert board.part("C1").value == "10uF"


def test_the_trace_is_a_value_with_undo() -> None:
    trace = Trace()
    one, events = trace.with_line("C1.1 L1.1 : VSYS")
    assert (events, trace.lines) == ((), ("# netgraph trace 1",))
    two, _ = one.with_line("# a remark")
    back, gone = two.without_last()
    assert gone == "C1.1 L1.1 : VSYS"
    assert back.facts() == []
    assert back.without_last()[1] is None


@pytest.mark.parametrize(
    ("line", "column"),
    [("C1.1 foo : A", 6), ("C1.1 : A B", 10), ("C1.1", 1), (": A", 1), ("C1 =", 4), ("C1. X.1", 1)],
)
def test_a_line_that_can_t_be_understood_is_told_with_its_place(line: str, column: int) -> None:
    with pytest.raises(BoardFileError) as caught:
        read("C9.1 C8.1", line)
    assert (caught.value.line, caught.value.column) == (3, column)


def test_a_file_without_its_head_line_is_known_by_its_lines() -> None:
    reader = HandTraceReader()
    assert reader.sniff(b"C1.1 L1.1 : VSYS\nC1.2 : GND\n") == 0.6
    assert reader.sniff(b"R1.1 10k\nsome words here\n") == 0.0
    assert reader.sniff(b"ref,pin,net\nR1,1,A\n") == 0.0


PADS = st.tuples(st.sampled_from(["C1", "C2", "U1", "R1"]), st.sampled_from(["1", "2", "3"]))


@given(st.lists(st.lists(PADS, min_size=2, max_size=4), min_size=1, max_size=12))
def test_nets_are_the_connected_pieces_of_what_was_found(
    joins: list[list[tuple[str, str]]],
) -> None:
    """networkx: connected components of the graph whose edges are the findings."""
    graph: nx.Graph[tuple[str, str]] = nx.Graph()
    for pads in joins:
        nx.add_path(graph, pads)
    board = read(
        *(" ".join(f"{ref}.{pin}" for ref, pin in pads) for pads in joins if len(set(pads)) > 1),
        "X1.1 : Z",
    )
    found: dict[str | None, set[tuple[str, str]]] = {}
    for pad in board.pads:
        found.setdefault(pad.net, set()).add((pad.ref, pad.pin))
    ours = {frozenset(pads) for net, pads in found.items() if net not in (None, "Z")}
    theirs = {frozenset(piece) for piece in nx.connected_components(graph) if len(piece) > 1}
    assert ours == theirs


@given(st.permutations(["C1.1 L1.1 : A", "L1.1 U1.1", "U1.1 R1.1", "C2.1 R1.1", "C1.2 C2.2 : GND"]))
def test_the_order_of_findings_does_not_matter(lines: list[str]) -> None:
    board = read(*lines)
    assert {net: frozenset(parts) for net, parts in board.parts_on_net.items()} == {
        "A": frozenset({"C1", "L1", "U1", "R1", "C2"}),
        "GND": frozenset({"C1", "C2"}),
    }


@pytest.mark.parametrize(
    ("found", "stays", "given"),
    [
        ("U2.1 nc", {"U1.3", "C1.1", "C2.1", "U6.1"}, ["U2.1"]),
        ("U2.1 C1.1 apart", {"U1.3", "C2.1", "U6.1"}, ["U2.1", "C1.1"]),
        ("U2.1 C1.1 U6.1 apart", {"U1.3", "C2.1"}, ["U2.1", "C1.1", "U6.1"]),
    ],
)
def test_of_an_assumed_line_only_the_contradicted_pads_give_way(
    found: str, stays: set[str], given: list[str]
) -> None:
    """On a list of the kept pads written out by hand; the event names what was given up."""
    trace = Trace(("# netgraph trace 1", "~ U1.3 U2.1 C1.1 C2.1 U6.1 : VSYS"))
    after, events = trace.with_line(found)
    state = after.state()
    ((_, pads),) = state.nets().items()
    assert {state.shown(pad) for pad in pads} == stays
    assert [one.code for one in events] == ["trace-pads-gave-way"]
    assert dict(events[0].params) == {"line": 2, "pads": " ".join(given)}


def test_pads_apart_from_the_traced_net_of_that_name_give_way_alone() -> None:
    board = read("~ U1.3 U2.1 C1.1 : VSYS", "C9.1 U1.3 : VSYS", "U2.1 C9.1 apart")
    assert board.parts_on_net == {"VSYS": ("C9", "U1", "C1")}


def test_an_assumed_nc_or_apart_keeps_what_no_finding_contradicts() -> None:
    trace = Trace(("C1.1 L1.1", "~ C1.1 U1.9 nc", "~ C1.1 L1.1 R1.1 apart"))
    state = trace.state()
    assert [state.shown(pad) for pad in state.lonely] == ["U1.9"]
    with pytest.raises(BoardCheckError):
        Trace((*trace.lines, "~ U9.9 : Q", "C1.1 U9.9", "U9.9 nc")).state()


@given(st.lists(PADS, min_size=2, max_size=6, unique=True), st.data())
def test_an_assumed_line_never_holds_against_a_finding(
    pads: list[tuple[str, str]], data: st.DataObject
) -> None:
    """Pads found apart are never one net, and pads that no finding names stay on the line's."""
    names = [f"{ref}.{pin}" for ref, pin in pads]
    apart = data.draw(st.lists(st.sampled_from(names), min_size=2, max_size=3, unique=True))
    state = Trace((f"~ {' '.join(names)} : VDD", f"{' '.join(apart)} apart")).state()
    nets = [{state.shown(pad) for pad in found} for found in state.nets().values()]
    assert all(len(found & set(apart)) < 2 for found in nets)
    rest = set(names) - set(apart)
    assert not rest or rest in nets


def test_a_value_said_otherwise_is_an_event_and_a_warning() -> None:
    trace, _ = Trace().with_line("C12 = 10uF 0603")
    trace, events = trace.with_line("C12 = 22uF")
    assert [one.text for one in events] == ["C12 was 10uF and is 22uF now"]
    assert trace.with_line("C12 = 22uF")[1] == ()
    board = read("C12 = 10uF", "C12 = 22uF")
    assert board.part("C12").value == "22uF"
    assert [(one.code, one.line) for one in board.warnings] == [("part-changed", 3)]


def test_designators_that_differ_in_case_only_are_told() -> None:
    trace, _ = Trace().with_line("C1.1 R1.1")
    _, events = trace.with_line("c1.1 L1.1")
    assert [one.code for one in events] == ["trace-case"]
    assert [one.code for one in read("C1.1 R1.1", "c1.2 R1.2").warnings] == ["designator-case"]


@pytest.mark.parametrize(
    ("line", "column"),
    [
        ("C1.1, C2.1 : VDD", 5),
        ('"C1.1" C2.1', 1),
        ("C1.1 C2.1; C3.1", 10),
        ("C1.1,C2.1 : VDD", 5),
        ('"C1" = 10uF', 1),
        ("R9, not-fitted", 3),
        ('C1.1 C2.1 : "VDD"', 13),
        ("U1 named 'U2'", 10),
    ],
)
def test_stray_commas_and_quotation_marks_are_refused_at_their_place(
    line: str, column: int
) -> None:
    with pytest.raises(BoardFileError) as caught:
        read("C9.1 C8.1", line)
    assert (caught.value.line, caught.value.column) == (3, column)
    assert "without commas" in caught.value.hint


@pytest.mark.parametrize(
    ("line", "column", "says"),
    [
        ("R9 dnp", 4, "R9 not-fitted"),
        ("U5.14 is VIN EN", 14, "one name"),
        ("U5.14 is", 7, "one name"),
        ("foo bar", 1, "REF not-fitted"),
    ],
)
def test_a_line_of_no_known_form_says_which_forms_there_are(
    line: str, column: int, says: str
) -> None:
    with pytest.raises(BoardFileError) as caught:
        read("C9.1 C8.1", line)
    assert caught.value.column == column
    assert says in caught.value.one_line()


def test_named_rails_that_became_one_go_with_every_answer() -> None:
    board = read_hand_trace(b"# netgraph trace 1\nC1.1 U1.1 : VA\nC2.1 U2.1 : VB\nC1.1 C2.1\n")
    (told,) = [one for one in board.not_known if one.code == "rails-joined"]
    assert "VA and VB" in told.text


def test_two_pads_run_together_are_no_part() -> None:
    with pytest.raises(BoardFileError) as error:
        fact_of("J1.1 F1.1F1.2", 3)
    assert (error.value.line, error.value.column) == (3, 6)
    assert fact_of("U1.A1 BGA1.A12") is not None
