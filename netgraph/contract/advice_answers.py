# SPDX-License-Identifier: GPL-3.0-or-later
"""JSON answers of the power gate and the ordered plan, as plain dictionaries."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netgraph.contract.answers import Json, reasons_json
from netgraph.plan.power_feed import FIRST_LIMIT_AMPS, Feed

if TYPE_CHECKING:
    from netgraph.advice.plan_types import OrderedPlan
    from netgraph.advice.power_types import PowerGate


def power_fields(gate: PowerGate) -> Json:
    """May it be powered, where, with what, and when to switch off."""
    feed = gate.feed
    before, after = gate.expected_before, gate.expected_after
    live = feed is not None and feed.volts is not None
    why_limit = None if feed is None else feed.limit_because
    return {
        "verdict": gate.verdict,
        "goal": gate.goal,
        "because": reasons_json(gate.because),
        "feed": None if feed is None else _feed_json(feed),
        "volts": None if feed is None else feed.volts,
        "limit_amps": gate.limit_amps,
        "limit_because": None if why_limit is None else why_limit.as_json(),
        "first_limit_amps": FIRST_LIMIT_AMPS if live else None,
        "expected_amps": {
            "before_key": None if before is None else before[1],
            "after_key": None if after is None else round(sum(after) / 2, 2),
            "before_key_range": None if before is None else list(before),
            "after_key_range": None if after is None else list(after),
        },
        "off_if": reasons_json(gate.off_if),
        "clear_first": [one.as_json() for one in gate.clear_first],
        "stays_unplugged": [one.ref for one in gate.plugs],
        "plugs": [one.as_json() for one in gate.plugs],
        "cell_lines": []
        if feed is None
        else [
            {"net": one.net, "kind": one.kind, "why": one.why.as_json()} for one in feed.cell_lines
        ],
        "never_with_cell": reasons_json(gate.never_with_cell),
        "warnings": reasons_json(gate.warnings),
        "before_boot": reasons_json(gate.before_boot),
        "after": reasons_json(gate.after),
        "cautions": reasons_json(gate.cautions),
        "cards": gate.cards,
    }


def _feed_json(feed: Feed) -> Json:
    return {
        "net": feed.net,
        "ref": feed.ref,
        "class": feed.feed_class,
        "because": feed.because.as_json(),
        "missing": None if feed.missing is None else feed.missing.as_json(),
        "to_note": list(feed.to_note),
        "other_entries": list(feed.other_entries),
    }


def plan_fields(plan: OrderedPlan, *, with_heat: bool = False) -> Json:
    """All steps in the order of the work."""
    return {
        "net": plan.net,
        "goal": plan.goal,
        "cleared": plan.cleared,
        "reading": None if plan.reading is None else plan.reading.as_json(),
        "steps": [
            step.as_json(number, with_heat=with_heat)
            for number, step in enumerate(plan.steps, start=1)
        ],
        "never_lifted": list(plan.never_lifted),
        "left_out": list(plan.left_out),
        "unsure": list(plan.unsure),
        "warnings": reasons_json(plan.warnings),
        "cards": plan.cards,
    }
