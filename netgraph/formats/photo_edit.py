# SPDX-License-Identifier: GPL-3.0-or-later
"""Change a photo board step by step: each function takes one and returns a new one.

The command ``netgraph photo`` and the page use the same functions. `checked_photo` says whether
the result can be kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import isfinite

from netgraph.errors import UsageError, visible
from netgraph.formats.json_fields import MOST
from netgraph.formats.photo_board import (
    PhotoBoard,
    PhotoPad,
    PhotoPart,
    Picture,
    ScalePoint,
    parse_photo_board,
    photo_board,
    photo_state,
    scale_of,
    write_photo_board,
)
from netgraph.formats.photo_lines import facts_of, lines_without, reworded
from netgraph.formats.plain_text import checked_name
from netgraph.formats.trace_lines import stray_mark
from netgraph.formats.trace_state import events_between
from netgraph.model.board import Board, Side, Source
from netgraph.reasons import Reason, reason


def checked_photo(photo: PhotoBoard) -> Board | None:
    """The partial board; None as long as nothing is in it.

    Raises
    ------
    BoardFileError, BoardCheckError
        It can't be kept: a field, a limit, a traced line, lines that contradict each other.
    """
    parse_photo_board(write_photo_board(photo).encode("utf-8", "surrogatepass"))
    if not photo.parts and not photo.traced:
        return None
    return photo_board(photo, Source("photo-board"))


def photo_events(before: PhotoBoard, after: PhotoBoard) -> tuple[Reason, ...]:
    """What a person should hear of a change: rails that became one, lines that went or changed."""
    events = list(events_between(photo_state(before), photo_state(after)))
    followed = after.parts != before.parts  # else a person took that very line away
    if followed and after.traced[: len(before.traced)] != before.traced:
        lost = len(before.traced) - len(after.traced)
        kept = min(len(before.traced), len(after.traced))
        if lost > 0:
            events.append(reason("photo-lines-gone", count=lost))
        elif any(before.traced[i] != after.traced[i] for i in range(kept)):
            events.append(reason("photo-lines-changed"))
    return tuple(events)


# -- pictures ------------------------------------------------------------------------------------


def with_picture(
    photo: PhotoBoard, side: Side, file: str, sha256: str, size: tuple[int, int] = (0, 0)
) -> PhotoBoard:
    """Another photograph of a side, of so many pixels; points that were set stay."""
    found = {one.side: one for one in photo.pictures}
    old = found.get(side) or Picture(side, file)
    width, height = size
    found[side] = replace(old, file=file, sha256=sha256, width_px=width, height_px=height)
    pictures = sorted(found.values(), key=lambda one: one.side == "bottom")
    return replace(photo, pictures=tuple(pictures))


def with_scale(photo: PhotoBoard, side: Side, points: Sequence[ScalePoint]) -> PhotoBoard:
    """The scale of a side's picture; no points at all take it away.

    Raises
    ------
    UsageError
        No picture of that side, or the points give no scale.
    """
    picture_of(photo, side)
    for one in points:
        _check_finite(one.x_px, one.y_px, one.x_mm, one.y_mm)
        _check_shown(photo, side, one.x_px, one.y_px)
    if points:
        try:
            scale_of(tuple(points))
        except ValueError as error:
            raise UsageError(
                f"no scale: {error}", hint="choose points far apart, not on a line"
            ) from None
    return replace(
        photo,
        pictures=tuple(
            replace(one, points=tuple(points)) if one.side == side else one
            for one in photo.pictures
        ),
    )


def picture_of(photo: PhotoBoard, side: Side) -> Picture:
    """The picture of a side.

    Raises
    ------
    UsageError
        There is none.
    """
    for one in photo.pictures:
        if one.side == side:
            return one
    raise UsageError(f"there is no picture of the {side}", hint="put one in first")


# -- parts ---------------------------------------------------------------------------------------


def with_part(
    photo: PhotoBoard,
    ref: str,
    *,
    side: Side | None = None,
    value: str | None = None,
    package: str | None = None,
    at: tuple[float, float] | None = None,
) -> PhotoBoard:
    """A part added, or more said of one; what is None stays as it is.

    Raises
    ------
    UsageError
        The designator could not be typed in a traced line, or the place is not on the picture.
    """
    found = {one.ref: one for one in photo.parts}
    old = found.get(ref) or PhotoPart(_word(ref, "designator"))
    _check_finite(*(at or ()))
    if at is not None:
        _check_shown(photo, side or old.side, *at)
    if side is not None and side != old.side and old.pads:
        raise UsageError(
            f"{visible(ref[:80])} has {len(old.pads)} pads marked on the picture of the {old.side}",
            hint="take them away first, then set them on the other picture",
        )
    x_px, y_px = at if at is not None else (old.x_px, old.y_px)
    found[old.ref] = replace(
        old,
        side=side or old.side,
        value=old.value if value is None else checked_name(value.strip(), "value"),
        package=old.package if package is None else checked_name(package.strip(), "package"),
        x_px=x_px,
        y_px=y_px,
    )
    return replace(photo, parts=tuple(found.values()))


def part_of(photo: PhotoBoard, ref: str) -> PhotoPart:
    """A part that is there.

    Raises
    ------
    UsageError
        It is not.
    """
    for one in photo.parts:
        if one.ref == ref:
            return one
    raise UsageError(f"there is no part {visible(ref[:80])!r} on the pictures")


def middle_of(part: PhotoPart) -> tuple[float, float] | None:
    """Where a part was seen: its own place, else the middle of its pads; None without both."""
    if part.x_px is not None and part.y_px is not None:
        return part.x_px, part.y_px
    if not part.pads:
        return None
    count = len(part.pads)
    return sum(one.x_px for one in part.pads) / count, sum(one.y_px for one in part.pads) / count


def with_part_moved(photo: PhotoBoard, ref: str, x_px: float, y_px: float) -> PhotoBoard:
    """A part set to another place; its pads go along.

    Raises
    ------
    UsageError
        There is no such part, or it or a pad would not lie on the picture.
    """
    part = part_of(photo, ref)
    _check_finite(x_px, y_px)
    middle = middle_of(part)
    dx, dy = (x_px - middle[0], y_px - middle[1]) if middle else (0.0, 0.0)
    _check_shown(photo, part.side, x_px, y_px)
    pads = tuple(replace(one, x_px=one.x_px + dx, y_px=one.y_px + dy) for one in part.pads)
    for one in pads:
        _check_shown(photo, part.side, one.x_px, one.y_px, f"{ref}.{one.pin}")
    moved = replace(part, pads=pads)
    if part.x_px is not None or not part.pads:
        moved = replace(moved, x_px=x_px, y_px=y_px)
    return _with(photo, ref, moved)


def with_part_named(photo: PhotoBoard, ref: str, new: str) -> PhotoBoard:
    """A part with another designator, in the traced lines too.

    Raises
    ------
    UsageError
        There is no such part, or the new designator is taken.
    """
    part = part_of(photo, ref)
    new = _word(new, "designator")
    if new == ref:
        return photo
    facts = facts_of(photo)
    spoken = {one.ref for one in photo.parts}
    spoken |= {pad[0] for fact in facts for pad in fact.pads} | {fact.part for fact in facts}
    spoken |= {fact.name for fact in facts if fact.kind == "named"}
    if new in spoken:
        raise UsageError(f"{visible(new[:80])} is another part already")

    def change(word: str) -> str:
        if word == ref:
            return new
        head, _, pin = word.rpartition(".")
        return f"{new}.{pin}" if head == ref else word

    changed = _with(photo, ref, replace(part, ref=new))
    return replace(changed, traced=tuple(reworded(line, change) for line in photo.traced))


def without_part(photo: PhotoBoard, ref: str) -> PhotoBoard:
    """A part taken away, with its pads and with what was traced of them."""
    part_of(photo, ref)
    parts = tuple(one for one in photo.parts if one.ref != ref)
    return lines_without(
        replace(photo, parts=parts), lambda word: word == ref or word.rpartition(".")[0] == ref
    )


# -- pads ----------------------------------------------------------------------------------------


def with_pad(photo: PhotoBoard, ref: str, pad: PhotoPad, *, side: Side | None = None) -> PhotoBoard:
    """A pad set on the picture of its part's side; a part that is not there yet is added.

    `side` is the picture on which it was seen.

    Raises
    ------
    UsageError
        The part sits on the other side, or the pad does not lie on the picture.
    """
    found = {one.ref: one for one in photo.parts}
    part = found.get(ref)
    if part is None:
        part = PhotoPart(_word(ref, "designator"), side or "top")
    elif side is not None and side != part.side:
        raise UsageError(
            f"{visible(ref[:80])} sits on the {part.side}, its pads are set on that picture",
            hint="change the part's side first",
        )
    pad = replace(pad, pin=_word(pad.pin, "pin"))
    _check_finite(pad.x_px, pad.y_px, pad.width_mm, pad.height_mm)
    _check_shown(photo, part.side, pad.x_px, pad.y_px)
    pads = {one.pin: one for one in part.pads} | {pad.pin: pad}
    found[part.ref] = replace(part, pads=tuple(pads.values()))
    return replace(photo, parts=tuple(found.values()))


def pad_of(photo: PhotoBoard, ref: str, pin: str) -> PhotoPad:
    """A pad that was set.

    Raises
    ------
    UsageError
        It was not.
    """
    for one in part_of(photo, ref).pads:
        if one.pin == pin:
            return one
    raise UsageError(f"{visible(f'{ref}.{pin}'[:80])} is not marked on the pictures")


def with_pad_moved(photo: PhotoBoard, ref: str, pin: str, x_px: float, y_px: float) -> PhotoBoard:
    """A pad set to another place; all else of it stays."""
    return with_pad(photo, ref, replace(pad_of(photo, ref, pin), x_px=x_px, y_px=y_px))


def next_pin(part: PhotoPart) -> str:
    """The pin that most likely comes next: the last one's number and one more, if it is free.

    Examples
    --------
    >>> next_pin(PhotoPart("U1", pads=(PhotoPad("A7", 0, 0),)))
    'A8'
    """
    if not part.pads:
        return "1"
    taken = {one.pin for one in part.pads}
    last = part.pads[-1].pin
    head = last.rstrip("0123456789")
    number = int(last[len(head) :][-9:] or 0) + 1
    while f"{head}{number}" in taken:
        number += 1
    return f"{head}{number}"


def with_pad_named(photo: PhotoBoard, ref: str, pin: str, new: str) -> PhotoBoard:
    """A pad with another pin number, in the traced lines too."""
    pad = pad_of(photo, ref, pin)
    new = _word(new, "pin")
    if new == pin:
        return photo
    part = part_of(photo, ref)
    spoken = {one for fact in facts_of(photo) for one in fact.pads}
    if new in [one.pin for one in part.pads] or (ref, new) in spoken:
        raise UsageError(f"{visible(f'{ref}.{new}'[:80])} is another pad already")
    pads = tuple(replace(pad, pin=new) if one.pin == pin else one for one in part.pads)
    changed = _with(photo, ref, replace(part, pads=pads))

    def change(word: str) -> str:
        return f"{ref}.{new}" if word == f"{ref}.{pin}" else word

    return replace(changed, traced=tuple(reworded(line, change) for line in photo.traced))


def without_pad(photo: PhotoBoard, ref: str, pin: str) -> PhotoBoard:
    """A pad taken away, with what was traced of it."""
    pad_of(photo, ref, pin)
    part = part_of(photo, ref)
    pads = tuple(one for one in part.pads if one.pin != pin)
    changed = _with(photo, ref, replace(part, pads=pads))
    return lines_without(changed, lambda word: word == f"{ref}.{pin}")


# -- small -----------------------------------------------------------------------------------------


def _with(photo: PhotoBoard, ref: str, part: PhotoPart) -> PhotoBoard:
    return replace(photo, parts=tuple(part if one.ref == ref else one for one in photo.parts))


def _check_finite(*numbers: float) -> None:
    if not all(isfinite(one) and abs(one) <= MOST for one in numbers):
        raise UsageError("a place or length is out of range", hint="numbers below 1e15")


def _check_shown(photo: PhotoBoard, side: Side, x_px: float, y_px: float, along: str = "") -> None:
    """A place that can have been seen; `along`: the pad that would come to lie there."""
    for one in photo.pictures:
        if one.side == side and not one.shows(x_px, y_px):
            place = f"pixel {x_px:g}, {y_px:g}, does"
            if along:
                place = f"{visible(along[:80])} would come to pixel {x_px:g}, {y_px:g}, which does"
            raise UsageError(
                f"{place} not lie on the picture of the {side}",
                hint=f"it has {one.width_px} by {one.height_px} pixels, counted from the upper "
                "left corner",
            )


def _word(text: str, what: str) -> str:
    """A designator or pin that can be typed in a traced line.

    Raises
    ------
    UsageError
        It is empty, holds a space, a colon, comma or quotation mark, or would read as something
        else there.
    BoardFileError
        It is too long or holds a control character.
    """
    word = checked_name(text.strip(), what)
    odd = not word or len(word.split()) != 1 or word[0] in "#~" or word == "=" or ":" in word
    if odd or stray_mark(word) is not None or (what == "pin" and "." in word):
        raise UsageError(
            f"{visible(word[:80])!r} is no {what}", hint="one word such as C12, and 1 for a pin"
        )
    return word
