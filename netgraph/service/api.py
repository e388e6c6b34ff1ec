# SPDX-License-Identifier: GPL-3.0-or-later
"""One table of addresses: it makes the Flask routes and, in `openapi`, their description.

A view takes what was asked, already checked by its form, and returns a dictionary.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, get_origin

from flask import Blueprint, Flask, Response, current_app, request
from pydantic import BaseModel

from netgraph.contract.answers import answer as head
from netgraph.errors import ServiceError
from netgraph.service.jobs import JobPool
from netgraph.service.reading import Intake
from netgraph.service.store import BoardStore
from netgraph.service.traces import TraceStore
from netgraph.service.workbench import Desk, Workbench

PREFIX = "/api/v1"
Json = dict[str, Any]
Method = Literal["GET", "POST", "PUT", "DELETE"]


@dataclass
class Service:
    """All that a view may use."""

    store: BoardStore
    pool: JobPool
    intake: Intake
    workbench: Workbench
    traces: TraceStore


@dataclass(frozen=True)
class Route:
    """One address with one method."""

    method: Method
    path: str
    name: str
    summary: str
    view: Callable[..., Any]
    query: type[BaseModel] | None = None
    body: type[BaseModel] | Literal["file"] | None = None
    answer: type[BaseModel] | Literal["picture", "json"] | None = None
    status: int = 200
    also: tuple[int, ...] = ()
    """Further statuses with the same form of answer."""
    fails: tuple[int, ...] = ()
    """Statuses of its own problems, beside those that all addresses have."""
    headers: tuple[str, ...] = ()
    """Request headers that it looks at."""


def service() -> Service:
    """The service of the running application."""
    found = current_app.extensions["netgraph"]
    assert isinstance(found, Service)  # noqa: S101 - put there by create_app
    return found


@dataclass
class Table:
    """The addresses of one blueprint."""

    name: str
    routes: list[Route]

    def add(self, method: Method, path: str, **told: Any) -> Callable[[Callable[..., Any]], Any]:
        """Decorator: the function answers this address; its first line is the summary."""

        def keep(view: Callable[..., Any]) -> Callable[..., Any]:
            summary = (view.__doc__ or "").strip().splitlines()[0]
            self.routes.append(Route(method, path, view.__name__, summary, view, **told))
            return view

        return keep

    def question(self, path: str, schema: str, **told: Any) -> Callable[[Callable[..., Any]], Any]:
        """Decorator: a GET below one board; the view gets its desk and returns the fields.

        The answer is kept for as long as the board's notes stay as they are.
        """

        def keep(fields: Callable[..., Json]) -> Callable[..., Json]:
            def view(sha256: str, query: BaseModel | None = None) -> Response:
                work = service().workbench
                desk = work.desk(sha256)
                asked = f"{schema} {query.model_dump_json() if query is not None else ''}"
                return json_bytes(work.answer(desk, asked, lambda: make(desk, query)))

            def make(desk: Desk, query: BaseModel | None) -> bytes:
                told_fields = fields(desk) if query is None else fields(desk, query)
                return to_bytes(head(schema, desk.board, desk.notes_name) | told_fields)

            view.__doc__ = fields.__doc__
            view.__name__ = fields.__name__
            self.add("GET", f"/boards/{{sha256}}{path}", fails=(404, 422), **told)(view)
            return fields

        return keep

    def blueprint(self) -> Blueprint:
        """The Flask side of the table."""
        made = Blueprint(self.name, __name__, url_prefix=PREFIX)
        for route in self.routes:
            rule = re.sub(r"\{(\w+)\}", r"<string:\1>", route.path)
            made.add_url_rule(rule, route.name, _called(route), methods=[route.method])
        return made


def _called(route: Route) -> Callable[..., Response]:
    def call(**names: str) -> Response:
        told: Json = dict(names)
        if route.query is not None:
            told["query"] = route.query.model_validate(_asked(route.query))
        if isinstance(route.body, type):
            told["body"] = route.body.model_validate(_sent())
        found = route.view(**told)
        if isinstance(found, Response):
            return found
        fields, status = found if isinstance(found, tuple) else (found, route.status)
        return json_bytes(to_bytes(fields) if status != 204 else b"", status)

    return call


def _asked(form: type[BaseModel]) -> Json:
    """The query's fields; a repeated one is a list where the form has a list."""
    found: Json = {}
    for name, values in request.args.lists():
        field = form.model_fields.get(name)
        many = field is not None and get_origin(field.annotation) is list
        if not many and len(values) > 1:
            raise ServiceError("body-invalid", 400, f"{name[:80]} is given more than once")
        found[name] = values if many else values[0]
    return found


def _sent() -> Any:
    try:
        return json.loads(request.get_data(cache=False))
    except (ValueError, RecursionError):
        raise ServiceError("body-invalid", 400, "the body is no JSON") from None


def to_bytes(fields: Json) -> bytes:
    """JSON with its keys in the order of the contract."""
    text = json.dumps(fields, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    # A lone surrogate from a damaged file has no UTF-8; its escape says the same.
    try:
        return text.encode("utf-8")
    except UnicodeEncodeError:
        return json.dumps(fields, ensure_ascii=True, allow_nan=False).encode("ascii")


def json_bytes(data: bytes, status: int = 200) -> Response:
    """A JSON answer."""
    if status == 204:
        return Response(status=204)
    return Response(data, status=status, content_type="application/json")


def register(app: Flask, tables: tuple[Table, ...]) -> None:
    """Put all tables into an application."""
    for table in tables:
        app.register_blueprint(table.blueprint())
