# SPDX-License-Identifier: GPL-3.0-or-later
"""Addresses of boards that are traced on their photographs: start, pictures, steps, undo, file."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from math import isfinite
from typing import Any

from flask import Response, request

from netgraph import limits
from netgraph.contract.files import net_rows
from netgraph.errors import BoardFileError, ServiceError, UsageError
from netgraph.formats import photo_edit as edit
from netgraph.formats.photo_board import (
    Affine,
    PhotoBoard,
    PhotoPad,
    PhotoPart,
    Picture,
    ScalePoint,
    parse_photo_board,
    photo_state,
    place_of_pixel,
    scale_of,
)
from netgraph.formats.photo_lines import with_line, without_line
from netgraph.formats.photo_scale import (
    fit_scale,
    pixel_of_place,
    points_of_distances,
    scale_doubts,
)
from netgraph.formats.picture_file import picture_kind
from netgraph.formats.trace_state import PadKey, TraceState
from netgraph.model.board import Side
from netgraph.reasons import Reason
from netgraph.service import trace_forms as forms
from netgraph.service.api import Table, service
from netgraph.service.boards import row_fields
from netgraph.service.traces import Did, TracedBoard

Json = dict[str, Any]
TRACING = Table("tracing", [])
FAILS = (404, 409, 422, 507)


@TRACING.add(
    "POST", "/traces", body=forms.StartBody, answer=forms.TraceAnswer, status=201, fails=FAILS
)
def start_trace(body: forms.StartBody) -> Json:
    """Start a photo board, or go on with a stored one."""
    found = service()
    found.intake.check_disk()
    photo = None
    if body.from_board is not None:
        row = found.store.row(body.from_board)
        if row.format != "photo-board":
            raise ServiceError("usage", 400, f"{row.file_name} is no photo board")
        if found.store.is_traced(row.sha256):
            raise ServiceError("usage", 400, f"{row.file_name} is traced here already")
        if row.bytes > limits.MAX_TRACED_BYTES:
            raise BoardFileError(
                "limit-exceeded",
                f"{row.bytes} bytes, at most {limits.MAX_TRACED_BYTES} (MAX_TRACED_BYTES)",
            )
        # Its file went through the reader's child process when it was put in.
        photo = parse_photo_board(found.store.data(row.sha256))
    name = body.name or ("" if photo is None else photo.name)
    return _answer(found.traces.start(name, photo))


@TRACING.add("GET", "/boards/{sha256}/trace", answer=forms.TraceAnswer, fails=(404, 422))
def trace_now(sha256: str) -> Json:
    """How far is the tracing?"""
    return _answer(sha256)


@TRACING.add(
    "POST",
    "/boards/{sha256}/trace",
    body=forms.StepBody,
    answer=forms.TraceAnswer,
    fails=FAILS,
)
def take_step(sha256: str, body: forms.StepBody) -> Json:
    """Take one step: scale, part, pad, traced line, or a change of them."""
    found = service()
    found.intake.check_disk()
    did, change = _change(body.step)
    now, events = found.traces.change(sha256, body.revision, did, change)
    return _answer(sha256, now, events=events)


@TRACING.add(
    "POST",
    "/boards/{sha256}/trace/undo",
    body=forms.UndoBody,
    answer=forms.TraceAnswer,
    fails=FAILS,
)
def undo_step(sha256: str, body: forms.UndoBody) -> Json:
    """Take the last steps back."""
    found = service()
    now, events, undone = found.traces.undo(sha256, body.revision, body.count)
    return _answer(sha256, now, events=events, undone=undone)


@TRACING.add(
    "POST",
    "/boards/{sha256}/pictures/{side}",
    query=forms.PictureQuery,
    body="file",
    answer=forms.TraceAnswer,
    fails=(*FAILS, 413),
)
def put_picture(sha256: str, side: str, query: forms.PictureQuery) -> Json:
    """Put a photograph in; what is beside the picture is left out."""
    found = service()
    where = _side(side)
    found.traces.load(sha256)
    upload = request.files.get("file")
    stream = request.stream if upload is None else upload.stream
    name = query.name if upload is None else upload.filename or query.name
    data = found.intake.whole(stream)
    now, events = found.traces.put_picture(sha256, query.revision, where, name, data)
    return _answer(sha256, now, events=events)


@TRACING.add("GET", "/boards/{sha256}/pictures/{side}", answer="picture", fails=(404, 422))
def picture(sha256: str, side: str) -> Response:
    """The photograph of a side."""
    data = service().traces.picture(sha256, _side(side))
    return Response(data, content_type=f"image/{picture_kind(data)}")


@TRACING.add("GET", "/boards/{sha256}/trace/file", answer="json", fails=(404, 422))
def trace_file(sha256: str) -> Response:
    """The photo board as a file for the command line."""
    data = service().traces.file(sha256)
    return Response(data, content_type="application/json")


def _side(told: str) -> Side:
    if told == "top":
        return "top"
    if told == "bottom":
        return "bottom"
    raise ServiceError("no-such-address", 404, "a board has a top and a bottom")


# -- steps ---------------------------------------------------------------------------------------


def _change(step: Any) -> tuple[Did, Callable[[PhotoBoard], PhotoBoard]]:
    """What a step is called, and the function of `photo_edit` that takes it."""
    did = (step.do, _about(step))
    if isinstance(step, forms.ScaleStep):
        points = [ScalePoint(p.x_px, p.y_px, p.x_mm, p.y_mm) for p in step.points]
        return did, lambda photo: edit.with_scale(photo, step.side, points)
    if isinstance(step, forms.DistanceStep):
        return did, lambda photo: _by_distances(photo, step)
    if isinstance(step, forms.PartStep):
        at = None if step.at is None else (step.at.x_px, step.at.y_px)
        return did, lambda photo: edit.with_part(
            photo, step.ref, side=step.side, value=step.value, package=step.package, at=at
        )
    if isinstance(step, forms.PadStep):
        pad = PhotoPad(step.pin, step.x_px, step.y_px, step.through, step.width_mm, step.height_mm)
        return did, lambda photo: edit.with_pad(photo, step.ref, pad, side=step.side)
    changes: dict[str, Callable[[PhotoBoard], PhotoBoard]] = {
        "part-moved": lambda p: edit.with_part_moved(p, step.ref, step.x_px, step.y_px),
        "part-named": lambda p: edit.with_part_named(p, step.ref, step.new),
        "part-gone": lambda p: edit.without_part(p, step.ref),
        "pad-moved": lambda p: edit.with_pad_moved(p, step.ref, step.pin, step.x_px, step.y_px),
        "pad-named": lambda p: edit.with_pad_named(p, step.ref, step.pin, step.new),
        "pad-gone": lambda p: edit.without_pad(p, step.ref, step.pin),
        "line": lambda p: with_line(p, step.text),
        "line-gone": lambda p: without_line(p, step.number, step.text),
    }
    return did, changes[step.do]


def _about(step: Any) -> str:
    if hasattr(step, "pin"):
        return f"{step.ref}.{step.pin}"
    for name in ("ref", "text", "side"):
        if hasattr(step, name):
            return str(getattr(step, name))
    return ""


def _by_distances(photo: PhotoBoard, step: forms.DistanceStep) -> PhotoBoard:
    other = [one.points for one in photo.pictures if one.side != step.side]
    first, second, third = ((one.x_px, one.y_px) for one in step.pixels)
    ab, bc, ca = step.distances_mm
    try:
        points = points_of_distances(
            (first, second, third), (ab, bc, ca), step.side, other[0] if other else ()
        )
    except ValueError as error:
        raise UsageError(f"no scale: {error}") from None
    return edit.with_scale(photo, step.side, points)


# -- the answer ----------------------------------------------------------------------------------


def _answer(
    identity: str,
    now: TracedBoard | None = None,
    *,
    events: Iterable[Reason] = (),
    undone: Iterable[Did] = (),
) -> Json:
    found = service()
    now = now or found.traces.load(identity)
    state = photo_state(now.photo)
    net_of = {pad: state.net_name(root) for root, pads in state.nets().items() for pad in pads}
    marked = {(part.ref, pad.pin) for part in now.photo.parts for pad in part.pads}
    seen = {state.find(pad) for pad in marked}
    scales = {one.side: scale_of(one.points) for one in now.photo.pictures if one.points}
    last = now.steps[-1]["did"] if now.steps else None
    return {
        "schema": "netgraph.photo-trace/1",
        "board": row_fields(found.store.row(identity)),
        "revision": now.revision,
        "name": now.photo.name,
        "pictures": [_picture(one, now) for one in now.photo.pictures],
        "parts": [_part(one, state, net_of, scales) for one in now.photo.parts],
        "traced": list(now.photo.traced),
        "nets": net_rows(state),
        "unmarked": [state.shown(pad) for pad in state.parent if pad not in seen],
        "steps": len(now.steps),
        "last": None if last is None else {"do": str(last[0]), "name": str(last[1])},
        "undone": [{"do": do, "name": name} for do, name in undone],
        "events": [one.text for one in events],
    }


def _picture(one: Picture, now: TracedBoard) -> Json:
    fit = fit_scale(one.points) if one.points else None
    size = now.sizes.get(one.sha256)
    return {
        "side": one.side,
        "file": one.file,
        "sha256": one.sha256,
        "here": size is not None,
        "width_px": None if size is None else size[0],
        "height_px": None if size is None else size[1],
        "points": [
            {**vars(point), "off_mm": 0.0 if fit is None else round(fit.off_mm[i], 6)}
            for i, point in enumerate(one.points)
        ],
        "scale": None
        if fit is None
        else {
            "affine": list(fit.affine),
            "mm_per_px_least": fit.mm_per_px_least,
            "mm_per_px_most": fit.mm_per_px_most,
            "worst_mm": round(fit.worst_mm, 6),
            "warnings": [why.text for why in scale_doubts(fit, one.side)],
        },
    }


def _part(
    part: PhotoPart,
    state: TraceState,
    net_of: dict[PadKey, str],
    scales: dict[Side, Affine],
) -> Json:
    middle = edit.middle_of(part) or (None, None)
    pads = []
    for pad in part.pads:
        key = state.find((part.ref, pad.pin))
        told: Json = {"net": None, "alone": False}
        if key is not None:
            told = {"net": net_of.get(key), "alone": key in state.lonely}
        pads.append({**vars(pad), **told, "across": _across(pad, part.side, scales)})
    return {
        "ref": part.ref,
        "side": part.side,
        "value": part.value,
        "package": part.package,
        "x_px": middle[0],
        "y_px": middle[1],
        "pads": pads,
        "next_pin": edit.next_pin(part),
    }


def _across(pad: PhotoPad, side: Side, scales: dict[Side, Affine]) -> Json | None:
    if not pad.through or len(scales) < 2:
        return None
    x_nm, y_nm = place_of_pixel(scales[side], pad.x_px, pad.y_px)
    other = scales["bottom" if side == "top" else "top"]
    try:
        x_px, y_px = pixel_of_place(other, x_nm / 1e6, y_nm / 1e6)
    except ZeroDivisionError:
        return None
    if not (isfinite(x_px) and isfinite(y_px)):
        return None
    return {"x_px": round(x_px, 1), "y_px": round(y_px, 1)}
