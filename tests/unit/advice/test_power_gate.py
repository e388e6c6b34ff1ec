# SPDX-License-Identifier: GPL-3.0-or-later
"""May it be powered: what bench practice (the design paper, sections 1, 4, 5, 7, 11) asks for."""

from __future__ import annotations

from dataclasses import replace

import pytest

from netgraph.advice.power_gate import power_gate
from netgraph.advice.power_types import PowerGate
from netgraph.errors import UnknownNameError
from netgraph.plan.goals import GOALS
from tests.unit.advice.bench import (
    LARK_RAILS,
    Drawn,
    bench,
    card,
    lark,
    lark_sound,
    ohms,
    triage_done,
)
from tests.unit.plan.sketch import Sketch, recorder

FLEXES = ("J2", "J3", "J5")


def gate(*lines: str, feed: str | None = None) -> PowerGate:
    return power_gate(*lark(), bench=bench(lark(), *lines), feed=feed)


def codes(found: PowerGate) -> list[str]:
    return [one.code for one in found.because]


def all_clear() -> list[str]:
    return [*triage_done(*FLEXES), *lark_sound()]


def test_without_cards_nothing_is_done_and_every_item_of_the_triage_is_named() -> None:
    """Bench practice 1.1, in its order."""
    found = gate()
    assert found.verdict == "not-yet"
    assert codes(found)[:8] == [
        "triage-cell",
        "triage-photo",
        "triage-unplug",
        "triage-shield",
        "triage-look",
        "triage-clean",
        "triage-dry",
        "triage-look-again",
    ]


def test_the_entry_is_the_one_from_which_the_kept_chips_live() -> None:
    """A port that feeds nothing makes a board that draws nothing: it would pass for dead."""
    s = Sketch()
    s.rail("VBUS", "entry", 5.0).rail("VIN", "entry", 12.0).rail("V3", "buck", 3.3, ("U9", "VIN"))
    s.part("J1", "connector", "VIN", "GND").part("J2", "connector", "VBUS", "GND", value="USB")
    s.part("D1", "esd-array", "VBUS", "GND", "DP").part("U9", "regulator", "VIN", "V3", "GND")
    s.part("U1", "processor", "V3", "GND", "DP").part("U2", "storage", "V3", "GND", "S0")
    found = power_gate(*s.done())
    assert found.feed is not None
    assert found.feed.net == "VIN"


def test_with_everything_done_and_read_the_answer_is_yes() -> None:
    found = gate(*all_clear())
    assert found.verdict == "yes"
    assert codes(found) == ["power-ready"]
    assert all(one.passed for one in found.clear_first)


@pytest.mark.parametrize(
    "left_out", [one for one in triage_done(*FLEXES) if '"kind": "seen"' not in one]
)
def test_any_item_of_the_triage_left_out_is_a_not_yet(left_out: str) -> None:
    """But the first look: once it is cleaned, the look after drying is the only one left."""
    lines = triage_done(*FLEXES)
    lines.remove(left_out)
    assert gate(*lines, *lark_sound()).verdict == "not-yet"


@pytest.mark.parametrize("net", LARK_RAILS)
def test_any_needed_supply_not_read_is_a_not_yet(net: str) -> None:
    lines = [line for line in lark_sound() if f'"at": "{net}"' not in line or '"to"' in line]
    found = gate(*triage_done(*FLEXES), *lines)
    assert found.verdict == "not-yet"
    assert codes(found) == ["power-unread"]


def test_the_feed_is_the_cell_with_its_nominal_and_the_lines_that_know_the_cell() -> None:
    """A single lithium cell: 3.6 to 3.7 V nominal (published tables of cell voltages)."""
    feed = gate().feed
    assert feed is not None
    assert (feed.net, feed.ref, feed.feed_class) == ("VBAT_CELL", "J1", "single-cell")
    assert feed.volts is not None
    assert 3.6 <= feed.volts <= 3.7
    assert {one.net for one in feed.cell_lines} == {"BAT_TEMP", "BAT_ID"}


