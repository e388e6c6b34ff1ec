# SPDX-License-Identifier: GPL-3.0-or-later
"""Read a board in a child process with few rights: for files that come from strangers.

The child gets the bytes on stdin and hands an archive of numbers and names to stdout. It may use
little memory and time, write no file, and where the kernel allows it has no network. Where the
system has no such limits (Windows), the time limit alone holds, and `limits_hold` says so.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import IO, Any, Final

from netgraph import limits
from netgraph.errors import BoardCheckError, BoardFileError, UsageError, visible
from netgraph.formats.assembly import FORMAT, AssemblyReader
from netgraph.formats.assembly_pack import files_of_assembly, is_assembly, pack_assembly
from netgraph.formats.board_archive import ArchiveError, pack_board, unpack_board
from netgraph.formats.reading import read_bytes, read_data
from netgraph.model.board import Board

_START: Final = (
    "import sys, json; told = json.loads(sys.argv[1]); sys.path[:] = told['path'];"
    "from netgraph.formats.confined import confine; confine(told['limits']);"
    "from netgraph.formats.isolated import child_main; child_main(told)"
)
"""The limits are set before anything of the file is looked at, and before numpy is loaded."""

_FIELDS: Final = ("code", "message", "line", "column", "expected", "hint")
_PATH_CHARS: Final = 200
_FAULT_BYTES: Final = 4096


class ReadingStoppedError(Exception):
    """Somebody has asked to stop the reading."""


def limits_hold() -> bool:
    """Whether this system can limit a child's memory, processor time and files."""
    import importlib.util

    return importlib.util.find_spec("resource") is not None


def read_isolated(
    data: bytes,
    *,
    file_name: str,
    format: str | None = None,  # noqa: A002
    unplug: tuple[str, ...] = (),
    stopped: Callable[[], bool] = lambda: False,
) -> Board:
    """The board in these bytes, read by a child process.

    Parameters
    ----------
    stopped
        Asked about every 50 ms; when true the child is ended.

    Raises
    ------
    BoardFileError
        The child's own error, or ``limit-exceeded`` when it needs too much memory or time.
    BoardCheckError
        What the file says contradicts itself.
    UsageError
        No reader has this name.
    ReadingStoppedError
        `stopped` became true.
    RuntimeError
        The child failed by a fault of the program.
    """
    archive = run_child(data, file_name=file_name, format=format, unplug=unplug, stopped=stopped)
    return unpack_answer(archive, file_name, data)


def read_isolated_file(
    path: Path,
    format: str | None = None,  # noqa: A002
    unplug: tuple[str, ...] = (),
) -> Board:
    """The board in a file, read by a child process; an assembly with the files it names.

    The files are opened here, by the names in the assembly file; the child gets their bytes.
    Raises as `read_isolated`; errors name the path.
    """
    data = read_bytes(path)
    packed = data
    try:
        if format in (None, FORMAT) and AssemblyReader().sniff(data[:4096]) > 0:
            format = None  # noqa: A001
            packed = pack_assembly(files_of_assembly(data, path.name, path.parent, read_bytes))
        board = read_isolated(packed, file_name=path.name, format=format, unplug=unplug)
    except BoardFileError as error:
        said = Path(error.path or path.name)
        if packed is data and is_assembly(data) and said.name != path.name:
            said = path / said
        error.path = str(said if said.is_relative_to(path.parent) else path.parent / said)
        raise
    sha256 = hashlib.sha256(data).hexdigest()
    return replace(board, source=replace(board.source, sha256=sha256))


def run_child(
    data: bytes,
    *,
    file_name: str,
    format: str | None = None,  # noqa: A002
    unplug: tuple[str, ...] = (),
    stopped: Callable[[], bool] = lambda: False,
) -> bytes:
    """The archive of the board in these bytes, made by a child; raises as `read_isolated`."""
    told = {
        "path": [one for one in sys.path if one],
        "file_name": file_name,
        "format": format,
        "unplug": list(unplug),
        "limits": {
            "memory": limits.CHILD_MEMORY_BYTES,
            "seconds": limits.CHILD_CPU_SECONDS,
            "files": limits.CHILD_OPEN_FILES,
        },
    }
    command = [sys.executable, "-I", "-B", "-c", _START, json.dumps(told)]
    child = subprocess.Popen(  # noqa: S603 - our own interpreter, no shell
        command,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=_environment(),
    )
    # Each stream has its own thread, so that no side can wait for the other for ever.
    answer, said = _Drain(child.stdout, limits.CHILD_ANSWER_BYTES), _Drain(child.stderr, 1 << 16)
    feeder = threading.Thread(target=_feed, args=(child.stdin, data), daemon=True)
    feeder.start()
    until = time.monotonic() + limits.CHILD_WALL_SECONDS
    try:
        while child.poll() is None:
            if stopped():
                raise ReadingStoppedError
            if time.monotonic() > until or answer.too_much:
                break
            with contextlib.suppress(subprocess.TimeoutExpired):
                child.wait(0.05)
        late = child.poll() is None
    finally:
        if child.poll() is None:
            child.kill()
        child.wait()
        feeder.join()
        answer.join()
        said.join()
        for stream in (child.stdin, child.stdout, child.stderr):
            if stream is not None:
                with contextlib.suppress(OSError):
                    stream.close()
    if late or child.returncode < 0 or answer.too_much:
        raise BoardFileError(
            "limit-exceeded",
            "reading it takes more time or memory than a file may need (CHILD_WALL_SECONDS, "
            "CHILD_CPU_SECONDS, CHILD_MEMORY_BYTES, CHILD_ANSWER_BYTES)",
            path=file_name,
            hint="the limits are in netgraph/limits.py",
        )
    return _checked(answer.data, said.data, child.returncode, file_name)


