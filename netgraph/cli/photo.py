# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""The commands that make a photo board: new, scale, part, pad, trace, show."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from netgraph.cli.page import Page
from netgraph.cli.session import debug_option, json_option, write_json, write_page
from netgraph.cli.wording import counted
from netgraph.errors import BoardFileError, UsageError

if TYPE_CHECKING:
    from netgraph.formats.photo_board import PhotoBoard
    from netgraph.model import Board
    from netgraph.model.board import Side

_SIDES = click.Choice(["top", "bottom"])


@click.group()
def photo() -> None:
    """How does a board come in by two photographs?

    A photo board is a JSON file: own photographs of both sides, three or more points of known
    place on each for the scale, parts and pads by their pixels, and nets as they are buzzed out.
    Every other command reads it. Pixels count from the picture's upper left corner; millimetres
    on the board run right and down as seen from the top, on the picture of the bottom too.

    \b
    Examples:  netgraph photo new b.photo.json --top top.jpg --bottom bottom.jpg
               netgraph photo scale b.photo.json top 0 0 0 0 900 0 60 0 0 600 0 40
               netgraph photo part b.photo.json C12 --value 10uF --package 0603
               netgraph photo pad b.photo.json C12.1 812 440
               netgraph photo trace b.photo.json "C12.1 L3.2 : VSYS"
    """


@photo.command("new")
@click.argument("file")
@click.option("--top", metavar="PICTURE", help="Photograph of the top.")
@click.option("--bottom", metavar="PICTURE", help="Photograph of the bottom.")
@click.option("--name", default="", metavar="TEXT", help="What the board is called.")
@json_option
@debug_option
def new(file: str, top: str | None, bottom: str | None, name: str, as_json: bool) -> None:
    """Start a photo board.

    \b
    Example:  netgraph photo new b.photo.json --top top.jpg --bottom bottom.jpg

    The pictures stay where they are; their names and hashes are noted. FILE must not exist yet.
    """
    from netgraph.formats.photo_board import PhotoBoard, Picture
    from netgraph.formats.reading import read_bytes

    if Path(file).exists():
        raise UsageError(f"{file} exists already", hint="name a new file")
    pictures = []
    sides: tuple[tuple[Side, str | None], ...] = (("top", top), ("bottom", bottom))
    for side, picture in sides:
        if picture is not None:
            data = read_bytes(Path(picture), "a picture")
            pictures.append(
                Picture(side, Path(picture).name, sha256=hashlib.sha256(data).hexdigest())
            )
    board = PhotoBoard(name or Path(file).name.partition(".")[0], tuple(pictures))
    _save(file, board, as_json=as_json)


@photo.command("scale")
@click.argument("file")
@click.argument("side", type=_SIDES)
@click.argument("numbers", nargs=-1, type=float, required=True)
@json_option
@debug_option
def scale(file: str, side: Side, numbers: tuple[float, ...], as_json: bool) -> None:
    """Say where three or more points of a picture lie on the board.

    NUMBERS are X_PX Y_PX X_MM Y_MM for each point. Choose points far apart and not on a line:
    corners, mounting holes. On the picture of the bottom give the places as seen from the top.

    \b
    Example:  netgraph photo scale b.photo.json top 0 0 0 0 900 0 60 0 0 600 0 40
    """
    from netgraph.formats.photo_board import ScalePoint, scale_of

    if len(numbers) % 4 or len(numbers) < 12:
        raise UsageError(
            f"{len(numbers)} numbers, a point takes four and three points are needed",
            hint="X_PX Y_PX X_MM Y_MM for each point",
        )
    points = tuple(ScalePoint(*numbers[i : i + 4]) for i in range(0, len(numbers), 4))
    try:
        scale_of(points)
    except ValueError as error:
        raise UsageError(f"no scale: {error}", hint="choose points far apart, not on a line") from (
            None
        )
    board = _read(file)
    if side not in [one.side for one in board.pictures]:
        raise UsageError(f"there is no picture of the {side}", hint="netgraph photo new")
    pictures = tuple(
        replace(one, points=points) if one.side == side else one for one in board.pictures
    )
    _save(file, replace(board, pictures=pictures), as_json=as_json)


@photo.command("part")
@click.argument("file")
@click.argument("ref")
@click.option("--side", type=_SIDES, help="Where it sits. Default: top.")
@click.option("--value", metavar="TEXT", help="Value or marking.")
@click.option("--package", metavar="TEXT", help="Package.")
@click.option("--gone", is_flag=True, help="Take the part and its pads out of the file.")
@json_option
@debug_option
def part(
    file: str,
    ref: str,
    side: Side | None,
    value: str | None,
    package: str | None,
    gone: bool,
    as_json: bool,
) -> None:
    """Add a part, or say more of one.

    \b
    Example:  netgraph photo part b.photo.json C12 --value 10uF --package 0603
    """
    from netgraph.formats.photo_board import PhotoPart

    board = _read(file)
    found = {one.ref: one for one in board.parts}
    if gone:
        if ref not in found:
            raise UsageError(f"there is no part {ref!r}", hint="netgraph photo show FILE")
        del found[ref]
    else:
        old = found.get(ref, PhotoPart(ref))
        found[ref] = replace(
            old,
            side=side or old.side,
            value=old.value if value is None else value,
            package=old.package if package is None else package,
        )
    _save(file, replace(board, parts=tuple(found.values())), as_json=as_json)


