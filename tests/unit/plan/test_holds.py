# SPDX-License-Identifier: GPL-3.0-or-later
"""Parts that hold a supply at its volts: never lifted, and with one off nothing is fed over it.

Circuits: zener stabiliser, shunt reference with divider, and a reference that answers over an
optocoupler (application notes of TL431-type references; practice).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from netgraph.advice.power_gate import power_gate
from netgraph.plan.holds import find_holds
from netgraph.plan.inject import injection_plan
from netgraph.plan.lift import lift_table
from netgraph.plan.lift_set import judge_set
from netgraph.plan.taken_off import risen_rails, stopped_rails
from netgraph.plan.wiring import Wiring
from tests.unit.plan.sketch import Sketch


def zener() -> Sketch:
    """24 V, 2.2 kOhm, a zener diode and a processor on what is left."""
    s = Sketch()
    s.rail("V24", "entry", 24.0).rail("VZ", "unknown", 5.1)
    s.part("J1", "connector", "V24", "GND").part("R1", "resistor", "V24", "VZ", ohm=2200.0)
    s.part("D3", "diode", "VZ", "GND", names={"VZ": "K", "GND": "A"})
    return s.part("U1", "processor", "VZ", "GND", "S0").part("U2", "storage", "VZ", "GND", "S0")


def reference() -> Sketch:
    """5 V, 47 Ohm, a shunt reference set by two resistors to 3.3 V."""
    s = Sketch()
    s.rail("V5", "entry", 5.0).rail("V3", "filtered", 3.3, ("R7", "V5"))
    s.part("J1", "connector", "V5", "GND").part("R7", "resistor", "V5", "V3", ohm=47.0)
    s.part("U4", "amplifier", "REF", "V3", "GND", names={"REF": "REF", "V3": "K", "GND": "A"})
    s.part("R8", "resistor", "V3", "REF", ohm=3300.0).part("R9", "resistor", "REF", "GND", ohm=1e4)
    return s.part("U1", "processor", "V3", "GND", "S0").part("U2", "storage", "V3", "GND", "S0")


def isolated() -> Sketch:
    """A reference on the secondary side that tells the primary side over an optocoupler."""
    s = Sketch()
    s.rail("HV", "entry", 24.0).rail("V12", "unknown", 12.0, ("T1", None))
    s.part("J1", "connector", "HV", "GND").part("T1", "transformer", "HV", "SW", "V12", "GND")
    s.part("U5", "power-controller", "HV", "SW", "GND", "ANSWER")
    s.part("U3", "amplifier", "REF", "LED_K", "GND",
           names={"REF": "REF", "LED_K": "K", "GND": "A"})  # fmt: skip
    s.part("U6", "optocoupler", "LED_A", "LED_K", "ANSWER", "GND")
    s.part("R2", "resistor", "V12", "LED_A", ohm=1000.0)
    s.part("R3", "resistor", "V12", "REF", ohm=38e3).part("R4", "resistor", "REF", "GND", ohm=1e4)
    return s.part("U1", "processor", "V12", "GND", "S0").part("U2", "storage", "V12", "GND", "S0")


CASES = {"zener": (zener, {"D3"}), "reference": (reference, {"U4", "R8", "R9"})}
CASES["isolated"] = (isolated, {"U3", "U6", "R2", "R3", "R4"})


@pytest.mark.parametrize("name", CASES)
def test_what_holds_a_supply_down_is_found_and_stays(name: str) -> None:
    make, holding = CASES[name]
    board, roles, tree = make().done()
    assert {one.part_id for one in find_holds(Wiring(board, roles, tree))} == holding
    rows = {row.part_id: row for row in lift_table(board, roles, tree, "S0", whole_board=True).rows}
    for one in holding:
        assert rows[one].verdict in ("keep", "replace", "unsure"), rows[one]
        assert judge_set(board, roles, tree, [one]).verdict != "safe"


@pytest.mark.parametrize("by_card", [True, False])
@pytest.mark.parametrize(("name", "off"), [(n, one) for n, c in CASES.items() for one in c[1]])
def test_with_one_off_no_figure_is_given_and_power_is_refused(
    name: str, off: str, by_card: bool
) -> None:
    """A lift on a card and a note that the part is not fitted are the same board."""
    board, roles, tree = CASES[name][0]().done()
    fed = tree.rails[0].net
    assert injection_plan(board, roles, tree, fed).max_volts is not None or name == "isolated"
    if by_card:
        board = board.without([off])
    else:
        roles = replace(roles, fitted=roles.fitted - {off})
    wiring = Wiring(board, roles, tree)
    assert risen_rails(wiring)
    plan = injection_plan(board, roles, tree, fed)
    assert (plan.verdict, plan.max_volts) == ("unsure", None)
    gate = power_gate(board, roles, tree)
    assert gate.verdict == "no"
    assert "power-not-held" in [one.code for one in gate.because]


def test_a_supply_whose_feeder_is_off_as_well_can_not_rise() -> None:
    board, roles, tree = reference().done()
    wiring = Wiring(board.without(["R8", "R7"]), roles, tree)
    assert not risen_rails(wiring)
    assert stopped_rails(wiring, ["V3"]) == ("V3",)


def test_a_clamp_beside_a_converter_holds_nothing() -> None:
    s = Sketch()
    s.rail("V5", "entry", 5.0).rail("V3", "linear", 3.3, ("U9", "V5"))
    s.part("J1", "connector", "V5", "GND").part("U9", "regulator", "V5", "V3", "GND")
    s.part("D1", "diode", "V3", "GND").part("D2", "diode", "V5", "GND")
    assert not list(find_holds(Wiring(*s.done())))
