# SPDX-License-Identifier: GPL-3.0-or-later
"""A smaller circuit with the same volts: nodes that can't differ become one.

Two nodes that hang in the same way on the same (or equally placed) nodes always have the same
volts: the forty data lines between one processor and one memory are one line forty times as
strong. The partition is refined until each class sees every other class alike (an equitable
partition), so no volt is lost; the kept nodes stay alone.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from netgraph.circuit.junction import FloatArray
from netgraph.circuit.network import GROUND, Circuit, IntArray, Label

_DIGITS = 12
"""Values that agree in so many digits count as equal."""


@dataclass(frozen=True, eq=False)
class Lumped:
    """A circuit whose nodes are classes of nodes.

    Attributes
    ----------
    circuit
        The smaller circuit; its node names are those of each class's first node.
    class_of
        Shape (nodes of the full circuit,): the class of each.
    """

    circuit: Circuit
    class_of: IntArray

    def spread(self, volts: FloatArray) -> FloatArray:
        """Volts of the full circuit's nodes from those of the classes."""
        return volts[self.class_of]


def lump_circuit(circuit: Circuit, keep: Iterable[int], *, drawn: bool = False) -> Lumped:
    """Join nodes that can't differ as long as sources and faults touch kept nodes only.

    Parameters
    ----------
    keep
        Nodes that stay alone: all that a source, a reading or a fault touches.
    drawn
        Whether values will be drawn: then only rows that share a draw count as alike, so that
        the drawn boards too have the same volts.
    """
    count = len(circuit.nodes)
    color = np.zeros(count, dtype=np.int64)
    kept = sorted({node for node in keep if node >= 0})
    color[kept] = np.arange(1, len(kept) + 1)
    ends, others, laws = _half_elements(circuit, drawn)
    classes = len(np.unique(color))
    while True:
        signature = _signatures(count, color, ends, others, laws)
        pairs = np.stack([color, signature], axis=1)
        _, color = np.unique(pairs, axis=0, return_inverse=True)
        color = color.reshape(-1)
        found = int(color.max(initial=-1)) + 1
        if found == classes:
            break
        classes = found
    return _quotient(circuit, color, drawn)


def _laws(circuit: Circuit, drawn: bool) -> tuple[IntArray, IntArray]:
    """A number per branch and per junction that is equal where the law is."""
    branch = [circuit.siemens, circuit.branch_sd]
    joint = [circuit.saturation, circuit.emission, circuit.series_ohm, circuit.junction_sd]
    joint.append(circuit.series_sd)
    if drawn:
        # Where nothing is spread the draw doesn't matter.
        branch.append(np.where(circuit.branch_sd > 0, circuit.branch_group, -1).astype(np.float64))
        joint.append(
            np.where(
                circuit.junction_sd + circuit.series_sd > 0, circuit.junction_group, -1
            ).astype(np.float64)
        )
    return _keys(branch), _keys(joint)


def _half_elements(circuit: Circuit, drawn: bool) -> tuple[IntArray, IntArray, IntArray]:
    """Each element seen from each of its ends: that end, the other one, and a key of its law."""
    branch, joint = _laws(circuit, drawn)
    # Anode and cathode see a junction differently.
    laws = [3 * branch, 3 * branch, 3 * joint + 1, 3 * joint + 2]
    ends = [circuit.a, circuit.b, circuit.anode, circuit.cathode]
    others = [circuit.b, circuit.a, circuit.cathode, circuit.anode]
    end, other = np.concatenate(ends), np.concatenate(others)
    law = np.concatenate(laws)
    inside = end >= 0
    return end[inside], other[inside], law[inside]


def _keys(columns: list[FloatArray]) -> IntArray:
    if not len(columns[0]):
        return np.empty(0, dtype=np.int64)
    rounded = [_rounded(one) for one in columns]
    _, key = np.unique(np.stack(rounded, axis=1), axis=0, return_inverse=True)
    return key.reshape(-1).astype(np.int64)


def _rounded(values: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore"):
        power = np.where(values > 0, np.floor(np.log10(np.abs(values))), 0.0)
    scale = 10.0 ** (_DIGITS - 1 - power)
    rounded: FloatArray = np.round(values * scale) / scale
    return rounded


def _signatures(
    count: int, color: IntArray, ends: IntArray, others: IntArray, laws: IntArray
) -> IntArray:
    """A number per node that is equal where the sorted list of (law, class beyond) is."""
    beyond = np.where(others < 0, -1, color[others])
    _, pair = np.unique(np.stack([laws, beyond], axis=1), axis=0, return_inverse=True)
    pair = pair.reshape(-1)
    order = np.lexsort((pair, ends))
    lists: list[list[int]] = [[] for _ in range(count)]
    for end, number in zip(ends[order].tolist(), pair[order].tolist(), strict=True):
        lists[end].append(number)
    seen: dict[tuple[int, ...], int] = {}
    return np.array([seen.setdefault(tuple(one), len(seen)) for one in lists], dtype=np.int64)


def _quotient(circuit: Circuit, color: IntArray, drawn: bool) -> Lumped:
    """One node a class, elements between two classes added up.

    Every node of a class has the same elements, so the class as a whole carries their sum: the
    equations of a class are the sum of those of its nodes.
    """
    classes = int(color.max(initial=-1)) + 1
    names: list[str] = [""] * classes
    for node in range(len(color) - 1, -1, -1):
        names[color[node]] = circuit.nodes[node]
    beyond = np.append(color, GROUND)
    a, b = beyond[circuit.a], beyond[circuit.b]
    branch_law, joint_law = _laws(circuit, drawn)
    rows = _Rows(np.sort(np.stack([a, b], axis=1), axis=1), branch_law)
    anode, cathode = beyond[circuit.anode], beyond[circuit.cathode]
    ends = np.stack([anode, cathode], axis=1)
    joints = _Rows(ends, joint_law)
    first, times = joints.first, joints.times
    small = Circuit(
        tuple(names),
        {
            name: (GROUND if node < 0 else int(color[node]))
            for name, node in circuit.node_of.items()
        },
        rows.ends[:, 0],
        rows.ends[:, 1],
        circuit.siemens[rows.first] * rows.times,
        circuit.branch_sd[rows.first],
        circuit.branch_group[rows.first],
        _labels(circuit.branch_label, rows.first),
        joints.ends[:, 0],
        joints.ends[:, 1],
        circuit.saturation[first] * times,
        circuit.emission[first],
        circuit.series_ohm[first] / times,
        circuit.junction_sd[first],
        circuit.series_sd[first],
        circuit.junction_group[first],
        _labels(circuit.junction_label, first),
        circuit.kelvin,
        circuit.notes,
        circuit.groups,
    )
    return Lumped(small, color)


class _Rows:
    """Elements of equal ends and equal law counted: `first` of each kind and `times` it occurs."""

    def __init__(self, ends: IntArray, law: IntArray) -> None:
        useful = np.flatnonzero(ends[:, 0] != ends[:, 1])
        key = np.concatenate([ends, law[:, None]], axis=1)[useful]
        if not len(useful):
            self.first, self.times = np.empty(0, dtype=np.int64), np.empty(0)
            self.ends = np.empty((0, 2), dtype=np.int64)
            return
        _, first, times = np.unique(key, axis=0, return_index=True, return_counts=True)
        self.first = useful[first]
        self.times = times.astype(np.float64)
        self.ends = ends[self.first]


def _labels(labels: tuple[Label, ...], rows: IntArray) -> tuple[Label, ...]:
    return tuple(labels[row] for row in rows.tolist())