@photo.command("pad")
@click.argument("file")
@click.argument("pad")
@click.argument("x_px", type=float)
@click.argument("y_px", type=float)
@click.option("--through", is_flag=True, help="The pad goes through the board.")
@click.option("--size", nargs=2, type=float, metavar="W H", help="Millimetres, if measured.")
@json_option
@debug_option
def pad(
    file: str,
    pad: str,
    x_px: float,
    y_px: float,
    through: bool,
    size: tuple[float, float] | None,
    as_json: bool,
) -> None:
    """Say where a pad (REF.PIN) is on the picture of its part's side.

    \b
    Example:  netgraph photo pad b.photo.json C12.1 812 440
    """
    from netgraph.formats.photo_board import PhotoPad, PhotoPart

    ref, _, pin = pad.rpartition(".")
    if not ref or not pin:
        raise UsageError(f"{pad!r} is no pad", hint="REF.PIN such as C12.1")
    board = _read(file)
    parts = {one.ref: one for one in board.parts}
    old = parts.get(ref, PhotoPart(ref))
    width, height = size or (0.0, 0.0)
    new_pad = PhotoPad(pin, x_px, y_px, through, width, height)
    pads = {one.pin: one for one in old.pads} | {pin: new_pad}
    parts[ref] = replace(old, pads=tuple(pads.values()))
    _save(file, replace(board, parts=tuple(parts.values())), as_json=as_json)


@photo.command("trace")
@click.argument("file")
@click.argument("lines", nargs=-1)
@click.option("--undo", is_flag=True, help="Take the last line away.")
@json_option
@debug_option
def trace(file: str, lines: tuple[str, ...], undo: bool, as_json: bool) -> None:
    """Say which pads were found to be joined; lines as in netgraph trace.

    \b
    Example:  netgraph photo trace b.photo.json "C12.1 L3.2 U5.14 : VSYS"
    """
    board = _read(file)
    if not lines and not undo:
        raise UsageError("say a line, or --undo", hint='"C12.1 L3.2 : VSYS"')
    traced = board.traced[:-1] if undo else board.traced
    _save(file, replace(board, traced=(*traced, *lines)), as_json=as_json)


@photo.command("show")
@click.argument("file")
@json_option
@debug_option
def show(file: str, as_json: bool) -> None:
    """What does the photo board hold, and what is missing?

    \b
    Example:  netgraph photo show b.photo.json
    """
    _answer(file, _read(file), as_json=as_json)


# -- the file ----------------------------------------------------------------------------------


def _read(file: str) -> PhotoBoard:
    from netgraph.formats.photo_board import parse_photo_board
    from netgraph.formats.reading import read_bytes

    try:
        return parse_photo_board(read_bytes(Path(file), "a photo board"))
    except BoardFileError as error:
        error.path = error.path or file
        raise


def _save(file: str, board: PhotoBoard, *, as_json: bool) -> None:
    """Check the whole, write it, answer; a fault leaves the file as it was."""
    from netgraph.formats.photo_board import parse_photo_board, write_photo_board
    from netgraph.formats.writing import save_text

    text = write_photo_board(board)
    parse_photo_board(text.encode("utf-8", "surrogatepass"))
    _board(board)
    save_text(file, text)
    _answer(file, board, as_json=as_json)


def _board(photo_file: PhotoBoard) -> Board | None:
    """The partial board; None as long as no part is in it."""
    from netgraph.formats.photo_board import photo_board
    from netgraph.model import Source

    if not photo_file.parts and not photo_file.traced:
        return None
    return photo_board(photo_file, Source("photo-board"))


def _answer(file: str, board: PhotoBoard, *, as_json: bool) -> None:
    from netgraph.contract.answers import answer
    from netgraph.contract.files import photo_fields

    found = _board(board)
    if as_json:
        write_json(answer("photo") | {"file": Path(file).name} | photo_fields(board, found))
        return
    write_page(lambda page: _page(page, file, board, found))


def _page(page: Page, file: str, board: PhotoBoard, found: Board | None) -> None:
    pads = sum(len(one.pads) for one in board.parts)
    page.title(
        f"{Path(file).name}: {counted(len(board.parts), 'part')}, {counted(pads, 'pad')} marked, "
        f"{counted(len(board.traced), 'traced line')}"
    )
    for one in board.pictures:
        has = "has its scale" if len(one.points) >= 3 else "no scale yet: netgraph photo scale"
        page.item(one.side, f"{one.file}, {has}")
    if not board.pictures:
        page.item("pictures", "none")
    for why in () if found is None else found.not_known:
        page.item("-", why.text, style="unsure")
