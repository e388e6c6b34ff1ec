# SPDX-License-Identifier: GPL-3.0-or-later
"""Boards on disk, by the SHA-256 of their file: take one in, list, read again, forget.

A board is there from one rename on: what was cut off before it lies in ``incoming/`` and is never
shown. Two processes may work on one folder; whoever changes something holds its lock.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import secrets
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from functools import cache
from pathlib import Path
from typing import Final

from netgraph import limits
from netgraph.errors import NotesError, ServiceError
from netgraph.formats.board_archive import ArchiveError, pack_board, unpack_board
from netgraph.model.board import Board
from netgraph.roles.notes import NO_NOTES, BoardNotes, format_notes, notes_file_name, parse_notes
from netgraph.roles.notes_check import check_notes
from netgraph.service.data_folder import DataFolder, sync_folder, write_whole
from netgraph.service.locks import hold, locked

_SHA: Final = re.compile(r"[0-9a-f]{64}")
SPARE_BYTES: Final = 64 * 1024 * 1024
"""Our own choice: so much stays free on the disk."""


@dataclass(frozen=True)
class StoredBoard:
    """What is known of a board without opening it."""

    sha256: str
    file_name: str
    bytes: int
    format: str
    name: str
    parts: int
    pads: int
    nets: int
    opened: float
    """Seconds since 1970, UTC: when it was last put in."""


@dataclass(frozen=True)
class StoredNotes:
    """A board's notes as they lie there; `tag` changes whenever they do."""

    notes: BoardNotes
    exists: bool
    tag: str


