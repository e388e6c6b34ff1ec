# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""The commands that make a photo board: new, scale, part, pad, trace, show."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from netgraph.cli.page import Page
from netgraph.cli.session import debug_option, json_option, talk, write, write_json, write_page
from netgraph.cli.wording import counted
from netgraph.errors import BoardFileError, UsageError
from netgraph.reasons import Reason

if TYPE_CHECKING:
    from netgraph.formats.photo_board import PhotoBoard, Picture
    from netgraph.model import Board
    from netgraph.model.board import Side

_SIDES = click.Choice(["top", "bottom"])


class WithNegativeNumbers(click.Command):
    """A command whose arguments may be numbers below zero: -5 is no option."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Let words like options pass where one of them is a number."""
        if any(re.fullmatch(r"-[0-9.][0-9.e+-]*", one) for one in args):
            ctx.ignore_unknown_options = True
        return super().parse_args(ctx, args)


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

    The pictures (PNG or JPEG) are looked through and stay where they are; their names, sizes and
    hashes are noted. FILE must not exist yet.
    """
    from netgraph.formats.photo_board import PhotoBoard, Picture
    from netgraph.formats.picture_file import clean_picture
    from netgraph.formats.reading import read_bytes

    if Path(file).exists():
        raise UsageError(f"{file} exists already", hint="name a new file")
    pictures = []
    sides: tuple[tuple[Side, str | None], ...] = (("top", top), ("bottom", bottom))
    for side, picture in sides:
        if picture is not None:
            data = read_bytes(Path(picture), "a picture")
            try:
                seen = clean_picture(data)
            except BoardFileError as error:
                error.path = picture
                raise
            sha256 = hashlib.sha256(data).hexdigest()
            size = seen.width_px, seen.height_px
            pictures.append(Picture(side, Path(picture).name, (), sha256, *size))
    board = PhotoBoard(name or Path(file).name.partition(".")[0], tuple(pictures))
    _save(file, board, as_json=as_json)


@photo.command("scale", cls=WithNegativeNumbers)
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
    from netgraph.formats.photo_board import ScalePoint
    from netgraph.formats.photo_edit import with_scale

    if len(numbers) % 4 or len(numbers) < 12:
        raise UsageError(
            f"{len(numbers)} numbers, a point takes four and three points are needed",
            hint="X_PX Y_PX X_MM Y_MM for each point",
        )
    points = tuple(ScalePoint(*numbers[i : i + 4]) for i in range(0, len(numbers), 4))
    _save(file, with_scale(_read(file), side, points), as_json=as_json)


@photo.command("part")
@click.argument("file")
@click.argument("ref")
@click.option("--side", type=_SIDES, help="Where it sits. Default: top.")
@click.option("--value", metavar="TEXT", help="Value or marking.")
@click.option("--package", metavar="TEXT", help="Package.")
@click.option("--at", nargs=2, type=float, metavar="X Y", help="Pixel of its middle.")
@click.option("--named", metavar="REF", help="Its new designator, in the traced lines too.")
@click.option("--gone", is_flag=True, help="Take it out, its pads and what was traced of them too.")
@json_option
@debug_option
def part(
    file: str,
    ref: str,
    side: Side | None,
    value: str | None,
    package: str | None,
    at: tuple[float, float] | None,
    named: str | None,
    gone: bool,
    as_json: bool,
) -> None:
    """Add a part, or say more of one.

    \b
    Examples:  netgraph photo part b.photo.json C12 --value 10uF --package 0603
               netgraph photo part b.photo.json C12 --named C15
    """
    from netgraph.formats.photo_edit import with_part, with_part_named, without_part

    board = _read(file)
    if gone:
        board = without_part(board, ref)
    else:
        if named is None or any(one is not None for one in (side, value, package, at)):
            board = with_part(board, ref, side=side, value=value, package=package, at=at)
        if named is not None:
            board = with_part_named(board, ref, named)
    _save(file, board, as_json=as_json)


@photo.command("pad", cls=WithNegativeNumbers)
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
    from netgraph.formats.photo_board import PhotoPad
    from netgraph.formats.photo_edit import with_pad

    ref, _, pin = pad.rpartition(".")
    if not ref or not pin:
        raise UsageError(f"{pad!r} is no pad", hint="REF.PIN such as C12.1")
    width, height = size or (0.0, 0.0)
    new_pad = PhotoPad(pin, x_px, y_px, through, width, height)
    _save(file, with_pad(_read(file), ref, new_pad), as_json=as_json)


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
    from netgraph.cli.trace import grown, named_line
    from netgraph.formats.photo_board import photo_state
    from netgraph.formats.photo_lines import with_line

    before = board = _read(file)
    if not lines and not undo:
        raise UsageError("say a line, or --undo", hint='"C12.1 L3.2 : VSYS"')
    undone = None
    if undo:
        if not board.traced:
            raise UsageError(f"{file}: there is no line to take away")
        undone = board.traced[-1]
        board = replace(board, traced=board.traced[:-1])
        talk(f"taken away: {undone}")
    for line in lines:
        with named_line(file, line):
            board = with_line(board, line)
    _save(file, board, before, undone, as_json=as_json)
    if not as_json:
        state = photo_state(board)
        for line in lines:
            write(f"{grown(state, line)}\n")


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


def _save(
    file: str,
    board: PhotoBoard,
    before: PhotoBoard | None = None,
    undone: str | None = None,
    *,
    as_json: bool,
) -> None:
    """Check the whole, write it, answer; a fault leaves the file as it was.

    What a person should hear of the change since `before` goes to stderr and into the JSON.
    """
    from netgraph.formats.photo_board import write_photo_board
    from netgraph.formats.photo_edit import checked_photo, photo_events
    from netgraph.formats.writing import save_text

    checked_photo(board)
    save_text(file, write_photo_board(board))
    events = () if before is None else photo_events(before, board)
    for one in events:
        talk(one.text)
    _answer(file, board, events, undone, as_json=as_json)


def _answer(
    file: str,
    board: PhotoBoard,
    events: Sequence[Reason] = (),
    undone: str | None = None,
    *,
    as_json: bool,
) -> None:
    from netgraph.contract.answers import answer
    from netgraph.contract.files import photo_fields
    from netgraph.formats.photo_edit import checked_photo

    found = checked_photo(board)
    if as_json:
        write_json(
            answer("photo") | {"file": Path(file).name} | photo_fields(board, found, events, undone)
        )
        return
    write_page(lambda page: _page(page, file, board, found))


def _page(page: Page, file: str, board: PhotoBoard, found: Board | None) -> None:
    pads = sum(len(one.pads) for one in board.parts)
    page.title(
        f"{Path(file).name}: {counted(len(board.parts), 'part')}, {counted(pads, 'pad')} marked, "
        f"{counted(len(board.traced), 'traced line')}"
    )
    for one in board.pictures:
        page.item(one.side, f"{one.file}, {_scale_words(one)}")
        for doubt in _doubts(one):
            page.item("-", doubt.text, style="unsure")
    if not board.pictures:
        page.item("pictures", "none")
    for why in () if found is None else found.not_known:
        page.item("-", why.text, style="unsure")


def _doubts(picture: Picture) -> tuple[Reason, ...]:
    """What speaks against a picture's scale; that a fourth point would help stands beside it."""
    from netgraph.formats.photo_scale import fit_scale, scale_doubts

    try:
        found = scale_doubts(fit_scale(picture.points), picture.side)
    except ValueError:
        return ()
    return tuple(one for one in found if one.code != "photo-three-points")


def _scale_words(picture: Picture) -> str:
    from netgraph.formats.photo_scale import fit_scale

    if not picture.points:
        return "no scale yet: netgraph photo scale"
    try:
        fit = fit_scale(picture.points)
    except ValueError as error:
        return f"no scale: {error}"
    if len(picture.points) == 3:
        return f"has its scale, {fit.mm_per_px_most:.3g} mm a pixel; a fourth point would check it"
    return f"has its scale, its {len(picture.points)} points fit within {fit.worst_mm:.2g} mm"
