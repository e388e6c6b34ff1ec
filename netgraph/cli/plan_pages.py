# SPDX-License-Identifier: GPL-3.0-or-later
"""The human form of lift, inject and path: like rows together, every word of caution shown."""

from __future__ import annotations

from collections.abc import Iterable, Sequence, Set
from dataclasses import replace
from itertools import groupby
from typing import TYPE_CHECKING

from netgraph.cli.page import Page
from netgraph.cli.session import Job
from netgraph.cli.wording import counted, grouped, in_order, volts
from netgraph.net_names import quoted
from netgraph.reasons import Reason, reason

if TYPE_CHECKING:
    from netgraph.plan.inject_types import Injection
    from netgraph.plan.lift import LiftTable
    from netgraph.plan.lift_set import LiftSet
    from netgraph.plan.lift_types import LiftRow
    from netgraph.plan.needs import Needs
    from netgraph.plan.sites import Site, SiteEnd

VERDICTS = {
    "lift": "may come off",
    "lift-and-jumper": "may come off if a wire takes its place",
    "unsure": "find out first",
    "replace": "needed; a like part may take its place",
    "keep": "never taken off, or nothing to gain",
}

NETS_SHOWN = 8
"""So many nets that are lost with a part are named; the JSON form names every one."""

PLACES_SHOWN = 3
"""So many pad pairs of one kind are named; --all names every one."""


def for_many(why: Reason) -> Reason:
    """The same reason said of several like parts at once."""
    if not any(key == "part" for key, _ in why.params):
        return why
    params = tuple((key, "each of these" if key == "part" else value) for key, value in why.params)
    return replace(why, params=params)


# -- lift --------------------------------------------------------------------------------------


def lift_page(page: Page, table: LiftTable, *, whole_board: bool = False) -> None:
    """Verdicts, the most useful first; then the keep list and the cautions."""
    from netgraph.contract.lift_answers import lift_cautions

    where = "of the whole board" if whole_board else "on it"
    page.title(
        f"{table.net} shorted, goal {table.goal}: {counted(len(table.rows), 'part')} {where}"
    )
    if table.keeps.unclear is not None:
        page.item("unclear", table.keeps.unclear.text, style="unsure")
    cards = [item.part_id for item in table.keeps.items if item.function == "card"]
    if cards:
        page.item("before all", reason("route-card-first", cards=", ".join(cards)).text)
    if table.keeps.unfed:
        page.item("no known feeder for", ", ".join(table.keeps.unfed), style="unsure")
    functions = {item.function for item in table.keeps.items}
    for verdict, meaning in VERDICTS.items():
        rows = [row for row in table.rows if row.verdict == verdict]
        if rows:
            page.section(f"{verdict}: {counted(len(rows), 'part')}, {meaning}")
            for group in _alike(rows):
                _lift_group(page, group, functions, table.needs)
    elsewhere = {row.part_id for row in table.rows}
    others = [item for item in table.keeps.items if item.part_id not in elsewhere]
    if others:
        page.section(f"Keep list outside {table.net}")
        by_function = {item.function: item.kind for item in others}
        for function, kind in by_function.items():
            names = in_order(one.part_id for one in others if one.function == function)
            page.names(f"{function} ({kind})", names, comma="")
    cautions_block(page, lift_cautions(table))


def _alike(rows: Sequence[LiftRow]) -> list[list[LiftRow]]:
    """Rows that say the same of different parts, in the order of their first."""
    groups: dict[tuple[object, ...], list[LiftRow]] = {}
    for row in rows:
        # Wires and cautions name one part: such rows stand alone.
        alone = row.part_id if row.jumper or row.cautions or row.floats else ""
        key = (for_many(row.why), row.loses, row.frees, row.open_to_test, alone)
        groups.setdefault(key, []).append(row)
    return list(groups.values())


