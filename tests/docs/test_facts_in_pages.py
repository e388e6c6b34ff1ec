# SPDX-License-Identifier: GPL-3.0-or-later
"""Facts that pages state about the code: rooms, variables, readers, marks, warnings, verdicts."""

from __future__ import annotations

import ast
import re
from typing import get_args

import pytest

from netgraph.formats import readers
from netgraph.formats.kicad_board import NEWEST_VERSION, OLDEST_VERSION
from netgraph.formats.not_fitted import not_fitted_because
from netgraph.plan.inject_types import Verdict
from netgraph.plan.lift_types import LiftVerdict
from tests.docs.pages import page
from tests.support import PACKAGE, ROOT, package_calls, package_trees

# Modules that are no room, and what "the whole" is made of.
NO_ROOM = {"__init__", "__main__", "_version"}


def test_every_room_of_the_package_is_in_the_picture() -> None:
    table = page("DEVELOPERS.md").text
    rooms = {
        path.stem if path.suffix == ".py" else path.name
        for path in PACKAGE.iterdir()
        if path.suffix == ".py" or (path / "__init__.py").exists()
    } - NO_ROOM
    assert [room for room in sorted(rooms) if not re.search(rf"`{room}(?:/|\.py)?`", table)] == []


def test_rooms_said_to_be_missing_are_missing() -> None:
    """When one is built, this page must follow."""
    (said,) = re.findall(
        r"^\*\*Rooms of the design that don't exist yet:\*\*(.*)$",
        page("DEVELOPERS.md").text,
        re.MULTILINE,
    )
    missing = set(re.findall(r"`(\w+)`", said.partition(" Their place")[0]))
    assert len(missing) >= 3
    assert [name for name in sorted(missing) if (PACKAGE / name).exists()] == []


def test_every_file_named_for_developers_exists() -> None:
    text = page("DEVELOPERS.md").text
    named = set(re.findall(r"`((?:[\w.]+/)+[\w.]+\.(?:py|md|txt))`", text))
    assert len(named) > 15
    assert [
        name
        for name in sorted(named)
        if not (ROOT / name).exists() and not (PACKAGE / name).exists()
    ] == []


def test_every_variable_of_the_environment_is_told() -> None:
    """Looked up in the sources of tests, tools and continuous integration."""
    used = set()
    for folder, pattern in (
        ("tests", "*.py"),
        ("tools", "*.py"),
        (".ci", "*"),
        ("netgraph", "*.py"),
    ):
        for path in (ROOT / folder).rglob(pattern):
            if path.is_file():
                used |= set(re.findall(r"\bNETGRAPH_[A-Z]+\b", path.read_text(encoding="utf-8")))
    used -= {"NETGRAPH_COMPLETE"}  # click's own, told in the reference of commands
    assert {"NETGRAPH_BOARDS", "NETGRAPH_TESTS", "NETGRAPH_PROFILE"} <= used
    text = page("DEVELOPERS.md").text
    assert [name for name in sorted(used) if f"| `{name}` |" not in text] == []


def test_every_built_in_reader_has_a_row_and_a_page() -> None:
    index = page("docs/reference/index.md").text
    for reader in readers():
        if type(reader).__module__.startswith("netgraph."):
            assert f"| `{reader.name}` |" in index
            assert (ROOT / "docs" / "reference" / f"{reader.name}.md").exists()


def test_the_oldest_and_the_newest_file_version_are_told() -> None:
    table = page("docs/reference/kicad-board.md").text
    numbers = [int(number) for number in re.findall(r"^\| \d+ \| (\d+) \|", table, re.MULTILINE)]
    assert numbers == sorted(numbers)
    assert (numbers[0], numbers[-1]) == (OLDEST_VERSION, NEWEST_VERSION)


def not_fitted_item(number: int) -> list[str]:
    text = page("docs/reference/kicad-board.md").text
    (line,) = re.findall(rf"^{number}\. (.+)$", text, re.MULTILINE)
    return re.findall(r"`([^`]+)`", line)


