# SPDX-License-Identifier: GPL-3.0-or-later
"""Which voltage does a net's name promise? Only what is written there, never a guess.

The rules are common practice: no standard says how people name their rails. Where a name holds two
different voltages, or its sign or its decimal mark could be read in two ways, there is no answer.
"""

from __future__ import annotations

import re

# Names made by a program from a pin's name: the pin's voltage need not be the net's.
_AUTOMATIC = re.compile(
    r"(?:^|/)(?:Net|unconnected|no_connect|NoConnect|NC)-\(", re.IGNORECASE | re.ASCII
)
# Names that other programs and this one (hand traces) make where nobody gave one.
_NUMBERED = re.compile(r"(?:.*/)?(?:N\$[0-9]+|N-[0-9]+|NET_[^/]+\.[^/.]+|Net[0-9_]+)", re.ASCII)
# Overbars, as newer files write them and as older ones do (an unclosed "~" runs to the end).
_OVERBAR = re.compile(r"~\{[^{}]*\}|~[^~]*(?:~|$)")

_START = r"(?<![0-9.,])"
_VOLTS = re.compile(
    rf"{_START}(?:"
    # 3V3, 0V95, 12V0
    r"(?P<whole>[0-9]{1,3})V(?P<part>[0-9]{1,3})(?![0-9.])"
    # 1P8V, and 1P8 behind a V word: P for the decimal point
    r"|(?P<p_whole>[0-9]{1,2})P(?P<p_part>[0-9]{1,2})V(?![0-9])"
    # 3.3V, 5V, 18 V, 100mV, 2kV
    r"|(?P<plain>[0-9]{1,3}(?:[.,][0-9]{1,3})?) ?(?P<scale>[mKk]?)V(?P<tail>[A-Z]*)(?![0-9A-Z])"
    r")",
    re.IGNORECASE | re.ASCII,
)
_V_FIRST = re.compile(
    r"(?<![A-Z0-9])[AD]?V(?:CC|DD|CORE)?(?:IO|Q|A)?[_-]?"
    r"(?P<whole>[0-9]{1,2})[.P](?P<part>[0-9]{1,2})(?![0-9.])[A-Z]{0,2}(?![A-Z0-9])",
    re.IGNORECASE | re.ASCII,
)
_SIGN_ONLY = re.compile(r"[+-][0-9]{1,2}(?:\.[0-9]{1,2})?")
# Letters that make a V word with the V before them: in USB1VBUS the digit counts ports.
_V_WORD_TAIL = re.compile(
    r"(?:DD|CC|SS|EE|PP|TT|REF|BAT|BUS|IN|OUT|IO|CORE|SYS|SENSE|PROG|ALID)",
    re.IGNORECASE | re.ASCII,
)
_SUPPLY_TAIL = re.compile(r"(?:DD|CC|SS|EE|PP|TT|REF|BAT)", re.IGNORECASE | re.ASCII)
_NEGATIVE_WORD = re.compile(r"(?:NEG|MINUS)_?$", re.IGNORECASE | re.ASCII)
_MAYBE_NEGATIVE_LETTER = re.compile(r"(?<![A-Z])[NM]$", re.IGNORECASE | re.ASCII)
# VDD_1_8V is 1.8 V, USB1_5V may be 5 V, DDR1_5V may be 1.5 V: a digit, an underscore, a digit.
_UNDERSCORE_POINT = re.compile(r"(?<![0-9])[0-9]_$")
# Limits and ranges are no nominal: VBUS_20V_MAX, 5Vto24V.
_RATING = re.compile(r"(?<![A-Z])(?:ABS_?)?(?:MAX|RATED|PEAK)(?![A-Z])", re.IGNORECASE | re.ASCII)
_RANGE = re.compile(r"[0-9]V? ?(?:to|\.\.+|~) ?[0-9]", re.IGNORECASE | re.ASCII)
_LOOK_BACK = 32
_V_PREFIX = re.compile(r"V[A-Z]*$", re.IGNORECASE | re.ASCII)


