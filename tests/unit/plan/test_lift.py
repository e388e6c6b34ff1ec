# SPDX-License-Identifier: GPL-3.0-or-later
"""One test a rule of the lift table; the rules are bench practice 2, 4, 5, 7 (no outer source)."""

from __future__ import annotations

import pytest

from netgraph.errors import UnknownNameError
from netgraph.plan.keep_list import KeepWord
from netgraph.plan.lift import lift_table
from netgraph.plan.lift_types import LiftRow
from netgraph.rails.tree import SwitchNode
from netgraph.roles.answer import NetKind, Role
from tests.unit.plan.sketch import Sketch, recorder


def rows_of(sketch: Sketch, **keep: KeepWord) -> dict[str, LiftRow]:
    table = lift_table(*sketch.done(), sketch.rails[0].net, keep=keep, whole_board=True)
    return {row.part_id: row for row in table.rows}


def verdict(sketch: Sketch, part_id: str, **keep: KeepWord) -> tuple[str, str]:
    row = rows_of(sketch, **keep)[part_id]
    return row.verdict, row.why.code


def test_kept_parts_are_keep_or_replace() -> None:
    rows = rows_of(recorder())
    assert [rows[one].verdict for one in ("U1", "U2")] == ["keep", "keep"]
    assert [rows[one].verdict for one in ("U3", "Y1", "J1")] == ["replace"] * 3


def test_without_a_clear_goal_every_verdict_is_unsure() -> None:
    s = Sketch().rail("3V3", "entry", 3.3)
    s.part("C1", "capacitor", "3V3", "GND", farad=1e-6)
    s.part("C2", "capacitor", "3V3", "GND", farad=1e-6)
    assert {row.verdict for row in rows_of(s).values()} == {"unsure"}


def test_one_of_two_alike_capacitors_may_go() -> None:
    assert verdict(recorder(), "C1") == ("lift", "cap-spare")


def test_the_last_capacitor_of_a_needed_rail_needs_a_like_one() -> None:
    assert verdict(recorder(), "C3") == ("replace", "cap-only-one")


def test_after_one_lift_the_other_capacitor_is_the_last() -> None:
    board, roles, tree = recorder().done()
    after = lift_table(board.without({"C1"}), roles, tree, "3V3")
    rows = {row.part_id: row for row in after.rows}
    assert "C1" not in rows
    assert rows["C2"].verdict == "replace"


def test_a_small_capacitor_does_not_stand_in_for_a_large_one() -> None:
    s = recorder().part("C20", "capacitor", "VIN", "GND", farad=10e-6)
    assert verdict(s, "C20") == ("replace", "cap-last-of-kind")
    assert verdict(s, "C3") == ("lift", "cap-spare")


def test_a_converter_output_keeps_half_of_its_capacitance() -> None:
    """Beside C1 and C2 (1 uF each): 9.9 uF is less than half of 20 uF, 10.1 is more than half."""
    s = recorder().part("C20", "capacitor", "3V3", "GND", farad=10e-6)
    s.part("C21", "capacitor", "3V3", "GND", farad=7.9e-6)
    assert verdict(s, "C20") == ("replace", "cap-too-little-left")
    s.part("C22", "capacitor", "3V3", "GND", farad=0.2e-6)
    assert verdict(s, "C20") == ("lift", "cap-spare")


def test_a_capacitor_of_unknown_value_on_a_needed_rail_is_unsure() -> None:
    assert verdict(recorder().part("C20", "capacitor", "3V3", "GND"), "C20") == (
        "unsure",
        "cap-value-unknown",
    )


def test_a_capacitor_of_an_unneeded_rail_may_go_though_it_is_the_only_one() -> None:
    assert verdict(recorder(), "C4") == ("lift", "cap-rail-not-needed")


def test_a_load_capacitor_of_a_kept_crystal_stays() -> None:
    assert verdict(recorder(), "C9") == ("keep", "cap-crystal-load")


@pytest.mark.parametrize("kind", ["reset", "enable", "signal", "switch-node", "unknown"])
def test_a_capacitor_on_no_supply_is_unsure(kind: str) -> None:
    s = recorder().part("C20", "capacitor", "N", "GND", farad=1e-7).net("N", kind)  # type: ignore[arg-type]
    assert verdict(s, "C20") == ("unsure", "cap-on-signal")


