# SPDX-License-Identifier: GPL-3.0-or-later
"""JSON answers about the keep list, lifts, cuts and splits; their forms are in `lift_forms`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from netgraph.contract.answers import Json, place_of, reasons_json
from netgraph.model import Board
from netgraph.reasons import Reason, reason

if TYPE_CHECKING:
    from netgraph.plan.enables import Drive
    from netgraph.plan.isolation import Isolation
    from netgraph.plan.keep_list import Keeps
    from netgraph.plan.lift import LiftTable
    from netgraph.plan.lift_set import LiftSet
    from netgraph.plan.split import Split
    from netgraph.plan.storage_route import StorageRoute


def keep_fields(keeps: Keeps, route: StorageRoute, enables: Sequence[Drive] = ()) -> Json:
    """What the goal needs, what switches its supplies on, and how the data can be reached."""
    from netgraph.plan.cautions import cautions_for
    from netgraph.plan.chain import drive_json

    return {
        "goal": keeps.goal,
        "unclear": None if keeps.unclear is None else keeps.unclear.as_json(),
        "keeps": keeps.as_json(),
        "needed_rails": list(keeps.rails),
        "rails_without_feeder": list(keeps.unfed),
        "storage": route.as_json(),
        "cautions": reasons_json(cautions_for("lift")),
        "enables": [drive_json(one) for one in enables],
        "doubts": reasons_json(keeps.doubts),
    }


def lift_fields(board: Board, table: LiftTable, together: LiftSet | None = None) -> Json:
    """The keep list, one verdict a part, and the verdict on a set if one was asked for."""
    fields = table.as_json()
    return {
        "net": table.net,
        "goal": table.goal,
        "unclear": None if table.keeps.unclear is None else table.keeps.unclear.as_json(),
        "needed_rails": list(table.keeps.rails),
        "rails_without_feeder": list(table.keeps.unfed),
        "keeps": fields["keeps"],
        "parts": [
            {**row.as_json(), "side": part.side, "value": part.value, **place_of(board, part)}
            for row in table.rows
            for part in (board.part(row.part_id),)
        ],
        "together": None if together is None else together.as_json(),
        "cautions": reasons_json(lift_cautions(table)),
    }


def lift_cautions(table: LiftTable) -> tuple[Reason, ...]:
    """Cautions of the actions that the table speaks of, each once."""
    from netgraph.plan.cautions import cautions_for

    found = list(cautions_for("lift"))
    if any(row.jumper for row in table.rows):
        found += cautions_for("jumper")
    return tuple(dict.fromkeys([*table.note_cautions, *found]))


def isolate_fields(found: Isolation) -> Json:
    """Cuts, the cheapest first."""
    from netgraph.plan.cautions import cautions_for

    return {**found.as_json(), "cautions": reasons_json(cautions_for("lift"))}


def split_fields(net: str, splits: Sequence[Split]) -> Json:
    """Splits, the most telling for its cost first."""
    from netgraph.plan.cautions import cautions_for

    return {
        "net": net,
        "splits": [one.as_json() for one in splits],
        "why": None if splits else reason("split-nothing", net=net).as_json(),
        "cautions": reasons_json(cautions_for("open-to-test")),
    }
