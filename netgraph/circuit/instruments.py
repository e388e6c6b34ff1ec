# SPDX-License-Identifier: GPL-3.0-or-later
"""What the bench puts on a board: supply, diode mode, ohms mode, USB meter.

All of them are one thing, a source of V volts behind R ohm that gives no more than a limit: within
the limit the volts stand, beyond it the current does.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from netgraph.circuit.junction import FloatArray
from netgraph.circuit.network import GROUND, Circuit, Label
from netgraph.circuit.solve import OperatingPoint, Source, System, solve_system
from netgraph.errors import CircuitError

SUPPLY_OHM: Final = 0.02
"""Bench supply with its own sense at the terminals [practice]."""
LEAD_OHM: Final = 0.1
"""Both leads of a bench supply to the pads [practice]."""
USB_VOLTS, USB_AMPS, USB_OHM = 5.0, 0.5, 0.2
"""Default supply of a USB port [usb]; a cable with its meter [practice]."""
DIODE_AMPS, DIODE_VOLTS = 1e-3, 3.0
"""Diode mode of hand meters: 0.5 to 1.5 mA, open 2 to 4 V [diode-window]."""
DIODE_LEAST_AMPS, DIODE_MOST_AMPS = 0.5e-3, 1.5e-3
OHMS_VOLTS, OHMS_OHM = 0.4, 1000.0
"""Ohms mode with a low test voltage and what lies before it [practice]."""
OHMS_MOST: Final = 40e6
"""Largest reading of a hand meter [practice]."""
Mode = Literal["cv", "cc"]


@dataclass(frozen=True, slots=True)
class Instrument:
    """A limited source between two nodes, and what is read off it.

    Attributes
    ----------
    kind
        What it is; says what is read (``amps`` of supplies, ``volts``, ``ohms``).
    a, b
        Positive and negative lead.
    volts, limit_amps, ohm
        Set volts, current limit, and what lies between source and board.
    gain_sd, least_sd
        Spread of the reading itself: a share of it, and a floor in its unit.
    """

    kind: Literal["supply", "usb", "diode", "ohms"]
    a: int
    b: int
    volts: float
    limit_amps: float
    ohm: float
    gain_sd: float = 0.01
    least_sd: float = 0.0

    def source(self) -> Source:
        """Its Norton form within the limit."""
        return Source(self.a, self.b, self.volts / self.ohm, 1.0 / self.ohm)


def supply(
    node: int, volts: float, limit_amps: float, *, ohm: float = SUPPLY_OHM + LEAD_OHM
) -> Instrument:
    """A bench supply from a node to ground.

    Raises
    ------
    CircuitError
        Volts, limit or resistance are negative, zero or no number, or the node is ground.
    """
    _check(volts, limit_amps, ohm)
    _not_ground(node, "a supply")
    return Instrument("supply", node, GROUND, volts, limit_amps, ohm, 0.005, 0.5e-3)


def usb_meter(node: int, *, volts: float = USB_VOLTS, limit_amps: float = USB_AMPS) -> Instrument:
    """A USB port with a meter in the cable."""
    _check(volts, limit_amps, USB_OHM)
    _not_ground(node, "a USB port")
    return Instrument("usb", node, GROUND, volts, limit_amps, USB_OHM, 0.01, 2e-3)


def diode_mode(
    node: int,
    *,
    red: Literal["ground", "at"] = "ground",
    amps: float = DIODE_AMPS,
    open_volts: float = DIODE_VOLTS,
) -> Instrument:
    """A meter in diode mode between a node and ground; `red` says where its positive lead is."""
    _check(open_volts, amps, 1.0)
    if not DIODE_LEAST_AMPS <= amps <= DIODE_MOST_AMPS:
        raise CircuitError(
            "circuit-invalid",
            f"a diode mode gives {amps:g} A",
            hint="hand meters give 0.5 to 1.5 mA",
        )
    _not_ground(node, "a meter's second lead")
    a, b = (GROUND, node) if red == "ground" else (node, GROUND)
    return Instrument("diode", a, b, open_volts, amps, 1.0, 0.005, 1e-3)


def ohms_mode(a: int, b: int = GROUND) -> Instrument:
    """A meter in ohms mode, red lead on `a`, with a test voltage too low for most junctions."""
    if a == b:
        raise CircuitError(
            "circuit-invalid", "both leads of a meter are on the same node",
            hint="put one lead on another net",
        )  # fmt: skip
    return Instrument("ohms", a, b, OHMS_VOLTS, OHMS_VOLTS / OHMS_OHM, OHMS_OHM, 0.01, 0.03)


def _check(volts: float, amps: float, ohm: float) -> None:
    for value, what, unit in (
        (volts, "volts", "V"),
        (amps, "limit", "A"),
        (ohm, "resistance", "ohm"),
    ):
        if not (math.isfinite(value) and value > 0):
            raise CircuitError(
                "circuit-invalid",
                f"the {what} of a source is {value:g} {unit}",
                hint="a positive number is needed; swap the leads for the other polarity",
            )


def _not_ground(node: int, what: str) -> None:
    if node < 0:
        raise CircuitError(
            "circuit-invalid", f"{what} is on ground", hint="the other lead is on ground already"
        )


@dataclass(frozen=True, eq=False)
class Applied:
    """A circuit with instruments on it: the point, each one's mode, volts at its leads, amperes."""

    point: OperatingPoint
    modes: tuple[Mode, ...]

    def amps(self, number: int) -> float:
        """What instrument `number` gives."""
        return self.point.source_amps(number)

    def volts(self, number: int) -> float:
        """Volts between its leads at the board."""
        one = self.point.sources[number]
        return self.point.at(one.a) - self.point.at(one.b)


