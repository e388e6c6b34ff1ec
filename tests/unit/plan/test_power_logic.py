# SPDX-License-Identifier: GPL-3.0-or-later
"""The and/or logic asked in names, on small boards."""

from __future__ import annotations

from netgraph.plan.power_logic import PowerLogic
from tests.unit.plan.sketch import Sketch, recorder


def logic_of(sketch: Sketch) -> PowerLogic:
    return PowerLogic.build(*sketch.done())


def test_single_points_are_the_whole_chain_to_the_entry() -> None:
    """R1 and R2 divide the output of the buck for its feedback: it runs away without either."""
    every = {"J1", "FB1", "U3", "L1", "R1", "R2"}
    assert logic_of(recorder()).single_points(rails=("3V3",)) == every


def test_a_load_needs_all_its_supplies_and_not_its_own_outputs() -> None:
    logic = logic_of(recorder())
    assert logic.supplies("U1") == ("3V3",)
    assert logic.supplies("U4") == ("3V3",)
    # U1 drives the enable of U4, and U1 stands without its crystal Y1.
    needed = {"J1", "FB1", "U3", "L1", "R1", "R2", "U1", "Y1", "U4", "U5"}
    assert logic.single_points(parts=("U5",)) == needed


def test_either_of_two_feeders_is_enough() -> None:
    s = Sketch().rail("A", "entry", 5.0).rail("B", "entry", 5.0)
    s.rail("SYS", "filtered", 4.7, ("D1", "A"), ("D2", "B"))
    s.part("D1", "diode", "A", "SYS").part("D2", "diode", "B", "SYS")
    logic = logic_of(s)
    assert logic.single_points(rails=("SYS",)) == frozenset()
    assert logic.reaches(("SYS",), (), ("D1",))
    assert not logic.reaches(("SYS",), (), ("D1", "D2"))


def test_the_root_of_a_dead_supply_is_named_and_not_what_hangs_on_it() -> None:
    s = Sketch().rail("IN", "unknown", 5.0).rail("OUT", "buck", 1.8, ("U3", "IN"))
    s.part("U3", "regulator", "IN", "OUT", "GND")
    logic = logic_of(s)
    assert logic.missing_feeders(("OUT",)) == ("IN",)
    assert logic.single_points(rails=("OUT",)) == frozenset()


def test_rails_that_only_feed_each_other_are_dead_and_both_named() -> None:
    s = Sketch().rail("A", "buck", 5.0, ("U1", "B")).rail("B", "boost", 9.0, ("U2", "A"))
    s.part("U1", "regulator", "B", "A", "GND").part("U2", "regulator", "A", "B", "GND")
    logic = logic_of(s)
    assert logic.base.rails == frozenset()
    assert logic.missing_feeders(("A",)) == ("A", "B")


def test_a_feeder_of_unknown_input_needs_every_supply_of_its_part() -> None:
    s = Sketch().rail("A", "entry", 5.0).rail("B", "filtered", 5.0, ("FB1", "A"))
    s.rail("OUT", "buck", 1.8, ("U3", None)).part("FB1", "ferrite", "A", "B")
    s.part("U3", "power-manager", "A", "B", "OUT", "GND")
    assert logic_of(s).single_points(rails=("OUT",)) == {"FB1", "U3"}


def test_a_proof_names_the_chain_and_can_be_checked() -> None:
    logic = logic_of(recorder())
    proof = logic.proof(("rail", "RADIO"), ("FB1",))
    assert proof is not None
    assert logic.check(proof)
    assert {("rail", "RADIO"), ("rail", "3V3"), ("rail", "VIN"), ("part", "FB1")} <= {
        one.node for one in proof.dead
    }
    assert logic.proof(("rail", "RADIO"), ("C1",)) is None


def test_a_proof_for_other_lifts_does_not_check() -> None:
    logic = logic_of(recorder())
    proof = logic.proof(("rail", "RADIO"), ("FB1",))
    assert proof is not None
    assert not logic.check(type(proof)(proof.target, frozenset({"C1"}), proof.dead))
