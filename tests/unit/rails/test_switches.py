# SPDX-License-Identifier: GPL-3.0-or-later
"""Transistors, diodes and controllers that pass a supply on, and the ways in from outside.

Source: the usual application circuits of textbooks, drawn here in own words with invented names.
"""

from __future__ import annotations

import pytest

from netgraph.formats.hand_trace import read_hand_trace
from netgraph.rails import find_rails
from netgraph.roles import find_roles
from tests.unit.circuits import GROUND, tree_of

USB = """
J1 USB_C USB_C_Receptacle A4:VBUS=VBUS A1:GND=GND A6:D+=DP A7:D-=DM
C1 10u C_0603 1=VBUS 2=GND
"""
JACK = """
J2 BARREL Barrel_Jack 1=VIN 2=GND
C2 10u C_0603 1=VIN 2=GND
"""
LOAD = """
C8 10u C_0603 1=VLOAD 2=GND
C9 100n C_0402 1=VLOAD 2=GND
U9 STM32F103 LQFP-48 1:VDD=VLOAD 2:VSS=GND 3:PA0=IOA 4:PA1=IOB
"""


def feeder(tree, net):
    """(part, from, kind) of the first feeder of a rail."""
    first = tree.by_net[net].feeders[0]
    return first.part_id, first.from_net, first.kind


@pytest.mark.parametrize("pins", [("1:G", "2:S", "3:D"), ("1", "2", "3")])
def test_a_high_side_transistor(pins):
    gate, source, drain = pins
    _, tree = tree_of(
        GROUND
        + JACK
        + LOAD
        + f"""
Q1 DMP2035 SOT-23 {gate}=GATE {source}=VIN {drain}=VLOAD
R1 100k R_0402 1=VIN 2=GATE
Q2 BSS138 SOT-23 1:G=EN_LOAD 2:S=GND 3:D=GATE
"""
    )
    assert feeder(tree, "VLOAD") == ("Q1", "VIN", "switched")
    assert "GATE" not in tree.by_net


def test_a_transistor_against_reversed_polarity():
    """Gate to ground by a resistor; the drain is at the jack, the body diode conducts inwards."""
    _, tree = tree_of(
        GROUND
        + JACK
        + LOAD
        + """
Q1 DMP2035 SOT-23 1:G=GATE 2:S=VLOAD 3:D=VIN
R1 100k R_0402 1=GATE 2=GND
"""
    )
    assert feeder(tree, "VLOAD") == ("Q1", "VIN", "switched")


def test_two_transistors_back_to_back():
    """Their common net is no rail; the second one feeds through the first."""
    _, tree = tree_of(
        GROUND
        + JACK
        + LOAD
        + """
Q1 DMP2035 SOT-23 1:G=GATE 2:S=MID 3:D=VIN
Q2 DMP2035 SOT-23 1:G=GATE 2:S=MID 3:D=VLOAD
R1 100k R_0402 1=MID 2=GATE
Q3 BSS138 SOT-23 1:G=EN_LOAD 2:S=GND 3:D=GATE
"""
    )
    assert feeder(tree, "VLOAD") == ("Q2", "VIN", "switched")
    assert tree.by_net["VLOAD"].feeders[0].through == ("Q1",)
    assert "MID" not in tree.by_net


def test_an_ideal_diode_controller_and_its_transistor():
    """The transistor carries the current; the controller's pin names tell the direction."""
    _, tree = tree_of(
        GROUND
        + JACK
        + LOAD
        + """
U1 LTC4412 SOT-23-6 1:VIN=VIN 2:GND=GND 3:CTL=GND 4:STAT=STATN 5:GATE=GATE 6:SENSE=VLOAD
Q1 DMP2035 SOT-23 1:G=GATE 2:S=VLOAD 3:D=VIN
"""
    )
    assert feeder(tree, "VLOAD") == ("Q1", "VIN", "switched")


