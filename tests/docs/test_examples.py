# SPDX-License-Identifier: GPL-3.0-or-later
"""The Python examples of the pages run as they stand, from top to bottom."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import netgraph
from netgraph.assets import asset_path
from tests.docs.pages import page, pages

WITH_EXAMPLES = [one.name for one in pages() if one.blocks("python")]


def test_the_pages_for_programmers_have_examples() -> None:
    assert {
        "README.md",
        "docs/how-to/use-as-a-library.md",
        "docs/how-to/add-a-reader.md",
        "docs/how-to/save-a-board-as-kicad.md",
    } <= set(WITH_EXAMPLES)


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_the_examples_run(
    name: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """One name space a page, in a folder that holds the sample board where the page says."""
    folder = tmp_path / "sample_boards" / "lark"
    folder.mkdir(parents=True)
    shutil.copy(asset_path("sample_boards/lark/lark.kicad_pcb"), folder)
    monkeypatch.chdir(tmp_path)
    space: dict[str, object] = {"__name__": "example"}
    for body in page(name).blocks("python"):
        exec(compile(body, name, "exec"), space)  # noqa: S102 - our own pages
    if "print(" in page(name).text:
        assert capsys.readouterr().out


def test_every_public_name_is_told() -> None:
    text = page("docs/how-to/use-as-a-library.md").text
    assert [name for name in netgraph.__all__ if f"`{name}`" not in text] == []
