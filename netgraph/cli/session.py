# SPDX-License-Identifier: GPL-3.0-or-later
"""What every command shares: its options, the board and notes it works on, and how it answers.

stdout is the answer, stderr is talk. An answer is made whole and then written in one go.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
import threading
from collections.abc import Callable, Iterator, Set
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cached_property, wraps
from pathlib import Path
from typing import TYPE_CHECKING, ParamSpec, TextIO, TypeVar

import click

from netgraph.cli.page import Page

if TYPE_CHECKING:
    from netgraph.model import Board
    from netgraph.model.merge import Merged
    from netgraph.rails.tree import RailTree
    from netgraph.roles.answer import Roles
    from netgraph.roles.notes import BoardNotes

Json = dict[str, object]
P = ParamSpec("P")
R = TypeVar("R")

PROGRESS_AFTER_S = 1.0
NARROWEST, WIDEST = 40, 120


@dataclass
class Session:
    """State of one run of the command line; filled by the options wherever they stand."""

    debug: bool = False


@dataclass
class Job:
    """One board and the options that all commands about a board share."""

    path: str
    as_json: bool
    notes_option: str | None
    reader: str | None
    isolated: bool = False
    others: tuple[str, ...] = ()
    unplug: tuple[str, ...] = ()

    @cached_property
    def merged(self) -> Merged:
        """The board as read, further files laid over it; notes come in where roles are found."""
        from netgraph.formats import read_boards

        with progress(f"reading {Path(self.path).name}"):
            read = self._read_isolated() if self.isolated else None
            return read_boards(self.path, self.others, self.reader, unplug=self.unplug, read=read)

    @property
    def board(self) -> Board:
        """The board that all answers are about."""
        return self.merged.board

    def net_called(self, name: str) -> str:
        """The name of a net on this board; said on stderr where it was asked by another one.

        Raises
        ------
        UnknownNameError
            There is no such net.
        """
        net = self.board.known_as(name)
        if net != name:
            talk(f"{name} is one net with {net} here")
        return net

    def tell_differences(self) -> None:
        """Say on stderr that files differ, where the answer itself has no room for it."""
        if count := len(self.merged.disagreements):
            talk(f"the files differ in {count} things, the earlier wins: netgraph merge lists all")

    def _read_isolated(self) -> Callable[[str | Path, str | None, tuple[str, ...]], Board]:
        """Reads a file by a child process with few rights."""
        from netgraph.formats.isolated import limits_hold, read_isolated_file

        if not limits_hold():
            talk("this system can't limit a child's memory; only the time limit holds")

        return lambda path, reader, unplug: read_isolated_file(Path(path), reader, unplug)

    @cached_property
    def notes_path(self) -> Path | None:
        """The notes file: the one named, else the one beside the board if there is one."""
        place = self.notes_place
        return place if self.notes_option is not None or place.is_file() else None

    @property
    def notes_place(self) -> Path:
        """Where notes on this board are read from or would be written to."""
        from netgraph.roles.notes import notes_file_name

        if self.notes_option is not None:
            return Path(self.notes_option)
        return Path(self.path).with_name(notes_file_name(Path(self.path).name))

    @cached_property
    def notes(self) -> BoardNotes:
        """The notes, checked against the board; says on stderr that they are used."""
        from netgraph.roles.notes import NO_NOTES

        if self.notes_path is None:
            return NO_NOTES
        from netgraph.survey import notes_for

        found = notes_for(self.board, self.notes_path, self.plugged)
        talk(f"with the board notes in {self.notes_path.name}")
        return found

    @cached_property
    def plugged(self) -> str | None:
        """The fingerprint of an assembly with all plugged in, for which its notes are written."""
        if not self.unplug:
            return None
        whole = replace(self, unplug=())
        return whole.board.fingerprint

    def lift(self, parts: Set[str]) -> None:
        """Answer from now on for the board without these parts; roles and rails stay as found."""
        _ = self.roles, self.tree
        self.__dict__["merged"] = replace(self.merged, board=self.board.without(set(parts)))

    def go_on_with(self, notes: BoardNotes) -> None:
        """Answer from these notes from now on, which lie in their file now."""
        for name in ("notes_path", "roles", "tree"):
            self.__dict__.pop(name, None)
        self.__dict__["notes"] = notes

    @cached_property
    def roles(self) -> Roles:
        """What each part and net is for."""
        from netgraph.roles import find_roles

        with progress("finding the roles of parts and nets"):
            return find_roles(self.board, self.notes)

    @cached_property
    def tree(self) -> RailTree:
        """The rails and what feeds them."""
        from netgraph.rails import find_rails

        with progress("finding the rails"):
            return find_rails(self.board, self.roles, self.notes)

    def answer(self, command: str, fields: Json, page: Callable[[Page], None]) -> None:
        """Write the answer: as JSON when asked for, else as the page."""
        if self.as_json:
            from netgraph.contract.answers import answer

            name = None if self.notes_path is None else self.notes_path.name
            write_json(answer(command, self.board, name) | fields)
        else:
            write_page(lambda made: self._whole_page(made, page))

    def _whole_page(self, made: Page, page: Callable[[Page], None]) -> None:
        """The answer, and below it what this board leaves open."""
        page(made)
        if self.board.not_known:
            made.section("Not known of this board")
            for one in self.board.not_known:
                made.item("-", one.text, style="unsure")


# -- options -----------------------------------------------------------------------------------


def _set_debug(context: click.Context, _: click.Parameter, value: bool) -> None:
    if value:
        context.find_root().obj.debug = True


debug_option = click.option(
    "--debug",
    is_flag=True,
    expose_value=False,
    callback=_set_debug,
    help="Show the full traceback if the program itself fails.",
)
json_option = click.option(
    "--json", "as_json", is_flag=True, help="Answer as JSON (docs/reference/json.md)."
)


def board_command(function: Callable[..., R]) -> Callable[..., R]:
    """Give a command its FILE and the shared options; it is called with a ``Job`` first."""

    @click.argument("file")
    @json_option
    @click.option(
        "--notes",
        metavar="FILE",
        help="Board notes to use. Default: NAME.notes.toml beside the board NAME, if it exists.",
    )
    @click.option(
        "--format",
        "reader",
        metavar="NAME",
        help="Read FILE as this format (see `netgraph formats`). Default: told by its content.",
    )
    @click.option("--isolate", is_flag=True, help="Read FILE in a child process with few rights.")
    @click.option(
        "--with",
        "others",
        multiple=True,
        metavar="FILE",
        help="Lay a further file of this board over it: netlist, values, places. Again for more.",
    )
    @click.option(
        "--unplug",
        multiple=True,
        metavar="BOARD/REF",
        help="Take this connector of an assembly as unplugged. Again for more.",
    )
    @debug_option
    @wraps(function)
    def command(
        file: str,
        as_json: bool,
        notes: str | None,
        reader: str | None,
        isolate: bool,
        others: tuple[str, ...],
        unplug: tuple[str, ...],
        **rest: object,
    ) -> R:
        return function(Job(file, as_json, notes, reader, isolate, others, unplug), **rest)

    return command


# -- output ------------------------------------------------------------------------------------


def write_json(fields: Json) -> None:
    """Write one JSON object, its keys in the order of the contract."""
    encoding = (sys.stdout.encoding or "utf-8").lower().replace("-", "")
    write(json.dumps(fields, indent=1, ensure_ascii=encoding != "utf8", allow_nan=False) + "\n")


def write_page(fill: Callable[[Page], None]) -> None:
    """Write a human answer: plain text when piped, tables and colours on a terminal."""
    page = Page()
    fill(page)
    width = page_width()
    if is_terminal(sys.stdout):
        from netgraph.cli.terminal import write_blocks

        with quiet_pipe():
            write_blocks(page, width)
    else:
        write(page.plain(width))


def write(text: str, *, exact: bool = False) -> None:
    """Write the answer to stdout; a reader that has seen enough is no fault.

    A stream whose encoding lacks a sign gets the sign's escape; `exact` text (CSV) is never
    changed and goes out as UTF-8 whatever the stream says.
    """
    with quiet_pipe():
        stream = sys.stdout
        encoding = stream.encoding or "utf-8"
        if exact and hasattr(stream, "buffer"):
            stream.flush()
            stream.buffer.write(text.encode("utf-8", "surrogateescape"))
        else:
            stream.write(text.encode(encoding, "backslashreplace").decode(encoding))
        stream.flush()


@contextmanager
def quiet_pipe() -> Iterator[None]:
    """End quietly, as done, when the other end of the pipe is closed."""
    try:
        yield
    except BrokenPipeError:
        # Python would try to flush the rest at exit and complain; nowhere is a good place for it.
        sys.stdout = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115
        raise SystemExit(0) from None


def talk(line: str) -> None:
    """One line to stderr: what a person should know and a program need not read."""
    from netgraph.errors import visible

    click.echo(f"netgraph: {visible(line)}", err=True)


def page_width() -> int:
    """Width of the terminal, or COLUMNS, or 80; within what can be read."""
    columns = shutil.get_terminal_size((80, 24)).columns if _told_width() else 80
    return max(NARROWEST, min(columns, WIDEST))


def _told_width() -> bool:
    return is_terminal(sys.stdout) or os.environ.get("COLUMNS", "").isdigit()


def is_terminal(stream: TextIO | None) -> bool:
    """Whether a person looks at this stream."""
    # A stream that was closed before the start is None.
    return stream is not None and stream.isatty()


@contextmanager
def progress(what: str) -> Iterator[None]:
    """Say what takes so long, on stderr of a terminal, once it has taken a second."""
    if not is_terminal(sys.stderr):
        yield
        return
    stream = sys.stderr
    said = threading.Event()

    def say() -> None:
        said.set()
        stream.write(f"{what} ...")
        stream.flush()

    timer = threading.Timer(PROGRESS_AFTER_S, say)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
        if said.is_set():
            stream.write("\r" + " " * (len(what) + 4) + "\r")
            stream.flush()


# -- completion --------------------------------------------------------------------------------


def complete_net(context: click.Context, _: click.Parameter, begun: str) -> list[str]:
    """Net names of the board already named on the line; nothing when it can't be read."""
    from netgraph.errors import NetgraphError
    from netgraph.formats import read_board

    path = context.params.get("file")
    if not isinstance(path, str):
        return []
    try:
        board = read_board(path)
    except NetgraphError:
        return []
    return [net.name for net in board.nets if net.name.startswith(begun)]


short_option = click.option(
    "--short",
    "net",
    metavar="NET",
    required=True,
    shell_complete=complete_net,
    help="The net that is shorted to ground.",
)