def _environment() -> dict[str, str]:
    kept = {key: os.environ[key] for key in ("SYSTEMROOT", "LANG", "LC_ALL") if key in os.environ}
    # More threads would each reserve memory that counts.
    return {**kept, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}


def _checked(answer: bytes, said: bytes, status: int, file_name: str) -> bytes:
    kind, _, rest = answer.partition(b"\n")
    if status == 0 and kind == b"board":
        return rest
    if status == 0 and kind == b"fault" and len(rest) <= _FAULT_BYTES * 8:
        fault = json.loads(rest)
        if fault.get("contradicts"):
            raise BoardCheckError(
                str(fault["message"]), code="board-contradictory", hint=str(fault["hint"])
            )
        if fault.get("usage"):
            raise UsageError(fault["message"], hint=fault["hint"])
        told = {name: fault[name] for name in _FIELDS[2:]}
        member = visible(str(fault.get("member") or "")[:_PATH_CHARS])
        raise BoardFileError(fault["code"], fault["message"], path=member or file_name, **told)
    last = said.decode("utf-8", "replace").strip().splitlines()[-1:]
    raise RuntimeError(f"the reading child failed with status {status}: {' '.join(last)[:300]}")


def unpack_answer(archive: bytes, file_name: str, data: bytes) -> Board:
    """The board in a child's archive; the file's name and hash are ours, not the child's."""
    try:
        board = unpack_board(archive)
    except ArchiveError as error:
        raise RuntimeError(f"the reading child's answer is not sound: {error}") from None
    sha256 = hashlib.sha256(data).hexdigest()
    return replace(board, source=replace(board.source, file_name=file_name, sha256=sha256))


def _feed(stream: IO[bytes] | None, data: bytes) -> None:
    # A child that has seen enough closes its end.
    with contextlib.suppress(OSError, ValueError):
        if stream is not None:
            stream.write(data)
            stream.close()


class _Drain(threading.Thread):
    """Takes what a stream gives, up to a limit; what comes after it is thrown away."""

    def __init__(self, stream: IO[bytes] | None, most: int) -> None:
        super().__init__(daemon=True)
        self.stream = stream
        self.most = most
        self.pieces: list[bytes] = []
        self.too_much = False
        self.start()

    def run(self) -> None:
        taken = 0
        with contextlib.suppress(OSError, ValueError):
            while self.stream is not None and (piece := self.stream.read1(1 << 16)):  # type: ignore[attr-defined]
                taken += len(piece)
                if taken > self.most:
                    self.too_much = True
                else:
                    self.pieces.append(piece)

    @property
    def data(self) -> bytes:
        return b"".join(self.pieces)


# -- the child ---------------------------------------------------------------------------------


def child_main(told: dict[str, Any]) -> None:
    """What the child runs: stdin to board to stdout; faults of the file are an answer too."""
    out = sys.stdout.buffer
    try:
        data = sys.stdin.buffer.read(limits.MAX_FILE_BYTES + 1)
        board = read_data(
            data,
            file_name=told["file_name"],
            format=told["format"],
            unplug=tuple(told["unplug"]),
            plugins=False,
        )
        packed = pack_board(board)
    except MemoryError:
        megabytes = limits.CHILD_MEMORY_BYTES >> 20
        message = f"reading it takes more than {megabytes} MiB of memory (CHILD_MEMORY_BYTES)"
        fault = dict.fromkeys(_FIELDS, None) | {
            "code": "limit-exceeded",
            "message": message,
            "expected": "",
            "hint": "",
        }
        out.write(b"fault\n" + json.dumps(fault).encode())
    except BoardFileError as error:
        fault = {name: getattr(error, name) for name in _FIELDS}
        if error.path != told["file_name"]:
            fault["member"] = error.path
        for name in ("message", "expected", "hint"):
            fault[name] = str(fault[name])[:_FAULT_BYTES]
        out.write(b"fault\n" + json.dumps(fault).encode())
    except BoardCheckError as error:
        fault = {"contradicts": True, "message": error.message, "hint": error.hint}
        out.write(b"fault\n" + json.dumps(fault).encode())
    except UsageError as error:
        fault = {"usage": True, "message": error.message, "hint": error.hint}
        out.write(b"fault\n" + json.dumps(fault).encode())
    else:
        out.write(b"board\n" + packed)
    out.flush()
