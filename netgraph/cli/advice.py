# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""Commands that put the board and the cards together: plan, power."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from netgraph.cli.advice_pages import plan_page, power_page
from netgraph.cli.cards_option import bench_of, cards_option
from netgraph.cli.goal_option import chosen_goal, goal_option
from netgraph.cli.session import Job, board_command, complete_net, short_option, talk
from netgraph.errors import BoardFileError

if TYPE_CHECKING:
    from netgraph.advice.plan_types import OrderedPlan
    from netgraph.advice.power_types import PowerGate
    from netgraph.plan.sites import Site


@click.command()
@board_command
@cards_option
@goal_option
@click.option(
    "--feed",
    metavar="NET",
    shell_complete=complete_net,
    help="Feed this net. Default: the cell's entry, else USB, else another entry.",
)
def power(job: Job, cards_path: str | None, goal: str, feed: str | None) -> None:
    """May I power it now, and how?

    \b
    Example:  netgraph power board.kicad_pcb --cards cards.jsonl

    \b
    yes      nothing known stands against it: limited supply, watch it
    not-yet  something is not done, not read or not known: it is named
    no       a card says that power would do harm

    Says where to feed, volts, current limit, the draw to expect before and after the power key,
    when to switch off, what to read first, and what stays unplugged. Without cards nothing counts
    as done. A card `waive` passes an open question with a reason; it never overrides a card that
    says the bench is not safe.
    """
    from netgraph.contract.advice_answers import power_fields

    feed = None if feed is None else job.net_called(feed)
    gate = power_answer(job, cards_path=cards_path, goal=goal, feed=feed)
    job.answer("power", power_fields(gate), lambda page: power_page(page, gate))


def power_answer(
    job: Job, *, cards_path: str | None = None, goal: str = "recover-data", feed: str | None = None
) -> PowerGate:
    """The one core call behind `power`."""
    from netgraph.advice.power_gate import power_gate

    chosen = chosen_goal(goal)
    return power_gate(
        job.board,
        job.roles,
        job.tree,
        goal=chosen,
        keep=job.notes.keep_words(),
        bench=bench_of(job, cards_path),
        feed=feed,
    )


@click.command()
@board_command
@short_option
@cards_option
@goal_option
@click.option(
    "--weights",
    "weights_path",
    metavar="FILE",
    help='How suspect parts or places are: JSON, {"C34": 3}.',
)
@click.option("--with-heat", is_flag=True, help="Show for each part how it comes off.")
@click.option("--alloy", metavar="NAME", help="The solder, if known: SAC305, Sn63Pb37, ...")
@click.option(
    "--cycles",
    type=click.IntRange(min=0),
    default=0,
    show_default=True,
    help="How often the kept chips were heated to solder before.",
)
def plan(
    job: Job,
    net: str,
    cards_path: str | None,
    goal: str,
    weights_path: str | None,
    with_heat: bool,
    alloy: str | None,
    cycles: int,
) -> None:
    """All steps for one short, in order: from the first look to handing over?

    \b
    Examples:  netgraph plan board.kicad_pcb --short VSYS
               netgraph plan board.kicad_pcb --short VSYS --cards cards.jsonl

    What can be undone comes before what can't; what is cheap and far from kept chips before what
    is dear and near. Steps that a card says are done are marked; a step with a stop in its way
    says so. Each lift is judged on the board as the lifts before it leave it. A part that may
    hold the data is never a lift step. Once the net reads sound no lift is left in the plan.
    """
    from netgraph.contract.advice_answers import plan_fields

    net = job.net_called(net)
    answer = plan_answer(
        job,
        net,
        cards_path=cards_path,
        goal=goal,
        weights_path=weights_path,
        alloy=alloy,
        cycles=cycles,
    )
    fields = plan_fields(answer, with_heat=with_heat)
    job.answer("plan", fields, lambda page: plan_page(page, answer, with_heat=with_heat))


def plan_answer(
    job: Job,
    net: str,
    *,
    cards_path: str | None = None,
    goal: str = "recover-data",
    weights_path: str | None = None,
    alloy: str | None = None,
    cycles: int = 0,
) -> OrderedPlan:
    """The one core call behind `plan`."""
    from netgraph.advice.ordered_plan import ordered_plan
    from netgraph.advice.weights import read_weights
    from netgraph.plan.heat_plan import alloy_named

    chosen = chosen_goal(goal)
    alloy_named(alloy)
    job.board.net(net)
    weights = None if weights_path is None else read_weights(weights_path, job.board)
    return ordered_plan(
        job.board,
        job.roles,
        job.tree,
        net,
        goal=chosen,
        keep=job.notes.keep_words(),
        bench=bench_of(job, cards_path),
        weights=weights,
        alloy=alloy,
        cycles_before=cycles,
        sites=_sites(job, net),
    )


def _sites(job: Job, net: str) -> tuple[Site, ...]:
    """Path sites of the net; without drawn copper where that can't be read."""
    from netgraph.plan.sites import path_sites

    if net in job.roles.grounds() | frozenset(job.tree.grounds):
        return ()
    try:
        return path_sites(job.board, job.roles, net)
    except BoardFileError as error:
        talk(f"drawn copper left out, it can't be read: {error.one_line()}")
        return path_sites(job.board, job.roles, net, use_copper=False)
