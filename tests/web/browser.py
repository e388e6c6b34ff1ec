# SPDX-License-Identifier: GPL-3.0-or-later
"""A real service and a real browser; everything that must never happen is written down."""

from __future__ import annotations

import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from netgraph.service.serve import Running

AXE = Path(__file__).parents[1] / "vendor" / "axe" / "axe.min.js"
WAIT_MS = 15_000


def chromium() -> str:
    """The system's browser; skips where there is none."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        pytest.skip("no chromium here")
    return found


@dataclass
class Sight:
    """A page with what it has done wrong."""

    page: Page
    running: Running
    faults: list[str] = field(default_factory=list)
    choosers: list[Any] = field(default_factory=list)

    def watch(self) -> None:
        home = self.running.address

        def console(message: Any) -> None:
            if message.type in ("error", "warning"):
                self.faults.append(f"console {message.type}: {message.text}")

        def request(one: Any) -> None:
            if not one.url.startswith((f"{home}/", "blob:", "data:")):
                self.faults.append(f"foreign request: {one.url}")

        def chooser(one: Any) -> None:
            self.choosers.append(one)

        self.page.on("console", console)
        self.page.on("pageerror", lambda error: self.faults.append(f"fault: {error}"))
        self.page.on("request", request)
        # Listening from the start: the browser is told late, and would open its own window.
        self.page.on("filechooser", chooser)
        self.page.add_init_script(
            "addEventListener('securitypolicyviolation', (e) =>"
            " console.error('policy: ' + e.violatedDirective + ' ' + e.blockedURI))"
        )

    def enter(self, place: str = "") -> None:
        """Come in by a new link."""
        self.page.goto(self.running.link(place))
        self.page.wait_for_selector("html[data-ready]", timeout=WAIT_MS)
        self.still()

    def until(self, script: str) -> None:
        """Wait until a script gives true; asked from outside, since the page allows no eval."""
        deadline = time.monotonic() + WAIT_MS / 1000
        while not self.page.evaluate(script):
            if time.monotonic() > deadline:
                pytest.fail(f"never came true: {script}")
            self.page.wait_for_timeout(10)

    def still(self) -> None:
        """Wait until the view has its answer."""
        self.until(
            "document.querySelector('#content').getAttribute('aria-busy') === 'false'"
            " && document.querySelector('#content').dataset.shown === location.hash"
        )

    def open_file(self, path: Path) -> None:
        self.page.set_input_files("#file", path)
        self.until("location.hash.includes('view=rails')")
        self.still()

    def go(self, view: str) -> None:
        self.page.click(f"nav a[data-view={view}]")
        self.still()

    def axe(self) -> list[str]:
        """What axe-core finds on the view as it stands; the strict policy forbids to put it in, so
        it is run beside the page's own scripts.
        """
        self.page.evaluate(AXE.read_text(encoding="utf-8") + "; void 0")
        found = self.page.evaluate(
            "axe.run(document, {runOnly: ['wcag2a','wcag2aa','wcag21a','wcag21aa','wcag22aa',"
            "'best-practice']}).then((r) => r.violations.map((v) => v.id + ': ' +"
            " v.nodes.slice(0, 3).map((n) => n.target.join(' ')).join(' | ')))"
        )
        return list(found)

    def sideways(self) -> int:
        """By how many pixels the page is wider than its window."""
        return int(
            self.page.evaluate(
                "document.documentElement.scrollWidth - document.documentElement.clientWidth"
            )
        )


@contextmanager
def sight(browser: Browser, running: Running, **told: Any) -> Iterator[Sight]:
    """A fresh browser profile on the service; at the end nothing may have gone wrong."""
    context = browser.new_context(**{"viewport": {"width": 1280, "height": 800}, **told})
    found = Sight(context.new_page(), running)
    found.page.set_default_timeout(WAIT_MS)
    found.watch()
    try:
        yield found
        assert found.faults == []
    finally:
        context.close()
