# SPDX-License-Identifier: GPL-3.0-or-later
"""The page's own reckoning, run in the browser: which pad is hit, what an address holds."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from netgraph.formats.reading import read_board
from netgraph.service.drawing import side_columns
from netgraph.service.page import build_name
from tests.web.browser import Sight

REAL = "teres_main_c"


def run(seen: Sight, module: str, script: str, told: Any = None) -> Any:
    """Run a function body with the module as `m` and the value as `told`."""
    address = f"/static/{build_name()}/{module}"
    return seen.page.evaluate(
        f"async (told) => {{ const m = await import('{address}'); {script} }}", told
    )


def test_the_middle_of_every_pad_of_a_real_board_hits_that_pad(
    seen: Sight, boards_dir: Path
) -> None:
    """Both sides of teres_main_c (OLIMEX/DIY-LAPTOP, Apache-2.0): all pads, by their middles."""
    board = read_board(boards_dir / REAL / "board.kicad_pcb")
    for side in ("top", "bottom"):
        columns = side_columns(board, side, frozenset())  # type: ignore[arg-type]
        pads: Any = columns["pads"]
        hit = run(
            seen,
            "core/hit_grid.js",
            "const g = new m.HitGrid(told);"
            " return told.x.map((x, i) => g.at(x, told.y[i], 0, () => false));",
            pads,
        )
        assert len(hit) > 200
        for wanted, found in enumerate(hit):
            if found != wanted:
                # Pads of one place: the smaller one is meant.
                assert pads["w"][found] * pads["h"][found] <= pads["w"][wanted] * pads["h"][wanted]
                near = abs(pads["x"][found] - pads["x"][wanted])
                assert near <= max(pads["w"][found], pads["h"][found])


def test_a_point_beside_all_pads_takes_the_nearest_within_reach_marked_ones_first(
    seen: Sight,
) -> None:
    """Three squares of 1 mm; distances by hand: 0.5 mm to the left one, 1.5 mm to the right."""
    pads = {
        "x": [0, 3, 20],
        "y": [0, 0, 0],
        "w": [1, 1, 1],
        "h": [1, 1, 1],
        "angle": [0, 0, 0],
        "shape": [1, 1, 1],
        "net": [0, 1, 1],
        "part": [0, 1, 2],
        "pin": ["1", "1", "1"],
    }
    at = "const g = new m.HitGrid(told.pads); return g.at(1, 0, told.reach, (i) => i === told.mark)"
    assert run(seen, "core/hit_grid.js", at, {"pads": pads, "reach": 2, "mark": -1}) == 0
    assert run(seen, "core/hit_grid.js", at, {"pads": pads, "reach": 2, "mark": 1}) == 1
    assert run(seen, "core/hit_grid.js", at, {"pads": pads, "reach": 0.4, "mark": 1}) == -1


def test_a_turned_pad_is_hit_in_its_own_frame(seen: Sight) -> None:
    """4 mm by 1 mm, turned by 45 degrees counter-clockwise: it reaches up to the right (y down)."""
    pads = {
        "x": [0],
        "y": [0],
        "w": [4],
        "h": [1],
        "angle": [45],
        "shape": [1],
        "net": [0],
        "part": [0],
        "pin": ["1"],
    }
    at = (
        "const g = new m.HitGrid(told);"
        " return [g.at(1.2, -1.2, 0, () => false), g.at(1.2, 1.2, 0, () => false)]"
    )
    assert run(seen, "core/hit_grid.js", at, pads) == [0, -1]


def test_an_address_holds_the_whole_selection(seen: Sight) -> None:
    chosen = {
        "view": "plan",
        "board": "0123456789ab",
        "short": "/a&b #1",
        "to": "+5V",
        "goal": "full-repair",
        "kind": "part",
        "id": "U1@2",
        "mode": "",
    }
    tracing = {**chosen, "view": "board", "mode": "trace"}
    for told in (chosen, tracing):
        again = run(seen, "core/address.js", "return m.parseAddress(m.formatAddress(told))", told)
        assert again == told
    elsewhere = {**chosen, "mode": "trace"}
    again = run(seen, "core/address.js", "return m.parseAddress(m.formatAddress(told))", elsewhere)
    assert again == chosen, "only a board is traced"
    for odd in ("#view=attic", "#board=../x", "#%%%", "#net=", "#board=0123456789ab"):
        found = run(seen, "core/address.js", "return m.parseAddress(told)", odd)
        assert found["view"] in ("start", "rails")


def test_svg_of_a_board_escapes_names(seen: Sight) -> None:
    side = {
        "side": "top",
        "box": [0, 0, 10, 10],
        "outline": [[0, 0, 10, 10]],
        "parts": {"id": [], "x": [], "y": [], "w": [], "h": [], "angle": []},
        "part_ids": [],
        "nets": [],
        "pads": {name: [] for name in ("x", "y", "w", "h", "angle", "shape", "net", "part")},
    }
    text = run(
        seen,
        "core/svg_board.js",
        "return m.boardSvg(told, {net: -1, part: '', marks: [{x: 1, y: 1, kind: 'site',"
        " label: '</svg><script>', side: 'top'}]}, {title: '<b>', side: '\"'})",
        side,
    )
    assert "<script" not in text
    assert "<b>" not in text
