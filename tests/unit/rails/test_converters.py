# SPDX-License-Identifier: GPL-3.0-or-later
"""Converters of every topology, each on a small circuit.

Source: the usual application circuits of textbooks (buck, boost, inverting, SEPIC, buck-boost,
charge pump, flyback), drawn here in own words with invented net names.
"""

from __future__ import annotations

import pytest

from tests.unit.circuits import GROUND, tree_of

USB = """
J1 USB_C USB_C_Receptacle A4:VBUS=VBUS A1:GND=GND A6:D+=DP A7:D-=DM
C1 10u C_0603 1=VBUS 2=GND
"""
CELL = """
BT1 Battery Battery_Holder 1=VCELL 2=GND
C1 10u C_0603 1=VCELL 2=GND
"""


def feeder(tree, net):
    """(part, from, kind) of the first feeder of a rail."""
    first = tree.by_net[net].feeders[0]
    return first.part_id, first.from_net, first.kind


def codes(tree, net):
    """Codes of the reasons of the first feeder."""
    return {why.code for why in tree.by_net[net].feeders[0].reasons}


def test_an_inverting_converter_makes_a_negative_rail():
    """Coil from the switch node to ground, diode from the negative rail to the switch node."""
    _, tree = tree_of(
        GROUND
        + USB
        + """
U1 TPS5430 SO-8 1:VIN=VBUS 2:GND=GND 3:SW=SWN 4:FB=FBN
L1 10uH L_4x4 1=SWN 2=GND
D1 SS34 SMA 1:K=SWN 2:A=-12V
C2 22u C_1210 1=-12V 2=GND
C3 22u C_1210 1=-12V 2=GND
U2 TL072 SO-8 1=OA 2=OB 3=OC 4:V-=-12V 8:V+=VBUS
"""
    )
    assert feeder(tree, "-12V") == ("U1", "VBUS", "buck")
    assert tree.by_net["-12V"].feeders[0].through == ("L1", "D1")
    assert "inverting" in codes(tree, "-12V")
    assert "-12V" not in tree.grounds


def test_a_sepic_couples_through_a_capacitor():
    """Coil from the input, capacitor from the switch node, second coil to ground, then a diode."""
    _, tree = tree_of(
        GROUND
        + USB
        + """
U1 LT3757 MSOP-10 1:VIN=VBUS 2:GND=GND 3:SW=SWN 4:FB=FBN
L1 10uH L_4x4 1=VBUS 2=SWN
C2 4.7u C_1206 1=SWN 2=MID
L2 10uH L_4x4 1=MID 2=GND
D1 SS34 SMA 1:K=VOUT9 2:A=MID
C3 22u C_1210 1=VOUT9 2=GND
C4 22u C_1210 1=VOUT9 2=GND
"""
    )
    assert feeder(tree, "VOUT9") == ("U1", "VBUS", "boost")
    assert "D1" in tree.by_net["VOUT9"].feeders[0].through


def test_a_four_switch_buck_boost():
    """The coil lies between two switch nodes of one chip."""
    _, tree = tree_of(
        GROUND
        + CELL
        + """
U1 TPS63000 QFN-10 1:VIN=VCELL 2:GND=GND 3:L1=LA 4:L2=LB 5:VOUT=+3V3 6:FB=+3V3
L1 2.2uH L_4x4 1=LA 2=LB
C2 22u C_0805 1=+3V3 2=GND
C3 22u C_0805 1=+3V3 2=GND
"""
    )
    assert feeder(tree, "+3V3")[:2] == ("U1", "VCELL")


