# SPDX-License-Identifier: GPL-3.0-or-later
"""One browser for all tests of the page; a service with an empty data folder for each file."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from netgraph.service.app import Settings
from netgraph.service.serve import Running, start
from tests.web.browser import Sight, chromium, sight


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    path = chromium()
    with sync_playwright() as play:
        # Tests run as root in some places, where Chromium has no sandbox of its own.
        made = play.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield made
        made.close()


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    made = start(Settings(tmp_path_factory.mktemp("page") / "data", 0))
    thread = threading.Thread(target=made.run, daemon=True)
    thread.start()
    yield made
    made.close()
    thread.join(10)


@pytest.fixture
def seen(browser: Browser, running: Running) -> Iterator[Sight]:
    with sight(browser, running) as found:
        found.enter()
        yield found


@pytest.fixture
def lark() -> Path:
    from netgraph.assets import asset_path

    return asset_path("sample_boards/lark/lark.kicad_pcb")
