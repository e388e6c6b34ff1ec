# SPDX-License-Identifier: GPL-3.0-or-later
"""Words in the names of nets and pins that tell what a net is for: common practice, no source.

None is known from one maker only; names from all test boards and general drawings went in.
"""

from __future__ import annotations

import re

from netgraph.roles.answer import NetKind


def _words(*parts: str) -> re.Pattern[str]:
    return re.compile("".join(parts), re.IGNORECASE)


_SUPPLY_WORD = (
    "CC|DD|EE|SYS|BUS|BATT?|IN|OUT|PP|IO|CORE|AUX|MAIN|EXT|LDO|REG|LED|DC|MEM|CPU|GPU|SOC|RTC|ANA|"
    "DIG|RF|PLL|TERM|TT|BOOST|SUP|PWR|USB"
)
_CONTROL_WORD = "CTRL|CTL|DET|EN|SEL|SNS|SENSE|MON|OK|PG|OC|FLT"

SUPPLY_NAME = _words(
    rf"(?:^|[^A-Za-z])(?:[ADPUXSE]?V(?:{_SUPPLY_WORD})(?!_?(?:{_CONTROL_WORD}))[A-Z0-9]*|",
    r"V\+|AVCC|DVCC|DCIN|DC_IN|PWR|POWER|SUPPLY|BATT?(?:ERY)?\+?|VAA|LDO\d*(?:_?OUT)?|",
    r"DCDC\d*|[ADEI]?LDO\d?|VREG[A-Z0-9]*|B\+)(?:$|[^A-Za-z]|_)",
)
"""A word of a supply in a net's name."""

SIGNAL_NAME = _words(
    r"(?:^|[_.\-/ ~{])(?:EN|ENABLE|EN\d?|PG|PGOOD|PWRGD|POK|SENSE|SNS|DET|DETECT|SEL|OK|GOOD|",
    r"FAULT|FLT|INT|IRQ|STAT|STATUS|CTRL|CTL|ON|OFF|KEY|BTN|LED\d?|MON|ADC|DIV|FB|ALERT|WAKE|",
    r"PWM|ID|TS|RST|RESET|SHDN|STBY|DIM|CLK|SCL|SDA|TEMP|NTC|THM|THERM|BLEED|MOTOR|LX|SW)",
    r"\d*[}#]?(?:_?N|_?B)?(?:$|[_.\-/ }])|",
    r"PWR_?(?:ON|KEY|BTN|EN|OK|GD)|POWER_?(?:ON|KEY|BTN|GOOD|OK|EN)",
)
"""A word that makes a net a signal though a supply's word stands beside it."""

WEAK_SIGNAL_WORD = _words(r"(?:CTRL|CTL|ON|INT|MON|LED\d?)")
SUPPLY_END = _words(r"(?:VDD|VCC|VSYS|VIN|VOUT|AVDD|DVDD|VBUS|VBAT)\d*$")
INPUT_NAME = _words(r"VBUS|VBAT|V_?IN\b|DC_?IN|VUSB")

KIND_NAMES: tuple[tuple[NetKind, re.Pattern[str]], ...] = (
    (
        "reset",
        _words(
            r"(?:^|[^A-Z])(?:(?:N|SYS|CPU|S|T|P)?RST|N?RESET|POR|MR|MCLR)(?:[-_#}0-9]|N\b|N$|[BXIO]-?$|$)"
        ),
    ),
    (
        "enable",
        _words(
            r"(?:^|[^A-Z])(?:EN|ENABLE|SHDN|PWR_?EN|PWREN|PWR_?ON|VBUS_?EN|OE)(?:[-_#}0-9]|N$|$)|",
            r"[A-Z]{2,4}ENABLE$|(?:^|[^A-Z])(?:OE[BN]|EN\d?V[A-Z0-9]{0,3}|DRV_?VBUS)$|_ON$|-DRV$",
        ),
    ),
    (
        "clock",
        _words(
            r"(?:^|[^A-Z])(?:[A-Z]{0,5}CLK[A-Z0-9]{0,3}|CLOCK|XTAL[A-Z0-9_]*|X(?:IN|OUT)\d*|",
            r"OSC[A-Z0-9_]*|[A-Z0-9]{0,3}CK)(?:[_+#\-}0-9]|$)",
        ),
    ),
    (
        "bus",
        _words(
            r"(?:^|[^A-Z])(?:SDA|SCL|MOSI|MISO|SPI|I2C|UART|U?TXD?|U?RXD?|D[QMP]S?\d*|SDIO|MMC|",
            r"EMMC|DDR|USB|HDMI|MIPI|LVDS|DSI|CSI|I2S|JTAG|SW(?:DIO|CLK)|TDI|TDO|TMS|RGMII|MDIO|",
            r"MDC|ULPI|PCIE|SATA|CAN|LCD|TWI|CMD|DAT\d|[AD]\d+|[DA]\[\d+\])|",
            r"(?:^|[_\-])(?:SI|SO|CS\d?|SS|[RT]X\d?|IO\d)$|(?:^|[^A-Z])[A-Z]?\d?D[+-]$",
        ),
    ),
)
"""Kinds by name, tried in this order."""

