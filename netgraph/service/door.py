# SPDX-License-Identifier: GPL-3.0-or-later
"""Who may come in: one-time codes that become a cookie, and one token for programs."""

from __future__ import annotations

import hashlib
import secrets
import threading
from dataclasses import dataclass, field

from flask import Request, Response


@dataclass
class Door:
    """The keys of one run of the service.

    Cookies are not kept apart by port (RFC 6265, 8.5), so the cookie's name holds the port. Only
    hashes of open codes are kept. `once` is false only in the test of that guard.
    """

    port: int
    once: bool = True
    cookie: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    bearer: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    _codes: set[str] = field(default_factory=set)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    @property
    def cookie_name(self) -> str:
        """The cookie's name."""
        return f"netgraph_{self.port}"

    def new_code(self) -> str:
        """A code that opens the door once."""
        code = secrets.token_urlsafe(32)
        with self._lock:
            self._codes.add(_hash(code))
        return code

    def spend(self, code: str) -> bool:
        """Whether the code was good; it is so only once."""
        with self._lock:
            good = _hash(code) in self._codes
            if good and self.once:
                self._codes.discard(_hash(code))
            return good

    def admits(self, request: Request) -> bool:
        """Whether the request holds the cookie or the token."""
        told = request.cookies.get(self.cookie_name, "")
        return _same(told, self.cookie) or self.has_bearer(request)

    def has_bearer(self, request: Request) -> bool:
        """Whether the request holds the token for programs."""
        kind, _, told = request.headers.get("Authorization", "").partition(" ")
        return kind.lower() == "bearer" and _same(told.strip(), self.bearer)

    def give_cookie(self, response: Response) -> None:
        """Let this browser in from now on."""
        response.set_cookie(
            self.cookie_name, self.cookie, httponly=True, samesite="Strict", path="/"
        )


def _hash(code: str) -> str:
    return hashlib.sha256(code.encode("utf-8", "replace")).hexdigest()


def _same(told: str, right: str) -> bool:
    return secrets.compare_digest(told.encode("utf-8", "replace"), right.encode())
