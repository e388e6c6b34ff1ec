# SPDX-License-Identifier: GPL-3.0-or-later
"""A reader in a package of its own, found by its entry point, in a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from tests.support import ROOT

PLUGIN = ROOT / "tests" / "data" / "plugin"
TEXT = "parts-and-nets 1\nC1 1 3V3\nC1 2 GND\nU1 4 3V3\n"


def run(*words: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *words],
        env={"PATH": os.defpath, "PYTHONPATH": f"{ROOT}{os.pathsep}{PLUGIN}"},
        capture_output=True,
        text=True,
    )


def test_an_installed_plug_in_is_listed_and_reads(tmp_path: Path) -> None:
    file = tmp_path / "x.lines"
    file.write_text(TEXT)
    listed = run("-m", "netgraph", "formats")
    assert "plain-lines" in listed.stdout
    shown = run("-m", "netgraph", "rail", file, "3V3")
    assert shown.returncode == 0, shown.stderr
    assert "C1" in shown.stdout
    file.write_text("parts-and-nets 1\nC1 1\n")
    wrong = run("-m", "netgraph", "show", file)
    assert wrong.returncode == 3
    assert "x.lines:2: 2 words; expected REF PIN NET" in wrong.stderr


def test_no_plug_in_is_loaded_where_it_is_switched_off(tmp_path: Path) -> None:
    """The module itself would be in `sys.modules` if it had been imported."""
    file = tmp_path / "x.lines"
    file.write_text(TEXT)
    code = (
        "import sys, netgraph.formats as f\n"
        "from netgraph.errors import BoardFileError\n"
        "try:\n    f.read_board(sys.argv[1], plugins=False)\n"
        "except BoardFileError as error:\n    print(error.code, 'plain_lines' in sys.modules)\n"
        "print(len(f.read_board(sys.argv[1]).parts), 'plain_lines' in sys.modules)\n"
    )
    done = run("-c", code, file)
    assert done.stdout.split() == ["format-unknown", "False", "2", "True"], done.stderr
