# SPDX-License-Identifier: GPL-3.0-or-later
"""The description of all addresses (OpenAPI 3.1), put together from the tables that make them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from netgraph._version import __version__
from netgraph.service.api import PREFIX, Route, Table
from netgraph.service.forms import Problem

Json = dict[str, Any]
Refs = Mapping[Any, Any]
"""Form and mode -> reference to its schema."""

ALWAYS = {
    400: "The question is wrong.",
    401: "No cookie and no token.",
    403: "A write that does not come from the page.",
    421: "Another name than the service's own.",
    429: "Too many wrong tries.",
}
OF_STATUS = {
    **ALWAYS,
    404: "No such board, net, part, goal or job.",
    409: "The input contradicts itself, or was changed in another window.",
    412: "Changed meanwhile.",
    413: "Too large.",
    415: "Not JSON.",
    422: "The file or the notes can't be read, or lack what the question needs.",
    428: "If-Match is missing.",
    503: "Too many jobs are waiting.",
    507: "The disk is nearly full.",
}


def openapi_table(tables: tuple[Table, ...]) -> Table:
    """The address of the description itself."""
    table = Table("openapi", [])
    made: list[Json] = []

    @table.add("GET", "/openapi.json")
    def openapi() -> Json:
        """The description of all addresses."""
        if not made:
            made.append(openapi_document(tables))
        return made[0]

    return table


def openapi_document(tables: tuple[Table, ...]) -> Json:
    """The whole document."""
    routes = [route for table in tables for route in table.routes]
    answers = {one.answer for one in routes if isinstance(one.answer, type)} | {Problem}
    bodies = {one.body for one in routes if isinstance(one.body, type)}
    modes: list[tuple[type[BaseModel], Any]] = [
        *((one, "serialization") for one in sorted(answers, key=lambda one: one.__name__)),
        *((one, "validation") for one in sorted(bodies, key=lambda one: one.__name__)),
    ]
    refs, schemas = models_json_schema(modes, ref_template="#/components/schemas/{model}")
    paths: Json = {}
    for table in tables:
        for route in table.routes:
            told = _operation(route, table.name, refs)
            paths.setdefault(PREFIX + route.path, {})[route.method.lower()] = told
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "board-netgraph",
            "version": __version__,
            "summary": "Answers about a dead board, on this computer alone.",
            "license": {"name": "GPL-3.0-or-later", "identifier": "GPL-3.0-or-later"},
        },
        "security": [{"bearer": []}, {"cookie": []}],
        "paths": paths,
        "components": {
            "schemas": schemas.get("$defs", {}),
            "securitySchemes": {
                "bearer": {"type": "http", "scheme": "bearer"},
                "cookie": {"type": "apiKey", "in": "cookie", "name": "netgraph_PORT"},
            },
        },
    }


def _operation(route: Route, tag: str, refs: Refs) -> Json:
    told: Json = {
        "operationId": route.name,
        "tags": [tag],
        "summary": route.summary,
        "parameters": [*_in_path(route), *_in_query(route), *_in_header(route)],
        "responses": _responses(route, refs),
    }
    if route.body == "file":
        binary = {"type": "string", "format": "binary"}
        files = {"oneOf": [binary, {"type": "array", "items": binary, "minItems": 1}]}
        form = {"type": "object", "properties": {"file": files}, "required": ["file"]}
        told["requestBody"] = {
            "required": True,
            "content": {
                "application/octet-stream": {"schema": binary},
                "multipart/form-data": {"schema": form},
            },
        }
    elif isinstance(route.body, type):
        schema = refs[route.body, "validation"]
        told["requestBody"] = {
            "required": True,
            "content": {"application/json": {"schema": schema}},
        }
    return told


def _in_path(route: Route) -> list[Json]:
    return [
        {"name": name, "in": "path", "required": True, "schema": {"type": "string"}}
        for name in re.findall(r"\{(\w+)\}", route.path)
    ]


def _in_query(route: Route) -> list[Json]:
    if route.query is None:
        return []
    schema = route.query.model_json_schema()
    needed = set(schema.get("required", ()))
    found = []
    for name, told in schema["properties"].items():
        plain = {key: value for key, value in told.items() if key != "title"}
        # Left out is how an address says null.
        if "anyOf" in plain:
            (one,) = [form for form in plain.pop("anyOf") if form != {"type": "null"}]
            plain = {**{k: v for k, v in plain.items() if k != "default"}, **one}
        description = plain.pop("description", None)
        row: Json = {"name": name, "in": "query", "required": name in needed, "schema": plain}
        found.append(row | ({"description": description} if description else {}))
    return found


def _in_header(route: Route) -> list[Json]:
    return [
        {"name": name, "in": "header", "required": False, "schema": {"type": "string"}}
        for name in route.headers
    ]


def _responses(route: Route, refs: Refs) -> Json:
    found: Json = {}
    for status in (route.status, *route.also):
        if route.answer is None or status == 204:
            found[str(status)] = {"description": "Done."}
        elif not isinstance(route.answer, type):
            binary = {"type": "string", "format": "binary"}
            content = {one: {"schema": binary} for one in ("image/png", "image/jpeg")}
            if route.answer == "json":
                content = {"application/json": {"schema": {"type": "object"}}}
            found[str(status)] = {"description": "The file.", "content": content}
        else:
            schema = refs[route.answer, "serialization"]
            content = {"application/json": {"schema": schema}}
            found[str(status)] = {"description": "The answer.", "content": content}
    problem = {"application/problem+json": {"schema": refs[Problem, "serialization"]}}
    own = {415, 413} if isinstance(route.body, type) else set()
    for status in sorted({*ALWAYS, *own, *route.fails}):
        found[str(status)] = {"description": OF_STATUS[status], "content": problem}
    return found
