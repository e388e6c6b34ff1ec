# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""The command resistance: milliohms of drawn copper between pads."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from netgraph.cli.page import Page
from netgraph.cli.session import Job, board_command, complete_net, progress
from netgraph.cli.wording import counted

if TYPE_CHECKING:
    from netgraph.copper.resistance import Pair, Resistance
    from netgraph.model import Board

SHOWN = 8
"""So many of the farthest and of the nearest pairs are shown; the JSON form has all."""


@click.command()
@board_command
@click.argument("start", metavar="NET|REF.PIN", shell_complete=complete_net)
@click.argument("stop", metavar="[REF.PIN]", required=False)
def resistance(job: Job, start: str, stop: str | None) -> None:
    """How much copper lies between two pads of one net?

    \b
    Examples:  netgraph resistance board.kicad_pcb C34.1 U8.3
               netgraph resistance board.kicad_pcb C34.1
               netgraph resistance board.kicad_pcb VSYS

    Two pads: the milliohms between them. One pad: from it to all others of its net. A net: its
    nearest and farthest pairs of pads. Drawn copper alone, at 20 C, all parts taken as absent:
    tracks, arcs, vias, pads, filled zones. Nothing is said of a net with a zone that is not
    filled, nor of files without copper.
    """
    found = resistance_answer(job, start, stop)
    from netgraph.contract.copper_answers import resistance_fields

    fields = resistance_fields(job.board, found)
    job.answer("resistance", fields, lambda page: resistance_page(page, job.board, found))


def resistance_answer(job: Job, start: str, stop: str | None = None) -> Resistance:
    """The one core call behind `resistance`."""
    from netgraph.copper.resistance import net_resistances, pad_named, resistance_between
    from netgraph.errors import UsageError

    board = job.board
    with progress("solving the copper"):
        if stop is not None:
            for name in (start, stop):
                if board.has_net(name) and not board.has_part(name.rpartition(".")[0]):
                    raise UsageError(
                        f"{name} is a net, not a pad", hint="two pads REF.PIN, or one net alone"
                    )
            return resistance_between(board, start, stop)
        if board.has_net(start) or start in board.other_names:
            return net_resistances(board, job.net_called(start))
        if "." not in start:
            board.net(start)
        pad = pad_named(board, start)
        if pad.net is None:
            raise UsageError(f"{start} is on no net", hint="name a pad of a net")
        return net_resistances(board, pad.net, pad)


# -- the page ----------------------------------------------------------------------------------


def resistance_page(page: Page, board: Board, found: Resistance) -> None:
    """The figure first, then where it comes from and what it leaves out."""
    if found.copper is None:
        page.text(f"{found.net}: not known")
        page.text(found.why.text, indent=2)
        return
    if found.b is not None:
        _between(page, board, found)
    else:
        _table(page, board, found)
    if len(found.islands) > 1:
        page.section(f"{counted(len(found.islands), 'piece')} of copper, not joined in the drawing")
        for island in found.islands[1:]:
            page.names("apart from the largest", [_name(board, pad) for pad in island])
    page.section("Computed from")
    copper = found.copper
    if copper.cells:
        page.item("-", f"areas: {copper.cells} cells of {copper.cell_nm / 1e6:.3f} mm")
    if copper.strips:
        narrow = (copper.narrowest_nm or 0.0) / 1e6
        page.item("-", f"tracks: {copper.strips} pieces, the narrowest {narrow:.3g} mm wide")
    for one in found.remarks:
        page.item("-", one.text)


def _between(page: Page, board: Board, found: Resistance) -> None:
    a, b = (_name(board, one) for one in (found.a, found.b) if one is not None)
    page.title(f"{a} to {b}, {found.net}: {_milliohms(found.ohms)}")
    if found.ohms is None:
        page.text(found.why.text, indent=2)
        return
    if found.mesh_ohms:
        page.item("give or take", f"{_milliohms(found.mesh_ohms)} by the size of the cells")
    if found.amps is not None:
        page.item(
            "tracks bear  ",
            f"{found.amps:.2g} A on the widest way, 10 K warmer (IPC-2221); areas and vias "
            "are not judged",
        )


def _table(page: Page, board: Board, found: Resistance) -> None:
    start = "" if found.a is None else f" from {_name(board, found.a)}"
    page.title(f"{found.net}{start}: {found.why.text}")
    if not found.pairs:
        page.text("no two pads are joined by drawn copper", indent=2)
        return
    middle = found.pairs[len(found.pairs) // 2].ohms
    page.item("half of all pairs below", _milliohms(middle))
    if len(found.pairs) <= 2 * SHOWN:
        page.section("All pairs, the nearest first")
        _pairs(page, board, found.pairs)
        return
    page.section("Nearest")
    _pairs(page, board, found.pairs[:SHOWN])
    page.section("Farthest")
    _pairs(page, board, found.pairs[: -SHOWN - 1 : -1])


def _pairs(page: Page, board: Board, pairs: Sequence[Pair]) -> None:
    rows = [(_name(board, one.a), _name(board, one.b), f"{1e3 * one.ohms:.3g}") for one in pairs]
    page.table(("pad", "pad", "mohm"), rows, right=(2,))


def _name(board: Board, pad: int) -> str:
    one = board.pad(pad)
    return f"{one.part_id}.{one.pin}"


def _milliohms(ohms: float | None) -> str:
    return "not joined by copper" if ohms is None else f"{1e3 * ohms:.3g} mohm"
