# SPDX-License-Identifier: GPL-3.0-or-later
"""Is a data folder sound? Reads all of it again and changes nothing."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field
from pathlib import Path

from netgraph.errors import DataFolderError, NetgraphError
from netgraph.formats.isolated import limits_hold
from netgraph.roles.notes import parse_notes
from netgraph.service.data_folder import LAYOUT, layout_of
from netgraph.service.store import StoredBoard
from netgraph.service.traces import read_traced


@dataclass
class FolderHealth:
    """What was found; `findings` are codes with a sentence."""

    folder: str
    layout: int | None = None
    boards: int = 0
    notes: int = 0
    cache_bytes: int = 0
    findings: list[dict[str, str]] = field(default_factory=list)

    @property
    def sound(self) -> bool:
        """Whether nothing is wrong."""
        return not self.findings

    def add(self, code: str, text: str) -> None:
        """One more finding."""
        self.findings.append({"code": code, "text": text})

    def as_json(self) -> dict[str, object]:
        """The fields of ``netgraph.doctor/1``."""
        return {
            "schema": "netgraph.doctor/1",
            "folder": self.folder,
            "layout": self.layout,
            "layout_of_program": LAYOUT,
            "boards": self.boards,
            "notes": self.notes,
            "cache_bytes": self.cache_bytes,
            "limits_hold": limits_hold(),
            "sound": self.sound,
            "findings": self.findings,
        }


def check_folder(root: Path) -> FolderHealth:
    """Look at everything in a data folder; one that does not exist is sound."""
    found = FolderHealth(str(root))
    try:
        found.layout = layout_of(root) if root.exists() else None
        _check(root, found)
    except DataFolderError as error:
        found.add("layout", error.message)
    except OSError as error:
        found.add("unreadable", (error.strerror or str(error)).lower())
    return found


def _check(root: Path, found: FolderHealth) -> None:
    if found.layout is None:
        if root.exists() and any(root.iterdir()):
            found.add("layout", "the folder holds things but no layout.json")
        return
    if found.layout != LAYOUT:
        found.add("layout", f"layout {found.layout}; this program works with {LAYOUT}")
    boards = root / "boards"
    for home in sorted(boards.iterdir()) if boards.is_dir() else ():
        _check_board(home, found)
    traces = root / "traces"
    for home in sorted(traces.iterdir()) if traces.is_dir() else ():
        _check_trace(home, found)
    incoming = root / "incoming"
    left = len(list(incoming.iterdir())) if incoming.is_dir() else 0
    if left:
        found.add("incoming", f"{left} uploads under way or cut off; the next start tidies up")
    cache = root / "cache"
    found.cache_bytes = sum(one.stat().st_size for one in cache.rglob("*") if one.is_file())


def _check_board(home: Path, found: FolderHealth) -> None:
    found.boards += 1
    short = home.name[:12]
    try:
        StoredBoard(**json.loads((home / "about.json").read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        found.add("entry", f"board {short}: its entry about.json can't be read")
    try:
        if hashlib.sha256((home / "file").read_bytes()).hexdigest() != home.name:
            found.add("hash", f"board {short}: its file is not what was stored")
    except OSError:
        found.add("file", f"board {short}: its file can't be read")
    _check_notes(home, found)


def _check_trace(home: Path, found: FolderHealth) -> None:
    found.boards += 1
    short = home.name[:12]
    _check_notes(home, found)
    try:
        StoredBoard(**json.loads((home / "about.json").read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        found.add("entry", f"board {short}: its entry about.json can't be read")
    try:
        read_traced(home / "trace.json")
    except NetgraphError:
        found.add("file", f"board {short}: its file can't be read")
    for place in sorted(home.glob("*.picture")):
        if hashlib.sha256(place.read_bytes()).hexdigest() != place.stem:
            found.add("hash", f"board {short}: a picture is not what was stored")


def _check_notes(home: Path, found: FolderHealth) -> None:
    short = home.name[:12]
    notes = home / "notes.toml"
    if notes.exists():
        found.notes += 1
        try:
            parse_notes(notes.read_text(encoding="utf-8"))
        except (NetgraphError, OSError, ValueError):
            found.add("notes", f"board {short}: its notes can't be read")
