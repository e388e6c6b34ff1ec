# SPDX-License-Identifier: GPL-3.0-or-later
"""Write a board as a table: one row a pad, and one for each part without pads."""

from __future__ import annotations

import csv
import io

from netgraph.model.board import Board

COLUMNS = (
    "ref", "pin", "net", "x_mm", "y_mm", "angle_deg", "side", "copper_side", "value", "footprint",
    "pin_name", "pin_type", "dnp",
)  # fmt: skip


def write_csv_table(board: Board) -> str:
    """The netlist as CSV, y running down; millimetres with six decimals, which is exact.

    Kept: for each pad its net, place, angle, side, copper side, pin name and type; for each part
    value, footprint and whether it is fitted. A repeated reference is written with its identity.
    Names stand exactly as they are, also those that begin like a formula.
    """
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(COLUMNS)
    placed = "has_positions" in board.capabilities
    for part in board.parts:
        about = (part.value, part.footprint)
        off = "" if part.fitted else "dnp"
        pads = board.pad_range(part)
        side = board.side_of(part.id) or ""
        if not pads:
            rows.writerow((part.id, "", "", "", "", "", side, "", *about, "", "", off))
        for index in pads:
            pad = board.pad(index)
            place = (_mm(pad.x_nm), _mm(pad.y_nm), repr(pad.angle_deg)) if placed else ("", "", "")
            rows.writerow(
                (
                    part.id, pad.pin, pad.net or "", *place,
                    *((side, pad.copper_side) if side else ("", "")),
                    *about,
                    pad.pin_name, pad.pin_type, off,
                )
            )  # fmt: skip
    return out.getvalue()


def _mm(nanometres: int) -> str:
    sign, size = "-" if nanometres < 0 else "", abs(nanometres)
    return f"{sign}{size // 1_000_000}.{size % 1_000_000:06d}"