@pytest.mark.parametrize("named", [True, False])
def test_a_charge_pump_that_inverts(named):
    """One flying capacitor between two own pins, the output holds a capacitor to ground."""
    names = (":CAP+", ":CAP-", ":VOUT", ":V+") if named else ("", "", "", "")
    _, tree = tree_of(
        GROUND
        + USB
        + f"""
U1 TPS60403 SOT-23-5 1{names[2]}=VNEG 2{names[3]}=VBUS 3{names[1]}=CM 4=GND 5{names[0]}=CP
C2 1u C_0603 1=CP 2=CM
C3 1u C_0603 1=VNEG 2=GND
U2 TL072 SO-8 1=OA 2=OB 3=OC 4:V-=VNEG 8:V+=VBUS
"""
    )
    if named:
        assert feeder(tree, "VNEG")[:2] == ("U1", "VBUS")
        assert "charge-pump" in codes(tree, "VNEG")
    elif "VNEG" in tree.by_net and tree.by_net["VNEG"].feeders:
        assert tree.by_net["VNEG"].feeders[0].part_id == "U1"
    assert "VNEG" not in tree.grounds


def test_the_pumped_supplies_of_a_line_driver():
    """Two flying capacitors; both outputs are rails, neither is ground."""
    _, tree = tree_of(
        GROUND
        + USB
        + """
U1 MAX3232 SO-16 1:C1+=A1 2:V+=VP 3:C1-=A2 4:C2+=B1 5:C2-=B2 6:V-=VM 15:GND=GND 16:VCC=VBUS
C2 100n C_0402 1=A1 2=A2
C3 100n C_0402 1=B1 2=B2
C4 100n C_0402 1=VP 2=VBUS
C5 100n C_0402 1=VM 2=GND
C6 100n C_0402 1=VBUS 2=GND
"""
    )
    for net in ("VP", "VM"):
        assert feeder(tree, net)[:2] == ("U1", "VBUS")
    assert not {"VP", "VM"} & set(tree.grounds)
    assert "A1" not in tree.by_net


def test_a_boost_without_pin_names_is_not_read_as_a_buck():
    """Without names the divider to the feedback pin tells which side is made."""
    _, tree = tree_of(
        GROUND
        + CELL
        + """
U1 TPS61022 QFN-7 1=VCELL 2=GND 3=SWN 4=VHI 5=FBN 6=VCELL 7=GND
L1 1uH L_4x4 1=VCELL 2=SWN
C2 22u C_0805 1=VHI 2=GND
C3 22u C_0805 1=VHI 2=GND
R1 732k R_0402 1=VHI 2=FBN
R2 100k R_0402 1=FBN 2=GND
"""
    )
    assert feeder(tree, "VHI") == ("U1", "VCELL", "boost")
    assert tree.by_net["VCELL"].kind == "entry"


def test_a_flyback_with_its_bias_winding():
    """Primary from the input, secondary and bias winding each behind a diode."""
    _, tree = tree_of(
        GROUND
        + """
J1 BARREL Barrel_Jack 1=VIN 2=GND
C1 100u C_1210 1=VIN 2=GND
C2 10u C_1210 1=VIN 2=GND
T1 750313 Transformer_EP10 1=VIN 2=DRAIN 3=BIAS 4=GND 5=SEC 6=GND2
Q1 IRF540 TO-220 1:G=GATE 2:D=DRAIN 3:S=CSN
R9 0R1 R_1206 1=CSN 2=GND
D1 SS34 SMA 1:K=ISO5V 2:A=SEC
C3 100u C_1210 1=ISO5V 2=GND2
C4 10u C_1210 1=ISO5V 2=GND2
C5 100n C_0402 1=ISO5V 2=GND2
C6 100n C_0402 1=ISOA 2=GND2
C7 100n C_0402 1=ISOB 2=GND2
U2 74LVC14 TSSOP-14 1=ISOA 2=ISOB 7:GND=GND2 14:VCC=ISO5V
D2 BAS16 SOD-123 1:K=VBIAS_SUP 2:A=BIASR
R1 10R R_0603 1=BIAS 2=BIASR
C8 22u C_0805 1=VBIAS_SUP 2=GND
C9 100n C_0402 1=VBIAS_SUP 2=GND
U1 UCC3809 SO-8 1:VDD=VBIAS_SUP 2:OUT=GATE 3:GND=GND 4:FB=FBN
"""
    )
    assert feeder(tree, "ISO5V")[:2] == ("T1", "VIN")
    assert "ISO5V" not in tree.grounds
    assert "VIN" not in tree.grounds


