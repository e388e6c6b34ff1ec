# SPDX-License-Identifier: GPL-3.0-or-later
"""How the time of lift tables, cuts, splits and ordered plans grows with the number of parts.

The largest real board is asked as it is, then in copies that share one ground: the rail asked about
stays as big as it was, all around it grows. Processor times; the exponent says how a time grows
with the number of parts (1: as the number does).

    python -m benchmarks.plan
    python -m benchmarks.plan --boards FOLDER --copies "1 4 22" --repeat 3
"""

from __future__ import annotations

import argparse
import math
import os
import time
from collections.abc import Callable, Mapping
from pathlib import Path

from benchmarks.answers import larger
from netgraph.advice.ordered_plan import ordered_plan
from netgraph.formats import read_board
from netgraph.model import Board
from netgraph.plan.inject import injection_plan
from netgraph.plan.isolation import isolate
from netgraph.plan.lift import lift_state, lift_table
from netgraph.plan.split import find_splits
from netgraph.rails import find_rails
from netgraph.roles import find_roles

BOARD = "teres_main_c"
RAIL = "+3V3"
BRANCH = "Net-(C193-Pad1)"


def seconds(work: Callable[[], object], repeat: int) -> float:
    """Median of the processor seconds of several runs."""
    times = []
    for _ in range(repeat):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return sorted(times)[len(times) // 2]


def questions(board: Board, net: str, branch: str) -> Mapping[str, Callable[[], object]]:
    """What is timed, each as one call; roles and rails are found before."""
    roles = find_roles(board)
    tree = find_rails(board, roles)
    state = lift_state(board, roles, tree, branch)
    return {
        "lift table of a rail": lambda: lift_table(board, roles, tree, net),
        "lift table, whole board": lambda: lift_table(board, roles, tree, net, whole_board=True),
        "cut with alternatives": lambda: isolate(state, branch),
        "splits of a rail": lambda: find_splits(state.wiring, net, None, frozenset()),
        "injection": lambda: injection_plan(board, roles, tree, net),
        "ordered plan": lambda: ordered_plan(board, roles, tree, net),
    }


def main() -> None:
    """Print one line a question: milliseconds for each size, and the exponent of the growth."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--boards", default=os.environ.get("NETGRAPH_BOARDS", "../shared/boards"))
    parser.add_argument("--copies", default="1 4 22")
    parser.add_argument("--repeat", type=int, default=3)
    chosen = parser.parse_args()
    board = read_board(next((Path(chosen.boards) / BOARD).glob("*.kicad_pcb")))
    counts = [int(one) for one in chosen.copies.split()]
    found: dict[str, list[float]] = {}
    sizes = []
    for copies in counts:
        big = larger(board, copies)
        sizes.append(len(big.parts))
        for name, work in questions(big, f"{RAIL}_0", f"{BRANCH}_0").items():
            found.setdefault(name, []).append(seconds(work, chosen.repeat))
    print(f"{'parts':26}" + "".join(f"{size:>11,}" for size in sizes) + "   exponent")
    for name, times in found.items():
        grown = math.log(times[-1] / times[0]) / math.log(sizes[-1] / sizes[0])
        print(f"{name:26}" + "".join(f"{one * 1e3:>8.1f} ms" for one in times) + f"{grown:>11.2f}")


if __name__ == "__main__":
    main()
