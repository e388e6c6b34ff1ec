# SPDX-License-Identifier: GPL-3.0-or-later
"""A circuit as columns: branches with a conductance, junctions, and nodes; frozen and checked.

Ground is node -1. What conducts at all stands here as a row; nothing is added later in silence.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from netgraph.circuit.junction import ROOM_KELVIN, FloatArray, thermal_volts
from netgraph.errors import CircuitError
from netgraph.reasons import Reason

IntArray = NDArray[np.int64]
Basis = Literal["part", "table", "default", "fault", "test"]
"""Where a value comes from: the part's value text, a table, a stated default, a named fault."""

GROUND: Final = -1
GROUND_NAME: Final = "ground"
LEAST_OHM: Final = 1e-6
"""Below a microohm no board part lies; a smaller value is a slip."""


@dataclass(frozen=True, slots=True)
class Label:
    """What a row stands for: the part, what in it conducts, and where the value comes from."""

    part_id: str
    what: str
    basis: Basis
    source: str


@dataclass(frozen=True, slots=True)
class Row:
    """One conducting thing in words: from `a` (the anode) to `b`, its figures and their spread.

    `ohm` is the resistance, of a junction the one in series; `saturation` and `emission` are those
    of a junction, None for a resistance; `sd` is the standard deviation of ln R or ln Is.
    """

    label: Label
    a: str
    b: str
    ohm: float
    saturation: float | None
    emission: float | None
    sd: float


@dataclass(frozen=True, eq=False)
class Circuit:
    """Branches and junctions between nodes.

    Attributes
    ----------
    nodes
        Names, one a node: the net's name, for merged nets the first one's.
    node_of
        Net name -> node, -1 for ground.
    a, b, siemens, branch_sd, branch_group
        Shape (b,): ends, conductance, standard deviation of its logarithm, and which rows share
        one draw.
    anode, cathode, saturation, emission, series_ohm, junction_sd, series_sd, junction_group
        Shape (j,): ends, Is in ampere, n, R in ohm, standard deviations of ln Is and ln R, shared
        draws. One draw moves both: a chip that leaks more has the larger Is and the smaller R.
    kelvin
        Temperature of all junctions.
    """

    nodes: tuple[str, ...]
    node_of: Mapping[str, int]
    a: IntArray
    b: IntArray
    siemens: FloatArray
    branch_sd: FloatArray
    branch_group: IntArray
    branch_label: tuple[Label, ...]
    anode: IntArray
    cathode: IntArray
    saturation: FloatArray
    emission: FloatArray
    series_ohm: FloatArray
    junction_sd: FloatArray
    series_sd: FloatArray
    junction_group: IntArray
    junction_label: tuple[Label, ...]
    kelvin: float = ROOM_KELVIN
    notes: tuple[Reason, ...] = ()
    groups: int = 0

    @cached_property
    def scale_volts(self) -> FloatArray:
        """N kT/q of each junction."""
        return self.emission * thermal_volts(self.kelvin)

    def node(self, net: str) -> int:
        """Node of a net, -1 for ground.

        Raises
        ------
        CircuitError
            The circuit has no such net.
        """
        try:
            return self.node_of[net]
        except KeyError:
            raise CircuitError("circuit-invalid", f"the circuit has no net {net!r}") from None

    @cached_property
    def islands(self) -> tuple[tuple[str, ...], ...]:
        """Groups of nodes without any path to ground, by name; their volts are not known."""
        reached = reach_of_ground(len(self.nodes), (self.a, self.anode), (self.b, self.cathode))
        found: dict[int, list[str]] = {}
        for node, label in enumerate(reached):
            if label >= 0:
                found.setdefault(int(label), []).append(self.nodes[node])
        return tuple(sorted(tuple(sorted(names)) for names in found.values()))

    def rows_at(self, nodes: Iterable[int]) -> tuple[Row, ...]:
        """All that conducts at some nodes, each row once, branches first."""
        wanted = frozenset(nodes)

        def name(node: int) -> str:
            return GROUND_NAME if node < 0 else self.nodes[node]

        found = [
            Row(label, name(a), name(b), 1.0 / g, None, None, sd)
            for label, a, b, g, sd in zip(
                self.branch_label,
                self.a.tolist(),
                self.b.tolist(),
                self.siemens.tolist(),
                self.branch_sd.tolist(),
                strict=True,
            )
            if a in wanted or b in wanted
        ]
        found += [
            Row(label, name(a), name(b), ohm, saturation, emission, sd)
            for label, a, b, saturation, emission, ohm, sd in zip(
                self.junction_label,
                self.anode.tolist(),
                self.cathode.tolist(),
                self.saturation.tolist(),
                self.emission.tolist(),
                self.series_ohm.tolist(),
                self.junction_sd.tolist(),
                strict=True,
            )
            if a in wanted or b in wanted
        ]
        return tuple(found)

    def without_parts(self, part_ids: Iterable[str]) -> Circuit:
        """The circuit after these parts are gone: all their rows are left out."""
        gone = frozenset(part_ids)
        branch = [i for i, one in enumerate(self.branch_label) if one.part_id not in gone]
        junction = [i for i, one in enumerate(self.junction_label) if one.part_id not in gone]
        return self._of_rows(branch, junction)

    def _of_rows(self, branch: list[int], junction: list[int]) -> Circuit:
        pick_b, pick_j = np.array(branch, dtype=np.int64), np.array(junction, dtype=np.int64)
        return Circuit(
            self.nodes,
            self.node_of,
            self.a[pick_b],
            self.b[pick_b],
            self.siemens[pick_b],
            self.branch_sd[pick_b],
            self.branch_group[pick_b],
            tuple(self.branch_label[i] for i in branch),
            self.anode[pick_j],
            self.cathode[pick_j],
            self.saturation[pick_j],
            self.emission[pick_j],
            self.series_ohm[pick_j],
            self.junction_sd[pick_j],
            self.series_sd[pick_j],
            self.junction_group[pick_j],
            tuple(self.junction_label[i] for i in junction),
            self.kelvin,
            self.notes,
            self.groups,
        )

    def with_branches(self, rows: Iterable[tuple[int, int, float, Label]]) -> Circuit:
        """The circuit with more branches (ends, ohms, label); their values have no spread.

        Raises
        ------
        CircuitError
            A value is not a number, not positive, or an end is no node.
        """
        more = list(rows)
        if not more:
            return self
        a = np.array([one[0] for one in more], dtype=np.int64)
        b = np.array([one[1] for one in more], dtype=np.int64)
        ohm = np.array([one[2] for one in more], dtype=np.float64)
        _check_ohms(ohm, [one[3] for one in more])
        _check_ends(len(self.nodes), a, b)
        zero = np.zeros(len(more))
        group = self.groups + np.arange(len(more), dtype=np.int64)
        return Circuit(
            self.nodes,
            self.node_of,
            np.concatenate([self.a, a]),
            np.concatenate([self.b, b]),
            np.concatenate([self.siemens, 1.0 / ohm]),
            np.concatenate([self.branch_sd, zero]),
            np.concatenate([self.branch_group, group]),
            (*self.branch_label, *(one[3] for one in more)),
            self.anode,
            self.cathode,
            self.saturation,
            self.emission,
            self.series_ohm,
            self.junction_sd,
            self.series_sd,
            self.junction_group,
            self.junction_label,
            self.kelvin,
            self.notes,
            self.groups + len(more),
        )