def test_draws_are_those_of_the_rules_of_thumb() -> None:
    """Bench practice 4: about 1 to 2 A at 5 V to start, 1 to 3 mA before the key, tens a leak."""
    board, roles, tree = recorder().done()
    found = power_gate(board, roles, tree)
    assert found.feed is not None
    assert found.feed.feed_class == "usb"
    assert found.expected_after == (1.0, 2.0)
    assert found.expected_before == (0.0, 0.003)
    leak = next(one for one in found.off_if if one.code == "off-before-key")
    assert 0.003 < float(str(dict(leak.params)["amps"])) <= 0.05


def test_a_fuse_on_the_way_in_bounds_the_limit() -> None:
    s = recorder()
    s.part("F1", "fuse", "VBUS", "VX", value="750mA")
    assert power_gate(*s.done()).limit_amps == pytest.approx(0.75)


# -- readings ----------------------------------------------------------------------------------


def test_a_supply_that_looks_shorted_is_a_no() -> None:
    found = gate(*all_clear(), ohms("VSYS", 0.09))
    assert (found.verdict, codes(found)[0]) == ("no", "check-low")


def test_a_leak_is_a_not_yet_and_a_person_may_pass_it() -> None:
    """185 ohm at 3.7 V would take 20 mA: tens of milliamperes before the key mean a leak."""
    lines = [*all_clear(), ohms("VSYS", 120)]
    assert (gate(*lines).verdict, codes(gate(*lines))) == ("not-yet", ["check-leak"])
    passed = gate(*lines, card("waive", what="VSYS", why="the sister board reads the same"))
    assert passed.verdict == "yes"
    assert "power-waived" in [one.code for one in passed.warnings]


def test_a_person_cannot_pass_a_short() -> None:
    lines = [*all_clear(), ohms("VSYS", 0.09), card("waive", what="VSYS", why="in a hurry")]
    assert gate(*lines).verdict == "no"


@pytest.mark.parametrize("value", [0.4, 1.0, 4.0, 9.0])
def test_a_core_is_never_called_shorted_by_its_figure(value: float) -> None:
    """Bench practice 4: big processors 1 to 10 ohm, graphics cores below 1 ohm, all healthy."""
    found = gate(*all_clear(), ohms("CORE_0V95", value))
    assert found.verdict == "not-yet"
    assert codes(found) == ["check-compare"]
    assert "short" not in found.because[0].text
    known = card("waive", what="CORE_0V95", why="known-good board reads 4 ohm")
    assert gate(*all_clear(), ohms("CORE_0V95", value), known).verdict == "yes"


@pytest.mark.parametrize(("value", "verdict"), [(300.0, "yes"), (60.0, "yes"), (20.0, "not-yet")])
def test_a_memory_supply_may_read_50_to_300_ohm(value: float, verdict: str) -> None:
    """Bench practice 4: memory rails at 1.1 to 1.5 V, 50 to 300 ohm are normal."""
    s = recorder()
    s.rail("MEM", "linear", 1.35, ("U8", "3V3"))
    s.part("U8", "regulator", "3V3", "MEM", "GND")
    s.part("U7", "memory", "MEM", "GND", "CLK")
    drawn = s.done()
    rails = [ohms(one, 2000) for one in ("VBUS", "3V3")]
    state = bench(drawn, *triage_done(), *rails, ohms("MEM", value))
    assert power_gate(*drawn, bench=state).verdict == verdict


def test_a_reading_from_before_the_cleaning_does_not_count() -> None:
    assert gate(*lark_sound(), *triage_done(*FLEXES)).verdict == "not-yet"


def test_a_reading_speaks_for_what_links_join_to_it() -> None:
    """3V3 of the sketch; VIN lies behind a ferrite of VBUS."""
    drawn = recorder().done()
    state = bench(drawn, *triage_done(), ohms("VIN", 2000), ohms("3V3", 2000))
    assert power_gate(*drawn, bench=state).verdict == "yes"


# -- high volts --------------------------------------------------------------------------------


