# SPDX-License-Identifier: GPL-3.0-or-later
"""A netlist traced by hand with a continuity tester: facts in, nets out.

Nets grow as pads are found to be joined. Traced facts come first; assumed ones (a template's)
fill in only what no traced fact contradicts. Nothing untraced is ever taken as absent.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from netgraph import limits
from netgraph.errors import BoardCheckError, BoardFileError
from netgraph.formats.plain_text import head_text, plain_lines, warn_of_strays
from netgraph.formats.trace_lines import Fact, fact_of
from netgraph.formats.trace_state import PadPlace, TraceState, events_between
from netgraph.model.board import ASSUMED, NO_CONNECT, NO_SIDE, Board, Source
from netgraph.model.builder import BoardBuilder
from netgraph.reasons import Reason, few_names, reason

FORMAT = "hand-trace"
HEAD_LINE = "# netgraph trace 1"
_HEAD = re.compile(r"#\s*netgraph\s+trace\s+([0-9]+)")
_NAMED = re.compile(r"\s:\s")
_DEVICE = re.compile(r"#\s*template\s*:\s*(\S.*)")


class HandTraceReader:
    """Netlists traced by hand."""

    name = FORMAT
    title = "netlist traced by hand (netgraph trace)"
    suffixes: tuple[str, ...] = (".trace", ".txt")
    carries: tuple[str, ...] = ("netlist as far as traced", "values", "sides", "pin names")
    limits = "no places; what is not traced is not known, never absent"

    def sniff(self, head: bytes) -> float:
        """1.0 for the head line; 0.6 when at least four of five lines are facts."""
        text = head_text(head)
        lines = [line for line in text.splitlines()[:-1] or [text] if line.strip()]
        if any(_HEAD.match(line) for line in lines[:3]):
            return 1.0
        if _NAMED.search(text) is None:
            return 0.0  # no net is named, see below
        said = [line for line in lines if not line.lstrip().startswith("#")][:200]
        good, named = len(said), False
        for line in said:
            fact = _fact_or_none(line)
            # A table without commas may look like joined pads: at least one net must be named.
            named = named or (fact is not None and fact.kind == "join" and bool(fact.name))
            good -= fact is None
            if good < 0.8 * len(said):
                return 0.0  # another format, as a rule: most of it is never looked at
        return 0.6 if named else 0.0

    def read(self, data: bytes, *, file_name: str, sha256: str) -> Board:
        """See ``read_hand_trace``."""
        return read_hand_trace(data, file_name=file_name, sha256=sha256)


def _fact_or_none(line: str) -> Fact | None:
    try:
        return fact_of(line)
    except BoardFileError:
        return None


def refuse_version(lines: Sequence[str]) -> None:
    """Stop at a version of traces that this one doesn't know.

    Raises
    ------
    BoardFileError
        The head line names another version than 1.
    """
    for line in lines[:3]:
        version = _HEAD.match(line)
        if version is not None and version[1] != "1":
            raise BoardFileError(
                "format-unsupported", f"trace version {version[1][:9]}", expected="version 1"
            )


def read_hand_trace(data: bytes, *, file_name: str = "", sha256: str = "") -> Board:
    """The partial board in a hand-traced netlist; see ``trace_lines`` for its lines.

    Raises
    ------
    BoardFileError
        A line can't be understood, a higher version, a limit, or nothing in the file.
    BoardCheckError
        Two facts contradict each other; the message names both lines.
    """
    lines, stray = plain_lines(data)
    refuse_version(lines)
    if len(lines) > limits.MAX_TRACE_LINES:
        raise BoardFileError(
            "limit-exceeded", f"more than {limits.MAX_TRACE_LINES} lines (MAX_TRACE_LINES)"
        )
    trace = Trace(tuple(lines))
    name = re.split(r"[/\\]", file_name)[-1].rpartition(".")[0] or "board"
    builder = BoardBuilder(name, source=Source(FORMAT, file_name, sha256, "1"))
    warn_of_strays(builder, stray)
    try:
        return fill_board(trace.state(), builder)
    except BoardCheckError as error:
        if error.code == "board-contradictory":
            raise
        raise BoardFileError("file-malformed", error.message, hint=error.hint) from None


@dataclass(frozen=True)
class Trace:
    """The lines of a trace as a value; changing it means a new one."""

    lines: tuple[str, ...] = (HEAD_LINE,)

    def facts(self) -> list[Fact]:
        """All facts, traced ones first; lines count from 1."""
        found = [
            fact
            for number, line in enumerate(self.lines, start=1)
            if (fact := fact_of(line, number)) is not None
        ]
        return sorted(found, key=lambda fact: fact.assumed)

    def state(self) -> TraceState:
        """What the lines say together."""
        state = TraceState(device=self.device)
        for fact in self.facts():
            state.add(fact)
        return state

    @property
    def device(self) -> str:
        """What the template is of that the file began with; empty for none."""
        found = (_DEVICE.fullmatch(line) for line in self.lines[:5])
        return next((one[1].rstrip() for one in found if one is not None), "")

    def with_line(self, text: str) -> tuple[Trace, tuple[Reason, ...]]:
        """The trace with one more line, and what happened by it.

        Raises
        ------
        BoardFileError
            The line can't be understood.
        BoardCheckError
            It contradicts an earlier line.
        """
        fact = fact_of(text, len(self.lines) + 1)
        longer = Trace((*self.lines, text.rstrip()))
        if fact is None:
            return longer, ()
        if len(longer.lines) > limits.MAX_TRACE_LINES:
            raise BoardFileError(
                "limit-exceeded", f"more than {limits.MAX_TRACE_LINES} lines (MAX_TRACE_LINES)"
            )
        return longer, events_between(self.state(), longer.state())

    def without_last(self) -> tuple[Trace, str | None]:
        """The trace without its last fact, and that line; None when there is none."""
        for index in range(len(self.lines) - 1, -1, -1):
            line = self.lines[index]
            if line.strip() and not line.lstrip().startswith("#"):
                return Trace((*self.lines[:index], *self.lines[index + 1 :])), line
        return self, None

    def text(self) -> str:
        """The file."""
        return "\n".join(self.lines).rstrip("\n") + "\n"


def fill_board(state: TraceState, builder: BoardBuilder) -> Board:
    """The partial board that a trace stands for.

    Raises
    ------
    BoardFileError
        Nothing was traced yet.
    """
    if not state.parts:
        raise BoardFileError(
            "file-empty",
            "nothing is traced yet",
            expected="a line such as C12.1 L3.2 : VSYS",
        )
    builder.copper_layers = ()
    builder.partial = True
    builder.capabilities.add("has_dnp")
    if any(part.value for part in state.parts):
        builder.capabilities.add("has_values")
    if state.pin_names:
        builder.capabilities.add("has_pin_names")
    middle = _middles(state)
    sided = any(part.side for part in state.parts)
    leaning = {pad[0] for pad in state.assumed}
    for index, part in enumerate(state.parts):
        x, y = state.part_places.get(index) or middle.get(index, (0, 0))
        builder.add_part(
            part.ref,
            x_nm=x,
            y_nm=y,
            value=part.value,
            footprint=part.package,
            side=part.side or "top",
            not_fitted_because=None if part.fitted else "traced by hand",
            attributes=(
                *((ASSUMED,) if index in leaning else ()),
                *((NO_SIDE,) if part.side is None and sided else ()),
            ),
        )
    nets = state.nets()
    net_of = {pad: state.net_name(root) for root, pads in nets.items() for pad in pads}
    nowhere = PadPlace(0, 0, 0, 0)
    for pad in state.parent:
        place = state.places.get(pad, nowhere)
        builder.add_pad(
            pad[0],
            pad[1],
            net_of.get(pad),
            x_nm=place.x_nm,
            y_nm=place.y_nm,
            width_nm=place.width_nm,
            height_nm=place.height_nm,
            kind="through" if place.through else "smd",
            pin_name=state.pin_names.get(pad, ""),
            pin_type=NO_CONNECT if pad in state.lonely else "",
        )
    for one in state.joined_rails:
        text = f"{one.a} and {one.b} are one net by this line; a fault joins nets too"
        builder.warn("rails-joined", text, line=one.line)
    for change in state.changed:
        ref = state.parts[change.part].ref
        text = f"{ref} was {change.was} before and is {change.now} by this line"
        builder.warn("part-changed", text, line=change.line)
    for old, new in state.alike():
        builder.warn("designator-case", f"{old} and {new} differ in case only, and are two parts")
    joined = [f"{one.a} and {one.b}" for one in state.joined_rails]
    if joined:
        builder.not_known.append(reason("rails-joined", names=few_names(joined)))
    if state.device:
        builder.not_known.append(reason("template", device=state.device))
    told = set(net_of) | set(state.lonely)
    assumed = told & state.assumed
    if assumed:
        builder.not_known.append(reason("assumed-pads", count=len(assumed)))
    builder.not_known.append(reason("untraced", pads=len(told - assumed), nets=len(nets)))
    if "has_positions" not in builder.capabilities:
        builder.forget_pad_places()
    if not state.places:
        builder.not_known.append(reason("no-pad-places"))
    if not sided:
        builder.not_known.append(reason("no-sides"))
    for root in nets:
        builder.aliases |= dict.fromkeys(state.names.get(root, ())[1:], state.net_name(root))
    ids = [part.id for part in builder.parts]
    builder.apart += [tuple((ids[key[0]], key[1]) for key in one) for one in state.found_apart]
    unnamed = sum(not state.names.get(root) for root in nets)
    if unnamed:
        builder.not_known.append(reason("names-made", count=unnamed))
    return builder.freeze()


def _middles(state: TraceState) -> dict[int, tuple[int, int]]:
    """Each part stands at the middle of its placed pads."""
    found: dict[int, list[PadPlace]] = {}
    for pad, place in state.places.items():
        found.setdefault(pad[0], []).append(place)
    return {
        part: (
            sum(one.x_nm for one in places) // len(places),
            sum(one.y_nm for one in places) // len(places),
        )
        for part, places in found.items()
    }
