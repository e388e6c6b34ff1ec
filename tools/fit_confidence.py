#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Fit the tables behind the certainty of roles and feeders on the labelled boards.

    .venv/bin/python tools/fit_confidence.py [--boards FOLDER] [--check]

The same boards and rules give the same files. The certainty of what feeds a rail goes into the
facts of that rail, so that fit is repeated until its table stands still.
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
from netgraph.roles.certainty import role_weights  # noqa: E402

FEEDERS = ROOT / "netgraph" / "rails" / "tables" / "certainty.csv"
ROLES = ROOT / "netgraph" / "roles" / "tables" / "role_certainty.csv"
ROUNDS = 12


def main() -> int:
    """Write the tables, or with --check say whether the stored ones are what the boards give."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    named = os.environ.get("NETGRAPH_BOARDS", str(ROOT.parent / "shared" / "boards"))
    options.add_argument("--boards", type=Path, default=Path(named))
    options.add_argument("--check", action="store_true", help="change nothing, compare")
    said = options.parse_args()
    before = {path: path.read_text(encoding="utf-8") for path in (ROLES, FEEDERS)}
    boards = list(calibration.labelled(said.boards))
    roles = [row for one in boards for row in calibration.role_rows_of(*one)]
    role_text = calibration.role_table_text(calibration.fit_roles(roles))
    if not said.check:
        ROLES.write_text(role_text, encoding="utf-8")
        role_weights.cache_clear()
    text = before[FEEDERS]
    for _ in range(ROUNDS):
        rows = [row for one in boards for row in calibration.rows_of(*one)]
        new = calibration.table_text(calibration.fit(rows))
        if new == text:
            break
        text = new
        if said.check:
            break
        FEEDERS.write_text(text, encoding="utf-8")
        certainty.weights.cache_clear()
    changed = [path for path, now in ((ROLES, role_text), (FEEDERS, text)) if before[path] != now]
    for path in (ROLES, FEEDERS):
        print(f"{path.name}: {'changed' if path in changed else 'as it was'}")
    return 1 if said.check and changed else 0


if __name__ == "__main__":
    raise SystemExit(main())
