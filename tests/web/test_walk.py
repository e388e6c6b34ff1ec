# SPDX-License-Identifier: GPL-3.0-or-later
"""A person's way through the page, on each real board: by mouse, and by keyboard alone.

What is shown is compared with the command line's JSON for the same question.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from defusedxml.ElementTree import fromstring

from netgraph.formats.assembly_pack import pack_assembly
from tests.unit.cli.run import netgraph
from tests.web.browser import Sight

BOARDS = {
    "teres_main_c": "+1.5V",
    "glasgow_c3": "+3V3",
    "hackrf_marzipan": "VCC",
    "orangecrab_r021": "+3V3",
    "pico_ice_r2": "+3V3",
    "pocketbeagle": "VDD_3V3A",
    "scalenode": "+5V",
}
"""Shared boards (sources and licences in their README) and the net that is asked about."""


def net_of(board: Path, wanted: str) -> str:
    """The wanted net where the board has it, else its first rail with most capacitors."""
    rails = netgraph("rails", board, "--json").json()["rails"]
    names = [one["net"] for one in rails]
    return wanted if wanted in names else max(rails, key=lambda one: one["capacitors"])["net"]


def names_in(seen: Sight, where: str) -> set[str]:
    found = seen.page.eval_on_selector_all(
        f"{where} button.name", "all => all.map(b => b.textContent)"
    )
    return set(found)


def compare_plan(seen: Sight, board: Path, net: str) -> None:
    """The view holds each verdict, point and keep of the command line's answers."""
    lift = netgraph("lift", board, "--short", net, "--json").json()
    inject = netgraph("inject", board, net, "--json").json()
    path = netgraph("path", board, net, "--json").json()
    rows: list[dict[str, Any]] = seen.page.eval_on_selector_all(
        "tr.verdict",
        "all => all.map(r => ({verdict: r.className.split(' ')[1],"
        " refs: [...r.querySelectorAll('button.name')].map(b => b.textContent)}))",
    )
    shown = {ref: row["verdict"] for row in rows for ref in row["refs"]}
    assert shown == {one["ref"]: one["verdict"] for one in lift["parts"]}
    points = {f"{one['ref']}.{one['pin']}" for one in inject["points"]}
    assert points <= names_in(seen, ".inject")
    limits = seen.page.inner_text(".limits")
    assert f"{inject['first_volts']:.4g} V" in limits
    if inject["max_volts"] is None:
        assert "not known" in limits
    else:
        assert f"{inject['max_volts']:.4g} V" in limits
    assert {one["ref"] for one in lift["keeps"]} <= names_in(seen, "[aria-labelledby=keep-title]")
    sites = seen.page.locator("[aria-labelledby=path-title] tbody tr").count()
    assert sites == min(8, len(path["sites"]))


@pytest.mark.parametrize("name", BOARDS)
def test_the_five_questions_by_mouse(name: str, seen: Sight, boards_dir: Path) -> None:
    board = boards_dir / name / "board.kicad_pcb"
    net = net_of(board, BOARDS[name])
    rails = netgraph("rails", board, "--json").json()["rails"]
    seen.open_file(board)
    assert names_in(seen, ".raillist") == {one["net"] for one in rails}
    # Who sits on this rail? Its box, where the rail has one of its own, else its name in the list.
    seen.page.click(f".raillist button[data-net='{net}']")
    seen.still()
    members = netgraph("rail", board, net, "--json").json()["parts"]
    assert {one["ref"] for one in members} <= names_in(seen, ".chosen .members")
    # What may come off, where to inject, how could it be joined?
    seen.page.click(".chosen button.act >> nth=0")
    seen.still()
    assert "view=plan" in seen.page.url
    compare_plan(seen, board, net)


