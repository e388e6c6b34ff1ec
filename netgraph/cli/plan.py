# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""Commands that plan: lift, inject, path."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import click

from netgraph.cli.cards_option import board_after, cards_option
from netgraph.cli.goal_option import chosen_goal, goal_option
from netgraph.cli.plan_pages import inject_page, lift_page, path_page, set_page
from netgraph.cli.session import Job, board_command, complete_net, progress, short_option, talk
from netgraph.cli.suspects_option import check_suspects, suspects_option
from netgraph.errors import BoardFileError

if TYPE_CHECKING:
    from netgraph.plan.inject_types import Injection
    from netgraph.plan.lift import LiftTable
    from netgraph.plan.lift_set import LiftSet
    from netgraph.plan.sites import Site


@click.command()
@board_command
@short_option
@goal_option
@click.option(
    "--together",
    "together",
    multiple=True,
    metavar="REF",
    help="Judge these parts as one set, all off at once; give it once for each part.",
)
@cards_option
@click.option("--all", "whole_board", is_flag=True, help="Judge the whole board, not only NET.")
def lift(
    job: Job,
    net: str,
    goal: str,
    together: tuple[str, ...],
    cards_path: str | None,
    whole_board: bool,
) -> None:
    """What may come off when only the data must survive?

    Judges every fitted part with a pad on the shorted net.

    \b
    Examples:  netgraph lift board.kicad_pcb --short VSYS
               netgraph lift b.kicad_pcb --short VSYS --together C1 --together C2

    \b
    keep             holds the data, or is needed as it is: never taken off
    replace          needed, but a like part may take its place
    lift             may come off; nothing the goal needs is lost
    lift-and-jumper  may come off if a wire takes its place
    unsure           the netlist can't tell: find out before touching it

    Each verdict speaks of that one part on the board as it is. After a lift, note the part as
    not fitted (netgraph notes set FILE --part REF --not-fitted) and ask again. "Loses" names
    what stops with the part, "frees" what its lift unloads or separates; "open to test" parts may
    be lifted on one side, measured on both, and refitted.
    """
    from netgraph.contract.lift_answers import lift_fields

    net = job.net_called(net)
    board_after(job, cards_path)
    table = lift_answer(job, net, goal=goal, whole_board=whole_board)
    found = lift_set_answer(job, together, goal=goal) if together else None
    job.answer(
        "lift",
        lift_fields(job.board, table, found),
        lambda page: (
            lift_page(page, table, whole_board=whole_board)
            if found is None
            else set_page(page, found)
        ),
    )


def lift_set_answer(job: Job, parts: Sequence[str], *, goal: str = "recover-data") -> LiftSet:
    """The one core call behind `lift --together`."""
    from netgraph.plan.lift_set import judge_set

    keep = job.notes.keep_words()
    return judge_set(job.board, job.roles, job.tree, parts, goal=chosen_goal(goal), keep=keep)


def lift_answer(
    job: Job, net: str, *, goal: str = "recover-data", whole_board: bool = False
) -> LiftTable:
    """The one core call behind `lift`."""
    from netgraph.plan.lift import lift_table

    chosen = chosen_goal(goal)
    job.board.net(net)
    return lift_table(
        job.board,
        job.roles,
        job.tree,
        net,
        goal=chosen,
        keep=job.notes.keep_words(),
        whole_board=whole_board,
    )