@pytest.mark.parametrize("word", not_fitted_item(2))
def test_a_word_said_to_mean_not_fitted_does(word: str) -> None:
    assert not_fitted_because("R1", f"10k {word}", "R_0402") is not None
    assert not_fitted_because("U1", word, "SOIC-8") is not None
    assert not_fitted_because("R1", f"10k{word}x", "R_0402") is None


@pytest.mark.parametrize("word", not_fitted_item(3))
def test_a_short_word_said_to_mean_not_fitted_does(word: str) -> None:
    """As the whole value, or with a value of a two-terminal part."""
    assert not_fitted_because("R1", word, "R_0402") is not None


@pytest.mark.parametrize("end", not_fitted_item(4))
def test_an_ending_of_a_footprint_said_to_mean_not_fitted_does(end: str) -> None:
    assert not_fitted_because("R1", "10k", f"R_0402{end}") is not None
    assert not_fitted_because("R1", "10k", "R_0402") is None


def test_fields_said_to_mean_not_fitted_do() -> None:
    text = page("docs/reference/kicad-board.md").text
    (line,) = re.findall(r"^6\. (.+)$", text, re.MULTILINE)
    for part, said in zip(line.split(";"), ("yes", "no", "DNP"), strict=True):
        keys = re.findall(r"`([^`]+)`", part)
        assert keys
        for key in keys:
            assert not_fitted_because("R1", "10k", "R_0402", fields=[(key, said)]) is not None, key
            harmless = {"yes": "no", "no": "yes", "DNP": "rev B"}[said]
            assert not_fitted_because("R1", "10k", "R_0402", fields=[(key, harmless)]) is None, key


@pytest.mark.parametrize(
    ("name", "modules", "least"),
    [
        ("kicad-board", r"kicad_(?!netlist).*", 4),
        ("kicad-netlist", r"kicad_netlist\.py", 4),
        ("ipc-d356", r"ipc_d356.*", 6),
        ("csv", r"csv_.*", 6),
    ],
)
def test_every_warning_of_the_readers_is_told(name: str, modules: str, least: int) -> None:
    """Looked up as calls of `warn` with a code in the sources; stray bytes warn in one place."""
    codes = {
        str(call.args[0].value)
        for place, called, call in package_calls()
        if called == "warn"
        and re.match(f"netgraph/formats/{modules}:", place)
        and isinstance(call.args[0], ast.Constant)
    } | {"encoding"}
    assert len(codes) >= least
    text = page(f"docs/reference/{name}.md").text
    told = set(re.findall(r"^\| `([a-z-]+)` \|", text.partition("## Warnings")[2], re.MULTILINE))
    assert told == codes


def test_every_kind_of_skipped_copper_is_told() -> None:
    skipped = {
        str(node.args[0].value)
        for node in ast.walk(package_trees()["netgraph/formats/kicad_copper.py"])
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr == "_skip"
        and isinstance(node.args[0], ast.Constant)
    }
    assert skipped
    text = page("docs/reference/kicad-board.md").text
    assert [kind for kind in sorted(skipped) if f"`{kind}`" not in text] == []


def test_every_verdict_is_explained() -> None:
    for verdict in (*get_args(LiftVerdict), *get_args(Verdict)):
        assert f"`{verdict}`" in page("docs/reference/glossary.md").text
    for verdict in get_args(LiftVerdict):
        assert f"| `{verdict}` |" in page("docs/how-to/decide-what-may-come-off.md").text


def test_the_changelog_has_its_form() -> None:
    """Keep a Changelog: the unreleased changes first, under headings of its list."""
    text = page("CHANGELOG.md").text
    sections = re.findall(r"^## (.+)$", text, re.MULTILINE)
    assert sections[0] == "Unreleased"
    allowed = {"Added", "Changed", "Deprecated", "Removed", "Fixed", "Security", "Known limits"}
    assert set(re.findall(r"^### (.+)$", text, re.MULTILINE)) <= allowed
