# SPDX-License-Identifier: GPL-3.0-or-later
"""Where power comes in from outside: cells, ports, jacks, terminals and powered cables."""

from __future__ import annotations

import re
from dataclasses import dataclass

from netgraph.rails.candidate import Supplies
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import Role
from netgraph.roles.ground import last_segment
from netgraph.roles.net_words import INPUT_PART

ENTRY_ROLES: frozenset[Role] = frozenset(("connector", "battery", "slot"))
CELL_NAME = re.compile(r"VBAT|BATT|LIPO|CELL|(?:^|[^A-Z])BAT(?:$|[^A-Z])|CR20", re.IGNORECASE)
"""Names of a cell's net."""
_ENTRY_NAME = re.compile(
    r"(?:^|[^A-Za-z])(?:[A-Z]{0,4}_?VBUS.*|VBAT.*|BATT?.*|V?DC_?IN.*|DC_?\d*V?.*|VIN.*|"
    r"V?USB(?:_?5V|_?V.*)?|"
    r".*USB_?\d?V?BUS.*|PWR_?IN|POWER_?IN|V?EXT(?:_.*)?|.*\bIN\b|5V_?USB|USB_?5V|POE.*|"
    r"VRAW|RAW|12V_?IN|"
    r"VAC.*|.*JACK.*|LIPO.*|VCELL|CELL.*)(?:$|[^A-Za-z])",
    re.IGNORECASE,
)
_ENTRY_PIN = re.compile(r"VBUS|VBAT|BAT\+?$|DC_?IN", re.IGNORECASE)
_USB_SUPPLY_PIN = re.compile(r"1|A4|A9|B4|B9|V\+|VCC")
_FEW_NETS = 4

BY_PIN_AND_PART, BY_NAME_AND_PART, RECTIFIED = 0.9, 0.85, 0.7
BY_NAME_OR_PIN, BY_PART, LEFT_OVER = 0.6, 0.5, 0.45
"""How much each kind of evidence speaks for an entry, from most to least."""
IS_ENTRY = LEFT_OVER
"""From here a net that nothing feeds is an entry."""


@dataclass(frozen=True, slots=True)
class Entry:
    """What speaks for a net as an entry: a score of 0 to 1 and the reason."""

    score: float
    why: Reason


def find_entries(every: Supplies) -> dict[int, Entry]:
    """Nets that a cell or an input connector supplies, by pin, name and part."""
    found: dict[int, Entry] = {}

    def keep(net: int, score: float, why: Reason) -> None:
        if net not in found or score > found[net].score:
            found[net] = Entry(score, why)

    for net in sorted(every.supplies):
        if every.kind[net] == "reference":
            continue
        for why in every.roles.nets[every.name(net)].reasons:
            if why.code == "rectified":
                keep(net, RECTIFIED, why)
        for part in every.wiring.parts[net]:
            if every.role[part] == "battery":
                keep(net, BY_PIN_AND_PART, reason("entry-cell", ref=every.part_id(part)))
            if every.role[part] in ENTRY_ROLES:
                score = _connector_score(every, part, net)
                if score:
                    keep(net, score, reason("entry-connector", ref=every.part_id(part)))
    return found


def _connector_score(every: Supplies, part: int, net: int) -> float:
    own = every.board.parts[part]
    text = f"{own.ref} {own.value} {own.package}"
    pins = every.wiring.pins_on(part, net)
    by_pin = any(_ENTRY_PIN.match(pin.name) for pin in pins)
    by_pin |= "USB" in text.upper() and any(_USB_SUPPLY_PIN.fullmatch(pin.number) for pin in pins)
    looks = INPUT_PART.search(text) is not None
    name = last_segment(every.name(net))
    named = _ENTRY_NAME.search(name) is not None and "Net-(" not in name
    if by_pin and looks:
        return BY_PIN_AND_PART
    if named and looks:
        return BY_NAME_AND_PART
    if named or by_pin:
        return BY_NAME_OR_PIN
    if looks and len(every.wiring.nets[part]) <= _FEW_NETS:
        return BY_PART
    return 0.0


def left_over(every: Supplies, net: int) -> Entry | None:
    """The weakest entry: a connector is on a rail that nothing feeds."""
    for part in every.wiring.parts[net]:
        if every.role[part] in ENTRY_ROLES:
            return Entry(LEFT_OVER, reason("entry-unfed", ref=every.part_id(part)))
    return None
