# SPDX-License-Identifier: GPL-3.0-or-later
"""An example plug-in: the reader of docs/how-to/add-a-reader.md in a package of its own."""

from __future__ import annotations

from netgraph import BoardBuilder
from netgraph.errors import BoardFileError
from netgraph.model import Board, Source

MAGIC = b"parts-and-nets 1"


class PlainReader:
    """Lines of REF PIN NET."""

    name = "plain-lines"
    title = "Plain lines"
    suffixes = (".lines",)

    def sniff(self, head: bytes) -> float:
        """How sure it is, 0 to 1, that a file which begins like this is of this format."""
        return 1.0 if head.startswith(MAGIC) else 0.0

    def read(self, data: bytes, *, file_name: str, sha256: str) -> Board:
        """The board in these bytes."""
        builder = BoardBuilder(file_name, source=Source(self.name, file_name, sha256, "1"))
        parts: dict[str, int] = {}
        for number, line in enumerate(data.decode("utf-8", "replace").splitlines()[1:], start=2):
            words = line.split()
            if len(words) != 3:
                raise BoardFileError(
                    "file-malformed", f"{len(words)} words", line=number, expected="REF PIN NET"
                )
            ref, pin, net = words
            if ref not in parts:
                parts[ref] = builder.add_part(ref)
            builder.add_pad(parts[ref], pin, net)
        return builder.freeze()
