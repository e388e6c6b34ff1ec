# SPDX-License-Identifier: GPL-3.0-or-later
"""Save a board as a file; the only place in the formats that writes to the disk."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from netgraph.errors import UsageError, WriterError
from netgraph.formats.losses import OPENNESS, count_losses
from netgraph.model.board import Board


@dataclass(frozen=True)
class Writer:
    """A format that can be written. `write` gives the text and counts what is left out."""

    name: str
    title: str
    suffix: str
    carries: tuple[str, ...]
    limits: str
    write: Callable[[Board, Counter[str]], str]


def _kicad_board(board: Board, dropped: Counter[str]) -> str:
    from netgraph.formats.kicad_write import write_kicad_board

    count_losses(board, dropped, *OPENNESS)
    return write_kicad_board(board, dropped=dropped)


def _kicad_netlist(board: Board, dropped: Counter[str]) -> str:
    from netgraph.formats.kicad_netlist_write import write_kicad_netlist

    return write_kicad_netlist(board, dropped=dropped)


def _ipc_d356(board: Board, dropped: Counter[str]) -> str:
    from netgraph.formats.ipc_d356_write import write_ipc_d356

    return write_ipc_d356(board, dropped=dropped)


def _csv(board: Board, dropped: Counter[str]) -> str:
    from netgraph.formats.csv_write import write_csv_table

    count_losses(
        board, dropped, "drawn-copper", "field", "net-class", "net-without-pad", "pad-size",
        "part-without-designator", *OPENNESS,
    )  # fmt: skip
    return write_csv_table(board)


def _json(board: Board, dropped: Counter[str]) -> str:
    from netgraph.formats.board_json import write_board_json

    count_losses(board, dropped, "drawn-copper")
    return write_board_json(board)


def _graphml(board: Board, dropped: Counter[str]) -> str:
    from netgraph.formats.graphml_write import write_graphml

    count_losses(board, dropped, "drawn-copper", "field")
    return write_graphml(board)


WRITERS: tuple[Writer, ...] = (
    Writer(
        "kicad-board",
        "KiCad 6 board",
        ".kicad_pcb",
        ("netlist", "places", "copper", "values", "pin names and types", "parts not fitted"),
        "net classes are left out; what is not known is not kept",
        _kicad_board,
    ),
    Writer(
        "kicad-netlist",
        "KiCad netlist, version E",
        ".net",
        ("netlist", "values", "fields", "pin names and types", "parts not fitted"),
        "no places, no sides, no copper; a pin of several pads stands once",
        _kicad_netlist,
    ),
    Writer(
        "ipc-d356",
        "IPC-D-356A bare-board test list",
        ".d356",
        ("netlist", "places of pads", "vias"),
        "places to 0.001 mm, designators cut at 6 and pins at 4 characters; no values, packages, "
        "pin names, and no marks of parts not fitted",
        _ipc_d356,
    ),
    Writer(
        "csv",
        "table of pins",
        ".csv",
        ("netlist", "places", "values", "pin names and types", "parts not fitted"),
        "no sizes of pads, no copper, no fields",
        _csv,
    ),
    Writer(
        "board-json",
        "board as JSON (netgraph.board/1)",
        ".json",
        ("netlist", "places", "values", "pin names and types", "parts not fitted",
         "what is not known"),
        "no drawn copper, no stack-up",
        _json,
    ),
    Writer(
        "graphml",
        "graph of parts and nets, for graph programs",
        ".graphml",
        ("netlist", "places", "values", "pin names and types", "parts not fitted",
         "what is not known"),
        "no drawn copper, no fields, no stack-up",
        _graphml,
    ),
)  # fmt: skip


def writer_for(path: str | Path, name: str | None = None) -> Writer:
    """The writer of this name, or of the file's ending.

    Raises
    ------
    UsageError
        There is none.
    """
    known = ", ".join(one.name for one in WRITERS)
    if name is not None:
        for one in WRITERS:
            if one.name == name:
                return one
        raise UsageError(f"no writer is named {name!r}", hint=f"formats that are written: {known}")
    for one in WRITERS:
        if Path(path).name.lower().endswith(one.suffix):
            return one
    endings = " ".join(one.suffix for one in WRITERS)
    raise UsageError(
        f"the ending of {Path(path).name} names no format that is written",
        hint=f"endings: {endings}; or say --to NAME: {known}",
    )


def save_board(
    board: Board,
    path: str | Path,
    format: str | None = None,  # noqa: A002
) -> Counter[str]:
    """Save a board in the format of the file's ending, or in the one named.

    Returns
    -------
    Counter
        What the format can't hold and was left out, by kind.

    Raises
    ------
    WriterError
        The board can't be written in this format, or the file can't be written.
    UsageError
        No writer has this name or ending.
    """
    writer = writer_for(path, format)
    dropped: Counter[str] = Counter()
    save_text(path, writer.write(board, dropped))
    return dropped


def save_kicad_board(
    board: Board,
    path: str | Path,
    *,
    with_copper: bool = True,
    dropped: Counter[str] | None = None,
) -> None:
    """Save a board as a KiCad 6 file; see ``write_kicad_board`` for what it holds.

    The text is made as a whole before the file is touched.

    Raises
    ------
    WriterError
        The board can't be written in this format, or the file can't be written.
    """
    from netgraph.formats.kicad_write import write_kicad_board

    save_text(path, write_kicad_board(board, with_copper=with_copper, dropped=dropped))


def save_over(
    board: Board,
    path: str | Path,
    format: str | None = None,  # noqa: A002
    *,
    inputs: Iterable[str | Path] = (),
) -> tuple[Counter[str], Path | None]:
    """Save a board as ``save_board`` does, but lose no file that is there already.

    Returns
    -------
    tuple
        What was left out, and where the file that stood there was kept: ``NAME~`` beside it, or
        ``NAME~2`` and so on where that is taken. None when nothing else stood there.

    Raises
    ------
    UsageError
        `path` is one of the `inputs` or a folder, or no writer has this name or ending.
    WriterError
        As in ``save_board``; then nothing was changed.
    """
    path = Path(path)
    if path.is_dir():
        raise UsageError(f"{path} is a folder", hint="name a file in it")
    for one in inputs:
        if path.exists() and Path(one).exists() and path.samefile(one):
            raise UsageError(f"{path} is read for this answer", hint="name another file")
    writer = writer_for(path, format)
    dropped: Counter[str] = Counter()
    text = writer.write(board, dropped)
    kept = _keep(path, text)
    save_text(path, text)
    return dropped, kept


def _keep(path: Path, text: str) -> Path | None:
    """Copy a file that would be lost; the name of the copy."""
    try:
        if not path.is_file() or path.stat().st_size == 0:
            return None
        if path.read_bytes() == text.encode("utf-8", "surrogatepass"):
            return None
        number = 1
        while (kept := path.with_name(f"{path.name}~{number if number > 1 else ''}")).exists():
            number += 1
        shutil.copy2(path, kept)
    except OSError as error:
        raise WriterError(
            f"{path.name} stands there and can't be kept: {(error.strerror or str(error)).lower()}"
        ) from None
    return kept


def save_text(path: str | Path, text: str) -> None:
    """Write a text file whole: a new file beside it takes its place, or nothing changes.

    Raises
    ------
    WriterError
        The file can't be written.
    """
    path = Path(path)
    try:
        if not path.parent.is_dir():
            raise WriterError(
                f"{path.name} can't be written: there is no folder {path.parent}",
                hint="make the folder first",
            )
        if path.exists() and not path.is_file():
            path.write_text(text, encoding="utf-8", newline="\n")
            return
        mode = path.stat().st_mode & 0o777 if path.exists() else None
        handle, beside = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        try:
            with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            if mode is not None:
                Path(beside).chmod(mode)
            else:
                Path(beside).chmod(0o666 & ~_umask())
            Path(beside).replace(path)
        except BaseException:
            Path(beside).unlink(missing_ok=True)
            raise
    except UnicodeEncodeError:
        raise WriterError(f"{path.name}: a name holds half a character") from None
    except OSError as error:
        raise WriterError(
            f"{path.name} can't be written: {(error.strerror or str(error)).lower()}"
        ) from None
    except ValueError:
        raise WriterError(f"{str(path)!r} is no file name") from None


def _umask() -> int:
    mask = os.umask(0o022)
    os.umask(mask)
    return mask