def volts_in_name(name: str) -> float | None:
    """The voltage written in a net's name, in volts with its sign, or None.

    Only the last path segment counts, unless an earlier one tells other volts: in
    ``VCCQ_1V8/3V3`` the slash may be no path. Limits and ranges are no answer. What the net is for
    is decided elsewhere: "GND_5V_RET" gives 5.0 and "I2C1V8_SDA" 1.8. A name with two different
    voltages gives None.

    Parameters
    ----------
    name
        Any text; the name as the file has it.

    Examples
    --------
    >>> volts_in_name("+3V3"), volts_in_name("/LCD_5.0V"), volts_in_name("-12V")
    (3.3, 5.0, -12.0)
    >>> volts_in_name("USB2_DP") is None
    True
    """
    if _AUTOMATIC.search(name):
        return None
    *path, text = _OVERBAR.sub(" ", name.replace("{slash}", " ")).split("/")
    volts = _volts_of_segment(text.strip())
    if volts is None or any(_volts_of_segment(one.strip()) not in (None, volts) for one in path):
        return None
    return volts


def _volts_of_segment(text: str) -> float | None:
    if _RATING.search(text) or _RANGE.search(text):
        return None
    if _SIGN_ONLY.fullmatch(text):
        return float(text)
    found = {_volts(text, one) for one in _VOLTS.finditer(text) if _is_voltage(text, one)}
    for one in _V_FIRST.finditer(text):
        volts = float(f"{one['whole']}.{one['part']}")
        if volts != 0.0:
            found.add(-volts if text[: one.start()] == "-" else volts)
    return found.pop() if len(found) == 1 else None


def _is_voltage(text: str, found: re.Match[str]) -> bool:
    """Whether this digit-and-V is a voltage at all, and not a counter before a V word."""
    before = text[max(0, found.start() - _LOOK_BACK) : found.start()]
    attached = before[-1:].isalpha()
    after = text[found.end() :][:1]
    if found["plain"] is None:
        number = float(f"{found['whole'] or found['p_whole']}.{found['part'] or found['p_part']}")
        return number != 0.0 or not (attached or after.isalnum())
    number, tail = float(found["plain"].replace(",", ".")), found["tail"]
    if number == 0.0:
        return not (attached or tail or _UNDERSCORE_POINT.search(before))
    if found["scale"] == "M":
        return False
    if not found["plain"].isdigit():
        return True
    if attached and number in {1, 2, 4} and not tail:
        return _V_PREFIX.search(before) is not None
    if attached and tail:
        return number >= 3 and not _V_WORD_TAIL.match(tail)
    return not _SUPPLY_TAIL.match(tail)


def _volts(text: str, found: re.Match[str]) -> float | None:
    """A voltage's size and sign; None when a letter could be a minus or "_" a decimal mark."""
    before = text[max(0, found.start() - _LOOK_BACK) : found.start()]
    if _MAYBE_NEGATIVE_LETTER.search(before):
        return None
    plain = found["plain"]
    if plain is not None and len(plain) == 1 and _UNDERSCORE_POINT.search(before):
        return None
    if plain is not None:
        power = {"": 0, "m": -3, "k": 3, "K": 3}[found["scale"]]
        volts = float(f"{plain.replace(',', '.')}e{power}")
    else:
        volts = float(f"{found['whole'] or found['p_whole']}.{found['part'] or found['p_part']}")
    negative = before == "-" or before[-2:] in {"_-", " -", "(-"} or _NEGATIVE_WORD.search(before)
    return -volts if negative else volts


def is_made(name: str) -> bool:
    """Whether a program made the name, from a pin or a number: nobody called the net so.

    >>> is_made("Net-(R1-Pad2)"), is_made("unconnected-(J3-Pad2)"), is_made("NET_U1.3")
    (True, True, True)
    >>> is_made("/power/VSYS")
    False
    """
    return _AUTOMATIC.search(name) is not None or _NUMBERED.fullmatch(name) is not None


def quoted(name: str) -> str:
    """The name as it stands in a list: in quotes if it holds a comma.

    >>> quoted("VSYS"), quoted("SD, audio/MIC")
    ('VSYS', "'SD, audio/MIC'")
    """
    return f"'{name}'" if "," in name else name
