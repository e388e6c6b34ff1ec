# SPDX-License-Identifier: GPL-3.0-or-later
"""What small parts are needed for, on boards of a few parts.

Pin functions as makers print them (common practice, no source); what a lift does is followed by
hand from the sketch in each test.
"""

from __future__ import annotations

from netgraph.plan.chain import drive_text, story_without
from netgraph.plan.lift import judge, lift_state
from netgraph.plan.lift_set import judge_set
from netgraph.plan.lift_types import LiftState
from netgraph.plan.needs import Needs, find_needs
from netgraph.plan.power_logic import PowerLogic
from netgraph.plan.wiring import Wiring
from netgraph.rails.tree import SwitchNode
from tests.unit.plan.sketch import Sketch


def needs_of(sketch: Sketch) -> Needs:
    return find_needs(Wiring(*sketch.done()))


def state_of(sketch: Sketch) -> LiftState:
    board, roles, tree = sketch.done()
    return lift_state(board, roles, tree, tree.rails[0].net)


def supplied() -> Sketch:
    """A jack, 5 V, a 1.8 V regulator U3 whose enable is still open, and a processor on it."""
    s = Sketch().rail("5V", "entry", 5.0).rail("1V8", "linear", 1.8, ("U3", "5V"))
    s.part("J1", "connector", "5V", "GND")
    s.part(
        "U3", "regulator", "5V", "1V8", "EN", "GND", names={"EN": "EN", "5V": "IN", "1V8": "OUT"}
    )
    s.part("U1", "processor", "1V8", "GND", "IO", "XI")
    return s


def test_a_pull_up_of_an_enable_is_a_need_and_the_story_ends_at_the_processor() -> None:
    """R14 pulls U3's EN up; without it U3 stops; 1V8 dies; U1 stops."""
    s = supplied().part("R14", "resistor", "5V", "EN", ohm=100e3)
    state = state_of(s)
    row = judge(state, "R14")
    assert row.verdict == "replace"
    assert "R14 holds the enable of U3" in row.why.text
    assert "1V8 would stop" in row.why.text
    told = [one.text for one in story_without(state.logic, "R14", ("U1",), ("1V8",))]
    assert told == [
        "R14 is off",
        "U3 is no longer switched on (net EN)",
        "U3 makes no 1V8",
        "1V8 is dead",
        "U1 stops",
    ]


def test_a_pull_down_or_a_delay_is_no_way_of_the_supply() -> None:
    s = supplied().part("R14", "resistor", "5V", "EN", ohm=100e3)
    s.part("R15", "resistor", "EN", "GND", ohm=100e3).part("C9", "capacitor", "EN", "GND")
    logic = PowerLogic.build(*s.done())
    assert logic.single_points(rails=("1V8",)) == {"J1", "U3", "R14"}
    (drive,) = logic.needs.enables["U3"]
    assert drive.how == "pulled"
    assert drive.timing == ("C9",)
    assert [one.kind for one in logic.needs.of("C9")] == ["timing"]
    assert judge(state_of(s), "C9").verdict == "replace"


def test_two_pull_ups_are_alternatives() -> None:
    s = supplied().part("R14", "resistor", "5V", "EN").part("R15", "resistor", "5V", "EN")
    board, roles, tree = s.done()
    logic = PowerLogic.build(board, roles, tree)
    assert logic.single_points(rails=("1V8",)) == {"J1", "U3"}
    assert "1V8" not in logic.alive(("R14", "R15")).rails
    found = judge_set(board, roles, tree, ("R14", "R15"))
    assert found.verdict == "not-safe"
    assert found.proof is not None
    assert logic.check(found.proof)


def test_a_low_active_enable_hangs_on_what_pulls_it_down() -> None:
    s = Sketch().rail("5V", "entry", 5.0).rail("1V8", "linear", 1.8, ("U3", "5V"))
    s.part("J1", "connector", "5V", "GND")
    s.part("U3", "regulator", "5V", "1V8", "EN", "GND", names={"EN": "~{EN}"})
    s.part("R15", "resistor", "EN", "GND", ohm=10e3)
    logic = PowerLogic.build(*s.done())
    assert logic.single_points(rails=("1V8",)) == {"J1", "U3", "R15"}


def test_shutdown_with_a_bar_runs_when_high() -> None:
    s = Sketch().rail("5V", "entry", 5.0).rail("1V8", "linear", 1.8, ("U3", "5V"))
    s.part("J1", "connector", "5V", "GND")
    s.part("U3", "regulator", "5V", "1V8", "S", "GND", names={"S": "~{SHDN}"})
    s.part("R14", "resistor", "5V", "S").part("R15", "resistor", "GND", "S")
    logic = PowerLogic.build(*s.done())
    assert logic.single_points(rails=("1V8",)) == {"J1", "U3", "R14"}