def test_a_capacitor_between_two_needed_rails_needs_a_like_one() -> None:
    s = recorder().part("C20", "capacitor", "3V3", "VIN", farad=1e-7)
    assert verdict(s, "C20") == ("replace", "cap-serves")


def test_a_capacitor_on_a_rail_that_is_not_sure_is_unsure() -> None:
    s = recorder().rail("MAYBE", "unknown", None, confidence=0.3)
    s.part("C20", "capacitor", "MAYBE", "GND", farad=1e-7)
    assert verdict(s, "C20") == ("unsure", "net-not-surely-rail")


@pytest.mark.parametrize("role", ["capacitor", "resistor", "tvs", "radio"])
def test_nothing_on_a_high_voltage_net_comes_off_before_it_is_bled(role: str) -> None:
    s = recorder().rail("FLASH", "entry", 300.0).net("FLASH", "high-voltage", 300.0)
    s.part("X1", role, "FLASH", "GND", farad=1e-6, ohm=1e5)  # type: ignore[arg-type]
    assert verdict(s, "X1") == ("unsure", "lift-high-voltage")


def test_a_ferrite_in_the_only_supply_needs_a_wire_and_may_be_opened_to_test() -> None:
    row = rows_of(recorder())["FB1"]
    assert row.verdict == "lift-and-jumper"
    assert row.open_to_test
    assert row.jumper is not None
    assert (row.jumper.from_pad, row.jumper.to_pad) == ("FB1.1", "FB1.2")
    assert row.jumper.wire_mm >= 0.3
    assert {"VIN", "3V3"} <= set(row.loses)


@pytest.mark.parametrize("role", ["fuse", "sense-resistor"])
def test_a_jumper_over_protection_says_so(role: str) -> None:
    s = Sketch().rail("VBUS", "entry", 5.0).rail("VIN", "filtered", 5.0, ("F1", "VBUS"))
    s.part("J1", "connector", "VBUS", "GND").part("F1", role, "VBUS", "VIN")  # type: ignore[arg-type]
    s.part("U1", "processor", "VIN", "GND")
    row = rows_of(s)["F1"]
    assert row.verdict == "lift-and-jumper"
    assert row.jumper is not None
    assert row.jumper.caution.code == "jumper-protection"
    assert not row.open_to_test


def test_a_converter_coil_may_be_opened_but_stays_at_the_end() -> None:
    row = rows_of(recorder())["L1"]
    assert (row.verdict, row.why.code, row.open_to_test) == ("keep", "coil-needed", True)


def test_a_coil_of_an_unneeded_converter_may_go() -> None:
    s = recorder().rail("MOTOR", "boost", 9.0, ("U8", "VIN"), through=("L2",))
    s.part("U8", "regulator", "VIN", "SW2", "MOTOR", "GND").part("L2", "inductor", "VIN", "SW2")
    s.net("SW2", "switch-node")
    s.switch_nodes.append(SwitchNode("SW2", "U8", "L2", "VIN", "MOTOR", "boost"))
    assert verdict(s, "L2") == ("lift", "coil-not-needed")


def test_a_diode_in_the_only_supply_is_replaced_and_never_bridged() -> None:
    s = Sketch().rail("VBUS", "entry", 5.0).rail("VIN", "filtered", 4.7, ("D1", "VBUS"))
    s.part("J1", "connector", "VBUS", "GND").part("D1", "diode", "VBUS", "VIN")
    s.part("U1", "processor", "VIN", "GND")
    row = rows_of(s)["D1"]
    assert (row.verdict, row.jumper) == ("replace", None)
    assert row.cautions[0].code == "jumper-diode"


def test_one_of_two_ways_into_a_needed_rail_is_unsure() -> None:
    s = Sketch().rail("A", "entry", 5.0).rail("B", "entry", 5.0)
    s.rail("SYS", "filtered", 4.7, ("D1", "A"), ("D2", "B"))
    s.part("JA", "connector", "A", "GND").part("JB", "connector", "B", "GND")
    s.part("D1", "diode", "A", "SYS").part("D2", "diode", "B", "SYS")
    s.part("U1", "processor", "SYS", "GND")
    assert verdict(s, "D1") == ("unsure", "series-one-of-several")