def test_a_controller_with_its_transistor_inside():
    _, tree = tree_of(
        GROUND
        + JACK
        + LOAD
        + "U1 LM66100 SOT-363 1:VIN=VIN 2:GND=GND 3:CE=VLOAD 4=- 5:ST=STN 6:VOUT=VLOAD\n"
    )
    assert feeder(tree, "VLOAD")[:2] == ("U1", "VIN")


@pytest.mark.parametrize("pins", [("1:A1", "2:A2", "3:K"), ("1", "2", "3")])
def test_a_dual_diode_joins_two_entries(pins):
    """BAT54C: common cathode on pin 3, with pin names and without."""
    one, two, common = pins
    _, tree = tree_of(
        GROUND + USB + JACK + LOAD + f"D1 BAT54C SOT-23 {one}=VBUS {two}=VIN {common}=VLOAD\n"
    )
    found = {(f.part_id, f.from_net) for f in tree.by_net["VLOAD"].feeders}
    assert found == {("D1", "VBUS"), ("D1", "VIN")}


def test_a_jumper_that_selects_one_of_two_supplies():
    """The middle pin takes either of the outer ones: two alternatives."""
    _, tree = tree_of(
        GROUND
        + USB
        + LOAD
        + """
U1 AMS1117-3.3 SOT-223 1:GND=GND 2:VO=+3V3 3:VI=VBUS
C3 22u C_0805 1=+3V3 2=GND
JP1 SolderJumper_3 SolderJumper-3 1=+3V3 2=VLOAD 3=VBUS
"""
    )
    found = {(f.part_id, f.from_net) for f in tree.by_net["VLOAD"].feeders}
    assert found == {("JP1", "+3V3"), ("JP1", "VBUS")}


def test_a_transistor_with_numbered_pins_passes_power_from_source_to_drain():
    """Two rails on connectors: the usual numbering of SOT-23 tells which one comes first."""
    _, tree = tree_of(
        GROUND
        + """
J1 FLAT_CON Conn_01x10 1=/P_3.3V 2=GND 3=A 4=B 5=C
C1 10u C_0603 1=/P_3.3V 2=GND
FET1 IRLML6402 SOT23-3 1=GATE 2=/P_3.3V 3=+3V3
R1 10k R_0402 1=/P_3.3V 2=GATE
C2 22u C_0805 1=+3V3 2=GND
J2 LCD Conn_01x20 1=+3V3 2=GND 3=D 4=E 5=F
"""
    )
    assert tree.by_net["/P_3.3V"].kind == "entry"
    assert feeder(tree, "+3V3") == ("FET1", "/P_3.3V", "switched")


def test_the_diode_of_a_negative_supply_conducts_towards_its_source():
    _, tree = tree_of(
        GROUND
        + """
J1 POWER TerminalBlock 1=/-12BATT 2=GND
D4 1N4004 DO-41 1:K=/-12BATT 2:A=-12V
C1 100u CP_Radial 1=GND 2=-12V
C2 100n C_0603 1=GND 2=-12V
U1 TL072 SO-8 1=OA 2=OB 3=OC 4:V-=-12V 8:V+=VPOS
"""
    )
    assert feeder(tree, "-12V") == ("D4", "/-12BATT", "filtered")
    assert not {"-12V", "/-12BATT"} & set(tree.grounds)


def test_a_chargers_own_regulator_is_not_fed_from_the_cell():
    _, tree = tree_of(
        GROUND
        + USB
        + """
J5 JST JST_PH_2 1=VBAT 2=GND
C3 4.7u C_0603 1=VBAT 2=GND
U5 BQ25895 - 1:VBUS=VBUS 2:BAT=VBAT 3:SYS=VSYS 4:REGN=REGN 5:PGND=GND
C4 10u C_0603 1=VSYS 2=GND
C5 4.7u C_0603 1=REGN 2=GND
U1 TLV62569 SOT-563 1:EN=VSYS 2:GND=GND 3:SW=SWN 4:VIN=VSYS 5:FB=FBN
L1 2.2uH L_2520 1=SWN 2=CORE
C6 22u C_0805 1=CORE 2=GND
"""
    )
    assert {f.from_net for f in tree.by_net["VSYS"].feeders} == {"VBUS", "VBAT"}
    assert {f.from_net for f in tree.by_net["REGN"].feeders} == {"VBUS"}


