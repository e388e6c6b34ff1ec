# SPDX-License-Identifier: GPL-3.0-or-later
"""Photo boards that are traced on the page: kept step by step, each step on the disk before it is
answered, each with its way back.

::

    traces/ID/trace.json       revision, the photo board, the way back of each step
    traces/ID/about.json       its name and counts
    traces/ID/notes.toml       a person's corrections
    traces/ID/SHA256.picture   its photographs, as `formats.picture_file` leaves them

Such a board changes, so it has an identity of its own (64 random hex digits) in place of a hash.
Two windows and two processes are told apart by the revision a change is based on.
"""

from __future__ import annotations

import hashlib
import json
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from netgraph import limits
from netgraph.errors import BoardFileError, ServiceError, UsageError
from netgraph.formats.photo_board import (
    SCHEMA,
    PhotoBoard,
    parse_photo_board,
    photo_board,
    photo_table,
    write_photo_board,
)
from netgraph.formats.photo_edit import checked_photo, photo_events, picture_of, with_picture
from netgraph.formats.photo_undo import gone_back, way_back
from netgraph.formats.picture_file import clean_picture
from netgraph.model.board import Board, Side, Source
from netgraph.reasons import Reason, reason
from netgraph.roles.notes import format_notes
from netgraph.roles.notes_check import check_notes
from netgraph.service.data_folder import sync_folder, write_whole
from netgraph.service.locks import locked
from netgraph.service.store import BoardStore, StoredBoard, plain_name, row_bytes, unknown_board

SUFFIX = ".photo.json"
Json = dict[str, Any]
Did = tuple[str, str]
"""What a step was, and what it was about."""


@dataclass(frozen=True)
class TracedBoard:
    """One state of a board that is traced."""

    revision: int
    photo: PhotoBoard
    steps: tuple[Json, ...] = ()
    sizes: dict[str, tuple[int, int]] = field(default_factory=dict)
    """Width and height of each picture that lies here, by its hash."""


