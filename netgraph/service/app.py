# SPDX-License-Identifier: GPL-3.0-or-later
"""The application: data folder, guards, addresses, page; nothing here knows a board."""

from __future__ import annotations

import gzip
import logging
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from flask import Flask, Response, request
from pydantic import ValidationError
from werkzeug.exceptions import HTTPException

from netgraph.errors import NetgraphError
from netgraph.model.board import Board
from netgraph.service.api import Service, Table, register
from netgraph.service.boards import BOARDS
from netgraph.service.data_folder import open_data_folder
from netgraph.service.door import Door
from netgraph.service.guards import ALL, GUARDS, Gate, Tries
from netgraph.service.jobs import JobPool
from netgraph.service.openapi import openapi_table
from netgraph.service.page import page_routes
from netgraph.service.problems import problem_response
from netgraph.service.questions import QUESTIONS
from netgraph.service.reading import Intake
from netgraph.service.store import BoardStore
from netgraph.service.traces import TraceStore
from netgraph.service.tracing import TRACING
from netgraph.service.workbench import Workbench

TABLES: tuple[Table, ...] = (BOARDS, QUESTIONS, TRACING)
"""One blueprint each; a further noun is one more entry."""

GZIP_FROM_BYTES = 1000
LOG = logging.getLogger("netgraph.service")


@dataclass(frozen=True)
class Settings:
    """How one service runs.

    `guards` are the names of those that are on: all, outside of the test that switches them off.
    `on_code_spent` is called when a one-time code was used, so that a new one can be shown.
    """

    data: Path
    port: int
    host: str = "127.0.0.1"
    guards: frozenset[str] = ALL
    workers: int | None = None
    now: Callable[[], float] = time.monotonic
    on_code_spent: Callable[[], None] = field(default=lambda: None)


def create_app(settings: Settings, door: Door | None = None) -> Flask:
    """The service as a WSGI application.

    Raises
    ------
    DataFolderError
        The data folder is of a newer layout or can't be used.
    """
    app = Flask("netgraph.service", static_folder=None, template_folder=None)
    door = door or Door(settings.port)
    door.once = "code-once" in settings.guards
    gate = Gate(_hosts(settings), door, Tries(settings.now))
    app.extensions["netgraph"] = _service(settings)
    app.extensions["netgraph-door"] = door
    register(app, (*TABLES, openapi_table(TABLES)))
    app.register_blueprint(page_routes(gate, settings.on_code_spent))
    _guard(app, settings.guards, gate)
    app.after_request(_zipped)
    for kind in (NetgraphError, ValidationError, HTTPException, Exception):
        app.register_error_handler(kind, _failed)
    return app


def _service(settings: Settings) -> Service:
    store = BoardStore(open_data_folder(settings.data))
    pool = JobPool(settings.workers)
    intake = Intake(store, pool, settings.guards, store.free_bytes)
    traces = TraceStore(store, settings.guards)

    def read_again(sha256: str) -> Board:
        return traces.board(sha256) if store.is_traced(sha256) else intake.read_again(sha256)

    return Service(store, pool, intake, Workbench(store, read_again), traces)


def _hosts(settings: Settings) -> frozenset[str]:
    names = {"127.0.0.1", "localhost", "[::1]"}
    if settings.host not in names:
        names.add(f"[{settings.host}]" if ":" in settings.host else settings.host.lower())
    return frozenset(f"{name}:{settings.port}" for name in names)


def _guard(app: Flask, on: frozenset[str], gate: Gate) -> None:
    def before() -> None:
        for guard in GUARDS:
            if guard.before is not None and guard.name in on:
                guard.before(request, gate)

    def after(response: Response) -> Response:
        for guard in GUARDS:
            if guard.after is not None and guard.name in on:
                guard.after(request, response)
        return response

    app.before_request(before)
    app.after_request(after)


def _failed(error: Exception) -> Response:
    response = problem_response(error)
    if response.status_code >= 500 and not isinstance(error, NetgraphError):
        LOG.error("%s %s", request.method, request.path, exc_info=error)
    return response


def _zipped(response: Response) -> Response:
    accepted = "gzip" in request.headers.get("Accept-Encoding", "")
    kind = response.mimetype or ""
    text = kind.startswith("text/") or kind.endswith(("json", "javascript", "svg+xml"))
    if (
        accepted
        and text
        and response.status_code in (200, 201)
        and "Content-Encoding" not in response.headers
    ):
        data = response.get_data()
        if len(data) >= GZIP_FROM_BYTES:
            response.set_data(gzip.compress(data, 5, mtime=0))
            response.headers["Content-Encoding"] = "gzip"
            response.headers["Vary"] = "Accept-Encoding"
    return response
