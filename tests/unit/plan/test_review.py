# SPDX-License-Identifier: GPL-3.0-or-later
"""Questions to a person: what is asked, in which order, and what an answer does.

Weights are worked out by hand from the formula in the docstring of `find_questions`.
"""

from __future__ import annotations

import pytest

from netgraph.errors import UsageError
from netgraph.plan.review import find_questions
from netgraph.plan.review_types import Choice, Question, answered
from netgraph.rails import find_rails
from netgraph.roles import NO_NOTES, BoardNotes, find_roles
from netgraph.roles.notes import FeederNote, NetNote, PartNote
from netgraph.roles.notes_check import check_notes
from tests.unit.circuits import GROUND, circuit
from tests.unit.plan.sketch import Sketch

BOARD = (
    GROUND
    + """
J1 USB_C USB_C_Receptacle A4:VBUS=VBUS A1:GND=GND A6:D+=DP A7:D-=DM
C1 10u C_0603 1=VBUS 2=GND
U1 TLV62569 SOT-563 1:EN=VBUS 2:GND=GND 3:SW=SWN 4:VIN=VBUS 5:FB=FBN
L1 2.2uH L_2520 1=SWN 2=CORE
C2 22u C_0805 1=CORE 2=GND
C3 100n C_0402 1=CORE 2=GND
U2 STM32F405 LQFP-64 1:VDD=CORE 2:VSS=GND 3:PA5=CLK 4:PA6=DO
U3 W25Q128 SOIC-8 8:VCC=CORE 4:GND=GND 6:CLK=CLK 2:DO=DO
"""
)


def ask(text: str, notes: BoardNotes = NO_NOTES) -> dict[tuple[str, str], Question]:
    board = circuit(text)
    roles = find_roles(board, notes)
    tree = find_rails(board, roles, notes)
    found = find_questions(board, roles, tree, notes=notes)
    assert list(found) == sorted(found, key=lambda one: -one.weight)
    return {(one.about, one.target): one for one in found}


def labels(question: Question) -> list[str]:
    return [choice.label.text for choice in question.choices]


def choice_of(question: Question, begin: str) -> Choice:
    (found,) = [one for one in question.choices if one.label.text.startswith(begin)]
    return found


def test_a_rail_without_known_volts_is_asked_until_a_figure_is_noted() -> None:
    question = ask(BOARD)[("volts", "CORE")]
    assert question.now.text == "not known"
    notes = answered(NO_NOTES, question, choice_of(question, "type a figure"), "1,2 V")
    assert notes.net("CORE").nominal_volts == 1.2
    assert ("volts", "CORE") not in ask(BOARD, notes)


@pytest.mark.parametrize("typed", ["", "much", "nan", "1e9", "3.3.3"])
def test_what_is_no_figure_is_refused(typed: str) -> None:
    question = ask(BOARD)[("volts", "CORE")]
    with pytest.raises(UsageError):
        answered(NO_NOTES, question, choice_of(question, "type a figure"), typed)


def test_what_nobody_knows_is_noted_and_not_asked_again() -> None:
    question = ask(BOARD)[("volts", "CORE")]
    notes = answered(NO_NOTES, question, choice_of(question, "nothing known"))
    assert (notes.parts, notes.nets) == ({}, {})
    assert notes.asked == {("volts", "CORE")}
    assert ("volts", "CORE") not in ask(BOARD, notes)


def test_a_chip_nobody_can_tell_is_asked_with_its_runner_up_roles() -> None:
    text = BOARD + "X7 ZZ9 - 1=CORE 2=GND 3=CLK 4=N4 5=N5 6=N6\n"
    question = ask(text)[("role", "X7")]
    assert labels(question)[-2:] == [
        "something else: type the role",
        "nothing known: do not ask again",
    ]
    assert len(question.choices) <= 5
    typed = choice_of(question, "something else")
    notes = answered(NO_NOTES, question, typed, "Boot flash")
    assert notes.part("X7") == PartNote(role="boot-flash")
    assert ("role", "X7") not in ask(text, notes)
    with pytest.raises(UsageError):
        answered(NO_NOTES, question, typed, "lamp")


UNFED = (
    GROUND
    + """
J1 USB_C USB_C_Receptacle A4:VBUS=VBUS A1:GND=GND A6:D+=DP A7:D-=DM
C1 10u C_0603 1=VBUS 2=GND
R9 0R R_0402 1=VBUS 2=VDD_IO
C2 10u C_0603 1=VDD_IO 2=GND
C3 100n C_0402 1=VDD_IO 2=GND
U2 STM32F405 LQFP-64 1:VDD=VDD_IO 2:VSS=GND 3:PA5=CLK 4:PA6=DO
U3 W25Q128 SOIC-8 8:VCC=VDD_IO 4:GND=GND 6:CLK=CLK 2:DO=DO
"""
)


def test_a_link_that_is_marked_off_is_asked_for_where_its_rail_lacks_a_feeder() -> None:
    board = circuit(UNFED)
    off = BoardNotes({"R9": PartNote(fitted=False)})
    # The mark must come from the file and not from a note, which would be a person's word.
    roles = find_roles(board, off)
    tree = find_rails(board, roles, off)
    found = {(one.about, one.target): one for one in find_questions(board, roles, tree)}
    assert found[("fitted", "R9")].now.text == "not fitted"
    assert ("feeder", "VDD_IO") in found
    by_person = find_questions(board, roles, tree, notes=off)
    assert ("fitted", "R9") not in {(one.about, one.target) for one in by_person}


