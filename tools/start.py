# SPDX-License-Identifier: GPL-3.0-or-later
"""Set up once, then run a job: the only command a fresh copy of the project needs.

    python3 tools/start.py demo     the main job on the sample board
    python3 tools/start.py test     all tests (further words go to pytest)
    python3 tools/start.py check    lint, types, tests: all that a change must pass
    python3 tools/start.py fmt      rewrite the sources in house form
    python3 tools/start.py lint     ruff: rules and form
    python3 tools/start.py types    mypy, strict
    python3 tools/start.py docs     the tests of the documents
    python3 tools/start.py bench    the benchmarks (figures, no verdict)

Needs Python 3.11 or newer and nothing else: makes .venv, installs what requirements/dev.txt pins
by hash, then starts the job there. A second run finds .venv ready. With CI=true it starts anew.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import NoReturn

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
STAMP = VENV / "start-stamp.json"
LOG = VENV / "start-pip.log"
LOCK = ROOT / "requirements" / "dev.txt"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
INSIDE = "NETGRAPH_START"
"""Set for the jobs, so that a job which calls start.py again keeps the environment it runs in."""

RUFF = ["-m", "ruff"]
JOBS: dict[str, list[list[str]]] = {
    "demo": [["-m", "netgraph", "demo"]],
    "test": [["-m", "pytest"]],
    "fmt": [[*RUFF, "check", "--fix-only", "--quiet", "."], [*RUFF, "format", "."]],
    "lint": [[*RUFF, "check", "."], [*RUFF, "format", "--check", "."]],
    "types": [["-m", "mypy"]],
    "docs": [["-m", "pytest", "tests/docs"]],
    "bench": [["-m", "benchmarks"]],
}
JOBS["check"] = [*JOBS["lint"], *JOBS["types"], *JOBS["test"]]


def stop(line: str) -> NoReturn:
    """Say in one line why it can't go on, and leave with status 2."""
    print(f"start.py: {line}", file=sys.stderr)
    raise SystemExit(2)


def tell(line: str) -> None:
    """Progress goes to stderr; stdout belongs to the job."""
    print(f"start.py: {line}", file=sys.stderr, flush=True)


def has_ensurepip() -> bool:
    """Whether this Python can put pip into a new environment; Debian keeps that apart."""
    importlib.invalidate_caches()
    found = importlib.util.find_spec("ensurepip")
    return found is not None and found.origin is not None


def provide_ensurepip() -> None:
    """Install Debian's python3-venv when we may; else say the one line that does."""
    if has_ensurepip():
        return
    command = "apt-get install --yes --no-install-recommends python3-venv"
    apt = shutil.which("apt-get")
    if apt is None or not hasattr(os, "geteuid") or os.geteuid() != 0:
        stop(f"this Python has no ensurepip; as root: {command}")
    tell(f"this Python has no ensurepip; {command}")
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for words in (["update", "--quiet=2"], command.split()[1:]):
        done = subprocess.run(
            [apt, *words],
            check=False,
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=sys.stderr,
        )
        # `update` may fail for one source of many and the install still work
        if done.returncode != 0 and words[0] == "install":
            stop(f"apt-get failed with status {done.returncode}: {command}")
    if not has_ensurepip():
        stop(f"{sys.executable} still has no ensurepip; use Debian's own /usr/bin/python3")


def clean_environment() -> dict[str, str]:
    """The caller's environment without what would send Python or pip to another place."""
    astray = ("PYTHONHOME", "PYTHONPATH", "PIP_USER", "PIP_TARGET", "PIP_PREFIX", "PIP_ROOT")
    kept = {key: value for key, value in os.environ.items() if key not in astray}
    kept.setdefault("PIP_RETRIES", "2")
    return {
        **kept,
        "PIP_DISABLE_PIP_VERSION_CHECK": "1",
        "PIP_REQUIRE_VIRTUALENV": "0",
        "VIRTUAL_ENV": str(VENV),
        "PATH": f"{PYTHON.parent}{os.pathsep}{kept.get('PATH', os.defpath)}",
        INSIDE: "1",
    }