@click.command()
@board_command
@click.argument("net", shell_complete=complete_net)
@click.option(
    "--bridge",
    "bridges",
    nargs=2,
    multiple=True,
    metavar="NET_A NET_B",
    help="A deposit that may still join these two nets; may be given again.",
)
@suspects_option
@click.option(
    "--copper/--no-copper",
    "by_copper",
    default=True,
    help="Order the points by the resistance of drawn copper, or by access alone.",
)
@cards_option
def inject(
    job: Job,
    net: str,
    bridges: tuple[tuple[str, str], ...],
    suspects: tuple[tuple[str, float], ...],
    by_copper: bool,
    cards_path: str | None,
) -> None:
    """Where may a limited voltage be put on this net, and up to what?

    \b
    Examples:  netgraph inject board.kicad_pcb VSYS
               netgraph inject board.kicad_pcb VSYS --suspect C34 5 --suspect U8 1

    The verdict is ok, unsure (never above the first step) or no. The ceiling is the least nominal
    of all nets that come alive with NET: through parts that conduct, backwards through converters
    that are off, and through bridges still believed in. The vetoes stand until each is cleared.
    The volts protect; the current limit does not. Where the file holds the copper, the pad with
    the least of it between itself and the suspect parts comes first.
    """
    from netgraph.contract.answers import inject_fields

    net = job.net_called(net)
    bridges = tuple((job.net_called(a), job.net_called(b)) for a, b in bridges)
    plan = inject_answer(
        job, net, bridges, cards_path, suspects=dict(suspects) or None, by_copper=by_copper
    )
    job.answer("inject", inject_fields(plan), lambda page: inject_page(page, plan))


def inject_answer(
    job: Job,
    net: str,
    bridges: tuple[tuple[str, str], ...] = (),
    cards_path: str | None = None,
    *,
    suspects: Mapping[str, float] | None = None,
    by_copper: bool = True,
) -> Injection:
    """The one core call behind `inject`, and what the cards clear or forbid."""
    from netgraph.advice.bench_inject import inject_on_bench
    from netgraph.plan.inject import injection_plan

    job.board.net(net)
    check_suspects(job, suspects or {})
    bench = board_after(job, cards_path)
    with progress("weighing the copper"):
        plan = injection_plan(
            job.board,
            job.roles,
            job.tree,
            net,
            bridges,
            weights=suspects,
            by_copper=by_copper,
        )
    return plan if cards_path is None else inject_on_bench(plan, bench)


@click.command()
@board_command
@click.argument("net_a", shell_complete=complete_net)
@click.argument("net_b", required=False, shell_complete=complete_net)
@click.option("--all", "show_all", is_flag=True, help="Show all places, not the first 20 kinds.")
@cards_option
def path(job: Job, net_a: str, net_b: str | None, show_all: bool, cards_path: str | None) -> None:
    """How could these two nets be joined?

    Lists the places where NET_A and NET_B (without it: any ground) come close: parts on both,
    pads side by side, pads under one package, vias and tracks.

    \b
    Examples:  netgraph path board.kicad_pcb VSYS
               netgraph path board.kicad_pcb BACKLIGHT_19V 1V8

    The figure in front is a rank score from 0 to 1, not a probability: the likeliest place to
    look at first. Gaps are from edge to edge. The JSON form always holds all places found.
    """
    from netgraph.contract.answers import path_fields

    net_a = job.net_called(net_a)
    net_b = None if net_b is None else job.net_called(net_b)
    board_after(job, cards_path)
    sites, fault = path_answer(job, net_a, net_b)
    fields = path_fields(net_a, net_b, sites, fault)
    most = None if show_all else 20
    if fault:
        talk(f"drawn copper left out, it can't be read: {fault}")
    job.answer("path", fields, lambda page: path_page(page, job, net_a, net_b, sites, most))


def path_answer(job: Job, net_a: str, net_b: str | None = None) -> tuple[tuple[Site, ...], str]:
    """The one core call behind `path`, and why drawn copper is left out (empty: it is not)."""
    from netgraph.plan.sites import path_sites

    job.board.net(net_a)
    if net_b is not None:
        job.board.net(net_b)
    try:
        return path_sites(job.board, job.roles, net_a, net_b), ""
    except BoardFileError as error:
        # One damaged track must not hide the parts and pads that were read well.
        sites = path_sites(job.board, job.roles, net_a, net_b, use_copper=False)
        return sites, error.one_line()
