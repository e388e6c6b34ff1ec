# SPDX-License-Identifier: GPL-3.0-or-later
"""A board traced on its photograph, by mouse and by keyboard alone; what is kept is compared with
the board that ``netgraph photo`` makes from the same figures.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser

from netgraph.service.serve import Running
from tests.service.photographs import SECRET, grey_jpeg, png, with_asides
from tests.unit.cli.run import netgraph
from tests.web.browser import Sight, sight
from tests.web.test_walk import tab_to

WIDTH, HEIGHT = 600, 400
CORNERS = [(30, 30, 0, 0), (570, 30, 54, 0), (30, 370, 0, 34)]
PARTS = [
    ("J1", "DC jack", "", (100, 150), [(90, 150), (110, 150)]),
    ("C1", "10uF", "0603", (250, 150), [(240, 150), (260, 150)]),
    ("U1", "LDO", "SOT-23", (400, 200), [(380, 200), (400, 200), (420, 200)]),
]
LINES = ["J1.1 C1.1 U1.1 : VIN_5V", "J1.2 C1.2 U1.2 : GND", "U1.3 nc"]
HOSTILE = "<img src=x onerror=document.title='broken'>"


@pytest.fixture
def photograph(tmp_path: Path) -> Path:
    path = tmp_path / "top.png"
    path.write_bytes(png(WIDTH, HEIGHT))
    return path


class Tracing:
    """What a person does in trace mode."""

    def __init__(self, seen: Sight) -> None:
        self.seen, self.page = seen, seen.page

    def start(self, *pictures: Path, name: str = "bench one") -> None:
        self.page.click(".photobegin summary")
        self.page.fill("#photo-name", name)
        for side, path in zip(("top", "bottom"), pictures, strict=False):
            self.page.set_input_files(f"#photo-{side}", path)
        self.page.click(".photostart button[type=submit]")
        self.seen.until("location.hash.includes('mode=trace')")
        self.seen.still()
        if pictures:
            self.page.wait_for_selector("canvas[data-photo]")

    @property
    def sha(self) -> str:
        row = "new URLSearchParams(location.hash.slice(1)).get('board')"
        begun = str(self.page.evaluate(row))
        rows = self.ask("/boards")["boards"]
        return str(next(one["sha256"] for one in rows if one["sha256"].startswith(begun)))

    def ask(self, path: str) -> Any:
        return self.page.evaluate(f"fetch('/api/v1{path}').then((r) => r.json())")

    def now(self) -> Any:
        return self.ask(f"/boards/{self.sha}/trace")

    def file(self) -> Any:
        return self.ask(f"/boards/{self.sha}/trace/file")

    def kept(self, steps: int) -> None:
        """Wait until so many steps are kept, and shown."""
        self.seen.until(f"document.querySelector('.saved').textContent.startsWith('{steps} step')")

    def step(self, name: str) -> None:
        self.page.click(f"[data-step={name}]")

    def click(self, x: float, y: float) -> tuple[float, float]:
        """Click a place of the picture, all of it in view; where the cross-hair then is."""
        self.page.locator(".photo canvas").scroll_into_view_if_needed()
        self.page.wait_for_timeout(50)
        box = self.page.locator(".photo canvas").bounding_box()
        assert box is not None
        scale = min(box["width"] / WIDTH, box["height"] / HEIGHT)
        self.page.mouse.click(
            box["x"] + box["width"] / 2 + (x - WIDTH / 2) * scale,
            box["y"] + box["height"] / 2 + (y - HEIGHT / 2) * scale,
        )
        found = self.page.evaluate(
            "['x', 'y'].map((n) => +document.querySelector('#cross-' + n).value)"
        )
        assert abs(found[0] - x) < 3
        assert abs(found[1] - y) < 3
        return found[0], found[1]

    def act(self) -> None:
        self.page.click(".step:not([hidden]) button[type=submit]")


def open_all(seen: Sight) -> None:
    seen.page.evaluate("for (const d of document.querySelectorAll('details')) d.open = true")


def by_command(folder: Path, photograph: bytes, figures: list[list[Any]]) -> Any:
    """The board that the command makes; each of `figures` is one call of ``netgraph photo``."""
    (folder / "top.png").write_bytes(photograph)
    file = folder / "command.photo.json"
    netgraph("photo", "new", file, "--top", folder / "top.png", "--name", "bench one")
    for words in figures:
        result = netgraph("photo", words[0], file, *words[1:])
        assert result.status == 0, result
    return json.loads(file.read_text())


def shown_picture(tracing: Tracing) -> bytes:
    told = tracing.page.evaluate(
        f"fetch('/api/v1/boards/{tracing.sha}/pictures/top').then((r) => r.arrayBuffer())"
        ".then((b) => [...new Uint8Array(b)])"
    )
    return bytes(told)


def test_a_whole_board_by_mouse(seen: Sight, photograph: Path, tmp_path: Path) -> None:
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    figures: list[list[Any]] = []
    page.check("input[name=scale-by][value=places]")
    places: list[float] = []
    for i, (x, y, x_mm, y_mm) in enumerate(CORNERS):
        places += [*tracing.click(x, y), x_mm, y_mm]
        page.fill(f"[data-point='{i}-x_mm']", str(x_mm))
        page.fill(f"[data-point='{i}-y_mm']", str(y_mm))
    tracing.act()
    tracing.kept(2)
    figures.append(["scale", "top", *places])
    tracing.step("part")
    steps = 2
    for ref, value, package, middle, _ in PARTS:
        at = tracing.click(*middle)
        page.keyboard.type(ref)
        page.fill(".step:not([hidden]) input[name=value]", value)
        page.fill(".step:not([hidden]) input[name=package]", package)
        tracing.act()
        steps += 1
        tracing.kept(steps)
        more = [*(["--package", package] if package else [])]
        figures.append(["part", ref, "--value", value, *more, "--at", *at])
    tracing.step("pad")
    for ref, _, _, _, pads in PARTS:
        page.fill("input[name=part]", ref)
        for i, pad in enumerate(pads):
            assert page.input_value("input[name=pin]") == str(i + 1), "the pin counts up"
            at = tracing.click(*pad)
            steps += 1
            tracing.kept(steps)
            figures.append(["pad", f"{ref}.{i + 1}", *at])
    tracing.step("net")
    for name, number in (("VIN_5V", 0), ("GND", 1)):
        for _, _, _, _, pads in PARTS:
            tracing.click(*pads[number])
        if number:
            page.fill("input[name=net]", name)
        else:
            page.focus("input[name=line]")
            page.wait_for_timeout(50)
            page.keyboard.type(f": {name}")
        page.keyboard.press("Enter")
        steps += 1
        tracing.kept(steps)
        assert f"{name} has 3 pads" in page.inner_text(".grown")
    tracing.click(*PARTS[2][4][2])
    page.click("text=It joins nothing")
    tracing.kept(steps + 1)
    figures.append(["trace", *LINES])
    assert tracing.file() == by_command(tmp_path, shown_picture(tracing), figures)
    # What was made on the page answers on the page.
    page.click("[data-mode=look]")
    seen.still()
    page.fill("#question input[name=short]", "VIN_5V")
    page.keyboard.press("Enter")
    seen.until("location.hash.includes('view=plan')")
    seen.still()
    assert "only what was traced is known" in page.inner_text("#question")
    refs = page.eval_on_selector_all(
        "tr.verdict button.name", "all => all.map(b => b.textContent).sort()"
    )
    assert refs == ["C1", "J1", "U1"]


def type_into(seen: Sight, selector: str, text: str) -> None:
    tab_to(seen, selector)
    seen.page.keyboard.press("Control+A")
    seen.page.keyboard.type(text)


def test_a_whole_board_by_keyboard_alone(seen: Sight, photograph: Path, tmp_path: Path) -> None:
    """Typed places, arrow keys and Enter; the file is chosen in the system's own window."""
    tracing, page = Tracing(seen), seen.page
    key = page.keyboard.press
    tab_to(seen, ".photobegin summary")
    key("Enter")
    type_into(seen, "#photo-name", "bench one")
    tab_to(seen, "#photo-top")
    key("Enter")
    for _ in range(200):
        if seen.choosers:
            break
        page.wait_for_timeout(20)
    seen.choosers[0].set_files(photograph)
    tab_to(seen, ".photostart button[type=submit]")
    key("Enter")
    seen.until("location.hash.includes('mode=trace')")
    seen.still()
    page.wait_for_selector("canvas[data-photo]")

    def place(x: float, y: float) -> None:
        type_into(seen, "#cross-x", str(x))
        type_into(seen, "#cross-y", str(y))
        key("Enter")

    figures: list[list[Any]] = []
    tab_to(seen, "input[name=scale-by]:checked")
    key("ArrowDown")
    for x, y, _, _ in CORNERS:
        place(x, y)
    for i, (_, _, x_mm, y_mm) in enumerate(CORNERS):
        type_into(seen, f"[data-point='{i}-x_mm']", str(x_mm))
        type_into(seen, f"[data-point='{i}-y_mm']", str(y_mm))
    key("Enter")
    tracing.kept(2)
    figures.append(["scale", "top", *[n for corner in CORNERS for n in corner]])
    tab_to(seen, "[data-step=part]")
    key("Enter")
    steps = 2
    for ref, value, package, middle, _ in PARTS:
        place(*middle)
        assert page.evaluate("document.activeElement.name") == "ref"
        page.keyboard.type(ref)
        type_into(seen, ".step:not([hidden]) input[name=value]", value)
        type_into(seen, ".step:not([hidden]) input[name=package]", package or " ")
        key("Enter")
        steps += 1
        tracing.kept(steps)
        more = [*(["--package", package] if package else [])]
        figures.append(["part", ref, "--value", value, *more, "--at", *middle])
    tab_to(seen, "[data-step=pad]")
    key("Enter")
    for ref, _, _, _, pads in PARTS:
        type_into(seen, "input[name=part]", ref)
        for i, pad in enumerate(pads):
            if i:
                # From the pad before by arrow keys: with shift by one pixel each.
                tab_to(seen, ".photo canvas")
                for _ in range(pad[0] - pads[i - 1][0]):
                    key("Shift+ArrowRight")
                key("Enter")
            else:
                place(*pad)
            steps += 1
            tracing.kept(steps)
            figures.append(["pad", f"{ref}.{i + 1}", *pad])
    tab_to(seen, "[data-step=net]")
    key("Enter")
    for line in LINES:
        type_into(seen, "input[name=line]", line)
        key("Enter")
        steps += 1
        tracing.kept(steps)
    figures.append(["trace", *LINES])
    assert tracing.file() == by_command(tmp_path, shown_picture(tracing), figures)
    tab_to(seen, ".undo")
    key("Enter")
    tracing.kept(steps - 1)
    assert tracing.now()["traced"] == LINES[:2]


