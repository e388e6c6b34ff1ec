# SPDX-License-Identifier: GPL-3.0-or-later
"""Which series part to open so that one reading on each side halves the suspicion.

Weights are plain numbers: how suspect each part is; where they come from is not asked here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import log2
from typing import Final

from netgraph.plan.power_paths import OPENABLE, PowerPaths, reach
from netgraph.plan.wiring import BODILESS, Wiring, name_list
from netgraph.reasons import Reason, reason

LEAST_GAIN: Final = 0.05
"""Below this many bits a split tells next to nothing (our choice)."""


@dataclass(frozen=True, slots=True)
class Split:
    """Parts to open together (two that lie side by side join the same nets), and what it tells.

    `share_behind` of the weight lies behind them, seen from the net asked about; `gain_bits` is
    the entropy of that yes or no; `cost` as for isolation.
    """

    parts: tuple[str, ...]
    share_behind: float
    gain_bits: float
    cost: float
    nets_behind: tuple[str, ...]
    why: Reason

    def as_json(self) -> dict[str, object]:
        """All fields as plain data."""
        return {
            "parts": list(self.parts),
            "share_behind": self.share_behind,
            "gain_bits": self.gain_bits,
            "cost": self.cost,
            "nets_behind": list(self.nets_behind),
            "why": self.why.as_json(),
        }


def find_splits(
    wiring: Wiring,
    net: str,
    weights: Mapping[str, float] | None = None,
    guarded: frozenset[str] = frozenset(),
) -> tuple[Split, ...]:
    """Ways to split the rail `net` and what hangs on it, the most telling for its cost first.

    Parameters
    ----------
    weights
        Suspicion by part identity, not negative; parts that aren't named count nothing. None: all
        fitted parts alike, but for bare metal and the series parts themselves.
    guarded
        Chips that may hold the data; parts near them cost more.

    Raises
    ------
    UnknownNameError
        The board has no such net.
    """
    wiring.board.net(net)
    paths = PowerPaths(wiring)
    doors = {
        part: nets
        for part, nets in paths.joins.items()
        if wiring.role(part) in OPENABLE and len(nets) == 2 and wiring.is_sure(part)
    }
    cluster = reach(doors, net)
    weight = _weights(wiring, cluster, doors, weights)
    total = sum(weight.values())
    if total <= 0:
        return ()
    found: list[Split] = []
    groups = {tuple(sorted(nets)) for nets in doors.values() if set(nets) <= cluster}
    for pair in sorted(groups):
        # Parts that lie side by side have to be opened together.
        parts = tuple(one for one, nets in doors.items() if tuple(sorted(nets)) == pair)
        behind = cluster - reach(doors, net, parts)
        share = sum(weight[one] for one in behind) / total
        gain = _entropy(share)
        if not behind or gain < LEAST_GAIN:
            continue
        cost = round(sum(paths.cost(one, guarded) for one in parts), 2)
        why = reason("split-at", parts=name_list(parts), net=net, share=round(100 * share))
        found.append(
            Split(parts, round(share, 4), round(gain, 4), cost, tuple(sorted(behind)), why)
        )
    return tuple(sorted(found, key=lambda one: (-one.gain_bits / one.cost, one.parts)))


def _weights(
    wiring: Wiring,
    cluster: frozenset[str],
    doors: Mapping[str, tuple[str, ...]],
    weights: Mapping[str, float] | None,
) -> dict[str, float]:
    """Suspicion by net; a part on several nets of the cluster counts in equal shares."""
    found = dict.fromkeys(cluster, 0.0)
    parts = {one for net in cluster for one in wiring.parts(net)}
    for part in sorted(parts):
        if weights is not None:
            weight = weights.get(part, 0.0)
        else:
            weight = 0.0 if part in doors or wiring.role(part) in BODILESS else 1.0
        nets = [net for net in wiring.nets(part) if net in cluster]
        for net in nets:
            found[net] += weight / len(nets)
    return found


def _entropy(share: float) -> float:
    """Bits in a yes or no of this probability."""
    if not 0 < share < 1:
        return 0.0
    return -share * log2(share) - (1 - share) * log2(1 - share)