def test_a_wrong_second_feeder_does_not_make_the_true_one_spare() -> None:
    """A feeder below the confidence to act on is no reason to let the sure one go."""
    s = recorder().rail("AUX", "entry", 5.0).part("J9", "connector", "AUX", "GND")
    s.part("R9", "resistor", "AUX", "VIN", ohm=10.0)
    sure = s.rails[1].feeders[0]
    doubtful = type(sure)("R9", "AUX", "filtered", 0.3)
    s.rails[1] = type(s.rails[1])("VIN", "filtered", 5.0, (sure, doubtful), confidence=0.9)
    assert verdict(s, "FB1")[0] == "lift-and-jumper"


def test_a_clamp_from_a_rail_to_ground_may_go_with_a_warning() -> None:
    row = rows_of(recorder().part("D5", "tvs", "VBUS", "GND"))["D5"]
    assert (row.verdict, row.why.code) == ("lift", "clamp-spare")
    assert row.cautions[0].code == "clamp-gone"


def test_a_clamp_on_a_kept_signal_goes_with_a_caution() -> None:
    row = rows_of(recorder().part("D5", "tvs", "SCL", "GND"))["D5"]
    assert (row.verdict, row.why.code) == ("lift", "load-leaf")
    assert [one.code for one in row.cautions] == ["line-clamp-gone"]


def test_a_load_that_shares_no_signal_with_a_kept_chip_may_go() -> None:
    assert verdict(recorder(), "U5") == ("lift", "load-not-needed")


def test_a_sensor_on_a_bus_of_a_kept_chip_is_a_leaf_and_the_net_is_named() -> None:
    row = rows_of(recorder())["U6"]
    assert (row.verdict, row.why.code) == ("lift", "load-leaf")
    assert row.floats == ()  # R2 pulls it
    assert "SCL" in row.why.text
    assert "U1" in row.why.text


def test_a_bus_behind_a_series_resistor_is_still_shared() -> None:
    s = recorder().part("R9", "resistor", "SCL", "SCL_FAR", ohm=33.0)
    s.part("U9", "fuel-gauge", "3V3", "GND", "SCL_FAR")
    assert verdict(s, "U9") == ("unsure", "load-shares")


def test_a_chip_that_may_be_the_way_between_two_on_kept_lines_is_unsure() -> None:
    s = recorder()
    for ref, line, far in (("U61", "SCL", "W1"), ("U62", "CMD", "W2")):
        s.part(ref, "level-shifter", "3V3", "GND", line, far)
    s.part("U63", "analog-switch", "3V3", "GND", "W1", "W2")
    assert verdict(s, "U63") == ("unsure", "load-between")


def test_a_chip_beside_another_on_a_net_of_unknown_kind_is_unsure() -> None:
    s = recorder().net("DIM", "unknown").part("U61", "sensor", "3V3", "GND", "DIM")
    s.part("U62", "sensor", "3V3", "GND", "DIM")
    assert verdict(s, "U61") == ("unsure", "load-between")


def test_a_feeder_of_unneeded_rails_may_go_though_a_kept_chip_enables_it() -> None:
    row = rows_of(recorder())["U4"]
    assert (row.verdict, row.why.code) == ("lift", "feeder-not-needed")
    assert row.loses == ("RADIO",)


def test_a_feedback_divider_of_a_needed_converter_stays() -> None:
    rows = rows_of(recorder())
    assert [rows[one].verdict for one in ("R1", "R2")] == ["keep", "keep"]


def test_a_feedback_divider_of_an_unneeded_converter_waits_for_its_converter() -> None:
    s = recorder().part("R8", "resistor", "RADIO", "FB2", ohm=1e5)
    s.part("U44", "regulator", "3V3", "FB2", "AUX", "GND").rail(
        "AUX", "linear", 1.0, ("U44", "3V3")
    )
    assert verdict(s, "R8") == ("keep", "resistor-sets-converter")


