# SPDX-License-Identifier: GPL-3.0-or-later
"""Charge pumps: chips that carry charge in capacitors between two of their own pins."""

from __future__ import annotations

import re
from collections.abc import Sequence

from netgraph.roles.answer import Role
from netgraph.roles.wiring import Wiring

FLYING_PIN = re.compile(
    r"(?:C|CAP_?|CP|CF|CFLY|FLY|C1_?|C2_?|C3_?|CX)\d?_?(?:[PN+-]|POS|NEG)|C\d[AB]|CAP\d?[+-]",
    re.IGNORECASE,
)
"""Names of the two pins of a flying capacitor (common practice, no source)."""
PUMPED_PIN = re.compile(r"V\+|V-|V?OUT\d?|V[SEC]?[+-]|VNEG|VPOS|VEE|VCP|VPUMP|CPOUT", re.IGNORECASE)
"""Names of the outputs of a charge pump."""


def flying_capacitors(wiring: Wiring, role: Sequence[Role], chip: int) -> list[int]:
    """Capacitors whose two ends are pins of this chip and of nothing else.

    Where the chip's pins have names they must be those of a flying capacitor.
    """
    own = set(wiring.nets[chip])
    found = []
    for net in own:
        if len(wiring.parts[net]) != 2:
            continue
        for part in wiring.parts[net]:
            if role[part] != "capacitor" or len(wiring.nets[part]) != 2 or part in found:
                continue
            far = wiring.other_net(part, net)
            if far in own and len(wiring.parts[far]) == 2 and _named(wiring, chip, net, far):
                found.append(part)
    return sorted(found)


def _named(wiring: Wiring, chip: int, *nets: int) -> bool:
    names = [pin.name for net in nets for pin in wiring.pins_on(chip, net) if pin.name]
    return all(FLYING_PIN.fullmatch(name) for name in names) if names else False