def test_no_short_loop_and_a_backlight_bridged_to_a_line_in_the_display_connector_is_a_no() -> None:
    """The third scenario of bench practice 11: all rails above 500 ohm, a loop, the backlight's
    output reads 3 kohm to a 1.8 V pin; the display stays unplugged and power with it is refused.
    """
    rails = [ohms(one, 25 if one == "CORE_0V95" else 1500) for one in LARK_RAILS]
    loop = card("draw", at="VBAT", volts=3.9, state="loop", period_s=6, low=0.1, high=0.9)
    bridged = ohms("BACKLIGHT_19V", 3000, to="DISPLAY_RST_N")
    lines = [*triage_done(*FLEXES), *rails, loop, card("usb", seen="none"), bridged]
    found = gate(*lines, card("plug", ref="J3"))
    assert found.verdict == "no"
    assert codes(found)[0] == "check-bridged"
    assert "triage-plugged" in codes(found)
    assert "power-loop" in [one.code for one in found.warnings]
    assert "J3" in [one.ref for one in found.plugs]
    assert gate(*lines).verdict == "no"


@pytest.mark.parametrize(
    ("value", "verdict"), [(999e3, "no"), (1e6, "yes"), (None, "yes"), (3e3, "no")]
)
def test_high_volts_are_proved_clear_above_a_megohm(value: float | None, verdict: str) -> None:
    """Bench practice 1.5: more than 1 Mohm dry."""
    found = gate(*all_clear(), ohms("BACKLIGHT_19V", value, to="BACKLIGHT_PWM"))
    assert found.verdict == verdict


def test_diode_mode_proves_nothing_about_high_volts() -> None:
    lines = [line for line in all_clear() if '"to": "BACKLIGHT_PWM"' not in line]
    assert gate(*lines).verdict == "not-yet"


# -- vetoes and doubts -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "code"),
    [
        (card("cell", connected=True), "triage-cell-connected"),
        (card("clean", at="J2"), "triage-wet"),
        (card("plug", ref="J3"), "triage-plugged"),
        (card("dry", at="board", hours=0.1), "triage-solvent-short"),
        (card("open-to-test", ref="L1"), "power-still-open"),
        (card("draw", value=0.04, state="before-key"), "power-leak-before"),
    ],
)
def test_a_card_that_says_no_is_not_waived(line: str, code: str) -> None:
    waivers = [
        card("waive", what=one, why="in a hurry") for one in ("cell", "dry", "unplug", "solvent")
    ]
    found = gate(*all_clear(), line, *waivers)
    assert found.verdict != "yes"
    assert code in codes(found)


def test_open_items_may_be_waived_with_a_reason() -> None:
    items = ("photo", "unplug", "shield", "look", "clean", "dry", "look-again")
    waivers = [card("waive", what=one, why="came dry from a colleague") for one in items]
    found = gate(card("cell", connected=False), *waivers, *lark_sound())
    assert found.verdict == "yes"
    assert [one.code for one in found.warnings].count("power-waived") == len(items)


def test_a_swollen_cell_ends_it() -> None:
    found = gate(*all_clear(), card("seen", at="J1", what="cell swollen"))
    assert (found.verdict, codes(found)[0]) == ("no", "triage-cell-swollen")


def test_bypassed_protection_is_never_run_with_a_cell() -> None:
    """F1 is the fuse between the cell and the board (bench practice 7)."""
    lines = [*all_clear(), card("jumper", ref="F1"), ohms("VBAT", 2000)]
    found = gate(*lines)
    assert found.verdict == "yes"
    assert [one.code for one in found.never_with_cell] == ["power-bypassed"]
    with_cell = gate(*lines, card("cell", connected=True))
    assert with_cell.verdict == "no"
    assert "power-cell-unprotected" in codes(with_cell)


def test_a_kept_part_that_is_off_must_be_fitted_again() -> None:
    off = gate(*all_clear(), card("lift", ref="U4"), *lark_sound())
    assert "power-kept-gone" in codes(off)
    back = gate(*all_clear(), card("lift", ref="U4"), card("fit", ref="U4"), *lark_sound())
    assert back.verdict == "yes"


