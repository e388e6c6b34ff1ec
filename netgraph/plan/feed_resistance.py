# SPDX-License-Identifier: GPL-3.0-or-later
"""From which pad a short that may sit anywhere on a net is reached through the least copper."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import inf, isfinite
from typing import Final

from netgraph import limits
from netgraph.model import Pad
from netgraph.plan.wiring import Wiring
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import Role

NO_SUSPECTS: Final[frozenset[Role]] = frozenset({"test-point", "mechanical"})
"""Bare copper with nothing in it that could short by itself."""


@dataclass(frozen=True, slots=True)
class FeedResistance:
    """Mean resistance from pads to the suspects by drawn copper, or why it is not known.

    `ohms` and `amps` (what the narrowest track on the way may carry; None: no track on it) by
    index of the pad; a pad whose copper reaches no suspect is left out. `share` is the part of all
    weight that drawn copper joins to the pad, 1 unless the net is drawn in several pieces.
    """

    why: Reason
    ohms: Mapping[int, float]
    share: Mapping[int, float]
    amps: Mapping[int, float | None]


def feed_resistance(
    wiring: Wiring, net: str, pads: Iterable[Pad], weights: Mapping[str, float] | None = None
) -> FeedResistance:
    """Weighted mean of the copper between each of `pads` and the suspects on `net`.

    Parameters
    ----------
    weights
        Part -> how suspect it is, as plain numbers; default: all suspects on the net alike. Names
        that are no part of this net do not count.
    """
    from netgraph.copper.net_copper import CopperUnknown, net_copper

    chosen = list(pads)
    if "has_copper" in wiring.board.capabilities and (
        len(wiring.board.pads_on_net(net)) > limits.MAX_RANKING_PORTS
    ):
        # Before the file's copper is read at all.
        why = reason("copper-many-pads", net=net, most=limits.MAX_RANKING_PORTS)
        return FeedResistance(why, {}, {}, {})
    copper = net_copper(wiring.board, net, max_cells=limits.MAX_RANKING_CELLS)
    if isinstance(copper, CopperUnknown):
        return FeedResistance(copper.why, {}, {}, {})
    from netgraph.copper.ports import ports_of, weighted_ohms

    port = {pad: number for number, pad in enumerate(copper.pads)}
    suspects = suspects_of(wiring, net, weights)
    shares: dict[int, float] = {}
    for part, weight in suspects.items():
        own = [port[pad.index] for pad in wiring.pads_of[part] if pad.net == net]
        for one in own:
            shares[one] = shares.get(one, 0.0) + weight / len(own)
    if not any(shares.values()):
        return FeedResistance(reason("copper-no-suspect", net=net), {}, {}, {})
    ports = ports_of(copper)
    ohms = weighted_ohms(ports, [port[pad.index] for pad in chosen], shares)
    at_risk = [one for one, share in shares.items() if share > 0]
    amps: dict[int, float | None] = {}
    for pad in chosen:
        if port[pad.index] in ohms:
            most = ports.amps_between(port[pad.index], at_risk)
            amps[pad.index] = most if isfinite(most) else None
    reached = {pad.index: ohms[port[pad.index]] for pad in chosen if port[pad.index] in ohms}
    why = reason("points-by-copper", net=net, suspects=len(suspects))
    if ports.islands > 1:
        why = reason(
            "points-by-copper-pieces", net=net, suspects=len(suspects), pieces=ports.islands
        )
    return FeedResistance(
        why,
        {pad: mean for pad, (mean, _) in reached.items()},
        {pad: share for pad, (_, share) in reached.items()},
        amps,
    )


def suspects_of(
    wiring: Wiring, net: str, weights: Mapping[str, float] | None = None
) -> dict[str, float]:
    """Parts on the net that could be the short, with their weights.

    Without weights these are the parts that also have a pad on a ground; where there is none of
    these, every part on the net but bare copper.
    """
    here = [one for one in wiring.parts(net) if wiring.role(one) not in NO_SUSPECTS]
    if weights is not None:
        return {one: weights[one] for one in wiring.parts(net) if weights.get(one, 0.0) > 0}
    shunts = [one for one in here if any(pad.net in wiring.grounds for pad in wiring.pads_of[one])]
    return dict.fromkeys(shunts or here, 1.0)


def least_amps(found: FeedResistance, pads: Iterable[int]) -> float:
    """What may flow at any of these pads; infinite where no track bounds it."""
    return min((most for one in pads if (most := found.amps.get(one)) is not None), default=inf)
