# SPDX-License-Identifier: GPL-3.0-or-later
"""Each guard keeps out what it is for; with one switched off exactly its checks fail.

The attacks are those of the project's threat list for a local service: another page in the same
browser, names made to point here, another user of the computer, hostile files.
"""

from __future__ import annotations

import http.client
import json
import os
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from netgraph import limits
from netgraph.formats import isolated
from netgraph.service import reading, serve
from netgraph.service.app import Settings
from netgraph.service.guards import ALL, GUARDS, HEADERS
from netgraph.service.page import build_name
from tests.service.client import HOST, SMALL, Bench, bench
from tests.service.photographs import SECRET, png

Check = Callable[["Stage"], None]
CHECKS: list[tuple[str, Check]] = []
"""Guard and what it must hold against."""


class Stage:
    """Where a check plays: a folder, a way to swap things, and which guard is off."""

    def __init__(self, tmp_path: Path, swap: pytest.MonkeyPatch, without: str) -> None:
        self.tmp_path, self.swap, self.without = tmp_path, swap, without
        self.made: list[Bench] = []

    def bench(self, **settings: Any) -> Bench:
        folder = self.tmp_path / f"data{len(self.made)}"
        self.made.append(bench(folder, without=self.without, **settings))
        return self.made[-1]


def against(guard: str) -> Callable[[Check], Check]:
    def keep(check: Check) -> Check:
        CHECKS.append((guard, check))
        return check

    return keep


@against("host")
def a_name_that_was_made_to_point_here_gets_no_answer(stage: Stage) -> None:
    b = stage.bench()
    for name in ("evil.example", "evil.example:8017", "127.0.0.1:1", "127.0.0.1.nip.example:8017"):
        response = b.client.get("/api/v1/health", headers={**b.headers, "Host": name})
        assert response.status_code == 421, name
        assert response.get_json()["code"] == "address-refused"


@against("origin")
def a_write_from_another_page_is_refused(stage: Stage) -> None:
    b = stage.bench()
    b.client.set_cookie(b.door.cookie_name, b.door.cookie, domain="127.0.0.1")
    for extra in (
        {"Origin": "http://evil.example"},
        {"Sec-Fetch-Site": "cross-site", "Origin": f"http://{HOST}"},
        {"Sec-Fetch-Site": "same-site"},
        {},
    ):
        response = b.client.delete("/api/v1/jobs/none", headers={"Host": HOST, **extra})
        assert response.status_code == 403, extra
    own = {"Host": HOST, "Origin": f"http://{HOST}"}
    assert b.client.delete("/api/v1/jobs/none", headers=own).status_code == 404


@against("token")
def nobody_without_cookie_or_token_gets_data(stage: Stage) -> None:
    b = stage.bench()
    for extra in ({}, {"Authorization": "Bearer wrong"}, {"Authorization": "Basic eDp5"}):
        response = b.client.get("/api/v1/boards", headers={"Host": HOST, **extra})
        assert response.status_code == 401, extra
    b.client.set_cookie(b.door.cookie_name, "wrong", domain="127.0.0.1")
    assert b.client.get("/api/v1/boards", headers={"Host": HOST}).status_code == 401


@against("tries")
def after_twenty_wrong_tries_a_minute_no_code_is_looked_at(stage: Stage) -> None:
    clock = [0.0]
    b = stage.bench(now=lambda: clock[0])
    good = b.door.new_code()
    for _ in range(limits.MAX_TRIES_PER_MINUTE):
        assert b.client.get("/enter?code=x", headers={"Host": HOST}).status_code == 401
    assert b.client.get(f"/enter?code={good}", headers={"Host": HOST}).status_code == 429
    assert b.get("/health").status_code == 200, "who holds the token is not locked out"
    clock[0] = 61.0
    assert b.client.get(f"/enter?code={good}", headers={"Host": HOST}).status_code == 303


@against("code-once")
def a_code_opens_the_door_once(stage: Stage) -> None:
    b = stage.bench()
    code = b.door.new_code()
    first = b.client.get(f"/enter?code={code}", headers={"Host": HOST})
    assert first.status_code == 303
    cookie = first.headers["Set-Cookie"]
    assert f"netgraph_{b.door.port}=" in cookie
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(cookie.split("; "))
    fresh = b.app.test_client()
    second = fresh.get(f"/enter?code={code}", headers={"Host": HOST})
    assert second.status_code == 401
    assert "Set-Cookie" not in second.headers


@against("size")
def a_body_that_is_too_large_is_not_taken(stage: Stage) -> None:
    stage.swap.setattr(limits, "MAX_UPLOAD_BYTES", 1000)
    stage.swap.setattr(limits, "MAX_BODY_BYTES", 100)
    b = stage.bench()
    response = b.put_in(b"x" * 1001)
    assert response.status_code == 413
    assert response.get_json()["code"] == "too-large"
    body = {"parts": [{"ref": "C" * 200}]}
    assert b.notes("0" * 64, body, **{"If-Match": "none"}).status_code == 413


