# SPDX-License-Identifier: GPL-3.0-or-later
"""The board as a value: parts, pads, nets, copper; never changed after it is made.

Lengths are integer nanometres, y downwards; angles are degrees, counter-clockwise as seen from
the top. Pads are columns (:class:`PadColumns`); :class:`Pad` objects are views made on demand.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
from numpy.typing import NDArray

from netgraph.errors import UnknownNameError
from netgraph.model.copper import Copper, Stackup
from netgraph.net_names import quoted
from netgraph.reasons import Reason

if TYPE_CHECKING:
    import networkx as nx

Side = Literal["top", "bottom"]
CopperSide = Literal["top", "bottom", "both", "inner", "none"]
PadKind = Literal["smd", "through", "hole", "edge"]
Capability = Literal[
    "has_positions", "has_copper", "has_values", "has_pin_names", "has_pin_types", "has_dnp"
]

COPPER_SIDES: tuple[CopperSide, ...] = ("top", "bottom", "both", "inner", "none")
ASSUMED: Final = "assumed-pads"
"""Attribute of a part of which at least one pad's net is assumed, not traced."""
NO_SIDE: Final = "side-unknown"
"""Attribute of a part whose side is not told on a board that tells those of others."""
NO_CONNECT: Final = "no_connect"
"""Type of a pin that is known to join nothing (KiCad's word)."""
PAD_KINDS: tuple[PadKind, ...] = ("smd", "through", "hole", "edge")
PAD_SHAPES: tuple[str, ...] = ("circle", "rect", "oval", "roundrect", "trapezoid", "custom")


@dataclass(frozen=True, slots=True)
class Source:
    """Where a board came from: format name, file name without folders, SHA-256 in hex."""

    format: str
    file_name: str = ""
    sha256: str = ""
    version: str = ""
    generator: str = ""


@dataclass(frozen=True, slots=True)
class BoardWarning:
    """Something odd that did not stop the reading: how often, and the first line it stands on."""

    code: str
    text: str
    count: int = 1
    line: int | None = None


PadsFoundApart = tuple[tuple[str, str], ...]
"""Pads that were measured and are not joined: part identity and pin."""


def board_of(part_id: str) -> str:
    """The board of an assembly that a part is of; empty on a single board.

    >>> board_of("MAIN/U7"), board_of("U7")
    ('MAIN', '')
    """
    return part_id.rpartition("/")[0]


@dataclass(frozen=True, slots=True)
class Part:
    """A placed item of the assembly.

    `id` is unique (``MH@2`` for the second part with the reference ``MH``), `ref` is the file's
    text. `index` counts the board's parts from 0. `not_fitted_because` names the mark, in the
    file's own words, by which the part is known to be left off; None when it is fitted.
    """

    index: int
    id: str
    ref: str
    value: str
    footprint: str
    side: Side
    x_nm: int
    y_nm: int
    angle_deg: float
    not_fitted_because: str | None = None
    attributes: tuple[str, ...] = ()
    fields: tuple[tuple[str, str], ...] = ()
    tags: str = ""

    @property
    def fitted(self) -> bool:
        """Whether the part is on the assembled board."""
        return self.not_fitted_because is None

    @property
    def package(self) -> str:
        """The footprint's name without its library."""
        return self.footprint.rpartition(":")[2]


@dataclass(frozen=True, slots=True)
class Pad:
    """One copper pad of a part; (part, pin, ordinal) is its identity.

    `side` is the part's side, `copper_side` where the pad's own copper lies. `net` is None when
    nothing is connected.
    """

    index: int
    part_id: str
    ref: str
    pin: str
    ordinal: int
    net: str | None
    x_nm: int
    y_nm: int
    angle_deg: float
    side: Side
    copper_side: CopperSide
    kind: PadKind
    shape: str
    width_nm: int
    height_nm: int
    drill_nm: int
    pin_name: str
    pin_type: str


@dataclass(frozen=True, slots=True)
class Net:
    """A net by its name as the file writes it; `index` counts the board's nets from 0."""

    index: int
    name: str
    net_class: str = ""


