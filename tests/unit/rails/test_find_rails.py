# SPDX-License-Identifier: GPL-3.0-or-later
"""Forms of feeding, each on a small circuit; source: textbook topologies and the boards' keys."""

from __future__ import annotations

from netgraph.rails import rail_members
from netgraph.roles import BoardNotes
from netgraph.roles.notes import FeederNote, NetNote
from tests.unit.circuits import GROUND, circuit, tree_of

USB = """
J1 USB_C USB_C_Receptacle A4:VBUS=VBUS A1:GND=GND A6:D+=DP A7:D-=DM
C1 10u C_0603 1=VBUS 2=GND
"""


def feeder(tree, net):
    """(part, from, kind) of the first feeder of a rail."""
    first = tree.by_net[net].feeders[0]
    return first.part_id, first.from_net, first.kind


def test_a_usb_connector_is_an_entry_of_five_volts():
    _, tree = tree_of(GROUND + USB)
    rail = tree.by_net["VBUS"]
    assert (rail.kind, rail.feeders, rail.nominal_volts, rail.always_on) == ("entry", (), 5.0, True)


def test_a_linear_regulator_by_pin_names():
    _, tree = tree_of(
        GROUND
        + USB
        + """
U1 AMS1117-3.3 SOT-223 1:GND=GND 2:VO=+3V3 3:VI=VBUS
C2 22u C_0805 1=+3V3 2=GND
"""
    )
    assert feeder(tree, "+3V3") == ("U1", "VBUS", "linear")
    assert tree.by_net["+3V3"].confidence >= 0.6


def test_a_linear_regulator_without_pin_names_goes_from_more_to_less_volts():
    _, tree = tree_of(
        GROUND
        + USB
        + """
U1 AP2112K-3.3 SOT-23-5 1=VBUS 2=GND 3=VBUS 4=- 5=+3V3
C2 22u C_0805 1=+3V3 2=GND
"""
    )
    assert feeder(tree, "+3V3") == ("U1", "VBUS", "linear")


def test_a_buck_converter_with_its_coil():
    _, tree = tree_of(
        GROUND
        + USB
        + """
U1 TLV62569 SOT-563 1:EN=VBUS 2:GND=GND 3:SW=SWN 4:VIN=VBUS 5:FB=FBN
L1 2.2uH L_2520 1=SWN 2=CORE
C2 22u C_0805 1=CORE 2=GND
R1 100k R_0402 1=CORE 2=FBN
R2 100k R_0402 1=FBN 2=GND
"""
    )
    assert feeder(tree, "CORE") == ("U1", "VBUS", "buck")
    assert tree.by_net["CORE"].feeders[0].through == ("L1",)
    # 0.6 V at the feedback pin and equal resistors: 1.2 V.
    assert tree.by_net["CORE"].nominal_volts == 1.2


def test_a_boost_converter_with_its_diode():
    _, tree = tree_of(
        GROUND
        + USB
        + """
U1 MT3608 SOT-23-6 1:SW=SWN 2:GND=GND 3:FB=FBN 4:EN=VBUS 5:IN=VBUS 6=-
L1 22uH L_4x4 1=VBUS 2=SWN
D1 SS34 SMA 1:K=+12V 2:A=SWN
C2 22u C_0805 1=+12V 2=GND
"""
    )
    assert feeder(tree, "+12V") == ("U1", "VBUS", "boost")
    assert tree.by_net["+12V"].feeders[0].through == ("L1", "D1")


def test_two_diodes_are_alternatives():
    _, tree = tree_of(
        GROUND
        + USB
        + """
J2 BARREL Barrel_Jack 1:VDC=VIN 2=GND
C2 10u C_0603 1=VIN 2=GND
D1 SS34 SMA 1:K=VSUM 2:A=VBUS
D2 SS34 SMA 1:K=VSUM 2:A=VIN
C3 10u C_0603 1=VSUM 2=GND
U1 AMS1117-3.3 SOT-223 1:GND=GND 2:VO=+3V3 3:VI=VSUM
C4 22u C_0805 1=+3V3 2=GND
"""
    )
    assert {one.part_id for one in tree.by_net["VSUM"].feeders} == {"D1", "D2"}


def test_a_flyback_diode_feeds_nothing():
    """The diode across a motor only catches its kick."""
    _, tree = tree_of(
        GROUND
        + USB
        + """
J4 MOTOR JST_2 1=VBUS 2=MOT
D7 1N4148 SOD-123 1:K=VBUS 2:A=MOT
Q1 BSS138 SOT-23 1:G=DRV 2:S=GND 3:D=MOT
"""
    )
    assert all(one.part_id != "D7" for rail in tree for one in rail.feeders)
    assert "MOT" not in tree.by_net