def test_a_person_who_names_the_entry_makes_one() -> None:
    text = UNFED.replace("R9 0R R_0402 1=VBUS 2=VDD_IO\n", "")
    question = ask(text)[("feeder", "VDD_IO")]
    assert question.now.text == "no feeder found"
    notes = answered(NO_NOTES, question, choice_of(question, "an entry"))
    assert notes.net("VDD_IO").feeders == ()
    board = circuit(text)
    tree = find_rails(board, find_roles(board, notes), notes)
    assert tree.by_net["VDD_IO"].kind == "entry"
    assert ("feeder", "VDD_IO") not in ask(text, notes)


def test_confirming_a_feeder_loses_nothing_that_the_wiring_shows() -> None:
    """Kind and power path stay those of the converter; a figure from its divider stays too."""
    text = BOARD + "R1 100k R_0402 1=CORE 2=FBN\nR2 100k R_0402 1=FBN 2=GND\n"
    board = circuit(text)
    before = find_rails(board, find_roles(board)).by_net["CORE"]
    (feeder,) = before.feeders
    said = BoardNotes(nets={"CORE": NetNote(feeders=(FeederNote("U1", "VBUS"),))})
    after = find_rails(board, find_roles(board, said), said).by_net["CORE"]
    assert before.nominal_volts is not None
    assert (after.kind, after.nominal_volts) == (before.kind, before.nominal_volts)
    assert after.feeders[0].through == feeder.through == ("L1",)
    assert after.feeders[0].confidence == 1.0


def test_a_boost_may_be_noted_as_fed_from_the_far_side_of_its_coil() -> None:
    """The chip itself has no pad on the net it takes its power from."""
    board = circuit(
        GROUND
        + """
L1 4.7uH L_2520 1=VBAT 2=SWN
U1 XX BOOST_SOT-23-5 1:SW=SWN 2:GND=GND 3:FB=FBN 4:EN=ENB 5:OUT=+5V
"""
    )
    near = BoardNotes(nets={"+5V": NetNote(feeders=(FeederNote("U1", "VBAT"),))})
    assert check_notes(board, near) == ()
    far = BoardNotes(nets={"+5V": NetNote(feeders=(FeederNote("U1", "X1"),))})
    assert [one.code for one in check_notes(board, far)] == ["feeder-not-on-net"]


# -- weights, by hand --------------------------------------------------------------------------


def sketch() -> Sketch:
    """VIN feeds MAIN over a ferrite, MAIN feeds CORE by a regulator of doubtful role."""
    return (
        Sketch()
        .part("J1", "connector", "VIN", "GND")
        .part("FB1", "ferrite", "VIN", "MAIN")
        .part("U1", "regulator", "MAIN", "GND", "CORE", confidence=0.5)
        .part("U2", "processor", "CORE", "GND", "S1")
        .part("U3", "storage", "CORE", "GND", "S1")
        .part("U4", "sensor", "MAIN", "GND", "S1", "S2", "S3", "S4", confidence=0.4)
        .net("GND", "ground")
        .rail("VIN", "entry", 5.0)
        .rail("MAIN", "filtered", None, ("FB1", "VIN"))
        .rail("CORE", "linear", None, ("U1", "MAIN"))
    )


def test_weights_follow_the_formula() -> None:
    board, roles, tree = sketch().done()
    found = {(one.about, one.target): one for one in find_questions(board, roles, tree)}
    u1 = found[("role", "U1")]
    # U1 itself feeds CORE: U1, U2, U3; two of them may hold the data.
    assert (u1.parts, u1.kept, u1.ceilings) == (3, 2, 0)
    assert u1.weight == pytest.approx((1 - 0.5) * (3 + 5 * 2))
    u4 = found[("role", "U4")]
    # Nothing hangs on a sensor but itself; of six pads and unsure, it might hold data.
    assert (u4.parts, u4.kept) == (1, 1)
    assert u4.weight == pytest.approx((1 - 0.4) * (1 + 5))
    core = found[("volts", "CORE")]
    assert (core.parts, core.kept) == (3, 2)
    assert core.weight == pytest.approx(3 + 5 * 2 + core.ceilings)
    assert core.ceilings == 0, "a regulator that is off passes nothing forwards"
    main = found[("volts", "MAIN")]
    # FB1, U1, U4 on it and U2, U3 below it. VIN brings it alive by FB1, CORE backwards by U1.
    assert (main.parts, main.kept, main.ceilings) == (5, 2, 2)
    assert main.weight == pytest.approx(5 + 5 * 2 + 2)


def test_the_limit_takes_the_heaviest() -> None:
    board, roles, tree = sketch().done()
    everything = find_questions(board, roles, tree)
    assert len(everything) > 2
    assert find_questions(board, roles, tree, limit=2) == everything[:2]
    assert find_questions(board, roles, tree, limit=0) == ()


def test_what_a_person_needs_kept_weighs_more() -> None:
    board, roles, tree = sketch().done()
    notes = BoardNotes({"U1": PartNote(keep="irreplaceable"), "U3": PartNote(keep="no")})
    found = {(o.about, o.target): o for o in find_questions(board, roles, tree, notes=notes)}
    assert found[("volts", "CORE")].kept == 2, "U1 in, U2 in, U3 out"
