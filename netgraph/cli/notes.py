# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""Commands about board notes: show, set, check."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import click

from netgraph.cli.notes_file import read_noted, write_noted
from netgraph.cli.page import Page
from netgraph.cli.session import Job, board_command, complete_net
from netgraph.cli.wording import counted, volts
from netgraph.errors import NotesError, UsageError
from netgraph.roles.answer import NET_KINDS, ROLES, NetKind, Role
from netgraph.roles.note_edits import with_net, with_part, without_net, without_part
from netgraph.roles.notes import (
    KEEP_WORDS,
    BoardNotes,
    FeederNote,
    KeepWord,
    NetNote,
    PartNote,
)
from netgraph.roles.notes_check import Conflict, NotesProblem, check_notes, find_conflicts

if TYPE_CHECKING:
    from netgraph.model import Board


@click.group()
def notes() -> None:
    """What does a person know better than the program?

    Board notes are a person's corrections: the role of a part, whether it is fitted, whether it
    must be kept; the kind of a net, its volts, what feeds it. They lie in NAME.notes.toml beside
    the board NAME and win over everything inferred. The board file itself is never changed.

    \b
    Examples:  netgraph notes show board.kicad_pcb
               netgraph notes set board.kicad_pcb --part U7 --role storage
               netgraph notes set board.kicad_pcb --net VSYS --volts 3.8
               netgraph notes check board.kicad_pcb
    """


@notes.command("show")
@board_command
def show_notes(job: Job) -> None:
    """Which corrections are noted for this board?

    Where a note says something else than the file, that is shown too; the note wins.

    \b
    Example:  netgraph notes show board.kicad_pcb
    """
    _answer(job, read_noted(job))


@notes.command("check")
@board_command
def check(job: Job) -> int:
    """Do the notes fit the board?

    Lists every name in the notes that the board does not have, and says whether they were written
    for this netlist. Also shown is where a note says something else than the file; there the note
    wins. Exit status 0: they fit; 1: they do not.

    \b
    Example:  netgraph notes check board.kicad_pcb
    """
    found = read_noted(job)
    problems = check_notes(job.board, found)
    _answer(job, found)
    return 1 if problems else 0


@notes.command("set")
@board_command
@click.option("--part", "part_id", metavar="REF", help="The part that is spoken of.")
@click.option(
    "--net", metavar="NET", shell_complete=complete_net, help="The net that is spoken of."
)
@click.option("--role", type=click.Choice(ROLES), metavar="ROLE", help="What the part is.")
@click.option("--fitted/--not-fitted", default=None, help="Whether the part is on the board.")
@click.option(
    "--keep",
    type=click.Choice(KEEP_WORDS),
    help="Whether the goal needs the part; no: it does not.",
)
@click.option(
    "--enabled-by",
    "enablers",
    multiple=True,
    metavar="REF",
    help="A part that switches this one on; again for more.",
)
@click.option("--always-enabled", is_flag=True, help="Nothing switches the part on or off.")
@click.option(
    "--needs-first",
    "needed",
    multiple=True,
    metavar="NET",
    help="A supply that must be up before the part runs; again for more.",
)
@click.option("--kind", type=click.Choice(NET_KINDS), metavar="KIND", help="What the net is.")
@click.option("--volts", "nominal", type=float, metavar="V", help="Nominal of the net in volts.")
@click.option(
    "--fed-by",
    "feeders",
    multiple=True,
    metavar="REF[,NET]",
    help="What feeds the net, and from which net; again for more.",
)
@click.option("--not-fed", is_flag=True, help="Nothing on the board feeds the net.")
@click.option(
    "--always-on/--not-always-on", default=None, help="Whether the rail is on in standby."
)
@click.option("--why", default="", metavar="TEXT", help="How the person knows.")
@click.option("--forget", is_flag=True, help="Take the note on this part or net away.")
@click.option("--adopt", is_flag=True, help="Say that the notes are for this netlist from now on.")
def set_note(
    job: Job,
    part_id: str | None,
    net: str | None,
    role: Role | None,
    fitted: bool | None,
    keep: KeepWord | None,
    enablers: tuple[str, ...],
    always_enabled: bool,
    needed: tuple[str, ...],
    kind: NetKind | None,
    nominal: float | None,
    feeders: tuple[str, ...],
    not_fed: bool,
    always_on: bool | None,
    why: str,
    forget: bool,
    adopt: bool,
) -> None:
    """Write down a correction.

    Adds to what is noted already; --forget takes a note away. Names are checked against the
    board first. ROLE and KIND are the words of docs/reference/board-notes.md.

    \b
    Examples:  netgraph notes set b.kicad_pcb --part U7 --role storage
               netgraph notes set b.kicad_pcb --part C12 --not-fitted --why lifted
               netgraph notes set b.kicad_pcb --net VSYS --fed-by U2,VBAT
               netgraph notes set b.kicad_pcb --part U4 --enabled-by U2 --needs-first +1V8
    """
    if enablers and always_enabled:
        raise UsageError("--enabled-by and --always-enabled contradict each other")
    fed = () if not_fed else tuple(_feeder(one) for one in feeders)
    switched = enablers if enablers or always_enabled else None
    said = PartNote(role, fitted, keep, enabled_by=switched, needs_first=needed)
    net_said = NetNote(kind, nominal, fed if fed or not_fed else None, always_on)
    _check_use(part_id, net, said, net_said, why=why, forget=forget, adopt=adopt)
    board, old = job.board, read_noted(job)
    if adopt:
        old = replace(old, fingerprint=board.fingerprint)
    elif old.fingerprint and old.fingerprint not in (board.fingerprint, job.plugged):
        raise NotesError(
            "the notes were written for another netlist",
            path=str(job.notes_place),
            hint="check them, then say --adopt",
        )
    new = old
    if part_id is not None:
        board.part(part_id)
        note = replace(said, why=why)
        new = without_part(old, part_id) if forget else with_part(old, part_id, note)
    if net is not None:
        net = job.net_called(net)
        net_note = replace(net_said, why=why)
        if nominal is not None and nominal != old.net(net).nominal_volts:
            # The reason given for another figure says nothing of this one.
            old_note = replace(old.net(net), why="")
            old = replace(old, nets={**old.nets, net: old_note})
        new = without_net(old, net) if forget else with_net(old, net, net_note)
    new = write_noted(job, old, new)
    _answer(job, new)