def test_a_clamp_diode_to_a_higher_rail_feeds_nothing():
    """A clamp from a signal's supply to a higher rail must not turn the tree over."""
    _, tree = tree_of(
        GROUND
        + USB
        + """
U1 AMS1117-3.3 SOT-223 1:GND=GND 2:VO=+3V3 3:VI=VBUS
C3 22u C_0805 1=+3V3 2=GND
D1 1N4148 SOD-123 1:K=VBUS 2:A=+3V3
"""
    )
    assert feeder(tree, "+3V3") == ("U1", "VBUS", "linear")
    assert tree.by_net["VBUS"].kind == "entry"


@pytest.mark.parametrize("named", [True, False])
def test_a_charger_with_power_path_gives_both_feeders(named):
    """The system supply comes from the port and from the cell, whatever the file names."""
    n = (
        {"bat": ":BAT", "in": ":IN", "out": ":OUT", "gnd": ":VSS"}
        if named
        else dict.fromkeys(("bat", "in", "out", "gnd"), "")
    )
    _, tree = tree_of(
        GROUND
        + USB
        + f"""
J5 JST JST_PH_2 1=VBATT 2=GND
C3 4.7u C_0603 1=VBATT 2=GND
U5 BQ24232 - 3{n["bat"]}=VBATT 13{n["in"]}=VBUS 10{n["out"]}=VSYS 8{n["gnd"]}=GND 14=ISETN
C4 10u C_0603 1=VSYS 2=GND
C5 10u C_0603 1=VSYS 2=GND
U1 TLV62569 SOT-563 1:EN=VSYS 2:GND=GND 3:SW=SWN 4:VIN=VSYS 5:FB=FBN
L1 2.2uH L_2520 1=SWN 2=CORE
C6 22u C_0805 1=CORE 2=GND
"""
    )
    found = {(f.part_id, f.from_net) for f in tree.by_net["VSYS"].feeders}
    assert found == {("U5", "VBUS"), ("U5", "VBATT")}
    assert tree.by_net["VBATT"].kind == "entry"
    assert tree.by_net["VSYS"].nominal_volts == 3.7


def test_a_power_manager_is_no_load_of_what_hangs_on_it():
    """Its VBUS pin only senses or takes the port as one more input."""
    _, tree = tree_of(
        GROUND
        + """
BT1 Battery Battery_Holder 1=VBAT 2=GND
C1 10u C_0603 1=VBAT 2=GND
U1 AXP803 - 1=VBAT 2=GND 3=IPS 4=IPS 10=IPS 11=IPS 12=IPS 13=IPS 5=SW1 6=SW2 7=SW3 54=USB5VOTG
L1 2.2uH L_4x4 1=SW1 2=+1V1
L2 2.2uH L_4x4 1=SW2 2=+3V3
L3 2.2uH L_4x4 1=SW3 2=+1V5
C2 22u C_0805 1=+1V1 2=GND
C3 22u C_0805 1=+3V3 2=GND
C4 22u C_0805 1=+1V5 2=GND
C5 22u C_0805 1=IPS 2=GND
C6 22u C_0805 1=IPS 2=GND
U13 MT3608 SOT-23-6 1:SW=SWB 2:GND=GND 3:FB=FBB 4:EN=IPS 5:IN=IPS
L4 22uH L_4x4 1=IPS 2=SWB
D2 SS34 SMA 1:K=+5V 2:A=SWB
C7 22u C_0805 1=+5V 2=GND
U21 SY6280 SOT-23-5 1:OUT=USB5VOTG 2:GND=GND 3:SET=SETN 4:EN=ENN 5:IN=+5V
C8 22u C_0805 1=USB5VOTG 2=GND
"""
    )
    assert feeder(tree, "IPS")[:2] == ("U1", "VBAT")
    assert feeder(tree, "USB5VOTG") == ("U21", "+5V", "switched")
    assert "U1" not in tree.by_net["USB5VOTG"].loads


