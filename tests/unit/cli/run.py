# SPDX-License-Identifier: GPL-3.0-or-later
"""Runs the command line in this process, or in one of its own."""

from __future__ import annotations

import contextlib
import io
import json
import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from netgraph.cli.main import main
from tests.support import ROOT


@dataclass(frozen=True)
class Run:
    status: int
    out: str
    err: str

    def json(self) -> dict[str, Any]:
        assert self.status == 0, self.err
        answer = json.loads(self.out)
        assert isinstance(answer, dict)
        return answer


def netgraph(*words: str | Path) -> Run:
    """One command in this process, its output caught."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            status = main([str(word) for word in words])
        except SystemExit as stop:
            status = int(stop.code or 0)
    return Run(status, out.getvalue(), err.getvalue())


def process(words: Sequence[str | Path], **environment: str) -> subprocess.CompletedProcess[str]:
    """One command in a process of its own, with nothing but this environment."""
    return subprocess.run(
        [sys.executable, "-m", "netgraph", *words],
        env={"PATH": os.defpath, "PYTHONPATH": str(ROOT), **environment},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
    )
