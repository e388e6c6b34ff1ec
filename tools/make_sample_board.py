#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Write the sample board ``sample_boards/lark/lark.kicad_pcb``; same bytes on every run.

Needs kiutils, numpy and, for the filled areas, shapely (a development dependency).
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tools"))

from sample_board.circuit_audio_radio import draw_all  # noqa: E402
from sample_board.placement import place  # noqa: E402
from sample_board.routing import POWER, Routed, route  # noqa: E402
from sample_board.writer import board_text, net_numbers  # noqa: E402
from sample_board.zones import fill_zones  # noqa: E402

BOARD_FILE = ROOT / "sample_boards" / "lark" / "lark.kicad_pcb"


def make_board() -> tuple[str, Routed]:
    """Return the text of the board file and the result of the routing.

    A supply or ground net that is not whole is an error: the copper model needs them.
    """
    circuit = draw_all()
    placed = place(circuit)
    pads = [pad for seat in placed.values() for pad in seat.pads()]
    numbers = net_numbers(circuit.net_names(), placed)
    routed = route(pads, numbers)
    broken = sorted((POWER | {"GND"}) & set(routed.open_nets()))
    if broken:
        raise RuntimeError(f"supply nets not whole: {', '.join(broken)}")
    fills = fill_zones(pads, routed.copper, numbers)
    return board_text(placed, numbers, routed.copper, fills), routed


def main() -> int:
    """Write the board; with ``--check`` only compare it with the file that is there."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=BOARD_FILE, help="file to write")
    parser.add_argument("--check", action="store_true", help="compare, write nothing")
    options = parser.parse_args()
    text, routed = make_board()
    if options.check:
        same = options.out.read_bytes() == text.encode("utf-8")
        print("same" if same else "different")
        return 0 if same else 1
    options.out.parent.mkdir(parents=True, exist_ok=True)
    options.out.write_bytes(text.encode("utf-8"))
    done = len(routed.groups) - len(routed.open_nets())
    print(f"{done} of {len(routed.groups)} nets routed in full")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