def test_an_isolated_module_by_its_pin_names():
    """VIN+ and VOUT+ with returns of their own: two grounds, one rail behind the module."""
    _, tree = tree_of(
        GROUND
        + USB
        + """
U1 TMR1-0511 SIP-8 1:VIN-=GND 2:VIN+=VBUS 6:VOUT+=+5VISO 7:VOUT-=GNDISO
C2 10u C_0805 1=+5VISO 2=GNDISO
C3 100n C_0402 1=+5VISO 2=GNDISO
C4 100n C_0402 1=IA 2=GNDISO
C5 100n C_0402 1=IB 2=GNDISO
U2 STM32F103 LQFP-48 1:VDD=+5VISO 2:VSS=GNDISO 3:PA0=IA 4:PA1=IB 5:VSSA=GNDISO
"""
    )
    assert feeder(tree, "+5VISO")[:2] == ("U1", "VBUS")
    assert set(tree.grounds) == {"GND", "GNDISO"}


def test_a_mains_transformer_with_its_bridge():
    """The secondary's ends are no grounds; the bridge feeds the rail."""
    _, tree = tree_of(
        GROUND
        + """
J1 TERMINAL TerminalBlock 1=L 2=N
T1 TRANSF_230/9 Transformer 1=L 2=N 3=AC1 4=AC2
D1 MB6S MB6S 1:~=AC1 2:~=AC2 3:+=VRAW 4:-=GND
C1 470u CP_Radial 1=VRAW 2=GND
C2 100n C_0603 1=VRAW 2=GND
U1 L7805 TO-220 1:IN=VRAW 2:GND=GND 3:OUT=+5V
C3 10u C_0805 1=+5V 2=GND
"""
    )
    assert feeder(tree, "VRAW")[0] == "D1"
    assert feeder(tree, "+5V") == ("U1", "VRAW", "linear")
    assert not {"VRAW", "AC1", "AC2"} & set(tree.grounds)


def test_a_module_whose_outputs_have_no_names_stays_unsure():
    """Nothing but the lack of other feeders speaks for it: other chips are on the rails too."""
    pins = " ".join(f"{n}=S{n}" for n in range(10, 40))
    _, tree = tree_of(
        GROUND
        + USB
        + f"""
U1 SOM_X9 Module_40P 1=VBUS 2=GND 3=+1V8 4=+3V3 5=+2V5 {pins}
U2 MT41K128 BGA-96 1:VDD=+1V8 2:VSS=GND 3:DQ0=S10 4:DQ1=S11 5:BA0=S12
U3 W25Q64 SO-8 8:VCC=+3V3 4:GND=GND 1:CS=S20 2:DO=S21 5:DI=S22 6:CLK=S23
U4 BMP280 LGA-8 1:VDD=+2V5 2:GND=GND 3:SDA=S24 4:SCL=S25
C2 10u C_0603 1=+1V8 2=GND
C3 10u C_0603 1=+3V3 2=GND
C4 10u C_0603 1=+2V5 2=GND
"""
    )
    for net in ("+1V8", "+3V3", "+2V5"):
        rail = tree.by_net[net]
        assert rail.confidence < 0.6
        assert not rail.feeders or rail.feeders[0].part_id == "U1"


def test_an_input_that_pin_names_do_not_tell_is_not_sure():
    """A converter without pin names between two supplies that could both be its input."""
    _, tree = tree_of(
        GROUND
        + USB
        + """
J2 BARREL Barrel_Jack 1=+12V 2=GND
C2 10u C_0603 1=+12V 2=GND
U1 TLV62569 SOT-563 1=VBUS 2=GND 3=SWN 4=+12V 5=FBN
L1 2.2uH L_2520 1=SWN 2=CORE
C3 22u C_0805 1=CORE 2=GND
R1 100k R_0402 1=CORE 2=FBN
R2 100k R_0402 1=FBN 2=GND
"""
    )
    assert tree.by_net["CORE"].feeders[0].part_id == "U1"
    assert tree.by_net["CORE"].confidence < 0.6
