# SPDX-License-Identifier: GPL-3.0-or-later
"""A board from a person's own photographs (``netgraph.photo-board/1``): places and traced nets.

Each picture has at least three points whose places on the board were measured; they carry pixels
to millimetres. Nets are lines as in a hand trace. What is not traced is not known.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, cast

import numpy as np

from netgraph import limits
from netgraph.errors import BoardCheckError, BoardFileError
from netgraph.formats.hand_trace import fill_board
from netgraph.formats.json_fields import Fields, json_object, lines_told, refuse
from netgraph.formats.plain_text import head_text
from netgraph.formats.trace_lines import Fact, fact_of
from netgraph.formats.trace_state import PadKey, PadPlace, TraceState
from netgraph.model.board import Board, Side, Source
from netgraph.model.builder import BoardBuilder
from netgraph.reasons import few_names, reason

FORMAT = "photo-board"
SCHEMA = "netgraph.photo-board/1"
_SIDES = ("top", "bottom")
LEAST_TRIANGLE = 0.02
"""Area of the points' triangle over the square of its longest side: flatter ones give no scale.
Our own choice."""
LEAST_SPREAD = 1.0, 0.1
"""How far apart, in pixels and in millimetres, points must lie to give a scale. Our own choice."""
PAD_NM = 300_000
"""Size of a pad that nobody measured: about that of a 0402 part, our own choice."""

Affine = tuple[float, float, float, float, float, float]


@dataclass(frozen=True)
class ScalePoint:
    """A point of a picture whose place on the board is known."""

    x_px: float
    y_px: float
    x_mm: float
    y_mm: float


@dataclass(frozen=True)
class Picture:
    """A photograph of one side, as it is seen; a size of 0 is not known."""

    side: Side
    file: str
    points: tuple[ScalePoint, ...] = ()
    sha256: str = ""
    width_px: int = 0
    height_px: int = 0

    def shows(self, x_px: float, y_px: float) -> bool:
        """Whether a pixel lies on the picture; yes where the size is not known."""
        if not (self.width_px and self.height_px):
            return True
        return 0 <= x_px <= self.width_px and 0 <= y_px <= self.height_px


@dataclass(frozen=True)
class PhotoPad:
    """A pad as seen on the picture of its side."""

    pin: str
    x_px: float
    y_px: float
    through: bool = False
    width_mm: float = 0.0
    height_mm: float = 0.0


@dataclass(frozen=True)
class PhotoPart:
    """A part as seen on the pictures."""

    ref: str
    side: Side = "top"
    value: str = ""
    package: str = ""
    pads: tuple[PhotoPad, ...] = ()
    x_px: float | None = None
    y_px: float | None = None
    """Where its middle was seen; None: the middle of its pads."""


@dataclass(frozen=True)
class PhotoBoard:
    """The whole file as a value."""

    name: str
    pictures: tuple[Picture, ...] = ()
    parts: tuple[PhotoPart, ...] = ()
    traced: tuple[str, ...] = field(default=())


class PhotoBoardReader:
    """Boards from photographs."""

    name = FORMAT
    title = "board from photographs (netgraph photo)"
    suffixes: tuple[str, ...] = (".photo.json", ".json")
    carries: tuple[str, ...] = ("places", "netlist as far as traced", "values", "sides")
    limits = "no drawn copper; what is not traced is not known, never absent"

    def sniff(self, head: bytes) -> float:
        """1.0 when the schema is named at the beginning."""
        pattern = rf'\s*\{{\s*"schema"\s*:\s*"{SCHEMA[:-1]}'
        return 1.0 if re.match(pattern, head_text(head)) else 0.0

    def read(self, data: bytes, *, file_name: str, sha256: str) -> Board:
        """See ``read_photo_board``."""
        return read_photo_board(data, file_name=file_name, sha256=sha256)


def scale_of(points: tuple[ScalePoint, ...]) -> Affine:
    """``a, b, c, d, e, f`` with x = a px + b py + c and y = d px + e py + f, in millimetres.

    With more than three points the best fit of least squares.

    Raises
    ------
    ValueError
        Fewer than three points, or they lie on a line or on one spot.

    Examples
    --------
    >>> corners = ScalePoint(0, 0, 0, 0), ScalePoint(100, 0, 10, 0), ScalePoint(0, 100, 0, 10)
    >>> [round(abs(one), 6) for one in scale_of(corners)]
    [0.1, 0.0, 0.0, 0.0, 0.1, 0.0]
    """
    if len(points) < 3:
        raise ValueError(f"{len(points)} points, three are needed")
    pixels = np.array([[p.x_px, p.y_px, 1.0] for p in points])
    places = np.array([[p.x_mm, p.y_mm] for p in points])
    for columns, least in zip((pixels[:, :2], places), LEAST_SPREAD, strict=True):
        spread = columns - columns.mean(axis=0)
        _, sizes, _ = np.linalg.svd(spread)
        if sizes[0] < least:
            raise ValueError("the points lie on one spot")
        if sizes[1] / sizes[0] < LEAST_TRIANGLE:
            raise ValueError("the points lie on a line")
    found, *_ = np.linalg.lstsq(pixels, places, rcond=None)
    a, b, c = found[:, 0].tolist()
    d, e, f = found[:, 1].tolist()
    return a, b, c, d, e, f


def place_of_pixel(scale: Affine, x_px: float, y_px: float) -> tuple[int, int]:
    """Nanometres of a pixel."""
    a, b, c, d, e, f = scale
    return round((a * x_px + b * y_px + c) * 1e6), round((d * x_px + e * y_px + f) * 1e6)


def parse_photo_board(data: bytes) -> PhotoBoard:
    """The file as a value.

    Raises
    ------
    BoardFileError
        No sound JSON, another schema, or a field that is not as it should be.
    """
    with lines_told(data):
        return _photo_board(json_object(data, SCHEMA))


def _photo_board(top: Fields) -> PhotoBoard:
    pictures: list[Picture] = []
    for place, one in top.items("pictures", 2, "one a side"):
        shot = Fields(one, place)
        points = []
        for at, point in shot.items("points", 1000, "1000"):
            p = Fields(point, at)
            points.append(
                ScalePoint(p.number("x_px"), p.number("y_px"), p.number("x_mm"), p.number("y_mm"))
            )
        side = cast("Side", shot.choice("side", _SIDES, "top"))
        if side in [two.side for two in pictures]:
            refuse(f"{place}.side", "stands twice", "one picture a side")
        pictures.append(
            Picture(
                side,
                shot.text("file", name=True),
                tuple(points),
                shot.text("sha256", ""),
                *(_pixels(shot, name) for name in ("width_px", "height_px")),
            )
        )
    parts = []
    for place, one in top.items("parts", limits.MAX_PARTS, "MAX_PARTS"):
        part = Fields(one, place)
        pads = []
        for at, two in part.items("pads", limits.MAX_PADS, "MAX_PADS"):
            pad = Fields(two, at)
            pads.append(
                PhotoPad(
                    _word(pad, "pin"),
                    pad.number("x_px"),
                    pad.number("y_px"),
                    pad.flag("through"),
                    pad.number("width_mm", 0.0),
                    pad.number("height_mm", 0.0),
                )
            )
        twice = _first_twice(pad.pin for pad in pads)
        if twice is not None:
            refuse(f"{place}.pads", f"hold pin {twice!r} twice", "each pin once")
        parts.append(
            PhotoPart(
                _word(part, "ref"),
                cast("Side", part.choice("side", _SIDES, "top")),
                part.text("value", ""),
                part.text("package", ""),
                tuple(pads),
                *_pixel(part),
            )
        )
    twice = _first_twice(part.ref for part in parts)
    if twice is not None:
        refuse("parts", f"hold {twice!r} twice", "each designator once")
    return PhotoBoard(
        top.text("name", "board", name=True),
        tuple(pictures),
        tuple(parts),
        top.texts("traced"),
    )


def _word(fields: Fields, key: str) -> str:
    """A name that is not empty: traced lines speak of it."""
    word = fields.text(key, name=True)
    if not word.strip():
        refuse(fields.at(key), "is empty", "a word such as C12, and 1 for a pin")
    return word


def _first_twice(names: Iterable[str]) -> str | None:
    counts = Counter(names)
    return next((name for name, count in counts.items() if count > 1), None)


def _pixels(shot: Fields, name: str) -> int:
    """A size of a picture; 0 where it is left out."""
    size = shot.number(name, 0.0)
    if not (size.is_integer() and 0 <= size <= limits.MAX_PICTURE_PIXELS):
        refuse(shot.at(name), f"is {size:g}", "a whole number of pixels")
    return int(size)


def _pixel(part: Fields) -> tuple[float, float] | tuple[None, None]:
    """Both or none of them."""
    if part.table.get("x_px") is None and part.table.get("y_px") is None:
        return None, None
    return part.number("x_px"), part.number("y_px")


def photo_table(photo: PhotoBoard) -> dict[str, Any]:
    """The file as a JSON value."""
    return {
        "schema": SCHEMA,
        "name": photo.name,
        "pictures": [
            {
                "side": one.side,
                "file": one.file,
                "sha256": one.sha256,
                **({"width_px": one.width_px, "height_px": one.height_px} if one.width_px else {}),
                "points": [vars(point) for point in one.points],
            }
            for one in photo.pictures
        ],
        "parts": [
            {
                "ref": part.ref,
                "side": part.side,
                "value": part.value,
                "package": part.package,
                **({} if part.x_px is None else {"x_px": part.x_px, "y_px": part.y_px}),
                "pads": [vars(pad) for pad in part.pads],
            }
            for part in photo.parts
        ],
        "traced": list(photo.traced),
    }


def write_photo_board(photo: PhotoBoard) -> str:
    """The file as text."""
    table = photo_table(photo)
    return json.dumps(table, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def read_photo_board(data: bytes, *, file_name: str = "", sha256: str = "") -> Board:
    """The partial board of a photo board file.

    Raises
    ------
    BoardFileError
        As in ``parse_photo_board``; a traced line that can't be understood, with its place.
    BoardCheckError
        Two traced lines contradict each other.
    """
    photo = parse_photo_board(data)
    return photo_board(photo, Source(FORMAT, file_name, sha256, "1"))


def photo_board(photo: PhotoBoard, source: Source) -> Board:
    """The partial board: every seen part, its pads where they lie, nets as traced."""
    state = photo_state(photo)
    builder = BoardBuilder(photo.name, source=source)
    try:
        _place(photo, state, builder)
        return fill_board(state, builder)
    except BoardCheckError as error:
        raise BoardFileError("file-malformed", error.message, hint=error.hint) from None


def photo_state(photo: PhotoBoard) -> TraceState:
    """What parts and traced lines say together, traced lines before assumed ones.

    Raises
    ------
    BoardFileError, BoardCheckError
        As in ``read_photo_board``.
    """
    state = TraceState()
    for fact in [*_seen(photo), *sorted(_traced(photo), key=lambda fact: fact.assumed)]:
        state.add(fact)
    return state


def _seen(photo: PhotoBoard) -> list[Fact]:
    """Parts and single pads as facts that join nothing yet."""
    return [
        Fact("part", 0, part=part.ref, value=part.value, package=part.package, side=part.side)
        for part in photo.parts
    ]


def _traced(photo: PhotoBoard) -> list[Fact]:
    found = []
    for index, line in enumerate(photo.traced):
        try:
            fact = fact_of(line, index + 1)
        except BoardFileError as error:
            raise BoardFileError(
                error.code,
                f"traced[{index}]: {error.message}",
                column=None,
                expected=error.expected,
            ) from None
        if fact is not None:
            found.append(fact)
    return found


def _place(photo: PhotoBoard, state: TraceState, builder: BoardBuilder) -> None:
    """Add all parts and pads with their places."""
    scales: dict[Side, Affine] = {}
    for shot in photo.pictures:
        if not shot.points:
            continue
        try:
            scales[shot.side] = scale_of(shot.points)
        except ValueError as error:
            refuse(f"the picture of the {shot.side}", f"has no scale: {error}", "three points")
    seen: dict[PadKey, tuple[PhotoPad, Side]] = {}
    for part in photo.parts:
        for pad in part.pads:
            seen.setdefault(state.see((part.ref, pad.pin)), (pad, part.side))
    missing: dict[str, None] = {}
    sizes_assumed = False
    for key in state.parent:
        ref = state.parts[key[0]].ref
        if key not in seen or seen[key][1] not in scales:
            missing[ref] = None
            continue
        pad, side = seen[key]
        x, y = place_of_pixel(scales[side], pad.x_px, pad.y_px)
        if max(abs(x), abs(y)) > limits.MAX_COORDINATE_NM:
            refuse(f"{ref}.{key[1]}", "lies beyond 2.147 m (MAX_COORDINATE_NM)", "a smaller scale")
        sizes_assumed |= not (pad.width_mm and pad.height_mm)
        state.places[key] = PadPlace(
            x,
            y,
            round(abs(pad.width_mm) * 1e6) or PAD_NM,
            round(abs(pad.height_mm) * 1e6) or PAD_NM,
            through=pad.through,
        )
    for part in photo.parts:
        number = state.index[part.ref]
        if part.x_px is not None and part.y_px is not None and part.side in scales:
            place = place_of_pixel(scales[part.side], part.x_px, part.y_px)
            if max(abs(one) for one in place) > limits.MAX_COORDINATE_NM:
                refuse(part.ref, "lies beyond 2.147 m (MAX_COORDINATE_NM)", "a smaller scale")
            state.part_places[number] = place
        elif not part.pads:
            missing[state.parts[number].ref] = None
    if not state.parts:
        return
    if missing:
        names = few_names(list(missing))
        builder.not_known.append(reason("some-pad-places", count=len(missing), names=names))
    else:
        builder.capabilities.add("has_positions")
    _tell_off_picture(photo, builder)
    if sizes_assumed:
        builder.not_known.append(reason("pad-sizes-assumed"))


def _tell_off_picture(photo: PhotoBoard, builder: BoardBuilder) -> None:
    """What no eye can have seen where the file puts it: another picture, or a slip."""
    shots = {one.side: one for one in photo.pictures}
    seen: list[tuple[str, Side, float, float]] = []
    for part in photo.parts:
        if part.x_px is not None and part.y_px is not None:
            seen.append((part.ref, part.side, part.x_px, part.y_px))
        seen += [(f"{part.ref}.{pad.pin}", part.side, pad.x_px, pad.y_px) for pad in part.pads]
    off = [name for name, side, x, y in seen if side in shots and not shots[side].shows(x, y)]
    off_points = [
        f"{one.side} {number}"
        for one in photo.pictures
        for number, point in enumerate(one.points, start=1)
        if not one.shows(point.x_px, point.y_px)
    ]
    if off_points:
        builder.not_known.append(reason("points-off-picture", names=few_names(off_points)))
    if off:
        builder.not_known.append(reason("pads-off-picture", count=len(off), names=few_names(off)))
