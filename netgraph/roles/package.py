# SPDX-License-Identifier: GPL-3.0-or-later
"""What does a footprint's name say about the body: how big a chip it is, and what kind of pins.

Names are made by people, so an answer here is a hint. Sizes that exist in both the imperial and
the metric system (0201, 0402, 0603) differ by a factor of 2.5 and are never guessed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from netgraph.roles.table_files import read_table


@dataclass(frozen=True, slots=True)
class ChipSize:
    """Body of a two-terminal chip part.

    Attributes
    ----------
    length_nm, width_nm
        The body's nominal length (between the terminals) and width.
    imperial, metric
        Its codes in both systems, for example "0402" and "1005".
    """

    length_nm: int
    width_nm: int
    imperial: str
    metric: str


_METRIC_WORD = re.compile(r"(?<![0-9])([0-9]{4,5})[-_ ]?metric", re.IGNORECASE)
_IMPERIAL_WORD = re.compile(r"(?<![0-9])([0-9]{4,6})[-_ ]?(?:imperial|inch)", re.IGNORECASE)
_CODE = re.compile(r"(?<![0-9.])([0-9]{4,6})(?![0-9.])")
_ARRAY = re.compile(
    r"[0-9][xX][0-9]{4}|[0-9]{4}[xX][0-9]|array|matrix|convex|concave", re.IGNORECASE
)


def chip_size(package_name: str, *, pad_span_nm: int | None = None) -> ChipSize | None:
    """The chip body a footprint's name stands for, or None when it says none or could mean two.

    Parameters
    ----------
    package_name
        A footprint name, with or without its library ("Lib:C_0402_1005Metric", "R0603").
    pad_span_nm
        Distance between the centres of the two pads, if known: it tells 0603 imperial (pads
        about 1.6 mm apart) from 0603 metric (0.6 mm).

    Examples
    --------
    >>> chip_size("C_0402_1005Metric").imperial
    '0402'
    >>> chip_size("0603") is None
    True
    >>> chip_size("0603", pad_span_nm=1_500_000).metric
    '1608'
    """
    candidates = chip_candidates(package_name)
    if len(candidates) == 1:
        return candidates[0]
    if pad_span_nm is None:
        return None
    near = [one for one in candidates if _span_fits(one, pad_span_nm)]
    return near[0] if len(near) == 1 else None


def chip_candidates(package_name: str) -> tuple[ChipSize, ...]:
    """All chip bodies that a name could stand for: none, one, or an imperial and a metric one."""
    name = package_name.rpartition(":")[2]
    if _ARRAY.search(name):
        return ()
    imperial, metric = _sizes()
    if found := _METRIC_WORD.search(name):
        return _confirmed(metric.get(found[1]), name)
    if found := _IMPERIAL_WORD.search(name):
        return _confirmed(imperial.get(found[1]), name)
    codes = sorted({one for one in _CODE.findall(name) if one in imperial or one in metric})
    # "0402_1005" says the same thing twice, once in each system.
    agreed = {imperial.get(one) for one in codes} & {metric.get(one) for one in codes} - {None}
    if len(agreed) == 1 and len(codes) == 2:
        return tuple(one for one in agreed if one is not None)
    if len(codes) != 1:
        return ()
    fits = [table[codes[0]] for table in (imperial, metric) if codes[0] in table]
    return tuple(dict.fromkeys(fits))


def _confirmed(size: ChipSize | None, name: str) -> tuple[ChipSize, ...]:
    """The size, unless another code in the name names another body."""
    if size is None:
        return ()
    imperial, metric = _sizes()
    others = (set(_CODE.findall(name)) & (imperial.keys() | metric.keys())) - {size.metric}
    return (size,) if others <= {size.imperial} else ()


def _span_fits(size: ChipSize, pad_span_nm: int) -> bool:
    """Whether pads so far apart can carry the body; the two systems' ranges do not overlap."""
    return 65 * size.length_nm <= 100 * pad_span_nm <= 150 * size.length_nm


def pin_style(package_name: str) -> str | None:
    """The kind of body and pins by a footprint's name, or None.

    The styles stand in ``tables/packages.csv``: "bga", "qfn", "dfn", "qfp", "so", "sot", "chip",
    "header", "connector", "testpoint", "hole", "logo", "netlink" and others.

    Examples
    --------
    >>> pin_style("BGA-96_9.0x13.0mm_Layout2x3x16_P0.8mm"), pin_style("Lib:C_0603_1608Metric")
    ('bga', 'chip')
    >>> pin_style("SOT-23-5"), pin_style("Nothing known")
    ('sot', None)
    """
    name = package_name.rpartition(":")[2][:_LONGEST_NAME]
    for style, pattern in _styles():
        if pattern.search(name):
            return style
    return None


_LONGEST_NAME = 256


@cache
def _sizes() -> tuple[dict[str, ChipSize], dict[str, ChipSize]]:
    """Chip bodies by imperial and by metric code."""
    imperial: dict[str, ChipSize] = {}
    metric: dict[str, ChipSize] = {}
    for row in read_table("chip_sizes.csv"):
        codes = row["metric"].split()
        length_nm, width_nm = int(row["length_nm"]), int(row["width_nm"])
        size = ChipSize(length_nm, width_nm, row["imperial"], codes[0])
        imperial[size.imperial] = size
        metric |= dict.fromkeys(codes, size)
    return imperial, metric


@cache
def _styles() -> tuple[tuple[str, re.Pattern[str]], ...]:
    """Styles and the patterns of their names, in the order in which they are tried."""
    return tuple(
        (row["style"], re.compile(row["pattern"], re.IGNORECASE))
        for row in read_table("packages.csv")
    )
