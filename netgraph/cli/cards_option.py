# SPDX-License-Identifier: GPL-3.0-or-later
"""The option --cards: what was read and done so far, and the board as it is after that."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from netgraph.cli.session import Job

if TYPE_CHECKING:
    from netgraph.diagnosis.bench_state import BenchState

cards_option = click.option(
    "--cards",
    "cards_path",
    metavar="CARDS",
    help="Bench cards, JSON Lines: readings and actions so far (docs/reference/cards.md).",
)


def bench_of(job: Job, cards_path: str | None) -> BenchState:
    """The state of the bench by the cards, an empty one without."""
    from netgraph.diagnosis.bench_state import NO_BENCH, replay

    if cards_path is None:
        return NO_BENCH
    from netgraph.diagnosis.cards_file import read_cards

    cards = read_cards(cards_path)
    grounds = job.roles.grounds() | frozenset(job.tree.grounds)
    return replay(job.board, cards, grounds)


def board_after(job: Job, cards_path: str | None) -> BenchState:
    """The state of the bench; the job answers from now on for the board without the lifted parts.

    A part with a wire in its place still joins its nets, so it stays.
    """
    bench = bench_of(job, cards_path)
    off = bench.lifted - bench.jumpered
    if off:
        job.lift(off)
    return bench