def pip(*arguments: str) -> None:
    """Run the environment's pip; on failure keep its words in a file and say one line."""
    command = [str(PYTHON), "-m", "pip", "--no-input", "install", "--quiet", *arguments]
    done = subprocess.run(
        command,
        check=False,
        cwd=ROOT,
        env=clean_environment(),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    if done.returncode == 0:
        return
    LOG.write_bytes(done.stdout)
    said = done.stdout.decode(errors="replace")
    log = LOG.relative_to(ROOT)
    offline = (
        "connection broken",
        "ConnectionError",
        "ConnectTimeout",
        "Read timed out",
        "ProxyError",
    )
    if "DO NOT MATCH THE HASHES" in said:
        stop(f"a package differs from the hash in {LOCK.relative_to(ROOT)}; not installed ({log})")
    if "SSLError" in said or "CERTIFICATE_VERIFY_FAILED" in said:
        stop(f"pip does not trust the package registry's certificate; set PIP_CERT ({log})")
    if any(word in said for word in offline):
        stop(f"pip can't reach the package registry; check network, proxy, PIP_INDEX_URL ({log})")
    errors = [line for line in said.splitlines() if line.startswith("ERROR: ")]
    stop(f"pip failed: {errors[-1][7:] if errors else 'no reason given'} ({log})")


def digest(*parts: object) -> str:
    """A short name for a state of the things that an installation depends on."""
    return hashlib.sha256(repr(parts).encode()).hexdigest()


def wanted_stamp() -> dict[str, str]:
    """What .venv must have been made from; its scripts hold this very path, so it counts too."""
    import tomllib  # not at the top: an older Python must get as far as our own message

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    installed = [project.get("project"), project.get("build-system"), project["tool"].get("hatch")]
    base = os.path.realpath(getattr(sys, "_base_executable", sys.executable))
    return {
        "packages": digest(LOCK.read_bytes(), sys.version, base, str(ROOT)),
        "project": digest(installed),
    }


def found_stamp() -> dict[str, str]:
    """What .venv was made from; empty when it is missing or was not finished."""
    try:
        stamp = json.loads(STAMP.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return stamp if isinstance(stamp, dict) and PYTHON.exists() else {}


def remove_environment() -> None:
    """Take the old .venv away, but nothing that only has the name."""
    if not os.path.lexists(VENV):
        return
    ours = (VENV / "pyvenv.cfg").exists() or (VENV.is_dir() and not any(VENV.iterdir()))
    if VENV.is_symlink() or not ours:
        stop(".venv exists and is no virtual environment; move it away")
    shutil.rmtree(VENV)


def make_environment(*, fresh: bool) -> None:
    """Bring .venv to the state of the lock and of pyproject.toml; no work when it is there."""
    wanted, found = wanted_stamp(), {} if fresh else found_stamp()
    if found == wanted:
        return
    if found.get("packages") != wanted["packages"]:
        provide_ensurepip()
        remove_environment()
        tell("making .venv and installing the locked packages (once)")
        base = getattr(sys, "_base_executable", sys.executable)
        done = subprocess.run(
            [base, "-m", "venv", VENV], check=False, capture_output=True, text=True
        )
        if done.returncode != 0:
            words = (done.stdout + done.stderr).split("\n")
            stop(f"could not make .venv: {' '.join(words)[:300]}")
        pip("--require-hashes", "--no-deps", "--only-binary=:all:", "-r", str(LOCK))
    pip("--no-deps", "--no-build-isolation", "--no-index", "-e", ".")
    STAMP.write_text(json.dumps(wanted), encoding="utf-8")


def run(job: str, words: list[str]) -> int:
    """Run the steps of a job one after the other; the first that fails decides."""
    for number, step in enumerate(JOBS[job], start=1):
        last = words if number == len(JOBS[job]) else []
        done = subprocess.run(
            [PYTHON, *step, *last], check=False, cwd=ROOT, env=clean_environment()
        )
        if done.returncode != 0:
            return done.returncode if done.returncode > 0 else 128 - done.returncode
    return 0


def main(arguments: list[str]) -> int:
    """Parse, set up, run; the status is the job's own, or 2 when it did not come to that."""
    if sys.version_info < (3, 11):  # noqa: UP036 - the one file that an older Python may meet
        stop("needs Python 3.11 or newer; this is " + sys.version.split()[0])
    job, words = (arguments[0], arguments[1:]) if arguments else ("", [])
    if job in {"-h", "--help"}:
        print(__doc__)
        return 0
    if job not in JOBS:
        asked = f"unknown job {job!r}" if job else "no job named"
        stop(f"{asked}; one of: {' '.join(sorted(JOBS))}")
    in_ci = os.environ.get("CI", "").lower() in {"1", "true", "yes"}
    make_environment(fresh=in_ci and INSIDE not in os.environ)
    return run(job, words[1:] if words[:1] == ["--"] else words)


if __name__ == "__main__":
    try:
        raise SystemExit(main(sys.argv[1:]))
    except KeyboardInterrupt:
        raise SystemExit(130) from None