def test_a_series_part_that_is_off_leaves_a_needed_supply_unfed() -> None:
    found = gate(*all_clear(), card("lift", ref="F1"), *lark_sound())
    assert "power-fed-no-more" in codes(found)


def test_an_entry_of_unknown_volts_is_a_not_yet_that_says_what_to_find_out() -> None:
    s = Sketch()
    s.rail("VIN", "entry", None)
    s.part("J1", "connector", "VIN", "GND").part("U1", "processor", "VIN", "GND", "A", "B")
    drawn = s.done()
    found = power_gate(*drawn, bench=bench(drawn, *triage_done(), ohms("VIN", None)))
    assert found.verdict == "not-yet"
    assert {"feed-volts-unknown", "power-to-note"} <= set(codes(found))
    assert found.feed is not None
    assert found.feed.volts is None
    assert found.limit_amps is None


def test_a_supply_that_is_no_entry_is_fed_only_on_purpose() -> None:
    lines = [*all_clear(), card("unplug", ref="J1")]
    found = gate(*lines, feed="1V8")
    assert (found.verdict, codes(found)) == ("not-yet", ["power-inner"])
    assert found.feed is not None
    assert found.feed.ref != "J3"
    assert found.expected_after is None
    meant = gate(*lines, card("waive", what="feed", why="to read the storage alone"), feed="1V8")
    assert meant.verdict == "yes"


def test_volts_below_the_nominal_say_why() -> None:
    """A ferrite joins the cell's net to one of 3.3 V: the least nominal counts."""
    s = Sketch()
    s.rail("VBAT", "entry", 3.7).rail("V33", "filtered", 3.3, ("FB1", "VBAT"))
    s.part("J1", "connector", "VBAT", "GND").part("FB1", "ferrite", "VBAT", "V33")
    s.part("U1", "processor", "V33", "GND", "A", "B")
    feed = power_gate(*s.done()).feed
    assert feed is not None
    assert feed.volts == 3.3
    assert feed.because.code == "feed-lowered"


def test_a_charger_input_is_not_fed_above_the_cell_behind_it() -> None:
    """VBUS at 5 V may reach VBAT (3.7 V) through the charger: the one ceiling rule holds here."""
    feed = gate(feed="VBUS_IN").feed
    assert feed is not None
    assert feed.volts is None
    assert feed.missing is not None
    assert feed.missing.code == "feed-ceiling-low"


@pytest.mark.parametrize(
    ("volts", "kind", "given"),
    [
        (3.7, "single-cell", 3.7),
        (7.4, "cells-in-series", 7.4),
        (11.1, "cells-in-series", 11.1),
        (14.8, "cells-in-series", 14.8),
    ],
)
def test_cells_by_class(volts: float, kind: str, given: float) -> None:
    """Nominal volts of 1 to 4 lithium cells in series (published tables of cell voltages)."""
    s = Sketch()
    s.rail("VBAT", "entry", volts).rail("3V3", "buck", 3.3, ("U2", "VBAT"))
    s.part("J1", "connector", "VBAT", "GND").part("U2", "regulator", "VBAT", "3V3", "GND")
    s.part("U1", "processor", "3V3", "GND", "A", "B")
    feed = power_gate(*s.done()).feed
    assert feed is not None
    assert (feed.feed_class, feed.volts) == (kind, given)


def test_a_barrel_input_is_fed_with_its_own_volts() -> None:
    s = Sketch()
    s.rail("DC_IN", "entry", 19.0).rail("3V3", "buck", 3.3, ("U2", "DC_IN"))
    s.part("J1", "connector", "DC_IN", "GND").part("U2", "regulator", "DC_IN", "3V3", "GND")
    s.part("U1", "processor", "3V3", "GND", "A", "B")
    feed = power_gate(*s.done()).feed
    assert feed is not None
    assert (feed.feed_class, feed.volts) == ("dc-input", 19.0)


def test_a_board_on_which_nothing_holds_data_is_a_not_yet() -> None:
    s = Sketch()
    s.rail("VBUS", "entry", 5.0).part("J1", "connector", "VBUS", "GND")
    assert "goal-unclear" in codes(power_gate(*s.done()))


