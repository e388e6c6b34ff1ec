# SPDX-License-Identifier: GPL-3.0-or-later
"""A device of several boards: a file that names them and the pads by which they mate.

    schema = "netgraph.assembly/1"
    [boards]
    MAIN = "main.kicad_pcb"
    PANEL = "panel.trace"
    [[mates]]
    a = "MAIN/J3"
    b = "PANEL/J1"
    pins = "same"          # or "reversed", or a table of pins of a to pins of b
    unplugged = false

Parts become ``MAIN/U7``, nets ``MAIN/VSYS``; what mates is one net, named after the first board.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from netgraph import limits
from netgraph.errors import (
    AssemblyError,
    BoardCheckError,
    BoardFileError,
    UsageError,
    visible,
)
from netgraph.formats.plain_text import head_text, plain_bytes
from netgraph.model.board import Board, Source
from netgraph.model.join import JoinedBoards, Mate, MateError, join_boards
from netgraph.reasons import few_names

FORMAT = "assembly"
SCHEMA = "netgraph.assembly/1"
_MATES = re.compile(r"\s*\[\[\s*mates\s*\]\]")
_NAME = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.+-]{0,63}")


@dataclass(frozen=True)
class Assembly:
    """The file as a value: board names with their files, and the mates."""

    boards: tuple[tuple[str, str], ...]
    mates: tuple[Mate, ...]
    name: str = ""
    lines: tuple[int | None, ...] = ()
    """Line of each board's file name, where it was found."""

    def unplugged(self, refs: Iterable[str]) -> Assembly:
        """The assembly with the mates of these parts (``MAIN/J3``) open.

        Raises
        ------
        UsageError
            A part mates with nothing.
        """
        mates = list(self.mates)
        for ref in refs:
            hits = [i for i, mate in enumerate(mates) if ref in (mate.a, mate.b)]
            if not hits:
                known = ", ".join(sorted({one for m in mates for one in (m.a, m.b)})[:12])
                raise UsageError(f"{ref!r} mates with nothing", hint=f"mating parts: {known}")
            for i in hits:
                mates[i] = replace(mates[i], unplugged=True)
        return replace(self, mates=tuple(mates))


class AssemblyReader:
    """Devices of several boards."""

    name = FORMAT
    title = "assembly of several boards (netgraph.assembly/1)"
    suffixes: tuple[str, ...] = (".assembly.toml", ".toml")
    carries: tuple[str, ...] = ("the netlists of its boards, joined", "what each of them carries")
    limits = "board files lie beside it or below; no drawn copper; no assembly within another"

    def sniff(self, head: bytes) -> float:
        """1.0 when the schema is named at the beginning."""
        pattern = r'(?:\s*#[^\n]*\n)*\s*schema\s*=\s*"netgraph\.assembly/'
        return 1.0 if re.match(pattern, head_text(head)) else 0.0

    def read(self, data: bytes, *, file_name: str, sha256: str) -> Board:  # noqa: ARG002
        """Refused: the boards beside the file are needed."""
        files = [file for _, file in parse_assembly(data).boards]
        raise BoardFileError(
            "file-unreadable",
            f"an assembly alone; it joins {few_names([visible(one[:60]) for one in files])}",
            expected="the assembly together with these files",
            hint="on the page choose all of them at once; from Python read_board(path)",
        )

    def read_beside(
        self,
        data: bytes,
        *,
        file_name: str,
        sha256: str,
        folder: Path,
        read: Callable[[Path], Board],
        unplug: tuple[str, ...] = (),
    ) -> Board:
        """The joined board; `read` reads one of its boards."""
        assembly = parse_assembly(data).unplugged(unplug)
        joined = joined_boards(assembly, folder, read)
        name = assembly.name or re.split(r"[/\\]", file_name)[-1].partition(".")[0]
        return one_board(joined, name, Source(FORMAT, file_name, sha256, "1"))


def parse_assembly(data: bytes) -> Assembly:
    """The file as a value.

    Raises
    ------
    BoardFileError
        No sound TOML, another schema, a name or path that can't be used, a mate that names no
        board.
    """
    if len(data) > limits.MAX_ASSEMBLY_BYTES:
        raise BoardFileError(
            "limit-exceeded",
            f"larger than {limits.MAX_ASSEMBLY_BYTES >> 10} KiB (MAX_ASSEMBLY_BYTES)",
        )
    clean, stray = plain_bytes(data)
    if stray is not None:
        raise BoardFileError("file-malformed", "the text is not UTF-8", line=stray)
    # A key of very many dots makes the parser take for ever.
    for number, line in enumerate(clean.splitlines(), start=1):
        if line.count(b".") > limits.MAX_DEPTH:
            raise BoardFileError(
                "limit-exceeded", f"more than {limits.MAX_DEPTH} dots (MAX_DEPTH)", line=number
            )
    try:
        table = tomllib.loads(clean.decode("utf-8").replace("\r\n", "\n"))
    except (ValueError, RecursionError) as error:
        found = re.search(r"at line (\d+), column (\d+)", str(error))
        raise BoardFileError(
            "file-malformed",
            f"no sound TOML: {str(error).partition(' (at')[0].lower()}",
            line=int(found[1]) if found else None,
            column=int(found[2]) if found else None,
        ) from None
    schema = table.get("schema")
    if schema != SCHEMA:
        raise BoardFileError(
            "format-unsupported", f"schema {visible(str(schema)[:40])!r}", expected=SCHEMA
        )
    _refuse_unknown(table, "the file", ("schema", "name", "boards", "mates"))
    boards = _boards(table.get("boards"))
    names = [name for name, _ in boards]
    mates = table.get("mates", [])
    if not isinstance(mates, list) or len(mates) > limits.MAX_PARTS:
        raise _fault("mates", "is no list", "[[mates]]")
    name = table.get("name", "")
    text = clean.decode("utf-8").splitlines()
    heads = [at for at, line in enumerate(text, start=1) if _MATES.match(line)]
    known = heads if len(heads) == len(mates) else [None] * len(mates)
    return Assembly(
        boards,
        tuple(
            _mate(mate, f"mates[{i}]", names, line)
            for i, (mate, line) in enumerate(zip(mates, known, strict=True))
        ),
        name if isinstance(name, str) and name.isprintable() else "",
        tuple(_line_of(text, board, file) for board, file in boards),
    )


