# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""The command review: which answers should a person confirm first?"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from netgraph.cli.page import Page
from netgraph.cli.session import Job, board_command, is_terminal, write_page
from netgraph.cli.wording import counted, sure
from netgraph.errors import UsageError

if TYPE_CHECKING:
    from netgraph.plan.review_types import Choice, Question
    from netgraph.rails.tree import RailTree
    from netgraph.roles.answer import Roles
    from netgraph.roles.notes import BoardNotes

SHOWN = 10
"""So many questions are shown where nobody names a limit."""


@click.command()
@board_command
@click.option(
    "--limit",
    type=click.IntRange(min=1),
    metavar="N",
    help="Most questions. Default: 10 shown, all with --json and --ask.",
)
@click.option("--ask", is_flag=True, help="Ask one by one and note the answers; on a terminal.")
def review(job: Job, limit: int | None, ask: bool) -> None:
    """Which answers should a person confirm first?

    Lists the least sure answers on which most hangs: what a part is, whether a net is a supply,
    what feeds a rail, its volts, whether a part is there. The heaviest stands first; what a
    person has noted is not asked again.

    \b
    Examples:  netgraph review board.kicad_pcb
               netgraph review board.kicad_pcb --ask

    Columns: weight (how much hangs on the answer, times how unsure it is), the question, the
    answer so far, how sure it is. Below stand the choices of each. With --ask type the number of
    a choice and Enter; Enter alone skips, q stops. Each answer is written to the board notes at
    once, as netgraph notes set does, and it is told how many answers differ because of it.
    """
    if ask:
        if job.as_json:
            raise UsageError("--ask and --json exclude each other")
        if not (is_terminal(sys.stdin) and is_terminal(sys.stdout)):
            hint = "without it the questions are listed; answer with netgraph notes set"
            raise UsageError("--ask needs a terminal", hint=hint)
        _ask_all(job, limit)
        return
    from netgraph.contract.answers import review_fields

    found = _questions(job)
    fields = review_fields(found[:limit], len(found)) if job.as_json else {}
    job.answer("review", fields, lambda page: _page(page, job, found, limit or SHOWN))


def _questions(job: Job) -> tuple[Question, ...]:
    from netgraph.plan.review import find_questions

    return find_questions(job.board, job.roles, job.tree, notes=job.notes)


def _page(page: Page, job: Job, found: tuple[Question, ...], most: int) -> None:
    page.title(f"{job.board.source.file_name}: {counted(len(found), 'question')}")
    if not found:
        page.text("All that is asked about is sure enough or noted.", indent=2)
        return
    rows = [
        (str(number), f"{one.weight:.4g}", one.asks.text, one.now.text, sure(one.confidence))
        for number, one in enumerate(found[:most], start=1)
    ]
    page.table(("no", "weight", "question", "so far", "sure"), rows, right=(0, 1, 4))
    page.section("Choices")
    for number, one in enumerate(found[:most], start=1):
        page.item(str(number), "; ".join(choice.label.text for choice in one.choices))
    page.blank()
    if len(found) > most:
        page.text(f"{len(found) - most} more: --limit {len(found)} shows all.")
    page.text("Answer one by one with --ask, or with netgraph notes set.", style="faint")


# -- asking ------------------------------------------------------------------------------------


def _ask_all(job: Job, limit: int | None) -> None:
    """Ask until nothing is left, the limit is reached, or the person stops."""
    passed: set[tuple[str, str]] = set()
    while limit is None or len(passed) < limit:
        waiting = [one for one in _questions(job) if (one.about, one.target) not in passed]
        if not waiting:
            write_page(lambda page: page.text("No more questions."))
            return
        question, left = waiting[0], len(waiting)
        passed.add((question.about, question.target))
        write_page(lambda page: _ask_page(page, question, left))  # noqa: B023 - called at once
        if not _ask_one(job, question):
            return


def _ask_page(page: Page, one: Question, left: int) -> None:
    page.blank()
    page.title(one.asks.text)
    page.item("so far", f"{one.now.text} (sure {sure(one.confidence)})")
    page.item("weight", f"{one.weight:.4g}: {one.why.text}; {counted(left, 'question')} left")
    for number, choice in enumerate(one.choices, start=1):
        page.item(str(number), choice.label.text, indent=4)


def _ask_one(job: Job, question: Question) -> bool:
    """Take one answer; False when the person stops."""
    from netgraph.plan.review_types import answered

    while True:
        text = _typed(f"1-{len(question.choices)}, Enter: skip, q: stop > ")
        if text is None or text.lower() == "q":
            return False
        if not text:
            return True
        choice = _chosen(question, text)
        if choice is None:
            click.echo(f"{text!r} is none of 1 to {len(question.choices)}.")
            continue
        typed = ""
        if choice.typed is not None:
            answer = _typed(f"{choice.typed} > ")
            if answer is None:
                return False
            typed = answer
        try:
            new = answered(job.notes, question, choice, typed)
            _write(job, new)
        except UsageError as error:
            click.echo(error.one_line())
            continue
        return True


def _chosen(question: Question, text: str) -> Choice | None:
    if not (text.isascii() and text.isdigit() and len(text) < 4):
        return None
    number = int(text)
    return question.choices[number - 1] if 1 <= number <= len(question.choices) else None


def _typed(prompt: str) -> str | None:
    """A line from the terminal without blanks at its ends; None when there is no more."""
    # input() itself may write its prompt to stderr, which need not be the terminal.
    click.echo(prompt, nl=False)
    try:
        return input().strip()
    except EOFError:
        click.echo()
        return None


def _write(job: Job, new: BoardNotes) -> None:
    """Note the answer and say what it changed."""
    from netgraph.cli.notes_file import write_noted

    old_roles, old_tree = job.roles, job.tree
    write_noted(job, job.notes, new)
    changed = _differences(old_roles, old_tree, job.roles, job.tree)
    if not any(changed.values()):
        click.echo("Noted. No other answer differs.")
        return
    said = ", ".join(counted(count, word) for word, count in changed.items() if count)
    click.echo(f"Noted. Answers that differ now: {said}.")


def _differences(
    old_roles: Roles, old_tree: RailTree, roles: Roles, tree: RailTree
) -> dict[str, int]:
    """How many answers differ, by what they are about; reasons alone do not count."""
    parts = sum(
        (one.role, one.confidence) != (old_roles.parts[name].role, old_roles.parts[name].confidence)
        for name, one in roles.parts.items()
    )
    nets = sum(
        (one.kind, one.confidence, one.nominal_volts)
        != (
            old_roles.nets[name].kind,
            old_roles.nets[name].confidence,
            old_roles.nets[name].nominal_volts,
        )
        for name, one in roles.nets.items()
    )
    before, after = _rail_answers(old_tree), _rail_answers(tree)
    rails = sum(before.get(net) != after.get(net) for net in before.keys() | after.keys())
    return {"part": parts, "net": nets, "rail": rails}


def _rail_answers(tree: RailTree) -> dict[str, tuple[object, ...]]:
    return {
        rail.net: (
            rail.kind,
            rail.nominal_volts,
            rail.confidence,
            tuple((one.part_id, one.from_net, one.confidence) for one in rail.feeders),
            rail.loads,
        )
        for rail in tree
    }
