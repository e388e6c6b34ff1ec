# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""Commands for devices: a template where no board file is, and connectors that are unplugged."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from netgraph.cli.page import Page
from netgraph.cli.session import (
    debug_option,
    json_option,
    talk,
    write,
    write_json,
    write_page,
)
from netgraph.errors import BoardFileError, UnknownNameError, UsageError

if TYPE_CHECKING:
    from netgraph.model.join import JoinedBoards


@click.command()
@click.argument("device", required=False)
@click.option("-o", "--output", metavar="FILE", help="Where to write it; FILE must not exist yet.")
@json_option
@debug_option
def template(device: str | None, output: str | None, as_json: bool) -> None:
    """What would a board of this kind be like, if nothing at all is known?

    Writes a plain template as a hand-traced netlist in which every line is assumed: entry and
    cell, system rail, power manager, rails, loads. All questions work on it, and every answer says
    how many pads are assumed. Go on with netgraph trace: what is traced replaces what was
    assumed, and "U1 named U2700" gives a part its true name. Without DEVICE the templates are
    listed.

    \b
    Example:  netgraph template phone -o mine.trace
    """
    from netgraph.formats.trace_templates import TEMPLATES, template_text

    if device is None:
        names = sorted(TEMPLATES)
        if as_json:
            _template_json("", "", names)
            return

        def fill(page: Page) -> None:
            page.table(
                ("device", "what it is"), [(one, TEMPLATES[one].title) for one in names], indent=0
            )

        write_page(fill)
        return
    if device not in TEMPLATES:
        raise UnknownNameError("template", device, tuple(sorted(TEMPLATES)))
    text = template_text(device)
    if output is None:
        if as_json:
            raise UsageError("--json tells what was written: say where with -o FILE")
        write(text)
        return
    from netgraph.formats.writing import save_text

    if Path(output).exists():
        raise UsageError(f"{output} exists already", hint="name a new file")
    save_text(output, text)
    if as_json:
        _template_json(device, Path(output).name, sorted(TEMPLATES))
    else:
        talk(f"written: {output}; go on with netgraph trace {output}")


def _template_json(device: str, written: str, names: list[str]) -> None:
    from netgraph.contract.answers import answer

    write_json(answer("template") | {"device": device, "written": written, "devices": names})


@click.command()
@click.argument("file")
@click.argument("refs", nargs=-1, required=True, metavar="BOARD/REF...")
@json_option
@debug_option
def unplug(file: str, refs: tuple[str, ...], as_json: bool) -> None:
    """Which nets come apart when these connectors of an assembly are unplugged?

    Nothing is written. Every other command takes --unplug BOARD/REF and answers as if it were
    unplugged; "unplugged = true" in the file makes it lasting.

    \b
    Example:  netgraph unplug device.assembly.toml MAIN/J3
    """
    from netgraph.contract.answers import answer
    from netgraph.contract.files import unplug_fields

    before, after = _joined(file, refs)
    if as_json:
        fields = {"file": Path(file).name} | unplug_fields(before, after, refs)
        write_json(answer("unplug") | fields)
        return
    write_page(lambda page: _unplug_page(page, file, before, after, refs))


def _joined(file: str, refs: tuple[str, ...]) -> tuple[JoinedBoards, JoinedBoards]:
    from netgraph.formats.assembly import AssemblyReader, joined_boards, parse_assembly
    from netgraph.formats.reading import read_bytes, read_member
    from netgraph.model.join import join_boards

    data = read_bytes(Path(file), "an assembly")
    if AssemblyReader().sniff(data[:4096]) <= 0.0:
        raise BoardFileError(
            "format-unknown",
            "is no assembly",
            path=file,
            expected='schema = "netgraph.assembly/1" on the first line',
        )
    try:
        assembly = parse_assembly(data)
        before = joined_boards(assembly, Path(file).parent, read_member)
    except BoardFileError as error:
        error.path = error.path or file
        raise
    return before, join_boards(list(before.boards), assembly.unplugged(refs).mates)


def _unplug_page(
    page: Page, file: str, before: JoinedBoards, after: JoinedBoards, refs: tuple[str, ...]
) -> None:
    now = after.joined()
    apart = {name: nets for name, nets in before.joined().items() if now.get(name) != nets}
    page.title(f"{Path(file).name}, unplugged {', '.join(refs)}: {len(apart)} nets come apart")
    for name, nets in apart.items():
        stays = now.get(name, [])
        rest = f"; still joined: {', '.join(stays)}" if stays else ""
        page.item(name, f"was {', '.join(nets)}{rest}")
    if now:
        page.section("Still joined between boards")
        for name, nets in now.items():
            page.item(name, ", ".join(nets))