def lines(tracing: Tracing, *texts: str) -> None:
    steps = tracing.now()["steps"]
    tracing.step("net")
    for text in texts:
        tracing.page.fill("input[name=line]", text)
        tracing.page.keyboard.press("Enter")
        steps += 1
        tracing.kept(steps)


def two_pads(tracing: Tracing, *places: tuple[int, int]) -> None:
    """C7 with its pads, right after the start."""
    tracing.step("pad")
    tracing.page.fill("input[name=part]", "C7")
    for i, place in enumerate(places):
        tracing.click(*place)
        tracing.kept(2 + i)


def test_steps_are_taken_back_one_by_one(seen: Sight, photograph: Path) -> None:
    tracing = Tracing(seen)
    tracing.start(photograph)
    lines(tracing, *LINES)
    for left in (3, 2, 1, 0):
        seen.page.click(".undo")
        tracing.kept(left)
    assert seen.page.is_disabled(".undo")
    assert tracing.now()["traced"] == []
    assert "There is no photograph of the top yet" in seen.page.inner_text(".trace")


def test_a_reload_in_the_middle_loses_nothing(seen: Sight, photograph: Path) -> None:
    tracing = Tracing(seen)
    tracing.start(photograph)
    lines(tracing, *LINES[:2])
    before = tracing.file()
    seen.page.reload()
    seen.page.wait_for_selector("html[data-ready]")
    seen.still()
    seen.page.wait_for_selector("canvas[data-photo]")
    assert tracing.file() == before
    assert "VIN_5V: J1.1 C1.1 U1.1" in seen.page.inner_text(".nets")
    lines(tracing, LINES[2])
    assert tracing.now()["traced"] == LINES


