# SPDX-License-Identifier: GPL-3.0-or-later
"""The main job, top to bottom: one board, one shorted net, and what to do about it.

Read the board, give parts and nets their roles, find the rails, list who sits on the shorted one,
what may come off, where to inject, and where the two nets come close. Every rule lives in the
room that is called; the command line, the service and a notebook call this or the same functions.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from netgraph.errors import NotesError
from netgraph.formats import read_board
from netgraph.formats.reading import read_bytes
from netgraph.model import Board, Part
from netgraph.plan.goals import RECOVER_DATA, goal_named
from netgraph.plan.inject import injection_plan
from netgraph.plan.inject_types import Injection
from netgraph.plan.lift import LiftTable, lift_table
from netgraph.plan.sites import Site, path_sites
from netgraph.rails import RailMember, find_rails, rail_members
from netgraph.rails.tree import RailTree
from netgraph.roles import find_roles
from netgraph.roles.answer import Roles
from netgraph.roles.notes import NO_NOTES, BoardNotes, PartNote, notes_file_name, parse_notes
from netgraph.roles.notes_check import fitting_notes

NotesLike = BoardNotes | str | Path | None


@dataclass(frozen=True)
class Survey:
    """All answers for one board; those about the shorted net are None when none was named."""

    board: Board
    notes: BoardNotes
    roles: Roles
    tree: RailTree
    short: str | None = None
    members: tuple[RailMember, ...] | None = None
    lifts: LiftTable | None = None
    injection: Injection | None = None
    sites: tuple[Site, ...] | None = None


def survey(
    board_or_path: Board | str | Path,
    *,
    short: str | None = None,
    notes: NotesLike = None,
    goal: str = RECOVER_DATA.name,
) -> Survey:
    """The whole of what a netlist can tell about a board with a short.

    Parameters
    ----------
    short
        Name of the net that is shorted to ground; without it roles and rails only.
    notes
        A person's corrections, or the file that holds them.

    Raises
    ------
    BoardFileError
        The board or the notes can't be read, or do not fit each other.
    UnknownNameError
        There is no such net or goal.
    """
    chosen = goal_named(goal)
    board = board_or_path if isinstance(board_or_path, Board) else read_board(board_or_path)
    words = notes_for(board, notes)
    roles = find_roles(board, words)
    tree = find_rails(board, roles, words)
    if short is None:
        return Survey(board, words, roles, tree)
    return Survey(
        board,
        words,
        roles,
        tree,
        short=short,
        members=rail_members(board, roles, tree, short),
        lifts=lift_table(board, roles, tree, short, goal=chosen, keep=words.keep_words()),
        injection=injection_plan(board, roles, tree, short),
        sites=tuple(path_sites(board, roles, short)),
    )


def load(path: str | Path, *, format: str | None = None, notes: NotesLike = None) -> Board:  # noqa: A002
    """Read a board file; with notes, parts are fitted or not as the notes say.

    Raises
    ------
    BoardFileError
        The board or the notes can't be read, or do not fit each other.
    """
    board = read_board(path, format)
    return with_fitted(board, notes_for(board, notes))


def notes_beside(path: str | Path) -> Path:
    """Where the notes of a board file lie: ``lark.notes.toml`` beside ``lark.kicad_pcb``."""
    return Path(path).with_name(notes_file_name(Path(path).name))


def notes_for(board: Board, notes: NotesLike, written_for: str | None = None) -> BoardNotes:
    """Notes that fit the board: checked, read from their file first if need be.

    Raises
    ------
    NotesError
        They can't be read or do not fit; the first problem is named.
    """
    if notes is None:
        return NO_NOTES
    found, path = (notes, "") if isinstance(notes, BoardNotes) else (read_notes(notes), str(notes))
    return fitting_notes(board, found, path or "notes", written_for)


def read_notes(path: str | Path) -> BoardNotes:
    """Notes from a file; see ``parse_notes``."""
    try:
        text = read_bytes(Path(path), "a notes file").decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise NotesError(f"not UTF-8: {error.reason}", path=str(path)) from None
    return parse_notes(text, path=str(path))


def with_fitted(board: Board, notes: BoardNotes) -> Board:
    """The board with parts fitted or left off as a person says."""
    return replace(board, parts=tuple(_as_noted(part, notes.part(part.id)) for part in board.parts))


def _as_noted(part: Part, note: PartNote) -> Part:
    if note.fitted in (None, part.fitted):
        return part
    return replace(part, not_fitted_because=None if note.fitted else "board notes")
