# SPDX-License-Identifier: GPL-3.0-or-later
"""Where the service keeps boards: the folder, its layout version, and bringing old ones up to it.

::

    layout.json               {"layout": 1}
    boards/SHA256/file        the board file, as it came
    boards/SHA256/about.json  its name and counts
    boards/SHA256/notes.toml  a person's corrections
    traces/ID/                boards that are traced on the page; see `traces`
    cache/                    derived data by program version; may be deleted at any time
    incoming/                 uploads under way; never shown
    backups/                  the folder as it was before it was brought to a newer layout
"""

from __future__ import annotations

import json
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from netgraph.errors import DataFolderError
from netgraph.service.locks import locked

LAYOUT: Final = 1
"""The layout that this program writes."""

Step = Callable[[Path], None]
STEPS: Mapping[int, Step] = {}
"""From layout N to N + 1, by N; each changes the folder in place. Layout 1 is the first."""

_OURS: Final = {"layout.json", "lock", "boards", "traces", "cache", "incoming", "backups", "run"}


@dataclass(frozen=True)
class DataFolder:
    """A data folder of the current layout."""

    root: Path

    @property
    def boards(self) -> Path:
        """One folder a board, by hash."""
        return self.root / "boards"

    @property
    def traces(self) -> Path:
        """One folder for each board that is traced on the page; older programs don't look there."""
        return self.root / "traces"

    @property
    def cache(self) -> Path:
        """What can be made again."""
        return self.root / "cache"

    @property
    def incoming(self) -> Path:
        """Uploads under way."""
        return self.root / "incoming"

    @property
    def lock(self) -> Path:
        """The file whose lock is held while something is changed."""
        return self.root / "lock"


def default_data_folder() -> Path:
    """The user's own: NETGRAPH_DATA, else where the platform keeps such data."""
    named = os.environ.get("NETGRAPH_DATA")
    if named:
        return Path(named)
    home = Path.home()
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = home / "Library" / "Application Support"
    else:
        base = Path(os.environ.get("XDG_DATA_HOME") or home / ".local" / "share")
    return base / "board-netgraph"


def open_data_folder(
    root: Path, *, layout: int = LAYOUT, steps: Mapping[int, Step] = STEPS
) -> DataFolder:
    """The folder, made when it is missing, brought to `layout` when it is older.

    Before anything is changed in an older one, the whole is copied to ``backups/layout-N``.

    Raises
    ------
    DataFolderError
        It is of a newer layout, holds other things, or can't be written.
    """
    try:
        root.mkdir(parents=True, exist_ok=True, mode=0o700)
        found = layout_of(root)
        if found is not None and found > layout:
            # Before the lock: a newer folder is left exactly as it is.
            raise _newer(root, found, layout)
        with locked(root / "lock"):
            found = layout_of(root)
            if found is None:
                _begin(root, layout)
            elif found > layout:
                raise _newer(root, found, layout)
            elif found < layout:
                _bring_up(root, found, layout, steps)
            for name in ("boards", "cache", "incoming"):
                (root / name).mkdir(exist_ok=True, mode=0o700)
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise DataFolderError(f"the data folder {root} can't be used: {why}") from None
    return DataFolder(root)


def _newer(root: Path, found: int, layout: int) -> DataFolderError:
    return DataFolderError(
        f"the data folder {root} is of layout {found}, this program knows up to {layout}",
        hint="use the newer program, or another folder with --data",
    )


def layout_of(root: Path) -> int | None:
    """The folder's layout version; None when it has none yet.

    Raises
    ------
    DataFolderError
        layout.json is there but says nothing usable.
    """
    place = root / "layout.json"
    if not place.exists():
        return None
    try:
        found = json.loads(place.read_text(encoding="utf-8"))["layout"]
    except (ValueError, KeyError, TypeError):
        found = None
    if not isinstance(found, int) or isinstance(found, bool) or found < 1:
        raise DataFolderError(
            f"{place} is damaged", hint='it should be {"layout": 1}; or use another folder: --data'
        )
    return found


def _begin(root: Path, layout: int) -> None:
    others = sorted(one.name for one in root.iterdir() if one.name not in _OURS)
    if others:
        raise DataFolderError(
            f"the folder {root} holds other things ({others[0]} ...)",
            hint="name an empty folder or a new one with --data",
        )
    write_whole(root / "layout.json", json.dumps({"layout": layout}).encode() + b"\n")


def _bring_up(root: Path, found: int, layout: int, steps: Mapping[int, Step]) -> None:
    missing = [number for number in range(found, layout) if number not in steps]
    if missing:
        raise DataFolderError(f"no way is known from layout {missing[0]} to {missing[0] + 1}")
    backup = root / "backups" / f"layout-{found}"
    if not backup.exists():
        aside = root / "backups" / f".making-layout-{found}"
        shutil.rmtree(aside, ignore_errors=True)
        aside.mkdir(parents=True)
        for name in ("layout.json", "boards", "traces"):
            source = root / name
            if source.is_dir():
                shutil.copytree(source, aside / name)
            elif source.exists():
                shutil.copy2(source, aside / name)
        aside.rename(backup)
    for number in range(found, layout):
        steps[number](root)
        write_whole(root / "layout.json", json.dumps({"layout": number + 1}).encode() + b"\n")


def write_whole(place: Path, data: bytes) -> None:
    """Write a file whole or not at all, safely on the disk before it takes the name."""
    handle, name = tempfile.mkstemp(dir=place.parent, prefix=f".{place.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(name).replace(place)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    sync_folder(place.parent)


def sync_folder(folder: Path) -> None:
    """Make a new name in a folder last through a power cut, where the system can."""
    if os.name != "nt":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
