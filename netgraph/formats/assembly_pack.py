# SPDX-License-Identifier: GPL-3.0-or-later
"""An assembly and its board files as one ZIP: one run of bytes that needs no folder.

So an assembly can be handed to the reading child, put into the service, or mailed. The ZIP is read
in memory only: nothing is ever unpacked to a disk, so a name in it leads nowhere.
"""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path, PurePosixPath
from typing import Final

from netgraph import limits
from netgraph.errors import BoardFileError, visible
from netgraph.formats.assembly import (
    FORMAT,
    AssemblyReader,
    is_below,
    joined_boards,
    one_board,
    parse_assembly,
)
from netgraph.model.board import Board, Source

UNPLUGGED: Final = "unplugged.txt"
"""A member with one mating part a line that is to be taken as unplugged."""

_HEAD: Final = b"PK\x03\x04"
_DATE: Final = (1980, 1, 1, 0, 0, 0)
_PLAIN_METHODS: Final = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_SNIFFED: Final = 4096


class PackedAssemblyReader:
    """Assemblies together with the files of their boards, in one ZIP."""

    name = "assembly-zip"
    title = "assembly with its board files in one ZIP"
    suffixes: tuple[str, ...] = (".zip",)
    carries: tuple[str, ...] = ("the netlists of its boards, joined", "what each of them carries")
    limits = "one assembly file in it; read in memory, nothing is unpacked to a disk"

    def sniff(self, head: bytes) -> float:
        """1.0 for the beginning of a ZIP."""
        return 1.0 if head.startswith(_HEAD) else 0.0

    def read(self, data: bytes, *, file_name: str, sha256: str) -> Board:  # noqa: ARG002
        """Refused: who calls it must say how the boards in it are read."""
        raise BoardFileError(
            "file-unreadable",
            "an assembly in a ZIP is read by read_board or read_data",
            expected="a path, or bytes",
            hint="read_data(data, file_name=...)",
        )

    def read_with(
        self,
        data: bytes,
        *,
        file_name: str,
        sha256: str,
        read: Callable[[bytes, str], Board],
        unplug: tuple[str, ...] = (),
    ) -> Board:
        """The joined board; `read` reads one of its boards from bytes and name.

        Raises
        ------
        BoardFileError
            No sound ZIP, a limit is passed, not just one assembly file in it, a board is missing
            or can't be read.
        """
        members = _members(data)
        place, text = _assembly_of(members)
        said = members.get(str(place.with_name(UNPLUGGED)), b"").decode("utf-8", "replace")
        told = [line.strip() for line in said.splitlines() if line.strip()]
        try:
            return self._joined(members, place, text, (*told, *unplug), file_name, sha256, read)
        except BoardFileError as error:
            error.path = error.path or str(place)
            raise

    @staticmethod
    def _joined(
        members: Mapping[str, bytes],
        place: PurePosixPath,
        text: bytes,
        unplug: tuple[str, ...],
        file_name: str,
        sha256: str,
        read: Callable[[bytes, str], Board],
    ) -> Board:
        assembly = parse_assembly(text).unplugged(unplug)

        bases = [PurePosixPath(file).name for _, file in assembly.boards]

        def member(path: Path) -> Board:
            name = path.as_posix()
            if name not in members and bases.count(path.name) == 1:
                # Files chosen on a page come without their folders.
                name = str(place.with_name(path.name))
            if name not in members:
                raise BoardFileError(
                    "file-unreadable",
                    f"the assembly joins {visible(name[:80])!r}, which is not among its files",
                    expected="every board file that it names",
                    hint="choose it together with the others, or put it into the ZIP",
                )
            if is_assembly(members[name]):
                raise BoardFileError(
                    "format-unsupported", "is an assembly itself", path=name, expected="a board"
                )
            return read(members[name], name)

        joined = joined_boards(assembly, Path(place.parent), member)
        name = assembly.name or place.name.partition(".")[0]
        return one_board(joined, name, Source(FORMAT, file_name, sha256, "1"))


def is_assembly(data: bytes) -> bool:
    """Whether these bytes are an assembly, as text or packed."""
    head = data[:_SNIFFED]
    return head.startswith(_HEAD) or AssemblyReader().sniff(head) > 0