def test_two_windows_do_not_overwrite_each_other(
    browser: Browser, running: Running, photograph: Path
) -> None:
    with sight(browser, running) as seen:
        seen.enter()
        one = Tracing(seen)
        one.start(photograph)
        second = Sight(seen.page.context.new_page(), running)
        second.page.goto(seen.page.url)
        second.page.wait_for_selector("html[data-ready]")
        second.still()
        two = Tracing(second)
        lines(one, LINES[0])
        two.step("net")
        second.page.fill("input[name=line]", LINES[1])
        second.page.keyboard.press("Enter")
        second.page.wait_for_selector(".told > .veto:not(:empty)")
        assert "Another window" in second.page.inner_text(".told > .veto")
        assert second.page.input_value("input[name=line]") == LINES[1], "what was typed is there"
        assert "VIN_5V" in second.page.inner_text(".nets"), "and so is the other's step"
        second.page.keyboard.press("Enter")
        two.kept(3)
        assert one.now()["traced"] == LINES[:2]
        # The browser itself tells of the refused request; nothing else went wrong.
        assert all("409" in fault for fault in second.faults)


def test_rails_that_become_one_are_warned_of(seen: Sight, photograph: Path) -> None:
    tracing = Tracing(seen)
    tracing.start(photograph)
    lines(tracing, "J1.1 C1.1 : VIN_5V", "U1.1 C2.1 : VBAT", "C1.1 C2.1")
    told = seen.page.inner_text(".told .vetoes")
    assert "VIN_5V" in told
    assert "VBAT" in told


def test_change_moves_renames_and_takes_away(seen: Sight, photograph: Path) -> None:
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    two_pads(tracing, (200, 200), (240, 200))
    lines(tracing, "C7.1 R1.1 : VX")
    tracing.step("change")
    tracing.click(200, 200)
    assert page.input_value("input[name=what]") == "C7.1"
    page.click("text=Move it")
    page.wait_for_timeout(450)  # sooner it is the same tap once more
    x, y = tracing.click(180, 260)
    tracing.kept(5)
    (part,) = tracing.now()["parts"]
    assert (part["pads"][0]["x_px"], part["pads"][0]["y_px"]) == (x, y)
    page.fill("input[name=what]", "C7")
    page.fill("input[name=new]", "C8")
    page.keyboard.press("Enter")
    tracing.kept(6)
    assert tracing.now()["traced"] == ["C8.1 R1.1 : VX"]
    page.fill("input[name=what]", "C8.2")
    page.click("text=Take it away")
    tracing.kept(7)
    assert [one["pin"] for one in tracing.now()["parts"][0]["pads"]] == ["1"]


