# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""The command trace: a netlist grows line by line while a person buzzes it out."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from netgraph.cli.page import Page
from netgraph.cli.session import (
    debug_option,
    is_terminal,
    json_option,
    talk,
    write,
    write_json,
    write_page,
)
from netgraph.cli.wording import counted
from netgraph.errors import (
    BoardCheckError,
    BoardFileError,
    NetgraphError,
    UsageError,
    WriterError,
    visible,
)
from netgraph.formats.hand_trace import Trace
from netgraph.formats.trace_lines import fact_of
from netgraph.reasons import Reason, reason

if TYPE_CHECKING:
    from netgraph.formats.trace_state import PadKey, TraceState

WORDS = (
    "C12.1 L3.2 U5.14 : VSYS   these pads are joined; the net is VSYS\n"
    "C12.1 C13.1               these pads are joined\n"
    "U5.7 nc                   this pad joins nothing\n"
    "C12.1 U5.3 apart          measured: not joined\n"
    "C12 = 10uF 0603 bottom    value, package, side\n"
    "U5.14 is VIN              name of a pin\n"
    "R9 not-fitted             the part is not there\n"
    "U1 named U2700            a part of the template is this one\n"
    "~ L1.2 C9.1 : VDD         assumed: gives way to what is found\n"
    "undo   net VSYS   nets   help   quit\n"
)


@click.command()
@click.argument("file")
@click.option(
    "--add", "lines", multiple=True, metavar="LINE", help="Add this line; again for more."
)
@click.option("--undo", is_flag=True, help="Take the last line away.")
@json_option
@debug_option
def trace(file: str, lines: tuple[str, ...], undo: bool, as_json: bool) -> None:
    """Which pads have been found to be joined?

    Starts or goes on with the hand-traced netlist FILE. Type a line for each finding; nets merge as
    they are found to be one, the net is shown as it grows, and the file is saved after every
    line. Two named rails that become one are warned of. A line that contradicts an earlier one is
    not taken.

    \b
    C12.1 L3.2 U5.14 : VSYS   these pads are joined; the net is VSYS
    U5.7 nc                   this pad joins nothing
    C12.1 U5.3 apart          measured: not joined
    C12 = 10uF 0603 bottom    value, package, side
    U5.14 is VIN              name of a pin
    R9 not-fitted             the part is not there
    undo, net NET, nets, help, quit

    \b
    Examples:  netgraph trace notes.trace
               netgraph trace notes.trace --add "C12.1 L3.2 : VSYS" --json

    Every command reads the file: netgraph rail notes.trace VSYS. What is not traced is never
    taken as absent.
    """
    bench = _Bench(Path(file))
    undone = _undo(bench) if undo else None
    events: list[Reason] = []
    for number, line in enumerate(lines):
        with named_line(file, line, f"; the {number} before it are saved" if number else ""):
            found = bench.add(line)
        for one in found:
            talk(one.text)
        events += found
    if as_json or undo or lines:
        _answer(bench, events, undone, as_json=as_json)
        return
    _loop(bench)


def _undo(bench: _Bench) -> str:
    gone = bench.undo()
    if gone is None:
        raise UsageError(f"{bench.path}: there is no line to take away")
    talk(f"taken away: {gone}")
    return gone


@contextmanager
def named_line(file: str, line: str, also: str = "") -> Iterator[None]:
    """Errors of a line that was given with the command name the file and the line."""
    try:
        yield
    except (WriterError, FileChangedError):
        raise
    except NetgraphError as error:
        where = f"{visible(line[:60])!r}"
        if isinstance(error, BoardFileError):
            error.path = file
            where += f", column {error.column}" if error.column is not None else ""
            error.line = None
        else:
            where = f"{file}: {where}"
        error.message = f"{where}: {error.message}; not taken{also}"
        raise


class FileChangedError(UsageError):
    """Another program changed the file meanwhile; nothing was written."""


class _Bench:
    """The trace and its file; another program may change the file while this one runs."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.trace = Trace()
        self.seen = self._bytes()
        """What the file held when it was last read or written; None: it was not there."""
        if self.seen is not None:
            self.trace = _read(path, self.seen)

    def _bytes(self) -> bytes | None:
        from netgraph.formats.reading import read_bytes

        return read_bytes(self.path, "a hand-traced netlist") if self.path.exists() else None

    def add(self, line: str) -> tuple[Reason, ...]:
        """Take in a line, save, and say what happened by it; raises if it can't be taken."""
        if "\n" in line or "\r" in line:
            raise UsageError("a line can't hold a line break", hint="give --add again for more")
        with _alone(self.path):
            came = self._take_in()
            trace, events = self.trace.with_line(line)
            self._save(trace)
        return (reason("trace-taken-in", count=came), *events) if came else events

    def undo(self) -> str | None:
        """Take the last line away, save, and say which it was."""
        with _alone(self.path):
            came = self._take_in()
            if came:
                raise FileChangedError(
                    f"{self.path}: another program saved {counted(came, 'line')} meanwhile; "
                    "taken in, and nothing taken away",
                    hint="nets shows what is there; undo again takes the last line of all",
                )
            trace, line = self.trace.without_last()
            if line is not None:
                self._save(trace)
        return line

    def _take_in(self) -> int:
        """Go on with what another program saved meanwhile; how many lines that are.

        Raises
        ------
        FileChangedError
            Lines that were saved here are gone from the file: neither may be overwritten.
        """
        now = self._bytes()
        if now is None or now == self.seen:
            return 0
        there = _read(self.path, now)
        lost = list((Counter(self.trace.lines) - Counter(there.lines)).elements())
        lost = [one for one in lost if one.strip()]
        if lost:
            raise FileChangedError(
                f"{self.path} was changed by another program and lacks "
                f"{counted(len(lost), 'line')} saved here, the first is {lost[0][:60]!r}; "
                "nothing was written",
                hint="put them back there, or quit and start again from the file as it is",
            )
        more = len(there.lines) - len(self.trace.lines)
        self.trace, self.seen = there, now
        return max(more, 0)

    def _save(self, trace: Trace) -> None:
        """Write the whole file; nothing is lost when the power goes."""
        from netgraph.formats.writing import save_text

        text = trace.text()
        save_text(self.path, text)
        self.trace, self.seen = trace, text.encode("utf-8")