SUPPLY_PIN = _words(
    r"(?!.*(?:SENSE|SNS|DET|MON|_EN|_OK|_PG|FLT|_SEL)$)",
    r"(?:[ADPUV]?V(?:DD|CC|BUS|BAT|SYS|IN|SUP|PP|IO|M|REG)[A-Z0-9_/.]*|AVDD.*|DVDD.*|PVDD.*|",
    r"IOVDD.*|VCC.*|VDD.*|VBAT.*|V\+|PVIN\d*|AVIN\d*|VIN\d*|IN\d?|VM|VS|VPP.*|VCORE.*|VUSB.*|",
    r"VREGIN)",
)
OUTPUT_PIN = _words(
    r"VOUT[A-Z0-9_]*|OUT\d?|VO|LDO[A-Z0-9_]*|DCDC[A-Z0-9_]*|VREGOUT|SYS|VSYS|PMID|REGN"
)
FEEDBACK_PIN = _words(r"(?:V?FB\d?|VSENSE|ADJ|FB_.*|.*_FB|FEEDBACK|VOSNS|COMP)\d?")
REFERENCE_NAME = _words(
    r"(?:^|[_.\-/])V?COM(?:$|[_.\-0-9])|V?REF(?:$|[PN]$|[_.\-/0-9+A-Z])|VREF|[_.\-]REF\b|",
    r"VTT_?REF|AREF|VCM\b|VMID|BIAS",
)
PLAIN_REFERENCE = _words(r"(?:.*[_.\-/])?(?:[AV]REF(?:[PN+-]|\d)?|REF[PN+-]?)|.*_VREF|VREF_.*")
"""A whole name that says reference, with no clock or input about it."""
CAPACITOR_PIN = _words(r"V?CAP\w*|V?REG\w*|\w*LDO\w*|DCAP\w*|VCORE\w*|BYP\w*|\w*_?CAP|V\d[PV]\d\w*")
"""Pins that a chip has for the capacitor of its own regulator."""
VOLT_RANGE = _words(r"(?:^|[^0-9.,])0(?:\s*(?:-|_|\.\.|TO)\s*)\d+(?:[.,]\d+)?\s*V")
"""A range from 0 volts: a signal's swing, no supply."""
OWN_CONVERTER_PIN = _words(r".*(?:SW|LX|DCC|DCDC|PHASE).*")
USB_SUPPLY_PINS = frozenset(("1", "A4", "A9", "B4", "B9"))
"""Numbers of the supply pins of USB connectors (types A, B, mini, micro: 1; type C: four)."""
INPUT_PART = _words(
    r"USB|BATT?|JACK|DC-?0|BARREL|POWER|PWR|LIPO|JST|POE|RJ45|TERMINAL|XT30|XT60|CELL"
)
"""A connector through which power usually comes in, by its reference, value or footprint."""
GENERATED_PIN = re.compile(r"Net-\([^-()]+-(?!Pad)([^()]+)\)")
GENERATED_NAME = re.compile(r"Net-\(|unconnected-\(|N\$\d+")


def is_generated(name: str) -> bool:
    """Whether a net's name was made by a program and says nothing of its use."""
    return GENERATED_NAME.search(name) is not None


def is_signal_name(last: str) -> bool:
    """Whether a name tells of a signal; "CTRL_VDD" is a supply, "EN_VDD" is none."""
    found = SIGNAL_NAME.search(last)
    if found is None:
        return False
    weak = WEAK_SIGNAL_WORD.search(found.group(0))
    return weak is None or SUPPLY_END.search(last) is None