def test_a_place_beside_the_picture_is_not_taken(seen: Sight, photograph: Path) -> None:
    """Typed, 700 for 70 becomes no pad at the edge; a part is not moved so that a pad leaves."""
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    two_pads(tracing, (20, 200), (300, 200))
    for x, y in (("700", "100"), ("100", "-1")):
        page.fill("#cross-x", x)
        page.fill("#cross-y", y)
        page.keyboard.press("Enter")
        wanted = f"not on the picture: x goes from 0 to {WIDTH}, y from 0 to {HEIGHT}"
        assert wanted in page.inner_text(".told > .veto")
    page.fill("#cross-x", "")
    page.keyboard.press("Enter")
    assert "two numbers" in page.inner_text(".told > .veto"), "an empty field is no zero"
    tracing.step("change")
    page.fill("input[name=what]", "C7")
    page.click("text=Move it")
    page.wait_for_timeout(450)  # sooner it is the same tap once more
    tracing.click(30, 200)  # its pads would lie at -110 and 170
    seen.until("document.querySelector('.told > .veto').textContent.includes('-1')")
    assert "C7.1 would come to pixel -1" in page.inner_text(".told > .veto")
    (part,) = tracing.now()["parts"]
    assert [round(one["x_px"], -1) for one in part["pads"]] == [20, 300]
    assert len(seen.faults) == 1
    seen.faults[:] = [one for one in seen.faults if "400" not in one]


def test_quick_clicks_get_a_pin_each(seen: Sight, photograph: Path) -> None:
    """Three clicks before the first answer has come."""
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    tracing.step("pad")
    page.fill("input[name=part]", "U1")

    def slow(route: Any) -> None:
        page.wait_for_timeout(150)
        route.continue_()

    page.route("**/trace", slow)
    for x in (100, 200, 300):
        tracing.click(x, 200)
    tracing.kept(4)
    page.unroute("**/trace")
    (part,) = tracing.now()["parts"]
    assert [one["pin"] for one in part["pads"]] == ["1", "2", "3"]
    assert [round(one["x_px"], -2) for one in part["pads"]] == [100, 200, 300]


def test_scale_by_distances_tells_how_well_it_fits(seen: Sight, photograph: Path) -> None:
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    for x, y, _, _ in CORNERS:
        tracing.click(x, y)
    for pair, far in (("AB", "54"), ("BC", "63,812"), ("CA", "34")):
        page.fill(f"[data-far={pair}]", far)
    tracing.act()
    tracing.kept(2)
    assert "three points always fit" in page.inner_text(".step:not([hidden])")
    (picture,) = tracing.now()["pictures"]
    # 54 mm over 540 pixels.
    assert picture["scale"]["mm_per_px_most"] == pytest.approx(0.1, rel=0.02)
    tracing.click(570, 370)
    assert "All points are set" in page.inner_text(".told > .veto")
    page.check("input[name=scale-by][value=places]")
    tracing.click(570, 370)
    page.fill("[data-point='3-x_mm']", "54")
    page.fill("[data-point='3-y_mm']", "35")
    tracing.act()
    tracing.kept(3)
    assert "4 points fit within" in page.inner_text(".step:not([hidden])")


def test_a_board_file_with_its_picture_is_traced_on(
    seen: Sight, photograph: Path, tmp_path: Path
) -> None:
    file = tmp_path / "old.photo.json"
    netgraph("photo", "new", file, "--top", photograph)
    netgraph("photo", "scale", file, "top", *[n for corner in CORNERS for n in corner])
    netgraph("photo", "pad", file, "C1.1", 100, 100)
    netgraph("photo", "trace", file, "C1.1 R1.1 : VX")
    tracing, page = Tracing(seen), seen.page
    seen.open_file(file)
    seen.go("board")
    page.click("text=Go on tracing this board")
    seen.until("location.hash.includes('mode=trace')")
    seen.still()
    assert "top.png, which is not here" in page.inner_text(".trace")
    page.set_input_files("#trace-photo", photograph)
    page.wait_for_selector("canvas[data-photo]")
    tracing.kept(1)
    lines(tracing, "C1.1 R2.1")
    assert "VX: C1.1 R1.1 R2.1" in page.inner_text(".nets")
    old = json.loads(file.read_text())
    now = tracing.file()
    assert now["traced"] == [*old["traced"], "C1.1 R2.1"]
    assert now["parts"] == old["parts"]


def test_files_are_saved_for_the_command_line(
    seen: Sight, photograph: Path, tmp_path: Path
) -> None:
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    lines(tracing, *LINES)
    with page.expect_download() as told:
        page.click("text=Save the board file")
    file = tmp_path / told.value.suggested_filename
    told.value.save_as(file)
    rails = netgraph("rails", file, "--json").json()
    answer = tracing.ask(f"/boards/{tracing.sha}/rails")
    for one in (rails, answer):
        del one["file"]
    assert rails == answer
    with page.expect_download() as told:
        page.click("text=Save top.png")
    picture = tmp_path / "kept.png"
    told.value.save_as(picture)
    assert picture.read_bytes() == shown_picture(tracing)
    noted = json.loads(file.read_text())["pictures"][0]
    assert noted["sha256"] == hashlib.sha256(picture.read_bytes()).hexdigest()
    assert SECRET in photograph.read_bytes()
    assert SECRET not in picture.read_bytes()


def test_a_turned_photograph_is_seen_as_it_was_taken(seen: Sight, tmp_path: Path) -> None:
    """The browser turns it by what is kept of the asides, and so counts pixels as we do."""
    path = tmp_path / "phone.jpg"
    path.write_bytes(with_asides(grey_jpeg(64, 32), 6))
    tracing = Tracing(seen)
    tracing.start(path)
    (picture,) = tracing.now()["pictures"]
    size = seen.page.evaluate(
        f"fetch('/api/v1/boards/{tracing.sha}/pictures/top').then((r) => r.blob())"
        ".then((b) => createImageBitmap(b)).then((b) => [b.width, b.height])"
    )
    assert [picture["width_px"], picture["height_px"]] == size == [32, 64]


