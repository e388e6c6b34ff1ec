# SPDX-License-Identifier: GPL-3.0-or-later
"""Streams that are full or closed, and words that are no text: one line, no traceback."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.support import ROOT
from tests.unit.cli.small_board import write_small_board


def shell(words: str, *arguments: str | bytes) -> subprocess.CompletedProcess[bytes]:
    """A line of shell; `"$@"` stands for the command with its arguments."""
    command = [sys.executable, "-m", "netgraph", *arguments]
    return subprocess.run(
        ["sh", "-c", words, "sh", *command], cwd=ROOT, capture_output=True, check=False
    )


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
@pytest.mark.parametrize("option", [[], ["--json"], ["--help"]])
def test_a_full_disk_is_one_line(tmp_path: Path, option: list[str]) -> None:
    board = write_small_board(tmp_path)
    done = shell('"$@" >/dev/full', "show", str(board), *option)
    assert (done.returncode, done.stderr.count(b"\n")) == (2, 1)
    assert b"can't be written" in done.stderr


@pytest.mark.parametrize("closed", [">&-", "2>&-", ">&- 2>&-"])
@pytest.mark.parametrize("option", [[], ["--json"]])
def test_a_closed_stream_is_nobody_who_listens(
    tmp_path: Path, closed: str, option: list[str]
) -> None:
    done = shell(f'"$@" {closed}', "show", str(write_small_board(tmp_path)), *option)
    assert (done.returncode, done.stderr) == (0, b"")
    assert (done.stdout == b"") is closed.startswith(">")


def test_a_reason_that_is_no_text_is_refused_and_nothing_written(tmp_path: Path) -> None:
    board = write_small_board(tmp_path)
    words = ["notes", "set", os.fsencode(board), "--net", "VSYS", "--kind", "rail", "--why"]
    done = shell('"$@"', *words, b"\xff")
    assert (done.returncode, done.stderr.count(b"\n")) == (2, 1)
    assert b"not valid UTF-8" in done.stderr
    assert list(tmp_path.iterdir()) == [board]
