# SPDX-License-Identifier: GPL-3.0-or-later
"""How fast boards are read, as ratios against other readers in one run; see README.md.

python -m benchmarks.read_boards [--boards FOLDER] [--json] [--repeat N] [--only WORDS]
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import asdict, dataclass
from math import cos, radians, sin
from pathlib import Path
from time import process_time
from typing import Any

from benchmarks.big_board import write_big_board
from netgraph.formats import read_board

ROOT = Path(__file__).resolve().parents[1]
KICAD = "/usr/bin/python3"
KIUTILS_BOARDS = ("pico_ice_r2", "glasgow_c3")
KICAD_BOARDS = (
    "pico_ice_r2",
    "pocketbeagle",
    "scalenode",
    "orangecrab_r021",
    "hackrf_marzipan",
    "teres_main_c",
)

PadSeen = tuple[str, str, int, int]  # reference, net, x and y in nanometres


@dataclass(frozen=True)
class Line:
    """One row of the table; `wanted` says what the figure should reach."""

    name: str
    ours_s: float | None
    other_s: float | None
    figure: str
    wanted: str
    fine: bool | None


# -- what is timed -------------------------------------------------------------------------------


def ours(path: Path) -> list[PadSeen]:
    """Read, then touch net and position of every pad."""
    board = read_board(path)
    c = board.columns
    refs = [part.ref for part in board.parts]
    nets = [*(net.name for net in board.nets), ""]
    return [
        (refs[part], nets[net], x, y)
        for part, net, x, y in zip(
            c.part.tolist(), c.net.tolist(), c.x_nm.tolist(), c.y_nm.tolist(), strict=True
        )
    ]


def ours_with_copper(path: Path) -> int:
    """Read with all tracks, vias and fills; how many pieces there are."""
    board = read_board(path)
    copper = board.copper
    fills = sum(len(fill.points) for zone in copper.zones for fill in zone.fills)
    return len(copper.tracks) + len(copper.arcs) + len(copper.vias) + fills + len(board.columns)


def kiutils_file(path: Path) -> Any:
    """What kiutils makes of the file; it always reads everything."""
    from kiutils.board import Board

    return Board.from_file(str(path), encoding="utf-8")


def kiutils_raw(path: Path) -> list[PadSeen]:
    """Read and touch every pad, positions as they stand: in the footprint's own frame."""
    return [
        ("", pad.net.name if pad.net else "", pad.position.X, pad.position.Y)
        for footprint in kiutils_file(path).footprints
        for pad in footprint.pads
    ]


def kiutils_absolute(path: Path) -> list[PadSeen]:
    """Read and give what ``ours`` gives: positions on the board."""
    return absolute(kiutils_file(path))


def absolute(board: Any) -> list[PadSeen]:
    """Pads of a kiutils board with their positions on the board."""
    found = []
    for footprint in board.footprints:
        at = footprint.position
        turned = radians(at.angle or 0.0)
        c, s = cos(turned), sin(turned)
        ref = footprint.properties.get("Reference") or next(
            (one.text for one in footprint.graphicItems if getattr(one, "type", "") == "reference"),
            "",
        )
        for pad in footprint.pads:
            px, py = pad.position.X, pad.position.Y
            found.append(
                (
                    str(ref),
                    pad.net.name if pad.net else "",
                    round((at.X + px * c + py * s) * 1e6),
                    round((at.Y - px * s + py * c) * 1e6),
                )
            )
    return found


KICAD_CHILD = """
import json, sys, time
import pcbnew
path, repeat = sys.argv[1], int(sys.argv[2])
def once():
    board = pcbnew.LoadBoard(path)
    pads = []
    for footprint in board.GetFootprints():
        ref = footprint.GetReference()
        for pad in footprint.Pads():
            at = pad.GetPosition()
            pads.append((ref, pad.GetNetname(), at.x, at.y))
    return pads
once()
times = []
for _ in range(repeat):
    start = time.process_time()
    pads = once()
    times.append(time.process_time() - start)
print("\\n" + json.dumps([times, pads]))
"""


