# SPDX-License-Identifier: GPL-3.0-or-later
"""Write the hash locks in requirements/ from pyproject.toml (run by hand, needs the network).

    python3.11 tools/lock.py             keep the pinned versions where they still fit
    python3.11 tools/lock.py --upgrade   take the newest versions

``run.txt`` holds what the program needs, ``dev.txt`` that and the tests, types, lint and build
tools, with the very same versions. Only the index itself is asked: local wheel folders, extra
indexes and constraints of this machine would leave their own hashes or caps in the locks.
Standard library only; the compiler is put into a throw-away environment.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
import tomllib
import venv
from collections.abc import Mapping, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
COMPILER = ("pip==23.2.1", "pip-tools==7.6.2", "setuptools<81", "wheel")
"""setuptools and wheel are named because pip-tools asks for them; they stay out of the locks."""
OPTIONS = (
    "--generate-hashes",
    "--strip-extras",
    "--no-header",
    "--no-annotate",
    "--no-emit-index-url",
    "--no-emit-find-links",
    "--no-emit-trusted-host",
    "--no-emit-options",
    "--quiet",
)
KEPT_SETTINGS = ("PIP_INDEX_URL", "PIP_CERT", "PIP_PROXY", "PIP_DEFAULT_TIMEOUT", "PIP_RETRIES")
"""What may be needed to reach the index; none of it is written to a lock."""


def group_requirements(groups: Mapping[str, Sequence[object]], name: str) -> list[str]:
    """Requirements of a dependency group with the groups it includes (PEP 735)."""
    found: list[str] = []
    for entry in groups[name]:
        if isinstance(entry, str):
            found.append(entry)
        elif isinstance(entry, dict):
            found += group_requirements(groups, entry["include-group"])
    return found


def index_only_environment() -> dict[str, str]:
    """The environment without pip's settings, but for those that only say how to reach an index."""
    kept = {
        key: value
        for key, value in os.environ.items()
        if not key.startswith(("PIP_", "PYTHON")) or key in KEPT_SETTINGS
    }
    return {**kept, "PIP_CONFIG_FILE": os.devnull, "PIP_DISABLE_PIP_VERSION_CHECK": "1"}


def pins(lock: str) -> list[str]:
    """The ``name==version`` parts of a lock, hashes left out."""
    return re.findall(r"^[A-Za-z0-9][\w.-]*==[^\s;\\]+", lock, flags=re.MULTILINE)


def main(arguments: Sequence[str]) -> int:
    """Compile both locks; exit status 2 for wrong use."""
    if sys.version_info[:2] != (3, 11):
        print("lock.py: run it with Python 3.11, the lowest version the locks are for")
        return 2
    if set(arguments) - {"--upgrade"}:
        print(__doc__)
        return 2
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    run: list[str] = project["project"]["dependencies"]
    dev = run + group_requirements(project["dependency-groups"], "dev")
    environment = index_only_environment()
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        venv.create(place / "venv", with_pip=True)
        python = place / "venv" / "bin" / "python"
        subprocess.run(
            [python, "-m", "pip", "install", "--quiet", *COMPILER], env=environment, check=True
        )
        same = place / "same.txt"
        same.write_text("", encoding="utf-8")
        for name, wanted in (("run", run), ("dev", dev)):
            source, made = place / f"{name}.in", place / f"{name}.txt"
            source.write_text("\n".join(wanted) + "\n", encoding="utf-8")
            lock = ROOT / "requirements" / f"{name}.txt"
            if lock.exists():
                made.write_bytes(lock.read_bytes())  # the compiler keeps the pins it finds there
            compiler = [str(python), "-m", "piptools", "compile", *OPTIONS, *arguments]
            subprocess.run(
                [*compiler, "-c", str(same), "-o", str(made), str(source)],
                check=True,
                env=environment,
                cwd=place,
            )
            text = made.read_text(encoding="utf-8")
            same.write_text("\n".join(pins(text)) + "\n", encoding="utf-8")
            lock.parent.mkdir(exist_ok=True)
            lock.write_text(text, encoding="utf-8")
            print(f"requirements/{name}.txt: {len(pins(text))} packages")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
