# SPDX-License-Identifier: GPL-3.0-or-later
"""Board notes: a person's corrections to roles, rails, volts; kept beside the board, in TOML.

A person's word always wins; where it contradicts the file, both are shown. The form of the file
is told in docs/reference/board-notes.md. Nothing here touches a file: text in, text out.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Final, Literal, TypeVar, get_args

from netgraph.errors import NotesError, NotesOrderError
from netgraph.roles.answer import NET_KINDS, ROLES, NetKind, Role
from netgraph.roles.notes_text import NoteLines, line_of_many_dots, shown

KeepWord = Literal["irreplaceable", "replace", "no"]
KEEP_WORDS: tuple[KeepWord, ...] = get_args(KeepWord)

Topic = Literal["role", "fitted", "kind", "feeder", "volts"]
"""What a question may be about: the first two speak of a part, the others of a net."""
PART_TOPICS: tuple[Topic, ...] = ("role", "fitted")
TOPICS: tuple[Topic, ...] = get_args(Topic)

NOTES_SCHEMA: Final = "netgraph.board-notes/1"
"""Stands on top of each notes file; a higher number is refused, not misread."""

MOST_VOLTS: Final = 100_000.0
"""Our own choice: a nominal beyond it is a slip of the keyboard."""

AGREE: Final = 0.06
"""Our own choice, as for nominals: figures that differ by less than this share are the same."""


@dataclass(frozen=True, slots=True)
class PartNote:
    """What a person says of one part; None where nothing is said.

    `enabled_by` are the parts that switch it on, all of them needed; empty: it is always on.
    `needs_first` are the nets that have to be up before it runs.
    """

    role: Role | None = None
    fitted: bool | None = None
    keep: KeepWord | None = None
    why: str = ""
    enabled_by: tuple[str, ...] | None = None
    needs_first: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FeederNote:
    """A feeder named by a person: the part and the net it takes the power from."""

    part_id: str
    from_net: str | None = None


@dataclass(frozen=True, slots=True)
class NetNote:
    """What a person says of one net; `feeders` None: nothing said, empty: it has none."""

    kind: NetKind | None = None
    nominal_volts: float | None = None
    feeders: tuple[FeederNote, ...] | None = None
    always_on: bool | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class BoardNotes:
    """All notes of one board; `fingerprint` is that of the netlist they were written for.

    `asked` are questions that nobody could answer, as topic and name; they are not asked again.
    """

    parts: Mapping[str, PartNote] = field(default_factory=dict)
    nets: Mapping[str, NetNote] = field(default_factory=dict)
    fingerprint: str = ""
    asked: frozenset[tuple[Topic, str]] = frozenset()

    def part(self, part_id: str) -> PartNote:
        """The note of a part; an empty one when there is none."""
        return self.parts.get(part_id, PartNote())

    def net(self, name: str) -> NetNote:
        """The note of a net; an empty one when there is none."""
        return self.nets.get(name, NetNote())

    def keep_words(self) -> dict[str, KeepWord]:
        """What a person says must be kept or need not be, by part identity."""
        return {name: note.keep for name, note in self.parts.items() if note.keep is not None}


NO_NOTES = BoardNotes()


def notes_file_name(board_file_name: str) -> str:
    """Name of the notes file that lies beside a board file.

    >>> notes_file_name("lark.kicad_pcb")
    'lark.notes.toml'
    """
    stem, dot, _ = board_file_name.rpartition(".")
    return f"{stem if dot and stem else board_file_name}.notes.toml"


# -- reading -----------------------------------------------------------------------------------

_LONGEST_NOTES = 1 << 20
_PLACE = re.compile(r" \(at line (\d+), column \d+\)$")
_Word = TypeVar("_Word", bound=str)


def parse_notes(text: str, *, path: str = "") -> BoardNotes:
    """Notes from the text of a notes file.

    Parameters
    ----------
    path
        Only for the error's place.

    Raises
    ------
    NotesError
        The text is no TOML, or says something that notes can't say; with the line where known.
    """
    if len(text) > _LONGEST_NOTES:
        raise NotesError(f"more than {_LONGEST_NOTES} characters", path=path)
    crowded = line_of_many_dots(text)
    if crowded is not None:
        # TOML's reader would be busy with it for minutes.
        raise NotesError("a key of very many dots", path=path, line=crowded)
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        place = _PLACE.search(str(error))
        message = str(error)[: place.start()] if place else str(error)
        raise NotesError(
            f"not valid TOML: {message[:1].lower()}{message[1:]}",
            path=path,
            line=int(place[1]) if place else None,
        ) from None
    except (RecursionError, ValueError):
        # Brackets nested too deep, or a number of thousands of digits.
        raise NotesError(
            "not usable TOML: nested too deep or a number too long", path=path
        ) from None
    return _Reader(text, path).board_notes(tables)


class _Reader:
    """Checks the tables of one notes file; knows the text, for the line of a fault."""

    def __init__(self, text: str, path: str) -> None:
        self.lines = NoteLines(text)
        self.section = ""
        self.path = path

    def board_notes(self, tables: dict[str, object]) -> BoardNotes:
        self.only_known(tables, ("schema", "fingerprint", "parts", "nets", "asked"), "", "")
        schema = tables.get("schema", NOTES_SCHEMA)
        if schema != NOTES_SCHEMA:
            raise self.fault(
                f"the notes are of the kind {shown(schema)}, this version reads {NOTES_SCHEMA!r}",
                key="schema",
            )
        fingerprint = self.text(tables, "fingerprint", "")
        if fingerprint and not re.fullmatch(r"[0-9a-f]{64}", fingerprint):
            raise self.fault("a fingerprint is 64 digits 0-9a-f", key="fingerprint")
        parts = {name: self.part(name, one) for name, one in self.entries(tables, "parts")}
        nets = {name: self.net(name, one) for name, one in self.entries(tables, "nets")}
        self.not_contradictory(parts, nets)
        return BoardNotes(parts, nets, fingerprint, frozenset(self.asked(tables)))

    def not_contradictory(self, parts: Mapping[str, PartNote], nets: Mapping[str, NetNote]) -> None:
        from netgraph.roles.notes_order import find_contradiction

        found = find_contradiction(parts, nets)
        if found is not None:
            line = self.lines.line_of("parts", found.part_id, found.key)
            hint = "not all of these notes can be true: take the wrong one away"
            raise NotesOrderError(found.message, path=self.path, line=line, hint=hint)

    def asked(self, tables: dict[str, object]) -> Iterable[tuple[Topic, str]]:
        table = tables.get("asked", {})
        if not isinstance(table, dict):
            raise self.fault("asked must be a table: [asked]", key="asked")
        self.only_known(table, TOPICS, "", "")
        for topic in TOPICS:
            names = table.get(topic, [])
            if not isinstance(names, list) or not all(isinstance(one, str) for one in names):
                raise self.fault(f"asked.{topic} is a list of names in quotes", key=topic)
            yield from ((topic, one) for one in names)

    def part(self, name: str, table: dict[str, object]) -> PartNote:
        known = ("role", "fitted", "keep", "enabled_by", "needs_first", "why")
        self.only_known(table, known, "parts", name)
        return PartNote(
            self.word(table, "role", ROLES, name),
            self.yes_no(table, "fitted", name),
            self.word(table, "keep", KEEP_WORDS, name),
            self.text(table, "why", name),
            self.names(table, "enabled_by", name),
            self.names(table, "needs_first", name) or (),
        )

    def net(self, name: str, table: dict[str, object]) -> NetNote:
        known = ("kind", "nominal_volts", "feeders", "always_on", "why")
        self.only_known(table, known, "nets", name)
        return NetNote(
            self.word(table, "kind", NET_KINDS, name),
            self.volts(table, name),
            self.feeders(table, name),
            self.yes_no(table, "always_on", name),
            self.text(table, "why", name),
        )

    def feeders(self, table: dict[str, object], name: str) -> tuple[FeederNote, ...] | None:
        if "feeders" not in table:
            return None
        rows = table["feeders"]
        if not isinstance(rows, list):
            raise self.fault('feeders is a list of { part = "U1", from = "NET" }', name, "feeders")
        found = []
        for row in rows:
            part_id = row.get("part") if isinstance(row, dict) else None
            if not isinstance(part_id, str):
                raise self.fault('a feeder is { part = "U1", from = "NET" }', name, "feeders")
            self.only_known(row, ("part", "from"), "nets", name)
            found.append(FeederNote(part_id, self.text(row, "from", name) or None))
        return tuple(found)

    # -- single values -------------------------------------------------------------------------

    def entries(
        self, tables: dict[str, object], section: str
    ) -> Iterable[tuple[str, dict[str, object]]]:
        table = tables.get(section, {})
        if not isinstance(table, dict):
            raise self.fault(f"{section} must be a table: [{section}.NAME]", key=section)
        for name, entry in table.items():
            self.section = section
            if not isinstance(entry, dict):
                hint = f'a name with a dot needs quotes: [{section}."NAME.1"]'
                raise self.fault(f"{section}.{name} must be a table", name, hint=hint)
            yield name, entry

    def only_known(
        self, table: dict[str, object], known: tuple[str, ...], section: str, name: str
    ) -> None:
        for key, value in table.items():
            if key in known:
                continue
            where = f" in {section}.{name}" if section else ""
            hint = f"known: {', '.join(known)}"
            if isinstance(value, dict) and section:
                hint = f'a name with a dot needs quotes: [{section}."{name}.{key}"]'
            raise self.fault(f"unknown key {key!r}{where}", name, key, hint=hint)

    def word(
        self, table: dict[str, object], key: str, known: tuple[_Word, ...], name: str
    ) -> _Word | None:
        value = table.get(key)
        if value is None:
            return None
        for one in known:
            if one == value:
                return one
        text = value[:80] if isinstance(value, str) else ""
        near = get_close_matches(text, [str(one) for one in known], n=3)
        hint = f"near words: {', '.join(near)}" if near else f"one of: {', '.join(known)}"
        raise self.fault(f"{name}: {key} can't be {shown(value)}", name, key, hint=hint)

    def yes_no(self, table: dict[str, object], key: str, name: str) -> bool | None:
        value = table.get(key)
        if value is None or isinstance(value, bool):
            return value
        raise self.fault(f"{name}: {key} is true or false", name, key)

    def text(self, table: dict[str, object], key: str, name: str) -> str:
        value = table.get(key, "")
        if isinstance(value, str):
            return value
        raise self.fault(f"{name or 'notes'}: {key} is a text in quotes", name, key)

    def names(self, table: dict[str, object], key: str, name: str) -> tuple[str, ...] | None:
        value = table.get(key)
        if value is None:
            return None
        if isinstance(value, list) and all(isinstance(one, str) and one for one in value):
            return tuple(dict.fromkeys(value))
        raise self.fault(f"{name}: {key} is a list of names in quotes", name, key)

    def volts(self, table: dict[str, object], name: str) -> float | None:
        value = table.get("nominal_volts")
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.fault(
                f"{name}: nominal_volts is a plain number in volts", name, "nominal_volts"
            )
        # Compared before float(): an integer of a thousand digits has no float.
        if isinstance(value, float) and math.isnan(value):
            raise self.fault(f"{name}: nan is no number of volts", name, "nominal_volts")
        if abs(value) > MOST_VOLTS:
            raise self.fault(f"{name}: no nominal is that high", name, "nominal_volts")
        if value == 0:
            hint = 'a ground is noted by kind = "ground"'
            raise self.fault(f"{name}: 0 V is no nominal", name, "nominal_volts", hint=hint)
        return float(value)

    # -- faults --------------------------------------------------------------------------------

    def fault(self, message: str, name: str = "", key: str = "", *, hint: str = "") -> NotesError:
        line = self.lines.line_of(self.section, name, key)
        return NotesError(message, path=self.path, line=line, hint=hint)


# -- writing -----------------------------------------------------------------------------------

_HEAD = """\
# Board notes: a person's corrections to what the program infers about one board.
# The keys and their values: docs/reference/board-notes.md
"""


def format_notes(notes: BoardNotes) -> str:
    """The text of a notes file; ``parse_notes`` gives the same notes back.

    Entries are sorted by name, empty ones are left out.
    """
    lines = [_HEAD, f"schema = {_quoted(NOTES_SCHEMA)}"]
    if notes.fingerprint:
        lines.append(f"fingerprint = {_quoted(notes.fingerprint)}")
    for name, part in sorted(notes.parts.items()):
        lines += _entry("parts", name, _part_pairs(part))
    for name, net in sorted(notes.nets.items()):
        lines += _entry("nets", name, _net_pairs(net))
    if notes.asked:
        lines += ["", "[asked]"]
    for topic in TOPICS:
        names = sorted(name for one, name in notes.asked if one == topic)
        if names:
            lines.append(f"{topic} = {_list(names)}")
    return "\n".join(lines) + "\n"


def _entry(section: str, name: str, pairs: list[str]) -> list[str]:
    return ["", f"[{section}.{_key(name)}]", *pairs] if pairs else []


def _part_pairs(note: PartNote) -> list[str]:
    pairs = []
    if note.role is not None:
        pairs.append(f"role = {_quoted(note.role)}")
    if note.fitted is not None:
        pairs.append(f"fitted = {str(note.fitted).lower()}")
    if note.keep is not None:
        pairs.append(f"keep = {_quoted(note.keep)}")
    if note.enabled_by is not None:
        pairs.append(f"enabled_by = {_list(note.enabled_by)}")
    if note.needs_first:
        pairs.append(f"needs_first = {_list(note.needs_first)}")
    if note.why:
        pairs.append(f"why = {_quoted(note.why)}")
    return pairs


def _net_pairs(note: NetNote) -> list[str]:
    pairs = []
    if note.kind is not None:
        pairs.append(f"kind = {_quoted(note.kind)}")
    if note.nominal_volts is not None:
        pairs.append(f"nominal_volts = {note.nominal_volts!r}")
    if note.feeders is not None:
        pairs.append(f"feeders = [{', '.join(_feeder(one) for one in note.feeders)}]")
    if note.always_on is not None:
        pairs.append(f"always_on = {str(note.always_on).lower()}")
    if note.why:
        pairs.append(f"why = {_quoted(note.why)}")
    return pairs


def _list(names: Iterable[str]) -> str:
    return f"[{', '.join(_quoted(name) for name in names)}]"


def _feeder(note: FeederNote) -> str:
    origin = "" if note.from_net is None else f", from = {_quoted(note.from_net)}"
    return f"{{ part = {_quoted(note.part_id)}{origin} }}"


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else _quoted(name)


def _quoted(text: str) -> str:
    """A TOML basic string."""
    out = []
    for char in text:
        if char in '"\\':
            out.append("\\" + char)
        elif ord(char) < 0x20 or ord(char) == 0x7F:
            out.append(f"\\u{ord(char):04X}")
        else:
            out.append(char)
    return '"' + "".join(out) + '"'