def _line_of(text: list[str], name: str, file: str) -> int | None:
    """The line that names a board and its file."""
    entry = re.compile(rf"""\s*["']?{re.escape(name)}["']?\s*=\s*["']{re.escape(file)}["']""")
    return next((at for at, line in enumerate(text, start=1) if entry.match(line)), None)


def _boards(table: object) -> tuple[tuple[str, str], ...]:
    if not isinstance(table, dict) or not table:
        raise _fault("boards", "names no board", 'NAME = "file" lines below [boards]')
    if len(table) > limits.MAX_BOARDS_OF_ASSEMBLY:
        raise BoardFileError(
            "limit-exceeded",
            f"{len(table)} boards, at most {limits.MAX_BOARDS_OF_ASSEMBLY} "
            "(MAX_BOARDS_OF_ASSEMBLY)",
        )
    for name, file in table.items():
        if not _NAME.fullmatch(name):
            raise _fault("boards", f"holds the name {visible(name[:40])!r}", "letters and digits")
        if not isinstance(file, str) or not is_below(file):
            raise _fault(
                f"boards.{name}",
                f"is {visible(str(file)[:60])!r}",
                "a file in the folder of the assembly or below",
            )
    return tuple(table.items())


def is_below(file: str) -> bool:
    """Whether a path stays in its folder: relative, no drive, no way up, no odd signs."""
    steps = file.split("/")
    return (
        bool(file)
        and file.isprintable()
        and "\\" not in file
        and ":" not in file
        and all(step not in ("", ".", "..") for step in steps)
    )


def _mate(table: object, place: str, names: list[str], line: int | None) -> Mate:
    if not isinstance(table, dict):
        raise _fault(place, "is no table", "a, b, pins", line)
    _refuse_unknown(table, place, ("a", "b", "pins", "unplugged"), line)
    ends = []
    for key in ("a", "b"):
        said = table.get(key)
        board, _, part = said.partition("/") if isinstance(said, str) else ("", "", "")
        if not part or board not in names:
            raise _fault(f"{place}.{key}", f"is {visible(str(said)[:40])!r}", "BOARD/PART", line)
        ends.append(str(said))
    pins = table.get("pins", "same")
    pairs: tuple[tuple[str, str], ...] = ()
    rule = "table"
    if pins in ("same", "reversed"):
        rule = pins
    elif isinstance(pins, dict) and all(isinstance(one, str) for one in pins.values()):
        pairs = tuple(pins.items())
    else:
        rules = '"same", "reversed" or a table of pins'
        raise _fault(f"{place}.pins", "is no rule", rules, line)
    unplugged = table.get("unplugged", False)
    if not isinstance(unplugged, bool):
        raise _fault(f"{place}.unplugged", "is neither true nor false", "true or false", line)
    return Mate(ends[0], ends[1], rule, pairs, unplugged, line)


def _refuse_unknown(
    table: dict[str, object], place: str, known: tuple[str, ...], line: int | None = None
) -> None:
    """A key that is mistyped must not leave a connector joined otherwise than was meant."""
    for key in table:
        if key not in known:
            raise _fault(place, f"has the key {visible(key[:40])!r}", ", ".join(known), line)


def _fault(place: str, message: str, expected: str, line: int | None = None) -> BoardFileError:
    return BoardFileError("file-malformed", f"{place} {message}", line=line, expected=expected)


def joined_boards(assembly: Assembly, folder: Path, read: Callable[[Path], Board]) -> JoinedBoards:
    """Read every board and join them.

    Raises
    ------
    BoardFileError
        A board can't be read, or is an assembly itself.
    AssemblyError
        A mate names a part or a pin that is not there.
    """
    boards: list[tuple[str, Board]] = []
    lines = assembly.lines or (None,) * len(assembly.boards)
    for (name, file), line in zip(assembly.boards, lines, strict=True):
        try:
            board = read(folder / file)
        except BoardFileError as error:
            if error.code != "file-unreadable":
                raise
            # Who mistyped a name looks for it in the assembly, not in a file that is not there.
            raise BoardFileError(
                error.code,
                f"board {name}: {visible(file)}: {error.message}",
                line=line,
                expected=error.expected,
                hint=error.hint,
            ) from None
        if board.source.format == FORMAT:
            raise BoardFileError(
                "format-unsupported", f"board {name} is an assembly itself", expected="a board"
            )
        boards.append((name, board))
    try:
        return join_boards(boards, assembly.mates)
    except MateError as error:
        raise AssemblyError(error.message, line=error.line, hint=error.hint) from None


def one_board(joined: JoinedBoards, name: str, source: Source) -> Board:
    """All boards as one.

    Raises
    ------
    AssemblyError
        They make no board together.
    """
    try:
        return joined.board(name, source)
    except BoardCheckError as error:
        raise AssemblyError(error.message, hint=error.hint) from None
