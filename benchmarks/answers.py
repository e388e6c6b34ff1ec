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
import random
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from time import process_time
from typing import Any

from netgraph.formats import read_board
from netgraph.model import Board, BoardBuilder
from netgraph.rails import find_rails
from netgraph.roles import find_roles
from netgraph.units import find_quantity
from tests.oracle import keys
from tests.oracle.keys import Score
from tests.oracle.retold import retold

ROOT = Path(__file__).resolve().parents[1]
Names = Callable[[str], str]
_KINDS = {"R": "resistance", "C": "capacitance", "L": "inductance"}


def same(text: str) -> str:
    """The name as it is."""
    return text


def renumbered(text: str) -> str:
    """R12 becomes R136; identities of repeated references stay."""
    if "@" in text:
        return text
    return re.sub(r"\d+$", lambda found: str(int(found.group()) * 3 + 100), text)


def another_notation(value: str, ref: str) -> str:
    """4.7k becomes 4k7, 100n becomes 0.1uF, 2.2u of a coil 2200nH; other text stays."""
    kind: Any = _KINDS.get(ref[:1]) if ref[1:2].isdigit() else None
    found = find_quantity(value, kind) if kind else None
    if found is None or found.text not in value:
        return value
    if kind == "capacitance":
        unit, scale_of = ("uF", 1e6) if found.value >= 1e-9 else ("nF", 1e9)
        return value.replace(found.text, f"{found.value * scale_of:.4f}".rstrip("0") + unit)
    if kind == "inductance":
        return value.replace(found.text, f"{found.value * 1e9:.6g}nH")
    for scale, letter in ((1e6, "M"), (1e3, "k"), (1.0, "R")):
        if found.value >= scale:
            whole, _, rest = f"{found.value / scale:.4g}".partition(".")
            return value.replace(found.text, f"{whole}{letter}{rest}")
    return value


def tellings(board: Board) -> Iterator[tuple[str, Board, Names, Names]]:
    """(how, the board told that way, new name of a part, new name of a net)."""
    yield "as the file has it", board, same, same
    mixed = retold(board, order=lambda all_: random.Random(3).sample(all_, len(all_)))
    yield "parts shuffled", mixed, same, same
    yield "designators renumbered", retold(board, ref=renumbered), renumbered, same
    values = tuple(
        replace(part, value=another_notation(part.value, part.ref)) for part in board.parts
    )
    yield "values in another notation", replace(board, parts=values), same, same
    yield "pin names removed", retold(board, pin_name=lambda _: ""), same, same
    blank = {net.name: f"N{net.index}" for net in board.nets}
    yield "net names blanked", retold(board, net=blank.__getitem__), same, blank.__getitem__


def renamed(key: dict[str, Any], part: Names, net: Names) -> dict[str, Any]:
    """A key under the new names."""

    def feeders(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
        return [
            {"ref": part(row["ref"]), "from_net": row["from_net"] and net(row["from_net"])}
            for row in rows
        ]

    return {
        "parts": {part(name): said for name, said in key["parts"].items()},
        "nets": {net(name): said for name, said in key["nets"].items()},
        "rails": {
            net(name): {
                **said,
                "feeders": feeders(said["feeders"]),
                "accept": feeders(said.get("accept", [])),
            }
            for name, said in key["rails"].items()
        },
    }


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


def main() -> None:
    """Print shares per telling, then the time against the number of parts."""
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
