# SPDX-License-Identifier: GPL-3.0-or-later
"""Which parts and nets does somebody mean who has typed a few letters?"""

from __future__ import annotations

from netgraph.model.board import Board
from netgraph.roles.answer import Roles

Json = dict[str, object]


def find_names(board: Board, roles: Roles, typed: str, limit: int) -> Json:
    """The fields of ``netgraph.search/1``: equal names first, then by beginning, then inside.

    Case and blanks do not count; a part is also found by its value, a net by its other names.
    """
    wanted = _plain(typed)
    hits: list[tuple[tuple[int, int, int], Json]] = []
    for part in board.parts:
        rank = _rank(wanted, part.id, part.value)
        if rank is not None:
            about = " ".join(one for one in (roles.parts[part.id].role, part.value) if one)
            row: Json = {"kind": "part", "name": part.id, "about": about}
            hits.append(((rank, len(part.id), part.index), row))
    for net in board.nets:
        rank = _rank(wanted, net.name, net.name.rpartition("/")[2])
        if rank is not None:
            row = {"kind": "net", "name": net.name, "about": roles.nets[net.name].kind}
            hits.append(((rank, len(net.name), net.index), row))
    shown = {row["name"] for _, row in hits if row["kind"] == "net"}
    for other, name in board.aliases.items():
        rank = _rank(wanted, other, other.rpartition("/")[2])
        if rank is not None and name not in shown:
            shown.add(name)
            row = {"kind": "net", "name": name, "about": f"also called {other}"}
            hits.append(((rank, len(other), board.net(name).index), row))
    hits.sort(key=lambda pair: pair[0])
    return {"total": len(hits), "found": [row for _, row in hits[:limit]]}


def _plain(text: str) -> str:
    return "".join(text.casefold().split())


def _rank(wanted: str, name: str, also: str) -> int | None:
    name, also = _plain(name), _plain(also)
    if wanted in (name, also):
        return 0
    if name.startswith(wanted):
        return 1
    if also.startswith(wanted):
        return 2
    return 3 if wanted in name else None
