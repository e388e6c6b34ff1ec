# SPDX-License-Identifier: GPL-3.0-or-later
"""Photographs as they are kept: PNG or JPEG by their first bytes, measured, stripped of all asides.

What a camera or phone writes beside the picture (where and when it was taken, with which device,
thumbnails, comments) is left out; only how the picture is turned stays. Pixels are not touched
and never unpacked here. Sources: ISO/IEC 10918-1 annex B (JPEG), W3C PNG 3rd edition, CIPA
DC-008 (Exif, tag 0x0112), ITU-T T.872 (the segment that tells how colours are coded).
"""

from __future__ import annotations

import re
import struct
import zlib
from dataclasses import dataclass
from typing import Literal

from netgraph import limits
from netgraph.errors import BoardFileError

PictureKind = Literal["png", "jpeg"]
_PNG = b"\x89PNG\r\n\x1a\n"
_PNG_KEPT = frozenset(
    (b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND", b"gAMA", b"cHRM", b"sRGB", b"sBIT", b"bKGD")
)
_SCAN_END = re.compile(rb"\xff[^\x00\xff\xd0-\xd7]")
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_TABLES = frozenset((0xC4, 0xCC, *range(0xDA, 0xE0)))
_ORIENTATION = 0x0112


@dataclass(frozen=True)
class PictureFile:
    """A picture that may be kept: as it is seen, `width_px` by `height_px`."""

    kind: PictureKind
    width_px: int
    height_px: int
    data: bytes


def clean_picture(data: bytes) -> PictureFile:
    """The picture without anything beside it.

    Raises
    ------
    BoardFileError
        Neither PNG nor JPEG, damaged, cut off, or larger than a limit.
    """
    if len(data) > limits.MAX_PICTURE_BYTES:
        raise _too_large(f"{len(data)} bytes", "MAX_PICTURE_BYTES", limits.MAX_PICTURE_BYTES)
    try:
        if data.startswith(_PNG):
            found = _clean_png(data)
        elif data.startswith(b"\xff\xd8\xff"):
            found = _clean_jpeg(data)
        else:
            raise BoardFileError(
                "format-unknown",
                "is neither PNG nor JPEG",
                expected="a photograph as PNG or JPEG",
                hint="save a picture of another kind as JPEG",
            )
    except (struct.error, IndexError):
        raise BoardFileError("file-truncated", "the picture is cut off") from None
    if found.width_px * found.height_px > limits.MAX_PICTURE_PIXELS:
        size = f"{found.width_px} by {found.height_px} pixels"
        raise _too_large(size, "MAX_PICTURE_PIXELS", limits.MAX_PICTURE_PIXELS)
    if not found.width_px or not found.height_px:
        raise BoardFileError("file-malformed", "the picture has no size")
    return found


def picture_kind(data: bytes) -> PictureKind:
    """The kind of a picture that was kept."""
    return "png" if data.startswith(_PNG) else "jpeg"


def _too_large(size: str, limit: str, most: int) -> BoardFileError:
    return BoardFileError(
        "limit-exceeded", f"the picture has {size}, at most {most} ({limit})", hint="scale it down"
    )


# -- PNG -----------------------------------------------------------------------------------------


def _clean_png(data: bytes) -> PictureFile:
    kept = [_PNG]
    at, width, height = 8, 0, 0
    ended = False
    while at < len(data) and not ended:
        length, name = struct.unpack_from(">I4s", data, at)
        end = at + 12 + length
        if end > len(data):
            raise BoardFileError("file-truncated", "the picture is cut off")
        body = data[at + 4 : end - 4]
        if zlib.crc32(body) != struct.unpack_from(">I", data, end - 4)[0]:
            raise BoardFileError("file-malformed", f"the picture is damaged at byte {at}")
        if at == 8:
            if name != b"IHDR" or length != 13:
                raise BoardFileError("file-malformed", "the picture has no header")
            width, height = struct.unpack_from(">II", data, at + 8)
        if name in _PNG_KEPT:
            kept.append(data[at:end])
        ended = name == b"IEND"
        at = end
    if not ended:
        raise BoardFileError("file-truncated", "the picture is cut off")
    return PictureFile("png", width, height, b"".join(kept))


# -- JPEG ----------------------------------------------------------------------------------------


def _clean_jpeg(data: bytes) -> PictureFile:
    kept = [b"\xff\xd8"]
    at, width, height, turned = 2, 0, 0, 1
    aside = b""
    while True:
        if data[at] != 0xFF:
            raise BoardFileError("file-malformed", f"the picture is damaged at byte {at}")
        while data[at] == 0xFF:
            at += 1
        marker = data[at]
        at += 1
        if marker == 0xD9:
            break
        if marker == 0x01 or 0xD0 <= marker <= 0xD8:
            raise BoardFileError("file-malformed", f"the picture is damaged at byte {at}")
        (length,) = struct.unpack_from(">H", data, at)
        end = at + length
        if length < 2 or end > len(data):
            raise BoardFileError("file-truncated", "the picture is cut off")
        body = data[at + 2 : end]
        if marker in _FRAMES:
            if width:
                raise BoardFileError("file-malformed", f"the picture has two sizes, byte {at}")
            height, width = struct.unpack_from(">HH", body, 1)
        if marker == 0xE1 and body.startswith(b"Exif\0\0") and turned == 1:
            turned = _orientation(body[6:])
            aside = b"" if turned == 1 else _orientation_alone(turned)
        elif marker == 0xE0 and body.startswith(b"JFIF\0") and len(body) >= 12:
            # Its thumbnail shows what was cut off the picture itself.
            kept.append(b"\xff\xe0\x00\x10" + body[:12] + b"\0\0")
        elif marker == 0xEE and body.startswith(b"Adobe") and len(body) >= 12:
            kept.append(b"\xff\xee\x00\x0e" + body[:12])
        elif marker in _FRAMES or marker in _TABLES:
            kept.append(bytes((0xFF, marker)) + data[at:end])
        at = end
        if marker == 0xDA:
            found = _SCAN_END.search(data, at)
            if found is None:
                raise BoardFileError("file-truncated", "the picture is cut off")
            kept.append(data[at : found.start()])
            at = found.start()
    first = 2 if len(kept) > 1 and kept[1].startswith(b"\xff\xe0") else 1
    if aside:
        kept.insert(first, aside)
    kept.append(b"\xff\xd9")
    if turned >= 5:
        width, height = height, width
    return PictureFile("jpeg", width, height, b"".join(kept))


def _orientation(tiff: bytes) -> int:
    """How the picture is turned, 1 to 8; 1 where the aside can't be read."""
    order = {b"II": "<", b"MM": ">"}.get(tiff[:2])
    if order is None or len(tiff) < 8:
        return 1
    (at,) = struct.unpack_from(f"{order}I", tiff, 4)
    if at + 2 > len(tiff):
        return 1
    (count,) = struct.unpack_from(f"{order}H", tiff, at)
    for entry in range(at + 2, min(at + 2 + 12 * count, len(tiff) - 11), 12):
        tag, kind, number, value = struct.unpack_from(f"{order}HHIH", tiff, entry)
        if tag == _ORIENTATION and kind == 3 and number == 1 and 1 <= value <= 8:
            return int(value)
    return 1


def _orientation_alone(turned: int) -> bytes:
    """An Exif segment that says how the picture is turned and nothing else."""
    tiff = struct.pack(">2sHIHHHIHHI", b"MM", 42, 8, 1, _ORIENTATION, 3, 1, turned, 0, 0)
    body = b"Exif\0\0" + tiff
    return b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body
