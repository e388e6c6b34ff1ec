# SPDX-License-Identifier: GPL-3.0-or-later
"""The wheel holds the program, the page and the sample boards, nothing else, and it runs."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import sysconfig
import venv
import zipfile
from pathlib import Path

import pytest

from netgraph._version import __version__
from tests.support import ROOT

INFO = r"board_netgraph-[0-9][\w.]*\.dist-info"
EXPECTED = re.compile(
    r"netgraph/(?!_web/|_sample_boards/)(?:\w+/)*(?:\w+\.py|py\.typed|tables/[\w-]+\.csv)"
    r"|netgraph/(?:\w+/)*schema/[\w.-]+\.json"
    r"|netgraph/_web/(?:[\w-]+/)*[\w.-]+\.(?:html|js|mjs|css|json|md|svg|ts|mts|txt)"
    r"|netgraph/_web/(?:[\w-]+/)*LICENSE"
    r"|netgraph/_sample_boards/(?:[\w-]+/)*[\w.-]+\.(?:kicad_pcb|json|jsonl|csv|md|txt|toml)"
    rf"|{INFO}/(?:METADATA|WHEEL|RECORD|entry_points\.txt|licenses/LICENSE)"
)
UNWANTED = re.compile(r"(?:^|/)(?:tests?|__pycache__|node_modules|\.[^/]*)(?:/|$)|\.py[co]$")


def run(*words: str | Path, **environment: str) -> str:
    """Output of a command that must succeed; it sees only the environment given here."""
    plain = {"PATH": os.defpath, "PYTHONDONTWRITEBYTECODE": "1", **environment}
    done = subprocess.run(
        words, cwd=ROOT, env=plain, stdin=subprocess.DEVNULL, capture_output=True, text=True
    )
    assert done.returncode == 0, f"{words}\n{done.stdout}{done.stderr}"
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A wheel built from this tree by hatchling."""
    folder = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", folder)
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A clean environment with nothing but the wheel in it."""
    home = tmp_path_factory.mktemp("installed")
    venv.create(home, symlinks=True)
    options = ["--no-deps", "--no-index", "--quiet", "--disable-pip-version-check"]
    run(sys.executable, "-m", "pip", "--python", home / "bin/python", "install", *options, wheel)
    return home


def test_the_wheel_holds_what_is_expected_and_nothing_else(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    odd = [name for name in names if not EXPECTED.fullmatch(name) or UNWANTED.search(name)]
    assert odd == []
    sources = [path for path in (ROOT / "netgraph").rglob("*") if path.suffix in {".py", ".csv"}]
    assert {path.relative_to(ROOT).as_posix() for path in sources} <= set(names)
    for folder in ("web", "sample_boards"):
        shipped = [path for path in (ROOT / folder).rglob("*") if path.is_file()]
        assert shipped, f"{folder}/ is empty"
        assert {f"netgraph/_{path.relative_to(ROOT).as_posix()}" for path in shipped} <= set(names)


def test_the_installed_command_runs_and_finds_its_shipped_files(installed: Path) -> None:
    """The dependencies come from the environment of the tests; the program only from the wheel."""
    libraries = {"PYTHONPATH": sysconfig.get_path("purelib")}
    assert "show" in run(installed / "bin/netgraph", "--help", **libraries)
    ask = "from netgraph.assets import asset_path as a; print(a('web'), a('sample_boards'))"
    # -P: this repository, the current folder, must not stand in for what was installed
    for place in run(installed / "bin/python", "-P", "-c", ask, **libraries).split():
        assert installed in Path(place).parents


def test_the_page_is_served_from_an_installed_wheel(installed: Path, tmp_path: Path) -> None:
    """In an empty environment: the page, its library, and the sample board with an answer."""
    ask = """
import json, sys, threading, urllib.request
from pathlib import Path
from netgraph.service.app import Settings
from netgraph.service.serve import start
import netgraph
assert sys.prefix in netgraph.__file__, netgraph.__file__
running = start(Settings(Path(sys.argv[1]), 0))
threading.Thread(target=running.run, daemon=True).start()
def get(path, data=None):
    head = {"Authorization": "Bearer " + running.door.bearer}
    asked = urllib.request.Request(running.address + path, data, head)
    return urllib.request.urlopen(asked).read()
home = get("/").decode()
script = home.split('<script type="module" src="')[1].split('"')[0]
assert b"loadWords" in get(script)
assert len(get(script.replace("app/main.js", "vendor/cytoscape/cytoscape.esm.min.mjs"))) > 400_000
sha = json.loads(get("/api/v1/boards/sample?wait=20", b""))["board"]["sha256"]
lift = json.loads(get(f"/api/v1/boards/{sha}/lift?short=VSYS"))
print(len(lift["parts"]))
running.close()
"""
    libraries = {"PYTHONPATH": sysconfig.get_path("purelib")}
    out = run(installed / "bin/python", "-P", "-c", ask, tmp_path / "data", **libraries)
    assert int(out) > 10


def test_the_version_is_that_of_the_source(wheel: Path) -> None:
    assert wheel.name == f"board_netgraph-{__version__}-py3-none-any.whl"
