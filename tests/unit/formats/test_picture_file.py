# SPDX-License-Identifier: GPL-3.0-or-later
"""Photographs as they are kept: nothing beside the picture, its turn and its pixels as before."""

from __future__ import annotations

import struct

import pytest

from netgraph import limits
from netgraph.errors import BoardFileError
from netgraph.formats.picture_file import clean_picture, picture_kind
from tests.service.photographs import SECRET, grey_jpeg, png, with_asides


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("turned", range(1, 9))
def test_only_the_turn_of_a_jpeg_stays(turned: int, order: str) -> None:
    plain = grey_jpeg(64, 32)
    found = clean_picture(with_asides(plain, turned, order))
    assert SECRET not in found.data
    assert b"tail" not in found.data
    assert (found.width_px, found.height_px) == ((64, 32) if turned < 5 else (32, 64))
    assert (b"Exif\0\0" in found.data) is (turned > 1)
    if turned > 1:
        # CIPA DC-008, 4.6.3: one entry, tag 0x0112, SHORT, count 1.
        at = found.data.index(b"Exif\0\0") + 6
        count, tag, kind, number, value = struct.unpack_from(">HHHIH", found.data, at + 8)
        assert (count, tag, kind, number, value) == (1, 0x0112, 3, 1, turned)
    # All that makes the picture is the very same bytes: tables, frame and scan.
    assert plain[plain.index(b"\xff\xdb") :] in found.data


def test_png_keeps_its_pixels_and_nothing_else() -> None:
    assert clean_picture(png(secret=True)).data == png(secret=False)
    assert SECRET in png(secret=True)


@pytest.mark.parametrize("data", [png(), grey_jpeg(), with_asides(grey_jpeg(), 6)])
def test_a_clean_picture_stays_as_it_is(data: bytes) -> None:
    once = clean_picture(data)
    assert clean_picture(once.data) == once
    assert picture_kind(once.data) == once.kind


@pytest.mark.parametrize("data", [png(), with_asides(grey_jpeg(), 3)[:-40]])
def test_every_cut_is_told(data: bytes) -> None:
    for end in range(len(data) - 1):
        if data[:end].endswith(b"\xff\xd9"):
            continue  # a whole JPEG; only its tail is cut
        try:
            found = clean_picture(data[:end])
        except BoardFileError:
            continue
        assert found.kind == "jpeg"
        assert b"\xff\xd9" in data[:end]


def test_a_second_size_in_a_jpeg_is_refused() -> None:
    """A viewer may take either: a limit on one would not hold for the other (ITU-T T.81, B.2.1)."""
    plain = grey_jpeg(64, 32)
    at = plain.index(b"\xff\xc0")
    (length,) = struct.unpack_from(">H", plain, at + 2)
    frame = plain[at : at + 2 + length]
    with pytest.raises(BoardFileError, match="two sizes"):
        clean_picture(plain[:at] + frame + plain[at:])


def test_limits_are_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "MAX_PICTURE_PIXELS", 10)
    with pytest.raises(BoardFileError, match="MAX_PICTURE_PIXELS"):
        clean_picture(png())
    monkeypatch.setattr(limits, "MAX_PICTURE_BYTES", 10)
    with pytest.raises(BoardFileError, match="MAX_PICTURE_BYTES"):
        clean_picture(png())
