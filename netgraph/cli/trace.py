# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""The command trace: a netlist grows line by line while a person buzzes it out."""

from __future__ import annotations

import sys
from pathlib import Path

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
from netgraph.errors import BoardCheckError, BoardFileError, NetgraphError, UsageError
from netgraph.formats.hand_trace import Trace
from netgraph.formats.trace_lines import fact_of

WORDS = (
    "C12.1 L3.2 U5.14 : VSYS   these pads are joined; the net is VSYS\n"
    "C12.1 C13.1               these pads are joined\n"
    "U5.7 nc                   this pad joins nothing\n"
    "C12.1 U5.3 apart          measured: not joined\n"
    "C12 = 10uF 0603 bottom    value, package, side\n"
    "U5.14 is VIN              name of a pin\n"
    "R9 not-fitted             the part is not there\n"
    "U1 named U2700            a part of the template is this one\n"
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
    if undo:
        bench.undo()
    for line in lines:
        bench.add(line)
    if as_json or undo or lines:
        _answer(bench, as_json=as_json)
        return
    _loop(bench)


class _Bench:
    """The trace and its file."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.trace = Trace()
        if path.exists():
            self.trace = _read(path)

    def add(self, line: str) -> tuple[str, ...]:
        """Take in a line, save, and say what happened by it; raises if it can't be taken."""
        if "\n" in line or "\r" in line:
            raise UsageError("a line can't hold a line break", hint="give --add again for more")
        try:
            self.trace, events = self.trace.with_line(line)
        except BoardFileError as error:
            error.path = "line"
            error.line = None
            raise
        self.save()
        return tuple(one.text for one in events)

    def undo(self) -> str | None:
        """Take the last line away, save, and say which it was."""
        self.trace, line = self.trace.without_last()
        if line is not None:
            self.save()
        return line

    def save(self) -> None:
        """Write the whole file; nothing is lost when the power goes."""
        from netgraph.formats.writing import save_text

        save_text(self.path, self.trace.text())

    def grown(self, line: str) -> str:
        """The net that the line speaks of, as it is now."""
        fact = fact_of(line)
        if fact is None:
            return ""
        state = self.trace.state()
        if fact.kind in ("join", "nc") and fact.pads:
            key = state.find(fact.pads[0])
            if key is not None:
                root = state.root(key)
                pads = [state.shown(pad) for pad in state.nets().get(root, [key])]
                name = state.net_name(root) if root in state.nets() else "joins nothing"
                return f"{name}: {counted(len(pads), 'pad')}: {' '.join(pads)}"
        return "noted"


def _read(path: Path) -> Trace:
    from netgraph.formats.hand_trace import HandTraceReader
    from netgraph.formats.plain_text import plain_lines
    from netgraph.formats.reading import read_bytes

    data = read_bytes(path, "a hand-traced netlist")
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
            text = error.one_line()
            if isinstance(error, BoardCheckError):
                text += "; not taken"
            talk(text.removeprefix("line: "))


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
            write(f"! {event}\n")
        grown = bench.grown(line)
        if grown:
            write_page(lambda page: page.text(grown))


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
        page.names(label, [state.shown(pad) for pad in pads], comma="")
    if not shown:
        page.text(f"no net {only} yet" if only else "no net yet")
    else:
        page.text("what is not listed is untraced, not absent", style="faint")


def _answer(bench: _Bench, *, as_json: bool) -> None:
    from netgraph.contract.answers import answer
    from netgraph.contract.files import trace_fields

    if as_json:
        fields = {"file": bench.path.name} | trace_fields(bench.trace)
        write_json(answer("trace") | fields)
        return
    write_page(lambda page: _nets(page, bench.trace))
