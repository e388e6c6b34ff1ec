# SPDX-License-Identifier: GPL-3.0-or-later
"""Whether two spellings in two files of one board mean the same."""

from __future__ import annotations

import re
from math import isclose

from netgraph.quantity import QuantityKind, find_quantity, find_volts

_KINDS: dict[str, QuantityKind] = {"R": "resistance", "C": "capacitance", "L": "inductance"}
"""Letters of designators (IEEE 315) whose values are numbers."""


def same_footprint(one: str, two: str) -> bool:
    """Whether two footprints have one name, whatever library they are from."""
    return _plain(one.rpartition(":")[2]) == _plain(two.rpartition(":")[2])


def same_value(ref: str, one: str, two: str) -> bool:
    """Whether two texts name one value of a part; ratings count where both tell them.

    >>> same_value("C1", "100nF", "0.1uF 16V"), same_value("C1", "1u/16V", "1u/25V")
    (True, False)
    >>> same_value("R1", "10k", "10 kOhm"), same_value("U1", "10k", "10 kOhm")
    (True, False)
    """
    return _plain(one) == _plain(two) or same_quantity(ref, one, two) is True


def same_quantity(ref: str, one: str, two: str) -> bool | None:
    """Whether two texts name one resistance, capacitance or inductance; None where either names
    no number.
    """
    letters = re.match(r"[A-Za-z]*", ref.rpartition("/")[2])
    kind = _KINDS.get(letters[0].upper() if letters else "")
    if kind is None:
        return None
    a, b = find_quantity(one, kind), find_quantity(two, kind)
    if a is None or b is None:
        return None
    volts = find_volts(one), find_volts(two)
    return isclose(a.value, b.value, rel_tol=1e-6) and (not all(volts) or volts[0] == volts[1])


def _plain(text: str) -> str:
    return "".join(text.split()).casefold().replace("µ", "u").replace("μ", "u").replace("ω", "")
