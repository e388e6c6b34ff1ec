# SPDX-License-Identifier: GPL-3.0-or-later
"""Bytes of a text file to UTF-8 without a byte-order mark; NUL bytes and too many lines refused."""

from __future__ import annotations

import re

from netgraph import limits
from netgraph.errors import BoardFileError, visible
from netgraph.formats.encoding import utf8_with_strays
from netgraph.formats.structure import place_of
from netgraph.model.builder import BoardBuilder, is_bad_name

STRAY_TEXT = "some signs are not UTF-8; these are read as Windows-1252"
_LINE_END = re.compile(r"\r\n|\r|\n")


def plain_bytes(data: bytes) -> tuple[bytes, int | None]:
    """UTF-8 bytes, and the line of the first byte that was none (None: all was UTF-8).

    Raises
    ------
    BoardFileError
        Damaged UTF-16, a NUL byte, nothing at all, or more than ``limits.MAX_LINES`` lines.
    """
    if data.startswith(b"\xef\xbb\xbf"):
        data = data[3:]
    elif data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            data = data.decode("utf-16").encode("utf-8")
        except UnicodeError:
            raise BoardFileError("file-malformed", "the UTF-16 text is damaged") from None
    if not data.strip():
        raise BoardFileError("file-empty", "the file is empty", line=1, column=1)
    data, stray = utf8_with_strays(data)
    nul = data.find(b"\0")
    if nul >= 0:
        line, column = place_of(data, nul)
        raise BoardFileError(
            "file-malformed",
            "a NUL byte: this is no text file, or a damaged one",
            line=line,
            column=column,
            expected="text",
        )
    if data.count(b"\n") + data.count(b"\r") > 2 * limits.MAX_LINES:
        raise BoardFileError("limit-exceeded", f"more than {limits.MAX_LINES} lines (MAX_LINES)")
    return data, None if stray is None else place_of(data, stray)[0]


def plain_lines(data: bytes) -> tuple[list[str], int | None]:
    """The lines of a text file without their ends, and the line of the first stray byte."""
    clean, stray = plain_bytes(data)
    return _LINE_END.split(clean.decode("utf-8")), stray


def head_text(head: bytes) -> str:
    """The beginning of a file as text, for telling its format; never fails."""
    if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return head[: len(head) & ~1].decode("utf-16", "replace")
    return head.removeprefix(b"\xef\xbb\xbf").decode("utf-8", "replace")


def warn_of_strays(builder: BoardBuilder, line: int | None) -> None:
    """The warning that goes with stray bytes."""
    if line is not None:
        builder.warn("encoding", STRAY_TEXT, line=line)


def checked_name(name: str, what: str, line: int | None = None, column: int | None = None) -> str:
    """The name itself.

    Raises
    ------
    BoardFileError
        It is too long or holds a control character.
    """
    if is_bad_name(name):
        raise BoardFileError(
            "name-invalid",
            f"{what} {visible(name[:40])!r} is too long or holds a control character",
            line=line,
            column=column,
            expected=f"at most {limits.MAX_NAME_CHARS} signs (MAX_NAME_CHARS)",
        )
    return name


def refuse_large(data: bytes) -> None:
    """Stop at a text that would be many times larger as a tree in memory.

    Raises
    ------
    BoardFileError
        It is larger than ``limits.MAX_TREE_BYTES``.
    """
    if len(data) > limits.MAX_TREE_BYTES:
        raise BoardFileError(
            "limit-exceeded", f"larger than {limits.MAX_TREE_BYTES >> 20} MiB (MAX_TREE_BYTES)"
        )
