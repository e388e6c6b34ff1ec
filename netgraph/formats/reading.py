# SPDX-License-Identifier: GPL-3.0-or-later
"""Open a board file: find out its format by content, read it, put the path into every error.

Further readers come as plug-ins: entry points of the group ``netgraph.readers``.
"""

from __future__ import annotations

import gc
import hashlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import cache, partial
from importlib.metadata import entry_points
from pathlib import Path
from typing import Protocol

from netgraph import limits
from netgraph.errors import BoardFileError, UsageError
from netgraph.formats.assembly import AssemblyReader
from netgraph.formats.assembly_pack import PackedAssemblyReader, is_assembly
from netgraph.formats.board_json import BoardJsonReader
from netgraph.formats.csv_table import CsvReader
from netgraph.formats.graphml import GraphmlReader
from netgraph.formats.hand_trace import HandTraceReader
from netgraph.formats.ipc_d356 import IpcD356Reader
from netgraph.formats.kicad_board import read_kicad_board
from netgraph.formats.kicad_netlist import KicadNetlistReader
from netgraph.formats.photo_board import PhotoBoardReader
from netgraph.model.board import Board
from netgraph.model.copper import Copper
from netgraph.model.merge import Disagreement, Merged, merge_boards


class Reader(Protocol):
    """What a format must offer; see docs/how-to/add-a-reader.md."""

    name: str
    title: str
    suffixes: tuple[str, ...]

    def sniff(self, head: bytes) -> float:
        """How sure it is, 0..1, that a file which begins like this is of this format."""
        ...

    def read(self, data: bytes, *, file_name: str, sha256: str) -> Board:
        """The board in these bytes; raises ``BoardFileError`` without a path."""
        ...


class KicadBoardReader:
    """KiCad board files, versions 4 to 10."""

    name = "kicad-board"
    title = "KiCad board"
    suffixes: tuple[str, ...] = (".kicad_pcb",)
    carries: tuple[str, ...] = (
        "netlist", "places", "copper", "values", "pin names and types (from 6)",
        "parts not fitted",
    )  # fmt: skip
    limits = "net classes only up to KiCad 5, where they stand in the board file"

    def sniff(self, head: bytes) -> float:
        """1.0 when the text begins with ``(kicad_pcb``."""
        text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
        if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
            text = head.decode("utf-16", "replace").encode("utf-8").lstrip()
        return 1.0 if text.removeprefix(b"(").lstrip().startswith(b"kicad_pcb") else 0.0

    def read(self, data: bytes, *, file_name: str, sha256: str) -> Board:
        """See ``read_kicad_board``."""
        return read_kicad_board(data, file_name=file_name, sha256=sha256)


@cache
def readers(*, plugins: bool = True) -> tuple[Reader, ...]:
    """All known readers: the built-in ones, then plug-ins by entry point.

    Without `plugins` no code of others is loaded: for a child process that reads files of
    strangers.
    """
    found: list[Reader] = [
        KicadBoardReader(),
        KicadNetlistReader(),
        IpcD356Reader(),
        CsvReader(),
        HandTraceReader(),
        PhotoBoardReader(),
        BoardJsonReader(),
        GraphmlReader(),
        AssemblyReader(),
        PackedAssemblyReader(),
    ]
    if plugins:
        found += [point.load()() for point in entry_points(group="netgraph.readers")]
    return tuple(found)


def read_board(
    path: str | Path,
    format: str | None = None,  # noqa: A002
    *,
    unplug: tuple[str, ...] = (),
    plugins: bool = True,
) -> Board:
    """Read a board file.

    Parameters
    ----------
    path
        The file.
    format
        Name of a reader; without it the content decides.
    unplug
        Mating parts of an assembly (``MAIN/J3``) that are to be taken as unplugged.
    plugins
        Whether readers of installed plug-ins may be used.

    Raises
    ------
    BoardFileError
        The file can't be opened or read, or no reader knows its content; with path, line, column.
    UsageError
        There is no reader of this name, or two are equally sure.
    """
    path = Path(path)
    data = read_bytes(path)
    reader = _choose(data, path, format, readers(plugins=plugins))
    try:
        with _garbage_collection_paused():
            sha256 = hashlib.sha256(data).hexdigest()
            if isinstance(reader, AssemblyReader):
                return reader.read_beside(
                    data,
                    file_name=path.name,
                    sha256=sha256,
                    folder=path.parent,
                    read=partial(read_member, plugins=plugins),
                    unplug=unplug,
                )
            board = _read_with(reader, data, path.name, sha256, unplug=unplug, plugins=plugins)
    except BoardFileError as error:
        inside = isinstance(reader, PackedAssemblyReader) and error.path
        error.path = str(path / error.path) if inside else error.path or str(path)
        raise
    return replace(board, load_copper=_with_path(board.load_copper, str(path)))


def read_data(
    data: bytes,
    *,
    file_name: str,
    format: str | None = None,  # noqa: A002
    unplug: tuple[str, ...] = (),
    plugins: bool = True,
) -> Board:
    """Read a board from its bytes; raises as `read_board`, errors name `file_name`.

    What stands in other files can't be read this way: the boards of an assembly must be packed
    with it (`netgraph.formats.assembly_pack`).
    """
    if len(data) > limits.MAX_FILE_BYTES:
        raise _too_large(file_name)
    reader = _choose(data, Path(file_name), format, readers(plugins=plugins))
    try:
        with _garbage_collection_paused():
            sha256 = hashlib.sha256(data).hexdigest()
            return _read_with(reader, data, file_name, sha256, unplug=unplug, plugins=plugins)
    except BoardFileError as error:
        error.path = error.path or file_name
        raise


