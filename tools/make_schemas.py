# SPDX-License-Identifier: GPL-3.0-or-later
"""Write the reference pages that are made from the code; tests hold them equal to it.

    python tools/make_schemas.py

* ``docs/reference/schema/COMMAND.schema.json``: the form of each JSON answer, from pydantic;
* ``docs/reference/file-schema/NAME.schema.json``: the form of the files that are written as JSON;
* ``docs/reference/formats.md``: what is read and written, from the registry;
* ``docs/reference/commands.md``: the help of each command, as ``--help`` prints it;
* ``docs/reference/openapi.json``: the addresses of the service.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import sys
from pathlib import Path

import click

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

# The package lies beside this folder.
from netgraph.cli.main import COMMANDS, cli  # noqa: E402
from netgraph.cli.main import main as run_command  # noqa: E402
from netgraph.contract.file_schemas import FILES, file_schema  # noqa: E402
from netgraph.contract.models import ANSWERS, json_schema  # noqa: E402
from netgraph.formats import readers  # noqa: E402
from netgraph.formats.writing import WRITERS  # noqa: E402
from netgraph.service.app import TABLES  # noqa: E402
from netgraph.service.openapi import openapi_document  # noqa: E402

HEAD = """\
# Commands

`netgraph COMMAND FILE [options]` answers one question a command. stdout is the answer, stderr is
talk. This page is made from the program's own help by `tools/make_schemas.py`; do not edit it.

## Rules for all commands

* **FILE** is a board file; its format is told by its content (`netgraph formats` lists them).
* **`--json`** answers for programs: see [json.md](json.md). Without it people are answered: plain
  text when piped, ruled tables and colours on a terminal. `NO_COLOR` switches colours off. Text is
  laid out for the width of the terminal, for `COLUMNS` when piped, else for 80 columns.
* **Board notes** (`NAME.notes.toml` beside the board `NAME`) are used when they exist, and stderr
  says so: see [board-notes.md](board-notes.md).
* Names of nets and parts are typed as the file writes them; quote names with blanks. An unknown
  name ends with status 2 and the nearest names. Control characters in names are shown as escapes;
  JSON and CSV hold the names unchanged.
* An error is one line on stderr: `netgraph: place: what is wrong; expected ... (hint: ...)`. The
  codes behind them are in [errors.md](errors.md).

| exit status | meaning |
| --- | --- |
| 0 | done (also when the reader of a pipe closes it early) |
| 1 | the answer is no: `compare`, `notes check` and `doctor` only |
| 2 | wrong use: unknown command, option, net, part, goal |
| 3 | a file can't be read, or board notes do not fit the board |
| 4 | the input is contradictory |
| 70 | the program itself failed; `--debug` shows where, please report it |
| 130 | interrupted |

## Completion

Commands, options and, after FILE, net names complete with the tab key. Once for each shell:

    eval "$(_NETGRAPH_COMPLETE=bash_source netgraph)"       # in ~/.bashrc
    eval "$(_NETGRAPH_COMPLETE=zsh_source netgraph)"        # in ~/.zshrc
    _NETGRAPH_COMPLETE=fish_source netgraph | source        # in ~/.config/fish/config.fish

"""


def command_names() -> list[list[str]]:
    """The words of every command, those of groups too."""
    found: list[list[str]] = [[]]
    for name in COMMANDS:
        found.append([name])
        command = cli.get_command(click.Context(cli), name)
        if isinstance(command, click.Group):
            found += [[name, inner] for inner in command.commands]
    return found


def help_text(words: list[str]) -> str:
    """What ``netgraph WORDS --help`` prints on a page of 80 columns."""
    out = io.StringIO()
    before = os.environ.get("COLUMNS")
    os.environ["COLUMNS"] = "80"
    try:
        with contextlib.redirect_stdout(out):
            run_command([*words, "--help"])
    finally:
        os.environ.pop("COLUMNS")
        if before is not None:
            os.environ["COLUMNS"] = before
    return out.getvalue().rstrip()


def commands_page() -> str:
    """The whole of docs/reference/commands.md."""
    pages = (
        f"## {' '.join(['netgraph', *words])}\n\n```text\n{help_text(words)}\n```\n"
        for words in command_names()
    )
    return HEAD + "\n".join(pages)


def schema_text(command: str) -> str:
    """The whole of one schema file."""
    return json.dumps(json_schema(command), indent=2, ensure_ascii=False) + "\n"


def openapi_text() -> str:
    """The whole of docs/reference/openapi.json."""
    return json.dumps(openapi_document(TABLES), indent=1, ensure_ascii=False) + "\n"


FORMATS_HEAD = """\
# Formats

What is read and written. This page is made from the program's own list by
`tools/make_schemas.py`; do not edit it. `netgraph formats` prints the same, with installed
plug-ins.
"""


def formats_page() -> str:
    """The whole of docs/reference/formats.md; plug-ins that happen to be installed stay out."""
    lines = [FORMATS_HEAD, "## Read\n", "| name | what it is | endings | carries | limits |"]
    lines.append("| --- | --- | --- | --- | --- |")
    for one in readers():
        if not type(one).__module__.startswith("netgraph."):
            continue
        endings = " ".join(f"`{suffix}`" for suffix in one.suffixes)
        carries, limits = ", ".join(getattr(one, "carries", ())), getattr(one, "limits", "")
        lines.append(
            f"| [`{one.name}`]({one.name}.md) | {one.title} | {endings} | {carries} | {limits} |"
        )
    lines += ["\n## Written\n", "| name | what it is | ending | carries | limits |"]
    lines.append("| --- | --- | --- | --- | --- |")
    for writer in WRITERS:
        carries = ", ".join(writer.carries)
        row = (f"`{writer.name}`", writer.title, f"`{writer.suffix}`", carries, writer.limits)
        lines.append(f"| {' | '.join(row)} |")
    return "\n".join(lines) + "\n"


def files() -> dict[Path, str]:
    """Each file that is made, and what it holds."""
    reference = ROOT / "docs" / "reference"
    made = {reference / "schema" / f"{name}.schema.json": schema_text(name) for name in ANSWERS}
    made[reference / "openapi.json"] = openapi_text()
    for name in FILES:
        text = json.dumps(file_schema(name), indent=2, ensure_ascii=False) + "\n"
        made[reference / "file-schema" / f"{name}.schema.json"] = text
    made[reference / "formats.md"] = formats_page()
    return {**made, reference / "commands.md": commands_page()}


def main() -> None:
    """Write all of them."""
    for path, text in files().items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")
        print(path.relative_to(ROOT))


if __name__ == "__main__":
    main()
