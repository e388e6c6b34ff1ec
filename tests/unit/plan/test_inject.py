# SPDX-License-Identifier: GPL-3.0-or-later
"""The one rule of the injection ceiling and the first steps (bench practice section 5)."""

from __future__ import annotations

import pytest

from netgraph.errors import UnknownNameError
from netgraph.plan.inject import injection_plan
from netgraph.plan.inject_types import Injection
from tests.unit.plan.sketch import Sketch, recorder


def plan_of(sketch: Sketch, net: str, *bridges: tuple[str, str]) -> Injection:
    return injection_plan(*sketch.done(), net, bridges)


def also(plan: Injection) -> dict[str, bool]:
    return {one.net: one.counts for one in plan.also_powered}


def plain(volts: float | None = 3.3) -> Sketch:
    s = Sketch().rail("V", "entry", volts)
    return s.part("C1", "capacitor", "V", "GND", farad=1e-6, at=(3, 0))


def test_the_ceiling_of_a_rail_by_itself_is_its_nominal() -> None:
    plan = plan_of(plain(), "V")
    assert (plan.verdict, plan.max_volts) == ("ok", 3.3)
    assert plan.max_volts_because.code == "ceiling-own"


def test_first_step_stop_and_limits_of_a_plain_rail() -> None:
    plan = plan_of(plain(), "V")
    assert (plan.first_volts, plan.stop_volts, plan.max_amps) == (0.3, 1.0, 0.5)
    assert (plan.max_watts, plan.max_seconds) == (1.0, 5.0)


def test_the_stop_is_half_of_a_low_nominal() -> None:
    assert plan_of(plain(1.1), "V").stop_volts == pytest.approx(0.55)


def test_no_step_lies_above_the_stop() -> None:
    plan = plan_of(plain(0.5), "V")
    assert plan.first_volts <= plan.stop_volts == 0.25


def test_an_irreplaceable_chip_on_the_rail_caps_power_and_time() -> None:
    plan = plan_of(plain().part("U1", "memory", "V", "GND"), "V")
    assert (plan.max_watts, plan.max_seconds) == (0.25, 2.0)
    assert plan.first_volts * plan.max_amps <= plan.max_watts


def test_a_chip_of_unsure_role_with_many_pads_is_treated_as_irreplaceable() -> None:
    s = plain().part("U1", "sensor", "V", "GND", "a", "b", "c", "d", confidence=0.4)
    assert plan_of(s, "V").max_watts == 0.25


def test_an_unknown_nominal_gives_no_ceiling_and_at_most_the_first_step() -> None:
    plan = plan_of(plain(None), "V")
    assert (plan.verdict, plan.max_volts) == ("unsure", None)
    assert plan.max_volts_because.code == "ceiling-own-unknown"
    assert plan.first_volts <= 0.3
    assert plan.stop_volts <= 0.3


def test_a_nominal_below_the_confidence_to_act_on_gives_no_ceiling() -> None:
    s = Sketch().rail("V", "entry", 3.3, confidence=0.4)
    plan = plan_of(s.part("C1", "capacitor", "V", "GND"), "V")
    assert (plan.verdict, plan.max_volts) == ("unsure", None)


@pytest.mark.parametrize(
    ("role", "ohm", "counts"),
    [
        ("link", None, True),
        ("ferrite", None, True),
        ("inductor", None, True),
        ("fuse", None, True),
        ("sense-resistor", 0.01, True),
        ("resistor", 150.0, True),
        ("resistor", None, True),
        ("resistor", 151.0, False),
    ],
)
def test_what_counts_as_conducting(role: str, ohm: float | None, counts: bool) -> None:
    s = plain().rail("LOW", "filtered", 1.2)
    s.part("X1", role, "V", "LOW", ohm=ohm)  # type: ignore[arg-type]
    plan = plan_of(s, "V")
    assert also(plan) == {"LOW": counts}
    assert plan.max_volts == (1.2 if counts else 3.3)


@pytest.mark.parametrize(
    ("kind", "fed", "reached"),
    [
        ("buck", "OUT", True),
        ("buck", "V", False),
        ("linear", "OUT", True),
        ("linear", "V", False),
        ("switched", "OUT", True),
        ("switched", "V", False),
        ("boost", "OUT", False),
        ("boost", "V", True),
        ("unknown", "V", True),
        ("unknown", "OUT", True),
        ("charger", "V", True),
        ("charger", "OUT", True),
    ],
)
def test_converters_that_are_off_conduct_backwards(kind: str, fed: str, reached: bool) -> None:
    s = plain().rail("OUT", kind, 1.8, ("U3", "V"))  # type: ignore[arg-type]
    s.part("U3", "regulator", "V", "OUT", "GND")
    other = "V" if fed == "OUT" else "OUT"
    assert (other in also(plan_of(s, fed))) is reached


