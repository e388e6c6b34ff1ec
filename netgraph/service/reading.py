# SPDX-License-Identifier: GPL-3.0-or-later
"""Take a board file in: spool, read in a child process, find roles, keep."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import IO

from netgraph import limits
from netgraph.errors import BoardFileError, ServiceError
from netgraph.formats.assembly_pack import assembly_name, pack_assembly
from netgraph.formats.isolated import run_child, unpack_answer
from netgraph.formats.reading import read_data
from netgraph.model.board import Board
from netgraph.service.jobs import Job, JobPool
from netgraph.service.store import SPARE_BYTES, BoardStore, plain_name
from netgraph.service.workbench import Workbench

CHUNK = 1 << 18


@dataclass
class Intake:
    """How board files come in; `guards` are the names of those that are on."""

    store: BoardStore
    pool: JobPool
    guards: frozenset[str]
    free_bytes: Callable[[], int]

    def take(self, stream: IO[bytes], told_name: str, workbench: Workbench) -> Job:
        """Read the body to its end, then start a job that makes a board of it.

        Raises
        ------
        ServiceError
            ``too-large``, ``disk-full``, or ``too-busy``.
        """
        name = plain_name(told_name) if "plain-name" in self.guards else told_name
        data = self.whole(stream)
        return self.pool.start(name, lambda job: self._make(job, data, name, workbench))

    def take_several(
        self, files: Sequence[tuple[str, IO[bytes]]], unplug: Sequence[str], workbench: Workbench
    ) -> Job:
        """Files of one assembly; kept as one ZIP, under the name of the assembly file.

        Raises
        ------
        ServiceError
            As `take`.
        BoardFileError
            A name stands twice or leads elsewhere, or a limit of the assembly is passed.
        """
        found: dict[str, bytes] = {}
        for told, stream in files:
            name = plain_name(told)
            if name in found:
                raise BoardFileError("file-malformed", "two files of one name", path=name)
            found[name] = self.whole(stream)
        packed = pack_assembly(found, unplug)
        name = assembly_name(found)
        return self.pool.start(name, lambda job: self._make(job, packed, name, workbench))

    def check_disk(self) -> None:
        """Refuse what would fill the disk."""
        if "disk" in self.guards and self.free_bytes() < SPARE_BYTES:
            raise ServiceError(
                "disk-full", 507, "the disk is nearly full", hint="forget boards or make room"
            )

    def whole(self, stream: IO[bytes]) -> bytes:
        """A body to its end, if it is not too large and there is room."""
        self.check_disk()
        pieces, taken = [], 0
        while piece := stream.read(CHUNK):
            taken += len(piece)
            if "size" in self.guards and taken > limits.MAX_UPLOAD_BYTES:
                raise ServiceError(
                    "too-large", 413, f"larger than {limits.MAX_UPLOAD_BYTES >> 20} MiB"
                )
            pieces.append(piece)
        return b"".join(pieces)

    def _make(self, job: Job, data: bytes, name: str, workbench: Workbench) -> str:
        job.go_to("reading")
        board = self.read(data, name, job.stop_asked)
        job.go_to("keeping")
        with self.store.spool() as place:
            row = self.store.keep(place, data, board)
        job.go_to("roles")
        workbench.desk(row.sha256)
        return row.sha256

    def read(self, data: bytes, name: str, stopped: Callable[[], bool] = lambda: False) -> Board:
        """The board in these bytes, read where a hostile file can do no harm."""
        if "child" not in self.guards:
            return read_data(data, file_name=name)
        return unpack_answer(run_child(data, file_name=name, stopped=stopped), name, data)

    def read_again(self, sha256: str) -> Board:
        """A stored board, read anew by this program."""
        return self.read(self.store.data(sha256), self.store.row(sha256).file_name)
