# SPDX-License-Identifier: GPL-3.0-or-later
"""A small notation for the circuit: parts, pins, nets and where each part wants to sit.

Pins are written as one string of blank-separated items ``NAME:TYPE:NET``; pin numbers count from
one unless an item starts with ``NUMBER=``. ``-`` as net means not connected.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

PIN_TYPES = {
    "pi": "power_in",
    "po": "power_out",
    "i": "input",
    "o": "output",
    "b": "bidirectional",
    "p": "passive",
    "oc": "open_collector",
    "nc": "no_connect",
}


@dataclass(frozen=True)
class Pin:
    """One pin: number on the footprint, name, KiCad electrical type, net (None: open)."""

    number: str
    name: str
    kind: str
    net: str | None


@dataclass
class Part:
    """One part; lengths in millimetres, `turn` in degrees counter-clockwise."""

    ref: str
    value: str
    package: str
    pins: list[Pin]
    side: str = "top"
    at: tuple[float, float] | None = None
    near: str = ""
    turn: int | None = None
    fields: dict[str, str] = field(default_factory=dict)
    description: str = ""

    def pin_named(self, name: str) -> Pin:
        """Return the first pin with this name or number; KeyError when there is none."""
        for pin in self.pins:
            if name in (pin.name, pin.number):
                return pin
        raise KeyError(f"{self.ref} has no pin {name}")


def parse_pins(text: str) -> list[Pin]:
    """Turn the pin notation of this module into pins."""
    pins = []
    for count, item in enumerate(text.split(), start=1):
        number, _, rest = item.rpartition("=")
        name, kind, net = rest.split(":")
        pins.append(Pin(number or str(count), name, PIN_TYPES[kind], None if net == "-" else net))
    return pins


class Circuit:
    """Collects parts in drawing order and numbers two-terminal parts by class."""

    def __init__(self) -> None:
        self.parts: dict[str, Part] = {}
        self._count: dict[str, int] = {}

    def _next_ref(self, letters: str) -> str:
        self._count[letters] = self._count.get(letters, 0) + 1
        return f"{letters}{self._count[letters]}"

    def add(self, part: Part) -> Part:
        """Add a part; a second part of the same designator is a mistake in the drawing."""
        if part.ref in self.parts:
            raise ValueError(f"designator {part.ref} drawn twice")
        self.parts[part.ref] = part
        return part

    def chip(
        self,
        letters: str,
        value: str,
        package: str,
        pins: str | list[Pin],
        *,
        side: str = "top",
        at: tuple[float, float] | None = None,
        near: str = "",
        turn: int | None = None,
        fields: dict[str, str] | None = None,
        description: str = "",
    ) -> Part:
        """Add a part with named pins."""
        return self.add(
            Part(
                self._next_ref(letters),
                value,
                package,
                parse_pins(pins) if isinstance(pins, str) else pins,
                side,
                at,
                near,
                turn,
                fields or {},
                description,
            )
        )

    def two(
        self,
        letters: str,
        value: str,
        package: str,
        first: str,
        second: str,
        near: str,
        *,
        side: str = "top",
        names: tuple[str, str] = ("", ""),
        fields: dict[str, str] | None = None,
    ) -> Part:
        """Add a two-terminal part between nets `first` (pad 1) and `second` (pad 2)."""
        pins = [
            Pin("1", names[0], "passive", first),
            Pin("2", names[1], "passive", second),
        ]
        return self.chip(letters, value, package, pins, side=side, near=near, fields=fields)

    def capacitors(
        self, spec: str, net: str, near: str, *, side: str = "top", ground: str = "GND"
    ) -> None:
        """Add capacitors to ground; `spec` is ``value/package`` items: ``10u/0603 100n/0402``."""
        for item in spec.split():
            value, package = item.split("/")
            self.two("C", value, package, net, ground, near, side=side)

    def resistor(
        self,
        value: str,
        first: str,
        second: str,
        near: str,
        *,
        side: str = "top",
        package: str = "0402",
        fields: dict[str, str] | None = None,
    ) -> None:
        """Add a resistor, size 0402 unless told otherwise."""
        self.two("R", value, package, first, second, near, side=side, fields=fields)

    def net_names(self) -> list[str]:
        """All net names, sorted; open pins get no net here (the writer names them)."""
        return sorted({p.net for part in self.parts.values() for p in part.pins if p.net})


ROWS = "ABCDEFGHJKLMNPRTUVWY"


def ball_pins(
    rows: int,
    columns: int,
    sides: dict[str, str],
    core: Iterable[tuple[str, str]],
    fill: tuple[str, str] = ("VSS", "GND"),
) -> list[Pin]:
    """Give balls to pins: signals on the outer rings of their side, supplies within.

    `sides` maps ``left``, ``right``, ``top``, ``bottom`` to pin notation; `core` holds (name, net)
    of supply balls, spread over the balls left in the middle; every other ball is
    `fill` (ground). Supplies are dealt out from left to right in the order given.
    """
    # Two rings deep along each side, so that both chips of a bus count in the same direction;
    # the third ring takes what is left.
    inner = range(columns) if columns <= 8 else range(2, columns - 2)
    last, low = columns - 1, rows - 1
    order: dict[str, list[tuple[int, int]]] = {
        "left": [(r, c) for r in range(rows) for c in (0, 1)] + [(r, 2) for r in range(rows)],
        "right": [(r, last - c) for r in range(rows) for c in (0, 1)]
        + [(r, last - 2) for r in range(rows)],
        "top": [(r, c) for c in inner for r in (0, 1)] + [(2, c) for c in inner],
        "bottom": [(low - r, c) for c in inner for r in (0, 1)] + [(low - 2, c) for c in inner],
    }
    taken: dict[tuple[int, int], Pin] = {}

    def ball_name(place: tuple[int, int]) -> str:
        return f"{ROWS[place[0]]}{place[1] + 1}"

    for side, text in sides.items():
        free = [p for p in order[side] if p not in taken]
        for place, pin in zip(free, parse_pins(text), strict=False):
            taken[place] = Pin(ball_name(place), pin.name, pin.kind, pin.net)
        if len(parse_pins(text)) > len(free):
            raise ValueError(f"too many pins on side {side}")
    rest = [(r, c) for r in range(rows) for c in range(columns) if (r, c) not in taken]
    # Middle first, so that the supply balls lie over the capacitors on the other side.
    rest.sort(key=lambda p: ((2 * p[0] + 1 - rows) ** 2 + (2 * p[1] + 1 - columns) ** 2, p))
    supplies = list(core)
    if len(supplies) > len(rest):
        raise ValueError("too many supply balls")
    # Every second ball stays ground while there are enough balls for that.
    chosen = rest[0 : 2 * len(supplies) : 2]
    chosen += [p for p in rest if p not in chosen][: len(supplies) - len(chosen)]
    chosen.sort(key=lambda p: (p[1], p[0]))
    for place, (name, net) in zip(chosen, supplies, strict=True):
        taken[place] = Pin(ball_name(place), name, "power_in", net)
    return [
        taken.get((r, c), Pin(ball_name((r, c)), fill[0], "power_in", fill[1]))
        for r in range(rows)
        for c in range(columns)
    ]
