# SPDX-License-Identifier: GPL-3.0-or-later
"""Sets of lifts, cuts, splits, the way of the data (bench practice 2, 4, 7; computing core F4)."""

from __future__ import annotations

from netgraph.plan.isolation import Isolation, isolate
from netgraph.plan.keep_list import KeepWord, find_keeps
from netgraph.plan.lift import lift_state
from netgraph.plan.lift_set import LiftSet, judge_set
from netgraph.plan.power_logic import PowerLogic
from netgraph.plan.split import find_splits
from netgraph.plan.storage_route import Protection, StorageRoute, storage_route
from netgraph.plan.wiring import Wiring
from tests.unit.plan.sketch import Sketch, recorder


def together(sketch: Sketch, *parts: str, **keep: KeepWord) -> LiftSet:
    return judge_set(*sketch.done(), parts, keep=keep)


def cuts_of(sketch: Sketch, net: str) -> Isolation:
    return isolate(lift_state(*sketch.done(), net), net)


def route_of(sketch: Sketch, protection: Protection | None = None) -> StorageRoute:
    board, roles, tree = sketch.done()
    return storage_route(Wiring(board, roles, tree), find_keeps(board, roles, tree), protection)


# -- sets --------------------------------------------------------------------------------------


def test_two_spare_capacitors_are_not_both_spare() -> None:
    assert together(recorder(), "C1").verdict == "safe"
    assert together(recorder(), "C2").verdict == "safe"
    both = together(recorder(), "C1", "C2")
    assert (both.verdict, both.why.code) == ("not-safe", "cap-only-one")


def test_two_ways_of_feeding_may_go_one_by_one_but_not_together() -> None:
    """Either diode alone is one of two ways; without both the rail is dead, with a proof."""
    s = recorder().rail("AUX", "filtered", 3.3, ("D71", "3V3"), ("D72", "VIN"))
    s.part("D71", "diode", "3V3", "AUX").part("D72", "diode", "VIN", "AUX")
    s.part("U1C", "memory", "AUX", "GND")
    for one in ("D71", "D72"):
        assert together(s, one).verdict == "unsure"
    both = together(s, "D71", "D72")
    assert (both.verdict, both.why.code) == ("not-safe", "set-kills")
    assert both.proof is not None
    assert both.proof.target == ("rail", "AUX")
    assert PowerLogic.build(*s.done(), trusted_only=True).check(both.proof)
    assert "AUX" in both.loses


def test_a_set_with_a_kept_part_is_refused_by_its_name() -> None:
    found = together(recorder(), "C1", "U2")
    assert (found.verdict, found.why.code) == ("not-safe", "keep-core")


def test_a_fuse_in_a_set_is_safe_only_with_a_wire() -> None:
    found = together(recorder(), "FB1", "C1")
    assert (found.verdict, found.why.code) == ("safe", "set-safe-with-wires")
    assert [row.verdict for row in found.rows] == ["lift-and-jumper", "lift"]


def test_an_unclear_goal_leaves_a_set_unsure() -> None:
    s = Sketch().rail("V", "entry", 3.3).part("C1", "capacitor", "V", "GND", farad=1e-6)
    assert together(s, "C1").verdict == "unsure"


# -- isolation ---------------------------------------------------------------------------------


def test_the_cheapest_series_part_separates_a_branch() -> None:
    s = recorder().rail("LAMPS", "filtered", 3.3, ("FB9", "3V3"))
    s.part("FB9", "ferrite", "3V3", "LAMPS").part("D9", "led", "LAMPS", "GND")
    found = cuts_of(s, "LAMPS")
    assert found.cuts[0].parts == ("FB9",)
    assert found.cuts[0].nets_off == ("LAMPS",)
    assert [one.code for one in found.cuts[0].verify] == ["cut-verify"]


def test_two_parts_side_by_side_are_cut_together() -> None:
    s = recorder().rail("LAMPS", "filtered", 3.3, ("FB8", "3V3"), ("FB9", "3V3"))
    s.part("FB8", "ferrite", "3V3", "LAMPS").part("FB9", "ferrite", "3V3", "LAMPS")
    assert cuts_of(s, "LAMPS").cuts[0].parts == ("FB8", "FB9")


def test_a_needed_rail_is_not_cut_off() -> None:
    found = cuts_of(recorder(), "3V3")
    assert found.cuts == ()
    assert found.why is not None
    assert found.why.code == "cut-impossible"


def test_the_diode_of_a_boost_converter_is_no_place_to_cut() -> None:
    """With the diode off the converter would destroy itself: its coil is opened instead."""
    s = recorder().rail("LIGHT", "boost", 19.0, ("U8", "VIN"), through=("L8", "D8"))
    s.net("SWL", "switch-node")
    s.switch_nodes.append(s.switch_nodes[0].__class__("SWL", "U8", "L8", "VIN", "LIGHT", "boost"))
    s.part("U8", "regulator", "VIN", "SWL", "GND").part("L8", "inductor", "VIN", "SWL")
    s.part("D8", "diode", "SWL", "LIGHT").part("D9", "led", "LIGHT", "GND")
    assert [one.parts for one in cuts_of(s, "LIGHT").cuts] == [("L8",)]


def test_kept_parts_and_single_points_are_in_no_cut() -> None:
    found = cuts_of(recorder(), "RADIO")
    assert [one.parts for one in found.cuts] == [("U4",)]


# -- splitting ---------------------------------------------------------------------------------


def test_the_part_that_halves_the_weights_comes_first() -> None:
    s = Sketch().rail("A", "entry", 5.0)
    for before, after in (("A", "B"), ("B", "C"), ("C", "D")):
        s.rail(after, "filtered", 5.0, (f"L_{after}", before))
        s.part(f"L_{after}", "ferrite", before, after)
    for net in "ABCD":
        s.part(f"C_{net}", "capacitor", net, "GND", farad=1e-6)
    wiring = Wiring(*s.done())
    assert find_splits(wiring, "A")[0].parts == ("L_C",)
    assert find_splits(wiring, "A", {"C_A": 3.0, "C_B": 1.0, "C_D": 2.0})[0].parts == ("L_B",)
    assert find_splits(wiring, "A", {"C_A": 1.0}) == ()


# -- the way of the data -----------------------------------------------------------------------


def test_soldered_storage_is_of_unknown_use_until_a_person_says() -> None:
    assert route_of(recorder()).chip_off == "unknown"
    assert route_of(recorder(), "plain").chip_off == "yes"
    assert route_of(recorder(), "keyed").chip_off == "no"


def test_a_card_is_imaged_first() -> None:
    s = recorder().part("J7", "slot", "3V3", "GND", "LAMP")
    found = route_of(s)
    assert (found.cards, found.first.code) == (("J7",), "route-card-first")


def test_without_any_storage_the_route_says_so() -> None:
    s = Sketch().rail("V", "entry", 3.3).part("U1", "processor", "V", "GND")
    assert route_of(s).kind == "none-found"
