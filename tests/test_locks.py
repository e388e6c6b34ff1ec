# SPDX-License-Identifier: GPL-3.0-or-later
"""The hash locks fit pyproject.toml and carry nothing of the machine that made them."""

from __future__ import annotations

import ast
import re
import sys
import tomllib

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.support import ROOT, package_trees


def lock(name: str) -> dict[str, tuple[str, int]]:
    """Version and number of hashes of each package; a line of another kind is an error."""
    found: dict[str, tuple[str, int]] = {}
    last = ""
    for line in (ROOT / "requirements" / f"{name}.txt").read_text(encoding="utf-8").splitlines():
        if pinned := re.fullmatch(r"([a-z0-9-]+)==([\w.]+) \\", line):
            last = pinned[1]
            found[last] = (pinned[2], 0)
        else:
            assert re.fullmatch(r"    --hash=sha256:[0-9a-f]{64}(?: \\)?", line), line
            found[last] = (found[last][0], found[last][1] + 1)
    return found


def group(name: str) -> list[str]:
    """Requirements of a dependency group, with those it includes."""
    groups = tomllib.loads((ROOT / "pyproject.toml").read_text())["dependency-groups"]
    nested = [
        [entry] if isinstance(entry, str) else group(entry["include-group"])
        for entry in groups[name]
    ]
    return [requirement for part in nested for requirement in part]


def test_each_package_is_pinned_with_a_hash() -> None:
    for name in ("run", "dev"):
        assert [package for package, (_, hashes) in lock(name).items() if hashes < 1] == []


def test_the_tools_are_added_to_the_very_same_run_time_packages() -> None:
    assert lock("run").items() <= lock("dev").items()


def test_pins_fit_what_pyproject_asks_for() -> None:
    """Fails when pyproject.toml was changed and `tools/lock.py` was not run."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    for name, wanted in (("run", project["dependencies"]), ("dev", group("dev"))):
        pins = lock(name)
        for text in wanted:
            requirement = Requirement(text)
            version = pins[canonicalize_name(requirement.name)][0]
            assert requirement.specifier.contains(version), f"{name}: {text} but {version}"


def test_all_that_the_package_imports_is_installed_with_it() -> None:
    """Tests run with more than a user has: what the tests bring along must not hide a lack."""
    imported: dict[str, str] = {}
    for place, tree in package_trees().items():
        for node in ast.walk(tree):
            names = [one.name for one in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom) and not node.level and node.module:
                names = [node.module]
            for name in names:
                imported.setdefault(name.partition(".")[0], place)
    there = {"netgraph", *sys.stdlib_module_names, *lock("run")}
    lacking = {name: place for name, place in imported.items() if name not in there}
    assert lacking == {}
