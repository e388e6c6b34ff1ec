# SPDX-License-Identifier: GPL-3.0-or-later
"""Rows of signals that run side by side between the same parts: a bus by its shape."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import replace

from netgraph.reasons import reason
from netgraph.roles.answer import NetRole
from netgraph.roles.net_words import is_generated
from netgraph.roles.wiring import Wiring

LEAST_LINES = 4
_SHARE = 0.75


def mark_buses(wiring: Wiring, nets: dict[str, NetRole]) -> dict[str, NetRole]:
    """Plain signals whose names differ in a number only, and that join the same many-pinned parts.

    A row needs four lines, three quarters of which end on the same two parts (chips, connectors).
    """
    rows: dict[str, list[int]] = defaultdict(list)
    for net in wiring.board.nets:
        if not is_generated(net.name) and any(char.isdigit() for char in net.name):
            rows[re.sub(r"\d+", "#", net.name)].append(net.index)
    found = dict(nets)
    for row in rows.values():
        if len(row) < LEAST_LINES:
            continue
        ends: dict[int, int] = defaultdict(int)
        for line in row:
            for part in wiring.parts[line]:
                if len(wiring.nets[part]) >= LEAST_LINES + 2:
                    ends[part] += 1
        shared = [part for part, count in ends.items() if count >= _SHARE * len(row)]
        if len(shared) < 2:
            continue
        for line in row:
            name = wiring.board.nets[line].name
            if found[name].kind == "signal" and found[name].source != "user":
                why = reason("bus-row", count=len(row), ref=wiring.board.parts[shared[0]].id)
                found[name] = replace(found[name], kind="bus", confidence=0.8, reasons=(why,))
    return found
