# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""Commands about files of boards: merge, compare, convert, formats."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from netgraph.cli.page import Page
from netgraph.cli.session import (
    Job,
    board_command,
    debug_option,
    json_option,
    talk,
    write,
    write_json,
    write_page,
)
from netgraph.cli.wording import counted

if TYPE_CHECKING:
    from netgraph.model import Board
    from netgraph.model.compare import Comparison, NetDifference
    from netgraph.model.merge import Disagreement
    from netgraph.plan.drawn_nets import DrawnNet, DrawnShort

SHOWN = 20
FEW = 8


@click.command()
@board_command
@click.option("-o", "--output", metavar="FILE", help="Save the merged board here.")
@click.option("--to", "name", metavar="FORMAT", help="Write it as this format, not by the ending.")
def merge(job: Job, output: str | None, name: str | None) -> None:
    """Where do files of one board disagree, and what do they say together?

    Lays each --with FILE over the first, joined by designator and pin, and by place where several
    pads have one name. The first file wins wherever it says something; a later one fills what is
    open: values, packages, fields, pin names, places, parts not fitted, whole names for cut ones.
    Every disagreement is listed with what was taken. With -o, a file that stands there already is
    kept beside it as NAME~.

    \b
    Examples:  netgraph merge board.d356 --with board.net
               netgraph merge board.kicad_pcb --with parts.csv -o whole.json

    All commands about one board take --with too.
    """
    from netgraph.contract.files import merge_fields

    merged = job.merged
    if output is not None:
        _save(job, output, name)
    fields = merge_fields(merged, [Path(one).name for one in job.others])
    job.answer("merge", fields, lambda page: _merge_page(page, job, merged.disagreements))


def _merge_page(page: Page, job: Job, items: tuple[Disagreement, ...]) -> None:
    board = job.board
    files = [Path(one).name for one in (job.path, *job.others)]
    page.title(f"{' + '.join(files)}: {counted(len(items), 'disagreement')}")
    page.item(
        "together",
        f"{counted(len(board.parts), 'part')}, {counted(len(board.columns), 'pad')}, "
        f"{counted(len(board.nets), 'net')}",
    )
    for about in dict.fromkeys(one.about for one in items):
        rows = [one for one in items if one.about == about]
        page.section(f"{about.replace('-', ' ')}: {len(rows)}")
        if len(files) == 2:
            said = [f"{one} says" for one in told_apart(job.path, job.others[0])]
            page.table(
                ("of", *said, "taken"),
                [(_few_pads(one.name), one.first, one.second, one.taken) for one in rows[:SHOWN]],
            )
        else:
            page.table(
                ("of", "before it", "file", "says", "taken"),
                [
                    (_few_pads(one.name), one.first, one.file, one.second, one.taken)
                    for one in rows[:SHOWN]
                ],
            )
        _tell_more(page, len(rows))


def _tell_more(page: Page, count: int) -> None:
    if count > SHOWN:
        page.text(f"and {count - SHOWN} more: --json has all", indent=2)


def _few_pads(names: str) -> str:
    """The first names of a list of pads, and how many more there are."""
    words = names.split(" ")
    more = [one for one in words[FEW:] if one != "or"]
    return f"{' '.join(words[:FEW])} and {len(more)} more" if len(more) > 1 else names


def told_apart(path_a: str, path_b: str) -> tuple[str, str]:
    """Names of two files; with their folders where the names alone are one.

    >>> told_apart("old/board.net", "new/board.net"), told_apart("x/a.net", "y/b.net")
    (('old/board.net', 'new/board.net'), ('a.net', 'b.net'))
    """
    one, two = Path(path_a).parts, Path(path_b).parts
    size = next((n for n in range(1, len(one) + 1) if one[-n:] != two[-n:]), len(one))
    return str(Path(*one[-size:])), str(Path(*two[-size:]))


@click.command()
@click.argument("file_a")
@click.argument("file_b", required=False)
@click.option("--copper", is_flag=True, help="Compare the netlist of FILE_A with its drawn copper.")
@json_option
@debug_option
def compare(file_a: str, file_b: str | None, copper: bool, as_json: bool) -> int:
    """Are two boards the same, net by net, even where names differ?

    Nets are compared by the pads on them, on the pads that both files hold; a net of a single pad
    joins nothing and counts as none. Exit status 0: the same; 1: they differ, or they have no pad
    in common.

    \b
    Examples:  netgraph compare board.kicad_pcb board.d356
               netgraph compare board.kicad_pcb --copper

    With --copper one board is compared with itself: which nets lie in several pieces of copper,
    and which nets touch, islands of filled zones with them. A zone that isn't filled in the
    file may join anything, and is said.
    """
    from netgraph.contract.answers import answer
    from netgraph.contract.files import compare_fields
    from netgraph.formats import read_board
    from netgraph.model.compare import compare_boards

    if copper == (file_b is not None):
        raise click.UsageError(
            "--copper compares one file with itself: leave the second out"
            if copper
            else "say a second file to compare with, or --copper for the file's own copper"
        )
    a = read_board(file_a)
    if file_b is None:
        return _copper(a, as_json=as_json)
    b = read_board(file_b)
    found = compare_boards(a, b)
    names = told_apart(file_a, file_b)
    if as_json:
        write_json(answer("compare") | compare_fields(a, b, found, names))
    else:
        write_page(lambda page: _compare_page(page, names, (a, b), found))
    return 0 if found.is_same else 1


