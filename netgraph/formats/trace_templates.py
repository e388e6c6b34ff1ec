# SPDX-License-Identifier: GPL-3.0-or-later
"""Plain templates of devices for which there is no board file: every line is assumed.

What usually is there, from entry and cell to the loads (common practice, no source). No net
carries volts that would be believed: no answer about a template is ever sure.
"""

from __future__ import annotations

from dataclasses import dataclass

from netgraph.formats.hand_trace import HEAD_LINE


@dataclass(frozen=True)
class Template:
    """A kind of device: its title, nets with their pads, and what its parts are."""

    title: str
    nets: tuple[str, ...]
    parts: tuple[str, ...]


_PHONE = Template(
    "phone or tablet: one cell, a power manager, processor with memory and storage",
    (
        "J1.1 U1.1 : VBUS",
        "J2.1 U1.2 : VBAT",
        "U1.3 U2.1 C1.1 C2.1 U6.1 : VSYS",
        "U2.2 U3.1 C3.1 : VDD_CORE",
        "U2.3 U3.2 U4.1 C4.1 : VDD_MEM",
        "U2.4 U3.3 U5.1 U4.2 C5.1 : VDD_IO",
        "U2.5 U5.2 C6.1 : VDD_STORAGE",
        "U3.4 U5.3 : STORAGE_CLK",
        "U3.5 U5.4 : STORAGE_D0",
        "U3.6 U4.3 : MEM_CLK",
        "U3.7 U2.6 : PWR_SDA",
        "U3.8 U2.7 : PWR_SCL",
        "J1.2 J2.2 U1.4 U2.8 U3.9 U4.4 U5.5 U6.2 C1.2 C2.2 C3.2 C4.2 C5.2 C6.2 : GND",
    ),
    (
        "J1 = USB USB_C_Receptacle",
        "J2 = Battery BATTERY_CONNECTOR",
        "U1 = charger WLCSP-36",
        "U2 = PMIC BGA-169",
        "U3 = processor FBGA-700",
        "U4 = LPDDR4 FBGA-200",
        "U5 = eMMC BGA-153",
        "U6 = radio BGA-100",
    ),
)

_LAPTOP = Template(
    "laptop: adapter and pack, a power controller, converters with coils",
    (
        "J1.1 Q1.1 : VIN_ADAPTER",
        "Q1.2 U1.1 C1.1 : VIN_CHARGER",
        "J2.1 U1.2 : VBAT_PACK",
        "U1.3 U2.1 U7.1 C2.1 : VSYS_MAIN",
        "U2.2 L1.1 : SW_A",
        "L1.2 U8.1 U6.1 C3.1 : VALW_A",
        "U7.2 L2.1 : SW_B",
        "L2.2 U3.1 C4.1 : VCORE",
        "U8.2 U3.2 U4.1 U5.1 C5.1 : VRUN_IO",
        "U3.3 U4.2 : MEM_CLK",
        "U3.4 U5.2 : STORAGE_CLK",
        "U6.2 U8.3 : RUN_EN",
        "J1.2 J2.2 U1.4 U2.3 U3.5 U4.3 U5.3 U6.3 U7.3 U8.4 C1.2 C2.2 C3.2 C4.2 C5.2 : GND",
    ),
    (
        "J1 = adapter Barrel_Jack",
        "J2 = Battery BATTERY_CONNECTOR",
        "Q1 = MOSFET SO-8",
        "U1 = charger QFN-28",
        "U2 = regulator QFN-20",
        "U3 = processor FBGA-1500",
        "U4 = DDR4 FBGA-96",
        "U5 = SSD BGA-291",
        "U6 = controller LQFP-128",
        "U7 = regulator QFN-24",
        "U8 = load-switch QFN-12",
        "L1 = 2.2uH 7x7",
        "L2 = 0.22uH 10x7",
    ),
)

_MAINS = Template(
    "box fed by an adapter: no cell, converters to core and I/O rails",
    (
        "J1.1 F1.1 : VIN",
        "F1.2 U1.1 U2.1 C1.1 : VSYS",
        "U1.2 L1.1 : SW_A",
        "L1.2 U3.1 U5.1 C2.1 : VDD_IO",
        "U2.2 L2.1 : SW_B",
        "L2.2 U3.2 C3.1 : VDD_CORE",
        "U3.3 U5.2 : STORAGE_CLK",
        "U3.4 U4.1 : MEM_CLK",
        "U4.2 U5.3 C4.1 : VDD_MEM",
        "J1.2 U1.3 U2.3 U3.5 U4.3 U5.4 C1.2 C2.2 C3.2 C4.2 : GND",
    ),
    (
        "J1 = adapter Barrel_Jack",
        "F1 = fuse 1206",
        "U1 = regulator SOT-23-6",
        "U2 = regulator SOT-23-6",
        "U3 = processor FBGA-400",
        "U4 = DDR4 FBGA-96",
        "U5 = eMMC BGA-153",
        "L1 = 2.2uH 4x4",
        "L2 = 2.2uH 4x4",
    ),
)

_POCKET = Template(
    "camera, recorder or other pocket device: one cell, small converters, a storage chip",
    (
        "J1.1 U1.1 : VBUS",
        "J2.1 U1.2 : VBAT",
        "U1.3 U2.1 U6.1 C1.1 : VSYS",
        "U2.2 L1.1 : SW_A",
        "L1.2 U3.1 U5.1 C2.1 : VDD_IO",
        "U6.2 U3.2 C3.1 : VDD_CORE",
        "U3.3 U5.2 : STORAGE_CLK",
        "U3.4 U5.3 : STORAGE_D0",
        "J1.2 J2.2 U1.4 U2.3 U3.5 U5.4 U6.3 C1.2 C2.2 C3.2 : GND",
    ),
    (
        "J1 = USB USB_C_Receptacle",
        "J2 = Battery BATTERY_CONNECTOR",
        "U1 = charger QFN-16",
        "U2 = regulator SOT-23-5",
        "U3 = processor FBGA-300",
        "U5 = eMMC BGA-153",
        "U6 = regulator SOT-23-5",
        "L1 = 2.2uH 3x3",
    ),
)

TEMPLATES: dict[str, Template] = {
    "phone": _PHONE,
    "laptop": _LAPTOP,
    "pocket": _POCKET,
    "box": _MAINS,
}


def template_text(device: str) -> str:
    """The template as a hand-traced netlist, every line assumed.

    Raises
    ------
    KeyError
        There is no template of this name.
    """
    chosen = TEMPLATES[device]
    lines = [
        HEAD_LINE,
        f"# template: {device}",
        "# every line that begins with ~ is assumed; what is traced takes its place",
        *(f"~ {line}" for line in chosen.parts),
        *(f"~ {line}" for line in chosen.nets),
    ]
    return "\n".join(lines) + "\n"
