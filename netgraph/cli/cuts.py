# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""Commands about what must stay and how to part it from a fault: keep, isolate, split."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from netgraph.cli.cut_pages import isolate_page, keep_page, need_page, split_page
from netgraph.cli.goal_option import chosen_goal, goal_option
from netgraph.cli.session import Job, board_command, complete_net, write_page
from netgraph.cli.suspects_option import check_suspects, suspects_option

if TYPE_CHECKING:
    from netgraph.plan.goals import Goal
    from netgraph.plan.lift_types import LiftState


def _state(job: Job, goal: Goal, net: str) -> LiftState:
    from netgraph.plan.lift import lift_state

    keep = job.notes.keep_words()
    return lift_state(job.board, job.roles, job.tree, net, goal=goal, keep=keep)


@click.command()
@board_command
@goal_option
@click.option("--why", "part", metavar="REF", help="Only this part: why is it kept, or not?")
@click.option(
    "--storage",
    "protection",
    type=click.Choice(["plain", "keyed"]),
    help="What you know of the stored data: in the clear, or under a key in the processor.",
)
def keep(job: Job, goal: str, part: str | None, protection: str | None) -> None:
    """What must stay for the goal, and which way can the data leave?

    \b
    Examples:  netgraph keep board.kicad_pcb
               netgraph keep board.kicad_pcb --why U12
               netgraph keep board.kicad_pcb --goal image-storage-in-circuit

    `irreplaceable` parts hold the data, its keys or what is paired with them: never taken off by
    advice of this program. `replace` parts are needed, but a like part may take their place.
    A netlist can't tell whether stored data are encrypted; say so with --storage if you know.
    """
    from netgraph.contract.lift_answers import keep_fields
    from netgraph.plan.chain import story_without
    from netgraph.plan.lift import judge
    from netgraph.plan.needs import needed_enables
    from netgraph.plan.storage_route import Protection, storage_route

    net = job.tree.rails[0].net if job.tree.rails else job.board.nets[0].name
    state = _state(job, chosen_goal(goal), net)
    if part is not None:
        job.board.part(part)
        if not job.as_json:
            if part not in state.wiring.fitted:
                write_page(lambda page: page.text(f"{part} is not fitted on this board"))
                return
            item = state.kept.get(part)
            head = f"{part} is not on the keep list of {state.keeps.goal}: "
            if item is None:
                head += judge(state, part).why.text
            else:
                head = f"{part}: {item.kind}, {item.function}. {item.why.text}"
            needs = state.logic.needs.of(part)
            chips = [name for name, one in state.kept.items() if one.kind == "irreplaceable"]
            story = story_without(state.logic, part, chips, state.needed)
            enables = state.logic.needs.enables.get(part, ())
            write_page(lambda page: need_page(page, head, needs, story, enables))
            return
    word: Protection | None = "plain" if protection == "plain" else None
    if protection == "keyed":
        word = "keyed"
    route = storage_route(state.wiring, state.keeps, word)
    drives = needed_enables(state.logic.needs, job.tree, state.keeps.rails)
    job.answer(
        "keep",
        keep_fields(state.keeps, route, drives),
        lambda page: keep_page(page, state.keeps, route, drives),
    )


@click.command()
@board_command
@click.argument("net", shell_complete=complete_net)
@goal_option
def isolate(job: Job, net: str, goal: str) -> None:
    """Which parts off would part this branch from all that the goal needs?

    \b
    Example:  netgraph isolate board.kicad_pcb 3V3_RADIO

    The cheapest set of parts first: links, fuses and ferrites before coils and transistors,
    converters last; small parts and parts near chips that may hold the data cost more. What the
    goal can't live without is never in a set. After a cut measure as said: it may not be complete.
    """
    from netgraph.contract.lift_answers import isolate_fields
    from netgraph.plan.isolation import isolate as find_cuts

    net = job.net_called(net)
    found = find_cuts(_state(job, chosen_goal(goal), net), net)
    job.answer("isolate", isolate_fields(found), lambda page: isolate_page(page, found))


@click.command()
@board_command
@click.argument("net", shell_complete=complete_net)
@suspects_option
def split(job: Job, net: str, suspects: tuple[tuple[str, float], ...]) -> None:
    """Which series part to open on one side, so that one reading halves the suspicion?

    \b
    Examples:  netgraph split board.kicad_pcb VSYS
               netgraph split board.kicad_pcb VSYS --suspect C34 5 --suspect U8 1

    Opened parts are measured on both sides and refitted. The gain is in bits: 1 halves the
    suspicion. Where several parts lie side by side they have to be opened together.
    """
    from netgraph.contract.lift_answers import split_fields
    from netgraph.plan.keep_list import find_keeps
    from netgraph.plan.split import find_splits
    from netgraph.plan.wiring import Wiring

    net = job.net_called(net)
    check_suspects(job, dict(suspects))
    wiring = Wiring(job.board, job.roles, job.tree)
    keeps = find_keeps(job.board, job.roles, job.tree, keep=job.notes.keep_words())
    guarded = frozenset(one.part_id for one in keeps.items if one.kind == "irreplaceable")
    splits = find_splits(wiring, net, dict(suspects) or None, guarded)
    job.answer("split", split_fields(net, splits), lambda page: split_page(page, net, splits))
