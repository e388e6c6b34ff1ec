# SPDX-License-Identifier: GPL-3.0-or-later
"""The notes file: read as it is, checked and written whole; for `notes` and `review`."""

from __future__ import annotations

import os
import tempfile
from dataclasses import replace
from pathlib import Path

from netgraph.cli.session import Job, talk
from netgraph.errors import NotesError, NotesOrderError, UsageError
from netgraph.roles.notes import NO_NOTES, BoardNotes, format_notes, parse_notes
from netgraph.roles.notes_check import check_notes
from netgraph.roles.notes_order import find_contradiction


def read_noted(job: Job) -> BoardNotes:
    """The notes as they lie there, not checked; none when there is no file."""
    from netgraph.survey import read_notes

    place = job.notes_place
    if job.notes_option is None and not place.is_file():
        return NO_NOTES
    if job.notes_option is not None and not place.exists():
        return NO_NOTES
    return read_notes(place)


def write_noted(job: Job, old: BoardNotes, new: BoardNotes) -> BoardNotes:
    """Write changed notes for this board's netlist, and let the job go on with them.

    Raises
    ------
    UsageError
        The change does not fit the board; nothing is written.
    NotesError
        The file can't be written.
    """
    new = replace(new, fingerprint=job.plugged or job.board.fingerprint)
    before, after = (check_notes(job.board, replace(one, fingerprint="")) for one in (old, new))
    fresh = [one for one in after if one not in before]
    if fresh:
        raise UsageError(fresh[0].text)
    clash = find_contradiction(new.parts, new.nets)
    if clash is not None:
        hint = "nothing was written; not all of these notes can be true"
        raise NotesOrderError(clash.message, path=job.notes_place.name, hint=hint)
    # What can't be read back must never be written.
    parse_notes(format_notes(new))
    _save(job, new)
    job.go_on_with(new)
    return new


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
