# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""Commands about the board as it is: show, parts, pads."""

from __future__ import annotations

import csv
import io
from collections import defaultdict

import click

from netgraph.cli.page import Page
from netgraph.cli.session import Job, board_command, write
from netgraph.cli.wording import counted, grouped, in_order, role_word, sure

CAPABILITIES = {
    "has_positions": "positions",
    "has_copper": "drawn copper",
    "has_values": "values",
    "has_pin_names": "pin names",
    "has_pin_types": "pin types",
    "has_dnp": "parts not fitted",
}


@click.command()
@board_command
def show(job: Job) -> None:
    """What is this board?

    Reads the file and counts: parts (footprints, also logos and holes), pads, named nets, copper
    layers. Says which parts are not fitted, what the file can't tell, and what looked odd.

    \b
    Example:  netgraph show board.kicad_pcb

    In the answer, "largest nets" are those with most pads: grounds and main rails. A warning
    shows how often it came up and the first line of the file it stands on.
    """
    from netgraph.contract.answers import show_fields

    fields = show_fields(job.board)
    _ = job.notes  # a notes file that does not fit should be told at once
    job.answer("show", fields, lambda page: show_page(page, job))


def show_page(page: Page, job: Job) -> None:
    """Counts and oddities of a board."""
    from netgraph.contract.answers import largest_nets

    board = job.board
    source = board.source
    version = f", version {source.version}" if source.version else ""
    made = f", written by {source.generator}" if source.generator else ""
    page.title(f"{source.file_name}: {source.format}{version}{made}")
    seen = [board.side_of(part.id) for part in board.parts]
    shown = [f"{seen.count('top')} top", f"{seen.count('bottom')} bottom"]
    shown += [f"{seen.count(None)} side unknown"] if None in seen else []
    sides = ", ".join(shown) if board.knows_sides else "sides unknown"
    page.item("parts  ", f"{len(board.parts)} ({sides})")
    page.item("pads   ", str(len(board.columns)))
    page.item("nets   ", f"{len(board.nets)} named")
    layers = ", ".join(board.copper_layers)
    if layers:
        page.item("copper ", f"{counted(len(board.copper_layers), 'layer')}: {layers}")
    left_off = in_order(part.id for part in board.parts if not part.fitted)
    if left_off:
        page.item("not fitted", f"{counted(len(left_off), 'part')}: {' '.join(left_off)}")
    page.names(
        "largest nets, by pads", [f"{one['net']} {one['pads']}" for one in largest_nets(board)]
    )
    told = [word for key, word in CAPABILITIES.items() if key in board.capabilities]
    untold = [word for key, word in CAPABILITIES.items() if key not in board.capabilities]
    if board.knows_part_places and "has_positions" not in board.capabilities:
        told.append("places of parts")
    joined = all(one.code != "no-netlist" for one in board.not_known)
    alone = "the netlist only" if joined else "which parts there are, no more"
    page.item("the file tells", ", ".join(told) or alone)
    if untold:
        page.item("it does not tell", ", ".join(untold))
    for one in board.warnings:
        place = f", first on line {one.line}" if one.line is not None else ""
        page.item(f"warning {one.code}", f"{one.text} ({counted(one.count, 'time')}{place})")


@click.command()
@board_command
def parts(job: Job) -> None:
    """What is each part?

    Gives every part the role it most likely has, how sure that is, and why: from designator,
    value, package, pins and what it is joined to. A person's board notes win.

    \b
    Example:  netgraph parts board.kicad_pcb

    Columns: part (its reference designator; NAME@2 for the second of that name), role, sure
    (confidence in percent; below 60 % the role is shown but not built on), value, package, why
    (the strongest reason). Parts that are not fitted stand at the end. The JSON form holds all
    reasons.
    """
    from netgraph.contract.answers import parts_fields

    fields = {} if not job.as_json else parts_fields(job.board, job.roles)
    job.answer("parts", fields, lambda page: _parts_page(page, job))