class BoardStore:
    """All boards of one data folder."""

    def __init__(self, folder: DataFolder) -> None:
        self.folder = folder
        self._code = code_version()

    # -- taking in -----------------------------------------------------------------------------

    @contextmanager
    def spool(self) -> Iterator[Path]:
        """A folder for one upload; gone afterwards, unless `keep` has made a board of it."""
        self._sweep()
        place = self.folder.incoming / secrets.token_hex(8)
        place.mkdir(mode=0o700)
        handle = hold(place / "lock")
        try:
            yield place
        finally:
            if handle is not None:
                os.close(handle)
            shutil.rmtree(place, ignore_errors=True)

    def _sweep(self) -> None:
        """Take away what a process left behind that was killed; nobody holds its lock."""
        for place in self.folder.incoming.iterdir():
            with contextlib.suppress(OSError):
                # A folder without a lock may be one that is just being made.
                if not (place / "lock").exists() and time.time() - place.stat().st_mtime < 60:
                    continue
                handle = hold(place / "lock")
                if handle is not None:
                    os.close(handle)
                    shutil.rmtree(place, ignore_errors=True)

    def free_bytes(self) -> int:
        """Free room on the folder's disk."""
        return shutil.disk_usage(self.folder.root).free

    def keep(self, place: Path, data: bytes, board: Board) -> StoredBoard:
        """Make a board of a spooled upload; the same file twice stays one board."""
        row = StoredBoard(
            sha256=hashlib.sha256(data).hexdigest(),
            file_name=board.source.file_name,
            bytes=len(data),
            format=board.source.format,
            name=board.name,
            parts=len(board.parts),
            pads=len(board.columns),
            nets=len(board.nets),
            opened=round(time.time(), 3),
        )
        home = self.folder.boards / row.sha256
        ready = place / "board"
        ready.mkdir(mode=0o700)
        write_whole(ready / "file", data)
        write_whole(ready / "about.json", row_bytes(row))
        with locked(self.folder.lock):
            if home.exists():
                before = self.row(row.sha256)
                row = replace(row, file_name=before.file_name)
                write_whole(home / "about.json", row_bytes(row))
            else:
                ready.rename(home)
                sync_folder(self.folder.boards)
        self._put_in_cache(row.sha256, board)
        return row

    # -- looking -------------------------------------------------------------------------------

    def rows(self) -> list[StoredBoard]:
        """All boards, the last opened first."""
        found = []
        traces = self.folder.traces
        traced = list(traces.iterdir()) if traces.is_dir() else []
        for place in [*self.folder.boards.iterdir(), *traced]:
            if _SHA.fullmatch(place.name):
                # Another process may forget it this very moment.
                with contextlib.suppress(ServiceError):
                    found.append(self.row(place.name))
        return sorted(found, key=lambda one: (-one.opened, one.sha256))

    def row(self, sha256: str) -> StoredBoard:
        """What is known of one board.

        Raises
        ------
        ServiceError
            ``board-unknown``: there is none, or its entry can't be read.
        """
        try:
            text = (self._home(sha256) / "about.json").read_text(encoding="utf-8")
            return StoredBoard(**json.loads(text))
        except (OSError, ValueError, TypeError):
            raise unknown_board(sha256) from None

    def _home(self, sha256: str) -> Path:
        if not _SHA.fullmatch(sha256):
            raise unknown_board(sha256)
        return (self.folder.traces if self.is_traced(sha256) else self.folder.boards) / sha256

    def is_traced(self, sha256: str) -> bool:
        """Whether this is a board that is traced on the page, and so may change."""
        return bool(_SHA.fullmatch(sha256)) and (self.folder.traces / sha256).is_dir()

    def version(self, sha256: str) -> str:
        """A short name for this very state of a board; always the same unless it is traced."""
        if not self.is_traced(sha256):
            return ""
        try:
            found = (self.folder.traces / sha256 / "trace.json").stat()
        except OSError:
            raise unknown_board(sha256) from None
        return f"{found.st_ino}-{found.st_mtime_ns}-{found.st_size}"

    def data(self, sha256: str) -> bytes:
        """The bytes of a board's file."""
        try:
            return (self._home(sha256) / "file").read_bytes()
        except OSError:
            raise unknown_board(sha256) from None

    def forget(self, sha256: str) -> None:
        """Take a board, its notes and all that was derived from it away."""
        home = self._home(sha256)
        with locked(self.folder.lock):
            if not home.is_dir():
                raise unknown_board(sha256)
            gone = self.folder.incoming / f"gone-{secrets.token_hex(8)}"
            # One rename takes it from the list; then its files may go one by one.
            home.rename(gone)
        shutil.rmtree(gone, ignore_errors=True)
        for old in self.folder.cache.glob(f"*/{sha256}.board"):
            old.unlink(missing_ok=True)

    # -- derived data --------------------------------------------------------------------------

    def _cached(self, sha256: str) -> Path:
        return self.folder.cache / self._code / f"{sha256}.board"

    def _put_in_cache(self, sha256: str, board: Board) -> None:
        place = self._cached(sha256)
        # A full disk must not hinder an answer that is there already.
        with contextlib.suppress(OSError):
            place.parent.mkdir(exist_ok=True, mode=0o700)
            write_whole(place, pack_board(board))

    def cached_board(self, sha256: str) -> Board | None:
        """The board as this very program has read it before; None when it must be read anew."""
        row = self.row(sha256)
        try:
            board = unpack_board(self._cached(sha256).read_bytes())
        except (OSError, ArchiveError):
            return None
        source = replace(board.source, file_name=row.file_name, sha256=sha256)
        return replace(board, source=source)

    def put_board(self, sha256: str, board: Board) -> None:
        """Keep what has been read, for the next time."""
        self._put_in_cache(sha256, board)

    # -- notes ---------------------------------------------------------------------------------

    def notes(self, sha256: str) -> StoredNotes:
        """The notes on a board.

        Raises
        ------
        NotesError
            The notes file was damaged from outside.
        """
        place = self._home(sha256) / "notes.toml"
        if not place.parent.is_dir():
            raise unknown_board(sha256)
        try:
            text = place.read_text(encoding="utf-8")
        except FileNotFoundError:
            return StoredNotes(NO_NOTES, False, "none")
        except (OSError, UnicodeDecodeError) as error:
            raise NotesError(str(error), path=self.notes_name(sha256)) from None
        tag = hashlib.sha256(text.encode()).hexdigest()[:32]
        return StoredNotes(parse_notes(text, path=self.notes_name(sha256)), True, tag)

    def has_notes(self, sha256: str) -> bool:
        """Whether there are notes on a board."""
        return (self._home(sha256) / "notes.toml").exists()

    def notes_name(self, sha256: str) -> str:
        """The name under which the command line would find them."""
        return notes_file_name(self.row(sha256).file_name)

    def change_notes(
        self, sha256: str, board: Board, notes: BoardNotes, *, expected: str
    ) -> StoredNotes:
        """Write notes if those that lie there are still the expected ones.

        Parameters
        ----------
        expected
            Tag of the notes that the change is based on.

        Raises
        ------
        ServiceError
            ``match-stale``: somebody has changed them meanwhile.
        NotesError
            They do not fit the board.
        """
        notes = replace(notes, fingerprint=board.fingerprint)
        problems = check_notes(board, notes)
        if problems:
            raise NotesError(problems[0].text, path=self.notes_name(sha256))
        text = format_notes(notes)
        # What can't be read back must never be written.
        parse_notes(text)
        with locked(self.folder.lock):
            if self.notes(sha256).tag != expected:
                raise ServiceError(
                    "match-stale",
                    412,
                    "the notes have been changed meanwhile",
                    hint="load them again and repeat the change",
                )
            write_whole(self._home(sha256) / "notes.toml", text.encode("utf-8"))
        return self.notes(sha256)


def unknown_board(sha256: str, hint: str = "put its file in again") -> ServiceError:
    """There is no such board."""
    return ServiceError("board-unknown", 404, f"no board {sha256[:80]!r} is stored", hint=hint)


def plain_name(told: str) -> str:
    r"""The last part of a file name as text: no folders, no control characters, not empty.

    >>> plain_name("../../evil\x1b.kicad_pcb")
    'evil.kicad_pcb'
    """
    last = re.split(r"[/\\:]", told)[-1]
    kept = "".join(char for char in last if char.isprintable()).strip().strip(".")
    return kept[-limits.MAX_FILE_NAME_CHARS :] or "board"


def row_bytes(row: StoredBoard) -> bytes:
    """The file about.json."""
    return json.dumps(asdict(row), indent=1).encode() + b"\n"


@cache
def code_version() -> str:
    """A short name for this very state of the program: what it derives may be kept under it."""
    home = Path(__file__).parent.parent
    digest = hashlib.sha256()
    for path in sorted(home.rglob("*")):
        if path.suffix in {".py", ".csv"} and "__pycache__" not in path.parts:
            digest.update(path.relative_to(home).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:16]