def test_a_chain_of_fuse_and_bead_is_followed_from_the_entry():
    _, tree = tree_of(
        GROUND
        + USB
        + """
F1 500mA Fuse_1206 1=VBUS 2=VFUSED
FB1 600R@100MHz L_0603 1=VFUSED 2=VCLEAN
C2 10u C_0603 1=VCLEAN 2=GND
U1 STM32F103 LQFP-48 1:VDD=VCLEAN 2:VSS=GND 3=A 4=B
"""
    )
    assert feeder(tree, "VFUSED") == ("F1", "VBUS", "filtered")
    assert feeder(tree, "VCLEAN") == ("FB1", "VFUSED", "filtered")
    assert tree.by_net["VCLEAN"].nominal_volts == 5.0
    assert [one.part_id for one in tree.by_net["VFUSED"].series] == ["FB1"]


def test_a_power_switch_passes_the_supply_on_from_the_jack():
    _, tree = tree_of(
        GROUND
        + """
J1 BARREL Barrel_Jack 1=VJACK 2=GND
SW1 SPDT Slide_Switch 1=VJACK 2=VSW 3=-
F1 1A Fuse_1206 1=VSW 2=VF
C1 10u C_0603 1=VF 2=GND
U1 LM1117-3.3 SOT-223 1:GND=GND 2:VO=+3V3 3:VI=VF
C2 22u C_0805 1=+3V3 2=GND
"""
    )
    assert tree.by_net["VJACK"].kind == "entry"
    assert feeder(tree, "VSW") == ("SW1", "VJACK", "switched")
    assert feeder(tree, "VF") == ("F1", "VSW", "filtered")
    assert feeder(tree, "+3V3") == ("U1", "VF", "linear")


def test_a_host_port_is_fed_and_no_entry():
    """A load switch from a rail with a feeder of its own feeds the port."""
    _, tree = tree_of(
        GROUND
        + """
J2 BARREL Barrel_Jack 1=VIN 2=GND
C1 10u C_0603 1=VIN 2=GND
U1 LM2596-5.0 TO-263-5 1:VIN=VIN 2:OUT=SWN 3:GND=GND 4:FB=+5V
L1 33uH L_12x12 1=SWN 2=+5V
C2 220u C_D8 1=+5V 2=GND
U2 SY6280 SOT-23-5 1=USB5V 2=GND 3=SET 4=EN 5=+5V
C3 10u C_0603 1=USB5V 2=GND
J3 USB_A USB_A_Receptacle 1=USB5V 2=DM 3=DP 4=GND
"""
    )
    assert feeder(tree, "USB5V") == ("U2", "+5V", "switched")


def test_no_rail_hangs_on_itself():
    """Two links in a ring: every chain of feeders ends at an entry."""
    _, tree = tree_of(
        GROUND
        + USB
        + """
R1 0R R_0402 1=VBUS 2=VA
R2 0R R_0402 1=VA 2=VB
R3 0R R_0402 1=VB 2=VBUS
C2 10u C_0603 1=VA 2=GND
C3 10u C_0603 1=VB 2=GND
U1 STM32F103 LQFP-48 1:VDD=VA 2:VDDA=VB 3:VSS=GND 4=A
"""
    )
    for start in tree:
        net, seen = start.net, set()
        while tree.by_net[net].feeders and tree.by_net[net].feeders[0].from_net:
            assert net not in seen
            seen.add(net)
            net = tree.by_net[net].feeders[0].from_net


def test_a_person_names_the_feeder():
    text = (
        GROUND
        + USB
        + "C2 10u C_0603 1=VODD 2=GND\nC3 1u C_0402 1=VODD 2=GND\nU7 ? X 1=VODD 2=VBUS 3=GND"
    )
    notes = BoardNotes(
        nets={
            "VODD": NetNote(
                kind="rail", feeders=(FeederNote("U7", "VBUS"),), always_on=False, nominal_volts=2.5
            )
        }
    )
    _, tree = tree_of(text, notes)
    rail = tree.by_net["VODD"]
    assert [(one.part_id, one.from_net) for one in rail.feeders] == [("U7", "VBUS")]
    assert (rail.always_on, rail.nominal_volts) == (False, 2.5)


def test_who_sits_on_a_rail_and_how():
    text = (
        GROUND
        + USB
        + """
U1 AMS1117-3.3 SOT-223 1:GND=GND 2:VO=+3V3 3:VI=VBUS
C2 22u C_0805 1=+3V3 2=GND
FB1 600R@100MHz L_0603 1=+3V3 2=VDDA
C3 1u C_0402 1=VDDA 2=GND
U2 STM32F103 LQFP-48 1:VDD=+3V3 2:VDDA=VDDA 3:VSS=GND 4:PA0=A
R1 10k R_0402 1=+3V3 2=A
"""
    )
    roles, tree = tree_of(text)
    found = {
        one.part_id: one.connection for one in rail_members(circuit(text), roles, tree, "+3V3")
    }
    assert found == {
        "U1": "source",
        "C2": "shunt",
        "FB1": "series",
        "U2": "load",
        "R1": "sense",
    }