def _parts_page(page: Page, job: Job) -> None:
    board, roles = job.board, job.roles
    by_role: dict[str, list[str]] = defaultdict(list)
    for part in board.parts:
        if part.id in roles.fitted:
            by_role[roles.role(part.id)].append(part.id)
    page.title(f"{board.source.file_name}: {counted(len(roles.fitted), 'fitted part')}")
    for role, names in by_role.items():
        rows = []
        for name in in_order(names):
            part, judged = board.part(name), roles.parts[name]
            why = judged.reasons[0].text if judged.reasons else ""
            rows.append((name, sure(judged.confidence), part.value, part.package, why))
        page.section(f"{len(names)} {role_word(role, len(names))}")
        page.table(("part", "sure", "value", "package", "why"), rows, right=(1,))
    left_off = [part.id for part in board.parts if part.id not in roles.fitted]
    if left_off:
        page.section("Not fitted")
        page.text(grouped("part", left_off), indent=2)


@click.command()
@board_command
@click.option("--csv", "as_csv", is_flag=True, help="Answer as CSV, one row a pad.")
def pads(job: Job, as_csv: bool) -> None:
    """Where is every pad, and on which net?

    \b
    Examples:  netgraph pads board.kicad_pcb
               netgraph pads --csv board.kicad_pcb > pads.csv

    Columns: id (identity of the part), ref (its designator as the file has it), pin, ordinal
    (counts copper pads of one pin from 1), net (empty: not connected), x_mm and y_mm (y runs
    down), angle_deg (counter-clockwise as seen from the top), side (of the part), copper_side (of
    the pad's own copper); both are empty where sides are not known. Net and pin stand exactly as
    the file writes them. A spreadsheet may take a net such as +3V3 for a formula: import these
    columns as text.
    """
    from netgraph.contract.answers import pads_fields

    if as_csv and job.as_json:
        raise click.UsageError("--csv and --json exclude each other")
    _ = job.notes
    if as_csv:
        job.tell_differences()
        write(pads_csv(job), exact=True)
    else:
        fields = pads_fields(job.board) if job.as_json else {}
        job.answer("pads", fields, lambda page: _pads_page(page, job))


def pads_csv(job: Job) -> str:
    """All pads as CSV; millimetres with six decimals, which is exact.

    Nothing is put before names that begin like a formula: "+3V3" is a common net name, and who
    reads the file must find net and pin as the board's file writes them.
    """
    from netgraph.contract.answers import PAD_COLUMNS

    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(PAD_COLUMNS)
    placed = "has_positions" in job.board.capabilities
    for pad in job.board.pads:
        place = (_mm(pad.x_nm), _mm(pad.y_nm), f"{pad.angle_deg:g}") if placed else ("", "", "")
        rows.writerow(
            (
                pad.part_id,
                pad.ref,
                pad.pin,
                pad.ordinal,
                pad.net or "",
                *place,
                *(
                    (pad.side, pad.copper_side)
                    if job.board.knows_side_of(pad.part_id)
                    else ("", "")
                ),
            )
        )
    return out.getvalue()


def _mm(nanometres: int) -> str:
    """Millimetres with six decimals in whole-number arithmetic."""
    sign, size = "-" if nanometres < 0 else "", abs(nanometres)
    return f"{sign}{size // 1_000_000}.{size % 1_000_000:06d}"


def _pads_page(page: Page, job: Job) -> None:
    board = job.board
    placed = "has_positions" in board.capabilities
    page.title(f"{board.source.file_name}: {counted(len(board.columns), 'pad')}")
    page.table(
        ("part", "pin", "net", "x mm", "y mm", "copper"),
        [
            (
                pad.part_id,
                pad.pin,
                pad.net or "-",
                f"{pad.x_nm / 1e6:.3f}" if placed else "",
                f"{pad.y_nm / 1e6:.3f}" if placed else "",
                pad.copper_side if board.knows_side_of(pad.part_id) else "?",
            )
            for pad in board.pads
        ],
        right=(3, 4),
    )