def test_a_pull_up_of_a_kept_chip_is_not_lifted_and_names_the_net() -> None:
    row = rows_of(recorder())["R3"]
    assert (row.verdict, row.why.code) == ("replace", "resistor-pull")
    assert "SCL" in row.why.text


def test_a_lamp_and_its_resistor_may_go() -> None:
    rows = rows_of(recorder())
    assert (rows["R4"].verdict, rows["D1"].verdict) == ("lift", "lift")


def test_a_lamp_on_a_pin_of_a_kept_chip_may_be_a_strap() -> None:
    s = recorder().part("R8", "resistor", "3V3", "LA", ohm=1e3).part("D8", "led", "LA", "LAMP")
    rows = rows_of(s)
    assert rows["R8"].verdict == "replace"
    assert [one.code for one in rows["D8"].cautions] == ["lamp-may-strap"]


def test_both_legs_of_a_reference_divider_stay() -> None:
    s = recorder().rail("VREF", "reference", 1.65, ("R8", "3V3"))
    s.part("R8", "resistor", "3V3", "VREF", ohm=1e4).part("R9", "resistor", "VREF", "GND", ohm=1e4)
    s.part("U2B", "memory", "VREF", "3V3", "GND")
    rows = rows_of(s)
    assert [rows[one].verdict for one in ("R8", "R9")] == ["keep", "keep"]


def test_a_leg_of_a_reference_that_is_no_rail_of_the_tree_is_not_lifted() -> None:
    s = recorder().net("VREF", "reference", 1.65)
    s.part("R8", "resistor", "3V3", "VREF", ohm=1e4).part("R9", "resistor", "VREF", "GND", ohm=1e4)
    s.part("U2B", "memory", "VREF", "3V3", "GND")
    rows = rows_of(s)
    assert [rows[one].verdict for one in ("R8", "R9")] == ["replace", "replace"]


def test_a_base_resistor_of_a_transistor_on_a_kept_line_is_not_lifted() -> None:
    s = recorder().part("R8", "resistor", "3V3", "BASE", ohm=1e4)
    s.part("Q8", "transistor", "BASE", "SCL", "GND")
    assert verdict(s, "R8") == ("unsure", "load-hangs-on")


def test_a_part_of_unknown_role_with_many_pads_is_unsure() -> None:
    s = recorder().part("U9", "unknown", "3V3", "GND", "a", "b", "c", "d", confidence=0.9)
    assert verdict(s, "U9") == ("unsure", "lift-might-hold-data")


def test_no_part_below_the_confidence_to_act_on_is_lifted() -> None:
    s = recorder().part("C20", "capacitor", "3V3", "GND", farad=1e-7, confidence=0.5)
    assert verdict(s, "C20") == ("unsure", "lift-role-unsure")


def test_a_missing_feeder_makes_what_might_feed_unsure_and_names_the_rail() -> None:
    s = recorder().rail("CORE", "unknown", 0.9)
    s.part("U1C", "memory", "CORE", "GND").part("Q1", "transistor", "G", "3V3", "CORE")
    row = rows_of(s)["Q1"]
    assert (row.verdict, row.why.code) == ("unsure", "lift-feeder-missing")
    assert "CORE" in row.why.text


@pytest.mark.parametrize(("ohm", "concerned"), [(10.0, True), (None, True), (10e3, False)])
def test_a_resistor_might_feed_only_if_it_is_small(ohm: float | None, concerned: bool) -> None:
    s = recorder().rail("CORE", "unknown", 0.9).part("U1C", "memory", "CORE", "GND")
    s.part("R9", "resistor", "3V3", "CORE", ohm=ohm)
    assert (verdict(s, "R9")[1] == "lift-feeder-missing") is concerned


def test_rails_that_might_feed_a_rail_in_doubt_count_as_needed() -> None:
    s = recorder().rail("CORE", "unknown", 0.9)
    s.part("U1C", "memory", "CORE", "GND").part("Q1", "transistor", "G", "RADIO", "CORE")
    assert verdict(s, "C4") == ("replace", "cap-only-one")