@against("json-type")
def a_form_of_another_page_is_no_json(stage: Stage) -> None:
    b = stage.bench()
    response = b.client.put(
        f"/api/v1/boards/{'0' * 64}/notes",
        data=b'{"parts": []}',
        content_type="text/plain",
        headers=b.headers,
    )
    assert response.status_code == 415


@against("headers")
def every_answer_forbids_foreign_code_and_framing(stage: Stage) -> None:
    b = stage.bench()
    for path in ("/", "/api/v1/health", "/api/v1/nothing", "/enter?code=x"):
        response = b.client.get(path, headers=b.headers)
        assert {name: response.headers.get(name) for name in HEADERS} == HEADERS, path
        assert "Access-Control-Allow-Origin" not in response.headers
    policy = HEADERS["Content-Security-Policy"]
    assert "unsafe" not in policy
    assert "default-src 'none'" in policy


@against("no-store")
def answers_are_not_kept_by_the_browser(stage: Stage) -> None:
    b = stage.bench()
    for path in ("/", "/api/v1/boards"):
        response = b.client.get(path, headers=b.headers)
        assert response.headers.get("Cache-Control") == "no-store", path


@against("plain-name")
def a_file_name_is_never_a_path(stage: Stage) -> None:
    b = stage.bench()
    response = b.put_in(SMALL, "../../../etc/passwd\x1b[2J.kicad_pcb")
    row = response.get_json()["board"]
    assert row["file"] == "passwd[2J.kicad_pcb"
    places = {path.name for path in b.service.store.folder.boards.iterdir()}
    assert places == {row["sha256"]}


@against("child")
def a_file_from_outside_is_not_read_in_the_service_itself(stage: Stage) -> None:
    children = []
    real = subprocess.Popen

    class Watched(real):  # type: ignore[misc,type-arg]
        def __init__(self, command: Any, **told: Any) -> None:
            children.append(command)
            super().__init__(command, **told)

    stage.swap.setattr(isolated.subprocess, "Popen", Watched)
    assert stage.bench().put_in(SMALL).status_code == 201
    assert len(children) == 1
    assert "-I" in children[0]


@against("picture")
def what_a_camera_writes_beside_a_picture_is_not_kept(stage: Stage) -> None:
    b = stage.bench()
    told = b.client.post("/api/v1/traces", json={}, headers=b.headers).get_json()
    told = b.client.post(
        f"/api/v1/boards/{told['board']['sha256']}/pictures/top",
        query_string={"revision": told["revision"]},
        data=png(),
        content_type="application/octet-stream",
        headers=b.headers,
    )
    assert told.status_code == 200
    kept = [path for path in b.service.store.folder.root.rglob("*") if path.is_file()]
    assert any(path.suffix == ".picture" for path in kept)
    assert not [path for path in kept if SECRET in path.read_bytes()]


@against("disk")
def a_full_disk_is_told_before_anything_is_written(stage: Stage) -> None:
    b = stage.bench()
    b.service.intake.free_bytes = lambda: reading.SPARE_BYTES - 1
    response = b.put_in(SMALL)
    assert response.status_code == 507
    assert b.answer("/boards")["boards"] == []


@against("slow")
def an_upload_that_hardly_moves_is_cut_off(stage: Stage) -> None:
    stage.swap.setattr(limits, "UPLOAD_GRACE_SECONDS", 0)
    stage.swap.setattr(limits, "MIN_UPLOAD_BYTES_PER_SECOND", 10_000_000)
    settings = Settings(stage.tmp_path / "slow", 0, guards=ALL - {stage.without})
    running = serve.start(settings)
    thread = threading.Thread(target=running.run, daemon=True)
    thread.start()
    try:
        with socket.create_connection((running.host, running.port), timeout=5) as line:
            line.sendall(b"POST /api/v1/boards HTTP/1.1\r\nHost: x\r\nContent-Length: 1000\r\n\r\n")
            gone = False
            for _ in range(20):
                time.sleep(0.02)
                try:
                    line.sendall(b"x")
                except OSError:
                    gone = True
                    break
            line.settimeout(0.3)
            try:
                gone = gone or line.recv(1) == b""
            except TimeoutError:
                gone = False
            except OSError:
                gone = True
            assert gone
    finally:
        running.close()
        thread.join(10)