def pack_assembly(files: Mapping[str, bytes], unplug: Iterable[str] = ()) -> bytes:
    """These files as a ZIP; the same files give the same bytes.

    Raises
    ------
    BoardFileError
        A name leads out of the folder, or a limit is passed.
    """
    _check_sizes([(name, len(data)) for name, data in files.items()])
    out = io.BytesIO()
    refs = sorted(set(unplug))
    with zipfile.ZipFile(out, "w") as packed:
        for name, data in sorted(files.items()):
            packed.writestr(zipfile.ZipInfo(name, _DATE), data)
        if refs:
            folder = _assembly_of(files)[0]
            text = "".join(f"{one}\n" for one in refs)
            packed.writestr(zipfile.ZipInfo(str(folder.with_name(UNPLUGGED)), _DATE), text)
    return out.getvalue()


def assembly_name(files: Mapping[str, bytes]) -> str:
    """The name of the one assembly file among these.

    Raises
    ------
    BoardFileError
        There is none, or more than one.
    """
    return str(_assembly_of(files)[0])


def files_of_assembly(
    data: bytes, file_name: str, folder: Path, read: Callable[[Path], bytes]
) -> dict[str, bytes]:
    """The assembly file and its board files by name; `read` gives the bytes of a path.

    Raises
    ------
    BoardFileError
        The assembly file can't be used, a board file can't be read, or a limit is passed.
    """
    found = {file_name: data}
    sizes = [(file_name, len(data))]
    for _, file in parse_assembly(data).boards:
        if file not in found:
            found[file] = read(folder / file)
            sizes.append((file, len(found[file])))
            _check_sizes(sizes)
    return found


def _check_sizes(sizes: list[tuple[str, int]]) -> None:
    if len(sizes) > limits.MAX_PACKED_FILES:
        raise BoardFileError(
            "limit-exceeded", f"more than {limits.MAX_PACKED_FILES} files (MAX_PACKED_FILES)"
        )
    for name, _ in sizes:
        if not is_below(name) or len(name) > limits.MAX_NAME_CHARS:
            raise BoardFileError(
                "file-malformed",
                f"the file name {visible(name[:80])!r} leads elsewhere",
                expected="names in one folder or below, with / and without ..",
            )
    if sum(size for _, size in sizes) > limits.MAX_PACKED_BYTES:
        raise BoardFileError(
            "limit-exceeded",
            f"the files of the assembly are larger than {limits.MAX_PACKED_BYTES >> 20} MiB "
            "(MAX_PACKED_BYTES)",
        )


def _members(data: bytes) -> dict[str, bytes]:
    """All files of a ZIP; what it says of their sizes is not believed."""
    try:
        return _unpacked(data)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, RuntimeError,
            NotImplementedError, OverflowError, LookupError, struct.error) as error:  # fmt: skip
        text = re.sub(r"\s+", " ", visible(str(error)[:80]))
        raise BoardFileError("file-malformed", f"no sound ZIP: {text}") from None


def _unpacked(data: bytes) -> dict[str, bytes]:
    found: dict[str, bytes] = {}
    left = limits.MAX_PACKED_BYTES
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        entries = [one for one in packed.infolist() if not one.filename.endswith("/")]
        _check_sizes([(one.filename, 0) for one in entries])
        for one in entries:
            if one.filename in found:
                raise BoardFileError(
                    "file-malformed", f"the ZIP holds {visible(one.filename[:80])!r} twice"
                )
            if one.flag_bits & 1:
                raise BoardFileError(
                    "format-unsupported", "the ZIP is encrypted", expected="a ZIP without password"
                )
            if one.compress_type not in _PLAIN_METHODS:
                raise BoardFileError(
                    "format-unsupported",
                    f"the ZIP is packed by method {one.compress_type}",
                    expected="stored or deflated",
                )
            with packed.open(one) as stream:
                content = stream.read(left + 1)
            left -= len(content)
            if left < 0:
                _check_sizes([(one.filename, limits.MAX_PACKED_BYTES + 1)])
            found[one.filename] = content
    return found


def _assembly_of(members: Mapping[str, bytes]) -> tuple[PurePosixPath, bytes]:
    """The one assembly file among the members, and its bytes."""
    reader = AssemblyReader()
    found = [name for name, data in members.items() if reader.sniff(data[:_SNIFFED]) > 0]
    if len(found) != 1:
        held = ", ".join(sorted(found)[:4]) if found else "none"
        raise BoardFileError(
            "format-unknown",
            f"not one assembly file among the {len(members)} files: {visible(held[:120])}",
            expected='one file that begins with schema = "netgraph.assembly/1"',
            hint="a board alone is opened alone; files of one and the same board are joined by "
            "netgraph merge",
        )
    return PurePosixPath(found[0]), members[found[0]]
