# SPDX-License-Identifier: GPL-3.0-or-later
"""Boards as they reach a bench: eleven traced nets, a photo board, an assembly. All invented."""

from __future__ import annotations

from pathlib import Path

from netgraph.formats.photo_board import (
    PhotoBoard,
    PhotoPad,
    PhotoPart,
    Picture,
    ScalePoint,
    write_photo_board,
)

TRACED = """\
# netgraph trace 1
J1.1 FB1.1 : VBUS_5V
FB1.2 C1.1 C2.1 U1.1 U1.3 : VSYS
U1.5 C10.1 U2.1 U3.8 R1.1 : 3V3
U2.6 U4.1 C11.1 : 1V8
U2.3 U3.6 : SPI_CLK
U2.4 U3.2 : SPI_DO
U2.5 U3.5 : SPI_DI
U2.7 U3.1 : SPI_CS
U2.8 R1.2 : RESET_N
U2.9 U4.2 : MEM_D0
J1.2 C1.2 C2.2 U1.2 U2.2 U3.4 U4.3 C10.2 C11.2 : GND
U2.10 nc
C1.1 C1.2 apart
J1 = USB USB_C_Receptacle
FB1 = 600R@100MHz 0603
U1 = AP2112K-3.3 SOT-23-5
U1.1 is VIN
U1.5 is VOUT
U2 = STM32F405 LQFP-64
U3 = W25Q128 SOIC-8
U4 = memory FBGA-60
C1 = 10uF 0603
C2 = 10uF 0603
C10 = 100nF 0402
C11 = 100nF 0402
R1 = 10k 0402
"""
"""Eleven nets; the processor has ten traced pins of many more."""


def write_traced(folder: Path) -> Path:
    path = folder / "eleven.trace"
    path.write_text(TRACED, encoding="utf-8")
    return path


def write_photo(folder: Path) -> Path:
    """The same nets on pictures: 0.05 mm a pixel on the top; the bottom is seen mirrored."""
    top = tuple(
        ScalePoint(x, y, 0.05 * x, 0.05 * y) for x, y in ((0.0, 0.0), (1000.0, 0.0), (0.0, 800.0))
    )
    bottom = tuple(
        ScalePoint(x, y, 50.0 - 0.05 * x, 0.05 * y)
        for x, y in ((0.0, 0.0), (1000.0, 0.0), (0.0, 800.0))
    )
    joins = [line for line in TRACED.splitlines() if " : " in line]
    pads: dict[str, list[str]] = {}
    for line in joins:
        for word in line.partition(":")[0].split():
            ref, _, pin = word.rpartition(".")
            pads.setdefault(ref, []).append(pin)
    parts = []
    for number, (ref, pins) in enumerate(pads.items()):
        value = next(
            (
                one.split("=")[1].split()
                for one in TRACED.splitlines()
                if one.startswith(f"{ref} =")
            ),
            [""],
        )
        side = "bottom" if ref in ("C10", "C11") else "top"
        parts.append(
            PhotoPart(
                ref,
                "bottom" if side == "bottom" else "top",
                value[0],
                value[-1] if len(value) > 1 else "",
                tuple(
                    PhotoPad(pin, 60.0 * number + 12.0 * i, 100.0, width_mm=0.3, height_mm=0.3)
                    for i, pin in enumerate(pins)
                ),
            )
        )
    photo = PhotoBoard(
        "pictured",
        (Picture("top", "top.jpg", top), Picture("bottom", "bottom.jpg", bottom)),
        tuple(parts),
        tuple(joins),
    )
    path = folder / "pictured.photo.json"
    path.write_text(write_photo_board(photo), encoding="utf-8")
    return path


PANEL = """\
# netgraph trace 1
J9.1 U9.1 C9.1 : VPANEL
J9.2 U9.2 C9.2 : GND
J9.3 U9.3 : PANEL_RST
U9 = display-driver COF-40
C9 = 1uF 0402
"""


def write_assembly(folder: Path, *, unplugged: bool = False) -> Path:
    """The small board of small_board.py as MAIN, a traced panel on its C1 and its storage."""
    from tests.unit.cli.small_board import write_small_board

    write_small_board(folder)
    (folder / "panel.trace").write_text(PANEL, encoding="utf-8")
    path = folder / "device.assembly.toml"
    path.write_text(
        'schema = "netgraph.assembly/1"\n'
        '[boards]\nMAIN = "small.kicad_pcb"\nPANEL = "panel.trace"\n'
        '[[mates]]\na = "MAIN/C10"\nb = "PANEL/J9"\npins = "same"\n'
        f"unplugged = {str(unplugged).lower()}\n",
        encoding="utf-8",
    )
    return path