def test_a_feeder_below_the_confidence_to_act_on_conducts_both_ways() -> None:
    s = plain().rail("OUT", "buck", 1.8, ("U3", "V"), confidence=0.5)
    s.part("U3", "regulator", "V", "OUT", "GND").net("OUT", "rail", 1.8)
    assert plan_of(s, "V").max_volts == 1.8


def test_an_inner_supply_of_a_charger_comes_alive_only_when_the_charger_runs() -> None:
    s = plain().rail("REGN", "charger", None, ("U3", "V"))
    s.part("U3", "charger", "V", "REGN", "GND").part("C9", "capacitor", "REGN", "GND")
    assert plan_of(s, "V").max_volts == 3.3
    assert plan_of(s, "REGN").max_volts is None


def test_a_power_manager_of_unknown_input_feeds_back_into_all_its_supplies() -> None:
    s = plain().rail("VIO", "entry", 1.2).rail("OUT", "buck", 3.3, ("U3", None))
    s.part("U3", "power-manager", "V", "VIO", "OUT", "GND")
    assert plan_of(s, "OUT").max_volts == 1.2


def test_a_power_chip_the_tree_could_not_place_joins_all_its_rails() -> None:
    s = plain().rail("LOW", "entry", 1.0).part("U3", "load-switch", "V", "LOW", "GND")
    assert plan_of(s, "V").max_volts == 1.0


def test_separate_supply_pins_of_a_load_are_not_joined() -> None:
    s = plain().rail("CORE", "entry", 0.9).part("U1", "processor", "V", "CORE", "GND")
    assert plan_of(s, "V").max_volts == 3.3


def test_a_diode_conducts_from_anode_to_cathode_only() -> None:
    def made(v_name: str, low_name: str) -> Sketch:
        s = plain().rail("LOW", "entry", 1.2)
        return s.part("D1", "diode", "V", "LOW", names={"V": v_name, "LOW": low_name})

    assert plan_of(made("A", "K"), "V").max_volts == 1.2
    assert plan_of(made("K", "A"), "V").max_volts == 3.3
    assert plan_of(made("", ""), "V").max_volts == 1.2


@pytest.mark.parametrize(("value", "lid"), [("BZX84C2V4", 1.2), ("zener", 1.2), ("1N4148", 3.3)])
def test_a_zener_diode_passes_backwards_too(value: str, lid: float) -> None:
    s = plain().rail("LOW", "entry", 1.2)
    s.part("D1", "diode", "V", "LOW", names={"V": "K", "LOW": "A"}, value=value)
    assert plan_of(s, "V").max_volts == lid


def test_a_pair_of_diodes_with_one_cathode_passes_from_each_anode_alone() -> None:
    s = plain().rail("LOW", "entry", 1.2).rail("OUT", "entry", 5.0)
    s.part("D1", "diode", "V", "LOW", "OUT", names={"V": "A1", "LOW": "A2", "OUT": "K"})
    assert also(plan_of(s, "V")) == {"OUT": True}
    assert plan_of(s, "OUT").max_volts == 5.0


@pytest.mark.parametrize(
    ("ohms", "counts"), [((220.0,) * 4, True), ((220.0,), False), ((400.0, 400.0), False)]
)
def test_resistors_side_by_side_count_together(ohms: tuple[float, ...], counts: bool) -> None:
    """Four of 220 ohm are 55 ohm, two of 400 are 200: the rule is 150 (architecture)."""
    s = plain().rail("LOW", "entry", 1.2)
    for number, ohm in enumerate(ohms):
        s.part(f"R{number}", "resistor", "V" if number % 2 else "LOW",
               "LOW" if number % 2 else "V", ohm=ohm)  # fmt: skip
    assert plan_of(s, "V").max_volts == (1.2 if counts else 3.3)


def test_a_current_sensor_is_a_wire_between_its_pins() -> None:
    s = plain().rail("LOW", "entry", 1.2)
    s.part("U1", "sensor", "V", "N1", "GND", names={"V": "IP+", "N1": "IP-"})
    s.part("R1", "resistor", "N1", "LOW", ohm=47.0)
    assert plan_of(s, "V").max_volts == 1.2


