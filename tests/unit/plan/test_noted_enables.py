# SPDX-License-Identifier: GPL-3.0-or-later
"""What a person says of enables and of the order of supplies stands in the power logic.

Our own claims: a person's word wins over the netlist, and a need that is noted is a need.
"""

from __future__ import annotations

from dataclasses import replace

from netgraph.plan.lift import lift_table
from netgraph.plan.power_logic import PowerLogic
from netgraph.roles.answer import Roles
from tests.unit.plan.sketch import Sketch


def board() -> Sketch:
    """VIN feeds U4 (makes 1V0), U2 (makes 1V8) and U3 (makes 3V3); U1 and U5 run on 1V0."""
    s = Sketch().rail("VIN", "entry", 5.0)
    s.rail("1V8", "linear", 1.8, ("U2", "VIN")).rail("3V3", "linear", 3.3, ("U3", "VIN"))
    s.rail("1V0", "linear", 1.0, ("U4", "VIN"))
    s.part("J1", "connector", "VIN", "GND")
    s.part("U2", "regulator", "VIN", "1V8", "GND").part("U3", "regulator", "VIN", "3V3", "GND")
    s.part("U4", "regulator", "VIN", "1V0", "GND", "EN4", names={"EN4": "EN"})
    s.part("R4", "resistor", "VIN", "EN4", ohm=100e3)
    s.part("U1", "processor", "1V0", "GND", "DATA").part("U5", "storage", "1V0", "GND", "DATA")
    return s


def noted(part: str, enabled_by: tuple[str, ...] | None = None, *first: str) -> PowerLogic:
    seen, roles, tree = board().done()
    parts = dict(roles.parts)
    parts[part] = replace(parts[part], enabled_by=enabled_by, needs_first=first)
    return PowerLogic.build(seen, Roles(parts, roles.nets, roles.fitted), tree)


def test_a_supply_that_is_needed_first_is_a_need() -> None:
    logic = noted("U4", None, "1V8")
    assert {"U2", "U4", "R4", "J1"} <= logic.single_points(rails=("1V0",))
    assert "U3" not in logic.single_points(rails=("1V0",))


def test_what_is_said_to_enable_a_part_takes_the_place_of_its_pull_up() -> None:
    points = noted("U4", ("U3",)).single_points(rails=("1V0",))
    assert "U3" in points
    assert "R4" not in points


def test_a_part_said_to_be_always_on_needs_no_pull_up() -> None:
    assert noted("U4", ()).single_points(rails=("1V0",)) == {"J1", "U4"}


def test_a_chip_that_feeds_nothing_may_need_a_supply_first_too() -> None:
    points = noted("U1", None, "3V3").single_points(parts=("U1",))
    assert "U3" in points


def test_the_verdict_follows_the_note() -> None:
    seen, roles, tree = board().done()
    before = {row.part_id: row.verdict for row in lift_table(seen, roles, tree, "VIN").rows}
    parts = dict(roles.parts)
    parts["U4"] = replace(parts["U4"], needs_first=("1V8",))
    said = Roles(parts, roles.nets, roles.fitted)
    after = {row.part_id: row.verdict for row in lift_table(seen, said, tree, "VIN").rows}
    assert before["U2"] == "lift"
    assert after["U2"] == "replace"
