# SPDX-License-Identifier: GPL-3.0-or-later
"""The human form of keep, isolate and split."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from netgraph.cli.page import Page
from netgraph.cli.plan_pages import cautions_block
from netgraph.cli.wording import counted, in_order

if TYPE_CHECKING:
    from netgraph.plan.enables import Drive
    from netgraph.plan.isolation import Isolation
    from netgraph.plan.keep_list import Keeps
    from netgraph.plan.needs import Need
    from netgraph.plan.split import Split
    from netgraph.plan.storage_route import StorageRoute
    from netgraph.reasons import Reason


def keep_page(
    page: Page,
    keeps: Keeps,
    route: StorageRoute,
    enables: Sequence[Drive] = (),
) -> None:
    """The keep list by function, what switches its supplies on, and the way of the data."""
    from netgraph.plan.chain import drive_text

    page.title(f"{keeps.goal} needs {counted(len(keeps.items), 'part')}")
    if keeps.unclear is not None:
        page.item("unclear", keeps.unclear.text, style="unsure")
    for kind, meaning in (
        ("irreplaceable", "never taken off"),
        ("replace", "needed, a like part may take its place"),
    ):
        items = [one for one in keeps.items if one.kind == kind]
        if not items:
            continue
        page.section(f"{kind}: {meaning}")
        for function in dict.fromkeys(one.function for one in items):
            names = in_order(one.part_id for one in items if one.function == function)
            page.names(function, names, comma="")
    if keeps.rails:
        page.section("Supplies it needs")
        page.names("rails", keeps.rails)
        if keeps.unfed:
            page.names("no known feeder for", keeps.unfed)
    if enables:
        page.section("What switches these supplies on")
        for drive in enables:
            page.item("-", drive_text(drive).text, style="unsure" if drive.doubt else "")
    for doubt in keeps.doubts:
        if doubt not in [one.doubt for one in enables]:
            page.item("not proved", doubt.text, style="unsure")
    page.section("Which way the data can leave")
    page.text(route.first.text, indent=2)
    page.item(f"reading the chip alone: {route.chip_off}", route.why.text)
    page.text("netgraph keep FILE --why REF tells why a part is kept", indent=2)


def isolate_page(page: Page, found: Isolation) -> None:
    """Cuts, the cheapest first."""
    page.title(f"{found.net} apart from what {found.goal} needs: {counted(len(found.cuts), 'way')}")
    if found.why is not None:
        page.text(found.why.text, indent=2)
        return
    for number, cut in enumerate(found.cuts, 1):
        page.section(f"{number}. {' and '.join(cut.parts)} off")
        page.text(cut.why.text, indent=3)
        page.names("goes with it", cut.nets_off, indent=3)
        for one in cut.verify:
            page.item("check", one.text, indent=3)
        for one in cut.back_feeds:
            page.item("mind", one.text, indent=3)
    from netgraph.plan.cautions import cautions_for

    cautions_block(page, cautions_for("lift"))


def split_page(page: Page, net: str, splits: Sequence[Split]) -> None:
    """Splits, the most telling for its cost first."""
    page.title(f"{net}: {counted(len(splits), 'way')} to split it")
    if not splits:
        from netgraph.reasons import reason

        page.text(reason("split-nothing", net=net).text, indent=2)
        return
    page.table(
        ("open on one side", "behind it", "gain", "cost"),
        [
            (
                " and ".join(one.parts),
                f"{100 * one.share_behind:.0f} %",
                f"{one.gain_bits:.2f} bits",
                f"{one.cost:g}",
            )
            for one in splits
        ],
        right=(1, 2, 3),
    )
    page.section("The first of them")
    page.text(splits[0].why.text, indent=2)
    page.names("behind it", splits[0].nets_behind)
    from netgraph.plan.cautions import cautions_for

    cautions_block(page, cautions_for("open-to-test"))


def need_page(
    page: Page,
    head: str,
    needs: Sequence[Need],
    story: Sequence[Reason],
    enables: Sequence[Drive] = (),
) -> None:
    """Why one part is kept or not, what it does for chips, what switches it on, and what happens
    without it.
    """
    from netgraph.plan.chain import drive_text

    page.text(head)
    for drive in enables:
        page.item("switched on", drive_text(drive).text, indent=2)
    for need in needs:
        if need.why.text in head:
            continue
        page.item(need.kind, need.why.text, indent=2)
    if story:
        page.section("What happens without it")
        for number, step in enumerate(story, 1):
            page.item(f"{number}.", step.text)