def test_a_big_picture_is_shown_and_its_places_count(seen: Sight, tmp_path: Path) -> None:
    path = tmp_path / "big.png"
    path.write_bytes(png(9000, 6000))
    tracing, page = Tracing(seen), seen.page
    tracing.start(path)
    tracing.step("pad")
    page.fill("input[name=part]", "C1")
    page.fill("#cross-x", "8999")
    page.fill("#cross-y", "5999")
    page.click(".cross button")
    tracing.kept(2)
    (part,) = tracing.now()["parts"]
    assert (part["pads"][0]["x_px"], part["pads"][0]["y_px"]) == (8999, 5999)
    # Bars of 3 levels a pixel, drawn from the large picture: near, both levels are seen.
    for _ in range(12):
        page.click(".photo button[title=Nearer]")
    page.wait_for_timeout(200)
    levels = page.evaluate(
        "(() => { const c = document.querySelector('.photo canvas');"
        " const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;"
        " const s = new Set(); for (let i = 0; i < d.length; i += 4) s.add(d[i]);"
        " return s.size; })()"
    )
    assert levels > 10


def test_what_is_no_picture_leaves_no_board_behind(seen: Sight, tmp_path: Path) -> None:
    path = tmp_path / "top.png"
    path.write_bytes(b"<svg onload=alert(1)>")
    before = len(Tracing(seen).ask("/boards")["boards"])
    seen.page.click(".photobegin summary")
    seen.page.set_input_files("#photo-top", path)
    seen.page.click(".photostart button[type=submit]")
    seen.page.wait_for_selector(".start > .veto:not(:empty)")
    assert "neither PNG nor JPEG" in seen.page.inner_text(".start > .veto")
    assert len(Tracing(seen).ask("/boards")["boards"]) == before
    seen.faults[:] = [one for one in seen.faults if "422" not in one]


def test_what_was_typed_stays_when_the_service_does_not_answer(
    seen: Sight, photograph: Path
) -> None:
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    tracing.step("net")
    page.route("**/trace", lambda route: route.abort())
    page.fill("input[name=line]", LINES[0])
    page.keyboard.press("Enter")
    page.wait_for_selector(".told > .veto:not(:empty)")
    assert "does not answer" in page.inner_text(".told > .veto")
    assert page.input_value("input[name=line]") == LINES[0]
    page.unroute("**/trace")
    page.focus("input[name=line]")
    page.keyboard.press("Enter")
    tracing.kept(2)
    seen.faults[:] = [one for one in seen.faults if "ERR_FAILED" not in one]


def test_fingers_set_points_too(browser: Browser, running: Running, photograph: Path) -> None:
    told = {"has_touch": True, "viewport": {"width": 820, "height": 1180}}
    with sight(browser, running, **told) as seen:
        seen.enter()
        tracing, page = Tracing(seen), seen.page
        tracing.start(photograph)
        tracing.step("pad")
        page.fill("input[name=part]", "C1")
        box = page.locator(".photo canvas").bounding_box()
        assert box is not None
        page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        tracing.kept(2)
        (part,) = tracing.now()["parts"]
        assert abs(part["pads"][0]["x_px"] - WIDTH / 2) < 2
        assert abs(part["pads"][0]["y_px"] - HEIGHT / 2) < 2


def test_the_photograph_lies_under_the_drawing_where_it_belongs(
    seen: Sight, tmp_path: Path
) -> None:
    """A picture that is dark on the left and light on the right, seen so in the drawing."""
    path = tmp_path / "half.png"
    path.write_bytes(png(60, 40, secret=False))  # grey grows with x
    tracing, page = Tracing(seen), seen.page
    tracing.start(path)
    page.check("input[name=scale-by][value=places]")
    for i, (x, y) in enumerate(((0, 0), (60, 0), (0, 40))):
        page.fill("#cross-x", str(x))
        page.fill("#cross-y", str(y))
        page.click(".cross button")
        page.fill(f"[data-point='{i}-x_mm']", str(x))
        page.fill(f"[data-point='{i}-y_mm']", str(y))
    tracing.act()
    tracing.kept(2)
    tracing.step("pad")
    page.fill("input[name=part]", "J1")
    for steps, (x, y) in enumerate(((1, 1), (59, 39)), start=3):
        page.fill("#cross-x", str(x))
        page.fill("#cross-y", str(y))
        page.click(".cross button")
        tracing.kept(steps)
    page.click("[data-mode=look]")
    seen.still()
    page.wait_for_timeout(300)
    left, right = page.evaluate(
        "(() => { const c = document.querySelector('figure[data-side=top] canvas');"
        " const row = c.getContext('2d').getImageData(0, c.height / 2, c.width, 1).data;"
        " return [0.3, 0.7].map((s) => row[4 * Math.round(c.width * s)]); })()"
    )
    assert left + 20 < right < 255