def _read_with(
    reader: Reader,
    data: bytes,
    file_name: str,
    sha256: str,
    *,
    unplug: tuple[str, ...],
    plugins: bool,
) -> Board:
    """The board in these bytes alone."""
    if isinstance(reader, PackedAssemblyReader):
        return reader.read_with(
            data, file_name=file_name, sha256=sha256, unplug=unplug,
            read=lambda member, name: read_data(member, file_name=name, plugins=plugins),
        )  # fmt: skip
    if unplug and not isinstance(reader, AssemblyReader):
        raise UsageError(f"{file_name} is a single board", hint="--unplug is for assemblies")
    return reader.read(data, file_name=file_name, sha256=sha256)


def read_boards(
    path: str | Path,
    others: Iterable[str | Path] = (),
    format: str | None = None,  # noqa: A002
    *,
    unplug: tuple[str, ...] = (),
    read: Callable[[str | Path, str | None, tuple[str, ...]], Board] | None = None,
) -> Merged:
    """Read a board file and lay further files of the same board over it, in their order.

    Parameters
    ----------
    read
        How a file is read: path, format, what is unplugged; default: `read_board`.

    Raises
    ------
    BoardFileError
        A file can't be read.
    UsageError
        As in ``read_board``.
    """
    board = read_board(path, format, unplug=unplug) if read is None else read(path, format, unplug)
    items: tuple[Disagreement, ...] = ()
    for other in others:
        further = read_board(other) if read is None else read(other, None, ())
        merged = merge_boards(board, further)
        board = merged.board
        items += merged.disagreements
    return Merged(board, items)


def read_member(path: Path, *, plugins: bool = True) -> Board:
    """A board of an assembly; an assembly within another is refused before it is followed."""
    data = read_bytes(path)
    if is_assembly(data):
        raise BoardFileError(
            "format-unsupported", "is an assembly itself", path=str(path), expected="a board"
        )
    return read_board(path, plugins=plugins)


def _with_path(load: Callable[[], Copper], path: str) -> Callable[[], Copper]:
    """The same loader; its errors name the file as it was asked for."""

    def load_named() -> Copper:
        try:
            return load()
        except BoardFileError as error:
            error.path = path
            raise

    return load_named


@contextmanager
def _garbage_collection_paused() -> Iterator[None]:
    """A board is many objects and no cycles: looking for cycles meanwhile costs a sixth."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def read_bytes(path: Path, expected: str = "a board file") -> bytes:
    """The bytes of a file within the size limit; `expected` is for the error's text.

    Raises
    ------
    BoardFileError
        It is no file, can't be opened, or is larger than ``limits.MAX_FILE_BYTES``.
    """
    try:
        if path.is_dir():
            raise BoardFileError(
                "file-unreadable", "is a folder", path=str(path), expected=expected
            )
        if path.exists() and not path.is_file():
            # A pipe or device may never end.
            raise BoardFileError(
                "file-unreadable", "is no regular file", path=str(path), expected=expected
            )
        with path.open("rb") as file:
            data = file.read(limits.MAX_FILE_BYTES + 1)
    except OSError as error:
        raise BoardFileError(
            "file-unreadable", (error.strerror or str(error)).lower(), path=str(path)
        ) from None
    except ValueError:
        raise BoardFileError("file-unreadable", "no such file name", path=str(path)) from None
    if len(data) > limits.MAX_FILE_BYTES:
        raise _too_large(str(path))
    return data


def _too_large(path: str) -> BoardFileError:
    return BoardFileError(
        "limit-exceeded",
        f"larger than {limits.MAX_FILE_BYTES >> 20} MiB (MAX_FILE_BYTES)",
        path=path,
    )


def _choose(data: bytes, path: Path, name: str | None, readers: tuple[Reader, ...]) -> Reader:
    if name is not None:
        for reader in readers:
            if reader.name == name:
                return reader
        known = ", ".join(reader.name for reader in readers)
        raise UsageError(f"no reader is named {name!r}", hint=f"known formats: {known}")
    sure = sorted(
        ((reader.sniff(data[:4096]), index) for index, reader in enumerate(readers)),
        key=lambda pair: (-pair[0], pair[1]),
    )
    best = readers[sure[0][1]]
    if sure[0][0] <= 0.0:
        # The reader of the file's own ending words the refusal best.
        by_ending = [reader for reader in readers if path.suffix in reader.suffixes]
        if by_ending:
            return by_ending[0]
        raise BoardFileError(
            "format-unknown" if data else "file-empty",
            f"format not recognised; the file begins with {data[:16].hex(' ') or 'nothing'}",
            path=str(path),
            expected=", ".join(reader.title for reader in readers),
        )
    if len(sure) > 1 and sure[1][0] == sure[0][0]:
        other = readers[sure[1][1]]
        raise UsageError(
            f"{path.name} may be {best.name} or {other.name}", hint="say which with --format"
        )
    return best
