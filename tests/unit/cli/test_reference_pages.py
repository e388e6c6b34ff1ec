# SPDX-License-Identifier: GPL-3.0-or-later
"""The reference pages say what the program does: commands, errors, notes, fields."""

from __future__ import annotations

import importlib.util
import re
from types import ModuleType
from typing import get_args

import pytest

from netgraph.cli.main import COMMANDS
from netgraph.contract.models import ANSWERS, Problem
from netgraph.errors import ERROR_CODES
from netgraph.roles.answer import NET_KINDS, ROLES
from netgraph.roles.notes import KEEP_WORDS, NOTES_SCHEMA, parse_notes
from tests.support import ROOT
from tests.unit.cli.run import netgraph

REFERENCE = ROOT / "docs" / "reference"


def page(name: str) -> str:
    return (REFERENCE / name).read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def maker() -> ModuleType:
    """tools/make_schemas.py as a module."""
    spec = importlib.util.spec_from_file_location(
        "make_schemas", ROOT / "tools" / "make_schemas.py"
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_page_of_commands_is_the_programs_own_help(maker: ModuleType) -> None:
    assert page("commands.md") == maker.commands_page()


@pytest.mark.parametrize("command", COMMANDS)
def test_what_help_prints_stands_in_the_page(command: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Asked of the command itself, not of the tool that made the page."""
    monkeypatch.setenv("COLUMNS", "80")
    printed = netgraph(command, "--help").out.strip()
    assert printed in page("commands.md")


def test_each_error_code_has_its_heading_and_no_other_has() -> None:
    headings = re.findall(r"^## `([a-z-]+)`$", page("errors.md"), re.MULTILINE)
    assert headings == list(ERROR_CODES)


def test_each_word_that_notes_may_hold_is_told() -> None:
    text = page("board-notes.md")
    for word in (*ROLES, *NET_KINDS, *KEEP_WORDS, NOTES_SCHEMA):
        assert f"`{word}`" in text, word


def test_the_example_of_the_notes_page_is_read() -> None:
    (example,) = re.findall(r"```toml\n(.*?)```", page("board-notes.md"), re.DOTALL)
    notes = parse_notes(example)
    assert notes.parts
    assert notes.nets


def test_each_problem_of_notes_is_told() -> None:
    codes = get_args(Problem.model_fields["code"].annotation)
    assert len(codes) == 4
    told = page("board-notes.md")
    assert [code for code in codes if f"`{code}`" not in told] == []


def test_each_answer_with_all_its_top_fields_is_told() -> None:
    text = page("json.md")
    for command, form in ANSWERS.items():
        (section,) = re.findall(
            rf"^## {command}$\n(.*?)(?=^## |\Z)", text, re.MULTILINE | re.DOTALL
        )
        fields = {field.alias or name for name, field in form.model_fields.items()}
        shared = {"schema", "file", "notes", "partial", "not_known"}
        missing = fields - shared - set(re.findall(r"`([a-z0-9_]+)`", section))
        assert missing == set(), command
