# SPDX-License-Identifier: GPL-3.0-or-later
"""Addresses of boards, jobs and notes: put in, list, forget, correct."""

from __future__ import annotations

import io
from typing import Any

from flask import Response, request

from netgraph._version import __version__
from netgraph.assets import asset_path
from netgraph.contract import answers, models
from netgraph.errors import ServiceError, UsageError
from netgraph.formats.reading import readers
from netgraph.plan.goals import GOALS
from netgraph.roles.answer import NET_KINDS, ROLES
from netgraph.roles.notes import (
    KEEP_WORDS,
    BoardNotes,
    FeederNote,
    NetNote,
    PartNote,
)
from netgraph.roles.notes_check import check_notes, find_conflicts
from netgraph.service import forms
from netgraph.service.api import Table, json_bytes, service, to_bytes
from netgraph.service.data_folder import LAYOUT
from netgraph.service.jobs import Job
from netgraph.service.problems import problem_of
from netgraph.service.store import StoredBoard

Json = dict[str, Any]
BOARDS = Table("boards", [])
SAMPLE = "sample_boards/lark/lark.kicad_pcb"


@BOARDS.add("GET", "/health", answer=forms.Health)
def health() -> Json:
    """Is the service well?"""
    found = service()
    return {
        "version": __version__,
        "layout": LAYOUT,
        "free_bytes": found.store.free_bytes(),
        "boards": len(found.store.rows()),
        "workers": found.pool.workers,
    }


@BOARDS.add("GET", "/words", answer=forms.Words)
def words() -> Json:
    """The lists that a person may choose from."""
    return {
        "schema": "netgraph.words/1",
        "goals": list(GOALS),
        "roles": list(ROLES),
        "net_kinds": list(NET_KINDS),
        "keep": list(KEEP_WORDS),
        "suffixes": sorted({suffix for one in readers() for suffix in one.suffixes}),
    }


@BOARDS.add("GET", "/boards", query=forms.ListQuery, answer=forms.BoardList)
def list_boards(query: forms.ListQuery) -> Json:
    """The boards seen before."""
    rows = service().store.rows()
    part = rows[query.cursor : query.cursor + query.limit]
    end = query.cursor + len(part)
    return {
        "schema": "netgraph.boards/1",
        "boards": [row_fields(one) for one in part],
        "next": end if end < len(rows) else None,
    }


def row_fields(one: StoredBoard) -> Json:
    """A stored board as the list shows it."""
    store = service().store
    return {
        "sha256": one.sha256,
        "file": one.file_name,
        "bytes": one.bytes,
        "format": one.format,
        "name": one.name,
        "parts": one.parts,
        "pads": one.pads,
        "nets": one.nets,
        "opened": one.opened,
        "notes": store.has_notes(one.sha256),
        "traced": store.is_traced(one.sha256),
    }


@BOARDS.add(
    "POST",
    "/boards",
    query=forms.UploadQuery,
    body="file",
    answer=forms.Taken,
    status=201,
    also=(202,),
    fails=(413, 422, 503, 507),
)
def put_in(query: forms.UploadQuery) -> tuple[Json, int]:
    """Put a board file in, or an assembly with its board files."""
    found = service()
    uploads = request.files.getlist("file")
    refs = tuple(one.strip() for one in query.unplug.split(",") if one.strip())
    if refs and len(uploads) < 2:
        raise UsageError(
            "unplug is for the files of an assembly, put in together",
            hint="unplugged = true in the assembly file says it for good",
        )
    upload = uploads[0] if uploads else None
    if len(uploads) > 1:
        files = [(one.filename or "", one.stream) for one in uploads]
        job = found.intake.take_several(files, refs, found.workbench)
    elif upload is not None:
        job = found.intake.take(upload.stream, upload.filename or query.name, found.workbench)
    else:
        job = found.intake.take(request.stream, query.name, found.workbench)
    return _taken(job, query.wait)


@BOARDS.add(
    "POST",
    "/boards/sample",
    query=forms.WaitQuery,
    answer=forms.Taken,
    status=201,
    also=(202,),
    fails=(503, 507),
)
def put_sample_in(query: forms.WaitQuery) -> tuple[Json, int]:
    """Put the sample board in."""
    path = asset_path(SAMPLE)
    found = service()
    job = found.intake.take(io.BytesIO(path.read_bytes()), path.name, found.workbench)
    return _taken(job, query.wait)


