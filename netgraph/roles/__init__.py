# SPDX-License-Identifier: GPL-3.0-or-later
"""What each part and net is for, with confidence and reasons; a person's notes win.

Knows no readings.
"""

from netgraph.roles.answer import NET_KINDS, ROLES, NetRole, PartRole, Roles
from netgraph.roles.find import find_roles
from netgraph.roles.notes import NO_NOTES, BoardNotes

__all__ = [
    "NET_KINDS",
    "NO_NOTES",
    "ROLES",
    "BoardNotes",
    "NetRole",
    "PartRole",
    "Roles",
    "find_roles",
]
