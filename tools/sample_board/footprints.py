# SPDX-License-Identifier: GPL-3.0-or-later
"""Land patterns of the sample board, in integer micrometres, pad 1 up or left, y downwards.

The sizes are our own round figures in the range that common land-pattern practice gives (from
memory); every pad centre lies on a 50 um grid so that the router meets it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from .schematic import ROWS

Box = tuple[int, int, int, int]
"""x0, y0, x1, y1 in micrometres."""


@dataclass(frozen=True)
class Land:
    """One pad of a land pattern; `kind` is smd, thru_hole, np_thru_hole or connect."""

    number: str
    x: int
    y: int
    width: int
    height: int
    shape: str = "roundrect"
    kind: str = "smd"
    drill: int = 0


@dataclass(frozen=True)
class Pattern:
    """A land pattern with its body and courtyard."""

    library: str
    lands: tuple[Land, ...]
    body: Box
    courtyard: Box
    description: str
    flags: tuple[str, ...] = ()


def _box(width: int, height: int, x: int = 0, y: int = 0) -> Box:
    return (x - width // 2, y - height // 2, x + width // 2, y + height // 2)


def _around(lands: tuple[Land, ...], body: Box, margin: int) -> Box:
    """Smallest box around pads and body, grown by `margin` and rounded out to 50 um."""
    x0 = min([body[0]] + [p.x - p.width // 2 for p in lands]) - margin
    y0 = min([body[1]] + [p.y - p.height // 2 for p in lands]) - margin
    x1 = max([body[2]] + [p.x + p.width // 2 for p in lands]) + margin
    y1 = max([body[3]] + [p.y + p.height // 2 for p in lands]) + margin
    return (x0 // 50 * 50, y0 // 50 * 50, -(-x1 // 50) * 50, -(-y1 // 50) * 50)


def _pattern(
    library: str,
    lands: list[Land],
    body: Box,
    description: str,
    margin: int = 200,
    flags: tuple[str, ...] = (),
) -> Pattern:
    packed = tuple(lands)
    return Pattern(library, packed, body, _around(packed, body, margin), description, flags)


def _two(name: str, pitch: int, width: int, height: int, body: Box, margin: int = 200) -> Pattern:
    lands = [
        Land("1", -pitch // 2, 0, width, height),
        Land("2", pitch // 2, 0, width, height),
    ]
    return _pattern(f"lark:{name}", lands, body, f"Two-terminal part {name}", margin)


def _qfn(pins: int, body: int, pad: int) -> Pattern:
    side = pins // 4
    lands = []
    reach = body // 2 - 50
    for n in range(pins):
        edge, k = divmod(n, side)
        along = k * 500 - (side - 1) * 250
        x, y, upright = (
            (-reach, along, False),
            (along, reach, True),
            (reach, -along, False),
            (-along, -reach, True),
        )[edge]
        width, height = (250, 800) if upright else (800, 250)
        lands.append(Land(str(n + 1), x, y, width, height))
    lands.append(Land("EP", 0, 0, pad, pad, "rect"))
    return _pattern(
        f"lark:QFN-{pins}", lands, _box(body, body), f"QFN, {pins} pins, pitch 0.5 mm", 250
    )


def _dual(
    name: str,
    pins: int,
    pitch: int,
    reach: int,
    pad: tuple[int, int],
    body: Box,
    exposed: tuple[int, int] | None = None,
) -> Pattern:
    side = pins // 2
    lands = []
    for n in range(pins):
        k = n if n < side else pins - 1 - n
        x = -reach if n < side else reach
        lands.append(Land(str(n + 1), x, k * pitch - (side - 1) * pitch // 2, *pad))
    if exposed:
        lands.append(Land("EP", 0, 0, *exposed, "rect"))
    return _pattern(f"lark:{name}", lands, body, f"{name}, {pins} pins", 250)


def _bga(rows: int, columns: int, pitch: int = 800, ball: int = 400) -> Pattern:
    lands = [
        Land(
            f"{ROWS[r]}{c + 1}",
            c * pitch - (columns - 1) * pitch // 2,
            r * pitch - (rows - 1) * pitch // 2,
            ball,
            ball,
            "circle",
        )
        for r in range(rows)
        for c in range(columns)
    ]
    body = _box(columns * pitch + 600, rows * pitch + 600)
    count = rows * columns
    return _pattern(f"lark:BGA-{count}", lands, body, f"BGA, {count} balls, pitch 0.8 mm", 300)


def _four(name: str, x: int, y: int, pad: tuple[int, int], body: Box) -> Pattern:
    places = ((-x, y), (x, y), (x, -y), (-x, -y))
    lands = [Land(str(n + 1), *place, *pad) for n, place in enumerate(places)]
    return _pattern(f"lark:{name}", lands, body, f"{name}, four pads")


def _usb() -> Pattern:
    row = ["A1", "B12", "A4", "B9", "A5", "B7", "A6", "A7", "B6", "B5", "B4", "A9", "B1", "A12"]
    lands = [Land(n, k * 500 - 3250, -3400, 300, 1100) for k, n in enumerate(row)]
    for x in (-4300, 4300):
        lands += [Land("SH", x, y, 1200, 1200, "circle", "thru_hole", 700) for y in (-2500, 1600)]
    return _pattern("lark:USB-C-16", lands, _box(9000, 6800, 0, 0), "USB-C receptacle")


def _cell() -> Pattern:
    lands = [Land(str(n + 1), n * 1200 - 3000, -1600, 700, 1400) for n in range(6)]
    return _pattern("lark:CELL-6", lands, _box(9000, 4200, 0, 300), "Cell connector, 6 pins")


def _fpc(pins: int) -> Pattern:
    half = (pins - 1) * 250
    lands = [Land(str(n + 1), n * 500 - half, 1500, 250, 1000) for n in range(pins)]
    lands += [Land("MP", x, -600, 1200, 1800, "rect") for x in (-half - 1450, half + 1450)]
    body = _box(2 * half + 3600, 3600, 0, 0)
    return _pattern(f"lark:FPC-{pins}", lands, body, f"Flat-flex connector, {pins} pins")


def _jack() -> Pattern:
    places = ((5000, -2300), (2600, 2300), (-600, 2300), (-3600, -2300), (5000, 2300))
    lands = [Land(str(n + 1), *place, 1400, 1400) for n, place in enumerate(places)]
    lands += [Land("", x, 0, 1200, 1200, "circle", "np_thru_hole", 1200) for x in (-3000, 2000)]
    return _pattern("lark:JACK-5", lands, _box(11600, 5200), "Headphone jack, 3.5 mm")


def _three() -> Pattern:
    lands = [
        Land("1", -1000, -950, 900, 800),
        Land("2", -1000, 950, 900, 800),
        Land("3", 1000, 0, 900, 800),
    ]
    return _pattern("lark:SOT-23", lands, _box(1400, 3000), "SOT-23, 3 pins")


def _sot5() -> Pattern:
    places = ((-1150, -950), (-1150, 0), (-1150, 950), (1150, 950), (1150, -950))
    lands = [Land(str(n + 1), *place, 1000, 600) for n, place in enumerate(places)]
    return _pattern("lark:SOT-23-5", lands, _box(1600, 3000), "SOT-23, 5 pins")


def _round(library: str, number: str, size: int, text: str, *, margin: int) -> Pattern:
    land = Land(number, 0, 0, size, size, "circle", "connect" if number else "smd")
    flags = ("exclude_from_pos_files", "exclude_from_bom")
    return _pattern(f"lark:{library}", [land], _box(size, size), text, margin, flags)


def _hole() -> Pattern:
    land = Land("", 0, 0, 2200, 2200, "circle", "np_thru_hole", 2200)
    flags = ("exclude_from_pos_files", "exclude_from_bom")
    return _pattern("lark:HOLE-2.2", [land], _box(3800, 3800), "Mounting hole", 0, flags)


_MAKERS: dict[str, Callable[[], Pattern]] = {
    "0402": lambda: _two("0402", 1000, 550, 600, _box(1000, 500)),
    "0603": lambda: _two("0603", 1600, 800, 950, _box(1600, 800)),
    "0805": lambda: _two("0805", 2000, 1000, 1400, _box(2000, 1250)),
    "1206": lambda: _two("1206", 3000, 1100, 1800, _box(3200, 1600)),
    "IND-2520": lambda: _two("IND-2520", 1900, 800, 2000, _box(2500, 2000)),
    "IND-3030": lambda: _two("IND-3030", 2300, 1000, 2700, _box(3000, 3000)),
    "SOD-323": lambda: _two("SOD-323", 2200, 700, 600, _box(1800, 1300)),
    "LED-0603": lambda: _two("LED-0603", 1600, 800, 900, _box(1600, 800)),
    "XTAL-3215": lambda: _two("XTAL-3215", 2500, 1000, 1800, _box(3200, 1500)),
    "KEY-2": lambda: _two("KEY-2", 3600, 1000, 1600, _box(3000, 2600)),
    "PAD-2": lambda: _two("PAD-2", 2600, 1500, 2500, _box(4200, 2600)),
    "ANT-CHIP": lambda: _two("ANT-CHIP", 4600, 800, 1800, _box(5200, 2000)),
    "QFN-24": lambda: _qfn(24, 4000, 2200),
    "QFN-32": lambda: _qfn(32, 5000, 3200),
    "QFN-40": lambda: _qfn(40, 6000, 4200),
    "DFN-6": lambda: _dual("DFN-6", 6, 650, 950, (600, 350), _box(2000, 2000), (800, 1600)),
    "DFN-8": lambda: _dual("DFN-8", 8, 500, 1000, (600, 250), _box(2000, 2000)),
    "DFN-12": lambda: _dual("DFN-12", 12, 400, 1250, (700, 200), _box(2500, 2600), (1200, 2000)),
    "LGA-6": lambda: _dual("LGA-6", 6, 700, 800, (600, 400), _box(2000, 2000)),
    "LGA-8": lambda: _dual("LGA-8", 8, 600, 900, (600, 350), _box(2500, 2500)),
    "WSON-8": lambda: _dual("WSON-8", 8, 1200, 2700, (800, 500), _box(6000, 5000), (3400, 4000)),
    "SOT-23-6": lambda: _dual("SOT-23-6", 6, 900, 1150, (1000, 500), _box(1600, 3000)),
    "SOT-23-5": _sot5,
    "SOT-23": _three,
    "BGA-144": lambda: _bga(12, 12),
    "BGA-64": lambda: _bga(8, 8),
    "BGA-80": lambda: _bga(10, 8),
    "XTAL-3225": lambda: _four("XTAL-3225", 1100, 850, (1300, 1100), _box(3200, 2500)),
    "XTAL-2016": lambda: _four("XTAL-2016", 700, 550, (900, 750), _box(2000, 1600)),
    "MIC-4": lambda: _four("MIC-4", 900, 1200, (800, 800), _box(2600, 3400)),
    "USB-C-16": _usb,
    "CELL-6": _cell,
    "FPC-24": lambda: _fpc(24),
    "JACK-5": _jack,
    "TESTPAD": lambda: _round("TESTPAD", "1", 1000, "Test pad", margin=200),
    "FIDUCIAL": lambda: _round("FIDUCIAL", "", 1000, "Fiducial", margin=500),
    "HOLE-2.2": _hole,
}


@cache
def pattern(package: str) -> Pattern:
    """Return the land pattern of a package; KeyError for an unknown one."""
    return _MAKERS[package]()
