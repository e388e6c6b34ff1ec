# SPDX-License-Identifier: GPL-3.0-or-later
"""A board small enough to be checked by eye, written out as a KiCad 6 file.

5 V come in at J1, the ferrite FB1 passes them on to VSYS, the regulator U1 makes 3V3 from it for
the processor U2 and the storage U3. R9 is not fitted. One net has blanks in its name, one a sign
that turns the writing direction round.
"""

from __future__ import annotations

from pathlib import Path

TURNED = "EVIL\u202eNET"

NETS = ["", "GND", "VBUS_5V", "VSYS", "+3V3", "SPI CLK, fast", TURNED, "RESET_N"]


def pad(number: str, x: float, net: str, name: str = "", kind: str = "passive") -> str:
    """One pad of a footprint; x in millimetres from the part's own place."""
    return (
        f'    (pad "{number}" smd rect (at {x} 0) (size 0.5 0.6) (layers "F.Cu" "F.Mask")\n'
        f'      (net {NETS.index(net)} "{net}") (pinfunction "{name}") (pintype "{kind}"))\n'
    )


def part(ref: str, value: str, package: str, x: float, y: float, *pads: str) -> str:
    """One footprint on the top side."""
    return (
        f'  (footprint "lib:{package}" (layer "F.Cu") (at {x} {y})\n'
        f'    (fp_text reference "{ref}" (at 0 -1) (layer "F.SilkS"))\n'
        f'    (fp_text value "{value}" (at 0 1) (layer "F.Fab"))\n{"".join(pads)}  )\n'
    )


def two(ref: str, value: str, package: str, x: float, y: float, a: str, b: str) -> str:
    """A part with two pads 1 mm apart."""
    return part(ref, value, package, x, y, pad("1", -0.5, a), pad("2", 0.5, b))


def small_board_text() -> str:
    """The whole file."""
    capacitors = [
        two(f"C{number}", "10uF", "C_0603_1608Metric", 10 + 2 * number, 10, "VSYS", "GND")
        for number in range(1, 7)
    ]
    parts = [
        part(
            "J1",
            "USB",
            "USB_C_Receptacle",
            2,
            5,
            pad("1", -0.5, "VBUS_5V", "VBUS", "power_out"),
            pad("2", 0.5, "GND", "GND", "power_out"),
        ),
        two("FB1", "600R@100MHz", "L_0603_1608Metric", 5.123456, 5, "VBUS_5V", "VSYS"),
        part(
            "U1",
            "AP2112K-3.3",
            "SOT-23-5",
            8,
            5,
            pad("1", -1, "VSYS", "VIN", "power_in"),
            pad("2", 0, "GND", "GND", "power_in"),
            pad("3", 1, "VSYS", "EN", "input"),
            pad("5", 2, "+3V3", "VOUT", "power_out"),
        ),
        part(
            "U2",
            "STM32F405",
            "LQFP-64",
            14,
            5,
            pad("1", -1.5, "+3V3", "VDD", "power_in"),
            pad("2", -0.7, "GND", "VSS", "power_in"),
            pad("3", 0.1, "SPI CLK, fast", "PA5", "bidirectional"),
            pad("4", 0.9, TURNED, "PA6", "bidirectional"),
            pad("5", 1.7, "RESET_N", "NRST", "input"),
        ),
        part(
            "U3",
            "W25Q128",
            "SOIC-8",
            20,
            5,
            pad("8", -1, "+3V3", "VCC", "power_in"),
            pad("4", 0, "GND", "GND", "power_in"),
            pad("6", 1, "SPI CLK, fast", "CLK", "input"),
            pad("2", 2, TURNED, "DO", "output"),
        ),
        *capacitors,
        two("C10", "100nF", "C_0402_1005Metric", 30, 10, "+3V3", "GND"),
        two("C11", "100nF", "C_0402_1005Metric", 32, 10, "+3V3", "GND"),
        two("R1", "10k", "R_0402_1005Metric", 34, 10, "+3V3", "RESET_N"),
        two("R9", "DNP", "R_0402_1005Metric", 36, 10, "VSYS", "+3V3"),
        two("H", "", "MountingHole", 1, 20, "GND", "GND"),
        two("H", "", "MountingHole", 40, 20, "GND", "GND"),
    ]
    nets = "".join(f'  (net {number} "{name}")\n' for number, name in enumerate(NETS))
    return (
        "(kicad_pcb (version 20211014) (generator pcbnew)\n"
        '  (general (thickness 1.6))\n  (layers (0 "F.Cu" signal) (31 "B.Cu" signal))\n'
        f"{nets}{''.join(parts)})\n"
    )


def write_small_board(folder: Path) -> Path:
    """The file ``small.kicad_pcb`` in a folder."""
    path = folder / "small.kicad_pcb"
    path.write_text(small_board_text(), encoding="utf-8")
    return path
