# SPDX-License-Identifier: GPL-3.0-or-later
"""Run the service: one process, some threads, on the loopback address."""

from __future__ import annotations

import contextlib
import os
import socket
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from netgraph import limits
from netgraph.errors import UsageError
from netgraph.service.app import Settings, create_app
from netgraph.service.data_folder import write_whole
from netgraph.service.door import Door

LOOPBACK = frozenset({"127.0.0.1", "::1", "localhost"})
USUAL_PORT = 8017
"""Our own choice; any other free one is taken when it is in use."""
THREADS = 10


@dataclass
class Running:
    """A service that listens; `run` serves until it is stopped."""

    server: Any
    door: Door
    host: str
    port: int
    app: Any
    left: dict[int, Any] = field(default_factory=dict)
    begun: threading.Event = field(default_factory=threading.Event)
    ended: threading.Event = field(default_factory=threading.Event)

    @property
    def address(self) -> str:
        """Where it is reached."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"http://{host}:{self.port}"

    def link(self, place: str = "") -> str:
        """An address that opens the page once; `place` is what the page shows first."""
        anchor = f"#{place}" if place else ""
        return f"{self.address}/enter?code={self.door.new_code()}{anchor}"

    def run(self) -> None:
        """Serve until `close`, or until the process is interrupted; then let everything go."""
        self.begun.set()
        try:
            self.server.run()
        finally:
            self._end()

    def close(self) -> None:
        """Stop serving, from any thread; `run` returns soon after."""
        if self.ended.is_set():
            return
        if self.begun.is_set():
            self.server.trigger.pull_trigger(self._leave_loop)
            self.ended.wait(10)
        else:
            self._end()

    def _leave_loop(self) -> None:
        """Called in the loop itself: with an empty map it has nothing left to wait for."""
        self.left.update(self.server._map)
        self.server._map.clear()

    def _end(self) -> None:
        # First the threads, which may still want to answer; then what they would answer through.
        self.server.task_dispatcher.shutdown(cancel_pending=True, timeout=5)
        for one in {**self.left, **self.server._map}.values():
            with contextlib.suppress(OSError):
                one.close()
        self.app.extensions["netgraph"].pool.close()
        self.ended.set()


def start(
    settings: Settings,
    *,
    threads: int = THREADS,
    on_code_spent: Callable[[Running], None] = lambda _: None,
) -> Running:
    """Listen at the settings' host and port (0: any free one).

    Raises
    ------
    UsageError
        The port is taken, or the host is no address of this computer.
    """
    from waitress.server import create_server

    listener = _listener(settings.host, settings.port)
    port = listener.getsockname()[1]
    door = Door(port)
    running: list[Running] = []
    settings = replace(settings, port=port, on_code_spent=lambda: on_code_spent(running[0]))
    try:
        app = create_app(settings, door)
    except BaseException:
        listener.close()
        raise
    channel = _channel_class() if "slow" in settings.guards else None
    server = create_server(
        app,
        sockets=[listener],
        threads=threads,
        ident=None,
        clear_untrusted_proxy_headers=True,
        # A little more than the guard's own limit, which answers in words.
        max_request_body_size=limits.MAX_UPLOAD_BYTES + (1 << 20),
        channel_timeout=60,
        cleanup_interval=10,
    )
    if channel is not None:
        server.channel_class = channel
    running.append(Running(server, door, settings.host, port, app))
    return running[0]


def _listener(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    try:
        if os.name != "nt":
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((host, port))
    except OSError as error:
        listener.close()
        why = (error.strerror or str(error)).lower()
        raise UsageError(
            f"can't listen at {host}, port {port}: {why}", hint="--port 0 takes any free one"
        ) from None
    return listener


def _channel_class() -> type:
    """Waitress's channel, but with an end for requests that come in too slowly."""
    from waitress.channel import HTTPChannel

    class PatientChannel(HTTPChannel):  # type: ignore[misc,unused-ignore]
        """Closes a connection whose request stays below the least rate after a grace."""

        begun: float | None = None
        got = 0

        def received(self, data: bytes) -> Any:
            """Count what has come for the request that is not whole yet."""
            found = super().received(data)
            if self.request is None:
                self.begun, self.got = None, 0
                return found
            self.begun = self.begun if self.begun is not None else time.monotonic()
            self.got += len(data)
            if too_slow(time.monotonic() - self.begun, self.got):
                self.will_close = True
                self.connected = False
                self.handle_close()
            return found

    return PatientChannel


def too_slow(seconds: float, got: int) -> bool:
    """Whether an upload of so many bytes in so many seconds is cut off."""
    over = seconds - limits.UPLOAD_GRACE_SECONDS
    return over > 0 and got < over * limits.MIN_UPLOAD_BYTES_PER_SECOND


def runtime_folder(data: Path) -> Path:
    """Where the token for programs is put: the user's runtime folder, else in the data folder."""
    named = os.environ.get("XDG_RUNTIME_DIR")
    base = Path(named) / "board-netgraph" if named and Path(named).is_dir() else data / "run"
    base.mkdir(parents=True, exist_ok=True, mode=0o700)
    return base


def write_token(running: Running, place: Path) -> None:
    """Put the token for programs into a file that only its owner reads."""
    # mkstemp, by which it is written, makes files of mode 0600.
    write_whole(place, running.door.bearer.encode() + b"\n")
