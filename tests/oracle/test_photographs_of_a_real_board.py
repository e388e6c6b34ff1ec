# SPDX-License-Identifier: GPL-3.0-or-later
"""Real boards as if traced on photographs taken at a known turn and size: places and nets are those
of the board file itself.
"""

from __future__ import annotations

from math import cos, radians, sin
from pathlib import Path

import pytest

from netgraph.formats.photo_board import PhotoBoard, PhotoPad, ScalePoint, photo_board
from netgraph.formats.photo_edit import checked_photo, with_pad, with_part, with_picture
from netgraph.formats.photo_edit import with_scale as with_scale_of
from netgraph.formats.photo_lines import with_line
from netgraph.formats.reading import read_board
from netgraph.model import Board, Pad, Part
from netgraph.model.board import Side, Source

BOARDS = ("pico_ice_r2", "teres_main_c")
"""tinyvision-ai-inc/pico-ice (MIT) and OLIMEX/DIY-LAPTOP (Apache-2.0)."""
PX_PER_MM = 37.0
TURN = radians(8.0)
MOST_PADS = 400


def pixel(x_mm: float, y_mm: float, side: Side) -> tuple[float, float]:
    """A camera straight above, turned by 8 degrees; the bottom is seen mirrored."""
    x = -x_mm if side == "bottom" else x_mm
    return (
        PX_PER_MM * (x * cos(TURN) - y_mm * sin(TURN)) + 4000.0,
        PX_PER_MM * (x * sin(TURN) + y_mm * cos(TURN)) + 900.0,
    )


def pads_of(board: Board, part: Part) -> list[Pad]:
    return [board.pad(index) for index in board.pad_range(part)]


def photographed(board: Board) -> tuple[PhotoBoard, dict[tuple[str, str], tuple[int, int]]]:
    photo = PhotoBoard("real")
    for side in ("top", "bottom"):
        corners = [(80.0, 20.0), (180.0, 30.0), (95.0, 140.0)]
        points = [ScalePoint(*pixel(x, y, side), x, y) for x, y in corners]  # type: ignore[arg-type]
        photo = with_picture(photo, side, f"{side}.jpg", "")  # type: ignore[arg-type]
        photo = with_scale_of(photo, side, points)  # type: ignore[arg-type]
    places: dict[tuple[str, str], tuple[int, int]] = {}
    nets: dict[str, list[str]] = {}
    for part in board.parts:
        for pad in pads_of(board, part):
            word = f"{part.ref}.{pad.pin}"
            odd = (
                not part.ref
                or not pad.pin
                or "." in pad.pin
                or len(word.split()) != 1
                or part.ref[0] in "#~"
            )
            if odd or (part.ref, pad.pin) in places or len(places) >= MOST_PADS:
                continue
            at = pixel(pad.x_nm / 1e6, pad.y_nm / 1e6, part.side)
            photo = with_part(photo, part.ref, side=part.side)
            photo = with_pad(photo, part.ref, PhotoPad(pad.pin, *at), side=part.side)
            places[part.ref, pad.pin] = (pad.x_nm, pad.y_nm)
            if pad.net is not None:
                nets.setdefault(pad.net, []).append(word)
    for net, words in nets.items():
        if len(net.split()) == 1:
            photo = with_line(photo, f"{' '.join(words)} : {net}")
    checked_photo(photo)
    return photo, places


@pytest.mark.parametrize("name", BOARDS)
def test_places_and_nets_are_those_of_the_board_file(name: str, boards_dir: Path) -> None:
    real = read_board(boards_dir / name / "board.kicad_pcb")
    photo, places = photographed(real)
    board = photo_board(photo, Source("photo-board"))
    assert len(places) == MOST_PADS
    assert {part.side for part in board.parts} == {"top", "bottom"}
    found = {(part.ref, pad.pin): pad for part in board.parts for pad in pads_of(board, part)}
    worst = max(
        max(abs(found[key].x_nm - x), abs(found[key].y_nm - y)) for key, (x, y) in places.items()
    )
    # Doubles over a picture of 10 000 pixels: a nanometre or two.
    assert worst <= 5
    for part in real.parts:
        for pad in pads_of(real, part):
            if (part.ref, pad.pin) in places and pad.net and len(pad.net.split()) == 1:
                seen = found[part.ref, pad.pin]
                assert seen.net == pad.net
