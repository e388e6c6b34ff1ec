# SPDX-License-Identifier: GPL-3.0-or-later
"""Cells that keep a content, lines that watch: nothing on them comes off.

Circuits: battery back-up of a static memory by two diodes (practice), tamper line of a key store.
"""

from __future__ import annotations

import pytest

from netgraph.advice.ordered_plan import ordered_plan
from netgraph.advice.power_gate import power_gate
from netgraph.plan.backup import find_backups
from netgraph.plan.lift import lift_table
from netgraph.plan.wiring import Wiring
from tests.unit.plan.sketch import Sketch


def backed(cell: str = "CR2032", role: str = "battery", farad: float | None = None) -> Sketch:
    """A memory fed from 3.3 V over D2 and from a cell over R1 and D1."""
    s = Sketch()
    s.rail("V5", "entry", 5.0).rail("V3", "linear", 3.3, ("U9", "V5"))
    s.rail("VRAM", "filtered", 3.3, ("D2", "V3"), ("D1", "COIN"))
    diode = {"V3": "A", "VRAM": "K", "N1": "A"}
    s.part("J1", "connector", "V5", "GND").part("U9", "regulator", "V5", "V3", "GND")
    s.part("BT1", role, "COIN", "GND", value=cell, farad=farad)  # type: ignore[arg-type]
    s.part("R1", "resistor", "COIN", "N1", ohm=1000.0)
    s.part("D1", "diode", "N1", "VRAM", names=diode).part("D2", "diode", "V3", "VRAM", names=diode)
    s.part("U1", "processor", "V3", "GND", "S0").part("U2", "memory", "VRAM", "GND", "S0")
    return s.part("U3", "storage", "V3", "GND", "S0")


@pytest.mark.parametrize(
    ("cell", "role", "farad"),
    [("CR2032", "battery", None), ("0.47F", "capacitor", 0.47), ("coin cell", "connector", None)],
)
def test_nothing_comes_off_between_a_small_cell_and_what_it_keeps(
    cell: str, role: str, farad: float | None
) -> None:
    board, roles, tree = backed(cell, role, farad).done()
    (found,) = find_backups(Wiring(board, roles, tree))
    assert found == ("BT1", ("U2",), {"BT1", "R1", "D1"})
    table = lift_table(board, roles, tree, "V3", whole_board=True)
    verdicts = {row.part_id: row.verdict for row in table.rows}
    assert {verdicts[one] for one in found.parts} == {"unsure"}
    assert "backup-cell" in [one.code for one in table.note_cautions]
    assert "backup-cell" in [one.code for one in power_gate(board, roles, tree).warnings]
    steps = [one.why.code for one in ordered_plan(board, roles, tree, "V3").steps]
    assert "plan-cell-not-backup" in steps
    assert "plan-cell" not in steps


def test_the_main_cell_is_no_back_up() -> None:
    s = Sketch()
    s.rail("VBAT", "entry", 3.8).rail("V3", "linear", 3.3, ("U9", "VBAT"))
    s.part("BT1", "battery", "VBAT", "GND").part("U9", "regulator", "VBAT", "V3", "GND")
    s.part("U1", "processor", "V3", "GND", "S0").part("U2", "memory", "V3", "GND", "S0")
    assert find_backups(Wiring(*s.done())) == ()


def test_what_hangs_on_a_line_that_watches_stays_and_stays_plugged() -> None:
    s = backed().part("J2", "connector", "TAMPER_N", "GND").part("SW1", "switch", "TAMPER_N", "V3")
    s.part("J3", "connector", "LAMP", "GND")
    board, roles, tree = s.part("U5", "secure-element", "V3", "GND", "TAMPER_N").done()
    rows = {row.part_id: row for row in lift_table(board, roles, tree, "V3", whole_board=True).rows}
    assert {rows[one].verdict for one in ("J2", "SW1")} <= {"unsure", "keep"}
    gate = power_gate(board, roles, tree)
    assert "J2" not in [one.ref for one in gate.plugs]
    assert "J3" in [one.ref for one in gate.plugs]
    assert "watched-lines" in [one.code for one in gate.warnings]