class TraceStore:
    """All boards of one data folder that are traced on the page."""

    def __init__(self, store: BoardStore, guards: frozenset[str] = frozenset(["picture"])) -> None:
        self.store = store
        self.guards = guards
        self.folder = store.folder

    def start(self, name: str, photo: PhotoBoard | None = None) -> str:
        """A new board to be traced; its identity."""
        told = " ".join(name.split())[: limits.MAX_FILE_NAME_CHARS]
        photo = replace(photo or PhotoBoard("board"), name=told or "board")
        board = checked_photo(photo)
        identity = secrets.token_hex(32)
        with self.store.spool() as place:
            ready = place / "board"
            ready.mkdir(mode=0o700)
            self._write(ready, identity, TracedBoard(1, photo), board)
            with locked(self.folder.lock):
                self.folder.traces.mkdir(exist_ok=True, mode=0o700)
                ready.rename(self.folder.traces / identity)
                sync_folder(self.folder.traces)
        return identity

    def load(self, identity: str) -> TracedBoard:
        """The board as it stands.

        Raises
        ------
        ServiceError
            ``board-unknown``: there is no such board, or it is not traced here.
        BoardFileError
            Its file was damaged from outside.
        """
        return read_traced(self._home(identity) / "trace.json")

    def _home(self, identity: str) -> Path:
        if not self.store.is_traced(identity):
            raise unknown_board(identity, "put its photo board in and start to trace")
        return self.folder.traces / identity

    # -- changes -------------------------------------------------------------------------------

    def change(
        self, identity: str, revision: int, did: Did, edit: Callable[[PhotoBoard], PhotoBoard]
    ) -> tuple[TracedBoard, tuple[Reason, ...]]:
        """One step; nothing is changed when it can't be taken.

        Raises
        ------
        ServiceError
            ``revision-stale``: another window has changed the board meanwhile.
        NetgraphError
            What `edit` raises, and what ``checked_photo`` does.
        """
        with locked(self.folder.lock):
            now = self._expected(identity, revision)
            photo = edit(now.photo)
            return self._take(identity, now, photo, did, now.sizes)

    def put_picture(
        self, identity: str, revision: int, side: Side, name: str, data: bytes
    ) -> tuple[TracedBoard, tuple[Reason, ...]]:
        """A photograph of a side, stripped of all that is beside the picture.

        Raises
        ------
        BoardFileError
            It is no picture that can be kept.
        ServiceError
            As in `change`.
        """
        picture = clean_picture(data)
        if "picture" not in self.guards:
            picture = replace(picture, data=data)
        sha = hashlib.sha256(picture.data).hexdigest()
        with locked(self.folder.lock):
            now = self._expected(identity, revision)
            place = self._home(identity) / f"{sha}.picture"
            if not place.exists():
                write_whole(place, picture.data)
            noted = [one for one in now.photo.pictures if one.side == side]
            file = _picture_name(name, picture.kind, side, now.photo)
            # A picture that an earlier tool noted with all its asides is the same picture.
            same = any(one.sha256 in ("", sha, hashlib.sha256(data).hexdigest()) for one in noted)
            size = picture.width_px, picture.height_px
            photo = with_picture(now.photo, side, file, sha, size)
            sizes = {**now.sizes, sha: size}
            found, events = self._take(identity, now, photo, ("picture", side), sizes)
        if noted and not same:
            events = (*events, reason("photo-other-picture", side=side))
        return found, events

    def undo(
        self, identity: str, revision: int, count: int = 1
    ) -> tuple[TracedBoard, tuple[Reason, ...], list[Did]]:
        """Take the last steps back; the board, what a person should hear of it, and what was taken
        back, the last step first.

        Raises
        ------
        ServiceError
            As in `change`.
        UsageError
            There are not so many steps.
        """
        with locked(self.folder.lock):
            now = self._expected(identity, revision)
            if count > len(now.steps):
                raise UsageError("there is no step left to take back")
            table: Any = photo_table(now.photo)
            undone = []
            for step in now.steps[: -count - 1 : -1]:
                if step["back"] is not None:
                    table = gone_back(table, step["back"])
                undone.append((str(step["did"][0]), str(step["did"][1])))
            photo = parse_photo_board(json.dumps(table).encode())
            found = TracedBoard(now.revision + 1, photo, now.steps[:-count], now.sizes)
            board = checked_photo(photo)
            self._write(self._home(identity), identity, found, board)
            events = self._fit_notes(identity, board)
        return found, events, undone

    def _expected(self, identity: str, revision: int) -> TracedBoard:
        now = self.load(identity)
        if now.revision != revision:
            raise ServiceError(
                "revision-stale",
                409,
                f"this board was changed in another window (it stands at {now.revision}, "
                f"the change is based on {revision}); nothing was overwritten",
                hint="load it again and repeat the step",
            )
        return now

    def _take(
        self,
        identity: str,
        now: TracedBoard,
        photo: PhotoBoard,
        did: Did,
        sizes: dict[str, tuple[int, int]],
    ) -> tuple[TracedBoard, tuple[Reason, ...]]:
        board = checked_photo(photo)
        events = photo_events(now.photo, photo)
        back = way_back(photo_table(photo), photo_table(now.photo))
        step: Json = {"did": list(did), "back": back}
        steps = (*now.steps, step)[-limits.MAX_UNDO_STEPS :]
        found = TracedBoard(now.revision + 1, photo, steps, sizes)
        self._write(self._home(identity), identity, found, board)
        return found, (*events, *self._fit_notes(identity, board))

    def _write(self, home: Path, identity: str, found: TracedBoard, board: Board | None) -> None:
        table = {
            "trace": 1,
            "revision": found.revision,
            "photo": photo_table(found.photo),
            "steps": list(found.steps),
            "sizes": found.sizes,
        }
        text = json.dumps(table, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
        write_whole(home / "trace.json", text.encode("ascii"))
        # Only what the list shows; should the power go here, it is one step behind.
        row = StoredBoard(
            sha256=identity,
            file_name=plain_name(found.photo.name) + SUFFIX,
            bytes=len(text),
            format="photo-board",
            name=found.photo.name,
            parts=0 if board is None else len(board.parts),
            pads=0 if board is None else len(board.columns),
            nets=0 if board is None else len(board.nets),
            opened=round(time.time(), 3),
        )
        write_whole(home / "about.json", row_bytes(row))

    def _fit_notes(self, identity: str, board: Board | None) -> tuple[Reason, ...]:
        """Take notes away that speak of what is gone; they would stop every answer."""
        stored = self.store.notes(identity)
        if board is None or not stored.exists:
            return ()
        notes = replace(stored.notes, fingerprint="")
        gone = [
            name
            for name, one in [
                *(
                    (n, replace(notes, parts={n: v}, nets={}, asked=frozenset()))
                    for n, v in notes.parts.items()
                ),
                *(
                    (n, replace(notes, parts={}, nets={n: v}, asked=frozenset()))
                    for n, v in notes.nets.items()
                ),
            ]
            if check_notes(board, one)
        ]
        kept = replace(
            notes,
            parts={n: v for n, v in notes.parts.items() if n not in gone},
            nets={n: v for n, v in notes.nets.items() if n not in gone},
            asked=frozenset(
                one
                for one in notes.asked
                if not check_notes(board, replace(notes, parts={}, nets={}, asked=frozenset([one])))
            ),
            fingerprint=board.fingerprint,
        )
        if kept != stored.notes:
            write_whole(self._home(identity) / "notes.toml", format_notes(kept).encode("utf-8"))
        return (reason("photo-notes-gone", names=", ".join(gone[:12])),) if gone else ()

    # -- looking -------------------------------------------------------------------------------

    def picture(self, identity: str, side: Side) -> bytes:
        """The photograph of a side.

        Raises
        ------
        ServiceError
            ``picture-missing``: it was not put in here.
        """
        found = picture_of(self.load(identity).photo, side)
        try:
            if found.sha256 and found.sha256.isalnum():
                return (self._home(identity) / f"{found.sha256}.picture").read_bytes()
        except OSError:
            pass
        raise ServiceError(
            "picture-missing", 404, f"the picture of the {side} is not here", hint="put it in"
        )

    def file(self, identity: str) -> bytes:
        """The photo board as a file for the command line."""
        return write_photo_board(self.load(identity).photo).encode("utf-8")

    def board(self, identity: str) -> Board:
        """The partial board as it stands.

        Raises
        ------
        BoardFileError
            ``file-empty``: nothing is traced yet.
        """
        photo = self.load(identity).photo
        digest = hashlib.sha256(write_photo_board(photo).encode("utf-8")).hexdigest()
        name = self.store.row(identity).file_name
        return photo_board(photo, Source("photo-board", name, digest, "1"))


def read_traced(place: Path) -> TracedBoard:
    """A trace.json.

    Raises
    ------
    BoardFileError
        It can't be read.
    """
    try:
        table = json.loads(place.read_bytes())
        if table["photo"]["schema"] != SCHEMA:
            raise ValueError
        return TracedBoard(
            int(table["revision"]),
            parse_photo_board(json.dumps(table["photo"]).encode()),
            tuple(table["steps"]),
            {str(sha): (int(size[0]), int(size[1])) for sha, size in table["sizes"].items()},
        )
    except (OSError, ValueError, KeyError, TypeError, IndexError, AttributeError):
        raise BoardFileError(
            "file-unreadable", "the traced board can't be read", hint="netgraph doctor"
        ) from None


def _picture_name(told: str, kind: str, side: Side, photo: PhotoBoard) -> str:
    """A plain name with the right ending, not that of the other side's picture."""
    stem = plain_name(told).rpartition(".")[0] or plain_name(told)
    name = f"{stem}.{'png' if kind == 'png' else 'jpg'}"
    taken = [one.file for one in photo.pictures if one.side != side]
    return f"{side}-{name}" if name in taken else name
