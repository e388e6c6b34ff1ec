# SPDX-License-Identifier: GPL-3.0-or-later
"""Small files of other programs give the counts of their README.

Sources: jaseg/gerbonara@736107f7 (CC-BY-SA 3.0, Apache-2.0), OLIMEX/OLINUXINO@20ff2841
(CC-BY-SA 3.0), OLIMEX/DIY-LAPTOP@a9501ffe (Apache-2.0), tinyvision-ai-inc/pico-ice@00e13360
(MIT), beagleboard/pocketbeagle@d793a63f (CC-BY-4.0), GlasgowEmbedded/glasgow@8bec710d (0BSD).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from netgraph.formats import read_board, readers


@pytest.mark.parametrize(
    ("file", "parts", "nets", "pins"),
    [
        ("LCD-DRIVER_Rev_C.net", 134, 96, 774),
        ("TERES-PCB5-KEYBOARD_Rev.A.net", 46, 43, 186),
        ("pico-ice-rev3.xml", 95, 97, 403),
    ],
)
def test_netlists(boards_dir: Path, file: str, parts: int, nets: int, pins: int) -> None:
    """README: parts, nets and nodes."""
    board = read_board(boards_dir / "samples" / file)
    assert (len(board.parts), len(board.nets)) == (parts, nets)
    assert int((board.columns.net >= 0).sum()) == pins
    assert {"has_pin_names", "has_pin_types", "has_values"} <= board.capabilities


def test_bare_backslashes_and_letters_of_other_scripts_stay(boards_dir: Path) -> None:
    """README of the samples: bare backslashes in one, a Cyrillic date in the other."""
    lcd = read_board(boards_dir / "samples" / "LCD-DRIVER_Rev_C.net")
    assert lcd.source.version == "D"
    assert lcd.part("C17").value == "100nF/16V/10%/X7R/C0402"
    keyboard = read_board(boards_dir / "samples" / "TERES-PCB5-KEYBOARD_Rev.A.net")
    assert [one.code for one in keyboard.warnings] == []


@pytest.mark.parametrize(
    ("file", "nets", "refs", "records"),
    [
        ("MinnowMax_RevA1_IPC356A.ipc", 642, 881, 5763),
        ("eagle-7.1-ipc-d-356.ipc", 18, 21, 105),
    ],
)
def test_lists_of_test_points(
    boards_dir: Path, file: str, nets: int, refs: int, records: int
) -> None:
    """README counts the texts in the net columns; "N/C" and blanks among them are no nets."""
    path = boards_dir / "samples" / file
    texts = {
        line[3:17].strip()
        for line in path.read_text("latin-1").splitlines()
        if line[:3] in ("317", "327", "367")
    }
    assert len(texts) == nets
    board = read_board(path)
    assert len(board.nets) == nets - len(texts & {"", "N/C"})
    assert len({part.ref for part in board.parts}) == refs
    left_out = sum(one.count for one in board.warnings if one.code == "point-without-part")
    assert len(board.columns) + len(board.copper.vias) + left_out == records


def test_aliases_in_parameters_are_put_back(boards_dir: Path) -> None:
    """Three of them as they stand in the head of each file."""
    minnow = read_board(boards_dir / "samples" / "MinnowMax_RevA1_IPC356A.ipc")
    for name in ("MPCIE_CLKREQ3_B", "SPI_PWR_FET_GATE", "SOC_SIO_SPI_CLK"):
        assert minnow.has_net(name)
    assert minnow.unclear_nets == frozenset()
    assert len(minnow.copper_layers) == 10
    eagle = read_board(boards_dir / "samples" / "eagle-7.1-ipc-d-356.ipc")
    assert eagle.has_net("A_REALLY_LONG_NET_NAME")
    # 389BOARD_EDGE X0Y0 X22500 Y15000 X0 in 0.0001 inch, continued to X1300Y240
    assert eagle.copper.outline[0].points.tolist() == [[0, 0], [57_150_000, 0]]


@pytest.mark.parametrize(
    ("file", "parts", "left_off"),
    [
        ("pico-ice-rev2-all-pos.csv", 87, None),
        ("pico-ice-rev1-all-pos-renamed-columns.csv", 87, None),
        ("pico-ice-rev1-bom.csv", 76, None),
        ("PocketBeagle_BOM.csv", 36, None),
        ("glasgow-revC3-bom.csv", 234, 10),
    ],
)
def test_tables(boards_dir: Path, file: str, parts: int, left_off: int | None) -> None:
    """Designators counted by hand with a text tool; the parts that the column DNP marks."""
    board = read_board(boards_dir / "samples" / file)
    assert len(board.parts) == parts
    assert [one.code for one in board.not_known if one.code == "no-netlist"]
    if left_off is not None:
        assert sum(not part.fitted for part in board.parts) == left_off


def test_places_of_a_table_are_those_of_the_layout(boards_dir: Path) -> None:
    """pico-ice-rev2-all-pos.csv against the layout of revision 2: y turned, one offset for all."""
    table = read_board(boards_dir / "samples" / "pico-ice-rev2-all-pos.csv")
    layout = read_board(boards_dir / "pico_ice_r2" / "board.kicad_pcb")
    shifts = {
        (layout.part(part.id).x_nm - part.x_nm, layout.part(part.id).y_nm - part.y_nm)
        for part in table.parts
        if layout.has_part(part.id)
    }
    xs, ys = zip(*shifts, strict=True)
    assert max(xs) - min(xs) <= 2
    assert max(ys) - min(ys) <= 2
    assert all(
        layout.part(part.id).side == part.side for part in table.parts if layout.has_part(part.id)
    )


def test_every_sample_is_told_by_one_reader_alone(boards_dir: Path) -> None:
    for path in sorted((boards_dir / "samples").iterdir()):
        head = path.read_bytes()[:4096]
        sure = [one.name for one in readers() if one.sniff(head) > 0]
        wanted = 1 if path.suffix in (".net", ".ipc", ".csv", ".kicad_pcb") else None
        if path.name == "pico-ice-rev3.xml":
            wanted = 1
        assert wanted is None or len(sure) == wanted, (path.name, sure)