def test_a_part_of_unsure_role_between_a_needed_rail_and_another_puts_the_other_in_doubt() -> None:
    """The cell's sense resistor was not recognised: the fuse before it is not free to go."""
    s = recorder().rail("CELL", "entry", 3.8).rail("FUSED", "filtered", 3.8, ("F1", "CELL"))
    s.part("J7", "connector", "CELL", "GND").part("F1", "fuse", "CELL", "FUSED")
    s.part("C30", "capacitor", "FUSED", "GND", farad=1e-6)
    s.part("R7", "resistor", "FUSED", "VIN", confidence=0.4)
    rows = rows_of(s)
    assert [rows[one].verdict for one in ("F1", "C30", "R7")] == ["unsure", "replace", "unsure"]


def test_the_backlight_converter_of_a_kept_screen_connector_may_go() -> None:
    s = recorder().rail("BACKLIGHT_19V", "boost", 19.0, ("U7", "VIN"), through=("L7",))
    s.part("U7", "regulator", "VIN", "SW7", "BACKLIGHT_19V", "GND")
    s.part("L7", "inductor", "VIN", "SW7").net("SW7", "switch-node")
    s.part("J2", "connector", "3V3", "BACKLIGHT_19V", "SCL", "GND", value="LCD")
    rows = rows_of(s)
    assert [rows[one].verdict for one in ("U7", "L7", "J2")] == ["lift", "lift", "replace"]


def test_a_load_switch_of_an_unneeded_rail_may_go() -> None:
    s = recorder().rail("AUX", "switched", 3.3, ("U8", "3V3"))
    s.part("U8", "load-switch", "3V3", "AUX", "GND").part("U9", "audio", "AUX", "GND")
    assert verdict(s, "U8") == ("lift", "feeder-not-needed")


def test_a_transistor_between_rails_whose_task_is_not_known_is_unsure() -> None:
    s = recorder().part("Q9", "transistor", "G9", "VIN", "3V3")
    assert verdict(s, "Q9") == ("unsure", "switch-unclear")


def test_a_test_point_gains_nothing() -> None:
    assert verdict(recorder(), "TP1") == ("keep", "lift-no-gain")


def test_parts_that_are_not_fitted_do_not_appear() -> None:
    s = recorder().part("C30", "capacitor", "3V3", "GND", farad=1e-6, fitted=False)
    assert "C30" not in rows_of(s)


def test_a_persons_no_frees_a_part_only_if_no_needed_supply_runs_over_it() -> None:
    assert verdict(recorder(), "U2", U2="no") == ("lift", "lift-user-no")
    assert verdict(recorder(), "U3", U3="no") == ("unsure", "lift-user-no-but-needed")


def test_only_parts_on_the_net_are_listed_unless_asked() -> None:
    board, roles, tree = recorder().done()
    table = lift_table(board, roles, tree, "RADIO")
    assert [row.part_id for row in table.rows] == ["U4", "U5", "C4"]


def test_json_has_the_fields_of_the_contract() -> None:
    answer = lift_table(*recorder().done(), "VIN").as_json()
    assert {"goal", "keeps", "parts"} <= answer.keys()
    parts = answer["parts"]
    assert isinstance(parts, list)
    wanted = {"ref", "verdict", "why", "loses", "frees", "jumper", "open_to_test"}
    assert all(wanted <= row.keys() for row in parts)


def test_an_unknown_net_is_refused_with_near_names() -> None:
    with pytest.raises(UnknownNameError) as caught:
        lift_table(*recorder().done(), "3v3x")
    assert "3V3" in caught.value.near


