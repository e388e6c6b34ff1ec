# SPDX-License-Identifier: GPL-3.0-or-later
"""Take rights away from this very process; for the reading child, before it sees its file.

Imports nothing heavy: the limits must hold before numpy is loaded.
"""

from __future__ import annotations

import contextlib
from collections.abc import Mapping

_NEW_USER, _NEW_NET = 0x10000000, 0x40000000
"""Flags of unshare(2), from the Linux headers: a user and a network of one's own."""


def confine(told: Mapping[str, int]) -> None:
    """Limit memory (bytes), processor time (seconds) and open files; no file writes, no network.

    Where the system lacks a limit the others still hold.
    """
    try:
        import resource
    except ImportError:  # Windows
        return
    for name, value in (
        ("RLIMIT_AS", told["memory"]),
        ("RLIMIT_CPU", told["seconds"]),
        ("RLIMIT_NOFILE", told["files"]),
        ("RLIMIT_FSIZE", 0),
        ("RLIMIT_CORE", 0),
    ):
        with contextlib.suppress(AttributeError, ValueError, OSError):
            resource.setrlimit(getattr(resource, name), (value, value))
    _leave_the_network()


def _leave_the_network() -> None:
    """An empty network of our own, where the kernel lets everybody have one."""
    with contextlib.suppress(OSError, AttributeError, ImportError):
        import ctypes

        ctypes.CDLL(None).unshare(_NEW_USER | _NEW_NET)
