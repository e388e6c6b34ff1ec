# SPDX-License-Identifier: GPL-3.0-or-later
"""Shipped files are found in the package, then beside it, and nowhere else."""

from __future__ import annotations

from pathlib import Path

import pytest

from netgraph.assets import asset_path
from netgraph.errors import DataMissingError


def layout(root: Path, *names: str) -> Path:
    """A package folder with files in and beside it."""
    for name in names:
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(name, encoding="utf-8")
    (root / "netgraph").mkdir(exist_ok=True)
    return root / "netgraph"


def test_the_file_in_the_package_comes_before_the_one_beside_it(tmp_path: Path) -> None:
    package = layout(tmp_path, "netgraph/_web/index.html", "web/index.html")
    assert asset_path("web/index.html", package=package) == package / "_web" / "index.html"


def test_a_file_that_is_only_beside_the_package_is_found(tmp_path: Path) -> None:
    package = layout(tmp_path, "netgraph/_web/index.html", "web/app/main.js")
    assert asset_path("web/app/main.js", package=package).read_text() == "web/app/main.js"


def test_a_missing_file_is_an_error_that_names_it(tmp_path: Path) -> None:
    with pytest.raises(DataMissingError, match=r"sample_boards/lark/none\.kicad_pcb"):
        asset_path("sample_boards/lark/none.kicad_pcb", package=layout(tmp_path))


@pytest.mark.parametrize(
    "name",
    ["", "netgraph/cli", "/etc/hostname", "web/../netgraph", "web\\..\\x", "webs/a", "web/c:x"],
)
def test_a_name_that_leads_out_of_the_shipped_folders_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match="no shipped file"):
        asset_path(name)
