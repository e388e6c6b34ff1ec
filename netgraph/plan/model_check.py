# SPDX-License-Identifier: GPL-3.0-or-later
"""Does the circuit model find more nets alive than the walk over conducting parts?

The ceiling of an injection rests on both: what either finds counts. The model can so lower a
ceiling or take it away; it never raises one, since nothing that the walk found is left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from netgraph.circuit.bounds import volt_bounds
from netgraph.plan.conduction import BRIDGE, Powered
from netgraph.plan.wiring import Wiring

ONE_VOLT = 1.0
"""Which nets are reached doesn't depend on the volts: no credit is given for any drop."""


def with_model(
    wiring: Wiring,
    net: str,
    powered: Mapping[str, Powered],
    bridges: Iterable[tuple[str, str]] = (),
) -> dict[str, Powered]:
    """The nets that come alive by the walk, and those that only the circuit model finds.

    Parameters
    ----------
    powered
        What the walk found, by name.

    Raises
    ------
    UnknownNameError
        A net that the board does not have.
    """
    found = dict(powered)
    bounds = volt_bounds(wiring.board, wiring.roles, wiring.tree, net, ONE_VOLT, bridges)
    for name, bound in bounds.items():
        if name in wiring.grounds:
            continue
        known = found.get(name)
        # What stands behind a large resistor carries no chip: the walk lists it as far as it helps.
        if bound.way == "hard" and (known is None or not known.hard):
            found[name] = Powered(name, bound.through or BRIDGE, bound.from_net, "conducts")
    return found