def test_a_capacitor_of_a_chip_that_is_not_free_to_go_is_not_said_to_be_of_no_use():
    """A rail the goal doesn't name may still feed a chip on the kept parts' lines (a bridge)."""
    from netgraph.plan.lift import lift_table
    from netgraph.rails import find_rails
    from netgraph.roles import find_roles
    from tests.unit.circuits import GROUND, circuit

    board = circuit(
        GROUND
        + """
J1 USB_C USB_C_Receptacle A4:VBUS=VBUS A1:GND=GND A6:D+=DP A7:D-=DM
C1 10u C_0603 1=VBUS 2=GND
U1 AMS1117-3.3 SOT-223 1:GND=GND 2:VO=+3V3 3:VI=VBUS
C2 22u C_0805 1=+3V3 2=GND
C3 22u C_0805 1=+3V3 2=GND
U2 STM32F407 LQFP-100 1:VDD=+3V3 2:VSS=GND 3=DP 4=DM 5=B0 6=B1 7=B2
U3 AP2112K-1.8 SOT-23-5 1:VIN=VBUS 2:GND=GND 3:EN=VBUS 5:VOUT=+1V8
C4 10u C_0603 1=+1V8 2=GND
FB1 600R@100MHz L_0603 1=+1V8 2=VBR
C5 1u C_0402 1=VBR 2=GND
U4 ANX6345 BGA-81 1:VDD=VBR 2:VSS=GND 3=B0 4=B1 5=B2 6=LCD0
U5 KLM8G1GETF BGA-153 1:VCC=+3V3 2:VSS=GND 3=LCD0
"""
    )
    roles = find_roles(board)
    rows = {
        row.part_id: row
        for row in lift_table(board, roles, find_rails(board, roles), "+1V8", whole_board=True).rows
    }
    assert rows["U4"].verdict == "unsure"
    assert rows["C4"].verdict == "replace"  # behind FB1 sits U4
    assert rows["C5"].verdict == "replace"
    assert rows["FB1"].verdict == "unsure"


def test_a_line_that_nobody_drives_after_a_lift_is_named_with_where_to_pull_it() -> None:
    s = recorder().part("U7", "sensor", "3V3", "GND", "SENSE_INT_N", "SENSE_RDY")
    s.part("U1C", "memory", "3V3", "GND", "SENSE_INT_N", "SENSE_RDY")
    row = rows_of(s)["U7"]
    assert row.verdict == "lift"
    assert {one.net: one.pull_to for one in row.floats} == {
        "SENSE_INT_N": "3V3",
        "SENSE_RDY": "GND",
    }


@pytest.mark.parametrize("role", ["interface", "level-shifter", "analog-switch", "other"])
def test_what_may_carry_signals_between_two_kept_parts_is_no_leaf(role: Role) -> None:
    """Directly, or over a second chip that is not kept either."""
    direct = recorder().part("U7", role, "3V3", "GND", "LAMP", "CMD")
    assert verdict(direct, "U7") == ("unsure", "load-bridges")
    chain = recorder().part("U7", role, "3V3", "GND", "LAMP", "MID")
    chain.part("U8", "interface", "3V3", "GND", "MID", "CMD")
    assert verdict(chain, "U7")[0] == verdict(chain, "U8")[0] == "unsure"


@pytest.mark.parametrize("kind", ["reset", "enable", "clock"])
def test_what_may_drive_a_control_line_of_a_kept_part_is_no_leaf(kind: NetKind) -> None:
    s = recorder().part("U7", "interface", "3V3", "GND", "CTL").net("CTL", kind)
    s.part("U1C", "memory", "3V3", "GND", "CTL")
    assert verdict(s, "U7") == ("unsure", "load-may-drive")


def test_whatever_sits_on_the_enable_of_a_needed_converter_may_hold_it() -> None:
    s = recorder().part("U7", "audio", "3V3", "GND", "ON")
    s.rail("5V", "boost", 5.0, ("U8", "VIN")).part("U8", "regulator", "VIN", "5V", "ON", "GND")
    s.part("U1C", "memory", "5V", "GND")
    assert verdict(s, "U7") == ("unsure", "load-may-drive")


def test_a_bridge_to_the_screen_is_kept_even_behind_coupling_capacitors() -> None:
    s = recorder().part("U7", "interface", "3V3", "GND", "LAMP", "L0")
    s.part("C30", "capacitor", "L0", "LANE0", farad=1e-7)
    s.part("J9", "connector", "LANE0", "SCL", "GND", value="LCD panel")
    assert verdict(s, "U7") == ("replace", "keep-screen-path")


def test_an_array_of_pull_ups_on_kept_lines_needs_a_like_one() -> None:
    s = recorder().part("RN1", "resistor", "3V3", "CMD", "CLK")
    assert verdict(s, "RN1") == ("replace", "resistor-pull")
