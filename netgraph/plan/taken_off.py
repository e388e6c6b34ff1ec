# SPDX-License-Identifier: GPL-3.0-or-later
"""What parts that were taken off did for the board: supplies that stay dead, supplies that rise.

A lift on a card and a part noted as not fitted are the same to the board, so they are the same
here. Both are asked of the board as it was, with all of these parts back on it.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from netgraph.plan.needs import RISES_WITHOUT, Need, find_needs
from netgraph.plan.power_logic import PowerLogic
from netgraph.plan.wiring import Wiring
from netgraph.rails.find import find_rails


def as_it_was(wiring: Wiring) -> tuple[Wiring, ...]:
    """The board with all parts back, with the rails as found without them and with them.

    Notes of a person on feeders live in the first, feeders that were taken off in the second.
    Empty where nothing was taken off.
    """
    off = wiring.taken_off
    if not off:
        return ()
    board = replace(
        wiring.board,
        parts=tuple(
            replace(part, not_fitted_because=None) if part.id in off else part
            for part in wiring.board.parts
        ),
    )
    roles = replace(wiring.roles, fitted=wiring.roles.fitted | off)
    return Wiring(board, roles, wiring.tree), Wiring(board, roles, find_rails(board, roles))


def stopped_rails(wiring: Wiring, rails: Collection[str]) -> tuple[str, ...]:
    """Which of these lived on the board as it was and don't with the parts off; sorted."""
    off = wiring.taken_off
    dead: set[str] = set()
    for before in as_it_was(wiring):
        logic = PowerLogic.of(before, find_needs(before))
        dead |= logic.base.rails - logic.alive(off).rails
    return tuple(sorted(dead & set(rails)))


def risen_rails(wiring: Wiring) -> dict[str, Need]:
    """Supplies that a part taken off held at their volts, with one such part.

    A supply whose converter, or the resistor it comes over, is off as well can't rise.
    """
    off = wiring.taken_off
    found: dict[str, Need] = {}
    for before in as_it_was(wiring):
        for need in find_needs(before).aids:
            rises = need.kind in RISES_WITHOUT and need.rail is not None
            if rises and need.part_id in off and need.user not in off:
                found.setdefault(need.rail or "", need)
    return found
