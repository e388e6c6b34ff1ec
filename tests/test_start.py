# SPDX-License-Identifier: GPL-3.0-or-later
"""The set-up says in one line why it can't go on, and never removes what is not its own."""

from __future__ import annotations

import ast
import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

from tests.support import ROOT

START = ROOT / "tools" / "start.py"


@pytest.fixture
def start(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """tools/start.py as a module, on a Python without ensurepip."""
    spec = importlib.util.spec_from_file_location("start_under_test", START)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    monkeypatch.setattr(module, "has_ensurepip", lambda: False)
    return module


def run(script: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """The script with nothing but PATH in its environment."""
    plain = {"PATH": os.defpath}
    return subprocess.run(
        [sys.executable, script, *words], env=plain, capture_output=True, text=True
    )


def test_an_older_python_can_read_it_as_far_as_its_message() -> None:
    """Python 3.7 is the oldest grammar that `ast` promises to check."""
    ast.parse(START.read_text(encoding="utf-8"), feature_version=(3, 7))


@pytest.mark.parametrize("words", [[], ["no-such-job"]])
def test_an_unknown_job_is_wrong_use_and_names_the_jobs(words: list[str]) -> None:
    done = run(START, *words)
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert "demo" in done.stderr
    assert done.stdout == ""


def test_each_job_is_in_the_help(start: ModuleType) -> None:
    assert start.__doc__ is not None
    assert [job for job in start.JOBS if f"tools/start.py {job} " not in start.__doc__] == []


@pytest.mark.parametrize(("apt", "user"), [(None, 0), ("/usr/bin/apt-get", 1000)])
def test_without_ensurepip_it_prints_the_line_that_helps(
    start: ModuleType,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    apt: str | None,
    user: int,
) -> None:
    """No apt-get, or not root: nothing is run, one line is said."""
    monkeypatch.setattr(shutil, "which", lambda _: apt)
    monkeypatch.setattr(os, "geteuid", lambda: user)
    monkeypatch.setattr(subprocess, "run", lambda *_, **__: pytest.fail("ran a command"))
    with pytest.raises(SystemExit) as stopped:
        start.provide_ensurepip()
    assert stopped.value.code == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "apt-get install --yes --no-install-recommends python3-venv" in said


def test_a_folder_that_is_no_virtual_environment_stays(tmp_path: Path) -> None:
    """The name .venv alone does not make it ours to remove."""
    for name in ("tools/start.py", "requirements/dev.txt", "pyproject.toml"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        shutil.copy(ROOT / name, tmp_path / name)
    (tmp_path / ".venv").mkdir()
    (tmp_path / ".venv" / "letter.txt").write_text("mine", encoding="utf-8")
    done = run(tmp_path / "tools" / "start.py", "test")
    assert done.returncode == 2
    assert "no virtual environment" in done.stderr
    assert (tmp_path / ".venv" / "letter.txt").read_text(encoding="utf-8") == "mine"