def chained() -> Sketch:
    """U3 reports power good, which lets U4 start."""
    s = Sketch().rail("5V", "entry", 5.0).rail("1V8", "linear", 1.8, ("U3", "5V"))
    s.rail("1V1", "linear", 1.1, ("U4", "5V"))
    s.part("J1", "connector", "5V", "GND")
    s.part("U3", "regulator", "5V", "1V8", "PG", "GND", names={"PG": "PGOOD"})
    s.part("U4", "regulator", "5V", "1V1", "PG", "GND", names={"PG": "EN"})
    return s


def test_power_good_of_one_starts_the_next_and_its_pull_up_is_needed() -> None:
    s = chained().part("R20", "resistor", "1V8", "PG", ohm=10e3)
    logic = PowerLogic.build(*s.done())
    (drive,) = logic.needs.enables["U4"]
    assert drive.how == "power-good"
    assert drive.also == ("U3",)
    assert logic.single_points(rails=("1V1",)) == {"J1", "U3", "U4", "R20"}
    assert "waits for power good of U3" in drive_text(drive).text


def test_power_good_without_a_pull_up_needs_the_chip_and_its_supply() -> None:
    logic = PowerLogic.build(*chained().done())
    assert logic.single_points(rails=("1V1",)) == {"J1", "U3", "U4"}


def test_a_processor_that_holds_its_own_supply_is_said_and_only_has_to_be_there() -> None:
    s = supplied()
    s.part("U2", "processor", "1V8", "GND", "EN", types={"EN": "output"})
    state = state_of(s)
    assert "1V8" in state.logic.base.rails
    assert state.logic.relaxed == {"U2"}
    assert "1V8" not in state.logic.alive(("U2",)).rails
    assert [one.code for one in state.keeps.doubts] == ["enable-holds-itself"]


def test_with_a_key_that_starts_it_the_loop_is_none() -> None:
    """A key from the entry to the same line: the other path, and then it is a need."""
    s = supplied().part("SW1", "switch", "5V", "EN")
    s.part("U2", "processor", "1V8", "GND", "EN", types={"EN": "bidirectional"})
    logic = PowerLogic.build(*s.done())
    assert logic.relaxed == frozenset()
    assert "SW1" in logic.single_points(rails=("1V8",))


def test_an_enable_nobody_is_seen_to_drive_is_a_doubt_and_proves_nothing() -> None:
    state = state_of(supplied())
    assert state.logic.base.rails == {"5V", "1V8"}
    assert [one.code for one in state.keeps.doubts] == ["enable-unknown"]
    assert judge(state, "U3").verdict == "replace"


def test_a_missing_enable_path_is_named_and_all_is_unsure() -> None:
    """R14 was lifted: nothing reaches the goal any more, and the reason says which part is gone."""
    s = supplied().part("R14", "resistor", "5V", "EN", ohm=100e3)
    s.part("C1", "capacitor", "1V8", "GND", farad=1e-6)
    s.part("C2", "capacitor", "1V8", "GND", farad=1e-6)
    board, roles, tree = s.done()
    state = lift_state(board.without({"R14"}), roles, tree, "5V")
    assert state.logic.base.rails == {"5V"}
    assert state.keeps.unfed == ("1V8",)
    (doubt,) = state.keeps.doubts
    assert "R14 held its enable" in doubt.text
    assert judge(state, "U3").verdict != "lift"


def buck() -> Sketch:
    """A buck with every helper part."""
    s = Sketch().rail("5V", "entry", 5.0).rail("3V3", "buck", 3.3, ("U3", "5V"), through=("L1",))
    s.net("SW", "switch-node")
    s.switch_nodes.append(SwitchNode("SW", "U3", "L1", "5V", "3V3", "buck"))
    s.part("J1", "connector", "5V", "GND").part("U1", "processor", "3V3", "GND", "IO")
    lines = ("SW", "FB", "BST", "COMP", "SS", "ILIM", "BYP")
    s.part("U3", "regulator", "5V", "GND", *lines, names={one: one for one in lines})
    s.part("L1", "inductor", "SW", "3V3")
    s.part("R1", "resistor", "3V3", "FB").part("R2", "resistor", "FB", "GND")
    s.part("C1", "capacitor", "BST", "SW")
    s.part("R3", "resistor", "COMP", "Z").part("C3", "capacitor", "Z", "GND")
    s.part("C4", "capacitor", "SS", "GND").part("R5", "resistor", "ILIM", "GND")
    s.part("C6", "capacitor", "BYP", "GND")
    return s


def test_every_helper_of_a_converter_is_known_for_what_it_does() -> None:
    found = {
        part: (need.kind, need.vital)
        for part, needs in needs_of(buck()).by_part.items()
        for need in needs
    }
    assert found == {
        "R1": ("feedback", True),
        "R2": ("feedback", True),
        "C1": ("bootstrap", True),
        "R3": ("compensation", True),
        "C3": ("compensation", True),
        "C4": ("soft-start", False),
        "R5": ("current-set", True),
        "C6": ("bypass", False),
    }


