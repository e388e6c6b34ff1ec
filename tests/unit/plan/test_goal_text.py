# SPDX-License-Identifier: GPL-3.0-or-later
"""A person's own goal: read from TOML, or refused in one line that says where."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netgraph.errors import GoalError
from netgraph.plan.goal_text import parse_goal
from netgraph.plan.goals import FULL_REPAIR, GOALS, IMAGE_STORAGE, NO_DISPLAY
from netgraph.plan.keep_list import find_keeps
from netgraph.plan.lift import lift_table
from tests.unit.plan.sketch import recorder

OWN = """
schema = "netgraph.goal/1"
name = "hear-it"
base = "recover-data"
without = ["unlocking by screen"]

[[functions]]
name = "listening"
roles = ["radio"]
parts = ["U6"]
kind = "replace"
"""


def kept(text: str) -> dict[str, str]:
    keeps = find_keeps(*recorder().done(), parse_goal(text))
    return {item.part_id: item.function for item in keeps.items}


def test_a_goal_of_ones_own_adds_parts_by_role_and_by_name() -> None:
    found = kept(OWN)
    assert found["U5"] == found["U6"] == "listening"
    assert found["U1"] == "processing"


def test_what_a_function_needs_is_kept_with_it() -> None:
    """The radio's regulator feeds nothing else, and is kept for it alone."""
    assert "U4" in kept(OWN)
    assert "U4" not in {item.part_id for item in find_keeps(*recorder().done()).items}


def test_a_part_that_only_stays_needs_no_supply() -> None:
    idle = OWN + "powered = false\n"
    assert "U4" not in kept(idle)
    assert "U5" in kept(idle)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("name = 1", "name is a text"),
        ('name = "x"', "no functions"),
        ('name = "x"\nbase = "recover-dta"', "recover-dta"),
        ('name = "x"\nbase = "recover-data"\nwithout = ["screen"]', "'screen'"),
        ('name = "x"\nfunctions = 3', "[[functions]]"),
        ('name = "x"\n[[functions]]\nname = "y"', "neither roles nor parts"),
        ('name = "x"\n[[functions]]\nname = "y"\nroles = ["cpu"]', "'cpu'"),
        ('name = "x"\n[[functions]]\nname = "y"\nparts = ["U1"]\nkind = "no"', "kind"),
        ('name = "x"\n[[functions]]\nname = "y"\nparts = ["U1"]\npowered = 1', "true or false"),
        ('name = "x"\nbase = "recover-data"\nextra = 1', "unknown key 'extra'"),
        ("name = ", "not valid TOML"),
        ("x = " + "[" * 4000, "not valid TOML"),
        ('schema = "netgraph.goal/2"\nname = "x"', "of the kind"),
    ],
)
def test_a_fault_in_a_goal_file_is_one_line(text: str, told: str) -> None:
    with pytest.raises(GoalError) as caught:
        parse_goal(text, path="my.toml")
    line = caught.value.one_line()
    assert line.startswith("my.toml: ")
    assert told in line
    assert "\n" not in line


@given(st.text(max_size=300))
def test_no_text_does_worse_than_a_goal_error(text: str) -> None:
    try:
        goal = parse_goal(text)
    except GoalError:
        return
    assert goal.functions


def test_without_a_display_its_connector_and_bridge_are_not_kept() -> None:
    s = recorder().part("J9", "connector", "LAMP", "SCL", "GND", value="LCD panel")
    assert "J9" in {item.part_id for item in find_keeps(*s.done()).items}
    assert "J9" not in {item.part_id for item in find_keeps(*s.done(), NO_DISPLAY).items}


def test_to_image_storage_the_processor_stays_without_being_fed() -> None:
    s = recorder().rail("CORE", "buck", 0.9, ("U9", "VIN")).part("U9", "regulator", "VIN", "CORE")
    s.part("U1B", "processor", "CORE", "GND")
    keeps = find_keeps(*s.done(), IMAGE_STORAGE)
    kinds = {item.part_id: item.kind for item in keeps.items}
    assert kinds["U1"] == kinds["U1B"] == kinds["U2"] == "irreplaceable"
    assert "3V3" in keeps.rails
    assert "CORE" not in keeps.rails
    assert "U9" not in kinds


def test_for_a_full_repair_only_parts_with_a_twin_may_come_off() -> None:
    board, roles, tree = recorder().done()
    table = lift_table(board, roles, tree, "3V3", goal=FULL_REPAIR, whole_board=True)
    lifted = {row.part_id for row in table.rows if row.verdict == "lift"}
    assert {roles.role(one) for one in lifted} <= {"capacitor", "tvs", "esd-array"}
    assert {row.part_id: row.verdict for row in table.rows}["U5"] == "replace"


def test_every_goal_keeps_all_that_may_hold_the_data() -> None:
    for goal in GOALS.values():
        kinds = {one.part_id: one.kind for one in find_keeps(*recorder().done(), goal).items}
        assert kinds["U1"] == kinds["U2"] == "irreplaceable", goal.name