@pytest.mark.parametrize("name", BOARDS)
def test_the_five_questions_by_keyboard_alone(name: str, seen: Sight, boards_dir: Path) -> None:
    """No pointer: the file is chosen in the system's own window, the rest by Tab and letters."""
    board = boards_dir / name / "board.kicad_pcb"
    net = net_of(board, BOARDS[name])
    page = seen.page
    tab_to(seen, "#file")
    page.keyboard.press("Enter")
    for _ in range(200):
        if seen.choosers:
            break
        page.wait_for_timeout(20)
    seen.choosers[0].set_files(board)
    seen.until("location.hash.includes('view=rails')")
    seen.still()
    tab_to(seen, "#question input[name=short]")
    page.keyboard.type(net)
    page.keyboard.press("Enter")
    seen.until("location.hash.includes('view=plan')")
    seen.still()
    compare_plan(seen, board, net)
    tab_to(seen, "nav a[data-view=board]", backwards=True)
    page.keyboard.press("Enter")
    seen.until("location.hash.includes('view=board')")
    seen.still()
    assert page.evaluate("document.activeElement.tagName") == "H1", "the new view has the focus"
    part = netgraph("rail", board, net, "--json").json()["parts"][0]["ref"]
    tab_to(seen, "#search")
    page.keyboard.type(part)
    page.wait_for_selector(".hits button.name")
    page.keyboard.press("Enter")
    seen.until("location.hash.includes('part=')")
    seen.still()
    assert page.inner_text(".chosen h2").split()[0] == part.split()[0]


def tab_to(seen: Sight, selector: str, *, backwards: bool = False, most: int = 400) -> None:
    """Press Tab until the element has the focus; it must come, and be seen to have it."""
    for _ in range(most):
        seen.page.keyboard.press("Shift+Tab" if backwards else "Tab")
        if seen.page.evaluate(f"document.activeElement?.matches({selector!r})"):
            return
    pytest.fail(f"{selector} is not reached by {most} presses")


def test_a_role_is_corrected_where_it_is_seen_and_the_answer_changes(
    seen: Sight, lark: Path
) -> None:
    seen.open_file(lark)
    page = seen.page
    page.fill("#question input[name=short]", "vsys")
    page.click("#question button")
    seen.still()
    row = page.locator("tr.verdict", has=page.locator("[data-ref=C34]"))
    assert "lift" in (row.get_attribute("class") or "")
    row.locator("[data-ref=C34]").click()
    seen.still()
    page.click(".chosen .correct summary")
    page.select_option(".chosen select[name=keep]", "irreplaceable")
    page.fill(".chosen input[name=why]", "trial")
    page.click(".chosen .correction button[type=submit]")
    page.wait_for_selector("tr.verdict.keep [data-ref=C34]")
    assert "Noted" in page.inner_text("#news")
    # Reload without loss: same view, same choice, same note.
    address = page.url
    page.reload()
    page.wait_for_selector("html[data-ready]")
    seen.still()
    assert page.url == address
    page.wait_for_selector("tr.verdict.keep [data-ref=C34]")
    assert page.inner_text(".chosen h2").startswith("C34")
    # And back again.
    page.click(".chosen .correct summary")
    page.click(".chosen .correction button:not([type=submit])")
    page.wait_for_selector("tr.verdict.lift [data-ref=C34]")


def test_two_people_who_correct_at_once_do_not_overwrite_each_other(
    seen: Sight, lark: Path
) -> None:
    seen.open_file(lark)
    page = seen.page
    page.evaluate("location.hash += '&part=C11'")
    page.wait_for_selector(".chosen .correct")
    page.click(".chosen .correct summary")
    sha = page.evaluate("fetch('/api/v1/boards').then(r => r.json()).then(j => j.boards[0].sha256)")
    # Somebody else writes between the page's reading and its writing.
    page.route(
        "**/notes",
        lambda route: (
            route.continue_(headers={**route.request.headers, "if-match": '"stale"'})
            if route.request.method == "PUT"
            else route.continue_()
        ),
    )
    page.fill(".chosen input[name=why]", "mine")
    page.click(".chosen .correction button[type=submit]")
    seen.until("document.querySelector('.correction .veto').textContent.includes('meanwhile')")
    assert sha
    # The refused write is logged by the browser itself as a failed request.
    seen.faults[:] = [one for one in seen.faults if "412" not in one]


def test_a_deep_link_opens_its_question_and_back_goes_back(seen: Sight, lark: Path) -> None:
    seen.open_file(lark)
    board = seen.page.evaluate("new URLSearchParams(location.hash.slice(1)).get('board')")
    seen.page.goto(f"{seen.running.address}/#board={board}&view=plan&short=VSYS&part=C35")
    seen.page.reload()
    seen.page.wait_for_selector("html[data-ready]")
    seen.still()
    assert seen.page.inner_text(".chosen h2").startswith("C35")
    assert seen.page.input_value("#question input[name=short]") == "VSYS"
    assert seen.page.locator("tr.verdict").count() > 0
    seen.go("rails")
    seen.page.go_back()
    seen.still()
    assert "view=plan" in seen.page.url
    assert seen.page.locator("tr.verdict").count() > 0


