# SPDX-License-Identifier: GPL-3.0-or-later
"""Text that is UTF-8 but for some stray bytes, as two programs with two opinions leave it."""

from __future__ import annotations

from codecs import getincrementaldecoder, register_error

from netgraph import limits
from netgraph.errors import BoardFileError

_CHUNK_BYTES = 1 << 20
_HANDLER = "netgraph-windows-1252"


def utf8_with_strays(data: bytes) -> tuple[bytes, int | None]:
    """The text as UTF-8, and the offset of the first byte that was none.

    Only the stray bytes are read as Windows-1252; what is UTF-8 stays as it is. The offset is
    the same in the old and the new text; it is None, and the text unchanged, when all is UTF-8.

    Raises
    ------
    BoardFileError
        There are more than ``limits.MAX_STRAY_BYTES`` stray places: this is no text.
    """
    first = None if data.isascii() else _first_stray(data)
    if first is None:
        return data, None
    decoder = getincrementaldecoder("utf-8")(_HANDLER)
    _count.places = 0
    parts = [
        decoder.decode(data[start : start + _CHUNK_BYTES]).encode("utf-8")
        for start in range(0, len(data), _CHUNK_BYTES)
    ]
    parts.append(decoder.decode(b"", final=True).encode("utf-8"))
    return b"".join(parts), first


def _first_stray(data: bytes) -> int | None:
    decoder = getincrementaldecoder("utf-8")()
    for start in range(0, len(data), _CHUNK_BYTES):
        held = len(decoder.getstate()[0])
        try:
            decoder.decode(
                data[start : start + _CHUNK_BYTES], final=start + _CHUNK_BYTES >= len(data)
            )
        except UnicodeDecodeError as error:
            return start - held + error.start
    return None


class _Count:
    """How many stray places the text at work has had."""

    places = 0


_count = _Count()


def _as_windows_1252(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeDecodeError):
        raise error
    _count.places += 1
    if _count.places > limits.MAX_STRAY_BYTES:
        raise BoardFileError(
            "file-malformed",
            f"more than {limits.MAX_STRAY_BYTES} places are not UTF-8: this is no text file",
        )
    stray = error.object[error.start : error.end]
    return "".join(map(_sign_of, stray)), error.end


def _sign_of(byte: int) -> str:
    """A sign of Windows-1252; bytes without one stay apart from each other as controls."""
    return bytes((byte,)).decode("cp1252", "ignore") or chr(byte)


register_error(_HANDLER, _as_windows_1252)