@dataclass
class CircuitBuilder:
    """Collects nodes and rows; ``freeze`` checks them and makes the circuit.

    >>> c = CircuitBuilder()
    >>> _ = c.branch(c.node("A"), c.node("B"), 10.0), c.branch(c.node("B"), GROUND, 20.0)
    >>> c.freeze().siemens.tolist()
    [0.1, 0.05]
    """

    names: list[str] = field(default_factory=list)
    node_of: dict[str, int] = field(default_factory=dict)
    notes: list[Reason] = field(default_factory=list)
    _branches: list[tuple[int, int, float, float, int, Label]] = field(default_factory=list)
    _junctions: list[tuple[int, int, float, float, float, float, float, int, Label]] = field(
        default_factory=list
    )
    _groups: dict[str, int] = field(default_factory=dict)
    _count: int = 0

    def node(self, name: str) -> int:
        """Node of this name, added if new."""
        if name not in self.node_of:
            self.node_of[name] = len(self.names)
            self.names.append(name)
        return self.node_of[name]

    def branch(
        self,
        a: int,
        b: int,
        ohm: float,
        *,
        sd: float = 0.0,
        label: Label | None = None,
        shared: str = "",
    ) -> None:
        """A resistance between two nodes; one from a node to itself is left out.

        Parameters
        ----------
        sd
            Standard deviation of ln R.
        shared
            Rows of one such name share one draw.
        """
        if a != b:
            row = label or Label("", "resistance", "test", "")
            self._branches.append((a, b, ohm, sd, self._group(shared), row))

    def junction(
        self,
        anode: int,
        cathode: int,
        saturation: float,
        emission: float,
        series_ohm: float = 0.0,
        *,
        sd: float = 0.0,
        series_sd: float = 0.0,
        label: Label | None = None,
        shared: str = "",
    ) -> None:
        """A junction from anode to cathode; `sd` is that of ln Is, `series_sd` that of ln R."""
        if anode != cathode:
            row = label or Label("", "junction", "test", "")
            group = self._group(shared)
            self._junctions.append(
                (anode, cathode, saturation, emission, series_ohm, sd, series_sd, group, row)
            )

    def _group(self, shared: str) -> int:
        if shared and shared in self._groups:
            return self._groups[shared]
        self._count += 1
        if shared:
            self._groups[shared] = self._count - 1
        return self._count - 1

    def freeze(self, kelvin: float = ROOM_KELVIN) -> Circuit:
        """Check all values and make the circuit.

        Raises
        ------
        CircuitError
            A value is not a number, negative or beyond what exists, or an end is no node.
        """
        rows, joints = self._branches, self._junctions
        count = len(self.names)
        a, b = _ints([r[0] for r in rows]), _ints([r[1] for r in rows])
        ohm = _floats([r[2] for r in rows])
        _check_ohms(ohm, [r[5] for r in rows])
        anode, cathode = _ints([r[0] for r in joints]), _ints([r[1] for r in joints])
        labels = tuple(r[8] for r in joints)
        saturation, emission = _floats([r[2] for r in joints]), _floats([r[3] for r in joints])
        series, sd = _floats([r[4] for r in joints]), _floats([r[5] for r in joints])
        _check(saturation, 1e-40, 1.0, "saturation current", "A", labels)
        _check(emission, 0.5, 20.0, "emission factor", "", labels)
        _check(series, 0.0, 1e9, "series resistance", "ohm", labels)
        if not 200.0 <= kelvin <= 500.0:
            raise CircuitError(
                "circuit-invalid", f"{kelvin:g} K is no temperature of a board on a bench",
                hint="room temperature is 295 to 300 K",
            )  # fmt: skip
        _check_ends(count, a, b)
        _check_ends(count, anode, cathode)
        return Circuit(
            tuple(self.names),
            dict(self.node_of),
            a,
            b,
            1.0 / ohm,
            _floats([r[3] for r in rows]),
            _ints([r[4] for r in rows]),
            tuple(r[5] for r in rows),
            anode,
            cathode,
            saturation,
            emission,
            series,
            sd,
            _floats([r[6] for r in joints]),
            _ints([r[7] for r in joints]),
            labels,
            kelvin,
            tuple(self.notes),
            self._count,
        )


