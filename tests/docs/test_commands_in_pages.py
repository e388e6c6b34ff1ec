# SPDX-License-Identifier: GPL-3.0-or-later
"""What the pages say of the command line exists, and what they show on the sample board runs."""

from __future__ import annotations

import importlib.util
import re
import shlex
import shutil
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from netgraph.assets import asset_path
from netgraph.cli.main import cli
from tests.docs.pages import GENERATED, page, pages
from tests.support import ROOT
from tests.unit.cli.run import netgraph


def all_commands(command: click.Command, path: str) -> Iterator[tuple[str, click.Command]]:
    yield path, command
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            inner = command.get_command(context, name)
            assert inner is not None
            yield from all_commands(inner, f"{path} {name}")


COMMANDS = dict(all_commands(cli, "netgraph"))


@pytest.mark.parametrize("path", COMMANDS)
def test_every_command_has_its_heading_and_all_its_options_in_the_reference(path: str) -> None:
    """Asked of click's own tree of commands, sub-commands too."""
    text = page("docs/reference/commands.md").text
    (section,) = re.findall(rf"^## {path}$\n(.*?)(?=^## |\Z)", text, re.MULTILINE | re.DOTALL)
    options = [
        name
        for parameter in COMMANDS[path].params
        if isinstance(parameter, click.Option) and not parameter.hidden
        for name in parameter.opts + parameter.secondary_opts
    ]
    assert [name for name in options if name not in section] == []


def test_every_command_is_used_somewhere_outside_the_reference() -> None:
    told = "\n".join(one.text for one in pages() if one.name not in GENERATED)
    assert [path for path in COMMANDS if path not in told] == []


def faults_of(shown: str) -> list[str]:
    """What in a shown call the program doesn't know: its command, its options."""
    words = re.sub(r"\s*(\||>).*", "", shown).split()
    path = words[0]
    rest = words[1:]
    while rest and f"{path} {rest[0]}" in COMMANDS:
        path, rest = f"{path} {rest[0]}", rest[1:]
    if isinstance(COMMANDS[path], click.Group) and rest and rest[0].islower():
        return [f"no command {path} {rest[0]}"]
    known = {
        name
        for parameter in (*COMMANDS[path].params, *COMMANDS["netgraph"].params)
        for name in (*parameter.opts, *parameter.secondary_opts)
    } | {"--help", "-h"}
    return [f"{path} has no {word}" for word in rest if word.startswith("-") and word not in known]


def test_every_shown_call_names_a_command_and_options_that_exist() -> None:
    shown = [
        (one.name, call) for one in pages() if one.name not in GENERATED for call in one.commands()
    ]
    assert len(shown) > 40
    assert [(name, fault) for name, call in shown for fault in faults_of(call)] == []


def test_the_check_sees_an_unknown_command_and_an_unknown_option() -> None:
    assert faults_of("netgraph solder FILE") == ["no command netgraph solder"]
    assert faults_of("netgraph lift FILE --burn") == ["netgraph lift has no --burn"]
    assert faults_of("netgraph notes set FILE --part U7 --role storage") == []


@pytest.mark.parametrize("name", ["README.md", "docs/tutorial/first-board.md"])
def test_the_calls_shown_on_the_sample_board_run(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the order of the page, on a copy, since `notes set` writes beside the board."""
    shutil.copy(asset_path("sample_boards/lark/lark.kicad_pcb"), tmp_path)
    monkeypatch.chdir(tmp_path)
    calls = page(name).runnable()
    assert {"show", "rail", "lift", "inject", "path", "notes"} <= {call[0] for call in calls}
    for call in calls:
        ran = netgraph(*call)
        assert ran.status == 0, f"{call}: {ran.err}"
        assert ran.out.strip(), call


@pytest.mark.parametrize(
    "name", ["README.md", "docs/tutorial/first-board.md", "docs/tutorial/from-short-to-copy.md"]
)
def test_what_pages_show_as_an_answer_stands_in_the_true_answer(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Line by line, at 80 columns; `...` stands for what is left out, in a line or between.

    Bench cards on the page are added to the reader's file of cards as the page goes on.
    """
    shutil.copy(asset_path("sample_boards/lark/lark.kicad_pcb"), tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    compared = 0
    for language, body in page(name).all_blocks():
        if language == "json" and body.startswith('{"kind"'):
            with (tmp_path / "cards.jsonl").open("a", encoding="utf-8") as cards:
                cards.write(body)
        if language != "console":
            continue
        assert body.startswith("$ netgraph ")
        answer: list[str] = []
        for line in body.splitlines():
            if line.startswith("$ netgraph "):
                call = line
                ran = netgraph(*shlex.split(call)[2:])
                assert ran.status == 0, f"{call}: {ran.err}"
                answer = [one.rstrip() for one in ran.out.splitlines()]
                continue
            if line.strip() in ("", "..."):
                continue
            pattern = ".*".join(re.escape(one) for one in line.rstrip().split("..."))
            assert any(re.fullmatch(pattern, one) for one in answer), f"{call}: {line}"
            compared += 1
    assert compared > 10


def test_every_set_up_command_of_the_pages_is_a_job_of_the_set_up() -> None:
    spec = importlib.util.spec_from_file_location("start", ROOT / "tools" / "start.py")
    assert spec is not None
    assert spec.loader is not None
    start = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(start)
    named = {
        job for one in pages() for job in re.findall(r"python3 tools/start\.py (\w+)", one.text)
    }
    assert {"demo", "test"} <= named <= set(start.JOBS)
    readme = page("README.md").text
    for job in ("demo", "test"):
        assert f"\n    python3 tools/start.py {job}\n" in readme
