# SPDX-License-Identifier: GPL-3.0-or-later
"""The board as plain index lists, for the many small look-ups of roles and rails.

Parts and nets are their indices on the board; pins are merged pads (one pin, many pads).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from netgraph.model.board import Board
from netgraph.net_names import volts_in_name
from netgraph.roles.designator import DesignatorClass, designator_class, split_designator


@dataclass(frozen=True, slots=True)
class Pin:
    """One pin of a part: its number, net (-1: none), and name and type where the file has them."""

    number: str
    net: int
    name: str
    type: str


_RANGE = re.compile(
    r"(?<![\d.,])(\d+(?:[.,]\d+)?)\s?-\s?(\d+(?:[.,]\d+)?)V(?![A-Z])", re.IGNORECASE
)


def _least_volts(name: str) -> float | None:
    """The volts in a net's name; of a range ("3.3-5V") the lower end: a nominal is a limit."""
    found = _RANGE.search(name)
    if found is not None:
        low, high = (float(end.replace(",", ".")) for end in found.groups())
        if 0 < low < high:
            return low
    return volts_in_name(name)


def _least_of_names(board: Board) -> list[float | None]:
    """Per net the volts in its names: where several names differ the lower counts, where their
    signs do none.
    """
    names: dict[str, list[str]] = {net.name: [net.name] for net in board.nets}
    for other, name in board.aliases.items():
        names[name].append(other)
    found: list[float | None] = []
    for said in names.values():
        volts = [one for name in said if (one := _least_volts(name)) is not None]
        mixed = bool(volts) and min(volts) < 0 < max(volts)
        found.append(None if not volts or mixed else min(volts, key=abs))
    return found


class Wiring:
    """Index lists of one board; made once and read by every rule.

    Attributes
    ----------
    pins
        Per part: its pins, each (number, net) once.
    nets
        Per part: its nets, each once, in pin order.
    parts
        Per net: the parts on it that are fitted, each once.
    pads
        Per net: number of pads of all parts.
    volts
        Per net: the least volts in its names, or None.
    class_of
        Per part: the class of its designator letters, or None.
    """

    def __init__(self, board: Board, fitted: frozenset[str]) -> None:
        self.board = board
        c = board.columns
        pad_net = c.net.tolist()
        self.fitted = [part.id in fitted for part in board.parts]
        self.pins: list[tuple[Pin, ...]] = []
        self.nets: list[tuple[int, ...]] = []
        self.parts: list[list[int]] = [[] for _ in board.nets]
        self.pads = [0] * len(board.nets)
        for part in board.parts:
            pins: dict[tuple[str, int], Pin] = {}
            for i in board.pad_range(part):
                net = pad_net[i]
                if net >= 0:
                    self.pads[net] += 1
                elif not c.pin[i]:
                    continue
                pins.setdefault((c.pin[i], net), Pin(c.pin[i], net, c.pin_name[i], c.pin_type[i]))
            own = tuple(dict.fromkeys(pin.net for pin in pins.values() if pin.net >= 0))
            self.pins.append(tuple(pins.values()))
            self.nets.append(own)
            if self.fitted[part.index]:
                for net in own:
                    self.parts[net].append(part.index)
        self.volts = _least_of_names(board)
        self.class_of: list[DesignatorClass | None] = [
            designator_class(split_designator(part.ref).letters) for part in board.parts
        ]

    def other_net(self, part: int, net: int) -> int:
        """The other net of a two-net part."""
        a, b = self.nets[part]
        return b if a == net else a

    def pins_on(self, part: int, net: int) -> list[Pin]:
        """The pins by which a part touches a net."""
        return [pin for pin in self.pins[part] if pin.net == net]