def _check_use(
    part_id: str | None,
    net: str | None,
    said: PartNote,
    net_said: NetNote,
    *,
    why: str,
    forget: bool,
    adopt: bool,
) -> None:
    part_words, net_words = said != PartNote(), net_said != NetNote()
    if (part_id is None) == (net is None) and not (adopt and part_id is None):
        raise UsageError("say either --part or --net", hint="netgraph notes set --help")
    if part_words and part_id is None:
        raise UsageError(
            "--role, --fitted, --keep, --enabled-by and --needs-first speak of a part",
            hint="add --part REF",
        )
    if net_words and net is None:
        raise UsageError("--kind, --volts, --fed-by and --always-on speak of a net", hint="--net")
    anything = part_words or net_words or bool(why)
    if forget and anything:
        raise UsageError("--forget takes the whole note away and goes with nothing else")
    if not (anything or forget or adopt):
        raise UsageError("nothing to write down", hint="netgraph notes set --help")


def _feeder(text: str) -> FeederNote:
    part_id, comma, from_net = text.partition(",")
    if not part_id or (comma and not from_net):
        raise UsageError(f"--fed-by {text!r} is not REF or REF,NET")
    return FeederNote(part_id, from_net or None)


# -- the answer --------------------------------------------------------------------------------


def _answer(job: Job, found: BoardNotes) -> None:
    from netgraph.contract.answers import notes_fields

    exists = job.notes_place.exists()
    problems = check_notes(job.board, found)
    conflicts = find_conflicts(job.board, found)
    fields = notes_fields(job.board, found, problems, conflicts, exists=exists)

    def fill(page: Page) -> None:
        _page(page, job, found, problems, conflicts, exists=exists)

    job.answer("notes", fields, fill)


def _page(
    page: Page,
    job: Job,
    found: BoardNotes,
    problems: Sequence[NotesProblem],
    conflicts: Sequence[Conflict],
    *,
    exists: bool,
) -> None:
    if not exists:
        page.text(f"No notes: {job.notes_place.name} does not exist.")
        return
    what = f"{counted(len(found.parts), 'part')}, {counted(len(found.nets), 'net')}"
    page.title(f"{job.notes_place.name}: {what}")
    for name, part in sorted(found.parts.items()):
        page.item(name, "; ".join(_part_words(part)))
    for name, net in sorted(found.nets.items()):
        page.item(name, "; ".join(_net_words(net)))
    for topic, name in sorted(found.asked):
        page.item(name, f"nobody knows: {topic}; not asked again")
    for conflict in conflicts:
        page.item("differs", f"{conflict.name}, {conflict.key}: {conflict.why.text}")
    if conflicts:
        page.text("Where note and file differ the note wins.", indent=2)
    for one in problems:
        page.item(one.code, one.text, style="veto")
    page.text(_verdict(job.board, found, problems), style="no" if problems else "ok")


def _verdict(board: Board, found: BoardNotes, problems: Sequence[NotesProblem]) -> str:
    if problems:
        return f"They do not fit {board.source.file_name}."
    doubt = "" if found.fingerprint else " (they do not say which netlist they were written for)"
    return f"They fit {board.source.file_name}{doubt}."


def _part_words(note: PartNote) -> list[str]:
    words = []
    if note.role is not None:
        words.append(f"role {note.role}")
    if note.fitted is not None:
        words.append("fitted" if note.fitted else "not fitted")
    if note.keep is not None:
        words.append("not needed" if note.keep == "no" else f"keep: {note.keep}")
    if note.enabled_by is not None:
        by = " and ".join(note.enabled_by)
        words.append(f"enabled by {by}" if by else "always enabled")
    if note.needs_first:
        words.append(f"needs {' and '.join(note.needs_first)} first")
    return [*words, *([f"why: {note.why}"] if note.why else [])]


def _net_words(note: NetNote) -> list[str]:
    words = []
    if note.kind is not None:
        words.append(f"kind {note.kind}")
    if note.nominal_volts is not None:
        words.append(volts(note.nominal_volts))
    if note.feeders is not None:
        fed = [f"{f.part_id}{f' from {f.from_net}' if f.from_net else ''}" for f in note.feeders]
        words.append(f"fed by {' or '.join(fed)}" if fed else "fed by nothing on the board")
    if note.always_on is not None:
        words.append("always on" if note.always_on else "not always on")
    return [*words, *([f"why: {note.why}"] if note.why else [])]
