# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures made byte by byte, and what a phone would write beside them. All invented."""

from __future__ import annotations

import struct
import zlib

SECRET = b"51.4779N 0.0015W Invented-Phone-9"
"""A place and a device that must not be kept."""


def _chunk(name: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def png(width: int = 60, height: int = 40, *, secret: bool = True) -> bytes:
    """Grey bars; W3C PNG, 3rd edition."""
    rows = b"".join(
        b"\0" + bytes((40 + 3 * (x % 60)) & 0xFF for x in range(width)) for _ in range(height)
    )
    asides = [_chunk(b"tEXt", b"Comment\0" + SECRET), _chunk(b"eXIf", exif(6))] if secret else []
    return b"".join(
        (
            b"\x89PNG\r\n\x1a\n",
            _chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)),
            *asides,
            _chunk(b"IDAT", zlib.compress(rows, 6)),
            _chunk(b"IEND", b""),
        )
    )


def exif(turned: int, order: str = ">") -> bytes:
    """A TIFF block with the picture's turn, a device and a place (CIPA DC-008)."""
    head = b"MM" if order == ">" else b"II"
    at = 8 + 2 + 2 * 12 + 4
    entries = struct.pack(f"{order}HHIHH", 0x0112, 3, 1, turned, 0)
    entries += struct.pack(f"{order}HHII", 0x0110, 2, len(SECRET) + 1, at)
    return (
        head
        + struct.pack(f"{order}HIH", 42, 8, 2)
        + entries
        + struct.pack(f"{order}I", 0)
        + SECRET
        + b"\0"
    )


def with_asides(jpeg: bytes, turned: int, order: str = ">") -> bytes:
    """A JPEG with Exif, a comment, an application's own segment and a tail behind its end."""

    def segment(marker: int, body: bytes) -> bytes:
        return bytes((0xFF, marker)) + struct.pack(">H", len(body) + 2) + body

    asides = segment(0xE1, b"Exif\0\0" + exif(turned, order))
    asides += segment(0xE1, b"http://ns.invented.example/xap/\0" + SECRET)
    asides += segment(0xED, b"Invented 1.0\0" + SECRET) + segment(0xFE, SECRET)
    return jpeg[:2] + asides + jpeg[2:] + b"tail" + SECRET


def grey_jpeg(width: int = 16, height: int = 8) -> bytes:
    """Evenly grey, baseline, made from ISO/IEC 10918-1: one Huffman code for "no difference"."""

    def segment(marker: int, body: bytes) -> bytes:
        return bytes((0xFF, marker)) + struct.pack(">H", len(body) + 2) + body

    blocks = ((width + 7) // 8) * ((height + 7) // 8)
    # DC difference 0 and end of block are one bit each, both 0; padded with ones.
    bits = "00" * blocks
    bits += "1" * (-len(bits) % 8)
    scan = bytes(int(bits[i : i + 8], 2) for i in range(0, len(bits), 8)).replace(
        b"\xff", b"\xff\x00"
    )
    one_code = bytes((1, *[0] * 15))
    return b"".join(
        (
            b"\xff\xd8",
            segment(0xE0, b"JFIF\0\x01\x01\0\0\x01\0\x01\x01\x01" + b"\x7f\x7f\x7f"),
            segment(0xDB, b"\0" + b"\x10" * 64),
            segment(0xC0, struct.pack(">BHHB3B", 8, height, width, 1, 1, 0x11, 0)),
            segment(0xC4, b"\0" + one_code + b"\0"),
            segment(0xC4, b"\x10" + one_code + b"\0"),
            segment(0xDA, b"\x01\x01\0\0\x3f\0"),
            scan,
            b"\xff\xd9",
        )
    )