def _copper(board: Board, *, as_json: bool) -> int:
    from netgraph.contract.answers import answer
    from netgraph.contract.files import copper_fields
    from netgraph.errors import DataMissingError
    from netgraph.plan.drawn_nets import drawn_nets, drawn_shorts

    if "has_copper" not in board.capabilities:
        raise DataMissingError(
            f"{board.source.file_name} holds no drawn copper", hint="give a board with its layout"
        )
    opens, shorts = drawn_nets(board), drawn_shorts(board)
    fields = copper_fields(board, opens, shorts)
    if as_json:
        write_json(answer("compare-copper") | fields)
    else:
        write_page(lambda page: _copper_page(page, board, opens, shorts, fields["agrees"]))
    return 0 if fields["agrees"] is not False else 1


def _copper_page(
    page: Page,
    board: Board,
    opens: Sequence[DrawnNet],
    shorts: Sequence[DrawnShort],
    agrees: object,
) -> None:
    verdict = {True: "copper and netlist agree", False: "they differ"}.get(
        bool(agrees) if agrees is not None else None,  # type: ignore[arg-type]
        "it can't be told: zones are not filled",
    )
    page.title(f"{board.source.file_name}: {verdict}")
    if shorts:
        page.section("Copper of two nets that overlaps (a net tie, a closed jumper, or a fault)")
        rows = [
            (
                f"{one.net_a} and {one.net_b}",
                board.copper_layers[one.layer],
                f"{one.x_nm / 1e6:.3f}, {one.y_nm / 1e6:.3f}",
            )
            for one in shorts
        ]
        page.table(("nets", "layer", "at x, y mm"), rows)
    for unfilled, title in (
        (False, "Nets in several pieces of copper"),
        (True, "In pieces, but a zone that is not filled may join them"),
    ):
        some = [one for one in opens if one.unfilled is unfilled]
        if some:
            page.section(f"{title}: {len(some)}")
            for one in some:
                pieces = sorted(one.pieces, key=len, reverse=True)
                apart = "; ".join(" ".join(names[:4]) for names in pieces[1:6])
                page.item(one.net, f"{len(pieces)} pieces; apart from the largest: {apart}")
    page.blank()
    empty = sum(not zone.is_filled for zone in board.copper.zones)
    if empty:
        page.text(
            f"{counted(empty, 'zone')} not filled in the file: shorts through them can't be seen. "
            "Fill the zones in the layout program and save.",
            style="faint",
        )


def _compare_page(
    page: Page, names: tuple[str, str], boards: tuple[Board, Board], found: Comparison
) -> None:
    verdict = "the same nets" if found.is_same else "not the same"
    lonely = len(found.match.only_a), len(found.match.only_b)
    if found.is_same and any(lonely):
        verdict = "the same nets on the pads of both"
    if not found.match.pairs:
        verdict = "no pad in common"
    page.title(f"{names[0]} and {names[1]}: {verdict}")
    page.item("compared", f"{counted(len(found.match.pairs), 'pad')} that both hold")
    if any(lonely):
        told = [
            f"{count} only in {name}" for name, count in zip(names, lonely, strict=True) if count
        ]
        page.item("not compared", f"pads: {', '.join(told)}")
    page.item("same nets", f"{len(found.same)}, {len(found.renamed)} of them named differently")
    if found.match.worst_nm is not None and found.match.offset_nm is not None:
        x, y = found.match.offset_nm
        page.item(
            "places  ",
            f"agree within {found.match.worst_nm / 1e6:.4f} mm, the second moved by "
            f"{x / 1e6:.3f}, {y / 1e6:.3f} mm",
        )
    if found.moved:
        page.names("lie elsewhere", _first(found.moved), comma="")
    for name, parts in zip(names, (found.parts_only_a, found.parts_only_b), strict=True):
        if parts:
            page.names(f"only in {name}", _first(parts), comma="")
    for name, nets in zip(names, (found.unclear_a, found.unclear_b), strict=True):
        if nets:
            page.names(
                f"{counted(len(nets), 'name')} of {name} may stand for several nets, cut or told "
                "in two ways",
                _first(nets),
            )
    if found.match.unsure:
        keys = [f"{ref}.{pin}" for ref, pin in found.match.unsure]
        page.names("several pads of one name, not compared", _first(keys), comma="")
    if found.differ:
        page.section(f"Nets that hold other pads: {len(found.differ)}")
        rows = [row for one in found.differ for row in _apart_rows(one)]
        page.table((*names, "pads without which they agree"), rows[:SHOWN])
        _tell_more(page, len(rows))
    for name, board in zip(names, boards, strict=True):
        if board.not_known:
            page.section(f"Not known of {name}")
            for reason in board.not_known:
                page.item("-", reason.text, style="unsure")


