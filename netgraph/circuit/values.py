# SPDX-License-Identifier: GPL-3.0-or-later
"""What does a part conduct at rest? Its own value, else a table; each with source and spread."""

from __future__ import annotations

import csv
import math
import re
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import dropwhile
from typing import Final

from netgraph.circuit.network import Basis

USUAL_TOLERANCE: Final = 0.05
"""Of a resistor whose text names none [practice]."""
INSULATION_OHM_FARAD: Final = 50.0
"""Least insulation of high-capacitance ceramics, the lowest class [mlcc]."""
INSULATION_LEAST_OHM, INSULATION_MOST_OHM = 1e6, 1e10
INSULATION_SD: Final = 1.2
"""Makers state a least value; real parts lie up to ten times above it [practice]."""
_TOLERANCE = re.compile(r"(?<![0-9.])([0-9]{1,2}(?:\.[0-9]{1,2})?) ?%")
_COIL_OHM = re.compile(
    r"DCR ?(?P<sign>[<=\u2264]{0,2}) ?(?P<number>[0-9]*\.?[0-9]+) ?(?P<milli>m?)"
)
_SCHOTTKY = re.compile(
    r"schottky|1N58[0-9]{2}|B?5819|SS[1-9][0-9]|SK[1-9][0-9]|BAT[0-9]{2}|MBR|SR[0-9]{3}", re.I
)
_SILICON = re.compile(r"1N4[0-9]{3}|4148|BA[SVW][0-9]{2}|silicon|LL4148|1N914", re.I)


@dataclass(frozen=True, slots=True)
class Resistance:
    """Ohms with the standard deviation of their logarithm, and where they come from."""

    ohm: float
    sd: float
    basis: Basis
    source: str


@dataclass(frozen=True, slots=True)
class JunctionLaw:
    """A model junction at 300 K; `sd` is that of ln Is."""

    saturation: float
    emission: float
    series_ohm: float
    sd: float
    volts_per_kelvin: float
    basis: Basis
    source: str


def _rows(name: str) -> list[dict[str, str]]:
    text = files("netgraph.circuit").joinpath(f"tables/{name}.csv").read_text(encoding="utf-8")
    lines = dropwhile(lambda line: line.startswith("#"), text.splitlines())
    return list(csv.DictReader(lines))


@cache
def resistances() -> dict[str, Resistance]:
    """Stated defaults by key of ``tables/resistances.csv``."""
    return {
        row["key"]: Resistance(float(row["ohm"]), float(row["sd_ln"]), "default", row["source"])
        for row in _rows("resistances")
    }


@cache
def junction_laws() -> dict[str, JunctionLaw]:
    """Model junctions by key of ``tables/junctions.csv``."""
    return {
        row["key"]: JunctionLaw(
            float(row["saturation_a"]),
            float(row["emission"]),
            float(row["series_ohm"]),
            float(row["sd_ln"]),
            float(row["volts_per_kelvin"]),
            "table",
            row["source"],
        )
        for row in _rows("junctions")
    }


def resistor(ohm: float | None, value: str, default: str = "resistor") -> Resistance:
    """Resistance of a resistor; its tolerance by its text, else 5 %.

    A tolerance is taken as the half width of a rectangle: its standard deviation is that by the
    square root of three.

    >>> one = resistor(4700.0, "4k7/1%")
    >>> one.ohm, round(one.sd, 5), one.basis
    (4700.0, 0.00577, 'part')
    """
    if ohm is None:
        return resistances()[default]
    if ohm < resistances()["link"].ohm / 10:
        return resistances()["link"]
    said = _TOLERANCE.search(value)
    tolerance = float(said[1]) / 100 if said else USUAL_TOLERANCE
    source = "iec60062" if said else "practice"
    return Resistance(ohm, max(tolerance, 1e-4) / math.sqrt(3), "part", source)


def coil(value: str) -> Resistance:
    """Resistance of a winding; a limit in the text ("DCR<0.1R") counts as twice the usual.

    >>> coil("1.5uH/DCR<0.1R").ohm, coil("10uH").ohm
    (0.05, 0.05)
    """
    said = _COIL_OHM.search(value)
    if said is None or float(said["number"]) <= 0:
        return resistances()["inductor"]
    ohm = float(said["number"]) / (1000 if said["milli"] else 1)
    if said["sign"] not in ("<", "≤", "<="):
        return Resistance(ohm, 0.15, "part", "practice")
    return Resistance(ohm / 2, 0.4, "part", "practice")


def insulation(farad: float | None) -> Resistance:
    """Insulation of a capacitor: 50 ohm farad by its capacitance, 1 Mohm to 10 Gohm.

    >>> insulation(10e-6).ohm, insulation(100e-12).ohm
    (5000000.0, 10000000000.0)
    """
    if farad is None or farad <= 0:
        return resistances()["capacitor"]
    ohm = min(max(INSULATION_OHM_FARAD / farad, INSULATION_LEAST_OHM), INSULATION_MOST_OHM)
    return Resistance(ohm, INSULATION_SD, "table", "mlcc")


def diode_law(texts: str) -> JunctionLaw:
    """Law of a diode part by its marking and description; between both kinds when not told."""
    laws = junction_laws()
    if _SCHOTTKY.search(texts):
        return laws["schottky"]
    if _SILICON.search(texts):
        return laws["silicon"]
    return laws["diode"]
