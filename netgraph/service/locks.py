# SPDX-License-Identifier: GPL-3.0-or-later
"""One process at a time: a lock on a file, let go by the system when its holder dies."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """Hold the lock of this file; waits for whoever holds it."""
    handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        _take(handle, wait=True)
        yield
    finally:
        os.close(handle)  # which lets the lock go


@contextmanager
def folder_locked(folder: Path) -> Iterator[None]:
    """Hold the lock of a folder that is there already; nothing is put into it.

    Where a folder can't be locked (Windows, some network folders) nothing is held.
    """
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        yield
        return
    try:
        with suppress(OSError):
            _take(handle, wait=True)
        yield
    finally:
        os.close(handle)


def hold(path: Path) -> int | None:
    """Take the lock and keep it: the open handle, or None when another process has it."""
    handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        _take(handle, wait=False)
    except OSError:
        os.close(handle)
        return None
    return handle


def _take(handle: int, *, wait: bool) -> None:
    if os.name == "nt":
        import msvcrt

        mode = msvcrt.LK_LOCK if wait else msvcrt.LK_NBLCK  # type: ignore[attr-defined,unused-ignore]
        msvcrt.locking(handle, mode, 1)  # type: ignore[attr-defined,unused-ignore]
    else:
        import fcntl

        fcntl.flock(handle, fcntl.LOCK_EX if wait else fcntl.LOCK_EX | fcntl.LOCK_NB)
