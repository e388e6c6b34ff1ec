# SPDX-License-Identifier: GPL-3.0-or-later
"""Which way small parts conduct: anode and cathode, gate, drain and source.

By pin names where the file has them; else by the usual numbering: pin 1 of a two-pin diode is
the cathode (KiCad's own libraries, from memory), and SOT-23 transistors are gate, source, drain.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from netgraph.roles.wiring import Pin, Wiring

_ANODE = re.compile(r"A\d?|ANODE|\+|AN|P", re.IGNORECASE)
_CATHODE = re.compile(r"K\d?|C|CATHODE|-|KAT|N|CA", re.IGNORECASE)
_GATE = re.compile(r"G\d?|GATE", re.IGNORECASE)
_DRAIN = re.compile(r"D\d?|DRAIN", re.IGNORECASE)
_SOURCE = re.compile(r"S\d?|SOURCE", re.IGNORECASE)
_SMALL_BODY = re.compile(r"SOT-?_?(?:23(?![-_]?[568])|323|523)|SC-?70(?![-_]?[56])", re.IGNORECASE)
_COMMON_CATHODE = re.compile(r"(?:BAT[0-9]{2,3}C|BAV70|BAS[0-9]{2}-?05|BAR[0-9]{2}-?05)(?![0-9])")
_COMMON_ANODE = re.compile(r"(?:BAT[0-9]{2,3}A|BAW56|BAS[0-9]{2}-?06)(?![0-9])")
_IN_SERIES = re.compile(r"(?:BAT[0-9]{2,3}S|BAV99|BAS[0-9]{2}-?04)(?![0-9])")


@dataclass(frozen=True, slots=True)
class Diode:
    """One junction: nets of anode and cathode; `named` when the pin names say so."""

    anode: int
    cathode: int
    named: bool


@dataclass(frozen=True, slots=True)
class Switch:
    """A transistor's nets; None where it can't be told."""

    gate: int | None
    drain: int | None
    source: int | None


def _label(pin: Pin) -> str:
    return pin.name if pin.name and pin.name != "~" else pin.number


def diode_of(wiring: Wiring, part: int) -> Diode | None:
    """Anode and cathode of a part with one junction between two nets, else None."""
    nets = wiring.nets[part]
    if len(nets) != 2:
        return None
    pins = [pin for pin in wiring.pins[part] if pin.net >= 0]
    anodes = {pin.net for pin in pins if _ANODE.fullmatch(_label(pin))}
    cathodes = {pin.net for pin in pins if _CATHODE.fullmatch(_label(pin))}
    if len(anodes) == 1 and len(cathodes) == 1 and anodes != cathodes:
        return Diode(anodes.pop(), cathodes.pop(), named=True)
    numbers = {pin.number: pin.net for pin in pins}
    if numbers.get("1") is not None and numbers.get("2") is not None:
        return Diode(numbers["2"], numbers["1"], named=False)
    if set(numbers) == {"1", "3"}:
        # One diode in a three-pin body: anode on 1, cathode on 3, 2 left open.
        return Diode(numbers["1"], numbers["3"], named=False)
    return None


def junctions_of(wiring: Wiring, part: int) -> list[Diode]:
    """All junctions of a diode part, also of dual ones with a common pin."""
    one = diode_of(wiring, part)
    if one is not None:
        return [one]
    pins = [pin for pin in wiring.pins[part] if pin.net >= 0]
    anodes = {pin.net for pin in pins if _ANODE.fullmatch(_label(pin))}
    cathodes = {pin.net for pin in pins if _CATHODE.fullmatch(_label(pin))}
    if not anodes and not cathodes:
        return _dual_by_marking(wiring, part)
    if len(anodes) == 1 or len(cathodes) == 1:
        return [Diode(a, c, named=True) for a in sorted(anodes) for c in sorted(cathodes) if a != c]
    return []


def _dual_by_marking(wiring: Wiring, part: int) -> list[Diode]:
    """Two diodes in a three-pin body with numbered pins, pin 3 being the common one.

    The last letter or number of the marking tells how they are joined (from memory): C and 05
    common cathode, A and 06 common anode, S and 04 in series.
    """
    numbers = {pin.number: pin.net for pin in wiring.pins[part] if pin.net >= 0}
    if set(numbers) != {"1", "2", "3"}:
        return []
    one, two, common = numbers["1"], numbers["2"], numbers["3"]
    value = wiring.board.parts[part].value.upper()
    if _COMMON_CATHODE.search(value):
        pairs = [(one, common), (two, common)]
    elif _COMMON_ANODE.search(value):
        pairs = [(common, one), (common, two)]
    elif _IN_SERIES.search(value):
        pairs = [(one, common), (common, two)]
    else:
        return []
    return [Diode(a, c, named=False) for a, c in pairs if a != c]


def switch_of(wiring: Wiring, part: int) -> Switch:
    """Gate, drain and source of a field effect transistor as far as pin names tell."""
    pins = [pin for pin in wiring.pins[part] if pin.net >= 0]

    def net_of(pattern: re.Pattern[str]) -> int | None:
        found = {pin.net for pin in pins if pattern.fullmatch(_label(pin))}
        return found.pop() if len(found) == 1 else None

    return Switch(net_of(_GATE), net_of(_DRAIN), net_of(_SOURCE))


def usual_switch_of(wiring: Wiring, part: int) -> Switch:
    """Gate, source and drain of a three-pin transistor by the usual numbering of small bodies.

    Pins 1, 2, 3 of SOT-23, SOT-323 and SC-70 (from memory); a hint only, since some parts differ.
    Bipolar transistors have base, emitter and collector in the same places.
    """
    numbers = {pin.number: pin.net for pin in wiring.pins[part] if pin.net >= 0}
    own = wiring.board.parts[part]
    if set(numbers) != {"1", "2", "3"} or not _SMALL_BODY.search(f"{own.value} {own.package}"):
        return Switch(None, None, None)
    return Switch(numbers["1"], numbers["3"], numbers["2"])
