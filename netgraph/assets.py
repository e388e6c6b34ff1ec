# SPDX-License-Identifier: GPL-3.0-or-later
"""Where is a file that ships with the program: the page or a sample board?

``web/`` and ``sample_boards/`` lie beside the package in the repository. A wheel holds them inside
it, as ``netgraph/_web`` and ``netgraph/_sample_boards``.
"""

from __future__ import annotations

from pathlib import Path, PurePosixPath

from netgraph.errors import DataMissingError

FOLDERS: tuple[str, ...] = ("web", "sample_boards")
"""The folders that ship; pyproject.toml names the same two for the wheel."""


def asset_path(name: str, *, package: Path | None = None) -> Path:
    """Find a shipped file or folder: in the package first, then beside it.

    Parameters
    ----------
    name
        With forward slashes, from one of `FOLDERS`: ``sample_boards/lark/lark.kicad_pcb``.
    package
        Folder of the package; None is the one this module was loaded from.

    Raises
    ------
    ValueError
        `name` starts in no such folder, or would lead out of it.
    DataMissingError
        It is in neither place: the installation is not complete.
    """
    parts = PurePosixPath(name).parts
    outside = ".." in parts or any(char in name for char in "\\:\0")
    if not parts or parts[0] not in FOLDERS or outside:
        raise ValueError(f"no shipped file can be named {name!r}")
    home = Path(__file__).parent if package is None else package
    for found in (home.joinpath(f"_{parts[0]}", *parts[1:]), home.parent.joinpath(*parts)):
        if found.exists():
            return found
    raise DataMissingError(f"the shipped file {name} is missing", hint="install the program again")
