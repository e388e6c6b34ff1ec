# SPDX-License-Identifier: GPL-3.0-or-later
"""Who drives the enables of fifteen converters on four real boards, against a key by hand.

Source: the key files in ``tests/keys/enables``, written from the netlists (pads, pin names) and
the published pin functions of the chips before the rule was coded; each names its board's
repository and licence.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from netgraph.plan.enables import Drive, find_enables
from netgraph.plan.power_logic import PowerLogic
from netgraph.plan.wiring import Wiring
from netgraph.survey import Survey, survey

KEYS = Path(__file__).parent.parent / "keys" / "enables"
BOARDS = sorted(path.stem for path in KEYS.glob("*.json"))


def key_of(board: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((KEYS / f"{board}.json").read_text(encoding="utf-8"))
    return found


@pytest.fixture(scope="module")
def surveys(boards_dir: Path) -> dict[str, Survey]:
    return {name: survey(boards_dir / name / "board.kicad_pcb") for name in BOARDS}


def drives_of(seen: Survey) -> dict[str, tuple[Drive, ...]]:
    return find_enables(Wiring(seen.board, seen.roles, seen.tree))


def test_the_key_holds_twelve_converters_and_more() -> None:
    assert len(BOARDS) == 4
    assert sum(len(key_of(board)["enables"]) for board in BOARDS) >= 12


@pytest.mark.parametrize("board", BOARDS)
def test_each_enable_is_found_on_its_net_with_what_drives_it(
    surveys: dict[str, Survey], board: str
) -> None:
    drives = drives_of(surveys[board])
    for chip, entry in key_of(board)["enables"].items():
        own = [one for one in drives.get(chip, ()) if one.net == entry["net"]]
        assert len(own) == 1, f"{chip}: {drives.get(chip)}"
        (drive,) = own
        assert set(drive.vital) == set(entry["needs_parts"]), f"{chip}: {drive}"
        assert set(drive.rails) == set(entry["needs_nets"]), f"{chip}: {drive}"
        assert not set(entry["not_needed"]) & set(drive.vital), f"{chip}: {drive}"
        assert drive.doubt is None, f"{chip}: {drive.doubt}"


@pytest.mark.parametrize("board", BOARDS)
def test_what_the_key_needs_kills_the_feeder_and_the_rest_does_not(
    surveys: dict[str, Survey], board: str
) -> None:
    """The power logic replays the key: each needed part off, the rail dies; each other, it lives.

    Rails that are dead on the untouched board are counted out; most must live.
    """
    seen = surveys[board]
    logic = PowerLogic.build(seen.board, seen.roles, seen.tree)
    tried = 0
    for chip, entry in key_of(board)["enables"].items():
        rails = [
            rail.net
            for rail in seen.tree
            if rail.net in logic.base.rails
            and rail.feeders
            and {one.part_id for one in rail.feeders} == {chip}
        ]
        for rail in rails:
            for part in entry["needs_parts"]:
                assert rail not in logic.alive((part,)).rails, f"{chip} {rail} without {part}"
                proof = logic.proof(("rail", rail), (part,))
                assert proof is not None
                assert logic.check(proof)
                tried += 1
            for part in entry["not_needed"]:
                assert rail in logic.alive((part,)).rails, f"{chip} {rail} without {part}"
                tried += 1
    assert tried > 0


@pytest.mark.parametrize("board", BOARDS)
def test_oscillators_hang_on_the_nets_of_the_key(surveys: dict[str, Survey], board: str) -> None:
    drives = drives_of(surveys[board])
    for part, entry in key_of(board).get("oscillators", {}).items():
        (drive,) = drives[part]
        assert drive.net == entry["net"]
        assert set(drive.rails) == set(entry["needs_nets"])
        assert drive.vital == ()
