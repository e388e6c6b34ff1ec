# SPDX-License-Identifier: GPL-3.0-or-later
"""Answer keys of the real boards, and how an answer is held against them.

Keys were written from the boards' files and general knowledge of the part families, before the
rules existed (their field `how`); `unknown` and null are left out of every score.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from netgraph.model import Board
from netgraph.rails import RailTree
from netgraph.roles import Roles

FOLDER = Path(__file__).resolve().parent.parent / "keys"
BOARDS = (
    "glasgow_c3",
    "hackrf_marzipan",
    "orangecrab_r021",
    "pico_ice_r2",
    "pocketbeagle",
    "scalenode",
    "teres_main_c",
)
REGULAR = ("orangecrab_r021", "pico_ice_r2")
"""The two most regular boards: the first version must be right on them."""

_PASSIVE_BY_LETTER = re.compile(r"[RCL]\d")
# Marks that stand in a netlist's fields only, not in the board file.
_NETLIST_MARK = "netlist field"


def load_key(board: str, folder: Path = FOLDER) -> dict[str, Any]:
    """The key of one board."""
    loaded: dict[str, Any] = json.loads((folder / f"{board}.json").read_text(encoding="utf-8"))
    return loaded


def is_passive(part_id: str) -> bool:
    """Whether the designator alone says R, C or L."""
    return _PASSIVE_BY_LETTER.match(part_id) is not None


@dataclass
class Score:
    """Counts of one question: how many were judged, and what went wrong."""

    asked: int = 0
    wrong: list[str] = field(default_factory=list)

    def add(self, holds: bool, what: str) -> None:
        self.asked += 1
        if not holds:
            self.wrong.append(what)

    @property
    def share(self) -> float:
        return 1.0 - len(self.wrong) / self.asked if self.asked else 1.0


def score_roles(roles: Roles, key: dict[str, Any]) -> tuple[Score, Score]:
    """(parts other than R, C, L by letter; those)."""
    other, passive = Score(), Score()
    for part_id, said in key["parts"].items():
        if said["role"] == "unknown":
            continue
        found = roles.parts[part_id]
        score = passive if is_passive(part_id) else other
        score.add(found.role == said["role"], f"{part_id}: {found.role}, key {said['role']}")
    return other, passive


def score_fitted(board: Board, key: dict[str, Any]) -> Score:
    """Not-fitted marks that the board file itself carries."""
    score = Score()
    for part_id, said in key["parts"].items():
        by_netlist = said["fitted"] is False and _NETLIST_MARK in said["why"]
        if said["fitted"] is not None and not by_netlist:
            found = board.part(part_id).fitted
            score.add(found == said["fitted"], f"{part_id}: fitted {found}")
    return score


def score_rails(tree: RailTree, key: dict[str, Any]) -> tuple[Score, Score]:
    """(rails found, rails claimed that are none); references and doubtful nets are left out."""
    found, extra = Score(), Score()
    kinds = {net: said["kind"] for net, said in key["nets"].items()}
    claimed = {rail.net for rail in tree if rail.kind != "reference"}
    for net, kind in kinds.items():
        if kind == "rail":
            found.add(net in tree.by_net, net)
    for net in sorted(claimed):
        if kinds.get(net, "signal") not in ("unknown", "reference"):
            extra.add(kinds.get(net) in ("rail", "high-voltage"), net)
    return found, extra


def score_feeders(tree: RailTree, key: dict[str, Any]) -> tuple[Score, Score]:
    """(first feeder or entry right; those of confidence from 0.6 on). No answer is not right."""
    all_, sure = Score(), Score()
    for net, said in key["rails"].items():
        if said["kind"] == "reference" or (
            not said["feeders"] and not said["entry"] and not said["unknown_feeder"]
        ):
            continue
        rail = tree.by_net.get(net)
        right = rail is not None and _feeding_is_right(rail, said)
        told = "no rail" if rail is None else f"{rail.kind} by {[f.part_id for f in rail.feeders]}"
        all_.add(right, f"{net}: {told}")
        if rail is not None and rail.confidence >= 0.6:
            sure.add(right, f"{net}: {told}")
    return all_, sure


def _feeding_is_right(rail: Any, said: dict[str, Any]) -> bool:
    accepted = said["feeders"] + said.get("accept", [])
    if said["entry"] and rail.kind == "entry":
        return True
    if said["unknown_feeder"] and not rail.feeders:
        return True
    first = rail.feeders[0] if rail.feeders else None
    return first is not None and any(
        one["ref"] == first.part_id
        and (one["from_net"] is None or first.from_net is None or one["from_net"] == first.from_net)
        for one in accepted
    )


def score_volts(tree: RailTree, key: dict[str, Any]) -> Score:
    """Nominal volts where both the key and the program state a figure: within 5 %."""
    score = Score()
    for net, said in key["rails"].items():
        rail = tree.by_net.get(net)
        if said["nominal_volts"] is None or rail is None or rail.nominal_volts is None:
            continue
        near = abs(rail.nominal_volts - said["nominal_volts"]) <= 0.05 * abs(said["nominal_volts"])
        score.add(near, f"{net}: {rail.nominal_volts}, key {said['nominal_volts']}")
    return score