def test_a_small_chip_that_nobody_can_tell_may_join_its_supplies() -> None:
    s = plain().rail("LOW", "entry", 1.2)
    s.part("U1", "unknown", "V", "LOW", "GND", "EN", confidence=0.2)
    assert plan_of(s, "V").max_volts == 1.2


def test_a_transistor_conducts_both_ways_but_not_through_a_named_gate() -> None:
    s = plain().rail("LOW", "entry", 1.2).rail("GATE", "entry", 0.8)
    s.part("Q1", "transistor", "V", "LOW", "GATE", names={"GATE": "G", "V": "D", "LOW": "S"})
    assert plan_of(s, "V").max_volts == 1.2
    assert plan_of(s, "LOW").max_volts == 1.2


def test_a_signal_behind_a_link_feeds_a_chip_through_its_pin() -> None:
    s = plain().rail("VIO", "entry", 1.2).part("R1", "resistor", "V", "SIG", ohm=33.0)
    s.part("U1", "memory", "SIG", "VIO", "GND")
    plan = plan_of(s, "V")
    assert plan.max_volts == 1.2
    assert also(plan) == {"VIO": True, "SIG": False}
    assert plan.max_watts == 0.25


def test_a_bridge_still_believed_in_lowers_the_ceiling() -> None:
    s = plain().rail("LOW", "entry", 1.1).part("C9", "capacitor", "LOW", "GND")
    assert plan_of(s, "V").max_volts == 3.3
    plan = plan_of(s, "V", ("LOW", "V"))
    assert plan.max_volts == 1.1
    assert plan.also_powered[0].through == "bridge"


def test_a_typed_supply_pin_on_an_unnamed_net_counts_and_its_nominal_is_missing() -> None:
    s = plain().part("FB1", "ferrite", "V", "N1")
    s.part("U1", "radio", "N1", "GND", types={"N1": "power_in"})
    plan = plan_of(s, "V")
    assert (plan.verdict, plan.max_volts) == ("unsure", None)


def test_a_net_tie_counts() -> None:
    s = plain().rail("LOW", "entry", 1.0)
    index = s.builder.add_part("NT1")
    for pin, net in (("1", "V"), ("2", "LOW")):
        s.builder.add_pad(index, pin, net)
    s.builder.add_net_tie(index, ("1", "2"))
    assert plan_of(s, "V").max_volts == 1.0


@pytest.mark.parametrize("kind", ["ground", "signal", "clock", "switch-node", "high-voltage"])
def test_nets_that_are_no_supply_are_refused(kind: str) -> None:
    s = plain().part("C2", "capacitor", "N", "GND").net("N", kind)  # type: ignore[arg-type]
    plan = plan_of(s, "N")
    assert (plan.verdict, plan.first_volts, plan.max_amps, plan.points) == ("no", 0.0, 0.0, ())
    assert plan.vetoes[0] == plan.why


def test_a_net_of_unknown_kind_gets_the_first_step_only() -> None:
    s = plain().part("C2", "capacitor", "N", "GND").net("N", "unknown", 3.3)
    plan = plan_of(s, "N")
    assert (plan.verdict, plan.max_volts) == ("unsure", None)
    assert plan.stop_volts <= 0.3


def test_a_negative_rail_is_refused() -> None:
    assert plan_of(plain(-5.0), "V").verdict == "no"


def test_reaching_a_negative_rail_gives_no_ceiling() -> None:
    s = plain().rail("NEG", "entry", -5.0).part("R1", "resistor", "V", "NEG", ohm=10.0)
    plan = plan_of(s, "V")
    assert (plan.verdict, plan.max_volts) == ("unsure", None)


def test_a_high_voltage_net_that_may_be_reached_is_a_veto_until_bled() -> None:
    s = plain().net("FLASH", "high-voltage", 300.0).part("D1", "diode", "V", "FLASH")
    assert "FLASH" in [dict(one.params).get("net") for one in plan_of(s, "V").vetoes]


def test_cell_wet_and_solvent_are_always_vetoes() -> None:
    codes = {one.code for one in plan_of(plain(), "V").vetoes}
    assert {"veto-cell", "veto-wet", "veto-solvent"} <= codes


def test_points_far_from_the_processor_come_first() -> None:
    s = plain().part("C2", "capacitor", "V", "GND", at=(9, 0)).part("U1", "processor", "V", "GND")
    assert [one.ref for one in plan_of(s, "V").points] == ["C2", "C1"]


