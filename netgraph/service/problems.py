# SPDX-License-Identifier: GPL-3.0-or-later
"""Every failure as ``application/problem+json`` (RFC 9457), with the codes of the command line."""

from __future__ import annotations

import errno
import json
from typing import Any

from flask import Response, request
from pydantic import ValidationError
from werkzeug.exceptions import HTTPException

from netgraph.errors import (
    BoardCheckError,
    BoardFileError,
    DataMissingError,
    ErrorCode,
    NetgraphError,
    ServiceError,
    UnknownNameError,
    visible,
)

Json = dict[str, Any]

_OF_STATUS: dict[int, tuple[ErrorCode, str]] = {
    404: ("no-such-address", "there is nothing at this address"),
    405: ("method-refused", "this address does not take that method"),
    413: ("too-large", "the body is larger than this address takes"),
    415: ("not-json", "the body must be application/json"),
}

_FULL = frozenset(
    getattr(errno, name) for name in ("ENOSPC", "EDQUOT", "EFBIG") if hasattr(errno, name)
)


def status_of(error: NetgraphError) -> int:
    """The HTTP status that goes with an error of the core."""
    if isinstance(error, ServiceError):
        return error.status
    if isinstance(error, UnknownNameError):
        return 404
    if isinstance(error, BoardFileError):
        return 422
    if isinstance(error, BoardCheckError):
        return 409
    return 422 if isinstance(error, DataMissingError) else 400


def problem_of(error: Exception, instance: str) -> Json:
    """The problem document of an error; no trace, no path of this computer."""
    if isinstance(error, OSError) and error.errno in _FULL:
        # Files are written whole or not at all, so what stood there still does.
        error = ServiceError(
            "disk-full",
            507,
            "the disk is full; nothing was changed",
            hint="forget boards or make room",
        )
    if isinstance(error, BoardFileError):
        place = {
            "file": error.path.rpartition("/")[2] or None,
            "line": error.line,
            "column": error.column,
            "expected": error.expected or None,
        }
        return _document(error.code, status_of(error), error.message, error.hint, instance, place)
    if isinstance(error, NetgraphError):
        return _document(error.code, status_of(error), error.message, error.hint, instance)
    if isinstance(error, ValidationError):
        faults = [
            {"pointer": "/" + "/".join(str(step) for step in one["loc"]), "detail": one["msg"]}
            for one in error.errors()[:20]
        ]
        first = f"{faults[0]['pointer']}: {faults[0]['detail']}"
        return _document("body-invalid", 400, first, "", instance) | {"errors": faults}
    if isinstance(error, HTTPException) and error.code is not None and error.code < 500:
        code, words = _OF_STATUS.get(error.code, ("usage", "this can't be answered"))
        return _document(code, error.code, words, "", instance)
    return _document(
        "own-fault",
        500,
        f"this is a fault of the program, please report it: {type(error).__name__}",
        "the window in which it was started shows where",
        instance,
    )


def _document(
    code: ErrorCode,
    status: int,
    detail: str,
    hint: str,
    instance: str,
    place: Json | None = None,
) -> Json:
    return {
        "type": f"docs/reference/errors.md#{code}",
        "title": code.replace("-", " "),
        "status": status,
        "detail": visible(detail),
        "instance": instance,
        "code": code,
        "hint": visible(hint) or None,
        "errors": [],
        **(place or {"file": None, "line": None, "column": None, "expected": None}),
    }


def problem_response(error: Exception) -> Response:
    """The answer to a request that failed."""
    document = problem_of(error, request.path)
    response = Response(
        json.dumps(document, ensure_ascii=True),
        status=document["status"],
        content_type="application/problem+json",
    )
    if isinstance(error, HTTPException) and error.code == 405:
        for name, value in error.get_headers():
            if name == "Allow":
                response.headers["Allow"] = value
    return response
