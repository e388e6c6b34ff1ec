# SPDX-License-Identifier: GPL-3.0-or-later
"""Which nets are ground: the one mistake that must never happen is to call a supply so.

A net is ground only with two independent facts, and never with a number other than 0 and a V in
its name.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from netgraph.reasons import Reason, reason
from netgraph.roles.wiring import Wiring

_GROUND_NAME = re.compile(
    r"(?:[A-Z0-9]{0,8}[_.\- ]?)?(?:GND|GROUND|VSS)[A-Z0-9]{0,8}|GND[_.\- ].*|.*[_.\- ]GND|"
    r"[ADPS]GND.{0,6}|VSS.{0,6}|.{0,6}VSS|0V",
    re.IGNORECASE,
)
_SAID_AT_THE_METER = re.compile(r"[ADP]?GND|GROUND|0V", re.IGNORECASE)
_NOT_GROUND_NAME = re.compile(
    r"BACKGROUND|GND[_.]?(?:DET|SENSE|SEL|EN|FB)|VSSA?_?(?:EN|SEL|PG)|UNCONNECTED|NOGND",
    re.IGNORECASE,
)
_CHASSIS_NAME = re.compile(
    r"PE|(?:.*[_.\- /])?(?:CHASSIS|SHIELD|SHLD|SHELL|EARTH|FGND|FRAME|CASE)"
    r"(?:[_.\- ]?(?:GND|\d+))?|"
    r"(?:USB|ETH|HDMI)_?(?:SHIELD|SHLD|SHELL)|GND_?(?:CHASSIS|SHIELD|EARTH)",
    re.IGNORECASE,
)
_LEAST_PARTNERS = 3
_MANY_PARTS = 5
_FEW_PADS = 100
"""A board of fewer pads is a table typed by hand or a piece of one: little else can speak for its
ground. Our own choice."""
_GROUND_PIN = re.compile(
    r"(?:[ADP]?GND|VSS|EP|EPAD|PAD|GND_?EP|GROUND)[A-Z0-9_]{0,6}", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Ground:
    """A net taken for ground, with confidence and the facts behind it."""

    net: int
    confidence: float
    reasons: tuple[Reason, ...]


def last_segment(name: str) -> str:
    """The part of a hierarchical net name behind its last slash, without sheet-made decoration."""
    return name.rpartition("/")[2].strip("() ")


def is_chassis_name(name: str) -> bool:
    """Whether a net's name says shield, chassis or earth."""
    return _CHASSIS_NAME.fullmatch(last_segment(name)) is not None


def is_ground_name(name: str) -> bool:
    """Whether the whole last part of a net's name says ground, and says no volts.

    >>> is_ground_name("/power/AGND"), is_ground_name("/LCD_5.0V"), is_ground_name("GND_5V")
    (True, False, False)
    """
    last = last_segment(name)
    if _NOT_GROUND_NAME.search(last) or _says_volts(last):
        return False
    return _GROUND_NAME.fullmatch(last) is not None


def _says_volts(text: str) -> bool:
    return any(
        float(number.replace("V", ".").replace("v", ".").strip(".") or 0) != 0
        for number in re.findall(r"\d+(?:\.\d+)?[Vv]\d*|[Vv]\d+(?:\.\d+)?", text)
    )


def find_grounds(wiring: Wiring) -> list[Ground]:
    """All ground nets, surest first.

    Facts: the name; many different nets have a capacitor to it (a rail's capacitors share one
    partner, a ground has many); ground pins of chips by name; a pin with many pads (an exposed
    pad); it is by far the largest net; on a board traced by a person, that the person says so; on a
    board of few pads, that its plain name says so.
    """
    board = wiring.board
    partners: list[set[int]] = [set() for _ in board.nets]
    capacitors = [0] * len(board.nets)
    pin_names = [0] * len(board.nets)
    exposed = [0] * len(board.nets)
    for part in board.parts:
        nets = wiring.nets[part.index]
        if not wiring.fitted[part.index]:
            continue
        letters = wiring.class_of[part.index]
        if len(nets) == 2 and letters is not None and "capacitor" in letters.roles[:1]:
            partners[nets[0]].add(nets[1])
            partners[nets[1]].add(nets[0])
            capacitors[nets[0]] += 1
            capacitors[nets[1]] += 1
        pads_of_pin: dict[int, int] = {}
        if len(nets) > 2:
            for pin in wiring.pins[part.index]:
                if pin.net >= 0 and _GROUND_PIN.fullmatch(pin.name):
                    pin_names[pin.net] += 1
                if pin.net >= 0:
                    pads_of_pin[pin.net] = pads_of_pin.get(pin.net, 0) + 1
            largest = max(pads_of_pin, key=lambda net: pads_of_pin[net])
            if pads_of_pin[largest] >= 2 and len(pads_of_pin) > 3:
                exposed[largest] += 1
    total = sum(wiring.pads) or 1
    by_size = sorted(range(len(board.nets)), key=lambda net: -wiring.pads[net])
    found: list[Ground] = []
    for net in by_size:
        name = board.nets[net].name
        facts: list[Reason] = []
        score = 0.0
        named = is_ground_name(name)
        if named:
            facts.append(reason("ground-name", net=name))
            score += 2.0
        if board.partial and _SAID_AT_THE_METER.fullmatch(last_segment(name)):
            facts.append(reason("ground-traced", net=name))
            score += 1.0
        elif total < _FEW_PADS and _SAID_AT_THE_METER.fullmatch(last_segment(name)):
            facts.append(reason("ground-small-board", net=name, pads=total))
            score += 1.0
        if len(partners[net]) >= (2 if named else _LEAST_PARTNERS):
            facts.append(
                reason("ground-capacitors", count=capacitors[net], nets=len(partners[net]))
            )
            score += min(2.5, 0.5 * len(partners[net]))
        if pin_names[net] >= 1:
            facts.append(reason("ground-pins", count=pin_names[net]))
            score += min(2.0, 0.5 + 0.5 * pin_names[net])
        if exposed[net] >= 1:
            score += 0.3
        if net == by_size[0] and wiring.pads[net] >= 0.1 * total and len(board.nets) > 2:
            facts.append(reason("ground-largest", share=round(100 * wiring.pads[net] / total)))
            score += 1.5
        if named and len(wiring.parts[net]) >= _MANY_PARTS:
            facts.append(reason("ground-many-parts", count=len(wiring.parts[net])))
            score += 0.5
        if named and is_chassis_name(name) and score < 3.0:
            continue
        if _says_volts(last_segment(name)) or (is_chassis_name(name) and not named):
            continue
        many = len(partners[net]) >= 6 and capacitors[net] >= 10
        # A name alone is no proof: the negative supply of a charge pump is called VSS too.
        if (named and len(facts) >= 2 and score >= 2.5) or (
            score >= 3.5 and (many or pin_names[net] >= 2)
        ):
            sure = min(0.99, 0.6 + 0.1 * score)
            found.append(Ground(net, sure, tuple(facts)))
    return found