def _lift_group(page: Page, group: Sequence[LiftRow], functions: Set[str], needs: Needs) -> None:
    from netgraph.plan.chain import drive_text

    first = group[0]
    names = in_order(row.part_id for row in group)
    if len(group) == 1:
        # Most sentences name the part first; then a label would only say it twice.
        named = first.why.text.startswith(f"{first.part_id} ")
        page.item("" if named else first.part_id, first.why.text)
    else:
        page.names(f"{len(names)} parts", names, comma="")
        page.text(for_many(first.why).text, indent=4)
    does = [f"{one.kind} of {one.user}" for one in first.needed_for]
    if len(group) == 1 and len(does) > 1:
        page.names("needed for", list(dict.fromkeys(does)), indent=4)
    if len(group) == 1:
        for drive in needs.enables.get(first.part_id, ()):
            page.item("switched on", drive_text(drive).text, indent=4)
    stops = [one for one in first.loses if one in functions]
    nets = [one for one in first.loses if one not in functions]
    if stops:
        page.names("stops", stops, indent=4)
    if nets:
        more = [f"and {len(nets) - NETS_SHOWN} more"] if len(nets) > NETS_SHOWN else []
        page.names("loses", [*nets[:NETS_SHOWN], *more], indent=4)
    if first.frees:
        page.names("frees", first.frees, indent=4)
    if first.jumper is not None:
        wire = first.jumper
        page.item(
            "wire",
            f"{wire.from_pad} to {wire.to_pad}, {wire.wire_mm:g} mm or more; {wire.caution.text}",
            indent=4,
        )
    if first.open_to_test:
        text = "lift one side, measure both sides, refit"
        page.item("open to test", text, indent=4)
    for one in first.floats:
        level = f"{one.pull_to}, 10 kohm or so" if one.pull_to else "its idle level"
        text = f"{one.net}: if the board doesn't start, pull it to {level}"
        page.item("floats", text, indent=4)
    for caution in first.cautions:
        page.item("caution", caution.text, indent=4, style="veto")


def set_page(page: Page, found: LiftSet) -> None:
    """The verdict on a set of lifts, with its proof in words."""
    page.text(f"{', '.join(found.parts)} together: {found.verdict}", style=found.verdict)
    page.text(found.why.text, indent=2)
    if found.loses:
        page.names("stops with them", found.loses)
    for one in found.floats:
        page.item("floats", f"{one.net}: pull it to {one.pull_to or 'its idle level'}")
    if found.proof is not None:
        from netgraph.plan.chain import chain_of

        page.section("Why, step by step")
        for number, step in enumerate(chain_of(found.proof), 1):
            page.item(f"{number}.", step.text)
    page.section("Each on the board without the others")
    for row in found.rows:
        page.item(f"{row.part_id}: {row.verdict}", row.why.text)


# -- inject ------------------------------------------------------------------------------------


def inject_page(page: Page, plan: Injection) -> None:
    """Verdict and limits first, then what must be cleared, then where."""
    once = ""
    if plan.verdict == "ok":
        stops = counted(len(plan.vetoes), "stop")
        are = "is" if len(plan.vetoes) == 1 else "are"
        once = f", once the {stops} below {are} cleared" if plan.vetoes else ""
    page.text(f"{plan.net}: {plan.verdict}{once}", style=plan.verdict)
    page.text(plan.why.text, indent=2)
    if plan.to_note:
        page.names("volts to note first", plan.to_note)
        page.item("each by", "netgraph notes set FILE --net NET --volts V --why TEXT", indent=4)
    if plan.verdict != "no":
        page.section("Limits")
        page.item("first step", f"{volts(plan.first_volts)}, {plan.max_amps:.3g} A at most")
        page.item("stop at   ", f"{volts(plan.stop_volts)}, unless you choose to go on")
        ceiling = "no figure" if plan.max_volts is None else volts(plan.max_volts)
        page.item("never over", f"{ceiling}: {plan.max_volts_because.text}")
        page.item(
            "power     ",
            f"{plan.max_watts:g} W at the pads, {plan.max_seconds:g} s at a time",
        )
    if plan.vetoes:
        page.section("Stops everything until cleared")
        for one in plan.vetoes:
            page.item("-", one.text, style="veto")
    if plan.points:
        page.section("Where, the best first; the ground clip goes on first")
        copper = any(one.milliohms is not None for one in plan.points)
        page.table(
            (
                *("pad", "part", "side", "ground", "at", "x mm", "y mm", "to data"),
                *(("mohm",) if copper else ()),
            ),
            [
                (
                    f"{one.ref}.{one.pin}",
                    str(dict(one.why.params)["role"]),
                    one.side or "?",
                    one.ground or "",
                    "" if one.ground_mm is None else f"{one.ground_mm:.1f} mm",
                    _mm(one.x_mm),
                    _mm(one.y_mm),
                    "" if one.data_mm is None else f"{one.data_mm:.1f} mm",
                    *((_milliohms(one.milliohms),) if copper else ()),
                )
                for one in plan.points
            ],
            right=(4, 5, 6, 7, 8) if copper else (4, 5, 6, 7),
        )
        if plan.points_by is not None:
            page.text(plan.points_by.text, indent=2)
    _alive_too(page, plan)
    if plan.warnings:
        page.section("Mind")
        for one in plan.warnings:
            page.item("-", one.text)
    cautions_block(page, plan.cautions)