def by_kicad(path: Path, repeat: int) -> tuple[list[float], list[PadSeen]] | None:
    """Processor times of KiCad's own module and the pads it sees; None where it is missing."""
    try:
        done = subprocess.run(
            [KICAD, "-c", KICAD_CHILD, str(path), str(repeat)],
            capture_output=True,
            text=True,
            check=False,
        )
    except OSError:
        return None
    if done.returncode:
        return None
    times, pads = json.loads(done.stdout.strip().splitlines()[-1])
    return times, [tuple(pad) for pad in pads]


# -- measuring -----------------------------------------------------------------------------------


def alternating(repeat: int, *jobs: Callable[[], object]) -> list[float]:
    """Median processor time of each job, in turns, so that other load meets all alike."""
    times: list[list[float]] = [[] for _ in jobs]
    for job in jobs:
        job()
    for _ in range(repeat):
        for index, job in enumerate(jobs):
            start = process_time()
            job()
            times[index].append(process_time() - start)
    return [statistics.median(one) for one in times]


def assert_same_pads(one: list[PadSeen], two: list[PadSeen]) -> None:
    """Equal references, nets (overbars in one form) and places within 2 micrometres."""

    def ordered(pads: list[PadSeen]) -> list[PadSeen]:
        plain = str.maketrans("", "", "~{}")
        return sorted((ref, net.translate(plain), x, y) for ref, net, x, y in pads)

    assert len(one) == len(two), (len(one), len(two))
    for left, right in zip(ordered(one), ordered(two), strict=True):
        assert left[:2] == right[:2], (left, right)
        assert max(abs(left[2] - right[2]), abs(left[3] - right[3])) <= 2000, (left, right)


def against_kiutils(boards: Path, repeat: int) -> list[Line]:
    """Netlist and positions; and everything, copper too."""
    lines = []
    for name in KIUTILS_BOARDS:
        path = boards / name / "board.kicad_pcb"
        assert_same_pads(ours(path), kiutils_absolute(path))
        mine, everything, raw, same = alternating(
            repeat,
            lambda path=path: ours(path),  # type: ignore[misc]
            lambda path=path: ours_with_copper(path),  # type: ignore[misc]
            lambda path=path: kiutils_raw(path),  # type: ignore[misc]
            lambda path=path: kiutils_absolute(path),  # type: ignore[misc]
        )
        lines += [
            ratio(f"{name}: parts, pads, nets / kiutils, positions too", mine, same, 15.0),
            ratio(f"{name}: parts, pads, nets / kiutils, local positions", mine, raw, 15.0),
            ratio(f"{name}: with all copper / kiutils", everything, same, 5.0),
        ]
    return lines


