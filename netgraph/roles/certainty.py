# SPDX-License-Identifier: GPL-3.0-or-later
"""How sure a part's role is, from the strength of its evidence and the lead over the next role.

The weights stand in ``tables/role_certainty.csv``, fitted by ``tools/fit_confidence.py`` on the
labelled boards, told as they are and with values, footprints or both taken away: wrong roles are
rare where every text is there.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from math import exp

from netgraph.roles.table_files import read_table

SURPRISE = 0.02
"""Share of roles that a new board may turn over for reasons that no table holds: by judgement."""
_CLEAR_LEAD = 4.0
_MOST = 8.0


@cache
def role_weights() -> dict[str, float]:
    """The fitted weights, by fact."""
    return {row["fact"]: float(row["weight"]) for row in read_table("role_certainty.csv")}


def role_facts(score: float, lead: float) -> tuple[tuple[str, float], ...]:
    """What the weights are multiplied with: a small lead counts more than a further large one."""
    return (
        ("always", 1.0),
        ("lead up to 4", min(lead, _CLEAR_LEAD)),
        ("lead beyond 4", max(0.0, min(lead, _MOST) - _CLEAR_LEAD)),
        ("score", min(score, _MOST)),
    )


def role_certainty(score: float, lead: float, table: Mapping[str, float] | None = None) -> float:
    """Share of right roles to expect with such evidence, 0..1; `table` replaces the stored one."""
    used = role_weights() if table is None else table
    total = sum(used[fact] * value for fact, value in role_facts(score, lead))
    return round((1.0 - SURPRISE) / (1.0 + exp(-total)), 3)
