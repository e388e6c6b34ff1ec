# SPDX-License-Identifier: GPL-3.0-or-later
"""An injection plan in the light of the bench: what the cards clear, and what they forbid."""

from __future__ import annotations

from dataclasses import replace

from netgraph.diagnosis.bench_state import DRY_HOURS, BenchState
from netgraph.plan.inject_types import Injection
from netgraph.reasons import Reason, reason


def inject_on_bench(plan: Injection, bench: BenchState) -> Injection:
    """The plan with the stops that cards have cleared left out; a connected cell or a wet board
    makes it a no, whatever was waived (bench practice 5: vetoes, not ticks).
    """
    forbidden: list[Reason] = []
    if bench.cell_connected:
        forbidden.append(reason("inject-cell-connected"))
    if bench.swollen_line is not None:
        forbidden.append(reason("inject-cell-swollen"))
    if bench.wet:
        forbidden.append(reason("inject-still-wet"))
    cleared = set()
    if bench.cell_connected is False:
        cleared.add("veto-cell")
    if bench.dried and not bench.wet:
        cleared.add("veto-wet")
        if (bench.dry_hours or 0.0) >= DRY_HOURS:
            cleared.add("veto-solvent")
    left = tuple(one for one in plan.vetoes if one.code not in cleared)
    if not forbidden:
        return replace(plan, vetoes=left)
    return replace(plan, verdict="no", why=forbidden[0], vetoes=(*forbidden, *left))
