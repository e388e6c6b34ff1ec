# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""The command demo: the main job, step by step, on the sample board."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from netgraph.cli.page import Page
from netgraph.cli.plan import inject_answer, lift_answer, path_answer
from netgraph.cli.plan_pages import inject_page, lift_page, path_page
from netgraph.cli.rails import rail_page
from netgraph.cli.session import Job, debug_option, json_option, talk, write_json, write_page

if TYPE_CHECKING:
    from netgraph.plan.inject_types import Injection
    from netgraph.plan.lift import LiftTable

SAMPLE = "sample_boards/lark/lark.kicad_pcb"
SHORT = "VSYS"

FAULT = "C34"
"""The part that has failed in the invented story; sample_boards/lark/README.md tells it too."""

STORY = (
    "A pocket recorder fell off a jetty into brackish water and lay there for an hour, its cell "
    "in. A season of bird song is in its soldered storage, and there is no other copy. The owner "
    "wants the recordings, not the recorder. The cell is off, the board is clean and dry. Fed at "
    "VBAT from a supply limited to 0.5 A the voltage is pulled down at once; with everything off "
    "VSYS reads 0.4 ohm to ground. (Recorder, owner and fault are invented.)"
)


@click.command()
@json_option
@click.option("--text", is_flag=True, help="Text only, without the page in the browser.")
@debug_option
def demo(as_json: bool, text: bool) -> None:
    """How does a job go, from the dead board to the next step?

    Runs the main job on the sample board that comes with the program: its fault is told, then the
    answers of show, rail, lift, inject and path follow. On a terminal with a screen the page opens
    in the browser with the same question asked, and is there until Ctrl-C.

    \b
    Example:  netgraph demo
    """
    from netgraph.assets import asset_path

    job = Job(str(asset_path(SAMPLE)), as_json, None, None)
    if as_json:
        write_json(_all_answers(job))
    else:
        write_page(lambda page: _tell(page, job))
        if not text:
            _open_page(job)


def _open_page(job: Job) -> None:
    """Show the answer in the browser too, where somebody sits who can look at it."""
    from netgraph.cli.serve import announce, can_show, open_browser, run_page, start_page

    if not can_show():
        return
    running = start_page(None, None)
    place = announce(running, None, None)
    found = running.app.extensions["netgraph"]
    data = asset_bytes()
    with found.store.spool() as spool:
        row = found.store.keep(spool, data, job.board)
    link = running.link(f"board={row.sha256[:12]}&view=plan&short={SHORT}&part={FAULT}")
    talk(f"the same in the browser: {link}")
    talk("Ctrl-C ends it; `netgraph demo --text` prints the text alone")
    open_browser(link)
    run_page(running, place)


def asset_bytes() -> bytes:
    """The sample board's file."""
    from netgraph.assets import asset_path

    return asset_path(SAMPLE).read_bytes()


def _tell(page: Page, job: Job) -> None:
    from netgraph.cli.board import show_page
    from netgraph.rails import rail_members

    page.text(STORY)
    _step(page, "1. What is this board?", "show lark.kicad_pcb")
    show_page(page, job)
    _step(page, "2. Who sits on the shorted rail?", f"rail lark.kicad_pcb {SHORT}")
    members = rail_members(job.board, job.roles, job.tree, SHORT)
    rail_page(page, job, SHORT, members)
    _step(page, "3. What may come off?", f"lift lark.kicad_pcb --short {SHORT}")
    table = lift_answer(job, SHORT)
    lift_page(page, table)
    _step(page, "4. Where to inject, and up to what?", f"inject lark.kicad_pcb {SHORT}")
    plan = inject_answer(job, SHORT)
    inject_page(page, plan)
    _step(page, "5. Where to look?", f"path lark.kicad_pcb {SHORT}")
    path_page(page, job, SHORT, None, path_answer(job, SHORT)[0], 8)
    _what_next(page, table, plan)


def _what_next(page: Page, table: LiftTable, plan: Injection) -> None:
    page.section("What next")
    page.text(
        "Unplug what unplugs and measure again. Then look at the places of step 5, feed the "
        "first step of volts at a point of step 4 and see what grows warm; take off only what "
        "step 3 lets go, one part at a time, and measure after each.",
        indent=2,
    )
    verdicts = {row.part_id: row.verdict for row in table.rows}
    if FAULT in verdicts:
        page.text(
            f"In the story the warm one is {FAULT}. Step 3 says of it: {verdicts[FAULT]}. Once it "
            "is off, note it and ask again:",
            indent=2,
        )
        page.text(f"netgraph notes set lark.kicad_pcb --part {FAULT} --not-fitted", indent=4)
    if plan.max_volts is None:
        page.text(
            "Step 4 gives no ceiling, since the file does not tell every nominal that counts. Who "
            "knows one writes it down (take your own figure):",
            indent=2,
        )
        page.text("netgraph notes set lark.kicad_pcb --net NET --volts V", indent=4)
    page.text("Your own board:", indent=2)
    page.text("netgraph show your.kicad_pcb", indent=4)
    page.text("netgraph rails your.kicad_pcb", indent=4)
    page.text("netgraph lift your.kicad_pcb --short NET", indent=4)
    page.text("The same in the browser, with pictures of both sides:", indent=2)
    page.text("netgraph serve", indent=4)


def _step(page: Page, question: str, command: str) -> None:
    page.section(question)
    page.text(f"$ netgraph {command}", style="faint")
    page.blank()


def _all_answers(job: Job) -> dict[str, object]:
    from netgraph.contract import answers
    from netgraph.contract.lift_answers import lift_fields
    from netgraph.rails import rail_members

    def whole(command: str, fields: dict[str, object]) -> dict[str, object]:
        return answers.answer(command, job.board) | fields

    board, roles, tree = job.board, job.roles, job.tree
    members = rail_members(board, roles, tree, SHORT)
    return answers.answer("demo") | {
        "board": SAMPLE,
        "short": SHORT,
        "show": whole("show", answers.show_fields(board)),
        "rail": whole("rail", answers.rail_fields(board, roles, tree, SHORT, members)),
        "lift": whole("lift", lift_fields(board, lift_answer(job, SHORT))),
        "inject": whole("inject", answers.inject_fields(inject_answer(job, SHORT))),
        "path": whole("path", answers.path_fields(SHORT, None, *path_answer(job, SHORT))),
    }
