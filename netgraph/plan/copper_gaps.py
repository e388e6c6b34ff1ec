# SPDX-License-Identifier: GPL-3.0-or-later
"""Where tracks and vias of two nets run side by side on one layer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from netgraph.model import Board
from netgraph.plan.gaps import FloatArray, IntArray, boxes_of, near_pairs, segment_gaps

COPPER_GAP_NM: Final = 200_000
"""Solder resist bridges and leaks matter up to about 0.2 mm (common practice)."""

CELL_NM: Final = 1_000_000
"""Of many near misses in one square millimetre of a layer only the nearest is named."""


@dataclass(frozen=True, slots=True)
class CopperNear:
    """The nearest approach within one cell: kind ``via`` if a via takes part, else ``track``."""

    kind: Literal["via", "track"]
    gap_nm: float
    layer: int
    x_nm: float
    y_nm: float
    reach_nm: float = float(COPPER_GAP_NM)


def copper_neighbours(
    board: Board, net_a: str, net_b: str, *, reach_nm: int = COPPER_GAP_NM
) -> list[CopperNear]:
    """Near misses between drawn tracks, arcs (as two chords each) and vias of two nets.

    A chord lies inside its arc by a few per cent of the radius, so gaps at arcs are estimates.
    """
    best: dict[tuple[int, int, int], CopperNear] = {}
    a, b = _Runs(board, board.net(net_a).index), _Runs(board, board.net(net_b).index)
    for layer in range(len(board.copper_layers)):
        one, two = a.on(layer), b.on(layer)
        if not len(one) or not len(two):
            continue
        p, q = a.segments[one], b.segments[two]
        wide_p, wide_q = a.half[one], b.half[two]
        pairs = near_pairs(boxes_of(p, wide_p), boxes_of(q, wide_q), reach_nm)
        i, j = pairs[:, 0], pairs[:, 1]
        gaps = segment_gaps(p[i], q[j]) - wide_p[i] - wide_q[j]
        for at in np.flatnonzero(gaps <= reach_nm).tolist():
            is_via = bool(a.via[one[i[at]]] or b.via[two[j[at]]])
            x, y = _place(p[i[at]], q[j[at]])
            key = (layer, int(x // CELL_NM), int(y // CELL_NM))
            gap = max(float(gaps[at]), 0.0)
            old = best.get(key)
            if old is None or gap < old.gap_nm:
                best[key] = CopperNear(
                    "via" if is_via else "track", gap, layer, x, y, float(reach_nm)
                )
    return list(best.values())


def _place(p: FloatArray, q: FloatArray) -> tuple[float, float]:
    """Middle of the two nearest of the ends and middles: good enough to look there."""
    points_p = np.concatenate((p, p.mean(axis=0)[None]))
    points_q = np.concatenate((q, q.mean(axis=0)[None]))
    distance = np.hypot(*(points_p[:, None] - points_q[None]).transpose(2, 0, 1))
    i, j = np.unravel_index(int(distance.argmin()), distance.shape)
    middle = (points_p[i] + points_q[j]) / 2
    return float(middle[0]), float(middle[1])


class _Runs:
    """All tracks, arc chords and vias of one net as segments with half widths."""

    def __init__(self, board: Board, net: int) -> None:
        copper = board.copper
        t, arcs, vias = copper.tracks, copper.arcs, copper.vias
        mine, bent, holes = t.net == net, arcs.net == net, vias.net == net
        segments = [
            np.stack((t.start[mine], t.end[mine]), axis=1),
            np.stack((arcs.start[bent], arcs.mid[bent]), axis=1),
            np.stack((arcs.mid[bent], arcs.end[bent]), axis=1),
            np.stack((vias.at[holes], vias.at[holes]), axis=1),
        ]
        self.segments: FloatArray = np.concatenate(segments).astype(np.float64)
        widths = [t.width[mine], arcs.width[bent], arcs.width[bent], vias.size[holes]]
        self.half: FloatArray = np.concatenate(widths) / 2.0
        self.hole: FloatArray = self.half.copy()
        """Of a via half its hole, else all of the half width."""
        self.hole[len(self.half) - int(holes.sum()) :] = vias.drill[holes] / 2.0
        layers = [t.layer[mine], arcs.layer[bent], arcs.layer[bent]]
        self.first: IntArray = np.concatenate([*layers, vias.first_layer[holes]])
        self.last: IntArray = np.concatenate([*layers, vias.last_layer[holes]])
        self.via = np.zeros(len(self.half), dtype=np.bool_)
        self.via[len(self.half) - int(holes.sum()) :] = True

    def on(self, layer: int) -> IntArray:
        """Numbers of the runs that have copper on this layer."""
        return np.flatnonzero((self.first <= layer) & (layer <= self.last))
