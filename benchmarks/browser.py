# SPDX-License-Identifier: GPL-3.0-or-later
"""The page in a real browser: how long until one sees something, and how it moves.

    python -m benchmarks.browser --boards FOLDER

Medians of five runs. Times depend on the machine, so the same run prints how long a fixed loop
takes, in Python and in the browser: compare ratios to it. Needs Chromium and the tests' packages.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import statistics
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from benchmarks.big_board import write_big_board
from netgraph.rails import find_rails
from netgraph.rails.draw_order import draw_rail_tree
from netgraph.roles import find_roles
from netgraph.service.app import Settings
from netgraph.service.page import page_files
from netgraph.service.serve import start
from netgraph.survey import load

RUNS = 5
LARGEST = "teres_main_c"
GOALS: dict[str, tuple[str, float]] = {
    "first view of the largest board after choosing it, ms": ("median", 1000),
    "answer to a choice, ms (95 %)": ("median", 50),
    "pan frame, real board, ms (95 %)": ("median", 33),
    "pan frame, 20 000 pads, all in view, ms (95 %)": ("median", 70),
    "pan frame, 20 000 pads, zoomed, ms (95 %)": ("median", 33),
    "build of the picture of 20 000 pads, ms": ("median", 300),
    "page weight, bytes": ("median", 1_000_000),
    "layout of the rail tree, ms": ("median", 10),
    "crossings in the rail tree": ("median", 1),
}


def python_loop() -> float:
    """Milliseconds of a fixed loop here."""
    begun = time.perf_counter()
    total = 0
    for number in range(2_000_000):
        total += number * number % 7
    return (time.perf_counter() - begun) * 1e3


BROWSER_LOOP = (
    "(() => { const t = performance.now(); let s = 0;"
    " for (let i = 0; i < 2e7; i += 1) s += (i * i) % 7; return performance.now() - t + s * 0; })()"
)


def at95(values: list[float]) -> float:
    """The 95th percentile."""
    return statistics.quantiles(values, n=20)[-1] if len(values) > 1 else values[0]


class Seat:
    """A page of a running service."""

    def __init__(self, page: Any, running: Any) -> None:
        self.page, self.running = page, running

    def until(self, script: str) -> None:
        while not self.page.evaluate(script):
            self.page.wait_for_timeout(5)

    def still(self) -> None:
        self.until(
            "document.querySelector('#content').getAttribute('aria-busy') === 'false'"
            " && document.querySelector('#content').dataset.shown === location.hash"
        )

    def enter(self) -> None:
        self.page.goto(self.running.link())
        self.page.wait_for_selector("html[data-ready]")

    def put_in(self, path: Path) -> str:
        self.page.set_input_files("#file", path)
        self.until("location.hash.includes('board=')")
        self.still()
        return str(self.page.evaluate("new URLSearchParams(location.hash.slice(1)).get('board')"))

    def first_view(self, board: str) -> float:
        """From the choice in the list to the tree and list of rails on the screen."""
        self.page.goto(f"{self.running.address}/#view=start")
        self.page.reload()
        self.page.wait_for_selector(f"a[href*='{board}']")
        return float(
            self.page.evaluate(
                """async (board) => {
              const begun = performance.now();
              document.querySelector(`a[href*="${board}"]`).click();
              while (!document.querySelector('.rails .box')) {
                await new Promise((done) => requestAnimationFrame(done));
              }
              await new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
              return performance.now() - begun;
            }""",
                board,
            )
        )

    def choices(self, count: int = 40) -> list[float]:
        """From choosing a part to its words and marks, for parts one after the other."""
        found = self.page.evaluate(
            """async (count) => {
          const content = document.querySelector('#content');
          const board = new URLSearchParams(location.hash.slice(1)).get('board');
          const list = await (await fetch('/api/v1/boards')).json();
          const sha = list.boards.find((b) => b.sha256.startsWith(board)).sha256;
          const parts = (await (await fetch(`/api/v1/boards/${sha}/parts`)).json()).parts;
          const times = [];
          for (const part of parts.slice(0, count)) {
            const begun = performance.now();
            const told = new URLSearchParams(location.hash.slice(1));
            told.delete('net');
            told.set('part', part.id);
            location.hash = told;
            while (content.dataset.shown !== location.hash
                || content.getAttribute('aria-busy') !== 'false') {
              await new Promise((done) => { const c = new MessageChannel();
                c.port1.onmessage = done; c.port2.postMessage(0); });
            }
            times.push(performance.now() - begun);
          }
          return times;
        }""",
            count,
        )
        return [float(one) for one in found]

    def pan(self, keys_before: list[str]) -> list[float]:
        """Frame times while the picture is moved by arrow keys: from frame to frame."""
        canvas = self.page.locator("figure:not([hidden]) canvas").first
        canvas.focus()
        for key in keys_before:
            self.page.keyboard.press(key)
        self.page.wait_for_timeout(200)
        found = self.page.evaluate(
            """async () => {
          const canvas = document.querySelector('figure:not([hidden]) canvas');
          const times = [];
          for (let i = 0; i < 60; i += 1) {
            const key = i % 2 ? 'ArrowLeft' : 'ArrowRight';
            const begun = performance.now();
            canvas.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true }));
            // the frame in which it is painted, and that it is on its way to the screen
            await new Promise((done) => requestAnimationFrame(() => {
              const c = new MessageChannel();
              c.port1.onmessage = done;
              c.port2.postMessage(0);
            }));
            canvas.getContext('2d').getImageData(0, 0, 1, 1);
            times.push(performance.now() - begun);
          }
          return times.slice(5);
        }"""
        )
        return [float(one) for one in found]


def measure(boards: Path, say: Callable[[str], None]) -> dict[str, Any]:
    """All figures of one run, as lists."""
    from playwright.sync_api import sync_playwright

    found: dict[str, list[float]] = {name: [] for name in GOALS}
    loops: dict[str, list[float]] = {"python": [], "browser": []}
    real = boards / LARGEST / "board.kicad_pcb"
    with tempfile.TemporaryDirectory() as folder:
        big = Path(folder) / "big.kicad_pcb"
        write_big_board(big, 20_000)
        running = start(Settings(Path(folder) / "data", 0))
        thread = threading.Thread(target=running.run, daemon=True)
        thread.start()
        try:
            with sync_playwright() as play:
                browser = play.chromium.launch(
                    executable_path=shutil.which("chromium"), args=["--no-sandbox"]
                )
                for number in range(RUNS):
                    say(f"run {number + 1} of {RUNS}")
                    context = browser.new_context(viewport={"width": 1280, "height": 800})
                    _one_run(Seat(context.new_page(), running), real, big, found, loops)
                    context.close()
                browser.close()
        finally:
            running.close()
            thread.join(10)
    _without_browser(real, found)
    return {"figures": found, "loops": loops}


def _one_run(
    seat: Seat, real: Path, big: Path, found: dict[str, list[float]], loops: dict[str, list[float]]
) -> None:
    loops["python"].append(python_loop())
    seat.enter()
    loops["browser"].append(float(seat.page.evaluate(BROWSER_LOOP)))
    board = seat.put_in(real)
    name = "first view of the largest board after choosing it, ms"
    found[name].append(seat.first_view(board))
    seat.page.evaluate(f"location.hash = '#board={board}&view=board'")
    seat.still()
    found["answer to a choice, ms (95 %)"].append(at95(seat.choices()))
    found["pan frame, real board, ms (95 %)"].append(at95(seat.pan([])))
    seat.page.evaluate("location.hash = '#view=start'")
    seat.still()
    large = seat.put_in(big)
    seat.page.evaluate(f"location.hash = '#board={large}&view=board'")
    seat.still()
    built = seat.page.evaluate(
        """async () => {
      const { BoardPicture } = await import(
        document.querySelector('script[type=module]').src
          .replace('main.js', 'views/board_picture.js'));
      const begun = new URLSearchParams(location.hash.slice(1)).get('board');
      const list = await (await fetch('/api/v1/boards')).json();
      const sha = list.boards.find((b) => b.sha256.startsWith(begun)).sha256;
      const sides = [];
      for (const side of ['top', 'bottom']) {
        sides.push(await (await fetch(`/api/v1/boards/${sha}/drawing?side=${side}`)).json());
      }
      let all = 0;
      for (const side of sides) {
        const canvas = document.createElement('canvas');
        canvas.style.width = '700px';
        document.body.append(canvas);
        const picture = new BoardPicture(canvas, { pick() {}, hover() {} });
        picture.load(side);
        all += picture.buildMs;
        canvas.remove();
      }
      return all;
    }"""
    )
    found["build of the picture of 20 000 pads, ms"].append(float(built))
    whole = seat.pan(["Home"])
    found["pan frame, 20 000 pads, all in view, ms (95 %)"].append(at95(whole))
    near = seat.pan(["Home", *["PageUp"] * 5])
    found["pan frame, 20 000 pads, zoomed, ms (95 %)"].append(at95(near))


def _without_browser(real: Path, found: dict[str, list[float]]) -> None:
    weight = sum(path.stat().st_size for path in page_files().values())
    board = load(real)
    roles = find_roles(board)
    tree = find_rails(board, roles)
    for _ in range(RUNS):
        begun = time.perf_counter()
        drawn = draw_rail_tree(tree)
        found["layout of the rail tree, ms"].append((time.perf_counter() - begun) * 1e3)
        found["crossings in the rail tree"].append(drawn.crossings)
        found["page weight, bytes"].append(weight)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    default = os.environ.get("NETGRAPH_BOARDS", "../shared/boards")
    parser.add_argument("--boards", type=Path, default=Path(default))
    parser.add_argument("--json", action="store_true", dest="as_json")
    told = parser.parse_args()
    result = measure(told.boards, lambda line: None if told.as_json else print(line))
    if told.as_json:
        print(json.dumps(result, indent=1))
        return
    print(f"{'measured':58} {'median':>10} {'wanted':>10}")
    for name, values in result["figures"].items():
        middle = statistics.median(values)
        wanted = GOALS[name][1]
        verdict = "" if middle <= wanted else "  MISSED"
        print(f"{name:58} {middle:10.1f} {wanted:10.0f}{verdict}")
    for name, values in result["loops"].items():
        print(f"calibration loop, {name}: {statistics.median(values):.0f} ms")


if __name__ == "__main__":
    main()
