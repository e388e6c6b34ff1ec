# SPDX-License-Identifier: GPL-3.0-or-later
"""What may not be concluded from a board of which only a part is known.

On a partial board further parts may sit on any net; a net whose name was cut may be several nets.
Then no ceiling is given, and a part comes off only where all it touches is known.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from netgraph.model import Board
from netgraph.model.board import ASSUMED
from netgraph.plan.lift_types import LiftRow
from netgraph.plan.wiring import Wiring
from netgraph.reasons import Reason, reason


def ceiling_doubt(board: Board, nets: Iterable[str]) -> Reason | None:
    """Why no ceiling can be given for these nets; None when they are wholly known."""
    if board.partial:
        return reason("ceiling-untraced")
    unclear = [net for net in nets if net in board.unclear_nets]
    return reason("ceiling-name-cut", net=unclear[0]) if unclear else None


def doubted_lift(wiring: Wiring, row: LiftRow) -> LiftRow:
    """The row, or `unsure` where its verdict leans on what is not known.

    A capacitor with both pads traced, one of them to ground, may come off where both nets are sure:
    it carries nothing to anything else. A person's own word stays too.
    """
    if row.verdict not in ("lift", "lift-and-jumper", "replace"):
        return row
    board, nets = wiring.board, wiring.nets(row.part_id)
    unclear = [net for net in nets if net in board.unclear_nets]
    if not board.partial and not unclear:
        return row
    if row.why.code == "lift-user-no":
        return row
    bypass = (
        wiring.role(row.part_id) == "capacitor"
        and wiring.is_sure(row.part_id)
        and len(nets) == 2
        and any(net in wiring.grounds for net in nets)
        and ASSUMED not in board.part(row.part_id).attributes
    )
    if bypass and row.verdict == "lift" and not unclear:
        return row
    if unclear:
        why = reason("lift-name-cut", part=row.part_id, net=unclear[0])
    else:
        why = reason("lift-untraced", part=row.part_id)
    return replace(row, verdict="unsure", why=why, jumper=None)
