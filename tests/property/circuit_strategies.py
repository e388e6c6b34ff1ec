# SPDX-License-Identifier: GPL-3.0-or-later
"""Random circuits: resistors over eight decades, junctions of all kinds, supplies and meters."""

from __future__ import annotations

from dataclasses import dataclass

from hypothesis import strategies as st

from netgraph.circuit.network import GROUND, Circuit, CircuitBuilder
from netgraph.circuit.solve import Source

LAWS = (
    (3e-9, 1.8),
    (1e-6, 1.05),
    (1e-13, 1.1),
    (1e-12, 1.1),
    (1e-14, 1.0),
    (4.4e-9, 2.0),
)
"""Saturation current and emission factor: the kinds of junctions of the program's own tables."""


@dataclass(frozen=True)
class Drawn:
    circuit: Circuit
    sources: tuple[Source, ...]


@st.composite
def circuits(
    draw: st.DrawFn, *, junctions: bool = True, plain: bool = False, most_nodes: int = 10
) -> Drawn:
    """Every node has some path of resistors to ground, so that all volts are well defined.

    `plain` allows junctions without series resistance.
    """
    count = draw(st.integers(2, most_nodes))
    builder = CircuitBuilder()
    nodes = [builder.node(f"N{k}") for k in range(count)]
    ohms = st.floats(-2.0, 6.0).map(lambda power: 10.0**power)
    ends = st.sampled_from([GROUND, *nodes])
    for k in nodes:
        builder.branch(k, draw(st.sampled_from([GROUND, *nodes[:k]])), draw(ohms), sd=0.1)
    for _ in range(draw(st.integers(0, 2 * count))):
        builder.branch(draw(ends), draw(ends), draw(ohms), sd=0.1)
    if junctions:
        for _ in range(draw(st.integers(1, 2 * count))):
            saturation, emission = draw(st.sampled_from(LAWS))
            series = draw(st.sampled_from((0.0, 0.5, 2.0, 100.0) if plain else (0.5, 2.0, 100.0)))
            builder.junction(
                draw(ends), draw(ends), saturation, emission, series, sd=0.5, series_sd=0.3
            )
    sources = []
    for _ in range(draw(st.integers(1, 2))):
        a, b = draw(st.sampled_from(nodes)), draw(ends)
        if a == b:
            b = GROUND
        if draw(st.booleans()):
            sources.append(Source(a, b, draw(st.floats(-2e-3, 2e-3))))
        else:
            sources.append(Source(a, b, draw(st.floats(0.1, 5.0)) / 0.12, 1 / 0.12))
    return Drawn(builder.freeze(), tuple(sources))
