# SPDX-License-Identifier: GPL-3.0-or-later
"""Boards of a few pads on one net, their copper drawn by hand, for the tests of `copper`."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from netgraph.model import Board, BoardBuilder
from netgraph.model.board import CopperSide
from netgraph.model.copper import Arcs, Copper, Fill, StackLayer, Stackup, Tracks, Vias, Zone

MM = 1_000_000
Point = tuple[float, float]


def nm(points: Sequence[Sequence[float]]) -> np.ndarray:  # type: ignore[type-arg]
    """Millimetres as integer nanometres."""
    return np.rint(np.array(points, dtype=np.float64) * MM).astype(np.int64)


def copper_board(
    pads: Sequence[tuple[Point, Point, str, CopperSide]],
    *,
    tracks: Sequence[tuple[Point, Point, float, int]] = (),
    arcs: Sequence[tuple[Point, Point, Point, float, int]] = (),
    vias: Sequence[tuple[Point, float, float, int, int]] = (),
    fills: Sequence[tuple[int, Sequence[Point]]] = (),
    unfilled: bool = False,
    layers: int = 2,
    copper_um: float | None = 35.0,
    gap_um: float = 1600.0,
    angle_deg: float = 0.0,
) -> Board:
    """Pads P1, P2 ... (middle, size, shape, side) on net N; all lengths in millimetres."""
    builder = BoardBuilder("copper")
    builder.copper_layers = ("F.Cu", *(f"In{i}.Cu" for i in range(1, layers - 1)), "B.Cu")
    builder.capabilities = {"has_positions", "has_copper"}
    net = builder.add_net("N")
    for number, ((x, y), (w, h), shape, side) in enumerate(pads, start=1):
        part = builder.add_part(f"P{number}", x_nm=round(x * MM), y_nm=round(y * MM))
        builder.add_pad(
            part,
            "1",
            "N",
            x_nm=round(x * MM),
            y_nm=round(y * MM),
            width_nm=round(w * MM),
            height_nm=round(h * MM),
            shape=shape,
            copper_side=side,
            angle_deg=angle_deg,
            kind="through" if side == "both" else "smd",
        )
    if copper_um is not None:
        stack: list[StackLayer] = []
        for k, name in enumerate(builder.copper_layers):
            if k:
                stack.append(StackLayer(f"dielectric {k}", "core", round(gap_um * 1000)))
            stack.append(StackLayer(name, "copper", round(copper_um * 1000)))
        builder.stackup = Stackup(tuple(stack), None, assumed=False)

    def column(values: Sequence[int]) -> np.ndarray:  # type: ignore[type-arg]
        return np.array(values, dtype=np.int64)

    def points(values: Sequence[Point]) -> np.ndarray:  # type: ignore[type-arg]
        return nm(values).reshape(-1, 2)

    zones = [
        Zone(net, "", (layer,), 0, nm(ring), (Fill(layer, nm(ring)),)) for layer, ring in fills
    ]
    if unfilled:
        zones.append(Zone(net, "", (0,), 0, nm([(0, 0), (1, 0), (1, 1)]), ()))
    drawn = Copper(
        Tracks(
            points([t[0] for t in tracks]),
            points([t[1] for t in tracks]),
            column([round(t[2] * MM) for t in tracks]),
            column([t[3] for t in tracks]),
            column([net] * len(tracks)),
        ),
        Arcs(
            points([t[0] for t in arcs]),
            points([t[1] for t in arcs]),
            points([t[2] for t in arcs]),
            column([round(t[3] * MM) for t in arcs]),
            column([t[4] for t in arcs]),
            column([net] * len(arcs)),
        ),
        Vias(
            points([v[0] for v in vias]),
            column([round(v[1] * MM) for v in vias]),
            column([round(v[2] * MM) for v in vias]),
            column([v[3] for v in vias]),
            column([v[4] for v in vias]),
            column([net] * len(vias)),
        ),
        tuple(zones),
    )
    builder.load_copper = lambda: drawn
    return builder.freeze()
