# SPDX-License-Identifier: GPL-3.0-or-later
"""How often roles, rails and feeders are right on the labelled boards, as told and retold.

python -m benchmarks.answers [--boards FOLDER]

Each board is asked as its file tells it, then with the parts shuffled, designators renumbered,
values in another notation, pin names removed and net names blanked. The keys are tests/keys; the
rules were written with these boards in view, so the figures bound what to expect elsewhere.
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from time import process_time
from typing import Any

from benchmarks import calibration
from benchmarks.tellings import renamed, tellings
from netgraph.formats import read_board
from netgraph.model import Board, BoardBuilder
from netgraph.rails import find_rails
from netgraph.roles import find_roles
from tests.oracle import keys
from tests.oracle.keys import Score

ROOT = Path(__file__).resolve().parents[1]


def scores(board: Board, key: dict[str, Any]) -> dict[str, Score]:
    """All scores of one board; `sure feeders` counts those of confidence from 0.6 on."""
    roles = find_roles(board)
    tree = find_rails(board, roles)
    other, passive = keys.score_roles(roles, key)
    found, extra = keys.score_rails(tree, key)
    feeders, sure = keys.score_feeders(tree, key)
    ground = Score()
    for net, said in key["nets"].items():
        if said["kind"] in ("rail", "reference", "high-voltage", "switch-node"):
            ground.add(roles.kind(net) != "ground", net)
    return {
        "roles": other,
        "R, C, L": passive,
        "rails found": found,
        "rails not extra": extra,
        "feeders": feeders,
        "sure feeders": sure,
        "not a ground": ground,
        "volts": keys.score_volts(tree, key),
    }


def larger(board: Board, copies: int) -> Board:
    """Copies of a board on one ground, for the growth of the time."""
    builder = BoardBuilder("copies")
    for copy in range(copies):
        for part in board.parts:
            new = builder.add_part(
                f"{part.ref}_{copy}", value=part.value, footprint=part.footprint, fields=part.fields
            )
            for i in board.pad_range(part):
                pad = board.pad(i)
                net = pad.net if pad.net in (None, "GND") else f"{pad.net}_{copy}"
                builder.add_pad(new, pad.pin, net, pin_name=pad.pin_name, pin_type=pad.pin_type)
    return builder.freeze()


def print_certainty(folder: Path) -> None:
    """How often answers are right by their certainty, each board left out of its own tables."""
    boards = list(calibration.labelled(folder))
    feeders = calibration.leave_one_out({one[0]: calibration.rows_of(*one) for one in boards})
    roles = calibration.leave_one_out_roles(
        {one[0]: calibration.role_rows_of(*one) for one in boards}
    )
    asked: list[tuple[str, list[tuple[float, bool]]]] = [
        (
            f"feeders, {how}",
            [(j.sure, j.row.right) for j in feeders if j.row.first and j.row.telling == how],
        )
        for how in calibration.TELLINGS
    ]
    asked += [
        (
            f"roles other than R, C, L, {how}",
            [(j.sure, j.row.right) for j in roles if j.row.telling == how and not j.row.passive],
        )
        for how in ("as the file has it", "without texts")
    ]
    print("certainty, each board judged by the tables of the others")
    for title, pairs in asked:
        right = [sure for sure, holds in pairs if holds]
        shares = [sum(sure >= least for sure in right) / len(right) for least in (0.6, 0.9)]
        print(f"  {title}")
        print(f"    of right ones {shares[0]:.0%} at 0.6 or more, {shares[1]:.0%} at 0.9 or more")
        for low, high in BANDS:
            here = [(sure, holds) for sure, holds in pairs if low <= sure < high]
            if not here:
                continue
            good = sum(holds for _, holds in here)
            ends = calibration.wilson(good, len(here))
            mean = sum(sure for sure, _ in here) / len(here)
            print(
                f"    {low:.1f} to {high:.1f}: {good:4} of {len(here):4} right "
                f"({100 * good / len(here):3.0f} %, 95 % interval {100 * ends[0]:.0f} to "
                f"{100 * ends[1]:.0f}), said {100 * mean:.0f} %"
            )


BANDS = ((0.0, 0.3), (0.3, 0.6), (0.6, 0.8), (0.8, 0.9), (0.9, 1.0))


def main() -> None:
    """Print shares per telling, certainties, then the time against the number of parts."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    named = os.environ.get("NETGRAPH_BOARDS", str(ROOT.parent / "shared" / "boards"))
    options.add_argument("--boards", type=Path, default=Path(named))
    folder = options.parse_args().boards
    totals: dict[str, dict[str, Score]] = {}
    for name in keys.BOARDS:
        board = read_board(folder / name / "board.kicad_pcb")
        key = keys.load_key(name)
        for how, told, part, net in tellings(board):
            for what, score in scores(told, renamed(key, part, net)).items():
                total = totals.setdefault(how, {}).setdefault(what, Score())
                total.asked += score.asked
                total.wrong += score.wrong
    for how, by_question in totals.items():
        print(how)
        for what, score in by_question.items():
            right = score.asked - len(score.wrong)
            print(f"  {what:16} {right:5} of {score.asked:5}  {100 * score.share:6.1f} %")
    print_certainty(folder)
    print("time of roles and rails")
    board = read_board(folder / "teres_main_c" / "board.kicad_pcb")
    for copies in (1, 5, 22):
        many = larger(board, copies)
        start = process_time()
        roles = find_roles(many)
        middle = process_time()
        find_rails(many, roles)
        print(
            f"  {len(many.parts):6} parts: roles {middle - start:.2f} s, "
            f"rails {process_time() - middle:.2f} s"
        )


if __name__ == "__main__":
    main()