@dataclass(frozen=True, slots=True)
class NetTie:
    """Pins of one part joined by copper though they lie on different nets: a link that stays."""

    part_id: str
    pins: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class PadColumns:
    """All pads as read-only columns of one length, sorted by part.

    `part`, `net` (-1: none), `ordinal`, `x_nm`, `y_nm`, `width_nm`, `height_nm`, `drill_nm`:
    int64; `angle_deg`: float64; `copper_side`, `kind`, `shape`: int8 codes into
    :data:`COPPER_SIDES`, :data:`PAD_KINDS`, :data:`PAD_SHAPES`; the rest tuples of text.
    """

    part: NDArray[np.int64]
    net: NDArray[np.int64]
    ordinal: NDArray[np.int64]
    x_nm: NDArray[np.int64]
    y_nm: NDArray[np.int64]
    angle_deg: NDArray[np.float64]
    width_nm: NDArray[np.int64]
    height_nm: NDArray[np.int64]
    drill_nm: NDArray[np.int64]
    copper_side: NDArray[np.int8]
    kind: NDArray[np.int8]
    shape: NDArray[np.int8]
    pin: tuple[str, ...]
    pin_name: tuple[str, ...]
    pin_type: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.pin)


def _no_copper() -> Copper:
    return Copper()


@dataclass(frozen=True, eq=False)
class Board:
    """A board, read or made by hand; made by ``BoardBuilder.freeze`` and never changed.

    `copper_layers` are the names of the copper layers from top to bottom. `copper` is drawn in
    on first use. `capabilities` says what the source could tell at all.

    `not_known` are sentences that go with every answer about this board. On a `partial` board
    (traced by hand, photographed, a template) further parts may sit on any net: nothing may be
    concluded from what is not there. `unclear_nets` are nets whose names the file may have cut,
    so that each may be several nets. `aliases` are further names of nets: alias -> name. `apart`
    are groups of pads, each the identity of its part and its pin, that were measured and are not
    joined with each other.
    """

    name: str
    source: Source
    parts: tuple[Part, ...]
    nets: tuple[Net, ...]
    columns: PadColumns
    copper_layers: tuple[str, ...] = ()
    net_ties: tuple[NetTie, ...] = ()
    capabilities: frozenset[Capability] = frozenset()
    warnings: tuple[BoardWarning, ...] = ()
    stackup: Stackup = field(default_factory=Stackup)
    not_known: tuple[Reason, ...] = ()
    partial: bool = False
    unclear_nets: frozenset[str] = frozenset()
    aliases: Mapping[str, str] = field(default_factory=dict)
    apart: tuple[PadsFoundApart, ...] = ()
    load_copper: Callable[[], Copper] = field(default=_no_copper, repr=False)

    # -- looking things up ---------------------------------------------------------------------

    def part(self, part_id: str) -> Part:
        """The part with this identity.

        Raises
        ------
        UnknownNameError
            No such part; the error lists near names.
        """
        try:
            return self.parts[self._part_index[part_id]]
        except KeyError:
            instead = f"{part_id} is a net, no part" if part_id in self._net_index else ""
            near = _near(part_id, self._part_index)
            raise UnknownNameError("part", part_id, near, instead=instead) from None

    def net(self, name: str) -> Net:
        """The net with this name, exactly as the file writes it.

        Raises
        ------
        UnknownNameError
            No such net; the error lists near names.
        """
        try:
            return self.nets[self._net_index[name]]
        except KeyError:
            if name in self._part_index:
                nets = self.nets_of_part[name]
                lies = f"its nets: {', '.join(map(quoted, nets[:8]))}" if nets else "it has no net"
                instead = f"{name} is a part; {lies}"
                raise UnknownNameError("net", name, nets, instead=instead) from None
            if name in self.other_names:
                real = self.other_names[name]
                instead = f"it is one net with {real} here: say {quoted(real)}"
                raise UnknownNameError("net", name, (real,), instead=instead) from None
            raise UnknownNameError("net", name, _near(name, self._net_index)) from None

    def known_as(self, name: str) -> str:
        """The name under which a net is found here, where `name` may be an alias, or on an
        assembly the name that it has on one of the boards alone.

        Raises
        ------
        UnknownNameError
            As in ``net``.
        """
        return self.net(self.other_names.get(name, name)).name

    @cached_property
    def other_names(self) -> dict[str, str]:
        """Further names under which nets are found -> the names here."""
        labels = {board_of(part.id) for part in self.parts} - {""}
        short: dict[str, set[str]] = {}
        for name, net in [*((one.name, one.name) for one in self.nets), *self.aliases.items()]:
            label, _, rest = name.partition("/")
            if label in labels and rest:
                short.setdefault(rest, set()).add(net)
        told = {name: nets.pop() for name, nets in short.items() if len(nets) == 1}
        told = {name: net for name, net in told.items() if name not in self._net_index}
        return {**told, **self.aliases}

    def has_part(self, part_id: str) -> bool:
        """Whether a part has this identity."""
        return part_id in self._part_index

    def has_net(self, name: str) -> bool:
        """Whether a net has this name."""
        return name in self._net_index

    @cached_property
    def _part_index(self) -> dict[str, int]:
        return {part.id: part.index for part in self.parts}

    @cached_property
    def _net_index(self) -> dict[str, int]:
        return {net.name: net.index for net in self.nets}

    @cached_property
    def knows_part_places(self) -> bool:
        """Whether the places of parts are known; those of their pads are ``has_positions``."""
        return "has_positions" in self.capabilities or any(
            part.x_nm or part.y_nm for part in self.parts
        )

    @cached_property
    def knows_sides(self) -> bool:
        """Whether the sides of parts are known; else each stands as "top" and means nothing."""
        return all(one.code != "no-sides" for one in self.not_known)

    def side_of(self, part_id: str) -> Side | None:
        """Where a part sits; None where no file tells."""
        return self.part(part_id).side if self.knows_side_of(part_id) else None

    def knows_side_of(self, part_id: str) -> bool:
        """Whether the side of this part is known; else it stands as "top" and means nothing."""
        return self.knows_sides and NO_SIDE not in self.part(part_id).attributes

    # -- pads ----------------------------------------------------------------------------------

    @cached_property
    def pads(self) -> tuple[Pad, ...]:
        """All pads as objects, sorted by part and then as in the file."""
        return tuple(self.pad(index) for index in range(len(self.columns)))

    def pad(self, index: int) -> Pad:
        """One pad as an object."""
        c = self.columns
        part = self.parts[c.part[index]]
        net = int(c.net[index])
        return Pad(
            index=index,
            part_id=part.id,
            ref=part.ref,
            pin=c.pin[index],
            ordinal=int(c.ordinal[index]),
            net=None if net < 0 else self.nets[net].name,
            x_nm=int(c.x_nm[index]),
            y_nm=int(c.y_nm[index]),
            angle_deg=float(c.angle_deg[index]),
            side=part.side,
            copper_side=COPPER_SIDES[c.copper_side[index]],
            kind=PAD_KINDS[c.kind[index]],
            shape=PAD_SHAPES[c.shape[index]],
            width_nm=int(c.width_nm[index]),
            height_nm=int(c.height_nm[index]),
            drill_nm=int(c.drill_nm[index]),
            pin_name=c.pin_name[index],
            pin_type=c.pin_type[index],
        )

    @cached_property
    def pads_of_part(self) -> Mapping[str, tuple[Pad, ...]]:
        """Part identity -> its pads as objects, made when first asked for and then kept."""
        return _PadsOfPart(self)

    @cached_property
    def _first_pad(self) -> tuple[int, ...]:
        bounds = np.searchsorted(self.columns.part, np.arange(len(self.parts) + 1))
        return tuple(bounds.tolist())

    def pad_range(self, part: Part) -> range:
        """Indices of the pads of one part; they lie side by side in the columns."""
        return range(self._first_pad[part.index], self._first_pad[part.index + 1])

    @cached_property
    def _pads_by_net(self) -> tuple[tuple[int, ...], ...]:
        order = np.argsort(self.columns.net, kind="stable")
        bounds = np.searchsorted(self.columns.net[order], np.arange(len(self.nets) + 1)).tolist()
        flat = order.tolist()
        return tuple(tuple(flat[a:b]) for a, b in pairwise(bounds))

    def pads_on_net(self, name: str) -> tuple[int, ...]:
        """Indices of all pads on a net, sorted by part."""
        return self._pads_by_net[self.net(name).index]

    @cached_property
    def nets_of_part(self) -> dict[str, tuple[str, ...]]:
        """Part identity -> names of the nets its pads reach, each once, in pad order."""
        names = [net.name for net in self.nets]
        nets = self.columns.net.tolist()
        return {
            part.id: tuple(
                dict.fromkeys(names[nets[i]] for i in self.pad_range(part) if nets[i] >= 0)
            )
            for part in self.parts
        }

    @cached_property
    def parts_on_net(self) -> dict[str, tuple[str, ...]]:
        """Net name -> identities of the parts with a pad on it, each once, in board order."""
        found: dict[str, list[str]] = {net.name: [] for net in self.nets}
        for part_id, names in self.nets_of_part.items():
            for name in names:
                found[name].append(part_id)
        return {name: tuple(parts) for name, parts in found.items()}

    def pins_on_net(self, part_id: str, net: str) -> tuple[str, ...]:
        """Pin numbers by which a part touches a net, each once, in pad order."""
        part, number = self.part(part_id), self.net(net).index
        c = self.columns
        return tuple(dict.fromkeys(c.pin[i] for i in self.pad_range(part) if c.net[i] == number))

    # -- views ---------------------------------------------------------------------------------

    @cached_property
    def copper(self) -> Copper:
        """Tracks, arcs, vias, zones, custom pad shapes and the outline; read on first use."""
        return self.load_copper()

    @cached_property
    def graph(self) -> nx.MultiGraph:
        """Parts and nets as nodes, connected pads as edges; see ``model.graph.part_net_graph``."""
        from netgraph.model.graph import part_net_graph

        return part_net_graph(self)

    @cached_property
    def net_graph(self) -> nx.MultiGraph:
        """Nets as nodes, fitted two-net parts as edges; see ``model.graph.net_graph``."""
        from netgraph.model.graph import net_graph

        return net_graph(self)

    @cached_property
    def fingerprint(self) -> str:
        """Hash of the netlist alone; see ``model.fingerprint.netlist_fingerprint``."""
        from netgraph.model.fingerprint import netlist_fingerprint

        return netlist_fingerprint(self)

    def without(self, part_ids: Iterable[str]) -> Board:
        """A new board on which these parts are marked as not fitted ("lifted")."""
        gone = {self.part(one).id for one in part_ids}
        return replace(
            self,
            parts=tuple(
                replace(part, not_fitted_because="lifted")
                if part.id in gone and part.fitted
                else part
                for part in self.parts
            ),
        )


def _near(name: str, known: Iterable[str]) -> tuple[str, ...]:
    folded = {one.casefold(): one for one in known}
    wanted = name.casefold()
    close = get_close_matches(wanted, folded, n=5, cutoff=0.6)
    inside = [one for one in folded if wanted and wanted in one and one not in close]
    return tuple(folded[one] for one in (close + sorted(inside, key=len))[:5])


class _PadsOfPart(dict[str, tuple[Pad, ...]]):
    """Pads of each part as objects, made when they are first asked for: few parts ever are."""

    def __init__(self, board: Board) -> None:
        self._board = board

    def __missing__(self, part_id: str) -> tuple[Pad, ...]:
        board = self._board
        pads = tuple(board.pad(i) for i in board.pad_range(board.part(part_id)))
        self[part_id] = pads
        return pads