def reach_of_ground(count: int, left: Iterable[IntArray], right: Iterable[IntArray]) -> IntArray:
    """Per node: -1 where some path leads to ground, else the number of its island.

    Parameters
    ----------
    left, right
        Ends of all that conducts, in pieces of equal length.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    a = np.concatenate(list(left)) if count else np.empty(0, dtype=np.int64)
    b = np.concatenate(list(right)) if count else np.empty(0, dtype=np.int64)
    # Ground is one more node at the end.
    a, b = np.where(a < 0, count, a), np.where(b < 0, count, b)
    graph = coo_array((np.ones(len(a)), (a, b)), shape=(count + 1, count + 1))
    _, label = connected_components(graph, directed=False)
    own: IntArray = label[:count].astype(np.int64)
    own[own == label[count]] = -1
    return own


def _ints(values: list[int]) -> IntArray:
    return np.array(values, dtype=np.int64)


def _floats(values: list[float]) -> FloatArray:
    return np.array(values, dtype=np.float64)


def _check_ends(count: int, a: IntArray, b: IntArray) -> None:
    for ends in (a, b):
        if len(ends) and not (int(ends.min()) >= -1 and int(ends.max()) < count):
            raise CircuitError("circuit-invalid", "a branch ends on a node that does not exist")


def _check_ohms(ohm: FloatArray, labels: list[Label] | tuple[Label, ...]) -> None:
    _check(ohm, LEAST_OHM, 1e15, "resistance", "ohm", tuple(labels))


def _check(
    values: FloatArray,
    least: float,
    most: float,
    what: str,
    unit: str,
    labels: tuple[Label, ...],
) -> None:
    bad = np.flatnonzero(~((values >= least) & (values <= most)))
    if len(bad):
        row = int(bad[0])
        of = f" of {labels[row].part_id}" if labels[row].part_id else ""
        number = f"{values[row]:g} {unit}".strip()
        raise CircuitError(
            "circuit-invalid",
            f"the {what}{of} is {number}",
            hint=f"between {least:g} and {most:g} {unit}".strip(),
        )