@pytest.mark.parametrize(
    ("part", "net"),
    [
        ("BT1 CR2032 Battery_Holder 1=VBAT 2=GND", "VBAT"),
        ("J3 USB_B_Micro USB_Micro-B 1:VBUS=VUSB 2:D-=DM 3:D+=DP 5:GND=GND", "VUSB"),
        ("J3 Barrel_Jack BarrelJack 1=VDC 2=GND", "VDC"),
        ("J3 Screw_Terminal_01x02 TerminalBlock 1=+24V 2=GND", "+24V"),
        ("J3 JST JST_PH_S2B 1=LIPO+ 2=GND", "LIPO+"),
    ],
)
def test_ways_in_from_outside(part, net):
    """Cell, USB, barrel jack, terminal block, cell plug."""
    _, tree = tree_of(
        GROUND
        + f"""
{part}
C1 10u C_0805 1={net} 2=GND
U1 AP2112K-3.3 SOT-23-5 1:VIN={net} 2:GND=GND 3:EN={net} 5:VOUT=+3V3
C2 10u C_0805 1=+3V3 2=GND
"""
    )
    rail = tree.by_net[net]
    assert rail.kind == "entry"
    assert rail.confidence >= 0.6
    assert feeder(tree, "+3V3") == ("U1", net, "linear")


def test_power_over_the_cable_enters_at_the_bridge():
    """Both inputs of the bridge are entries, its output is fed by the bridge."""
    _, tree = tree_of(
        GROUND
        + """
J1 RJ45 RJ45_Jack 1=TA 2=TB 7=POE_P 8=POE_N
D1 MB10S MB10S 1:~=POE_P 2:~=POE_N 3:+=VPOE 4:-=GND
C1 100n C_1206 1=VPOE 2=GND
C2 22u C_1210 1=VPOE 2=GND
U1 TPS54360 SO-8 1:VIN=VPOE 2:GND=GND 3:SW=SWN 4:FB=FBN
L1 22uH L_6x6 1=SWN 2=+5V
C3 47u C_1210 1=+5V 2=GND
"""
    )
    assert {tree.by_net[net].kind for net in ("POE_P", "POE_N") if net in tree.by_net} == {"entry"}
    assert feeder(tree, "VPOE")[0] == "D1"
    assert feeder(tree, "+5V") == ("U1", "VPOE", "buck")


@pytest.mark.parametrize("count", [4, 10, 40])
@pytest.mark.parametrize("pin", ["VIN", "IN", "VDD", "VCC_IN", ""])
def test_on_a_partial_board_a_chip_that_takes_a_supply_never_feeds_it(count, pin):
    """Of a trace nobody knows what else lies on the net: no pin is an output by being alone."""
    pads = range(1, count + 1)
    lines = [
        "# netgraph trace 1",
        "U1.1 L1.1 " + " ".join(f"C{i}.1" for i in pads) + " : VSYS",
        "U1.2 " + " ".join(f"C{i}.2" for i in pads) + " : GND",
        *(f"C{i} = 10uF 0603" for i in pads),
        *([f"U1.1 is {pin}"] if pin else []),
        "U1.2 is GND",
    ]
    board = read_hand_trace("\n".join(lines).encode())
    tree = find_rails(board, find_roles(board))
    assert [one.part_id for one in tree.by_net["VSYS"].feeders] == []


def test_an_input_pin_beside_capacitors_alone_is_no_output():
    """On a whole board too: only the chip and its capacitors, and the pin is called VIN."""
    _, tree = tree_of(
        GROUND
        + """
U1 XX QFN-16 1:VIN=VSYS 2:GND=GND 3:A=A 4:B=B
C1 10u C_0603 1=VSYS 2=GND
C2 10u C_0603 1=VSYS 2=GND
"""
    )
    assert [one.part_id for one in tree.by_net["VSYS"].feeders] == []
