# SPDX-License-Identifier: GPL-3.0-or-later
"""Benches for the tests of the `advice` room: cards as one writes them, boards to put them on."""

from __future__ import annotations

import json
from functools import cache

from netgraph.assets import asset_path
from netgraph.diagnosis.bench_state import BenchState, replay
from netgraph.diagnosis.cards import parse_cards
from netgraph.model import Board
from netgraph.rails.tree import RailTree
from netgraph.roles.answer import Roles
from netgraph.survey import survey

Drawn = tuple[Board, Roles, RailTree]


def card(kind: str, **fields: object) -> str:
    """One line of a file of cards."""
    return json.dumps({"kind": kind, **fields})


def ohms(at: str, value: float | None, **more: object) -> str:
    """A reading to ground."""
    return card("ohms", at=at, value=value, **more)


def bench(drawn: Drawn, *lines: str) -> BenchState:
    """The state of the bench after these cards."""
    board, roles, tree = drawn
    grounds = roles.grounds() | frozenset(tree.grounds)
    return replay(board, parse_cards("\n".join(lines), path="cards"), grounds)


def triage_done(*unplugged: str) -> list[str]:
    """Everything before power, as bench practice wants it."""
    return [
        card("cell", connected=False),
        card("photo", file="top.jpg"),
        *(card("unplug", ref=one) for one in unplugged),
        card("shield", off=True),
        card("seen", at="board", what="deposit near the port"),
        card("clean", at="board", method="brush"),
        card("dry", at="board", method="65 degrees", hours=4),
        card("not-seen", at="board", what="deposit"),
    ]


@cache
def lark() -> Drawn:
    """The sample board, an invented field recorder with a single cell."""
    found = survey(asset_path("sample_boards/lark/lark.kicad_pcb"))
    return found.board, found.roles, found.tree


LARK_RAILS = (
    *("VBAT", "VBUS", "VSYS", "1V8", "1V8_ALWAYS", "3V3", "BACKLIGHT_19V", "CORE_0V95"),
    *("MEM_1V1", "MEM_1V8", "SENSOR_2V8", "USB_3V3"),
)
LARK_LINES = ("BACKLIGHT_PWM", "1V8", "RECORD_KEY_N")


def lark_sound() -> list[str]:
    """Readings of a board on which nothing is low: no figures of a real board, all invented."""
    return [
        *(ohms(net, 25 if net == "CORE_0V95" else 2000) for net in LARK_RAILS),
        *(ohms("BACKLIGHT_19V", None, to=one) for one in LARK_LINES),
    ]