def _milliohms(value: float | None) -> str:
    return "" if value is None else f"{value:.3g}"


def _alive_too(page: Page, plan: Injection) -> None:
    """Nets that count in a table, all others by name, like ones together."""
    counting = [one for one in plan.also_powered if one.counts]
    others = [one for one in plan.also_powered if not one.counts]
    if not (counting or others or plan.fed_forward):
        return
    page.section("Comes alive too")
    if counting:
        page.table(
            ("net, counts for the ceiling", "nominal", "through"),
            [(quoted(one.net), volts(one.nominal_volts), one.through) for one in counting],
        )
    for label, nets in (
        ("no supply", [one.net for one in others if one.how == "conducts"]),
        ("behind more than 150 ohm", [one.net for one in others if one.how == "resistor"]),
        ("if a converter starts, at its own volts", [one.net for one in plan.fed_forward]),
    ):
        if nets:
            page.names(label, nets)


def _mm(value: float | None) -> str:
    return "" if value is None else f"{value:.3f}"


def cautions_block(page: Page, cautions: Iterable[Reason]) -> None:
    """Each caution once."""
    found = list(dict.fromkeys(cautions))
    if found:
        page.section("Cautions (common practice; local rules and trained hands come first)")
        for one in found:
            page.item("-", one.text)


# -- path --------------------------------------------------------------------------------------


def path_page(
    page: Page,
    job: Job,
    net_a: str,
    net_b: str | None,
    sites: Sequence[Site],
    most: int | None,
) -> None:
    """Places by rank; like parts together."""
    page.title(f"{net_a} and {net_b or 'ground'}: {counted(len(sites), 'place')}")
    if not sites:
        known = " of what is traced" if job.board.partial else ""
        page.text(f"no part, pad, via or track{known} of the two nets comes close", indent=2)
        return
    # The two pads of a small part that is named already say nothing new.
    told = {one.refs[0] for one in sites if one.kind == "part"}
    small = {one for one in told if len(job.board.pad_range(job.board.part(one))) == 2}
    fresh = [
        one
        for one in sites
        if one.kind == "part" or one.a.ref != one.b.ref or one.a.ref not in small
    ]
    groups = [list(group) for _, group in groupby(fresh, key=_same_place)]
    for group in groups[:most]:
        first = group[0]
        score = f"{first.likelihood:.2f}"
        if first.kind == "part":
            why = first.why if len(group) == 1 else for_many(first.why)
            names = [one.refs[0] for one in group]
            page.item(score, grouped(job.roles.role(names[0]), names))
            page.text(why.text, indent=8)
            continue
        gap = "" if first.gap_mm is None else f", gap {first.gap_mm:.2f} mm"
        many = f", {len(group)} places" if len(group) > 1 else ""
        why = _of_nets(first) if len(group) > 1 else first.why
        page.item(score, f"{first.kind.replace('-', ' ')}{gap}{many}: {why.text}")
        shown = group[: most and PLACES_SHOWN]
        for one in shown:
            page.text(f"{_end(one.a)} - {_end(one.b)}{_place(one)}", indent=8)
        if len(shown) < len(group):
            page.text(f"and {len(group) - len(shown)} more like these", indent=8)
    if most is not None and len(groups) > most:
        page.text(f"and {len(groups) - most} more: --all shows them", indent=2)


def _same_place(site: Site) -> tuple[object, ...]:
    """Sites that read the same but for the pad: like parts, pad pairs under one package."""
    if site.kind == "part":
        return site.likelihood, site.kind, for_many(site.why)
    return site.likelihood, site.kind, _of_nets(site)


def _of_nets(site: Site) -> Reason:
    """The same reason said of the two nets instead of two pads."""
    nets = {"a": site.a.net, "b": site.b.net}
    return replace(
        site.why, params=tuple((key, nets.get(key, value)) for key, value in site.why.params)
    )


def _end(end: SiteEnd) -> str:
    return f"{end.ref}.{end.pin} ({end.net})" if end.ref else end.net


def _place(site: Site) -> str:
    if site.x_mm is None or site.y_mm is None:
        return ""
    return f", at x {site.x_mm:.2f} y {site.y_mm:.2f} mm{f', {site.side}' if site.side else ''}"