def test_vital_helpers_kill_the_rail_and_the_others_do_not() -> None:
    logic = PowerLogic.build(*buck().done())
    vital = {"R1", "R2", "C1", "R3", "C3", "R5"}
    assert logic.single_points(rails=("3V3",)) == {"J1", "U3", "L1"} | vital
    state = state_of(buck())
    assert {one: judge(state, one).verdict for one in (*vital, "C4", "C6")} == {
        "R1": "keep",
        "R2": "keep",
        **dict.fromkeys(("C1", "R3", "C3", "R5", "C4", "C6"), "replace"),
    }


def test_without_pin_names_a_bootstrap_and_a_divider_show_by_what_they_join() -> None:
    s = Sketch().rail("5V", "entry", 5.0).rail("3V3", "buck", 3.3, ("U3", "5V"), through=("L1",))
    s.net("SW", "switch-node")
    s.switch_nodes.append(SwitchNode("SW", "U3", "L1", "5V", "3V3", "buck"))
    s.part("U3", "regulator", "5V", "GND", "SW", "A", "B").part("L1", "inductor", "SW", "3V3")
    s.part("R1", "resistor", "3V3", "A").part("R2", "resistor", "A", "GND")
    s.part("C1", "capacitor", "B", "SW").part("R9", "resistor", "3V3", "B")
    found = needs_of(s)
    assert {part: needs[0].kind for part, needs in found.by_part.items()} == {
        "R1": "feedback",
        "R2": "feedback",
        "C1": "bootstrap",
    }


def test_clock_reset_strap_and_bus_of_kept_chips() -> None:
    s = Sketch().rail("3V3", "entry", 3.3).net("NRST", "reset")
    s.part("J1", "connector", "3V3", "GND")
    s.part("U1", "processor", "3V3", "GND", "XI", "NRST", "BOOT0", "SDA", "REFCLK")
    s.part("Y1", "crystal", "XI", "GND").part("C1", "capacitor", "XI", "GND")
    s.part("R1", "resistor", "3V3", "NRST").part("C2", "capacitor", "NRST", "GND")
    s.part("R2", "resistor", "BOOT0", "GND")
    s.part("R3", "resistor", "3V3", "SDA").part("U2", "eeprom", "3V3", "GND", "SDA")
    s.part("OSC1", "oscillator", "OE", "GND", "REFCLK", "3V3", names={"OE": "EN"})
    s.part("R4", "resistor", "3V3", "OE")
    state = state_of(s)
    kinds = {part: needs[0].kind for part, needs in state.logic.needs.by_part.items()}
    assert kinds == {
        "Y1": "clock",
        "C1": "clock-load",
        "R1": "reset",
        "C2": "timing",
        "R2": "strap",
        "R3": "bus-pull",
        "OSC1": "clock",
        "R4": "enable",
    }
    # The oscillator's enable is a need of the processor: R4 off, OSC1 stands, and U1 with it.
    assert state.logic.single_points(parts=("U1",)) >= {"Y1", "R1", "R2", "OSC1", "R4", "J1", "U1"}
    assert not state.logic.single_points(parts=("U1",)) & {"C1", "C2", "R3"}


def test_of_several_enables_each_counts_for_its_own_output() -> None:
    s = Sketch().rail("5V", "entry", 5.0)
    s.rail("1V8", "linear", 1.8, ("U3", "5V")).rail("3V3", "linear", 3.3, ("U3", "5V"))
    s.part("J1", "connector", "5V", "GND")
    names = {"A": "EN1", "B": "EN2", "1V8": "OUT1", "3V3": "OUT2"}
    s.part("U3", "regulator", "5V", "1V8", "3V3", "A", "B", "GND", names=names)
    s.part("R1", "resistor", "5V", "A").part("R2", "resistor", "5V", "B")
    logic = PowerLogic.build(*s.done())
    assert logic.single_points(rails=("1V8",)) == {"J1", "U3", "R1"}
    assert logic.single_points(rails=("3V3",)) == {"J1", "U3", "R2"}


def test_the_gate_of_a_transistor_in_a_supply_is_an_enable_that_is_low() -> None:
    """A p-channel switch: R1 holds it off, Q2 pulls it on; with a resistor to ground that is it."""
    s = Sketch().rail("5V", "entry", 5.0).rail("LOAD", "switched", 5.0, ("Q1", "5V"))
    s.part("J1", "connector", "5V", "GND").part("U1", "processor", "LOAD", "GND", "IO")
    s.part("Q1", "transistor", "G", "5V", "LOAD").part("R1", "resistor", "5V", "G")
    s.part("Q2", "transistor", "IO", "GND", "G")
    logic = PowerLogic.build(*s.done())
    (drive,) = logic.needs.enables["Q1"]
    assert drive.maybe == ("Q2",)
    assert drive.doubt is not None
    assert logic.single_points(rails=("LOAD",)) == {"J1", "Q1", "Q2"}
    s = Sketch().rail("5V", "entry", 5.0).rail("LOAD", "switched", 5.0, ("Q1", "5V"))
    s.part("J1", "connector", "5V", "GND")
    s.part("Q1", "transistor", "G", "5V", "LOAD").part("R2", "resistor", "G", "GND")
    logic = PowerLogic.build(*s.done())
    assert logic.single_points(rails=("LOAD",)) == {"J1", "Q1", "R2"}