def against_kicad(boards: Path, repeat: int) -> list[Line]:
    """The boards that KiCad 6's own loader reads."""
    lines = []
    for name in KICAD_BOARDS:
        path = boards / name / "board.kicad_pcb"
        before = alternating(repeat, lambda path=path: ours(path))[0]  # type: ignore[misc]
        other = by_kicad(path, max(3, repeat // 2))
        after = alternating(repeat, lambda path=path: ours(path))[0]  # type: ignore[misc]
        if other is None:
            lines.append(Line(f"{name}: KiCad's module", None, None, "not installed", "", None))
            continue
        times, pads = other
        assert_same_pads(ours(path), pads)
        lines.append(
            ratio(f"{name}: / KiCad LoadBoard", (before + after) / 2, statistics.median(times), 3.0)
        )
    return lines


def ratio(name: str, mine: float, other: float, wanted: float) -> Line:
    """A row that says how many times faster we are."""
    found = other / mine
    return Line(name, mine, other, f"{found:.1f} x", f">= {wanted:g} x", found >= wanted)


def rails_command(boards: Path, repeat: int) -> list[Line]:
    """``netgraph rails`` from start to exit, processor time of the whole process."""
    path = boards / "teres_main_c" / "board.kicad_pcb"
    command = [sys.executable, "-m", "netgraph", "rails", str(path)]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    times = []
    for _ in range(max(3, repeat // 2)):
        start = os.times()
        done = subprocess.run(command, capture_output=True, text=True, env=environment, check=False)
        end = os.times()
        if done.returncode or not done.stdout:
            return [Line("netgraph rails, teres_main_c", None, None, "no such command", "", None)]
        times.append(
            end.children_user - start.children_user + end.children_system - start.children_system
        )
    found = statistics.median(times)
    return [
        Line("netgraph rails, teres_main_c", found, None, f"{found:.2f} s", "<= 1 s", found <= 1.0)
    ]


BIG_CHILD = """
import resource, sys, time
from netgraph.formats import read_board
start = time.process_time()
board = read_board(sys.argv[1])
c = board.columns
touched = int(c.net.sum()) + int(c.x_nm.sum()) + int(c.y_nm.sum())
took = time.process_time() - start
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
print(len(c), took, peak)
"""


def big_boards(repeat: int, sizes: tuple[int, ...]) -> list[Line]:
    """Generated files of growing size: time for each pad, and the peak of memory."""
    lines = []
    per_pad = 0.0
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    for pads in sizes:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "big.kicad_pcb"
            size = write_big_board(path, pads)
            runs = []
            for _ in range(3 if pads > 50_000 else repeat):
                done = subprocess.run(
                    [sys.executable, "-c", BIG_CHILD, str(path)],
                    capture_output=True,
                    text=True,
                    check=True,
                    env=environment,
                )
                count, took, peak = done.stdout.split()
                assert int(count) == pads
                runs.append((float(took), float(peak)))
        took_s = statistics.median(run[0] for run in runs)
        peak_b = max(run[1] for run in runs)
        name = f"{pads} pads, {size / 1e6:.1f} MB, {size / pads:.0f} B a pad"
        growth = took_s / pads / per_pad if per_pad else None
        per_pad = took_s / pads
        lines.append(
            Line(
                f"{name}: time",
                took_s,
                None,
                f"{per_pad * 1e6:.1f} us a pad",
                "not more a pad than 1.3 times the size before",
                None if growth is None else growth <= 1.3,
            )
        )
        room = 2.5 * size + 150e6
        lines.append(
            Line(
                f"{name}: peak memory",
                None,
                None,
                f"{peak_b / 1e6:.0f} MB",
                f"<= {room / 1e6:.0f} MB",
                peak_b <= room,
            )
        )
    return lines


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    default = os.environ.get("NETGRAPH_BOARDS") or str(ROOT.parent / "shared" / "boards")
    parser.add_argument("--boards", type=Path, default=Path(default))
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--repeat", type=int, default=7)
    parser.add_argument("--only", default="kiutils kicad rails big")
    parser.add_argument("--sizes", default="1500 15000 150000")
    args = parser.parse_args()
    lines: list[Line] = []
    only = args.only.split()
    if args.boards.is_dir():
        lines += against_kiutils(args.boards, args.repeat) if "kiutils" in only else []
        lines += against_kicad(args.boards, args.repeat) if "kicad" in only else []
        lines += rails_command(args.boards, args.repeat) if "rails" in only else []
    else:
        print("no real boards here; --boards says where they lie", file=sys.stderr)
    if "big" in only:
        lines += big_boards(args.repeat, tuple(int(size) for size in args.sizes.split()))
    if args.json:
        print(json.dumps([asdict(line) for line in lines], indent=1))
        return
    for line in lines:
        mark = {True: "ok", False: "MISSED", None: ""}[line.fine]
        mine = "" if line.ours_s is None else f"{line.ours_s * 1e3:9.1f} ms"
        other = "" if line.other_s is None else f"{line.other_s * 1e3:9.1f} ms"
        print(f"{line.name:58} {mine:>12} {other:>12} {line.figure:>14}  {line.wanted} {mark}")


if __name__ == "__main__":
    main()
