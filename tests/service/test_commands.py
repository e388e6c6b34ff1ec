# SPDX-License-Identifier: GPL-3.0-or-later
"""The commands around the page: serve in a process of its own, demo with and without a screen."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any

import pytest

from netgraph.cli import serve as serve_commands
from netgraph.service.serve import too_slow
from tests.unit.cli.run import netgraph


def ask(address: str, **headers: str) -> Any:
    request = urllib.request.Request(address, headers=headers)  # noqa: S310 - our own service
    with urllib.request.urlopen(request, timeout=10) as response:  # noqa: S310
        return json.loads(response.read())


def test_serve_prints_a_link_serves_and_ends_when_told(tmp_path: Path) -> None:
    """Link on stdout, talk on stderr; Ctrl-C is status 130, and the token is taken away."""
    token = tmp_path / "token"
    server = subprocess.Popen(
        [
            *(sys.executable, "-m", "netgraph", "serve", "--port", "0", "--no-open"),
            *("--data", str(tmp_path / "data"), "--token-file", str(token)),
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "XDG_RUNTIME_DIR": ""},
    )
    try:
        assert server.stdout is not None
        link = server.stdout.readline().strip()
        address = link.partition("/enter")[0]
        assert address.startswith("http://127.0.0.1:")
        key = token.read_text().strip()
        assert ask(f"{address}/api/v1/health", Authorization=f"Bearer {key}")["boards"] == 0
        with pytest.raises(urllib.error.HTTPError, match="401"):
            ask(f"{address}/api/v1/health")
    finally:
        server.send_signal(signal.SIGINT)
        out, err = server.communicate(timeout=20)
    assert server.returncode == 130
    assert out == ""
    assert "Traceback" not in err
    assert not token.exists()


def test_a_taken_port_is_one_line(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        ran = netgraph("serve", "--port", port, "--no-open", "--data", tmp_path / "data")
    assert ran.status == 2
    assert len(ran.err.splitlines()) == 1
    assert "--port 0" in ran.err


@pytest.mark.parametrize("host", ["192.0.2.1", "0.0.0.0"])  # noqa: S104 - must be refused
def test_being_reachable_by_others_needs_a_word(host: str, tmp_path: Path) -> None:
    ran = netgraph("serve", "--host", host, "--data", tmp_path / "data", "--no-open")
    assert ran.status == 2
    assert "reachable by others" in ran.err


def test_a_newer_data_folder_ends_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "layout.json").write_text('{"layout": 99}')
    ran = netgraph("serve", "--data", tmp_path, "--port", "0", "--no-open")
    assert ran.status == 3
    assert "layout 99" in ran.err
    assert len(ran.err.splitlines()) == 1


def test_demo_without_a_screen_tells_the_text_and_ends() -> None:
    """Nobody sits here: no terminal."""
    assert not serve_commands.can_show()
    ran = netgraph("demo")
    assert ran.status == 0
    assert "What next" in ran.out
    assert "/enter" not in ran.out + ran.err


def test_demo_with_a_screen_opens_the_page_with_its_question_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[str] = []
    seen: list[Any] = []

    def look(running: Any, token: Path) -> None:
        seen.append((running.app.extensions["netgraph"].store.rows(), token.exists()))
        running.close()

    monkeypatch.setenv("NETGRAPH_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    monkeypatch.setattr(serve_commands, "can_show", lambda: True)
    monkeypatch.setattr(serve_commands, "open_browser", opened.append)
    monkeypatch.setattr(serve_commands, "run_page", look)
    ran = netgraph("demo")
    assert ran.status == 0
    assert "What next" in ran.out
    ((rows, token),) = seen
    assert [row.file_name for row in rows] == ["lark.kicad_pcb"]
    assert token
    (link,) = opened
    place = link.partition("#")[2]
    assert place == f"board={rows[0].sha256[:12]}&view=plan&short=VSYS&part=C34"
    opened.clear()
    assert netgraph("demo", "--text").status == 0
    assert opened == []


def test_the_least_rate_of_an_upload_begins_after_its_grace() -> None:
    assert not too_slow(30.0, 0)
    assert too_slow(31.1, 10_000)
    assert not too_slow(31.0, 10_000)
