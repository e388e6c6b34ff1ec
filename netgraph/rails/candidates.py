# SPDX-License-Identifier: GPL-3.0-or-later
"""Every way in which a part could feed one net from another, before one is chosen.

A candidate says "part P may drive net `to` from net `source`", with a score; the choice between
them is made over the whole board (``choose``), since one part alone often can't tell.
"""

from __future__ import annotations

from netgraph.rails.candidate import Candidate, Supplies
from netgraph.rails.chips import CHIP_OWN, CONVERTERS, between_supplies
from netgraph.rails.coils import find_coils
from netgraph.rails.entries import find_entries
from netgraph.rails.passing import pass_on
from netgraph.roles.answer import Roles
from netgraph.roles.wiring import Wiring

__all__ = ["Candidate", "CandidateFinder", "find_candidates"]

_CHIPS = CONVERTERS | CHIP_OWN | {"power-manager"}


def find_candidates(every: Supplies) -> list[Candidate]:
    """All candidates of a board, converters with coils first."""
    find_coils(every)
    for part in every.board.parts:
        i = part.index
        if not every.wiring.fitted[i]:
            continue
        nets = [net for net in every.wiring.nets[i] if net in every.supplies]
        if every.role[i] in _CHIPS:
            if nets:
                between_supplies(every, i, nets)
        elif nets or every.role[i] == "transformer":
            pass_on(every, i, nets)
    return every.found


class CandidateFinder(Supplies):
    """All candidates of one board by themselves, for those who ask what else might feed."""

    def __init__(self, wiring: Wiring, roles: Roles) -> None:
        super().__init__(wiring, roles)
        self.entries = {net: entry.score for net, entry in find_entries(self).items()}

    def find(self) -> list[Candidate]:
        """All candidates, converters with coils first."""
        return find_candidates(self)
