# SPDX-License-Identifier: GPL-3.0-or-later
"""Preferred numbers, tolerance letters and the two-digit resistor marking built on them."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from math import floor, inf, isfinite, log10
from typing import Literal, get_args

Series = Literal[3, 6, 12, 24, 48, 96, 192]

# IEC 60063: the two-digit series are older than the formula and do not follow it.
_E24 = tuple(
    int(one) / 10
    for one in re.findall(
        "[0-9]+", "10 11 12 13 15 16 18 20 22 24 27 30 33 36 39 43 47 51 56 62 68 75 82 91"
    )
)


@cache
def _mantissas(n: int) -> tuple[float, ...]:
    if n <= 24:
        return _E24[:: 24 // n]
    # The one published exception to the rounded formula is 9.20 in E192 (the formula gives 9.19).
    rounded = (round(10 ** (i / n), 2) for i in range(n))
    return tuple(9.2 if one == 9.19 else one for one in rounded)


def e_series(n: Series) -> Iterator[float]:
    """The mantissas of a preferred series of IEC 60063, from 1.0 to below 10, rising.

    Raises
    ------
    ValueError
        `n` is not one of 3, 6, 12, 24, 48, 96, 192.

    Examples
    --------
    >>> list(e_series(6))
    [1.0, 1.5, 2.2, 3.3, 4.7, 6.8]
    """
    if n not in get_args(Series):
        raise ValueError(f"no series E{n}")
    return iter(_mantissas(n))


def nearest_e(value: float, n: Series) -> float:
    """The preferred value nearest to `value` by ratio; of two equally near, the lower one.

    Raises
    ------
    ValueError
        `value` is not a positive finite number, or there is no such series.

    Examples
    --------
    >>> nearest_e(4800, 24)
    4700.0
    """
    if not (isfinite(value) and value > 0):
        raise ValueError(f"{value!r} is no positive number")
    mantissas = tuple(e_series(n))
    decade = floor(log10(value))
    places = [
        float(f"{one!r}e{power}") for power in (decade - 1, decade, decade + 1) for one in mantissas
    ]
    index = bisect_left(places, value)
    near = [one for one in places[max(index - 1, 0) : index + 1] if 0 < one < inf]
    return min(near, key=lambda one: max(one / value, value / one))


_EIA96_POWERS = {"Z": -3, "Y": -2, "R": -2, "X": -1, "S": -1, "A": 0, "B": 1, "H": 1} | {
    "C": 2,
    "D": 3,
    "E": 4,
    "F": 5,
}


def decode_eia96(marking: str) -> float:
    """Ohm of the marking "two digits and a letter" on 1 % chip resistors.

    The digits count the E96 values from 01 to 96, the letter multiplies.

    Raises
    ------
    ValueError
        Not such a marking.

    Examples
    --------
    >>> decode_eia96("66B")
    4750.0
    """
    found = re.fullmatch(r"([0-9]{2})([ZYRXSABHCDEF])", marking)
    if found is None or not 1 <= int(found[1]) <= 96:
        raise ValueError(f"{marking!r} is no EIA-96 marking")
    significand = round(100 * _mantissas(96)[int(found[1]) - 1])
    return float(f"{significand}e{_EIA96_POWERS[found[2]]}")


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far a value may lie above and below its name, in per cent or picofarad."""

    plus: float
    minus: float
    unit: Literal["%", "pF"] = "%"


# IEC 60062: F and K confirmed in a public summary, the other letters from memory.
TOLERANCES: dict[str, Tolerance] = {
    letter: Tolerance(share, share)
    for letter, share in (
        ("E", 0.005), ("L", 0.01), ("P", 0.02), ("W", 0.05), ("B", 0.1), ("C", 0.25),
        ("D", 0.5), ("F", 1), ("G", 2), ("H", 3), ("J", 5), ("K", 10), ("M", 20), ("N", 30),
    )
} | {
    "Q": Tolerance(30, 10),
    "T": Tolerance(50, 10),
    "S": Tolerance(50, 20),
    "Z": Tolerance(80, 20),
}  # fmt: skip
SMALL_CAPACITOR_TOLERANCES: dict[str, Tolerance] = {
    letter: Tolerance(picofarad, picofarad, "pF")
    for letter, picofarad in (("B", 0.1), ("C", 0.25), ("D", 0.5), ("F", 1), ("G", 2))
}


def tolerance_of(letter: str, *, farad: float | None = None) -> Tolerance | None:
    """What a tolerance letter stands for; None for a letter that has no meaning.

    `farad` is the value of the capacitor it stands on: below 10 pF some letters mean picofarad.
    """
    if farad is not None and farad < 10e-12 and letter in SMALL_CAPACITOR_TOLERANCES:
        return SMALL_CAPACITOR_TOLERANCES[letter]
    return TOLERANCES.get(letter)
