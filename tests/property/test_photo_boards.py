# SPDX-License-Identifier: GPL-3.0-or-later
"""Random pictures never crash, random steps are always undone to the byte."""

from __future__ import annotations

import json
from collections.abc import Callable

from hypothesis import given
from hypothesis import strategies as st

from netgraph.errors import BoardFileError, NetgraphError
from netgraph.formats import photo_edit as edit
from netgraph.formats.photo_board import PhotoBoard, PhotoPad, photo_table
from netgraph.formats.photo_lines import with_line
from netgraph.formats.photo_undo import gone_back, way_back
from netgraph.formats.picture_file import clean_picture
from tests.service.photographs import SECRET, grey_jpeg, png, with_asides

REFS = st.sampled_from(["C1", "C2", "U1", "R9"])
PINS = st.sampled_from(["1", "2", "3"])
PIXELS = st.integers(0, 1000).map(float)
PADS = st.builds(lambda ref, pin: f"{ref}.{pin}", REFS, PINS)
LINES = st.one_of(
    st.lists(PADS, min_size=2, max_size=4).map(" ".join),
    st.builds(lambda pads, net: f"{' '.join(pads)} : {net}", st.lists(PADS, min_size=1), REFS),
    PADS.map(lambda pad: f"{pad} nc"),
    st.builds(lambda ref: f"{ref} = 10uF 0603", REFS),
)
Change = Callable[[PhotoBoard], PhotoBoard]


def _pad(ref: str, pin: str, x: float, y: float) -> Change:
    return lambda photo: edit.with_pad(photo, ref, PhotoPad(pin, x, y))


STEPS: st.SearchStrategy[Change] = st.one_of(
    st.builds(_pad, REFS, PINS, PIXELS, PIXELS),
    st.builds(lambda text: lambda photo: with_line(photo, text), LINES),
    st.builds(lambda ref: lambda photo: edit.without_part(photo, ref), REFS),
    st.builds(lambda ref, pin: lambda photo: edit.without_pad(photo, ref, pin), REFS, PINS),
    st.builds(lambda ref, new: lambda photo: edit.with_part_named(photo, ref, new), REFS, REFS),
    st.builds(
        lambda ref, pin, new: lambda photo: edit.with_pad_named(photo, ref, pin, new),
        REFS,
        PINS,
        PINS,
    ),
    st.builds(
        lambda ref, x, y: lambda photo: edit.with_part_moved(photo, ref, x, y),
        REFS,
        PIXELS,
        PIXELS,
    ),
)


@given(st.lists(STEPS, max_size=12))
def test_every_step_that_can_be_kept_is_undone(steps: list[Change]) -> None:
    photo = PhotoBoard("x")
    states, ways = [photo_table(photo)], []
    for step in steps:
        try:
            after = step(photo)
            edit.checked_photo(after)
            edit.photo_events(photo, after)
        except NetgraphError:
            continue
        now = json.loads(json.dumps(photo_table(after)))
        ways.append(way_back(now, states[-1]))
        states.append(now)
        photo = after
    table = states[-1]
    for way, before in zip(reversed(ways), reversed(states[:-1]), strict=True):
        table = table if way is None else gone_back(table, way)
        assert table == before


@given(st.sampled_from([png(), with_asides(grey_jpeg(), 6)]), st.data())
def test_a_damaged_picture_is_refused_or_clean(data: bytes, draw: st.DataObject) -> None:
    damaged = bytearray(data)
    for _ in range(draw.draw(st.integers(1, 4))):
        damaged[draw.draw(st.integers(0, len(damaged) - 1))] = draw.draw(st.integers(0, 255))
    try:
        found = clean_picture(bytes(damaged))
    except BoardFileError:
        return
    assert clean_picture(found.data) == found
    assert found.kind == "jpeg" or SECRET not in found.data


@given(st.binary(max_size=200), st.sampled_from([b"", b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff"]))
def test_no_bytes_crash(data: bytes, head: bytes) -> None:
    try:
        clean_picture(head + data)
    except BoardFileError:
        return
