# SPDX-License-Identifier: GPL-3.0-or-later
"""What the goal keeps, by connectivity; expectations follow bench practice section 2."""

from __future__ import annotations

import pytest

from netgraph.errors import UnknownNameError
from netgraph.plan.goals import goal_named
from netgraph.plan.keep_list import Keeps, KeepWord, find_keeps
from tests.unit.plan.sketch import Sketch, recorder


def keeps_of(sketch: Sketch, **words: KeepWord) -> Keeps:
    return find_keeps(*sketch.done(), keep=words)


def kinds(keeps: Keeps) -> dict[str, str]:
    return {item.part_id: item.kind for item in keeps.items}


def test_processor_and_storage_are_irreplaceable_and_their_helpers_replaceable() -> None:
    found = kinds(keeps_of(recorder()))
    assert found["U1"] == found["U2"] == "irreplaceable"
    assert found["U3"] == found["Y1"] == found["J1"] == "replace"


def test_what_hangs_on_unneeded_rails_is_not_kept() -> None:
    found = kinds(keeps_of(recorder()))
    assert not {"U4", "U5", "U6", "D1"} & found.keys()


def test_needed_rails_go_back_to_the_entry() -> None:
    assert keeps_of(recorder()).rails == ("3V3", "VBUS", "VIN")


def test_a_persons_word_wins_both_ways() -> None:
    found = keeps_of(recorder(), U5="irreplaceable", U2="no")
    assert kinds(found)["U5"] == "irreplaceable"
    assert "U2" not in kinds(found)
    assert "RADIO" in found.rails


def test_a_low_confidence_storage_is_still_kept() -> None:
    s = recorder().part("U9", "storage", "3V3", "GND", "Q", confidence=0.2)
    assert kinds(keeps_of(s))["U9"] == "irreplaceable"


def test_without_anything_irreplaceable_the_goal_is_unclear() -> None:
    s = Sketch().rail("V", "entry", 5.0).part("C1", "capacitor", "V", "GND", farad=1e-6)
    found = keeps_of(s)
    assert found.unclear is not None
    assert found.unclear.code == "goal-unclear"


def test_programmable_logic_alone_makes_the_goal_clear() -> None:
    s = Sketch().rail("V", "entry", 3.3).part("U1", "programmable-logic", "V", "GND")
    assert keeps_of(s).unclear is None


def test_a_needed_rail_without_a_feeder_is_named() -> None:
    s = Sketch().rail("CORE", "unknown", 0.9).part("U1", "processor", "CORE", "GND")
    assert keeps_of(s).unfed == ("CORE",)


def test_a_charger_is_kept_only_on_the_supply_path() -> None:
    s = recorder().rail("VBAT", "charger", 3.7, ("U8", "VIN"))
    s.part("U8", "charger", "VIN", "VBAT", "GND")
    assert "U8" not in kinds(keeps_of(s))
    s = Sketch().rail("VBUS", "entry", 5.0).rail("SYS", "charger", 3.8, ("U8", "VBUS"))
    s.part("U8", "charger", "VBUS", "SYS", "GND").part("U1", "processor", "SYS", "GND")
    s.part("J1", "connector", "VBUS", "GND")
    assert kinds(keeps_of(s))["U8"] == "replace"


def test_a_switch_between_port_and_processor_is_kept_on_the_data_path() -> None:
    s = Sketch().rail("V", "entry", 3.3)
    s.part("U1", "processor", "V", "GND", "DP_IN", "DM_IN")
    s.part("U2", "analog-switch", "V", "GND", "DP_IN", "DM_IN", "USB_DP", "USB_DM")
    s.part("J1", "connector", "USB_DP", "USB_DM", "GND", value="USB micro")
    found = keeps_of(s).by_part()
    assert found["U2"].function == "port to the host"
    assert found["J1"].function == "port to the host"


def test_the_backlight_of_a_kept_screen_connector_is_not_needed() -> None:
    s = recorder().rail("BACKLIGHT_19V", "boost", 19.0, ("U7", "VIN"))
    s.part("U7", "display-driver", "VIN", "BACKLIGHT_19V", "GND")
    s.part("J2", "connector", "3V3", "BACKLIGHT_19V", "SCL", "GND", value="LCD")
    found = keeps_of(s)
    assert kinds(found)["J2"] == "replace"
    assert "BACKLIGHT_19V" not in found.rails


def test_own_supply_of_a_kept_chip_is_needed() -> None:
    """A processor that makes its own core voltage needs the capacitors outside."""
    s = recorder().rail("VCORE", "linear", 1.1, ("U9", "3V3"))
    s.part("U9", "processor", "3V3", "VCORE", "GND")
    assert "VCORE" in keeps_of(s).rails


def test_unknown_names_are_refused() -> None:
    with pytest.raises(UnknownNameError):
        keeps_of(recorder(), U99="no")
    with pytest.raises(UnknownNameError):
        goal_named("win-the-lottery")
