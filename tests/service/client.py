# SPDX-License-Identifier: GPL-3.0-or-later
"""A service in this process and a client that may speak to it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from flask import Flask
from flask.testing import FlaskClient

from netgraph.assets import asset_path
from netgraph.service.app import Settings, create_app
from netgraph.service.door import Door
from netgraph.service.guards import ALL
from tests.unit.cli.small_board import small_board_text

PORT = 8017
HOST = f"127.0.0.1:{PORT}"
SMALL = small_board_text().encode()
LARK = asset_path("sample_boards/lark/lark.kicad_pcb")


@dataclass
class Bench:
    """One application with its client; `headers` are those of a program with the token."""

    app: Flask
    client: FlaskClient
    door: Door

    @property
    def headers(self) -> dict[str, str]:
        return {"Host": HOST, "Authorization": f"Bearer {self.door.bearer}"}

    @property
    def service(self) -> Any:
        return self.app.extensions["netgraph"]

    def get(self, path: str, **query: Any) -> Any:
        return self.client.get(f"/api/v1{path}", query_string=query, headers=self.headers)

    def answer(self, path: str, **query: Any) -> dict[str, Any]:
        response = self.get(path, **query)
        assert response.status_code == 200, response.data
        found: dict[str, Any] = response.get_json()
        return found

    def put_in(self, data: bytes, name: str = "board.kicad_pcb") -> Any:
        return self.client.post(
            "/api/v1/boards",
            query_string={"name": name, "wait": 20},
            data=data,
            content_type="application/octet-stream",
            headers=self.headers,
        )

    def board(self, path: Path = LARK, name: str = "") -> str:
        """Put a board file in; its hash."""
        response = self.put_in(path.read_bytes(), name or path.name)
        assert response.status_code == 201, response.data
        return str(response.get_json()["board"]["sha256"])

    def notes(self, sha: str, body: dict[str, Any], **headers: str) -> Any:
        return self.client.put(
            f"/api/v1/boards/{sha}/notes", json=body, headers={**self.headers, **headers}
        )

    def close(self) -> None:
        self.service.pool.close()


def bench(folder: Path, *, without: str = "", **settings: Any) -> Bench:
    """A service on this data folder; `without` names the guard that is switched off."""
    guards = ALL - {without}
    app = create_app(Settings(folder, PORT, guards=guards, **settings))
    return Bench(app, app.test_client(), app.extensions["netgraph-door"])
