# SPDX-License-Identifier: GPL-3.0-or-later
"""Traps that real boards hold, each on a small circuit (source: the seven boards' keys)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from netgraph.formats.hand_trace import read_hand_trace
from netgraph.roles import BoardNotes, find_roles
from netgraph.roles.families import find_family
from netgraph.roles.ground import is_ground_name
from netgraph.roles.notes import NetNote, PartNote
from netgraph.roles.polarity import diode_of
from netgraph.roles.wiring import Wiring
from tests.unit.circuits import GROUND, circuit, tree_of


def role(line: str) -> str:
    ref = line.split()[0]
    return tree_of(GROUND + line)[0].role(ref)


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("Q1 12MHz/20pF Q5x3.2 1=XI 2=XO", "crystal"),
        ("Y1 24_MHz Crystal_SMD_3225-4Pin 1=XI 2=GND 3=XO 4=GND", "crystal"),
        ("T1 BSS138 SOT-23 1=A 2=GND 3=B", "transistor"),
        ("FET1 BSS138 SOT-23 1=A 2=GND 3=B", "transistor"),
        ("U7 RCLAMP0524P SLP2510P8 1=A 2=B 3=GND 4=C 5=D", "esd-array"),
        ("D1 SMBJ6.0A DO214AA 1=VIN 2=GND", "tvs"),
        ("L1 FB0805/600R/2A L_0805 1=A 2=B", "ferrite"),
        ("L2 3.3nH L_0402 1=A 2=B", "inductor"),
        ("FB1 600R@100MHz L_0402 1=A 2=B", "ferrite"),
        ("LCD_CON1 LCD_CON FPC-40 1=A 2=B 3=C 4=GND", "connector"),
        ("R1 0R R_0402 1=A 2=B", "link"),
        ("R2 0.01R/1% R_1206 1=A 2=B", "sense-resistor"),
        ("R3 10m R_1206 1=A 2=B", "sense-resistor"),
        ("R4 10M R_0402 1=A 2=B", "resistor"),
        ("RN1 10k R_Array_4x0402 1=A 2=B 3=C 4=D 5=E 6=F 7=G 8=H", "resistor"),
        ("JP1 - SolderJumper-2_Bridged 1=A 2=B", "link"),
        ("TP4 VSYS TestPoint_Pad_D1.0mm 1=A", "test-point"),
        ("H1 - MountingHole_3.2mm 1=-", "mechanical"),
        ("LOGO1 - OSHW-Logo 1=-", "mechanical"),
        ("R5 NTC_10k R_0402 1=A 2=GND", "thermistor"),
        ("D2 GREEN LED_0603 1=A 2=B", "led"),
        ("U9 24LC02 SOIC-8 1=GND 2=GND 3=GND 4=GND 5:SDA=A 6:SCL=B 7=GND 8=V", "eeprom"),
    ],
)
def test_what_a_part_is(line, expected):
    assert role(line) == expected


def test_a_part_without_evidence_is_unknown():
    """A chip that nothing tells of gets no guessed role."""
    assert role("U5 ZZQXW SOIC-14 1=A 2=B 3=C 4=D 5=E 6=F") == "unknown"


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("GND", True),
        ("/power/AGND", True),
        ("GNDA", True),
        ("VSS", True),
        ("/LCD_5.0V", False),
        ("5V_GND_SENSE", False),
        ("GND_5V", False),
        ("+3V3", False),
        ("BACKGROUND", False),
    ],
)
def test_ground_by_name(name, expected):
    """A number other than 0 with a V never names a ground (seen: /LCD_5.0V)."""
    assert is_ground_name(name) is expected


def test_a_rail_with_many_capacitors_is_no_ground():
    """The capacitors of a rail share one partner, those of a ground have many."""
    lines = "\n".join(f"C{i} 100n C_0402 1=+5V 2=GND" for i in range(1, 30))
    roles, _ = tree_of(GROUND + lines)
    assert roles.kind("GND") == "ground"
    assert roles.kind("+5V") == "rail"


def test_a_ground_is_found_without_its_name():
    lines = "\n".join(f"C{i} 100n C_0402 1=N{i % 9} 2=N99" for i in range(1, 30))
    roles, _ = tree_of(lines)
    assert roles.kind("N99") == "ground"


@pytest.mark.parametrize(("name", "expected"), [("GND", True), ("VSS", False), ("GND_EN", False)])
def test_who_traces_a_board_says_what_is_ground(name: str, expected: bool) -> None:
    """Two pads are enough: the clip sat on it. VSS may be a negative supply all the same."""
    lines = f"# netgraph trace 1\nC12.1 L3.2 U5.14 : VSYS\nC12.2 : {name}\n"
    traced = read_hand_trace(lines.encode())
    assert (find_roles(traced).kind(name) == "ground") is expected
    # So it is on a table or drawing of few pads; on a large one a name alone is no proof.
    drawn = replace(traced, partial=False)
    assert (find_roles(drawn).kind(name) == "ground") is expected
    many = "".join(f"R{i}.1 R{i}.2 : N{i}\n" for i in range(60))
    large = replace(read_hand_trace((lines + many).encode()), partial=False)
    assert find_roles(large).kind(name) != "ground"


def test_the_negative_supply_of_a_charge_pump_is_no_ground():
    """VSS by name, but only its pump and one capacitor to ground are on it."""
    roles, _ = tree_of(
        GROUND
        + "U8 CODEC QFN-24 1:CP_VSS=CODEC_VSS 2:VDD=+3V3 3:GND=GND 4=A 5=B 6=C\n"
        + "C1 1u C_0402 1=CODEC_VSS 2=GND\nC2 1u C_0402 1=+3V3 2=GND"
    )
    assert roles.grounds() == {"GND"}


def test_a_reset_line_with_its_capacitor_is_no_rail():
    roles, _ = tree_of(
        GROUND
        + """