def test_a_board_without_an_entry_is_a_not_yet() -> None:
    s = Sketch()
    s.rail("3V3", "unknown", 3.3).part("U1", "processor", "3V3", "GND", "A", "B")
    assert "power-no-entry" in codes(power_gate(*s.done()))


def test_an_unknown_feed_is_told() -> None:
    with pytest.raises(UnknownNameError):
        gate(feed="VBATT")


def test_every_goal_is_answered() -> None:
    for goal in GOALS.values():
        assert power_gate(*lark(), goal=goal).goal == goal.name


def test_a_pin_row_between_two_supplies_is_left_alone() -> None:
    """It may carry a link that the board needs (seen on an open board, computing-core A5 (6))."""
    s = recorder().part("P8", "connector", "VIN", "3V3")
    assert "P8" not in [one.ref for one in power_gate(*s.done()).plugs]


def test_host_and_screen_come_back_when_the_draw_is_right_and_high_volts_are_clear() -> None:
    quiet = card("draw", at="VBAT", volts=3.7, value=0.001, state="before-key")
    plugged = [card("plug", ref="J2"), card("plug", ref="J3")]
    assert gate(*all_clear(), *plugged).verdict == "not-yet"
    found = gate(*all_clear(), quiet, *plugged)
    assert found.verdict == "yes"
    assert [one.ref for one in found.plugs] == ["J4", "J5"]
    bridged = ohms("BACKLIGHT_19V", 2e5, to="BACKLIGHT_PWM")
    assert gate(*all_clear(), quiet, bridged, *plugged).verdict == "no"


def test_a_draw_from_before_the_repair_does_not_stand_in_the_way() -> None:
    """Else nobody could find out what it draws now."""
    leak = card("draw", value=0.04, state="before-key")
    lift = card("lift", ref="C34")
    assert gate(*all_clear(), leak).verdict == "not-yet"
    assert gate(*triage_done(*FLEXES), leak, lift, *lark_sound()).verdict == "yes"


def test_reading_storage_in_place_still_asks_for_the_processors_supplies() -> None:
    found = power_gate(*lark(), goal=GOALS["image-storage-in-circuit"])
    assert "CORE_0V95" in [one.net for one in found.clear_first]
    assert "power-hold-reset" in [one.code for one in found.warnings]
    assert "power-hold-reset" not in [one.code for one in gate().warnings]


def _traced(entry: str, volts: float) -> Drawn:
    """A board of which only a part is traced: the entry, a converter, the processor."""
    s = Sketch()
    s.rail(entry, "entry", volts).rail("3V3", "buck", 3.3, ("U2", entry))
    s.part("J1", "connector", entry, "GND").part("U2", "regulator", entry, "3V3", "GND")
    s.part("U1", "processor", "3V3", "GND", "A", "B")
    board, roles, tree = s.done()
    return replace(board, partial=True), roles, tree


def test_a_partly_traced_board_is_fed_at_its_cell_only_when_a_person_says_so() -> None:
    """A supply in place of the cell gives no more than the cell gave (bench practice 10: what is
    not traced is called untraced).
    """
    drawn = _traced("VBAT", 3.7)
    lines = [*triage_done(), ohms("VBAT", 2000), ohms("3V3", 2000)]
    found = power_gate(*drawn, bench=bench(drawn, *lines))
    assert (found.verdict, codes(found)) == ("not-yet", ["power-untraced"])
    assert found.feed is not None
    assert found.feed.volts == 3.7
    meant = bench(drawn, *lines, card("waive", what="untraced", why="connectors traced"))
    assert power_gate(*drawn, bench=meant).verdict == "yes"


def test_other_entries_of_a_partly_traced_board_get_no_volts() -> None:
    feed = power_gate(*_traced("VBUS", 5.0)).feed
    assert feed is not None
    assert feed.volts is None
    assert feed.missing is not None
    assert feed.missing.code == "ceiling-untraced"
