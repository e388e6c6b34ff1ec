#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Fit the table behind the certainty of feeders on the labelled boards, and write it.

    .venv/bin/python tools/fit_confidence.py [--boards FOLDER] [--check]

The same boards and rules give the same file. The certainty of what feeds a rail goes into the
facts of that rail, so the fit is repeated until the table stands still.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from benchmarks import calibration  # noqa: E402
from netgraph.rails import certainty  # noqa: E402

TABLE = ROOT / "netgraph" / "rails" / "tables" / "certainty.csv"
ROUNDS = 12


def main() -> int:
    """Write the table, or with --check say whether the stored one is what the boards give."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    named = os.environ.get("NETGRAPH_BOARDS", str(ROOT.parent / "shared" / "boards"))
    options.add_argument("--boards", type=Path, default=Path(named))
    options.add_argument("--check", action="store_true", help="change nothing, compare")
    said = options.parse_args()
    before = TABLE.read_text(encoding="utf-8")
    boards = list(calibration.labelled(said.boards))
    text = before
    for _ in range(ROUNDS):
        rows = [row for name, board, key in boards for row in calibration.rows_of(name, board, key)]
        new = calibration.table_text(calibration.fit(rows))
        if new == text:
            break
        text = new
        if said.check:
            break
        TABLE.write_text(text, encoding="utf-8")
        certainty.weights.cache_clear()
    if said.check and text != before:
        print("the stored table is not what the boards give: run tools/fit_confidence.py")
        return 1
    print(f"{TABLE.name}: {'unchanged' if text == before else 'written'}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
