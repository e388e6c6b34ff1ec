# SPDX-License-Identifier: GPL-3.0-or-later
"""Whatever the board and whatever is answered: the question is gone, and the notes fit.

Our own claims; the source is the project's rule that what a person said is not asked again.
"""

from __future__ import annotations

from hypothesis import event, given
from hypothesis import strategies as st

from netgraph.model import Board
from netgraph.plan.review import find_questions
from netgraph.plan.review_types import Choice, Question, answered
from netgraph.rails import RailTree, find_rails
from netgraph.rails.tree import RailTree as Tree
from netgraph.roles import NET_KINDS, NO_NOTES, ROLES, BoardNotes, Roles, find_roles
from netgraph.roles.notes_check import check_notes
from tests.property import plan_strategies
from tests.property.plan_strategies import Drawn
from tests.unit.circuits import circuit

RAILS = ("VBUS", "VBAT", "VSYS", "+3V3", "VDD_X", "N1", "N2")
PARTS = (
    "J{n} USB_C USB_C_Receptacle A4:VBUS={a} A1:GND=GND A6:D+={s}",
    "J{n} BAT JST_PH 1={a} 2=GND",
    "FB{n} 600R@100MHz L_0603 1={a} 2={b}",
    "R{n} 0R R_0402 1={a} 2={b}",
    "R{n} 0.01 R_1206 1={a} 2={b}",
    "D{n} - D_SMA 1={a} 2={b}",
    "Q{n} - SOT-23 1={s} 2={a} 3={b}",
    "U{n} AP2112K-3.3 SOT-23-5 1:VIN={a} 2:GND=GND 3:EN={a} 5:VOUT={b}",
    "U{n} - SOT-23-5 1={a} 2=GND 3={s} 5={b}",
    "U{n} STM32F405 LQFP-64 1:VDD={a} 2:VSS=GND 3:PA5={s} 4={b}",
    "X{n} - - 1={a} 2={b} 3={s} 4=GND 5=T{n} 6=W{n}",
    "L{n} 2.2uH L_2520 1={a} 2=SW{n}\nU9{n} TPS62 SOT-563 1:SW=SW{n} 2:GND=GND 3:VIN={b} 4:FB={s}",
)


@st.composite
def circuits(draw: st.DrawFn) -> Board:
    """A handful of supply parts between a handful of nets, and enough around ground."""
    lines = [f"C{n} 100n C_0402 1={net} 2=GND" for n, net in enumerate(RAILS)]
    for n in range(draw(st.integers(1, 7))):
        shape = draw(st.sampled_from(PARTS))
        a, b = draw(st.sampled_from(RAILS)), draw(st.sampled_from(RAILS))
        lines.append(shape.format(n=n + 1, a=a, b=b, s=f"S{draw(st.integers(0, 2))}"))
    return circuit("\n".join(lines))


def asked(board: Board, notes: BoardNotes) -> tuple[Roles, RailTree, tuple[Question, ...]]:
    roles = find_roles(board, notes)
    tree = find_rails(board, roles, notes)
    return roles, tree, find_questions(board, roles, tree, notes=notes)


def typed_for(choice: Choice) -> st.SearchStrategy[str]:
    words = {
        "role": st.sampled_from(ROLES),
        "kind": st.sampled_from(NET_KINDS),
        "volts": st.sampled_from(("3.3", "-12 V", "0", "1,8")),
    }
    return st.just("") if choice.typed is None else words[choice.typed]


@given(circuits(), st.data())
def test_an_answered_question_is_gone_whatever_the_answer(
    board: Board, data: st.DataObject
) -> None:
    _, _, questions = asked(board, NO_NOTES)
    event(f"questions: {min(len(questions), 5)}")
    if not questions:
        return
    one = data.draw(st.sampled_from(questions))
    for choice in one.choices:
        notes = answered(NO_NOTES, one, choice, data.draw(typed_for(choice)))
        assert check_notes(board, notes) == ()
        assert notes != NO_NOTES
        _, _, after = asked(board, notes)
        assert (one.about, one.target) not in {(q.about, q.target) for q in after}


@given(circuits(), st.data())
def test_answering_on_and_on_comes_to_an_end(board: Board, data: st.DataObject) -> None:
    """An answer may raise new questions, yet each topic of each name is asked once at most."""
    notes, seen = NO_NOTES, set()
    for _ in range(12):
        _, _, questions = asked(board, notes)
        if not questions:
            break
        one = questions[0]
        assert (one.about, one.target) not in seen
        seen.add((one.about, one.target))
        choice = data.draw(st.sampled_from(one.choices))
        notes = answered(notes, one, choice, data.draw(typed_for(choice)))
        for said in notes.parts:
            if notes.part(said).role is not None:
                assert asked(board, notes)[0].role(said) == notes.part(said).role
    assert check_notes(board, notes) == ()


@given(plan_strategies.boards())
def test_wild_answers_can_be_asked_about_too(drawn: Drawn) -> None:
    """Roles and trees that contradict each other, cycles and gaps included."""
    board, roles, tree = drawn
    questions = find_questions(board, roles, tree)
    assert len({(q.about, q.target) for q in questions}) == len(questions)
    assert [q.weight for q in questions] == sorted((q.weight for q in questions), reverse=True)
    for one in questions:
        assert 0 <= one.confidence <= 1
        assert one.weight >= 0
        assert one.choices
        assert one.asks.text
        for choice in one.choices:
            assert choice.label.text
            ready = (choice.part_note is not None) + (choice.net_note is not None)
            assert ready + (choice.typed is not None) + choice.gives_up == 1
            assert choice.part_note is None or one.is_of_part
            assert choice.net_note is None or not one.is_of_part
            if choice.typed is None:
                notes = answered(NO_NOTES, one, choice)
                assert check_notes(board, notes) == ()
                after = find_questions(board, roles, tree, notes=notes)
                assert (one.about, one.target) not in {(q.about, q.target) for q in after}


@given(plan_strategies.boards())
def test_the_order_of_rails_does_not_matter(drawn: Drawn) -> None:
    board, roles, tree = drawn
    turned = Tree(tree.grounds, tuple(reversed(tree.rails)))
    one = [(q.about, q.target, q.weight) for q in find_questions(board, roles, tree)]
    assert one == [(q.about, q.target, q.weight) for q in find_questions(board, roles, turned)]
