# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""Commands about board notes: show, set, check."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from netgraph.cli.page import Page
from netgraph.cli.session import Job, board_command, complete_net, talk
from netgraph.cli.wording import counted, volts
from netgraph.errors import NotesError, UsageError
from netgraph.roles.answer import NET_KINDS, ROLES, NetKind, Role
from netgraph.roles.notes import (
    KEEP_WORDS,
    NO_NOTES,
    BoardNotes,
    FeederNote,
    KeepWord,
    NetNote,
    NotesProblem,
    PartNote,
    check_notes,
    format_notes,
    parse_notes,
)

if TYPE_CHECKING:
    from netgraph.model import Board

Note = TypeVar("Note", PartNote, NetNote)


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

    \b
    Example:  netgraph notes show board.kicad_pcb
    """
    _answer(job, _read(job))


@notes.command("check")
@board_command
def check(job: Job) -> int:
    """Do the notes fit the board?

    Lists every name in the notes that the board does not have, and says whether they were written
    for this netlist. Exit status 0: they fit; 1: they do not.

    \b
    Example:  netgraph notes check board.kicad_pcb
    """
    found = _read(job)
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
    """
    said = {"role": role, "fitted": fitted, "keep": keep}
    fed = () if not_fed else tuple(_feeder(one) for one in feeders)
    net_said = {
        "kind": kind,
        "nominal_volts": nominal,
        "feeders": fed if fed or not_fed else None,
        "always_on": always_on,
    }
    _check_use(part_id, net, said, net_said, why=why, forget=forget, adopt=adopt)
    board, old = job.board, _read(job)
    if adopt:
        old = replace(old, fingerprint=board.fingerprint)
    elif old.fingerprint and old.fingerprint != board.fingerprint:
        raise NotesError(
            "the notes were written for another netlist",
            path=str(job.notes_place),
            hint="check them, then say --adopt",
        )
    new = replace(old, fingerprint=board.fingerprint)
    if part_id is not None:
        board.part(part_id)
        changed = _merged(old.part(part_id), said, why)
        new = replace(new, parts=_with(old.parts, part_id, None if forget else changed))
    if net is not None:
        board.net(net)
        note = _merged(old.net(net), net_said, why)
        new = replace(new, nets=_with(old.nets, net, None if forget else note))
    before = set(check_notes(board, old))
    fresh = [one for one in check_notes(board, new) if one not in before]
    if fresh:
        raise UsageError(fresh[0].text)
    # What can't be read back must never be written.
    parse_notes(format_notes(new))
    _save(job, new)
    job.__dict__.pop("notes_path", None)
    _answer(job, new)


def _check_use(
    part_id: str | None,
    net: str | None,
    said: Mapping[str, object],
    net_said: Mapping[str, object],
    *,
    why: str,
    forget: bool,
    adopt: bool,
) -> None:
    part_words = any(value is not None for value in said.values())
    net_words = any(value is not None for value in net_said.values())
    if (part_id is None) == (net is None) and not (adopt and part_id is None):
        raise UsageError("say either --part or --net", hint="netgraph notes set --help")
    if part_words and part_id is None:
        raise UsageError("--role, --fitted and --keep speak of a part", hint="add --part REF")
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


def _merged(note: Note, said: Mapping[str, object], why: str) -> Note:
    news = {key: value for key, value in said.items() if value is not None}
    if why:
        news["why"] = why
    # The names are those of the options, which a test holds equal to those of the notes.
    return replace(note, **news)  # type: ignore[arg-type]


def _with(old: Mapping[str, Note], name: str, note: Note | None) -> dict[str, Note]:
    new = {key: value for key, value in old.items() if key != name}
    return new if note is None else {**new, name: note}


def _read(job: Job) -> BoardNotes:
    from netgraph.survey import read_notes

    place = job.notes_place
    if job.notes_option is None and not place.is_file():
        return NO_NOTES
    if job.notes_option is not None and not place.exists():
        return NO_NOTES
    return read_notes(place)


def _save(job: Job, new: BoardNotes) -> None:
    """Write the notes beside the board, whole or not at all; hand-written text is kept aside."""
    place = job.notes_place
    text = format_notes(new)
    try:
        old = place.read_text(encoding="utf-8") if place.exists() else ""
        if old and format_notes(parse_notes(old)) != old:
            aside = place.with_name(f"{place.name}.bak")
            aside.write_text(old, encoding="utf-8", newline="\n")
            talk(f"comments are not carried over; the text as it was is in {aside.name}")
        _replace_whole(place.resolve(), text)
    except OSError as error:
        raise NotesError(
            f"can't be written: {(error.strerror or str(error)).lower()}", path=str(place)
        ) from None
    talk(f"wrote {place}")


def _replace_whole(place: Path, text: str) -> None:
    handle, name = tempfile.mkstemp(dir=place.parent, prefix=f".{place.name}.")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        # mkstemp gives 0600; a notes file is no secret and follows the user's mask.
        mask = os.umask(0)
        os.umask(mask)
        Path(name).chmod(0o666 & ~mask)
        Path(name).replace(place)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


# -- the answer --------------------------------------------------------------------------------


def _answer(job: Job, found: BoardNotes) -> None:
    from netgraph.contract.answers import notes_fields

    exists = job.notes_place.exists()
    problems = check_notes(job.board, found)
    fields = notes_fields(job.board, found, problems, exists=exists)
    job.answer("notes", fields, lambda page: _page(page, job, found, problems, exists=exists))


def _page(
    page: Page, job: Job, found: BoardNotes, problems: Sequence[NotesProblem], *, exists: bool
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
