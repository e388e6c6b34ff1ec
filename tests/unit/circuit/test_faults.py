# SPDX-License-Identifier: GPL-3.0-or-later
"""The fault grammar: what is read, what is refused, and what it means on a board."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netgraph.circuit.elements import board_circuit
from netgraph.circuit.faults import (
    Bridge,
    Fault,
    Leak,
    Open,
    PartLeak,
    format_faults,
    parse_faults,
    place_faults,
    with_fault,
)
from netgraph.errors import FaultError, UnknownNameError
from tests.unit.circuits import GROUND, circuit, tree_of

BOARD = (
    """
J1 USB USB_C 1:VBUS=VBUS 2:GND=GND
U1 AP2112K-3.3 SOT-23-5 1:VIN=VBUS 2:GND=GND 3:EN=VBUS 5:VOUT=+3V3
U2 STM32 QFP-48 1:VDD=+3V3 2:VSS=GND 3=SDA 4=SCL 5:VDDA=VDDA
C1 10u C_0805 1=VBUS 2=GND
C2 10u C_0805 1=+3V3 2=GND
C3 1u C_0402 1=VDDA 2=GND
R1 4k7 R_0402 1=+3V3 2=SDA
L1 600R/2A L_0603 1=+3V3 2=VDDA
"""
    + GROUND
)


def placed(text: str) -> tuple[tuple[str | None, str | None, float, str], ...]:
    board = circuit(BOARD)
    roles, tree = tree_of(BOARD)
    return place_faults(parse_faults(text), board, roles, frozenset(tree.grounds)).paths


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("leak NET_A NET_B 12R", Leak("NET_A", "NET_B", 12.0)),
        ("part U7 3R", PartLeak("U7", (), 3.0)),
        ("part U7 +3V3 3R", PartLeak("U7", ("+3V3",), 3.0)),
        ("part U7 A B 3R", PartLeak("U7", ("A", "B"), 3.0)),
        ("bridge C3.1 R5.2 40R", Bridge(("C3", "1"), ("R5", "2"), 40.0)),
        ("open L2", Open("L2")),
        ('leak "a b" "+" 4k7', Leak("a b", "+", 4700.0)),
        ("leak A B 220", Leak("A", "B", 220.0)),
        ("leak A B 50m", Leak("A", "B", 0.05)),
        ("leak A B 1M", Leak("A", "B", 1e6)),
        ("leak A B 0.01", Leak("A", "B", 0.01)),
    ],
)
def test_each_form_is_read(text: str, wanted: Fault) -> None:
    """A bare number is a number of ohms here, not a marking: 220 is 220 ohm."""
    assert parse_faults(text) == (wanted,)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "a fault is missing"),
        ("+", "a fault is missing"),
        ("open L1 +", "a fault is missing"),
        ("short VSYS", "'short' is no kind of fault"),
        ("leak VSYS 3R", "does not take 2 words"),
        ("open", "does not take 0 words"),
        ("leak A B 12V", "column 10: '12V' is no resistance"),
        ("leak A B 0", "outside the model"),
        ("leak A B 2M", "outside the model"),
        ("leak A B -3", "is no resistance"),
        ("leak A B nan", "is no resistance"),
        ("bridge C3 R5.2 4R", "column 8: 'C3' is no pad"),
        ('leak "A B 3R', "a quote that opens and never closes"),
        (" + ".join(["open L1"] * 9), "9 faults at once, the limit is 8"),
    ],
)
def test_what_is_no_fault_is_refused_in_one_line(text: str, said: str) -> None:
    with pytest.raises(FaultError) as caught:
        parse_faults(text)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)
    assert caught.value.exit_status == 2


NAMES = st.text(
    st.characters(blacklist_categories=("Cc", "Cs", "Zl", "Zp")), min_size=1, max_size=12
)
OHMS = st.floats(0.01, 1e6)
FAULTS = st.one_of(
    st.builds(Leak, NAMES, NAMES, OHMS),
    st.builds(PartLeak, NAMES, st.lists(NAMES, max_size=2).map(tuple), OHMS),
    st.builds(
        Bridge,
        st.tuples(NAMES, NAMES.filter(lambda pin: "." not in pin)),
        st.tuples(NAMES, NAMES.filter(lambda pin: "." not in pin)),
        OHMS,
    ),
    st.builds(Open, NAMES),
)


@given(st.lists(FAULTS, min_size=1, max_size=8).map(tuple))
def test_written_and_read_again_is_the_same(faults: tuple[Fault, ...]) -> None:
    assert parse_faults(format_faults(faults)) == faults


@given(st.text(max_size=60))
def test_no_text_crashes_the_reader(text: str) -> None:
    with contextlib.suppress(FaultError):
        assert format_faults(parse_faults(text))


def test_a_bridge_joins_the_nets_of_its_pads() -> None:
    assert placed("bridge C2.1 R1.2 40R") == (("+3V3", "SDA", 40.0, ""),)


def test_ground_is_ground_by_any_of_its_names() -> None:
    assert placed("leak SDA GND 1k") == placed("leak SDA ground 1k") == (("SDA", None, 1000.0, ""),)


def test_a_leak_in_a_two_pin_part_lies_between_its_nets() -> None:
    assert placed("part C2 3R") == (("+3V3", None, 3.0, "C2"),)
    assert placed("part R1 3R") == (("+3V3", "SDA", 3.0, "R1"),)


def test_a_leak_in_a_chip_needs_its_net_when_it_has_several() -> None:
    """Nobody knows which supply of a chip leaks: the program asks instead of guessing."""
    with pytest.raises(FaultError, match="name the net"):
        placed("part U2 3R")
    assert placed("part U2 +3V3 3R") == (("+3V3", None, 3.0, "U2"),)
    assert placed("part U2 SDA SCL 3R") == (("SDA", "SCL", 3.0, "U2"),)


@pytest.mark.parametrize(
    ("text", "error", "said"),
    [
        ("leak VSYS GND 1R", UnknownNameError, "no net is named 'VSYS'"),
        ("part U9 1R", UnknownNameError, "no part is named 'U9'"),
        ("bridge C2.7 R1.1 1R", UnknownNameError, "no pad is named 'C2.7'"),
        ("part C2 SDA 1R", FaultError, "C2 has no pad on SDA"),
        ("leak GND ground 1R", FaultError, "both ends are on ground"),
        ("bridge C2.1 R1.1 1R", FaultError, "both ends are on net +3V3"),
        ("open U90 + open U9", UnknownNameError, "no part is named 'U9'"),
        ("bridge U90.14 C2.1 1R", FaultError, "pad U90.14 is on no net"),
    ],
)
def test_a_fault_that_does_not_fit_the_board_is_refused(
    text: str, error: type[Exception], said: str
) -> None:
    with pytest.raises(error) as caught:
        placed(text)
    assert said in str(caught.value)


def test_an_open_part_conducts_nothing_and_leaves_the_rest() -> None:
    board = circuit(BOARD)
    roles, tree = tree_of(BOARD)
    whole = board_circuit(board, roles, tree)
    faults = place_faults(parse_faults("open L1"), board, roles, frozenset(tree.grounds))
    opened = with_fault(whole, faults)
    gone = [one for one in whole.branch_label if one.part_id == "L1"]
    assert gone
    assert len(opened.a) == len(whole.a) - len(gone)
    assert "L1" not in {one.part_id for one in opened.branch_label}