def test_capacitors_below_0402_are_no_points() -> None:
    s = Sketch().rail("V", "entry", 3.3)
    s.part("C1", "capacitor", "V", "GND", at=(3, 0), pitch_mm=0.64, pad_mm=0.4)
    plan = plan_of(s, "V")
    assert plan.points == ()
    assert "inject-no-point" in [one.code for one in plan.warnings]


def test_json_has_the_fields_of_the_contract() -> None:
    wanted = (
        "verdict points first_volts stop_volts max_volts max_volts_because max_amps max_watts "
        "max_seconds also_powered vetoes warnings"
    )
    answer = plan_of(recorder(), "3V3").as_json()
    assert set(wanted.split()) <= answer.keys()
    points = answer["points"]
    assert isinstance(points, list)
    assert all({"ref", "pin", "side", "x_mm", "y_mm", "why"} <= one.keys() for one in points)


def test_unknown_names_are_refused() -> None:
    with pytest.raises(UnknownNameError):
        plan_of(plain(), "W")
    with pytest.raises(UnknownNameError):
        plan_of(plain(), "V", ("V", "W"))


def test_a_charger_joins_input_system_and_cell_whichever_way_the_tree_has_them() -> None:
    s = plain(3.7).rail("SYS", "charger", None, ("U3", "BUS")).rail("BUS", "entry", 5.0)
    s.part("U3", "charger", "V", "SYS", "BUS", "GND").part("U4", "regulator", "SYS", "GND")
    plan = plan_of(s, "V")
    assert (plan.verdict, plan.max_volts) == ("unsure", None)
    assert plan.to_note == ("SYS",)


def test_what_a_converter_feeds_forwards_is_listed_apart_and_caps_the_power() -> None:
    s = plain().rail("OUT", "buck", 1.8, ("U3", "V")).rail("FAR", "filtered", 1.8, ("FB1", "OUT"))
    s.part("U3", "regulator", "V", "OUT", "GND").part("FB1", "ferrite", "OUT", "FAR")
    assert plan_of(s, "V").max_watts == 1.0
    s.part("U5", "memory", "FAR", "GND")
    plan = plan_of(s, "V")
    assert {one.net for one in plan.fed_forward} == {"OUT", "FAR"}
    assert also(plan) == {}
    assert (plan.max_volts, plan.max_watts, plan.max_seconds) == (3.3, 0.25, 2.0)


def test_no_output_of_a_power_manager_is_fed_through_another_of_unsure_input() -> None:
    s = plain().rail("OUT", "linear", 1.2, ("U3", "V"), confidence=0.4)
    s.part("U3", "power-manager", "V", "OUT", "GND")
    plan = plan_of(s, "V")
    assert plan.max_volts == 3.3
    assert {one.net for one in plan.fed_forward} == {"OUT"}


def test_each_point_names_a_ground_pad_and_those_beside_a_data_chip_come_last() -> None:
    s = plain().part("C2", "capacitor", "V", "GND", at=(9, 0))
    s.part("C3", "capacitor", "V", "GND", at=(20, 0)).part("U1", "memory", "V", "GND", at=(20, 0))
    plan = plan_of(s, "V")
    assert [one.ref for one in plan.points][-1] == "C3"
    assert all(one.ground and one.ground.endswith(".2") for one in plan.points)


def test_two_converters_do_not_hide_the_unknown_volts_of_a_third() -> None:
    s = plain().rail("A", "buck", None, ("U3", "V")).rail("B", "boost", None, ("U4", "V"))
    s.part("U3", "regulator", "V", "A", "GND").part("U4", "regulator", "V", "B", "GND")
    plan = plan_of(s, "V")
    assert (plan.verdict, plan.to_note) == ("unsure", ("B",))


@pytest.mark.parametrize(("named", "divided", "ok"), [(18.0, 12.6, True), (18.0, 2.5, False)])
def test_two_figures_that_differ_matter_only_if_the_lower_is_the_least(
    named: float, divided: float, ok: bool
) -> None:
    s = plain().rail("OUT", "boost", divided, ("U3", "V")).net("OUT", "rail", named)
    s.part("U3", "regulator", "V", "OUT", "GND")
    plan = plan_of(s, "V")
    assert (plan.verdict, plan.max_volts) == (("ok", 3.3) if ok else ("unsure", None))