def _first(names: Sequence[str]) -> list[str]:
    """The first names, and how many more there are."""
    more = len(names) - SHOWN
    return [*names[:SHOWN], f"and {more} more: --json has all"] if more > 0 else list(names)


def _apart_rows(difference: NetDifference) -> list[tuple[str, str, str]]:
    cut = " (names may be cut)" if difference.unclear else ""
    return [
        (
            group.net_a or "not joined",
            (group.net_b or "not joined") + cut,
            _few_pads(" ".join(group.pads)) + ("" if group.sure else " (or others of these nets)"),
        )
        for group in difference.apart
    ]


@click.command()
@board_command
@click.option("-o", "--output", metavar="FILE", help="Where to write; without it to stdout.")
@click.option("--to", "name", metavar="FORMAT", help="Write this format; default: by the ending.")
def convert(job: Job, output: str | None, name: str | None) -> None:
    """How does this board look in another format?

    Writes the board, with all --with files laid over it, as a KiCad board or netlist, as an
    IPC-D-356A list, CSV, JSON or GraphML. What the format can't hold is counted on stderr. A file
    that stands there already is kept beside it as NAME~; one that is read is never written.

    \b
    Examples:  netgraph convert board.d356 -o board.net
               netgraph convert notes.trace --to csv
    """
    from netgraph.contract.files import convert_fields
    from netgraph.formats.writing import writer_for

    job.tell_differences()
    if output is not None:
        dropped = _save(job, output, name)
        chosen = writer_for(output, name)
        fields = convert_fields(chosen.name, Path(output).name, dropped)
        if job.as_json:
            job.answer("convert", fields, lambda page: page.text(output))
        return
    if job.as_json:
        raise click.UsageError("--json tells what was written: say where with -o FILE")
    if name is None:
        raise click.UsageError("say -o FILE or --to FORMAT")
    dropped = Counter()
    text = writer_for("", name).write(job.board, dropped)
    _tell_dropped(dropped)
    write(text, exact=True)


def _save(job: Job, output: str, name: str | None) -> Counter[str]:
    from netgraph.formats.writing import save_over

    notes = () if job.notes_path is None else (job.notes_path,)
    inputs = (job.path, *job.others, *notes)
    dropped, kept = save_over(job.board, output, name, inputs=inputs)
    if kept is not None:
        talk(f"what stood in {Path(output).name} is kept as {kept.name}")
    talk(f"written: {output}")
    _tell_dropped(dropped)
    return dropped


def _tell_dropped(dropped: Counter[str]) -> None:
    if dropped:
        kinds = ", ".join(f"{kind} {count}" for kind, count in sorted(dropped.items()))
        talk(f"left out or cut: {kinds}")


@click.command()
@json_option
@debug_option
def formats(as_json: bool) -> None:
    """Which files can be read and written?

    \b
    Example:  netgraph formats

    Name (for --format and --to), usual endings, what the format carries and its limits. A file is
    told by its content; the ending does not matter. Installed plug-ins are listed too.
    """
    from netgraph.contract.answers import answer
    from netgraph.contract.files import formats_fields
    from netgraph.formats import readers
    from netgraph.formats.writing import WRITERS

    if as_json:
        write_json(answer("formats") | formats_fields(readers(), WRITERS))
        return

    def fill(page: Page) -> None:
        page.title("Read")
        for one in readers():
            page.item(one.name, f"{one.title}; {' '.join(one.suffixes)}")
            if carries := getattr(one, "carries", ()):
                page.item("carries", ", ".join(carries), indent=4)
            if limits := getattr(one, "limits", ""):
                page.item("limits ", limits, indent=4)
        page.section("Written (netgraph convert)")
        for writer in WRITERS:
            page.item(writer.name, f"{writer.title}; {writer.suffix}")
            page.item("carries", ", ".join(writer.carries), indent=4)
            page.item("limits ", writer.limits, indent=4)

    write_page(fill)