@contextmanager
def _alone(path: Path) -> Iterator[None]:
    """No other trace command changes a file of this folder meanwhile."""
    from netgraph.service.locks import folder_locked

    with folder_locked(path.parent):
        yield


def grown(state: TraceState, line: str) -> str:
    """The net that the line speaks of, as it is now."""
    fact = fact_of(line)
    if fact is None:
        return ""
    if fact.kind in ("join", "nc") and fact.pads:
        key = state.find(fact.pads[0])
        if key is not None:
            root = state.root(key)
            pads = _pad_words(state, state.nets().get(root, [key]))
            name = state.net_name(root) if root in state.nets() else "joins nothing"
            return f"{name}: {counted(len(pads), 'pad')}: {' '.join(pads)}"
    return "noted"


def _pad_words(state: TraceState, pads: Sequence[PadKey]) -> list[str]:
    """Pads as typed; one that is assumed is marked like an assumed line."""
    return [f"{'~' * (pad in state.assumed)}{state.shown(pad)}" for pad in pads]


def _read(path: Path, data: bytes) -> Trace:
    from netgraph.formats.hand_trace import HandTraceReader, refuse_version
    from netgraph.formats.plain_text import plain_lines

    if not data.strip():
        return Trace()
    if HandTraceReader().sniff(data[:4096]) <= 0.0:
        raise BoardFileError(
            "format-unknown",
            "is no hand-traced netlist",
            path=str(path),
            expected="'# netgraph trace 1' on the first line",
            hint="name a new file; every other format is read by the other commands",
        )
    try:
        lines, _ = plain_lines(data)
        refuse_version(lines)
        found = Trace(tuple(lines))
        found.state()
    except BoardFileError as error:
        error.path = str(path)
        raise
    while len(found.lines) > 1 and not found.lines[-1].strip():
        found = Trace(found.lines[:-1])
    return found


def _loop(bench: _Bench) -> None:
    asks = is_terminal(sys.stdin)
    state = bench.trace.state()
    write(
        f"{bench.path.name}: {counted(len(bench.trace.facts()), 'line')}, "
        f"{counted(len(state.nets()), 'net')}; help shows what can be typed\n"
    )
    while True:
        if asks:
            write("trace> ")
        line = sys.stdin.readline()
        if not line:
            if asks:
                write("\n")
            return
        line = line.strip()
        word, _, rest = line.partition(" ")
        if word in ("quit", "exit") and not rest:
            return
        try:
            _one(bench, line, word, rest.strip())
        except NetgraphError as error:
            if isinstance(error, BoardFileError) and not error.path:
                error.line = None  # what is typed stands in no file yet
            text = error.one_line()
            if isinstance(error, BoardCheckError):
                text += "; not taken"
            talk(text.removeprefix("board: "))


def _one(bench: _Bench, line: str, word: str, rest: str) -> None:
    if not line:
        return
    if word == "help" and not rest:
        write(WORDS)
    elif word == "undo" and not rest:
        gone = bench.undo()
        write("nothing to undo\n" if gone is None else f"taken away: {gone}\n")
    elif word == "nets" and not rest:
        write_page(lambda page: _nets(page, bench.trace))
    elif word == "net" and rest and "." not in rest:
        write_page(lambda page: _nets(page, bench.trace, rest))
    else:
        for event in bench.add(line):
            write(f"! {event.text}\n")
        shown = grown(bench.trace.state(), line)
        if shown:
            write_page(lambda page: page.text(shown))


def _nets(page: Page, trace: Trace, only: str = "") -> None:
    state = trace.state()
    shown = 0
    for root, pads in state.nets().items():
        names = state.names.get(root, [])
        if only and only not in names and only != state.net_name(root):
            continue
        shown += 1
        also = f" (also {', '.join(names[1:])})" if len(names) > 1 else ""
        label = f"{state.net_name(root)}{also}"
        page.names(label, _pad_words(state, pads), comma="")
    if not shown:
        page.text(f"no net {only} yet" if only else "no net yet")
    else:
        if state.assumed:
            page.text("~ in front of a pad: assumed, not traced", style="faint")
        page.text("what is not listed is untraced, not absent", style="faint")


def _answer(bench: _Bench, events: Sequence[Reason], undone: str | None, *, as_json: bool) -> None:
    from netgraph.contract.answers import answer
    from netgraph.contract.files import trace_fields

    if as_json:
        fields = {"file": bench.path.name} | trace_fields(bench.trace, events, undone)
        write_json(answer("trace") | fields)
        return
    write_page(lambda page: _nets(page, bench.trace))
