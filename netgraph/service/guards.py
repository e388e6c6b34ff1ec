# SPDX-License-Identifier: GPL-3.0-or-later
"""Everything that keeps strangers out, in one list: what each guard is for, and its check.

Most look at a request before its address is known, some at the answer, some stand where the work
is done and are only named here. All are on, always; a test switches each off in turn and expects
exactly the tests of that guard to fail.
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

from flask import Request, Response

from netgraph import limits
from netgraph.errors import ServiceError
from netgraph.service.door import Door

WRITES: Final = frozenset({"POST", "PUT", "PATCH", "DELETE"})
UPLOAD_ADDRESSES: Final = re.compile(r"/api/v1/boards(?P<picture>/[^/]+/pictures/[^/]+)?")
"""Where a body may be a file; everywhere else it is JSON."""
POLICY: Final = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' blob: data:",
        "connect-src 'self'",
        "font-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS: Final = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


@dataclass
class Tries:
    """Failed tries of the last minute; `now` is the clock, in seconds."""

    now: Callable[[], float]
    most: int = limits.MAX_TRIES_PER_MINUTE
    failed: deque[float] = field(default_factory=deque)

    def failure(self) -> None:
        """Count a wrong token or code."""
        self.failed.append(self.now())

    def too_many(self) -> bool:
        """Whether the next one is not even looked at."""
        while self.failed and self.failed[0] < self.now() - 60:
            self.failed.popleft()
        return len(self.failed) >= self.most


@dataclass(frozen=True)
class Gate:
    """What the guards know of the service that they stand before."""

    hosts: frozenset[str]
    door: Door
    tries: Tries


Before = Callable[[Request, Gate], None]
After = Callable[[Request, Response], None]


@dataclass(frozen=True)
class Guard:
    """One guard: `before` refuses a request by raising, `after` changes an answer."""

    name: str
    against: str
    before: Before | None = None
    after: After | None = None


def _host(request: Request, gate: Gate) -> None:
    if request.host.lower() not in gate.hosts:
        raise ServiceError(
            "address-refused",
            421,
            "this service does not answer under that name",
            hint="use the address that it printed when it started",
        )


def _origin(request: Request, gate: Gate) -> None:
    if request.method not in WRITES or gate.door.has_bearer(request):
        return
    site = request.headers.get("Sec-Fetch-Site")
    same = request.headers.get("Origin") == request.host_url.rstrip("/")
    if not (site == "same-origin" or (site is None and same)):
        raise ServiceError(
            "origin-refused",
            403,
            "only the page itself may change something",
            hint="a program sends its token: Authorization: Bearer",
        )


def _tries(request: Request, gate: Gate) -> None:
    closed = request.path.startswith("/api/") or request.path == "/enter"
    if closed and gate.tries.too_many() and not gate.door.admits(request):
        raise ServiceError("too-many-tries", 429, "too many wrong tries", hint="wait for a minute")


def _token(request: Request, gate: Gate) -> None:
    if request.path.startswith("/api/") and not gate.door.admits(request):
        gate.tries.failure()
        raise ServiceError(
            "token-needed",
            401,
            "this browser has not come in by a link of the service",
            hint="open the link that `netgraph serve` printed last",
        )


def _size(request: Request, _: Gate) -> None:
    most = limits.MAX_BODY_BYTES
    if (upload := UPLOAD_ADDRESSES.fullmatch(request.path)) is not None:
        most = limits.MAX_PICTURE_BYTES if upload["picture"] else limits.MAX_UPLOAD_BYTES
    if (request.content_length or 0) > most:
        raise ServiceError(
            "too-large",
            413,
            f"the body is larger than {most >> 20} MiB",
            hint="the command line reads larger files",
        )


def _json_type(request: Request, _: Gate) -> None:
    bodied = request.method in {"PUT", "PATCH"} or (
        request.method == "POST"
        and not UPLOAD_ADDRESSES.fullmatch(request.path)
        and request.content_length
    )
    if bodied and request.mimetype != "application/json":
        raise ServiceError("not-json", 415, "the body must be application/json")


def _headers(_: Request, response: Response) -> None:
    for name, value in HEADERS.items():
        response.headers[name] = value


def _no_store(request: Request, response: Response) -> None:
    if not request.path.startswith("/static/"):
        response.headers["Cache-Control"] = "no-store"


GUARDS: Final = (
    Guard("host", "another page whose name is made to point here", before=_host),
    Guard("origin", "another page in the same browser that sends writes", before=_origin),
    Guard("tries", "trying tokens and codes one after the other", before=_tries),
    Guard("token", "another user or program of this computer", before=_token),
    Guard("size", "bodies that fill memory and disk", before=_size),
    Guard("json-type", "forms of another page that look like JSON", before=_json_type),
    Guard("headers", "markup that got into the page, framing, type guessing", after=_headers),
    Guard("no-store", "answers that stay in the browser's cache", after=_no_store),
    Guard("code-once", "a link that somebody else reads later (in `door`)"),
    Guard("child", "a hostile file that breaks the reader (in `reading`)"),
    Guard("plain-name", "file names that are paths (in `reading`)"),
    Guard("picture", "places and devices that a camera writes beside a picture (in `traces`)"),
    Guard("disk", "uploads that fill the disk (in `reading`)"),
    Guard("slow", "uploads that never end (in `serve`)"),
)
"""In the order in which they are asked."""

ALL: Final = frozenset(one.name for one in GUARDS)
