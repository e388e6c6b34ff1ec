# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""Commands of the page: serve, doctor."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from netgraph.cli.page import Page
from netgraph.cli.session import debug_option, json_option, talk, write, write_json, write_page
from netgraph.errors import UsageError

if TYPE_CHECKING:
    from netgraph.service.serve import Running

data_option = click.option(
    "--data",
    metavar="FOLDER",
    help="Where boards and notes are kept. Default: NETGRAPH_DATA, else the user's data folder.",
)


@click.command()
@click.option("--port", type=click.IntRange(0, 65535), metavar="N", help="0: any free one.")
@click.option("--host", metavar="ADDRESS", default="127.0.0.1", show_default=True)
@click.option("--token-file", metavar="FILE", help="Where the token for programs is put.")
@click.option("--open/--no-open", "opens", default=None, help="Open the page in the browser.")
@data_option
@debug_option
def serve(
    port: int | None, host: str, token_file: str | None, opens: bool | None, data: str | None
) -> None:
    """Which page answers these questions in the browser?

    Prints a link and serves until it is stopped (Ctrl-C). The link works once, then the browser
    has a key; a new link is printed when one was used. Nothing leaves this computer.

    \b
    Examples:  netgraph serve
               netgraph serve --port 0 --no-open

    Programs send the token of the token file: Authorization: Bearer TOKEN. An ADDRESS other than
    this computer's own makes the page reachable by others without encryption; it needs
    --token-file.
    """
    from netgraph.service.serve import LOOPBACK

    if host not in LOOPBACK and token_file is None:
        raise UsageError(
            f"--host {host} makes the page reachable by others",
            hint="say --token-file FILE if that is wanted; encryption is a proxy's work",
        )
    if host in ("0.0.0.0", "::"):  # noqa: S104 - refused here
        raise UsageError("name one address of this computer, not all of them")
    running = start_page(data, port, host)
    place = announce(running, token_file, data)
    link = running.link()
    write(f"{link}\n")
    if host not in LOOPBACK:
        talk(f"reachable by everybody who reaches {running.address}, without encryption")
    talk(f"open the link above; Ctrl-C ends; programs find their token in {place}")
    if opens or (opens is None and can_show()):
        open_browser(running.link())
    run_page(running, place)


def start_page(data: str | None, port: int | None, host: str = "127.0.0.1") -> Running:
    """Listen at the port, or at the usual one, or where that is taken at any free one."""
    from netgraph.service.app import Settings
    from netgraph.service.data_folder import default_data_folder
    from netgraph.service.serve import USUAL_PORT, start

    folder = Path(data) if data is not None else default_data_folder()

    def again(running: Running) -> None:
        talk(f"the link was used; one for another browser: {running.link()}")

    if port is not None:
        return start(Settings(folder, port, host), on_code_spent=again)
    try:
        return start(Settings(folder, USUAL_PORT, host), on_code_spent=again)
    except UsageError:
        return start(Settings(folder, 0, host), on_code_spent=again)


def announce(running: Running, token_file: str | None, data: str | None) -> Path:
    """Write the token for programs; where it lies."""
    from netgraph.service.data_folder import default_data_folder
    from netgraph.service.serve import runtime_folder, write_token

    if token_file is not None:
        place = Path(token_file)
    else:
        folder = Path(data) if data is not None else default_data_folder()
        place = runtime_folder(folder) / f"token-{running.port}"
    try:
        write_token(running, place)
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise UsageError(f"the token can't be written to {place}: {why}") from None
    return place


def run_page(running: Running, token_place: Path) -> None:
    """Serve until it is interrupted; then take the token away, which opens nothing any more."""
    import signal

    def leave(*_: object) -> None:
        raise KeyboardInterrupt

    signal.signal(signal.SIGTERM, leave)
    try:
        running.run()
    finally:
        token_place.unlink(missing_ok=True)
        running.close()
    # The server takes the interrupt for its own; the command ends as all interrupted ones do.
    raise KeyboardInterrupt


def can_show() -> bool:
    """Whether a person sits here who can look at a browser's window."""
    if not (sys.stdin and sys.stdin.isatty() and sys.stdout and sys.stdout.isatty()):
        return False
    if sys.platform in ("win32", "darwin"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def open_browser(link: str) -> None:
    """Show the link in the person's browser, once the service listens."""
    import threading
    import webbrowser

    timer = threading.Timer(0.3, webbrowser.open, (link,))
    timer.daemon = True
    timer.start()


@click.command()
@json_option
@data_option
@debug_option
def doctor(as_json: bool, data: str | None) -> int:
    """Is the data folder of the page sound?

    Looks at the folder's layout, reads every stored file again and compares its hash, reads the
    notes, and finds what was left behind by an upload that was cut off. Changes nothing. Exit
    status 0: sound; 1: something is not.

    \b
    Example:  netgraph doctor
    """
    from netgraph.service.data_folder import default_data_folder
    from netgraph.service.health import check_folder

    folder = Path(data) if data is not None else default_data_folder()
    found = check_folder(folder)
    if as_json:
        write_json(found.as_json())
    else:
        write_page(lambda page: _doctor_page(page, found.as_json()))
    return 0 if found.sound else 1


def _doctor_page(page: Page, told: dict[str, object]) -> None:
    page.title(f"data folder: {told['folder']}")
    page.item("layout", f"{told['layout']}" if told["layout"] else "none yet: never used")
    page.item("boards", f"{told['boards']}, {told['notes']} with notes")
    page.item("cache", f"{told['cache_bytes']} bytes; may be deleted at any time")
    page.item("limits", "hold" if told["limits_hold"] else "only the time limit on this system")
    findings = told["findings"]
    assert isinstance(findings, list)  # noqa: S101 - made by check_folder
    for one in findings:
        page.item(one["code"], one["text"], style="veto")
    page.text("Sound." if told["sound"] else "Not sound.", style="ok" if told["sound"] else "no")