def test_hostile_names_are_text(seen: Sight, tmp_path: Path) -> None:
    path = tmp_path / "<img src=x onerror=alert(1)>.png"
    path.write_bytes(png(WIDTH, HEIGHT))
    tracing, page = Tracing(seen), seen.page
    tracing.start(path, name=HOSTILE)
    word = HOSTILE.replace(" ", "")
    tracing.step("part")
    page.fill("input[name=ref]", word)
    page.fill(".step:not([hidden]) input[name=value]", HOSTILE)
    tracing.act()
    tracing.kept(2)
    lines(tracing, f"{word}.1 C1.1 : {word}")
    page.evaluate("for (const d of document.querySelectorAll('details')) d.open = true")
    assert page.locator("main img").count() == 0
    assert page.title() != "broken"
    assert word in page.inner_text(".nets")
    for view in ("rails", "plan", "start"):
        seen.go(view)
        assert page.locator("main img").count() == 0


def told(tracing: Tracing) -> str:
    return tracing.page.inner_text(".told > .veto")


def test_what_is_said_of_a_step_is_in_sight(
    browser: Browser, running: Running, photograph: Path
) -> None:
    """Wherever the page is scrolled to; WCAG 2.2, 2.4.11: nor does it hide what has the focus."""
    for width, height in ((1280, 800), (360, 740)):
        with sight(browser, running, viewport={"width": width, "height": height}) as seen:
            seen.enter()
            tracing, page = Tracing(seen), seen.page
            tracing.start(photograph)
            lines(tracing, "J1.1 C1.1 : VIN_5V", "U1.1 C2.1 : VBAT", "C1.1 C2.1")
            for selector in (".told .vetoes p", ".told .heard"):
                seen.until(
                    f"(() => {{ const r = document.querySelector('{selector}')"
                    ".getBoundingClientRect();"
                    " return r.height > 0 && r.top >= 0 && r.bottom <= innerHeight; })()"
                )
            assert "VIN_5V has 4 pads" in page.inner_text(".told .heard"), "the net is in sight"
            page.focus("input[name=line]")
            seen.until(
                "document.activeElement.getBoundingClientRect().bottom <="
                " document.querySelector('.told').getBoundingClientRect().top"
            )
            page.keyboard.press("Enter")
            assert "Click pads or type them" in told(tracing)
            assert page.inner_text(".told .heard") == "", "nothing good stands beside it"
            # Not only right after the step: it stands with the net from now on.
            lines(tracing, "U1.2 C2.2 : GND")
            page.reload()
            page.wait_for_selector("html[data-ready]")
            seen.still()
            assert "a fault joins nets too" in page.inner_text(".nets")
            assert page.inner_text(".tracehead strong") == "bench one.photo.json"
            # The question, and so every answer, says it too.
            page.click("[data-mode=look]")
            seen.still()
            assert "VIN_5V and VBAT" in page.inner_text("#question")


def test_a_move_that_was_begun_is_seen_and_can_be_left(seen: Sight, photograph: Path) -> None:
    """Armed, it is said; another step, Escape, the other side and its own button end it."""
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    two_pads(tracing, (200, 200), (240, 200))
    ends = {
        "its button": lambda: page.click(".armed button"),
        "Escape": lambda: page.keyboard.press("Escape"),
        "another step": lambda: (tracing.step("net"), tracing.step("change")),
        "the other side": lambda: (
            page.click(".photo .sides [data-side=bottom]"),
            page.click(".drop .sides button:not([aria-pressed=true])"),
            page.wait_for_selector("canvas[data-photo]", state="visible"),
        ),
        "another name": lambda: page.fill("input[name=what]", "C7.2"),
    }
    tracing.step("change")
    for name, end in ends.items():
        page.fill("input[name=what]", "C7")
        page.click("text=Move it")
        assert "Set the new place of C7" in page.inner_text(".armed"), name
        assert page.inner_text(".cross button") == "It belongs here"
        end()
        assert page.inner_text(".cross button") == "Choose what is here", name
        assert not page.is_visible(".armed"), name
        tracing.click(200, 200)
        assert page.input_value("input[name=what]") == "C7.1", name
    assert tracing.now()["steps"] == 3


def test_the_same_tap_or_key_once_more_moves_nothing(seen: Sight, photograph: Path) -> None:
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    two_pads(tracing, (200, 200), (240, 200))
    tracing.step("change")
    page.fill("input[name=what]", "C7.1")
    page.focus("text=Move it")
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    page.wait_for_timeout(450)
    assert "Set the new place of C7.1" in page.inner_text(".told .armed")
    assert tracing.now()["steps"] == 3
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    tracing.kept(4)
    # Looked at elsewhere in between, nothing waits any more.
    page.click("text=Move it")
    page.click("[data-mode=look]")
    seen.still()
    page.click("[data-mode=trace]")
    seen.still()
    assert not page.is_visible(".armed")
    seen.go("rails")
    seen.go("board")
    assert page.inner_text(".told") == ""


def test_enter_in_value_says_the_value(seen: Sight, photograph: Path) -> None:
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    two_pads(tracing, (200, 200), (240, 200))
    tracing.step("change")
    open_all(seen)
    page.fill("input[name=what]", "C7")
    page.fill(".step:not([hidden]) input[name=value]", "10uF")
    page.keyboard.press("Enter")
    tracing.kept(4)
    assert tracing.now()["parts"][0]["value"] == "10uF"


