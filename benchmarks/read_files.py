# SPDX-License-Identifier: GPL-3.0-or-later
"""How fast netlists and test lists are read, beside a plain read of the same file in one run.

python -m benchmarks.read_files [--boards FOLDER] [--repeat N]
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from time import process_time

from netgraph.formats import read_board

ROOT = Path(__file__).resolve().parents[1]
NETLISTS = (
    "hackrf_marzipan/board.net",
    "samples/LCD-DRIVER_Rev_C.net",
    "samples/pico-ice-rev3.xml",
)
LISTS = (
    "samples/MinnowMax_RevA1_IPC356A.ipc",
    "teres_main_c/board.kicad6.d356",
    "hackrf_marzipan/board.kicad6.d356",
    "orangecrab_r021/board.kicad6.d356",
    "scalenode/board.kicad6.d356",
    "pico_ice_r2/board.d356",
)
WANTED = {"netlist": 5.0, "list": 20.0}
"""MB/s that the design asks for."""


def median_s(do: Callable[[], object], repeat: int) -> float:
    """Median processor time of some runs, after one that is not counted."""
    do()
    times = []
    for _ in range(repeat):
        begin = process_time()
        do()
        times.append(process_time() - begin)
    return statistics.median(times)


def big_list(path: Path, folder: Path, copies: int) -> Path:
    """Ten boards in one list: every copy with designators and nets of its own."""
    lines = path.read_text("latin-1").splitlines()
    head = [line for line in lines if line[:1] in "CP"]
    body = [line for line in lines if line[:3] in ("317", "327")]
    out = [*head]
    for copy in range(copies):
        for line in body:
            ref = line[20:26]
            named = ref if ref.strip() == "VIA" else f"{ref.strip()[:5]}{chr(65 + copy)}".ljust(6)
            out.append(f"{line[:3]}{line[3:16]}{chr(65 + copy)}{line[17:20]}{named}{line[26:]}")
    big = folder / "big.d356"
    big.write_text("\n".join([*out, "999", ""]), "latin-1")
    return big


def row(kind: str, name: str, path: Path, repeat: int) -> str:
    """One row of the table."""
    size = path.stat().st_size / 1e6
    read = median_s(lambda: read_board(path), repeat)
    plain = median_s(path.read_bytes, repeat)
    rate = size / read
    fine = "yes" if rate >= WANTED[kind] else "no"
    return (
        f"{name:<40} {size:7.3f} {read * 1e3:9.2f} {plain * 1e3:9.3f} {rate:8.1f} "
        f"{WANTED[kind]:6.0f} {fine}\n"
    )


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--boards", type=Path, default=ROOT.parent / "shared" / "boards")
    parser.add_argument("--repeat", type=int, default=15)
    options = parser.parse_args()
    sys.stdout.write(
        f"{'file':<40} {'MB':>7} {'read ms':>9} {'plain ms':>9} {'MB/s':>8} {'wanted':>6} fine\n"
    )
    for name in NETLISTS:
        sys.stdout.write(row("netlist", name, options.boards / name, options.repeat))
    for name in LISTS:
        sys.stdout.write(row("list", name, options.boards / name, options.repeat))
    with tempfile.TemporaryDirectory() as folder:
        for name in LISTS[:2]:
            path = big_list(options.boards / name, Path(folder), 10)
            sys.stdout.write(row("list", f"{name.partition('/')[0]}, ten times", path, 5))
    return 0


if __name__ == "__main__":
    sys.exit(main())
