# SPDX-License-Identifier: GPL-3.0-or-later
"""How the page holds up: axe-core in both themes, narrow windows, large type, weight, words."""

from __future__ import annotations

import gzip
import hashlib
import json
import re
import urllib.request
from html.parser import HTMLParser
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from netgraph.service.page import build_name
from netgraph.service.serve import Running
from tests.support import ROOT
from tests.web.browser import Sight, sight

WEB = ROOT / "web"
PLACES = {
    "start": "",
    "rails": "&view=rails&net=VSYS",
    "board": "&view=board&part=U9",
    "plan": "&view=plan&short=VSYS&part=C34",
}


def opened(seen: Sight, lark: Path) -> str:
    """Put the sample board in; the beginning of its address."""
    seen.open_file(lark)
    return str(seen.page.evaluate("new URLSearchParams(location.hash.slice(1)).get('board')"))


def go_to(seen: Sight, board: str, view: str) -> None:
    where = f"#board={board}{PLACES[view]}" if view != "start" else f"#board={board}&view=start"
    seen.page.evaluate(f"location.hash = {where!r}")
    seen.still()
    if view == "board":
        seen.page.evaluate("for (const d of document.querySelectorAll('details')) d.open = true")
        seen.page.wait_for_selector(".graph canvas")
        seen.still()
    else:
        seen.page.evaluate("for (const d of document.querySelectorAll('details')) d.open = true")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_finds_nothing_on_any_view(
    theme: str, browser: Browser, running: Running, lark: Path
) -> None:
    """axe-core 4.14.1, rules of WCAG 2.0 to 2.2 A and AA, and its best practice."""
    # The policy of the page would refuse the test's own script; all other tests keep it.
    with sight(browser, running, color_scheme=theme, bypass_csp=True) as seen:
        seen.enter()
        board = opened(seen, lark)
        found = {}
        for view in PLACES:
            go_to(seen, board, view)
            found[view] = seen.axe()
        assert found == {view: [] for view in PLACES}


def test_axe_itself_sees_a_fault(browser: Browser, running: Running) -> None:
    with sight(browser, running, bypass_csp=True) as seen:
        seen.enter()
        seen.page.evaluate(
            "document.querySelector('#content').append(document.createElement('img'))"
        )
        assert any(one.startswith("image-alt") for one in seen.axe())


@pytest.mark.parametrize(
    ("width", "height", "type_"),
    [(320, 640, "normal"), (320, 640, "large"), (768, 1024, "normal"), (1024, 600, "large")],
)
def test_no_view_scrolls_sideways(
    width: int, height: int, type_: str, browser: Browser, running: Running, lark: Path
) -> None:
    """WCAG 2.2, 1.4.10: 320 CSS pixels wide; also a tablet, and a low window with large type."""
    with sight(browser, running, viewport={"width": width, "height": height}) as seen:
        seen.enter()
        seen.page.click(".look summary")
        seen.page.select_option("select[name=type]", type_)
        seen.page.click(".look summary")
        board = opened(seen, lark)
        for view in PLACES:
            go_to(seen, board, view)
            assert seen.sideways() <= 0, view


def test_targets_are_large_enough(seen: Sight, lark: Path) -> None:
    """WCAG 2.2, 2.5.8: 24 by 24 CSS pixels at least; names in running text are links there."""
    board = opened(seen, lark)
    for view in PLACES:
        go_to(seen, board, view)
        small = seen.page.evaluate(
            "[...document.querySelectorAll('button, select, input:not([type=file]), nav a')]"
            ".filter(e => e.offsetParent).map(e => [e.textContent.slice(0, 20),"
            " e.getBoundingClientRect()]).filter(([, r]) => r.width < 24 || r.height < 24)"
            ".map(([t]) => t)"
        )
        assert small == [], view


def test_focus_is_seen_and_never_hidden(seen: Sight, lark: Path) -> None:
    """WCAG 2.2, 2.4.7 and 2.4.11: fifty presses of Tab on Plan; each focused thing is in sight."""
    board = opened(seen, lark)
    go_to(seen, board, "plan")
    for _ in range(50):
        seen.page.keyboard.press("Tab")
        told = seen.page.evaluate(
            "(() => { const e = document.activeElement, s = getComputedStyle(e),"
            " r = e.getBoundingClientRect(); "
            " const within = (v, most) => Math.max(0, Math.min(v, most - 1));"
            " const x = within(r.left + Math.min(5, r.width / 2), innerWidth),"
            " y = within(r.top + Math.min(5, r.height / 2), innerHeight);"
            " const on = document.elementFromPoint(x, y);"
            " return {what: e.outerHTML.slice(0, 80), line: s.outlineStyle,"
            " seen: e === document.body || e.contains(on) || on?.contains(e)}; })()"
        )
        assert told["line"] != "none", told
        assert told["seen"], told


# -- without a browser ---------------------------------------------------------------------------


def page_files() -> list[Path]:
    return [path for path in WEB.rglob("*") if path.is_file()]


def test_the_whole_page_weighs_at_most_a_megabyte() -> None:
    """Everything a browser may load, unzipped."""
    kinds = {".html", ".js", ".mjs", ".css", ".json", ".svg"}
    assert sum(path.stat().st_size for path in page_files() if path.suffix in kinds) <= 1_000_000