def test_a_board_picture_pad_is_chosen_by_a_click_and_by_keys(seen: Sight, lark: Path) -> None:
    """Where the pad lies is told by `netgraph pads`; the click goes to that place."""
    seen.open_file(lark)
    seen.go("board")
    pads = netgraph("pads", lark, "--json").json()["pads"]
    pad = next(one for one in pads if one["ref"] == "U9" and one["copper_side"] == "top")
    box = seen.page.evaluate(
        f"fetch('/api/v1/boards').then(r => r.json()).then(j => fetch('/api/v1/boards/' +"
        f" j.boards.find(b => b.file === {lark.name!r}).sha256 + '/drawing?side=top'))"
        ".then(r => r.json()).then(d => d.box)"
    )
    canvas = seen.page.locator("figure[data-side=top] canvas")
    size = canvas.bounding_box()
    assert size is not None
    # Whole board in view, 8 px around it: as far from the middle as the scale says.
    scale = min((size["width"] - 18) / (box[2] - box[0]), (size["height"] - 18) / (box[3] - box[1]))
    x = size["width"] / 2 + (pad["x_mm"] - (box[0] + box[2]) / 2) * scale
    y = size["height"] / 2 + (pad["y_mm"] - (box[1] + box[3]) / 2) * scale
    canvas.click(position={"x": x, "y": y})
    seen.until("location.hash.includes('part=')")
    seen.still()
    assert "part=U9" in seen.page.url
    canvas.focus()
    for key in ("ArrowLeft", "PageUp", "PageUp", "PageDown", "Home", "Enter"):
        seen.page.keyboard.press(key)
    seen.still()
    assert "part=" in seen.page.url


def test_pictures_are_saved_as_svg_and_png(seen: Sight, lark: Path, tmp_path: Path) -> None:
    seen.open_file(lark)
    for view, names in (("rails", ("rails.svg", "rails.png")), ("board", ("top.svg", "top.png"))):
        seen.go(view)
        for name, kind in zip(names, ("SVG", "PNG"), strict=True):
            with seen.page.expect_download() as download:
                seen.page.click(f"#content button:has-text('Save {kind}')")
            assert download.value.suggested_filename.endswith(name)
            place = tmp_path / name
            download.value.save_as(place)
            if kind == "PNG":
                assert place.read_bytes().startswith(b"\x89PNG\r\n\x1a\n")
                assert place.stat().st_size > 5000
            else:
                text = place.read_text(encoding="utf-8")
                assert fromstring(text).tag == "{http://www.w3.org/2000/svg}svg"
                assert "VSYS" in text or view == "board"


def test_the_plan_can_be_printed_with_its_picture(seen: Sight, lark: Path) -> None:
    seen.open_file(lark)
    seen.page.fill("#question input[name=short]", "VSYS")
    seen.page.click("#question button")
    seen.still()
    pdf = seen.page.pdf()
    assert pdf.startswith(b"%PDF-")
    assert seen.page.locator(".sheet svg").count() == 2
    seen.page.emulate_media(media="print")
    assert not seen.page.is_visible("#top")
    assert seen.page.is_visible(".sheet svg >> nth=0")
    assert seen.page.is_visible("tr.verdict >> nth=0")
    ground = seen.page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert ground == "rgb(255, 255, 255)"


def test_a_broken_file_is_told_with_its_place(seen: Sight, tmp_path: Path) -> None:
    bad = tmp_path / "bad.kicad_pcb"
    bad.write_text('(kicad_pcb (version 20211014)\n  (net 1 "A"')
    seen.page.set_input_files("#file", bad)
    fault = seen.page.locator(".start [role=alert]")
    fault.filter(has_text="bad.kicad_pcb:2:").wait_for()
    assert "cut short" in fault.inner_text()
    seen.faults[:] = [one for one in seen.faults if "422" not in one]