@pytest.mark.parametrize("off", ["", *sorted(ALL)])
def test_with_a_guard_off_exactly_its_checks_fail(
    off: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing off: all hold. One off: its own fail and no other does."""
    failed = []
    for number, (guard, check) in enumerate(CHECKS):
        folder = tmp_path / str(number)
        folder.mkdir()
        with monkeypatch.context() as swap:
            stage = Stage(folder, swap, off)
            try:
                check(stage)
            except (AssertionError, TypeError):
                failed.append(guard)
            finally:
                for made in stage.made:
                    made.close()
    assert failed == ([off] if off else [])


def test_every_guard_has_its_check() -> None:
    assert {guard for guard, _ in CHECKS} == {one.name for one in GUARDS}


# -- held by the way it is built; nothing to switch off ------------------------------------------


def test_names_in_addresses_lead_nowhere_but_to_known_files(on_bench: Bench) -> None:
    for name in (
        "../../netgraph/errors.py",
        "..%2f..%2fpyproject.toml",
        "%2e%2e/pyproject.toml",
        "/etc/passwd",
        "app/../../pyproject.toml",
    ):
        response = on_bench.client.get(f"/static/{build_name()}/{name}", headers=on_bench.headers)
        assert response.status_code in (404, 308), name
    for sha in ("..", "%2e%2e", "a" * 63, "A" * 64, "x" * 64, "0" * 64):
        assert on_bench.get(f"/boards/{sha}/rails").status_code == 404, sha


def test_unknown_names_are_problems_with_near_ones(on_bench: Bench) -> None:
    sha = on_bench.board()
    for path, query in (
        ("/rail", {"net": "VSIS"}),
        ("/lift", {"short": "VSIS"}),
        ("/inject", {"net": "VSIS"}),
        ("/path", {"net_a": "VSIS"}),
        ("/neighbourhood", {"part": "U99"}),
        ("/lift", {"short": "VSYS", "goal": "fly"}),
    ):
        response = on_bench.get(f"/boards/{sha}{path}", **query)
        problem = response.get_json()
        assert response.status_code == 404, path
        assert response.content_type == "application/problem+json"
        assert problem["code"] == "name-unknown"
        assert problem["hint"], path


def test_markup_in_names_stays_text_in_json(on_bench: Bench) -> None:
    """Sent as JSON that no browser takes for a page; the page puts it in as text (tests/web)."""
    evil = b"<img src=x onerror=alert(1)>"
    sha_response = on_bench.put_in(SMALL.replace(b"VSYS", evil), "<b>.kicad_pcb")
    sha = sha_response.get_json()["board"]["sha256"]
    response = on_bench.get(f"/boards/{sha}/rail", net=evil.decode())
    assert response.status_code == 200
    assert response.content_type == "application/json"
    assert response.headers["X-Content-Type-Options"] == "nosniff"


def test_the_token_file_is_read_by_its_owner_alone(tmp_path: Path) -> None:
    running = serve.start(Settings(tmp_path / "data", 0))
    try:
        serve.write_token(running, tmp_path / "token")
        assert (tmp_path / "token").stat().st_mode & 0o777 == 0o600
        assert (tmp_path / "token").read_text().strip() == running.door.bearer
    finally:
        running.close()


def test_the_service_listens_on_the_loopback_address_alone(tmp_path: Path) -> None:
    running = serve.start(Settings(tmp_path / "data", 0))
    thread = threading.Thread(target=running.run, daemon=True)
    thread.start()
    try:
        assert running.server.socket.getsockname()[0] == "127.0.0.1"
        line = http.client.HTTPConnection(running.host, running.port, timeout=5)
        token = {"Authorization": f"Bearer {running.door.bearer}"}
        line.request("GET", "/api/v1/health", headers=token)
        assert line.getresponse().status == 200
        line.close()
    finally:
        running.close()
        thread.join(10)


@pytest.mark.skipif(os.name == "nt", reason="no such limits there")
def test_the_reading_child_has_few_rights(tmp_path: Path) -> None:
    """Asked in a child under the very limits: memory, files, network, processor time."""
    probe = (
        "import sys, json; sys.path[:] = json.loads(sys.argv[1]);"
        "from netgraph.formats.confined import confine;"
        f"confine({{'memory': {limits.CHILD_MEMORY_BYTES}, 'seconds': 60, 'files': 32}})\n"
        "found = {}\n"
        "try: bytearray(3 << 30); found['memory'] = True\n"
        "except MemoryError: found['memory'] = False\n"
        "try:\n"
        f"  f = open({str(tmp_path / 'out')!r}, 'wb', buffering=0)\n"
        "  f.write(b'x'); found['write'] = True\n"
        "except OSError: found['write'] = False\n"
        "opened = []\n"
        "try:\n"
        "  while len(opened) < 100: opened.append(open('/dev/null'))\n"
        "except OSError: pass\n"
        "found['files'] = len(opened) < 32\n"
        "print(json.dumps(found))\n"
    )
    done = subprocess.run(
        [sys.executable, "-I", "-B", "-c", probe, json.dumps([p for p in sys.path if p])],
        env={},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout) == {"memory": False, "write": False, "files": True}