def test_an_old_refusal_goes_with_its_step(seen: Sight, photograph: Path) -> None:
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    tracing.step("net")
    page.keyboard.press("Enter")
    tracing.act()
    assert told(tracing) != ""
    tracing.step("pad")
    assert told(tracing) == ""


def test_a_tap_twice_on_one_spot_sets_one_pad(seen: Sight, photograph: Path) -> None:
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    tracing.step("pad")
    page.fill("input[name=part]", "C7")
    tracing.click(200, 200)
    tracing.click(203, 201)
    tracing.kept(2)
    seen.until("document.querySelector('.told > .veto').textContent !== ''")
    assert "C7.1 lies there already" in told(tracing)
    # Nearer, the same two places are two pads.
    for _ in range(4):
        page.click(".photo button[title=Nearer]")
    page.fill("#cross-x", "208")
    page.fill("#cross-y", "200")
    page.click(".cross button")
    tracing.kept(3)
    (part,) = tracing.now()["parts"]
    assert [one["pin"] for one in part["pads"]] == ["1", "2"]


def test_a_part_is_set_once(seen: Sight, photograph: Path) -> None:
    """Its designator again moves nothing; what is typed after Enter stays."""
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    tracing.step("part")
    tracing.click(200, 200)
    page.keyboard.type("C1")
    page.keyboard.press("Enter")
    tracing.kept(2)
    tracing.click(300, 300)
    page.keyboard.type("C1")
    page.keyboard.press("Enter")
    assert "C1 is set already" in told(tracing)
    (part,) = tracing.now()["parts"]
    assert round(part["x_px"], -1) == 200
    for word in ("C1,C2", "C:1", "'C1'"):
        page.fill("input[name=ref]", word)
        page.keyboard.press("Enter")
        seen.until("document.querySelector('.told > .veto').textContent.includes('no designator')")
        assert page.input_value("input[name=ref]") == word, "what was refused is there to be mended"
    assert [one["ref"] for one in tracing.now()["parts"]] == ["C1"]
    seen.faults[:] = [one for one in seen.faults if "400" not in one]


def test_one_types_on_while_a_line_is_kept(seen: Sight, photograph: Path) -> None:
    """Enter twice keeps a line once; what is typed meanwhile is not wiped."""
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    tracing.step("net")

    def slow(route: Any) -> None:
        page.wait_for_timeout(300)
        route.continue_()

    page.route("**/trace", slow)
    page.fill("input[name=line]", LINES[0])
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    page.keyboard.type("J1.2 C1.2")
    tracing.kept(2)
    assert page.input_value("input[name=line]") == "J1.2 C1.2"
    assert told(tracing) == ""
    page.keyboard.press("Enter")
    tracing.kept(3)
    assert tracing.now()["traced"] == [LINES[0], "J1.2 C1.2"]
    # What is refused meanwhile is not lost either.
    page.fill("input[name=line]", "J1,1")
    page.keyboard.press("Enter")
    page.keyboard.type("U1.3 nc")
    seen.until("document.querySelector('.told > .veto').textContent !== ''")
    assert told(tracing).endswith("Not kept: J1,1")
    assert page.input_value("input[name=line]") == "U1.3 nc"
    page.unroute("**/trace")
    seen.faults[:] = [one for one in seen.faults if "422" not in one]


def test_what_was_said_of_one_parts_pads_is_not_kept_for_the_next(
    seen: Sight, photograph: Path
) -> None:
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    open_all(seen)
    tracing.step("pad")
    page.fill("input[name=part]", "J1")
    page.check("input[name=through]")
    page.fill("input[name=width]", "1.2 mm")
    tracing.click(100, 200)
    tracing.kept(2)
    tracing.click(150, 200)
    tracing.kept(3)
    page.fill("input[name=part]", "C1")
    tracing.click(300, 200)
    tracing.kept(4)
    pads = [pad for part in tracing.now()["parts"] for pad in part["pads"]]
    assert [(pad["through"], pad["width_mm"]) for pad in pads] == [
        (True, 1.2), (True, 1.2), (False, 0.0),
    ]  # fmt: skip
    page.fill("input[name=width]", "wide")
    tracing.click(340, 200)
    seen.until("document.querySelector('.told > .veto').textContent.includes('wide')")
    assert tracing.now()["steps"] == 4


def test_value_and_package_are_shown_before_they_are_changed(seen: Sight, photograph: Path) -> None:
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    tracing.step("part")
    page.fill("input[name=ref]", "C1")
    page.fill(".step:not([hidden]) input[name=value]", "10uF")
    tracing.act()
    tracing.kept(2)
    tracing.step("change")
    open_all(seen)
    page.fill("input[name=what]", "C1")
    value = page.locator(".step:not([hidden]) input[name=value]")
    assert value.input_value() == "10uF"
    page.click("text=Say it")
    assert "said of C1 already" in told(tracing)
    value.fill("22uF")
    page.click("text=Say it")
    tracing.kept(3)
    assert tracing.now()["parts"][0]["value"] == "22uF"


