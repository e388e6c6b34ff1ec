# SPDX-License-Identifier: GPL-3.0-or-later
"""Numbers as people and files write them: part values, volts, millimetres.

`parse_quantity` is strict and knows markings, so "220" on a resistor is the code for 22 ohm.
`find_quantity` reads a schematic's value text, where the same "220" means 220 ohm.
No numpy here: this module is loaded at each start.
"""

from __future__ import annotations

import re
from decimal import ROUND_HALF_EVEN, Context, Decimal
from math import isfinite

from netgraph.net_names import volts_in_name
from netgraph.preferred import (
    TOLERANCES,
    Tolerance,
    decode_eia96,
    e_series,
    nearest_e,
    tolerance_of,
)
from netgraph.quantity import (
    CHIP_CODES,
    Quantity,
    QuantityError,
    QuantityKind,
    find_quantity,
    find_volts,
    parse_quantity,
)

__all__ = [
    "CHIP_CODES",
    "TOLERANCES",
    "Quantity",
    "QuantityError",
    "QuantityKind",
    "Tolerance",
    "decode_eia96",
    "e_series",
    "find_quantity",
    "find_volts",
    "format_mm",
    "format_quantity",
    "mm_from_nm",
    "mm_text",
    "nearest_e",
    "nm_from_mm_text",
    "ohms_text",
    "parse_quantity",
    "tolerance_of",
    "volts_in_name",
]


# --- For people ---------------------------------------------------------------------------------

_SIGNS = {"ohm": "Ω", "farad": "F", "henry": "H", "volt": "V", "ampere": "A", "watt": "W"} | {
    "second": "s",
    "hertz": "Hz",
    "joule": "J",
    "siemens": "S",
    "kelvin": "K",
    "metre": "m",
}
_PREFIXES = {-15: "f", -12: "p", -9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M", 9: "G", 12: "T"}
_WITHOUT_PREFIX = frozenset({"", "%", "°C", "mm", "kelvin", "K"})


def format_quantity(value: float, unit: str, digits: int = 3) -> str:
    """A number with its unit for people, with a prefix in steps of a thousand.

    Parameters
    ----------
    value
        In SI units; not a number and infinities are written out as words.
    unit
        A unit's name ("ohm", "volt") or its sign ("Ω", "V"); "%", "°C" and "mm" get no prefix.
    digits
        Significant digits, trailing zeros are left away.

    Examples
    --------
    >>> format_quantity(4700, "ohm"), format_quantity(0.0125, "A"), format_quantity(3.3, "V")
    ('4.7 kΩ', '12.5 mA', '3.3 V')
    """
    sign = _SIGNS.get(unit, unit)
    if not isfinite(value):
        return f"{'not a number' if value != value else 'infinite'} {sign}".strip()
    rounded = Context(prec=digits, rounding=ROUND_HALF_EVEN).create_decimal(repr(float(value)))
    power = 0
    if rounded and unit not in _WITHOUT_PREFIX:
        power = max(-15, min(12, rounded.adjusted() // 3 * 3))
    number = format(rounded.scaleb(-power), "f")
    if "." in number:
        number = number.rstrip("0").rstrip(".")
    if number in {"", "-0", "-"}:
        number = "0"
    return f"{number} {_PREFIXES[power]}{sign}".strip()


def ohms_text(value: float) -> str:
    """A resistance for a sentence, in plain letters.

    >>> ohms_text(0.09), ohms_text(1900.0), ohms_text(2.2e6), ohms_text(float("inf"))
    ('0.09 ohm', '1.9 kohm', '2.2 Mohm', 'over range')
    """
    if not isfinite(value):
        return "over range"
    if value < 1000:
        return f"{value:.3g} ohm"
    return format_quantity(value, "ohm").replace("Ω", "ohm")


# --- Lengths: integer nanometres ------------------------------------------------------------------

_DECIMAL = re.compile(r"([+-]?)([0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE]([+-]?[0-9]+))?")
_LONGEST_NUMBER = 64


def nm_from_mm_text(text: str) -> int:
    """Nanometres from a decimal text in millimetres, exactly; never over a float.

    A seventh decimal is rounded half away from zero, as the board files' own program does.

    Raises
    ------
    QuantityError
        Not a plain decimal number, longer than 64 characters, or above 1e12 mm.

    Examples
    --------
    >>> nm_from_mm_text("1.27"), nm_from_mm_text("-0.0000005"), nm_from_mm_text("1e-3")
    (1270000, -1, 1000)
    """
    found = _DECIMAL.fullmatch(text) if len(text) <= _LONGEST_NUMBER else None
    if found is None:
        raise QuantityError(f"{text[:_LONGEST_NUMBER]!r} is no decimal number")
    sign, mantissa, exponent = found.groups()
    whole, _, part = mantissa.partition(".")
    digits = (whole + part).lstrip("0")
    if not digits:
        return 0
    shift = int(exponent or 0) - len(part) + 6
    if len(digits) + shift > 18:
        raise QuantityError(f"{text!r} mm is too far away")
    if shift >= 0:
        size = int(digits + "0" * shift)
    elif len(digits) + shift < 0:
        size = 0
    else:
        size = (int(digits) * 2 // int("1" + "0" * -shift) + 1) // 2
    return -size if sign == "-" else size


def mm_from_nm(length_nm: int) -> float:
    """Millimetres as the nearest float, for numbers that leave as JSON.

    >>> mm_from_nm(1270000)
    1.27
    """
    return length_nm / 1_000_000


def mm_text(length_nm: int) -> str:
    """Millimetres as the shortest exact decimal text; reading it back gives the same length.

    >>> mm_text(1270000), mm_text(-5), mm_text(0)
    ('1.27', '-0.000005', '0')
    """
    whole, part = divmod(abs(length_nm), 1_000_000)
    text = f"{whole}.{part:06d}".rstrip("0").rstrip(".")
    return f"-{text}" if length_nm < 0 else text


def format_mm(length_nm: int, decimals: int = 2) -> str:
    """A length for people, rounded to so many decimals of a millimetre.

    >>> format_mm(254000), format_mm(1_000_000), format_mm(-1_270_500)
    ('0.25 mm', '1 mm', '-1.27 mm')
    """
    rounded = Decimal(length_nm).scaleb(-6).quantize(Decimal(1).scaleb(-decimals))
    number = format(rounded, "f")
    if "." in number:
        number = number.rstrip("0").rstrip(".")
    return f"{'0' if number == '-0' else number} mm"