def apply(
    circuit: Circuit, instruments: Sequence[Instrument], *, start: FloatArray | None = None
) -> Applied:
    """Put instruments on a circuit; who passes its limit becomes a current source.

    Raises
    ------
    CircuitError
        Two supplies set different volts on one node, the limits find no rest, or the circuit
        can't be solved.
    """
    _contradictions(circuit, instruments)
    circuit = referenced(circuit, instruments)
    modes: list[Mode] = ["cv"] * len(instruments)
    tried: set[tuple[Mode, ...]] = set()
    while tuple(modes) not in tried:
        tried.add(tuple(modes))
        sources = [
            one.source() if mode == "cv" else Source(one.a, one.b, one.limit_amps)
            for one, mode in zip(instruments, modes, strict=True)
        ]
        point = solve_system(System(circuit, sources), start=start)
        start = point.volts
        wrong = [
            number
            for number, one in enumerate(instruments)
            if _beyond(point, number, one, modes[number])
        ]
        if not wrong:
            return Applied(point, tuple(modes))
        # Limits are entered together and left one by one, else two supplies can chase each other.
        entering = [number for number in wrong if modes[number] == "cv"]
        for number in entering or wrong[:1]:
            modes[number] = "cc" if modes[number] == "cv" else "cv"
    raise CircuitError(
        "circuit-invalid",
        "the current limits of the supplies contradict each other",
        hint="take one supply off",
    )


def referenced(circuit: Circuit, instruments: Sequence[Instrument]) -> Circuit:
    """The circuit with one lead of a meter tied to ground where it measures within an island.

    A meter runs on a cell of its own, so an island's volts against ground are free, and no current
    flows in the tie.
    """
    rows = []
    for one in instruments:
        if one.a >= 0 and one.b >= 0:
            name = circuit.nodes[one.b]
            if any(name in island for island in circuit.islands):
                rows.append((one.b, GROUND, 1.0, Label("", "reference", "test", "")))
    return circuit.with_branches(rows)


def _beyond(point: OperatingPoint, number: int, one: Instrument, mode: Mode) -> bool:
    if mode == "cv":
        return point.source_amps(number) > one.limit_amps * (1 + 1e-9)
    volts = point.at(one.a) - point.at(one.b)
    return volts + one.limit_amps * one.ohm > one.volts * (1 + 1e-9) + 1e-12


def _contradictions(circuit: Circuit, instruments: Sequence[Instrument]) -> None:
    seen: dict[tuple[int, int], Instrument] = {}
    for one in instruments:
        other = seen.setdefault((one.a, one.b), one)
        mirrored = seen.get((one.b, one.a))
        if other is not one or mirrored is not None:
            node = one.a if one.a >= 0 else one.b
            name = circuit.nodes[node]
            raise CircuitError(
                "circuit-invalid",
                f"two sources are on {name}: {(mirrored or other).volts:g} V and {one.volts:g} V",
                hint="one supply or meter on a net at a time",
            )


def reading(one: Instrument, volts: float, amps: float) -> float | None:
    """What is read: amperes of a supply, volts in diode mode, ohms; None is over range.

    >>> reading(ohms_mode(0), 0.2, 0.0002)
    1000.0
    """
    if one.kind in ("supply", "usb"):
        return amps
    if one.kind == "diode":
        # Short of its current the meter is at the end of its volts.
        return volts if amps >= one.limit_amps * (1 - 1e-6) else None
    if amps <= one.volts / (OHMS_MOST + one.ohm):
        return None
    return volts / amps
