# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""Commands about supplies: rails, rail."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

import click

from netgraph.cli.page import Page
from netgraph.cli.session import Job, board_command, complete_net
from netgraph.cli.wording import counted, grouped, in_order, sure, volts

if TYPE_CHECKING:
    from netgraph.rails import RailMember
    from netgraph.rails.tree import Feeder, Rail

CONNECTIONS = {
    "source": "Feeds it",
    "series": "In series: the rail goes on behind it",
    "load": "Draws from it",
    "shunt": "Between it and ground or another supply",
    "sense": "Only looks at it",
}
MANY_SIGNALS = 6
"""From here on signal nets are counted instead of named; the JSON form names them all."""

FEW = 4
"""Up to so many like parts are shown one by one, with their pins."""


@click.command()
@board_command
def rails(job: Job) -> None:
    """Which rails are there, and what feeds each?

    \b
    Example:  netgraph rails board.kicad_pcb

    Rails stand from the entries (connectors, cells) outwards. Behind the name: nominal volts
    ("? V": not known), how the rail is made (entry, buck, boost, linear, switched, charger,
    filtered, reference, unknown), and how sure that is. Below it: what feeds it and from which
    net ("or": any of them may carry the rail), series parts with the net behind them, loads, and
    the number of capacitors to ground.
    """
    from netgraph.contract.answers import rails_fields

    fields = rails_fields(job.tree)
    job.answer("rails", fields, lambda page: _rails_page(page, job))


def _rails_page(page: Page, job: Job) -> None:
    tree = job.tree
    page.title(f"{job.board.source.file_name}: {counted(len(tree.rails), 'rail')}")
    page.names("ground", tree.grounds or ["none found"])
    for rail in tree:
        page.blank()
        rail_block(page, rail)
    for cycle in tree.cycles:
        page.section(f"Feeds itself in a ring: {' > '.join(cycle)}")


WIDE_SHARE = 0.12
"""A range wider than this share of the nominal volts is shown."""


def rail_block(page: Page, rail: Rail) -> None:
    """One rail: its line, and what feeds it and hangs on it below."""
    always = {True: ", always on", False: ", switched off in standby", None: ""}[rail.always_on]
    about = f"{rail.net}  {volts(rail.nominal_volts)}{_range(rail)}, {rail.kind}{always}"
    page.title(f"{about} (sure {sure(rail.confidence)})")
    if rail.feeders:
        page.item("fed by  ", " or ".join(_feeder_words(one) for one in rail.feeders))
    elif rail.kind != "entry":
        page.item("fed by  ", "no feeder found")
    if rail.series:
        behind = ", ".join(f"{one.part_id} to {one.to_net}" for one in rail.series)
        page.item("series  ", behind)
    if rail.loads:
        page.names(f"loads {len(rail.loads):>2}", in_order(rail.loads), comma="")
    if rail.capacitors:
        page.item("shunt   ", counted(len(rail.capacitors), "capacitor"))


def _range(rail: Rail) -> str:
    """The least and the most to expect, where they say more than a tolerance does."""
    if rail.volts_range is None or rail.nominal_volts is None:
        return ""
    low, high = rail.volts_range
    wide = high - low > WIDE_SHARE * abs(rail.nominal_volts)
    return f" ({low:.3g} to {high:.3g} V)" if wide else ""


def _feeder_words(one: Feeder) -> str:
    origin = f" from {one.from_net}" if one.from_net else " from an unknown net"
    through = f" through {' '.join(one.through)}" if one.through else ""
    return f"{one.part_id}{origin}{through} ({one.kind}, {sure(one.confidence)})"


@click.command()
@board_command
@click.argument("net", shell_complete=complete_net)
def rail(job: Job, net: str) -> None:
    """Who sits on this rail?

    Works for any net. Lists every fitted part with a pad on NET by how it is joined to it.

    \b
    Example:  netgraph rail board.kicad_pcb VSYS

    Like parts with the same nets stand in one line. "via 1 2" are the pins on this net, "other
    nets" the nets on the parts' other pins (of many signal nets only the number).
    """
    from netgraph.contract.answers import rail_fields
    from netgraph.rails import rail_members

    net = job.net_called(net)
    members = rail_members(job.board, job.roles, job.tree, net)
    fields = rail_fields(job.board, job.roles, job.tree, net, members)
    job.answer("rail", fields, lambda page: rail_page(page, job, net, members))


def rail_page(page: Page, job: Job, net: str, members: tuple[RailMember, ...]) -> None:
    """Members of a net by connection, like parts together."""
    roles, found = job.roles, job.tree.by_net.get(net)
    if found is not None:
        rail_block(page, found)
    else:
        about = f"{roles.nets[net].kind}, {volts(roles.nets[net].nominal_volts)}"
        page.title(f"{net}  {about} (no rail)")
    page.item("members", counted(len(members), "fitted part"))
    for connection, title in CONNECTIONS.items():
        joined = [one for one in members if one.connection == connection]
        if not joined:
            continue
        page.section(f"{title} ({connection}, {counted(len(joined), 'part')})")
        groups: dict[tuple[str, tuple[str, ...]], list[RailMember]] = defaultdict(list)
        for one in joined:
            groups[one.role, tuple(sorted(one.other_nets))].append(one)
        for (role, other_nets), group in groups.items():
            names = in_order(one.part_id for one in group)
            pins = {one.part_id: one.pins for one in group}
            shown = names
            if len(names) <= FEW:
                shown = [f"{name} (via {' '.join(pins[name])})" for name in names]
            text = grouped(role, names).partition(":")[0] + ": " + " ".join(shown)
            page.text(text, indent=2)
            if other_nets:
                _other_nets(page, job, other_nets)
    left_off = [one for one in job.board.parts_on_net[net] if one not in roles.fitted]
    if left_off:
        page.section("On the net but not fitted")
        page.text(grouped("part", left_off), indent=2)


def _other_nets(page: Page, job: Job, nets: tuple[str, ...]) -> None:
    """Nets on the other pins: all when they are few, else supplies by name and signals by count."""
    supplies = [net for net in nets if net in job.tree.by_net or net in job.tree.grounds]
    signals = [net for net in nets if net not in supplies]
    if len(signals) > MANY_SIGNALS:
        shown = [*in_order(supplies), f"{len(signals)} signal nets"]
    else:
        shown = in_order(nets)
    page.names("other nets", shown, indent=4)
