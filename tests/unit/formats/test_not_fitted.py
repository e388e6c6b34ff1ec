# SPDX-License-Identifier: GPL-3.0-or-later
"""Marks of parts left off: words as people write them (common practice, no source), and boards.

The expected parts of real boards were picked out by eye from the files' own marks.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from netgraph.formats import read_board
from netgraph.formats.not_fitted import not_fitted_because


@pytest.mark.parametrize(
    ("ref", "value"),
    [
        ("R1", "DNP"),
        ("R1", "10k DNP"),
        ("C3", "DNF/100n"),
        ("U2", "do not populate"),
        ("J1", "not mounted"),
        ("R7", "NC"),
        ("C1", "N.C."),
        ("C1", "NC(10uF)"),
        ("R1", "10k/NC"),
        ("L2", "(NP)"),
        ("U9", "no pop"),
        ("C11", "22uF OPT"),
        ("C15", "X/22uF"),
        ("C16", "22uF unfitted"),
        ("R2", "do not stuff"),
    ],
)
def test_a_value_that_says_not_fitted(ref: str, value: str) -> None:
    assert not_fitted_because(ref, value, "R_0402") == f'value "{value}"'


@pytest.mark.parametrize(
    ("ref", "value"),
    [
        ("R1", "10k"),
        ("C1", "22uF/X5R"),
        ("U1", "OPT3001"),
        ("U1", "X/1"),
        ("SW1", "SPST_NC"),  # a normally closed switch
        ("U1", "NCP1117"),
        ("Q1", "NPN"),
        ("D1", "DNPX"),
        ("C1", "100nF"),
        ("U3", "LM317_NP0"),
        ("R1", ""),
        ("U1", "x" * 300 + " DNP"),  # prose
    ],
)
def test_a_value_that_does_not(ref: str, value: str) -> None:
    assert not_fitted_because(ref, value, "R_0402") is None


@pytest.mark.parametrize(
    ("fields", "because"),
    [
        ((("DNP", ""),), 'field DNP ""'),
        ((("dnp", "1"),), 'field dnp "1"'),
        ((("DNP", "no"),), None),
        ((("Populate", "0"),), 'field Populate "0"'),
        ((("Populate", "1"),), None),
        ((("Config", "DNF"),), 'field Config "DNF"'),
        ((("MPN", "DNP"),), 'field MPN "DNP"'),
        ((("MPN", "X-1"),), None),
        ((("Datasheet", "DNP"),), None),
    ],
)
def test_fields(fields: tuple[tuple[str, str], ...], because: str | None) -> None:
    assert not_fitted_because("R1", "10k", "R_0402", fields=fields) == because


def test_footprint_name_tags_and_attribute() -> None:
    assert not_fitted_because("R1", "1k", "L:R_0402_DNP") == 'footprint "R_0402_DNP"'
    assert not_fitted_because("R1", "1k", "R", tags="res DNP") == 'tags "res DNP"'
    assert not_fitted_because("R1", "1k", "R", attributes=["smd", "dnp"]) == "attribute dnp"
    assert not_fitted_because("TP1", "TP", "TestPoint", attributes=["exclude_from_bom"]) is None


def test_copper_alone_is_not_unmade_by_a_part_number_of_dnp() -> None:
    """A solder jumper has nothing to buy, but its copper is there."""
    fields = (("MPN", "DNP"),)
    assert not_fitted_because("JP1", "jumper", "Jumper:SolderJumper_2_Open", fields=fields) is None


def test_the_two_parts_with_the_flag_on_a_real_board(boards_dir: Path) -> None:
    """lcdtap_rp2350 (MIT): its two headers carry KiCad's own flag, and nothing else does."""
    board = read_board(boards_dir / "samples" / "lcdtap_rp2350.kicad_pcb")
    found = {part.id: part.not_fitted_because for part in board.parts if not part.fitted}
    assert found == {"J2": "attribute dnp", "J3": "attribute dnp"}
