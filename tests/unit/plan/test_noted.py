# SPDX-License-Identifier: GPL-3.0-or-later
"""Notes that a slip of the keyboard would explain: the plan says so, and builds on none of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from netgraph import survey as survey_room
from netgraph.assets import asset_path
from netgraph.errors import UsageError
from netgraph.plan.lift import lift_table
from netgraph.roles.notes import BoardNotes, NetNote, PartNote
from netgraph.survey import Survey

LARK = Path(str(asset_path("sample_boards/lark/lark.kicad_pcb")))


def surveyed(notes: BoardNotes, short: str = "VSYS") -> Survey:
    return survey_room.survey(LARK, short=short, notes=notes)


@pytest.mark.parametrize("short", ["CORE_0V95", "VSYS"])
def test_a_note_above_the_volts_of_the_name_gives_no_ceiling(short: str) -> None:
    plan = surveyed(BoardNotes(nets={short: NetNote(nominal_volts=95.0)}), "CORE_0V95").injection
    assert plan is not None
    if short == "CORE_0V95":
        assert (plan.verdict, plan.max_volts) == ("unsure", None)
        assert plan.why.code == "ceiling-note-disputed"
    assert plan.max_volts is None or plan.max_volts <= 0.95
    assert plan.stop_volts <= 0.475


def test_the_person_wins_by_saying_why_or_by_saying_less() -> None:
    why = NetNote(nominal_volts=1.05, why="measured on a sound one")
    plan = surveyed(BoardNotes(nets={"CORE_0V95": why}), "CORE_0V95").injection
    assert plan is not None
    assert (plan.verdict, plan.max_volts) == ("ok", 1.05)
    less = surveyed(BoardNotes(nets={"CORE_0V95": NetNote(nominal_volts=0.8)}), "CORE_0V95")
    assert less.injection is not None
    assert less.injection.max_volts == 0.8


def test_a_supply_noted_as_ground_is_said_in_every_plan() -> None:
    notes = BoardNotes(nets={"3V3": NetNote(kind="ground")})
    found = surveyed(notes)
    assert found.injection is not None
    assert found.lifts is not None
    assert "noted-ground" in {one.code for one in found.injection.warnings}
    assert "noted-ground" in {one.code for one in found.lifts.note_cautions}


def test_the_only_processor_is_no_spare_part_even_by_note() -> None:
    found = surveyed(BoardNotes(parts={"U9": PartNote(keep="no")}), "CORE_0V95")
    assert found.lifts is not None
    (row,) = [one for one in found.lifts.rows if one.part_id == "U9"]
    assert (row.verdict, row.why.code) == ("unsure", "lift-only-processor")
    assert "noted-not-kept" in {one.code for one in found.lifts.note_cautions}


def test_volts_noted_for_a_net_make_it_a_supply() -> None:
    found = surveyed(BoardNotes(nets={"SW_CORE": NetNote(nominal_volts=0.95)}))
    assert found.roles.nets["SW_CORE"].kind == "rail"


def test_ground_is_not_shorted_to_ground() -> None:
    found = survey_room.survey(LARK)
    with pytest.raises(UsageError, match="ground"):
        lift_table(found.board, found.roles, found.tree, "GND")


def test_a_note_above_what_the_feeder_can_give_is_not_built_on_even_with_a_reason() -> None:
    """3V3 is stepped down from VSYS (3.7 V): no reason makes 9 V of it."""
    notes = BoardNotes(nets={"PLL_1V8": NetNote(nominal_volts=9.0, why="so I think")})
    plan = surveyed(notes, "PLL_1V8").injection
    assert plan is not None
    assert plan.max_volts is None or plan.max_volts <= 1.8
    assert plan.verdict == "unsure"


def test_storage_noted_as_something_else_or_as_not_fitted_is_said() -> None:
    for note, code in (
        (PartNote(role="connector"), "noted-role"),
        (PartNote(fitted=False), "noted-not-fitted"),
    ):
        found = surveyed(BoardNotes(parts={"U11": note}), "1V8_EMMC")
        assert found.lifts is not None
        assert code in {one.code for one in found.lifts.note_cautions}


def test_a_figure_with_the_wrong_sign_is_not_built_on() -> None:
    plan = surveyed(BoardNotes(nets={"3V3": NetNote(nominal_volts=-3.3)}), "3V3").injection
    assert plan is not None
    assert plan.verdict != "ok"
