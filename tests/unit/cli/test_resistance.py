# SPDX-License-Identifier: GPL-3.0-or-later
"""`netgraph resistance` as a person and as a program meet it, on the sample board."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support import ROOT
from tests.unit.cli.run import netgraph
from tests.unit.cli.small_board import write_small_board

LARK = ROOT / "sample_boards" / "lark" / "lark.kicad_pcb"


def test_two_pads_on_a_page_of_eighty_columns() -> None:
    ran = netgraph("resistance", LARK, "TP4.1", "C34.1")
    assert ran.status == 0, ran.err
    assert "TP4.1 to C34.1, VSYS: " in ran.out
    assert " mohm" in ran.out
    assert "give or take" in ran.out
    assert max(len(line) for line in ran.out.splitlines()) <= 80


def test_the_order_of_the_pads_does_not_matter() -> None:
    one = netgraph("resistance", LARK, "TP4.1", "C34.1", "--json").json()
    two = netgraph("resistance", LARK, "C34.1", "TP4.1", "--json").json()
    assert one["schema"] == "netgraph.resistance/1"
    assert one["milliohms"] == pytest.approx(two["milliohms"], rel=1e-6)
    assert one["known"] is True
    assert one["pairs"] == [{"a": "TP4.1", "b": "C34.1", "milliohms": one["milliohms"]}]


def test_a_net_shows_its_nearest_and_farthest_pads() -> None:
    ran = netgraph("resistance", LARK, "VSYS")
    assert ran.status == 0, ran.err
    assert ran.out.index("Nearest") < ran.out.index("Farthest") < ran.out.index("Computed from")
    assert max(len(line) for line in ran.out.splitlines()) <= 80
    answer = netgraph("resistance", LARK, "VSYS", "--json").json()
    pads = sum(len(one) for one in answer["islands"])
    assert len(answer["pairs"]) == pads * (pads - 1) // 2
    ohms = [one["milliohms"] for one in answer["pairs"]]
    assert ohms == sorted(ohms)


def test_from_one_pad_to_all_others() -> None:
    answer = netgraph("resistance", LARK, "TP4.1", "--json").json()
    assert answer["a"] == "TP4.1"
    assert answer["b"] is None
    assert {one["a"] for one in answer["pairs"]} == {"TP4.1"}


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("TP4.9", "C34.1"), "near names: TP4.1"),
        (("TP44.1", "C34.1"), "near names: TP4"),
        (("VSIS",), "near names: VSYS"),
        (("TP4.1", "GND"), "GND is a net, not a pad"),
        (("C34.1", "C34.2"), "C34.1 is on VSYS, C34.2 on GND"),
        (("C34.1", "C34.1"), "one pad"),
    ],
)
def test_a_wrong_question_is_one_line(words: tuple[str, ...], told: str) -> None:
    ran = netgraph("resistance", LARK, *words)
    assert ran.status == 2
    assert ran.out == ""
    assert told in ran.err
    assert len(ran.err.splitlines()) == 1


def test_a_file_without_copper_is_told_so(tmp_path: Path) -> None:
    board = write_small_board(tmp_path)
    ran = netgraph("resistance", board, "VSYS")
    assert ran.status == 0, ran.err
    assert "VSYS: not known" in ran.out
    answer = netgraph("resistance", board, "VSYS", "--json").json()
    assert answer["known"] is False
    assert answer["pairs"] == []
    assert answer["why"]["code"] in ("copper-no-format", "copper-none")


def test_inject_takes_weights_and_can_leave_copper_alone() -> None:
    plain = netgraph("inject", LARK, "VSYS", "--json").json()
    assert plain["points_by"]["code"] == "points-by-copper"
    far = netgraph("inject", LARK, "VSYS", "--suspect", "C35", "1", "--json").json()
    assert far["points"][0]["ref"] in ("C34", "C35")
    assert far["points"][0]["milliohms"] < plain["points"][0]["milliohms"]
    access = netgraph("inject", LARK, "VSYS", "--no-copper", "--json").json()
    assert access["points_by"]["code"] == "points-by-access"
    assert all(one["milliohms"] is None for one in access["points"])
    wrong = netgraph("inject", LARK, "VSYS", "--suspect", "C35", "-1")
    assert wrong.status == 2
    assert "weight of C35" in wrong.err
