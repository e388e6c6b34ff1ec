# SPDX-License-Identifier: GPL-3.0-or-later
"""The answer of `resistance` as a plain dictionary."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from netgraph.copper.resistance import Resistance
    from netgraph.model import Board

Json = dict[str, object]


def resistance_fields(board: Board, found: Resistance) -> Json:
    """All fields but the head. Milliohms."""

    def name(pad: int) -> str:
        one = board.pad(pad)
        return f"{one.part_id}.{one.pin}"

    copper = found.copper
    return {
        "net": found.net,
        "a": None if found.a is None else name(found.a),
        "b": None if found.b is None else name(found.b),
        "known": copper is not None,
        "why": found.why.as_json(),
        "milliohms": _milli(found.ohms),
        "mesh_milliohms": _milli(found.mesh_ohms),
        "amps": found.amps,
        "pairs": [
            {"a": name(one.a), "b": name(one.b), "milliohms": _milli(one.ohms)}
            for one in found.pairs
        ],
        "islands": [[name(pad) for pad in one] for one in found.islands],
        "cells": 0 if copper is None else copper.cells,
        "cell_mm": None if copper is None or not copper.cells else copper.cell_nm / 1e6,
        "strips": 0 if copper is None else copper.strips,
        "narrowest_mm": None
        if copper is None or copper.narrowest_nm is None
        else copper.narrowest_nm / 1e6,
        "copper_um": [] if copper is None else [one / 1e3 for one in copper.sheets.copper_nm],
        "remarks": [one.as_json() for one in found.remarks],
    }


def _milli(ohms: float | None) -> float | None:
    return None if ohms is None else float(f"{1e3 * ohms:.6g}")
