# SPDX-License-Identifier: GPL-3.0-or-later
"""Which pins of a chip take power, give power, or only look: by pin name and type."""

from __future__ import annotations

import re
from typing import Literal

from netgraph.roles.wiring import Pin, Wiring

PinUse = Literal["in", "out", "sense", "enable", "switch", "ground", "other"]

_IN = re.compile(
    r"(?:\+?[ADP]?V?IN\d?[AB]?\+?|PVIN.*|AVIN.*|VIN[A-Z0-9_]*|VCC.*|VDD.*|DVDD.*|AVDD.*|VBUS.*|VBAT.*|VPWR|"
    r"VSUP.*|VM|V\+|VP|VS|VBB|VI|VUSB|DC_?IN|ACIN|CHGIN|INPUT|VREG_?(?:VIN|IN|AVDD|VDD)|PIN|SUPPLY|"
    r".*LDO\d*_?IN|.*DCDC\d*_?IN|IN_.*|.*_IN|LDO\d*IN)",
    re.IGNORECASE,
)
_OUT = re.compile(
    r"(?:\+?V?OUT\d?[A-Z]?\+?|OUTPUT|\+VO|VOUT.*|VO\d?|OUT_.*|SYS\d?|VSYS|PMID|REGN|"
    r"VREG(?!_?(?:VIN|IN|AVDD|VDD|LX|SW|FB|PGND)).*|[ADE]?LDO\d*|.*LDO\d+(?:_?OUT)?|"
    r"LDO.*OUT|.*_OUT|VCORE|DCDC\d+|VDD_?OUT|BATOUT|VLDO.*|LDO_.*|BUCK\d_?OUT)",
    re.IGNORECASE,
)
_SENSE = re.compile(
    r"(?:V?FB\d?.*|.*_?FB\d?|VSENSE.*|.*SENSE.*|VOSNS?|VOS|SNS.*|.*SNS|ADJ|IN\+|IN-|IS\+|IS-|VIN[+-]|"
    r"V?COMP|FEEDBACK|V[O_]?_?SENS?\d?|VO_S|VTAP|FB_.*|.*_FB|CS[PN+-]?|ISEN.*|PGND_?SNS)",
    re.IGNORECASE,
)
FEEDBACK_PIN = re.compile(
    r"(?:V?FB\d?|ADJ|VADJ|FB_.*|.*_FB|FEEDBACK|V?SENSE\d?|VOSNS)", re.IGNORECASE
)
"""Names of the pin by which a converter watches its output."""
_ENABLE = re.compile(
    r"(?:~?\{?(?:C?EN|ENABLE|ON|ON/OFF|SHDN|SHUTDOWN|CE|PWRON|PWR_?EN|EN/.*|EN_.*|EN\d+|EN[A-Z]{1,3}|RUN|STBY|INH)\}?\d*)",
    re.IGNORECASE,
)
_SWITCH = re.compile(
    r"(?:V?SW\d*[A-Z]?|SWOUT|LX\d*[A-Z]?|PH(?:ASE)?\d*|L\d?|LX_.*|SW_.*|.*_SW|.*_LX)", re.IGNORECASE
)
_GROUND = re.compile(r"(?:[ADPS]?GND.*|VSS.*|EP|EPAD|PAD|GROUND|V-)", re.IGNORECASE)


def use_of_pin(pin: Pin) -> PinUse:
    """What a chip's pin is for. A pin without a name and a telling type is ``other``.

    Names come before types: symbols often call every supply pin an input.
    """
    name = pin.name
    if name and name != "~":
        plain = name.replace("~{", "").replace("}", "")
        for use, pattern in _ORDER:
            if pattern.fullmatch(plain):
                return use
    if pin.type == "power_out":
        return "out"
    if pin.type == "power_in":
        return "in"
    return "other"


_ORDER: tuple[tuple[PinUse, re.Pattern[str]], ...] = (
    ("ground", _GROUND),
    ("sense", _SENSE),
    ("enable", _ENABLE),
    ("switch", _SWITCH),
    ("out", _OUT),
    ("in", _IN),
)


def uses_on(wiring: Wiring, part: int, net: int) -> set[PinUse]:
    """All uses of the pins by which a part touches a net."""
    return {use_of_pin(pin) for pin in wiring.pins_on(part, net)}


def has_pin_names(wiring: Wiring, part: int) -> bool:
    """Whether the file names this part's pins."""
    return any(pin.name and pin.name != "~" and pin.name != pin.number for pin in wiring.pins[part])
