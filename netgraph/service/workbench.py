# SPDX-License-Identifier: GPL-3.0-or-later
"""Boards that are open: read once, kept in memory with what was found, answers kept by question."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Generic, TypeVar

from netgraph.errors import NotesError
from netgraph.model.board import Board
from netgraph.rails import find_rails
from netgraph.rails.tree import RailTree
from netgraph.roles import find_roles
from netgraph.roles.answer import Roles
from netgraph.roles.notes import BoardNotes
from netgraph.roles.notes_check import check_notes
from netgraph.service.store import BoardStore, StoredNotes

Key = TypeVar("Key", bound=Hashable)
Value = TypeVar("Value")

MOST_BOARDS: Final = 8
MOST_DESKS: Final = 16
MOST_ANSWERS: Final = 256
"""Our own choice: a real board with its roles takes about 10 MB."""


class Kept(Generic[Key, Value]):
    """The values used last, made when they are missing; safe for several threads."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._values: OrderedDict[Key, Value] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, key: Key, make: Callable[[], Value]) -> Value:
        """The value; two threads may make it at once, the first one stays."""
        with self._lock:
            if key in self._values:
                self._values.move_to_end(key)
                return self._values[key]
        made = make()
        with self._lock:
            value = self._values.setdefault(key, made)
            self._values.move_to_end(key)
            while len(self._values) > self._most:
                self._values.popitem(last=False)
            return value

    def forget(self, wanted: Callable[[Key], bool]) -> None:
        """Drop all values whose key is wanted."""
        with self._lock:
            for key in [one for one in self._values if wanted(one)]:
                del self._values[key]


@dataclass(frozen=True)
class Desk:
    """One board with one state of its notes, and what is found from both."""

    sha256: str
    board: Board
    notes: BoardNotes
    notes_name: str | None
    tag: str

    @cached_property
    def roles(self) -> Roles:
        """What each part and net is for."""
        return find_roles(self.board, self.notes)

    @cached_property
    def tree(self) -> RailTree:
        """The rails and what feeds them."""
        return find_rails(self.board, self.roles, self.notes)


class Workbench:
    """The open boards of a store."""

    def __init__(self, store: BoardStore, read_again: Callable[[str], Board]) -> None:
        self.store = store
        self._read_again = read_again
        self._boards: Kept[tuple[str, str], Board] = Kept(MOST_BOARDS)
        self._desks: Kept[tuple[str, str], Desk] = Kept(MOST_DESKS)
        self._answers: Kept[tuple[str, str, str], bytes] = Kept(MOST_ANSWERS)

    def board(self, sha256: str) -> Board:
        """The board; from memory, from the cache on disk, or read anew from its file."""
        self.store.row(sha256)  # another process may have forgotten it
        key = (sha256, self.store.version(sha256))
        return self._boards.get(key, lambda: self._open(sha256))

    def _open(self, sha256: str) -> Board:
        if self.store.is_traced(sha256):
            return self._read_again(sha256)
        board = self.store.cached_board(sha256)
        if board is None:
            board = self._read_again(sha256)
            self.store.put_board(sha256, board)
        return board

    def desk(self, sha256: str) -> Desk:
        """The board with its present notes.

        Raises
        ------
        ServiceError
            There is no such board.
        NotesError
            The notes were damaged or do not fit any more.
        """
        version = self.store.version(sha256)
        board = self.board(sha256)
        stored = self.store.notes(sha256)
        tag = f"{stored.tag} {version}"
        return self._desks.get((sha256, tag), lambda: self._lay_out(board, stored, sha256, tag))

    def _lay_out(self, board: Board, stored: StoredNotes, sha256: str, tag: str) -> Desk:
        problems = check_notes(board, stored.notes)
        name = self.store.notes_name(sha256)
        if problems:
            raise NotesError(problems[0].text, path=name)
        desk = Desk(sha256, board, stored.notes, name if stored.exists else None, tag)
        _ = desk.tree  # found once, not by each of the threads that ask at the same time
        return desk

    def answer(self, desk: Desk, question: str, make: Callable[[], bytes]) -> bytes:
        """The answer to a question about a desk, made once for each state of its notes."""
        return self._answers.get((desk.sha256, desk.tag, question), make)

    def forget(self, sha256: str) -> None:
        """Drop all that is kept of a board."""
        self._boards.forget(lambda key: key[0] == sha256)
        self._desks.forget(lambda key: key[0] == sha256)
        self._answers.forget(lambda key: key[0] == sha256)