R1 10k R_0402 1=+3V3 2=RESET_N
C1 100n C_0402 1=RESET_N 2=GND
C2 10u C_0603 1=+3V3 2=GND
U1 STM32F103 LQFP-48 1:VDD=+3V3 2:NRST=RESET_N 3:VSS=GND 4=A
"""
    )
    assert roles.kind("RESET_N") == "reset"
    assert roles.kind("+3V3") == "rail"


def test_volts_come_from_the_name():
    roles, _ = tree_of(GROUND + "C1 10u C_0603 1=VDD_1V8 2=GND\nC2 1u C_0402 1=VDD_1V8 2=GND")
    assert roles.nets["VDD_1V8"].nominal_volts == 1.8


def test_a_person_wins_and_the_correction_propagates():
    """A part called a coil by a person makes its net a switch node."""
    text = (
        GROUND
        + """
U1 MT3608 SOT-23-6 1=SWN 2=GND 3=FBK 4=EN 5=VIN 6=-
X7 ??? L_4x4 1=VIN 2=SWN
D1 SS34 SMA 1:K=VOUT 2:A=SWN
C1 22u C_0805 1=VIN 2=GND
C2 22u C_0805 1=VOUT 2=GND
"""
    )
    plain, _ = tree_of(text)
    assert plain.kind("SWN") != "switch-node"
    notes = BoardNotes(
        parts={"X7": PartNote(role="inductor", why="22 uH by its print")},
        nets={"VOUT": NetNote(nominal_volts=12.0)},
    )
    roles, tree = tree_of(text, notes)
    assert roles.parts["X7"].source == "user"
    assert roles.parts["X7"].confidence == 1.0
    assert roles.kind("SWN") == "switch-node"
    assert tree.by_net["VOUT"].feeders[0].kind == "boost"
    assert tree.by_net["VOUT"].nominal_volts == 12.0


def test_a_part_that_is_not_fitted_carries_nothing():
    """A link marked as left off joins no supplies."""
    _, tree = tree_of(
        GROUND
        + """
J1 USB_B USB_Micro-B 1:VBUS=VBUS 5:GND=GND
R1 DNP R_0402 1=VBUS 2=VAUX
C1 10u C_0603 1=VBUS 2=GND
C2 10u C_0603 1=VAUX 2=GND
U1 STM32F103 LQFP-48 1:VDD=VAUX 3:VSS=GND 4=A
"""
    )
    assert not tree.by_net["VAUX"].feeders


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("SN74LVC1G07DCK", "logic"),
        ("GSG-XC2C64A-7VQG100C", "programmable-logic"),
        ("W25Q128JVP", "boot-flash"),
        ("10k 1%", None),
        ("0402", None),
        ("", None),
    ],
)
def test_family_by_marking(text, expected):
    found = find_family(text)
    assert (found.role if found else None) == expected


def test_a_diodes_pin_names_win_over_its_numbers():
    board = circuit("D1 SS34 SMA 1:A=P 2:K=Q")
    found = diode_of(Wiring(board, frozenset(["D1"])), 0)
    assert found is not None
    assert (board.nets[found.anode].name, board.nets[found.cathode].name) == ("P", "Q")


def traced(*lines: str):
    """A partial board, as traced by hand."""
    return read_hand_trace("\n".join(["# netgraph trace 1", *lines]).encode())


@pytest.mark.parametrize(
    ("ref", "expected"),
    [
        ("C12", "capacitor"), ("L3", "inductor"), ("U5", "unknown"), ("Q2", "transistor"),
        ("D4", "diode"), ("J1", "connector"), ("F1", "fuse"), ("TP3", "test-point"),
    ],
)  # fmt: skip
def test_a_single_traced_pad_makes_no_test_point(ref, expected):
    """By the letters of IEEE 315 alone; how many more pads a part has is not traced."""
    roles = find_roles(traced(f"{ref}.1 C99.1 : VSYS", "C99.2 : GND"))
    assert roles.role(ref) == expected
    assert "pin-count" not in [why.code for why in roles.parts[ref].reasons]


def test_few_traced_pins_speak_against_no_chip():
    roles = find_roles(traced("U3.7 U4.9 : CLK", "U3 = processor FBGA-700", "U4 = eMMC BGA-153"))
    assert (roles.role("U3"), roles.role("U4")) == ("processor", "storage")


def test_on_a_whole_board_a_single_pin_still_counts():
    roles = find_roles(replace(traced("U9.1 C99.1 : VSYS", "C99.2 : GND"), partial=False))
    assert roles.role("U9") == "test-point"