def test_libraries_are_what_their_lock_says_and_bring_their_licence() -> None:
    for home in (WEB / "vendor", ROOT / "tests" / "vendor"):
        lock = json.loads((home / "vendor.lock.json").read_text(encoding="utf-8"))
        listed = {"vendor.lock.json", "index.js"}
        for one in lock["libraries"]:
            data = (home / one["file"]).read_bytes()
            assert hashlib.sha256(data).hexdigest() == one["sha256"], one["name"]
            assert (home / one["licence_file"]).read_text(encoding="utf-8").strip()
            assert set(one) >= {"name", "version", "package", "licence"}
            folder = Path(one["file"]).parent
            listed |= {path.relative_to(home).as_posix() for path in (home / folder).iterdir()}
        found = {path.relative_to(home).as_posix() for path in home.rglob("*") if path.is_file()}
        assert found <= listed


def own_scripts() -> list[Path]:
    return [path for path in WEB.rglob("*.js") if "vendor" not in path.parts]


def test_scripts_never_make_markup_from_text_and_have_no_letter_shortcuts() -> None:
    """Rules of the house: text goes in as text; single letters do nothing (WCAG 2.1.4)."""
    never = re.compile(
        r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function"
        r"|accesskey|text/html|console\.|event\.key === \"[a-z]\""
    )
    found = [
        f"{path.relative_to(WEB)}: {line.strip()}"
        for path in own_scripts()
        for line in path.read_text(encoding="utf-8").splitlines()
        if never.search(line)
    ]
    assert found == []


def test_every_source_of_the_page_begins_with_its_licence() -> None:
    for path in [*own_scripts(), *WEB.rglob("*.css")]:
        assert "SPDX-License-Identifier: GPL-3.0-or-later" in path.read_text().splitlines()[0]


class _Texts(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.quiet = False

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self.quiet = tag in ("title", "style", "script")

    def handle_data(self, data: str) -> None:
        if data.strip() and not self.quiet:
            self.found.append(data.strip())


def test_all_words_come_from_the_one_file() -> None:
    """Each key used exists and each key is used; no text stands in the page's markup."""
    strings = json.loads((WEB / "strings" / "en-US.json").read_text(encoding="utf-8"))
    texts = _Texts()
    texts.feed((WEB / "index.html").read_text(encoding="utf-8"))
    assert texts.found == []
    source = "\n".join(path.read_text(encoding="utf-8") for path in own_scripts())
    source += (WEB / "index.html").read_text(encoding="utf-8")
    used = set(re.findall(r"(?:say|sayOr)\(\"([\w.-]+)\"", source))
    used |= set(re.findall(r"data-words=\"([\w.-]+)\"", source))
    assert sorted(used - set(strings)) == []
    begun = set(re.findall(r"(?:say|sayOr)\(`([\w.-]+\.)\$\{", source))
    begun |= {"picture.", "plan.", "start.", "note.", "question."}
    quoted = set(re.findall(r"\"([\w.-]+)\"", source))
    idle = [
        key
        for key in strings
        if key not in used | quoted and not any(key.startswith(one) for one in begun)
    ]
    assert idle == []


# -- colours -------------------------------------------------------------------------------------


def themes() -> dict[str, dict[str, str]]:
    text = (WEB / "styles" / "theme.css").read_text(encoding="utf-8")
    light = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", text.split("@media")[0]))
    dark = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", text.split('[data-theme="dark"]')[1]))
    system = text.split('[data-theme="system"]')[1].split('[data-theme="dark"]')[0]
    assert dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", system)) == dark
    return {"light": light, "dark": dark}


def contrast(a: str, b: str) -> float:
    """WCAG 2.2, contrast ratio and relative luminance."""

    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        r, g, b = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
        return 0.2126 * r + 0.7152 * g + 0.0722 * b

    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_is_computed_as_the_standard_does() -> None:
    """Two values that are known: black on white is 21, and #767676 on white is 4.54."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("name", ["light", "dark"])
def test_text_and_shapes_have_enough_contrast(name: str) -> None:
    """Text 4.5, shapes that carry meaning 3 (WCAG 2.2, 1.4.3 and 1.4.11)."""
    theme = themes()[name]
    for text in ("ink", "soft", "accent", "warn"):
        for ground in ("paper", "surface", "tint", "warn-ground"):
            if text == "accent" and ground == "warn-ground":
                continue  # no link stands on a veto's ground
            assert contrast(theme[text], theme[ground]) >= 4.5, (text, ground)
    assert contrast(theme["accent-ink"], theme["accent"]) >= 4.5
    for shape in ("net", "chosen", "edge", "part"):
        assert contrast(theme[f"picture-{shape}"], theme["picture-ground"]) >= 3, shape
    assert contrast(theme["line"], theme["surface"]) >= 3


def test_zipped_files_are_what_lies_on_disk(running: Running) -> None:
    address = f"{running.address}/static/{build_name()}/app/main.js"
    request = urllib.request.Request(address, headers={"Accept-Encoding": "gzip"})  # noqa: S310 - ours
    with urllib.request.urlopen(request) as response:  # noqa: S310 - ours
        assert response.headers["Cache-Control"].endswith("immutable")
        assert gzip.decompress(response.read()) == (WEB / "app" / "main.js").read_bytes()
