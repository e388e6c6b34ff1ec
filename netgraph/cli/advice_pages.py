# SPDX-License-Identifier: GPL-3.0-or-later
"""The human form of power and plan."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from netgraph.cli.page import Page
from netgraph.cli.plan_pages import cautions_block
from netgraph.cli.wording import counted, in_order, volts
from netgraph.units import ohms_text

if TYPE_CHECKING:
    from netgraph.advice.plan_types import OrderedPlan, Step
    from netgraph.advice.power_types import Check, PowerGate
    from netgraph.plan.heat_plan import HeatPlan

_STYLES = {"yes": "ok", "not-yet": "unsure", "no": "no"}

_STATES = {
    "open": "read it",
    "clear": "clear",
    "waived": "passed",
    "compare": "compare",
    "leak": "may leak",
    "low": "looks shorted",
    "bridged": "bridged",
}

STAGE_TITLES = {
    "triage": "Before anything else",
    "ask": "What makes the work needless",
    "unplug": "Unplug and uncover",
    "clean": "Look, clean, dry, look again",
    "measure": "Measure",
    "inject": "Feed a little and watch",
    "open": "Split: open one side, measure, refit",
    "shunt": "Take off: parts to ground, the most suspect for the effort first",
    "suspect": "Take off: other parts the goal does not need",
    "replaceable": "Swap: needed parts that a like one can replace",
    "separate": "Last: separate, or stop",
    "verify": "Is it gone?",
    "power": "Power",
    "copy": "Data, and the end",
}


def _amps(value: float) -> str:
    return f"{value * 1000:.3g} mA" if value < 0.1 else f"{value:.3g} A"


def _ohms(value: float | None) -> str:
    return "" if value is None else ohms_text(value)


# -- power -------------------------------------------------------------------------------------


def power_page(page: Page, gate: PowerGate) -> None:
    """The verdict and what stands against it, then how, then what to read."""
    page.text(f"power: {gate.verdict}", style=_STYLES[gate.verdict])
    for one in gate.because:
        page.item("-", one.text)
    _feed_block(page, gate)
    if gate.off_if:
        page.section("Off at once if")
        for one in gate.off_if:
            page.item("-", one.text, style="veto")
    _checks_block(page, gate.clear_first)
    if gate.plugs:
        page.section("Stays unplugged")
        plain = [one.ref for one in gate.plugs if one.why.code == "plug-not-needed"]
        for plug in gate.plugs:
            if plug.why.code != "plug-not-needed":
                page.item("-", plug.why.text)
        if plain:
            page.names("-  not needed for the goal", in_order(plain), comma="")
    if gate.never_with_cell:
        page.section("Never with a cell")
        for one in gate.never_with_cell:
            page.item("-", one.text, style="veto")
    if gate.warnings:
        page.section("Mind")
        for one in gate.warnings:
            page.item("-", one.text)
    page.section("Before the first boot")
    for one in gate.before_boot:
        page.item("-", one.text)
    page.section("After it")
    for one in gate.after:
        page.item("-", one.text)
    cautions_block(page, gate.cautions)


def _feed_block(page: Page, gate: PowerGate) -> None:
    feed = gate.feed
    if feed is None:
        return
    page.section("How")
    at = "" if feed.ref is None else f" at {feed.ref}"
    page.item("feed   ", f"{feed.net}{at}")
    if feed.volts is None:
        page.item("volts  ", "no figure yet")
        return
    page.item("volts  ", f"{volts(feed.volts)}: {feed.because.text}")
    if gate.limit_amps is not None and feed.limit_because is not None:
        page.item(
            "limit  ",
            f"0.2 A before the power key, {gate.limit_amps:.3g} A after it: "
            f"{feed.limit_because.text}",
        )
    if gate.expected_before is not None and gate.expected_after is not None:
        low, high = gate.expected_after
        page.item(
            "expect ",
            f"before the key {_amps(gate.expected_before[1])} or less, after it about "
            f"{low:.3g} to {high:.3g} A (rules of thumb)",
        )


def _checks_block(page: Page, checks: tuple[Check, ...]) -> None:
    rails = [one for one in checks if one.kind == "rail"]
    high = [one for one in checks if one.kind != "rail"]
    if rails:
        page.section("Read to ground first: cell and supply off, dry")
        page.table(
            ("supply", "at", "least", "reads", ""),
            [
                (
                    one.net,
                    " ".join(one.at_pads[:2]),
                    "compare" if one.least_ohms is None else _ohms(one.least_ohms),
                    _ohms(one.ohms),
                    _STATES[one.state],
                )
                for one in rails
            ],
            right=(2, 3),
        )
        if any(one.least_ohms is None for one in rails):
            page.text(
                "compare: a big chip's core may read 1 to 10 ohm when it is sound; only a "
                "known-good board tells",
                indent=2,
            )
    if high:
        page.section("Prove clear first: high volts beside a kept chip's line, dry")
        page.table(
            ("high volts", "line", "at", "least", "reads", ""),
            [
                (
                    one.net,
                    one.to or "",
                    " to ".join(one.at_pads),
                    _ohms(one.least_ohms),
                    _ohms(one.ohms),
                    _STATES[one.state],
                )
                for one in high
            ],
            right=(3, 4),
        )


# -- plan --------------------------------------------------------------------------------------


def plan_page(page: Page, plan: OrderedPlan, *, with_heat: bool = False) -> None:
    """Steps by stage; like checks and stops said once a stage."""
    page.title(f"{plan.net} shorted, goal {plan.goal}: {counted(len(plan.steps), 'step')}")
    if plan.reading is not None:
        page.item("last reading", plan.reading.text, style="ok" if plan.cleared else "unsure")
    if plan.cleared:
        page.text("it no longer looks shorted: no more lifts; verify, then power", indent=2)
    if plan.never_lifted:
        page.names("never taken off", in_order(plan.never_lifted), comma="")
    if plan.unsure and not plan.cleared:
        page.names("not in the plan, unsure", in_order(plan.unsure), comma="")
        page.text(f"`netgraph lift FILE --short {plan.net}` says why", indent=4)
    for one in plan.warnings:
        page.item("mind", one.text, style="unsure")
    numbered = list(enumerate(plan.steps, start=1))
    told: set[str] = set()
    for stage, pairs in groupby(numbered, key=lambda pair: pair[1].stage):
        _stage_block(page, STAGE_TITLES[stage], list(pairs), told, with_heat=with_heat)
    if plan.left_out:
        page.section("Left out for now")
        page.names("could follow", in_order(plan.left_out), comma="")
        page.text("measure, then ask again with the cards of what was done", indent=2)
    cautions_block(page, [one for step in plan.steps for one in step.cautions])


def _stage_block(
    page: Page,
    title: str,
    pairs: list[tuple[int, Step]],
    told: set[str],
    *,
    with_heat: bool,
) -> None:
    """One stage; `told` are vetoes and heat notes given in full before."""
    minutes = sum(step.minutes or 0 for _, step in pairs if not step.done)
    page.section(f"{title}, about {minutes:g} min" if minutes else title)
    said: set[str] = set()
    vetoes = list(dict.fromkeys(one for _, step in pairs for one in step.vetoes))
    if vetoes:
        fresh = [one for one in vetoes if one.text not in told]
        if fresh:
            page.item("not before", "", style="veto")
            for one in fresh:
                told.add(one.text)
                page.item("-", one.text, indent=4, style="veto")
        if len(fresh) < len(vetoes):
            again = counted(len(vetoes) - len(fresh), "point")
            page.item("not before", f"the {again} named above", style="veto")
    for number, step in pairs:
        mark = " done" if step.done else ""
        page.item(f"{number:2}{mark}", step.why.text)
        if step.done:
            continue
        for label, reasons in (
            ("then", [step.check] if step.check else []),
            ("stop if", list(step.stop)),
            ("mind", list(step.notes)),
            ("undo", [step.undo] if step.undo else []),
        ):
            for one in reasons:
                if one.text not in said:
                    said.add(one.text)
                    page.item(label, one.text, indent=6)
        if with_heat and step.heat is not None:
            _heat_block(page, step.heat, told)


def _heat_block(page: Page, heat: HeatPlan, said: set[str]) -> None:
    lines = [heat.why, *heat.steps]
    if heat.method != "none":
        lines.append(heat.account)
    for one in lines:
        if one.text not in said:
            said.add(one.text)
            page.item("heat", one.text, indent=6)
