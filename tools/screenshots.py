# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures of every view of the page, in both themes and at three widths, to be looked at.

    python tools/screenshots.py FOLDER [BOARD.kicad_pcb NET PART]

Without a board the sample board is shown. Needs Chromium and the tests' packages.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import threading
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from netgraph.service.app import Settings  # noqa: E402
from netgraph.service.serve import start  # noqa: E402

SIZES = {"narrow": (320, 640), "low": (1024, 600), "wide": (1600, 900)}


def main(folder: Path, board: Path, net: str, part: str) -> None:
    """Write the pictures."""
    from playwright.sync_api import sync_playwright

    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as data, sync_playwright() as play:
        running = start(Settings(Path(data) / "data", 0))
        thread = threading.Thread(target=running.run, daemon=True)
        thread.start()
        browser = play.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        for theme in ("light", "dark"):
            for size, (width, height) in SIZES.items():
                page = browser.new_page(
                    viewport={"width": width, "height": height}, color_scheme=theme
                )
                page.goto(running.link())
                page.wait_for_selector("html[data-ready]")
                page.set_input_files("#file", board)
                page.wait_for_selector(".rails .box")
                begun = page.evaluate("new URLSearchParams(location.hash.slice(1)).get('board')")
                for view, chosen in (
                    ("start", {}),
                    ("rails", {"net": net}),
                    ("board", {"part": part}),
                    ("plan", {"short": net, "part": part}),
                ):
                    told = {"board": begun, "view": view, **chosen}
                    page.evaluate("told => { location.hash = new URLSearchParams(told); }", told)
                    page.wait_for_timeout(700)
                    page.screenshot(path=folder / f"{view}-{theme}-{size}.png")
                page.close()
        browser.close()
        running.close()
        thread.join(10)


if __name__ == "__main__":
    target, *rest = sys.argv[1:]
    named = rest or [str(ROOT / "sample_boards" / "lark" / "lark.kicad_pcb"), "VSYS", "C34"]
    main(Path(target), Path(named[0]), named[1], named[2])