def test_what_a_file_can_not_tell_stands_above_every_answer(seen: Sight, boards_dir: Path) -> None:
    """A netlist without places (TERES-PCB5-KEYBOARD of the shared samples): said, and no picture.
    The sentences are those of the command line's JSON.
    """
    netlist = boards_dir / "samples" / "TERES-PCB5-KEYBOARD_Rev.A.net"
    told = netgraph("rails", netlist, "--json").json()["not_known"]
    assert told
    seen.open_file(netlist)
    for view in ("rails", "board", "plan"):
        seen.go(view)
        seen.page.wait_for_selector("#question .cautions li")
        shown = seen.page.locator("#question .cautions li").all_inner_texts()
        assert shown == [one["text"] for one in told], view
        assert seen.page.locator("canvas:visible").count() == 0
    seen.go("board")
    assert seen.page.is_visible(".main .veto")


def test_a_net_is_asked_by_the_name_it_has_on_another_board(seen: Sight, tmp_path: Path) -> None:
    """Typed as it is written on the panel, or in another case; nets that differ in case only are
    each found by their own name.
    """
    files = {
        "d.toml": b'schema = "netgraph.assembly/1"\n[boards]\nA = "a.trace"\nB = "b.trace"\n'
        b'[[mates]]\na = "A/J1"\nb = "B/J9"\npins = { 1 = "1" }\n',
        "a.trace": b"# netgraph trace 1\nJ1.1 C1.1 : VDD\nJ1.2 C2.1 : vio\nR1.1 C1.2 : VIO\n",
        "b.trace": b"# netgraph trace 1\nJ9.1 R9.1 R9.2 : LINK\n",
    }
    packed = tmp_path / "device.zip"
    packed.write_bytes(pack_assembly(files))
    seen.open_file(packed)
    for typed, net in (
        ("B/LINK", "A/VDD"),
        ("b/link", "A/VDD"),
        ("A/VIO", "A/VIO"),
        ("A/vio", "A/vio"),
    ):
        seen.page.fill("#question input[name=short]", typed)
        seen.page.keyboard.press("Enter")
        seen.until(f"new URLSearchParams(location.hash.slice(1)).get('short') === '{net}'")
        seen.still()
        assert net in seen.page.inner_text(".main")
    seen.page.fill("#question input[name=short]", "B/LINKS")
    seen.page.keyboard.press("Enter")
    assert "B/LINKS" in seen.page.inner_text("#question-fault")


def test_a_board_is_forgotten_only_after_a_second_word(seen: Sight, lark: Path) -> None:
    seen.open_file(lark)
    seen.go("start")
    row = seen.page.locator("tr", has_text=lark.name)
    row.get_by_role("button", name="Forget lark.kicad_pcb").click()
    assert row.count() == 1
    row.get_by_role("button", name="Yes, forget").click()
    row.wait_for(state="detached")


def test_markup_in_names_is_shown_as_text(seen: Sight, lark: Path, tmp_path: Path) -> None:
    """A net and a part whose names would be code, were they taken for markup."""
    evil = "<img/src=x/onerror=alert(1)>"
    board = tmp_path / "<b>evil.kicad_pcb"
    text = (
        lark.read_text(encoding="utf-8").replace('"VSYS"', f'"{evil}"').replace('"C34"', '"<i>C34"')
    )
    board.write_text(text, encoding="utf-8")
    seen.page.on("dialog", lambda one: seen.faults.append("a dialog"))
    seen.open_file(board)
    seen.page.fill("#question input[name=short]", evil)
    seen.page.click("#question button")
    seen.still()
    assert evil in seen.page.inner_text("#content")
    seen.page.locator("[data-ref='<i>C34']").first.click()
    seen.still()
    assert seen.page.inner_text(".chosen h2").startswith("<i>C34")
    seen.page.click(".close-up summary")
    seen.page.wait_for_selector(".graph canvas")
    assert seen.page.locator("main img, main i, #question b").count() == 0


def test_without_a_key_the_page_says_how_to_get_one(browser, running) -> None:  # type: ignore[no-untyped-def]
    context = browser.new_context()
    page = context.new_page()
    page.goto(f"{running.address}/")
    page.wait_for_selector("html[data-ready]")
    assert "no key yet" in page.inner_text("h1")
    context.close()