def _taken(job: Job, wait: float) -> tuple[Json, int]:
    if wait:
        job.wait(wait)
    if job.error is not None:
        raise job.error
    taken: Json = {"schema": "netgraph.upload/1", "board": None, "job": None}
    if job.result is not None and job.state == "done":
        return taken | {"board": row_fields(service().store.row(job.result))}, 201
    return taken | {"job": _job(job)}, 202


@BOARDS.add("DELETE", "/boards/{sha256}", status=204, fails=(404,))
def forget(sha256: str) -> tuple[Json, int]:
    """Forget a board, its notes too."""
    service().store.forget(sha256)
    service().workbench.forget(sha256)
    return {}, 204


# -- jobs --------------------------------------------------------------------------------------


@BOARDS.add("GET", "/jobs/{job_id}", query=forms.WaitQuery, answer=forms.JobAnswer, fails=(404,))
def job(job_id: str, query: forms.WaitQuery) -> Json:
    """How far is it?"""
    found = service().pool.job(job_id)
    if query.wait:
        found.wait(query.wait)
    return _job(found)


@BOARDS.add("DELETE", "/jobs/{job_id}", answer=forms.JobAnswer, fails=(404,))
def stop_job(job_id: str) -> Json:
    """Stop it."""
    found = service().pool.stop(job_id)
    found.wait(2.0)
    return _job(found)


def _job(one: Job) -> Json:
    return {
        "schema": "netgraph.job/1",
        "id": one.id,
        "what": one.what,
        "state": one.state,
        "stage": one.stage,
        "progress": one.done_share,
        "seconds": round(one.seconds, 3),
        "board": one.result,
        "problem": None if one.error is None else problem_of(one.error, f"/api/v1/jobs/{one.id}"),
    }


# -- notes -------------------------------------------------------------------------------------


@BOARDS.add("GET", "/boards/{sha256}/notes", answer=models.Notes, fails=(404, 422))
def notes(sha256: str) -> Response:
    """What does a person know better?"""
    return _notes(sha256)


@BOARDS.add(
    "PUT",
    "/boards/{sha256}/notes",
    body=forms.NotesBody,
    answer=models.Notes,
    fails=(404, 412, 422, 428),
    headers=("If-Match",),
)
def change_notes(sha256: str, body: forms.NotesBody) -> Response:
    """Change the notes; If-Match holds the ETag of those that the change is based on."""
    found = service()
    board = found.workbench.board(sha256)
    expected = request.headers.get("If-Match")
    if expected is None:
        raise ServiceError(
            "match-needed",
            428,
            "say which state of the notes the change is based on",
            hint="If-Match with the ETag of GET",
        )
    new = _notes_of(body)
    found.store.change_notes(sha256, board, new, expected=expected.strip().strip('"'))
    return _notes(sha256)


def _notes_of(body: forms.NotesBody) -> BoardNotes:
    return BoardNotes(
        {
            one.ref: part_note
            for one in body.parts
            if (
                part_note := PartNote(
                    one.role,
                    one.fitted,
                    one.keep,
                    one.why,
                    None if one.enabled_by is None else tuple(one.enabled_by),
                    tuple(one.needs_first),
                )
            )
            != PartNote()
        },
        {
            one.net: note
            for one in body.nets
            if (
                note := NetNote(
                    one.kind,
                    one.nominal_volts,
                    None
                    if one.feeders is None
                    else tuple(FeederNote(f.ref, f.from_net) for f in one.feeders),
                    one.always_on,
                    one.why,
                )
            )
            != NetNote()
        },
        asked=frozenset((one.about, one.target) for one in body.asked),
    )


def _notes(sha256: str) -> Response:
    found = service()
    board = found.workbench.board(sha256)
    stored = found.store.notes(sha256)
    fields = answers.notes_fields(
        board,
        stored.notes,
        check_notes(board, stored.notes),
        find_conflicts(board, stored.notes),
        exists=stored.exists,
    )
    name = found.store.notes_name(sha256) if stored.exists else None
    response = json_bytes(to_bytes(answers.answer("notes", board, name) | fields))
    response.set_etag(stored.tag)
    return response
