# SPDX-License-Identifier: GPL-3.0-or-later
"""Files of one board over each other: who wins, what is filled, what is told; by tiny boards."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from netgraph.formats.csv_table import read_csv_table
from netgraph.model import Board, BoardBuilder
from netgraph.model.agree import Pair, agreement
from netgraph.model.board import Source
from netgraph.model.compare import compare_boards
from netgraph.model.merge import Disagreement, merge_boards
from tests.property.board_strategies import boards

Pads = dict[str, dict[str, str | None]]


def board(
    pads: Pads, *, kind: str = "hand", places: bool = False, **parts: dict[str, str]
) -> Board:
    """Parts with pins and nets; further words for a part by its name."""
    builder = BoardBuilder("b", source=Source(kind, f"{kind}.x"))
    if places:
        builder.capabilities.add("has_positions")
    for number, (ref, pins) in enumerate(pads.items()):
        said = parts.get(ref, {})
        index = builder.add_part(
            ref,
            value=said.get("value", ""),
            footprint=said.get("footprint", ""),
            not_fitted_because=said.get("off"),
            x_nm=number * 10_000_000 + 1 if places else 0,
        )
        for at, (pin, net) in enumerate(pins.items()):
            builder.add_pad(
                index,
                pin,
                net,
                x_nm=number * 10_000_000 + at * 1_000_000 if places else 0,
                pin_name=said.get(f"pin {pin}", ""),
            )
    return builder.freeze()


TWO: Pads = {"R1": {"1": "A", "2": "B"}, "R2": {"1": "B", "2": "C"}, "R3": {"1": "A", "2": "C"}}


def renamed(pads: Pads, **names: str) -> Pads:
    return {
        ref: {pin: names.get(str(net), net) for pin, net in pins.items()}
        for ref, pins in pads.items()
    }


# -- compare --------------------------------------------------------------------------------------


def test_boards_are_the_same_where_only_names_differ() -> None:
    found = compare_boards(board(TWO), board(renamed(TWO, A="X", B="A", C="B")))
    assert found.is_same
    assert found.renamed == (("A", "X"), ("B", "A"), ("C", "B"))


@pytest.mark.parametrize(
    ("other", "nets"),
    [
        (renamed(TWO, B="A"), (("A", "B"), ("A",))),
        ({**TWO, "R1": {"1": "A", "2": "Z"}, "R9": {"1": "Z"}}, (("B",), ("Z",))),
        ({**TWO, "R1": {"1": None, "2": "B"}}, (("A",), ())),
    ],
)
def test_joined_parted_and_missing_pads_are_named(
    other: Pads, nets: tuple[tuple[str, ...], tuple[str, ...]]
) -> None:
    found = compare_boards(board(TWO), board(other))
    assert not found.is_same
    assert any(one.nets_a == nets[0] and set(nets[1]) <= set(one.nets_b) for one in found.differ), (
        found.differ
    )


def test_boards_without_a_pad_in_common_are_not_the_same() -> None:
    found = compare_boards(board(TWO), board({"U1": {"1": "A"}}))
    assert not found.is_same
    assert found.parts_only_a == ("R1", "R2", "R3")
    assert found.parts_only_b == ("U1",)


@given(boards(drawn=False))
def test_a_board_is_the_same_as_itself(one: Board) -> None:
    found = compare_boards(one, one)
    assert found.differ == ()


# -- merge ----------------------------------------------------------------------------------------


@given(boards(drawn=False))
def test_a_board_over_itself_changes_nothing(one: Board) -> None:
    assume(len({part.ref for part in one.parts}) == len(one.parts))
    merged = merge_boards(one, one)
    assert [item for item in merged.disagreements if item.about == "net"] == []
    assert merged.board.parts == one.parts
    assert [pad.net for pad in merged.board.pads] == [pad.net for pad in one.pads]


def test_the_first_file_wins_and_every_disagreement_is_listed() -> None:
    one = board(TWO, R1={"value": "10k", "footprint": "lib:R_0402"}, R2={"value": "4k7"})
    two = board(
        renamed(TWO, A="B", B="A"),
        R1={"value": "22k", "footprint": "other:R_0402"},
        R2={"value": "4K7 "},
        R3={"value": "1k", "pin 1": "ANODE"},
    )
    merged = merge_boards(one, two)
    assert merged.disagreements == (
        Disagreement("value", "R1", "10k", "22k", "10k", file="hand.x"),
    )
    assert [part.value for part in merged.board.parts] == ["10k", "4k7", "1k"]
    assert [net.name for net in merged.board.nets] == ["A", "B", "C"]
    assert merged.board.pads[4].pin_name == "ANODE"


def test_nets_that_hold_other_pads_are_told_pad_by_pad() -> None:
    merged = merge_boards(board(TWO), board({**TWO, "R1": {"1": "A", "2": "C"}}))
    (item,) = merged.disagreements
    assert item.about == "net"
    assert "R1.2" in item.name
    assert merged.board.pads[1].net == "B"


RAILS: Pads = {
    **{f"C{n}": {"1": "VDD", "2": "GND"} for n in range(1, 6)},
    "U1": {"1": "VDD", "2": "GND", "3": "EN"},
}


def test_one_pad_in_conflict_is_named_alone_and_all_others_stay_joined() -> None:
    """C5.1 on the wrong rail must not hide the load L1, nor what hangs on EN."""
    two = {**RAILS, "C5": {"1": "GND", "2": "GND"}, "L1": {"1": "VDD", "2": "EN"}}
    (difference,) = compare_boards(board(RAILS), board(two)).differ
    assert difference.pads == ("C5.1",)
    merged = merge_boards(board(RAILS), board(two))
    told = [(one.about, one.name, one.first, one.second, one.taken) for one in merged.disagreements]
    assert told == [
        ("net", "C5.1", "VDD", "GND", "VDD"),
        ("part-added", "L1", "not there", "", "added"),
    ]
    assert merged.board.nets_of_part["L1"] == ("VDD", "EN")
    assert [net.name for net in merged.board.nets] == ["VDD", "GND", "EN"]


def test_where_the_least_set_is_not_unique_all_candidates_are_named_and_nothing_is_joined() -> None:
    one = board({"R1": {"1": "A"}, "R2": {"1": "A"}, "R3": {"1": "B"}, "R4": {"1": "B"}})
    two = {"R1": {"1": "X"}, "R2": {"1": "Y"}, "R3": {"1": "X"}, "R4": {"1": "Y"}}
    merged = merge_boards(one, board({**two, "U1": {"1": "X"}}))
    (item, _) = merged.disagreements
    assert item.name == "R1.1 or R2.1 or R3.1 or R4.1"
    assert merged.board.nets_of_part["U1"] == ("X",)
    assert merged.board.unclear_nets == {"X", "A", "B"}
    (why,) = [one for one in merged.board.not_known if one.code == "net-of-which"]
    assert dict(why.params)["nets"] == "A / B"


def test_pads_only_the_later_file_has_on_a_part_of_both_come_in_and_are_listed() -> None:
    two = renamed({**RAILS, "U1": {**RAILS["U1"], "4": "VDD", "5": None}}, VDD="VCC")
    merged = merge_boards(board(RAILS), board(two))
    told = [(one.about, one.name, one.second) for one in merged.disagreements]
    assert told == [("pad-added", "U1.4", "VDD"), ("pad-added", "U1.5", "not joined")]
    assert merged.board.pins_on_net("U1", "VDD") == ("1", "4")
    placed = merge_boards(board(RAILS), board(two, places=True))
    assert placed.board.pins_on_net("U1", "VDD") == ("1", "4")


def test_a_list_of_parts_gets_its_pads_from_a_netlist_laid_over_it() -> None:
    merged = merge_boards(board({ref: {} for ref in RAILS}), board(RAILS))
    assert merged.board.nets_of_part["U1"] == ("VDD", "GND", "EN")
    assert [one.about for one in merged.disagreements] == []


PAIRS = st.dictionaries(
    st.tuples(st.sampled_from(["A", "B", "C", None]), st.sampled_from(["X", "Y", "Z", None])),
    st.integers(1, 3),
    min_size=1,
    max_size=5,
)


@given(PAIRS)
def test_no_fewer_pads_part_two_netlists_than_those_named(sizes: dict[Pair, int]) -> None:
    """Compared with all subsets of pads, tried one by one."""
    sizes.pop((None, None), None)
    assume(0 < sum(sizes.values()) <= 9)
    pads, count = dict[Pair, list[int]](), 0
    for pair, size in sizes.items():
        pads[pair], count = list(range(count, count + size)), count + size
    pair_of = {pad: pair for pair, members in pads.items() for pad in members}
    for size in range(count + 1):
        least = [set(gone) for gone in combinations(range(count), size) if _agree(pair_of, gone)]
        if least:
            break
    surely = {pair_of[pad] for pad in set.intersection(*least)}
    perhaps = {pair_of[pad] for pad in set.union(*least) - set.intersection(*least)}
    found = agreement(pads)
    assert set(found.open) == perhaps
    assert set(found.wrong) == surely - perhaps


def _agree(pair_of: dict[int, Pair], gone: tuple[int, ...]) -> bool:
    here: dict[object, object] = {}
    there: dict[object, object] = {}
    for pad, (one, two) in pair_of.items():
        a, b = one or ("alone", pad), two or ("alone", pad)
        if pad not in gone and (here.setdefault(a, b) != b or there.setdefault(b, a) != a):
            return False
    return True


def test_places_of_a_second_file_come_in_for_all_or_not_at_all() -> None:
    whole = merge_boards(board(TWO), board(TWO, places=True)).board
    assert "has_positions" in whole.capabilities
    assert len({(pad.x_nm, pad.y_nm) for pad in whole.pads}) == 6
    some = {ref: pins for ref, pins in TWO.items() if ref != "R3"}
    part = merge_boards(board(TWO), board(some, places=True)).board
    assert "has_positions" not in part.capabilities
    assert {pad.x_nm for pad in part.pads} == {0}
    (why,) = [one for one in part.not_known if one.code == "some-pad-places"]
    assert dict(why.params)["names"] == "R3"


def test_a_part_only_the_second_file_has_comes_in_on_the_nets_of_the_first() -> None:
    names = renamed(TWO, A="X")
    merged = merge_boards(board(TWO), board({**names, "U9": {"1": "X", "2": "NEW", "3": "B"}}))
    assert [item.about for item in merged.disagreements] == ["part-added"]
    assert merged.board.nets_of_part["U9"] == ("A", "NEW", "B")


def test_a_name_of_the_first_file_is_never_joined_with_another_net_of_the_second() -> None:
    """R9 of the second file sits on its net C, which no shared pad ties to C of the first."""
    one = board({"R1": {"1": "A", "2": "C"}, "R2": {"1": "A", "2": "C"}})
    two = board({"R1": {"1": "A"}, "R2": {"1": "A"}, "R9": {"1": "C", "2": "A"}, "R8": {"1": "C"}})
    merged = merge_boards(one, two).board
    assert merged.nets_of_part["R9"] == ("C@2", "A")


@pytest.mark.parametrize(("marked", "fitted"), [(False, False), (True, True)])
def test_marks_of_parts_not_fitted_come_in_only_where_the_first_has_none(
    marked: bool, fitted: bool
) -> None:
    one = board(TWO, R2={"off": "value DNP"} if marked else {})
    merged = merge_boards(one, board(TWO, R1={"off": "column DNP"}))
    assert merged.board.part("R1").fitted is fitted
    assert ("fitted" in [item.about for item in merged.disagreements]) is marked


def test_a_list_of_parts_gives_values_and_what_it_has_too_much_is_told() -> None:
    parts = board({"R1": {}, "R2": {}, "SCREW": {}}, R1={"value": "10k"}, SCREW={"value": "M2"})
    merged = merge_boards(board(TWO), parts)
    assert merged.board.part("R1").value == "10k"
    assert [(item.about, item.name) for item in merged.disagreements] == [("part-missing", "SCREW")]
    assert not merged.board.has_part("SCREW")
    assert "no-netlist" not in [one.code for one in merged.board.not_known]


def test_unclear_names_stay_unclear_until_all_their_pads_are_settled() -> None:
    cut = replace(board(TWO, kind="ipc-d356"), unclear_nets=frozenset({"A"}))
    whole = renamed(TWO, A="/power/A_LONG_NAME")
    settled = merge_boards(cut, board(whole)).board
    assert settled.unclear_nets == frozenset()
    assert [net.name for net in settled.nets] == ["/power/A_LONG_NAME", "B", "C"]
    less = {ref: pins for ref, pins in whole.items() if ref != "R3"}
    left = merge_boards(cut, board(less)).board
    assert len(left.unclear_nets) == 1


def with_places(rows: bytes, first: str) -> Board:
    """A table of pins and one of places, laid over each other in either order."""
    pins = read_csv_table(b"Ref,Pin,Net\nU1,1,VIN\nU1,2,GND\nC1,1,VIN\nC1,2,GND\n")
    places = read_csv_table(b"Ref,X,Y,Side\n" + rows)
    return merge_boards(*((pins, places) if first == "pins" else (places, pins))).board


@pytest.mark.parametrize("first", ["pins", "places"])
def test_pads_lie_on_the_side_that_only_the_other_file_tells(first: str) -> None:
    """A table of pins tells no sides: its pads were all called top though the part sits below."""
    whole = with_places(b"U1,1,2,bottom\nC1,3,4,top\n", first)
    assert whole.knows_sides
    assert {(pad.ref, pad.copper_side) for pad in whole.pads} == {("U1", "bottom"), ("C1", "top")}


def test_logos_that_repeat_are_not_called_missing() -> None:
    builder = BoardBuilder("logos")
    for ref in ("R1", "LOGO", "LOGO"):
        index = builder.add_part(ref)
        if ref == "R1":
            builder.add_pad(index, "1", "A")
    one = builder.freeze()
    assert merge_boards(one, one).disagreements == ()


@pytest.mark.parametrize("first", ["pins", "places"])
def test_a_part_that_the_table_of_places_lacks_has_no_side(first: str) -> None:
    whole = with_places(b"U1,1,2,bottom\n", first)
    assert [whole.knows_side_of(one) for one in ("U1", "C1")] == [True, False]
    both = merge_boards(whole, read_csv_table(b"Ref,X,Y,Side\nC1,1,2,bottom\n")).board
    assert {pad.copper_side for pad in both.pads} == {"bottom"}
    assert both.knows_side_of("C1")
