# SPDX-License-Identifier: GPL-3.0-or-later
"""Drawn copper, outline and stack-up: what the board physically is, in integer nanometres.

Bulk shapes are numpy columns; net columns hold net indices of the board, -1 for no net; layer
columns hold indices into ``Board.copper_layers`` (0 = top), -1 for a layer that is no copper.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

IntArray = NDArray[np.int64]


def _points() -> IntArray:
    return np.zeros((0, 2), dtype=np.int64)


def _numbers() -> IntArray:
    return np.zeros(0, dtype=np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Tracks:
    """Straight tracks: `start` and `end` of shape (n, 2), `width`, `layer`, `net` of shape (n,)."""

    start: IntArray = field(default_factory=_points)
    end: IntArray = field(default_factory=_points)
    width: IntArray = field(default_factory=_numbers)
    layer: IntArray = field(default_factory=_numbers)
    net: IntArray = field(default_factory=_numbers)

    def __len__(self) -> int:
        return len(self.width)


@dataclass(frozen=True, slots=True, eq=False)
class Arcs:
    """Curved tracks through three points: `start`, `mid`, `end` of shape (n, 2)."""

    start: IntArray = field(default_factory=_points)
    mid: IntArray = field(default_factory=_points)
    end: IntArray = field(default_factory=_points)
    width: IntArray = field(default_factory=_numbers)
    layer: IntArray = field(default_factory=_numbers)
    net: IntArray = field(default_factory=_numbers)

    def __len__(self) -> int:
        return len(self.width)


@dataclass(frozen=True, slots=True, eq=False)
class Vias:
    """Plated holes: `at` of shape (n, 2), land `size`, `drill`, span `first_layer`..`last_layer`.

    `drill` is 0 where the file leaves it to the net class.
    """

    at: IntArray = field(default_factory=_points)
    size: IntArray = field(default_factory=_numbers)
    drill: IntArray = field(default_factory=_numbers)
    first_layer: IntArray = field(default_factory=_numbers)
    last_layer: IntArray = field(default_factory=_numbers)
    net: IntArray = field(default_factory=_numbers)

    def __len__(self) -> int:
        return len(self.size)


@dataclass(frozen=True, slots=True, eq=False)
class Fill:
    """One filled island of a zone on one layer; `points` of shape (n, 2), a closed ring.

    A ring with holes touches itself along slits. `grow_nm` is what the real copper reaches
    beyond the ring on each side (older files store the pen's path, not the edge).
    """

    layer: int
    points: IntArray
    grow_nm: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Zone:
    """A copper area: its intended `outline` and, where the file has them, its `fills`."""

    net: int
    name: str
    layers: tuple[int, ...]
    priority: int
    outline: IntArray
    fills: tuple[Fill, ...]
    teardrop: bool = False

    @property
    def is_filled(self) -> bool:
        """Whether the file holds the copper itself and not only the intention."""
        return bool(self.fills)


@dataclass(frozen=True, slots=True, eq=False)
class PadShape:
    """One primitive of a custom pad, in pad coordinates; `points` of shape (n, 2).

    `kind` is ``polygon``, ``line``, ``arc`` (start, mid, end) or ``circle`` (centre, rim point).
    """

    kind: str
    points: IntArray
    width_nm: int
    filled: bool


@dataclass(frozen=True, slots=True, eq=False)
class OutlineShape:
    """One piece of the board's edge; `kind` as in :class:`PadShape` (or ``rect``: two corners)."""

    kind: str
    points: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class Copper:
    """All drawn copper of a board, and its edge.

    `custom_pads` maps a pad index to its primitives; `skipped` counts what was left out, by kind.
    """

    tracks: Tracks = field(default_factory=Tracks)
    arcs: Arcs = field(default_factory=Arcs)
    vias: Vias = field(default_factory=Vias)
    zones: tuple[Zone, ...] = ()
    custom_pads: dict[int, tuple[PadShape, ...]] = field(default_factory=dict)
    outline: tuple[OutlineShape, ...] = ()
    skipped: dict[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class StackLayer:
    """One layer of the stack-up, top to bottom; `thickness_nm` None where the file is silent."""

    name: str
    kind: str
    thickness_nm: int | None
    material: str = ""


@dataclass(frozen=True, slots=True)
class Stackup:
    """Layers top to bottom and the whole thickness; `assumed` when the file gives no layers."""

    layers: tuple[StackLayer, ...] = ()
    board_thickness_nm: int | None = None
    assumed: bool = True
