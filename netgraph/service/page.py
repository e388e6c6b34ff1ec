# SPDX-License-Identifier: GPL-3.0-or-later
"""The page itself: its files under one versioned address, the way in, and the closed door.

Files are known before the first request; an address that is none of them leads nowhere, so no
name in an address ever reaches the disk.
"""

from __future__ import annotations

import gzip
import hashlib
from collections.abc import Callable
from functools import cache
from pathlib import Path

from flask import Blueprint, Response, redirect, request
from werkzeug.exceptions import NotFound

from netgraph.assets import asset_path
from netgraph.errors import ServiceError
from netgraph.service.guards import Gate

KINDS = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".mjs": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".json": "application/json",
    ".svg": "image/svg+xml",
}
YEAR_S = 31_536_000


@cache
def page_files() -> dict[str, Path]:
    """Address below the build's folder -> file; only kinds that a page needs."""
    home = asset_path("web")
    return {
        path.relative_to(home).as_posix(): path
        for path in sorted(home.rglob("*"))
        if path.suffix in KINDS and path.is_file() and path.name != "package.json"
    }


@cache
def build_name() -> str:
    """A short name for this very state of the page."""
    digest = hashlib.sha256()
    for name, path in page_files().items():
        digest.update(name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:12]


def page_routes(gate: Gate, on_code_spent: Callable[[], None]) -> Blueprint:
    """The addresses of the page."""
    made = Blueprint("page", __name__)
    build = build_name()
    home = page_files()["index.html"].read_text(encoding="utf-8").replace("BUILD", build)
    zipped: dict[str, bytes] = {}

    @made.get("/")
    def index() -> Response:
        return Response(home, content_type=KINDS[".html"])

    @made.get("/enter")
    def enter() -> Response:
        if not gate.door.spend(request.args.get("code", "")[:200]):
            gate.tries.failure()
            raise ServiceError(
                "code-spent",
                401,
                "this link has been used already or is not ours",
                hint="the window in which `netgraph serve` runs shows a new one",
            )
        on_code_spent()
        # What follows # in the address stays with the browser, and so with the new address.
        response = redirect("/", 303)
        found = Response(response.get_data(), 303, {"Location": "/"})
        gate.door.give_cookie(found)
        return found

    @made.get(f"/static/{build}/<path:name>")
    def static(name: str) -> Response:
        path = page_files().get(name)
        if path is None:
            raise NotFound
        data = path.read_bytes()
        response = Response(data, content_type=KINDS[path.suffix])
        response.headers["Cache-Control"] = f"public, max-age={YEAR_S}, immutable"
        if "gzip" in request.headers.get("Accept-Encoding", "") and path.suffix != ".svg":
            if name not in zipped:
                zipped[name] = gzip.compress(data, 6, mtime=0)
            response.set_data(zipped[name])
            response.headers["Content-Encoding"] = "gzip"
            response.headers["Vary"] = "Accept-Encoding"
        return response

    return made
