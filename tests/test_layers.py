# SPDX-License-Identifier: GPL-3.0-or-later
"""Data flows one way: a room imports only rooms before it, and the core does no I/O."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping

import pytest

from tests.support import package_trees

ORDER = (
    "errors units quantity preferred net_names sources limits words reasons assets _version"
    " | model | formats | roles | rails | circuit | copper | heat | plan | diagnosis | advice"
    " | bench | case | report | survey | contract | service cli | netgraph __main__"
)
LEVEL = {room: level for level, rooms in enumerate(ORDER.split("|")) for room in rooms.split()}
SHELLS = {"click", "rich", "flask", "sqlalchemy"}
INPUT_OUTPUT = {"os", "io", "pathlib", "shutil", "socket", "subprocess", "tempfile", "time"}
MAY_READ_FILES = {"formats", "assets"}


def room_of(path: str) -> str:
    """``netgraph/model/board.py`` is in `model`; ``netgraph/__init__.py`` is `netgraph` itself."""
    parts = path.removesuffix(".py").split("/")
    return parts[0] if parts[1] == "__init__" else parts[1]


def imports(path: str, tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Line and full name of each import, those inside functions too."""
    package = path.split("/")[:-1]
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            near = package[: len(package) + 1 - node.level] if node.level else []
            base = ".".join([*near, *([node.module] if node.module else [])])
            for alias in node.names:
                # `from netgraph import errors` is the room errors, `import load` the whole
                inner = base == "netgraph" and alias.name in LEVEL
                yield node.lineno, f"{base}.{alias.name}" if inner else base


def faults(trees: Mapping[str, ast.Module]) -> list[str]:
    """One line for each import or call that the order of the rooms forbids."""
    found = []
    for path, tree in trees.items():
        room = room_of(path)
        if room not in LEVEL:
            found.append(f"{path}: room {room!r} has no place in the order")
            continue
        core = LEVEL[room] <= LEVEL["plan"]
        for line, name in imports(path, tree):
            top, *rest = name.split(".")
            target = (rest or [top])[0]
            if top == "netgraph" and LEVEL.get(target, len(LEVEL)) > LEVEL[room]:
                found.append(f"{path}:{line}: {room} imports {name}, which comes after it")
            elif core and top in SHELLS:
                found.append(f"{path}:{line}: the core imports {name}")
            elif core and top in INPUT_OUTPUT and room not in MAY_READ_FILES:
                found.append(f"{path}:{line}: {room} imports {name}; files belong to formats")
        if core and room not in MAY_READ_FILES:
            found += [
                f"{path}:{node.lineno}: {room} opens a file"
                for node in ast.walk(tree)
                if isinstance(node, ast.Call) and ast.unparse(node.func) == "open"
            ]
    return found


def test_every_import_goes_to_a_room_before() -> None:
    if found := faults(package_trees()):
        pytest.fail("\n".join(found), pytrace=False)


def test_the_check_itself_sees_each_kind_of_fault() -> None:
    """A check that finds nothing must be able to find something."""
    bad = {
        "netgraph/model/a.py": "def late():\n    from netgraph.plan import goals\n",
        "netgraph/model/b.py": "from netgraph import load\n",
        "netgraph/model/c.py": "from ..roles import answer\n",
        "netgraph/plan/d.py": "import click\n",
        "netgraph/rails/e.py": "from pathlib import Path\n",
        "netgraph/heat/f.py": "open('x')\n",
        "netgraph/attic.py": "",
    }
    good = {
        "netgraph/plan/a.py": "from ..roles import answer\nfrom netgraph import errors\n",
        "netgraph/formats/b.py": "from pathlib import Path\n",
        "netgraph/cli/c.py": "import click\nimport netgraph.service\n",
    }
    found = faults({path: ast.parse(text) for path, text in bad.items()})
    assert [line.split(":")[0] for line in found] == list(bad)
    assert found[0] == ("netgraph/model/a.py:2: model imports netgraph.plan, which comes after it")
    assert faults({path: ast.parse(text) for path, text in good.items()}) == []
