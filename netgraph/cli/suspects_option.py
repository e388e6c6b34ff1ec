# SPDX-License-Identifier: GPL-3.0-or-later
"""The option --suspect: weights of parts, as plain numbers."""

from __future__ import annotations

import math
from collections.abc import Mapping

import click

from netgraph.cli.session import Job
from netgraph.errors import UsageError

suspects_option = click.option(
    "--suspect",
    "suspects",
    nargs=2,
    type=(str, float),
    multiple=True,
    metavar="REF WEIGHT",
    help="How suspect a part is, as a plain number; may be given again. Default: all alike.",
)


def check_suspects(job: Job, suspects: Mapping[str, float]) -> None:
    """Weights by option: parts of the board, numbers from zero."""
    for ref, weight in suspects.items():
        job.board.part(ref)
        if not (math.isfinite(weight) and weight >= 0):
            raise UsageError(f"the weight of {ref} can't be {weight:g}", hint="0 or more")
