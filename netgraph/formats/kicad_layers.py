# SPDX-License-Identifier: GPL-3.0-or-later
"""Which layer is copper, and on which side: resolved through the board's own layer table.

Up to KiCad 5 a copper layer may carry the user's own name, so the text ``F.Cu`` is never tested
for [kicad].
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from netgraph.formats.sexpr import Tree, atom, plain
from netgraph.model.board import COPPER_SIDES, CopperSide

_CANONICAL_NAMES_FROM = 20200922
_INNER = re.compile(r"(?:In|Inner)(\d{1,2})(?:\.Cu)?")
_TECHNICAL = re.compile(
    r"(?:[FB]|\*|F&B)\.(?:Cu|Adhes|Adhesive|Paste|SilkS|Silkscreen|Mask|CrtYd|Courtyard|Fab)"
    r"|\*In\.Cu|In\d{1,2}\.Cu|Dwgs\.User|Cmts\.User|Eco[12]\.User|Edge\.Cuts|Margin|User\.\d{1,2}|Rescue"
)
"""Layer names that KiCad knows without a table; the names of inner copper not in use, too."""

_COPPER_KINDS = {"signal", "power", "mixed", "jumper"}


class LayerTable:
    """The copper layers of one file, top to bottom, and what a pad's layer list means.

    Attributes
    ----------
    copper
        Names of the copper layers as the file writes them, top to bottom.
    """

    def __init__(self, tree: Tree | None, version: int) -> None:
        found: list[tuple[int, str]] = []
        self._names: set[str] = set()
        for row in tree[1:] if tree else []:
            name = atom(row, 1) if isinstance(row, list) else None
            if not isinstance(row, list) or name is None or not isinstance(row[0], str):
                continue
            self._names.add(name)
            number = plain(row[0])
            if not number.isdecimal() or len(number) > 9:
                continue
            order = _order(int(number), name, atom(row, 2) or "", version)
            if order is not None:
                found.append((order, name))
        if not found or version >= _CANONICAL_NAMES_FROM:
            # From KiCad 6 on each board has both; a damaged row must not turn the board over.
            found += [(0, "F.Cu"), (99, "B.Cu")]
        found = sorted(set(found))
        self.copper: tuple[str, ...] = tuple(name for _, name in found)
        self._index = {name: index for index, name in enumerate(self.copper)}
        # The canonical names stay valid beside the user's own.
        self._index.setdefault("F.Cu", 0)
        self._index.setdefault("B.Cu", len(self.copper) - 1)
        self._codes: dict[tuple[str, ...], int] = {}

    def index(self, name: str) -> int:
        """Index of a copper layer, -1 when the name is no copper layer."""
        return self._index.get(name, -1)

    def indices(self, names: Sequence[str]) -> tuple[int, ...]:
        """Indices of all copper layers that a list of names and patterns covers, ascending."""
        last = len(self.copper) - 1
        found: set[int] = set()
        for name in names:
            if name == "*.Cu":
                found.update(range(last + 1))
            elif name == "F&B.Cu":
                found.update((0, last))
            elif name == "*In.Cu":
                found.update(range(1, last))
            else:
                found.add(self.index(name))
        found.discard(-1)
        return tuple(sorted(found))

    def strange(self, names: Sequence[str]) -> list[str]:
        """Those of the names that neither the table nor KiCad knows."""
        return [n for n in names if n not in self._names and not _TECHNICAL.fullmatch(n)]

    def is_top(self, name: str) -> bool:
        """Whether a footprint on this layer sits on the top side; None of both is top."""
        return self.index(name) != len(self.copper) - 1 or len(self.copper) == 1

    def copper_side_code(self, tokens: tuple[str, ...]) -> int:
        """Code of :data:`COPPER_SIDES` for a pad's layer list (raw tokens)."""
        code = self._codes.get(tokens)
        if code is None:
            code = COPPER_SIDES.index(self._side([plain(token) for token in tokens]))
            self._codes[tokens] = code
        return code

    def _side(self, names: Sequence[str]) -> CopperSide:
        found = self.indices(names)
        if not found:
            return "none"
        top, bottom = 0 in found, len(self.copper) - 1 in found
        if top and bottom:
            return "both"
        return "top" if top else "bottom" if bottom else "inner"


def _order(number: int, name: str, kind: str, version: int) -> int | None:
    """Rank of a layer from the top, None when it is no copper layer."""
    if version >= _CANONICAL_NAMES_FROM:
        if name == "F.Cu":
            return 0
        if name == "B.Cu":
            return 99
        inner = _INNER.fullmatch(name)
        return int(inner.group(1)) if inner else None
    # Older files: numbers 0 (top) to 31 (bottom) are copper, whatever the name.
    if number > 31 or kind not in _COPPER_KINDS:
        return None
    return number