def test_the_caret_stays_where_it_is_set(seen: Sight, photograph: Path) -> None:
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    tracing.step("net")
    page.fill("input[name=line]", "C12.1 L3.2 : VSYS")
    page.focus(".undo" if page.is_enabled(".undo") else "#cross-x")
    page.click("input[name=line]", position={"x": 14, "y": 20})
    page.wait_for_timeout(80)
    assert page.evaluate("document.activeElement.selectionStart") < 5
    tab_to(seen, "input[name=net]")
    page.keyboard.press("Shift+Tab")
    page.wait_for_timeout(80)
    assert page.evaluate("document.activeElement.selectionStart") == len("C12.1 L3.2 : VSYS")


def test_a_length_that_is_none_is_named(seen: Sight, photograph: Path) -> None:
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    for x, y, _, _ in CORNERS:
        tracing.click(x, y)
    for pair, far in (("AB", "54 mm"), ("BC", "long"), ("CA", "34")):
        page.fill(f"[data-far={pair}]", far)
    tracing.act()
    assert "B to C" in told(tracing)
    assert "long" in told(tracing)
    assert page.evaluate("document.activeElement.dataset.far") == "BC"
    page.fill("[data-far=BC]", "63.812mm")
    tracing.act()
    tracing.kept(2)


def test_back_to_the_board_is_back_to_tracing(seen: Sight, photograph: Path) -> None:
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    lines(tracing, *LINES)
    seen.go("rails")
    seen.go("board")
    assert "mode=trace" in page.url
    page.click("[data-mode=look]")
    seen.still()
    seen.go("rails")
    seen.go("board")
    assert "mode=trace" not in page.url


def test_a_question_that_is_refused_disowns_the_answer_below(seen: Sight, photograph: Path) -> None:
    tracing, page = Tracing(seen), seen.page
    tracing.start(photograph)
    lines(tracing, *LINES, "J1.1 R1.1 : VBAT")
    page.click("[data-mode=look]")
    seen.still()
    short = "#question input[name=short]"
    page.fill(short, "vbat")
    page.keyboard.press("Enter")
    seen.until("location.hash.includes('view=plan')")
    seen.still()
    assert page.inner_text("#news") == "vbat is called VIN_5V on this board."
    page.fill(short, "NOWHERE")
    page.keyboard.press("Enter")
    fault = "document.querySelector('#question-fault').textContent"
    assert page.evaluate(fault) == (
        "No net is named NOWHERE. What stands below is still about VIN_5V."
    )
    seen.go("start")
    seen.go("rails")
    page.fill(short, "VIN_5V")
    page.keyboard.press("Enter")
    seen.until("location.hash.includes('view=plan')")
    seen.still()
    assert page.evaluate(fault) == ""
    assert page.get_attribute(short, "aria-invalid") == "false"


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_finds_nothing_on_any_step(
    theme: str, browser: Browser, running: Running, photograph: Path
) -> None:
    with sight(browser, running, color_scheme=theme, bypass_csp=True) as seen:
        seen.enter()
        tracing = Tracing(seen)
        seen.page.click(".photobegin summary")
        found = {"start": seen.axe()}
        seen.page.click(".photobegin summary")
        tracing.start(photograph)
        tracing.click(*CORNERS[0][:2])
        lines(tracing, "J1.1 C1.1 : A", "U1.1 C2.1 : B", "C1.1 C2.1")
        for step in ("scale", "part", "pad", "net", "change"):
            tracing.step(step)
            seen.page.evaluate(
                "for (const d of document.querySelectorAll('details')) d.open = true"
            )
            found[step] = seen.axe()
        seen.page.click(".photo .sides button[data-side=bottom]")
        found["bottom"] = seen.axe()
        file = photograph.with_name("old.photo.json")
        netgraph("photo", "new", file, "--top", photograph)
        netgraph("photo", "pad", file, "C1.1", 100, 100)
        seen.go("start")
        seen.open_file(file)
        seen.go("board")
        found["goes on"] = seen.axe()
        seen.page.click("text=Go on tracing this board")
        seen.until("location.hash.includes('mode=trace')")
        seen.still()
        found["without its picture"] = seen.axe()
        assert found == {name: [] for name in found}


@pytest.mark.parametrize(("width", "type_"), [(320, "normal"), (320, "large"), (768, "large")])
def test_trace_mode_does_not_scroll_sideways(
    width: int, type_: str, browser: Browser, running: Running, photograph: Path
) -> None:
    """WCAG 2.2, 1.4.10; and targets for gloves: 44 CSS pixels at least (2.5.5)."""
    with sight(browser, running, viewport={"width": width, "height": 640}) as seen:
        seen.enter()
        seen.page.click(".look summary")
        seen.page.select_option("select[name=type]", type_)
        seen.page.click(".look summary")
        tracing = Tracing(seen)
        tracing.start(photograph)
        for step in ("scale", "part", "pad", "net", "change"):
            tracing.step(step)
            seen.page.evaluate(
                "for (const d of document.querySelectorAll('details')) d.open = true"
            )
            assert seen.sideways() <= 0, step
            small = seen.page.evaluate(
                "[...document.querySelectorAll('.steps button, .photo button, .undo, .mode')]"
                ".filter(e => e.offsetParent).map(e => [e.textContent, e.getBoundingClientRect()])"
                ".filter(([, r]) => r.width < 44 || r.height < 44).map(([t]) => t)"
            )
            assert small == [], step
