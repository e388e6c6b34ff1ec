# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""The command `netgraph`: its list of commands, and how any failure ends.

Exit status: 0 done, 1 the answer is no (check commands), 2 wrong use, 3 a file can't be read,
4 the input is contradictory, 70 the program itself failed, 130 interrupted.
"""

from __future__ import annotations

import importlib
import os
import sys
import traceback
from collections.abc import Sequence
from pathlib import Path
from typing import TextIO, cast

import click

from netgraph._version import __version__
from netgraph.cli.session import Session, debug_option, talk
from netgraph.errors import NetgraphError

EXIT_INTERNAL = 70
"""As sysexits.h has it: an internal software error. 1 is taken: the answer is no."""
EXIT_INTERRUPTED = 130

COMMANDS: dict[str, str] = {
    "show": "netgraph.cli.board:show",
    "parts": "netgraph.cli.board:parts",
    "pads": "netgraph.cli.board:pads",
    "rails": "netgraph.cli.rails:rails",
    "rail": "netgraph.cli.rails:rail",
    "keep": "netgraph.cli.cuts:keep",
    "lift": "netgraph.cli.plan:lift",
    "isolate": "netgraph.cli.cuts:isolate",
    "split": "netgraph.cli.cuts:split",
    "inject": "netgraph.cli.plan:inject",
    "path": "netgraph.cli.plan:path",
    "resistance": "netgraph.cli.resistance:resistance",
    "predict": "netgraph.cli.predict:predict",
    "plan": "netgraph.cli.advice:plan",
    "power": "netgraph.cli.advice:power",
    "review": "netgraph.cli.review:review",
    "notes": "netgraph.cli.notes:notes",
    "serve": "netgraph.cli.serve:serve",
    "demo": "netgraph.cli.demo:demo",
    "doctor": "netgraph.cli.serve:doctor",
    "trace": "netgraph.cli.trace:trace",
    "photo": "netgraph.cli.photo:photo",
    "template": "netgraph.cli.device:template",
    "unplug": "netgraph.cli.device:unplug",
    "merge": "netgraph.cli.files:merge",
    "compare": "netgraph.cli.files:compare",
    "convert": "netgraph.cli.files:convert",
    "formats": "netgraph.cli.files:formats",
    "schema": "netgraph.cli.about:schema",
}
"""Where each command lives, in the order of the work; loaded when it is called."""


class LazyGroup(click.Group):
    """A group that imports a command only when it is run or described."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """All commands, in the order of the work."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Load one command."""
        if cmd_name not in COMMANDS:
            return None
        module, _, name = COMMANDS[cmd_name].partition(":")
        return cast("click.Command", getattr(importlib.import_module(module), name))


@click.group(
    cls=LazyGroup,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)
@click.version_option(__version__, prog_name="netgraph", message="%(prog)s %(version)s")
@debug_option
@click.pass_context
def cli(context: click.Context) -> None:
    """What is on a shorted rail, what may come off, and where to inject?

    Reads an open netlist of a dead board and answers one question a command. Nothing is changed
    or sent anywhere; a person's corrections are kept in a notes file beside the board.

    \b
    Begin with:  netgraph demo
    Then:        netgraph show board.kicad_pcb
                 netgraph rails board.kicad_pcb
                 netgraph lift board.kicad_pcb --short VSYS

    Advice of common practice, no promise: trained hands and local rules come first.
    """
    if context.invoked_subcommand is None:
        click.echo(context.get_help())


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit status; errors are one line on stderr."""
    session = Session()
    words = list(sys.argv[1:] if arguments is None else arguments)
    _open_closed_streams()
    try:
        result = cli.main(words, prog_name="netgraph", standalone_mode=False, obj=session)
    except NetgraphError as error:
        talk(error.one_line())
        return error.exit_status
    except click.exceptions.Abort:
        talk("interrupted")
        return EXIT_INTERRUPTED
    except click.ClickException as error:
        talk(_click_line(error))
        return 2
    except UnicodeEncodeError:
        talk("an argument is not valid UTF-8")
        return 2
    except OSError as error:
        if error.filename is not None:
            return _own_fault(error, session)
        # No file is named: it is the answer's own stream that can't be written.
        sys.stdout = _nowhere()
        talk(f"the answer can't be written: {(error.strerror or str(error)).lower()}")
        return 2
    except MemoryError:
        talk("not enough memory for this file (hint: close other programs, or a larger machine)")
        return 3
    except Exception as error:  # noqa: BLE001 - the last resort: one line instead of a traceback
        return _own_fault(error, session)
    return result if isinstance(result, int) else 0


def _own_fault(error: Exception, session: Session) -> int:
    if session.debug:
        traceback.print_exception(error)
    talk(
        f"this is a fault of the program, please report it: {type(error).__name__}: {error} "
        "(hint: the option --debug shows where)"
    )
    return EXIT_INTERNAL


def _nowhere() -> TextIO:
    return Path(os.devnull).open("w", encoding="utf-8")


def _open_closed_streams() -> None:
    """A stream that was closed before the start (`>&-`) takes what nobody wants to see."""
    if sys.stdout is None:
        sys.stdout = _nowhere()
    if sys.stderr is None:
        sys.stderr = _nowhere()


def _click_line(error: click.ClickException) -> str:
    line = " ".join(error.format_message().split())
    context = getattr(error, "ctx", None)
    if isinstance(error, click.NoSuchOption) and error.option_name[1:2].isdigit():
        line += " (hint: write -- before a name or number that begins with -)"
    elif isinstance(context, click.Context) and "Did you mean" not in line:
        line += f" (hint: {context.command_path} --help)"
    return line[:1].lower() + line[1:]


def run() -> None:
    """Entry point of the installed command."""
    sys.exit(main())
