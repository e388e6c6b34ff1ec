# SPDX-License-Identifier: GPL-3.0-or-later
"""The drawn copper of a KiCad board: tracks, arcs, vias, filled zones, custom pads, outline.

Read from the bytes that the board reader has kept, when somebody asks for it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

import numpy as np
from numpy.typing import NDArray

from netgraph import limits
from netgraph.errors import BoardFileError
from netgraph.formats.kicad_faults import FileError
from netgraph.formats.kicad_layers import LayerTable
from netgraph.formats.sexpr import Tree, atom, atoms, child, number, plain, tokens_of, tree_of
from netgraph.formats.shapes import chords_of_arc, corners, floats, placed, turned
from netgraph.formats.structure import Structure, begins_with, place_of
from netgraph.model.copper import (
    Arcs,
    Copper,
    Fill,
    IntArray,
    OutlineShape,
    PadShape,
    Tracks,
    Vias,
    Zone,
)

NetIndex = Callable[[list[str], int], int]

_NUM = rb"([-+]?\d+(?:\.\d*)?)"
_LAYER = rb'\(layer "?([^"()\s]+)"?\)'
_NET = rb'\(net (\d+|"[^"\\]*")\)'
_SEGMENT = re.compile(
    rb"\(segment\s+\(start "
    + _NUM
    + rb" "
    + _NUM
    + rb"\)\s+\(end "
    + _NUM
    + rb" "
    + _NUM
    + rb"\)\s+\(width "
    + _NUM
    + rb"\)\s+"
    + _LAYER
    + rb"\s+"
    + _NET
)
"""The plain form of a track as all KiCad versions write it; others go through the slow path."""

_WORD = re.compile(rb'\(\s*"?([A-Za-z_]+)')
_BRACKET = re.compile(rb"\(([^()]*)\)")
_IN_NUMBERS = b"0123456789.+-eE"
_BLANKS = bytes(32 if c in b"\t\r\n" else c for c in range(256))
_NOT_NUMBERS = bytes(c if chr(c) in "0123456789.+-eE" else 32 for c in range(256))
_OUTLINE_HEADS = ("gr_line", "gr_arc", "gr_circle", "gr_rect", "gr_poly", "gr_curve")
_EDGE = "Edge.Cuts"
_FILLS_ARE_EDGES_FROM = 20220211
"""Before, fills were drawn with a pen of the least width, unless the zone says no [kicad]."""


class CopperReader:
    """Reads copper from an indexed board file; made by the board reader."""

    def __init__(
        self,
        structure: Structure,
        layers: LayerTable,
        net_index: NetIndex,
        rare_pads: tuple[tuple[int, int, int], ...],
        places: tuple[tuple[float, float, float, float], ...],
        version: int,
        file_name: str,
    ) -> None:
        self.structure = structure
        self.data = structure.data
        self.layers = layers
        self.net_index = net_index
        self.rare_pads = rare_pads
        self.places = places
        self.version = version
        self.file_name = file_name

    def read(self) -> Copper:
        """All copper of the board.

        Raises
        ------
        BoardFileError
            A coordinate is no number or out of range, a net is not in the table, or zones have
            more than ``limits.MAX_POLYGON_POINTS`` points.
        """
        self.points = self.polygon_arcs = 0
        self.nets: dict[bytes, int] = {}
        self.skipped: dict[str, int] = {}
        try:
            return Copper(
                tracks=self._tracks(),
                arcs=self._arcs(),
                vias=self._vias(),
                zones=tuple(zone for index in self._indices("zone") if (zone := self._zone(index))),
                custom_pads=self._custom_pads(),
                outline=tuple(self._outline()),
                skipped=self.skipped,
            )
        except FileError as error:
            raise self._named(error.placed(self.data)) from None
        except BoardFileError as error:
            raise self._named(error) from None

    def _named(self, error: BoardFileError) -> BoardFileError:
        error.path = error.path or self.file_name
        return error

    # -- helpers -------------------------------------------------------------------------------

    def _indices(self, word: str) -> list[int]:
        s, wanted = self.structure, word.encode("ascii")
        keyed = np.flatnonzero(begins_with(s.heads(2), [word])).tolist()
        opens = s.opens[2]
        return [
            index
            for index in keyed
            if (match := _WORD.match(self.data, opens[index])) and match.group(1) == wanted
        ]

    def _fail(self, offset: int, message: str, expected: str = "") -> BoardFileError:
        line, column = place_of(self.data, offset)
        return BoardFileError(
            "number-invalid", message, line=line, column=column, expected=expected
        )

    def _tree(self, start: int, stop: int) -> Tree:
        try:
            return tree_of(self.data[start:stop].decode("utf-8", "replace"))
        except ValueError as error:
            raise self._fail(start, f"unreadable node: {error}") from None

    def _trees(self, word: str) -> Iterable[tuple[int, Tree]]:
        s = self.structure
        for index in self._indices(word):
            start = int(s.opens[2][index])
            yield start, self._tree(start, int(s.closes[2][index]) + 1)

    def _nm(self, text: str | None, start: int) -> int:
        try:
            value = number(text or "")
        except ValueError:
            raise self._fail(start, f"{text!r} is no number", "a decimal number") from None
        if abs(value) * 1e6 > limits.MAX_COORDINATE_NM:
            raise self._fail(start, f"{text} is out of range", "a length within 2147 mm")
        return round(value * 1e6)

    def _point(self, tree: Tree | None, start: int) -> tuple[int, int]:
        return self._nm(atom(tree, 1), start), self._nm(atom(tree, 2), start)

    def _net_of(self, tree: Tree, start: int) -> int:
        node = child(tree, "net")
        if node is None:
            return -1
        return self.net_index([one for one in node[1:] if isinstance(one, str)], start)

    def _layer_of(self, tree: Tree) -> int:
        names = atoms(child(tree, "layer")) or atoms(child(tree, "layers"))
        return max((self.layers.index(name) for name in names), default=-1)

    # -- tracks and vias -----------------------------------------------------------------------

    def _tracks(self) -> Tracks:
        s = self.structure
        fast: list[tuple[bytes, ...]] = []
        starts: list[int] = []
        layers: list[int] = []
        nets: list[int] = []
        slow: list[tuple[int, int, int, int, int, int, int]] = []
        for index in self._indices("segment"):
            start = int(s.opens[2][index])
            match = _SEGMENT.match(self.data, start)
            if match is None:
                tree = self._tree(start, int(s.closes[2][index]) + 1)
                slow.append(
                    (
                        *self._point(child(tree, "start"), start),
                        *self._point(child(tree, "end"), start),
                        self._nm(atom(child(tree, "width")), start),
                        self._layer_of(tree),
                        self._net_of(tree, start),
                    )
                )
                continue
            *numbers, layer, net = match.groups()
            fast.append(tuple(numbers))
            starts.append(start)
            layers.append(self.layers.index(layer.decode("utf-8", "replace")))
            number_of_net = self.nets.get(net)
            if number_of_net is None:
                number_of_net = self.net_index([net.decode("utf-8")], start)
                self.nets[net] = number_of_net
            nets.append(number_of_net)
        table = self._nm_table(fast, starts, 5)
        rest = np.array(slow, dtype=np.int64).reshape(-1, 7)
        return Tracks(
            np.concatenate((table[:, 0:2], rest[:, 0:2])),
            np.concatenate((table[:, 2:4], rest[:, 2:4])),
            np.concatenate((table[:, 4], rest[:, 4])),
            np.concatenate((np.array(layers, dtype=np.int64), rest[:, 5])),
            np.concatenate((np.array(nets, dtype=np.int64), rest[:, 6])),
        )

    def _nm_table(self, rows: list[tuple[bytes, ...]], starts: list[int], columns: int) -> IntArray:
        scaled = _scaled(floats(b" ".join(b" ".join(row) for row in rows)))
        if scaled is None or len(scaled) != len(rows) * columns:
            # Number by number now, for the place of the one at fault.
            for row, start in zip(rows, starts, strict=True):
                for token in row:
                    self._nm(token.decode("ascii"), self.data.find(token, start))
            raise self._fail(starts[0], "a track holds an unreadable number")
        return scaled.reshape(-1, columns)

    def _arcs(self) -> Arcs:
        rows = [
            (
                *self._point(child(tree, "start"), start),
                *self._point(child(tree, "mid"), start),
                *self._point(child(tree, "end"), start),
                self._nm(atom(child(tree, "width")), start),
                self._layer_of(tree),
                self._net_of(tree, start),
            )
            for start, tree in self._trees("arc")
        ]
        table = np.array(rows, dtype=np.int64).reshape(-1, 9)
        return Arcs(
            table[:, 0:2], table[:, 2:4], table[:, 4:6], table[:, 6], table[:, 7], table[:, 8]
        )

    def _vias(self) -> Vias:
        rows = []
        for start, tree in self._trees("via"):
            span = self.layers.indices(atoms(child(tree, "layers")))
            drill = child(tree, "drill")
            rows.append(
                (
                    *self._point(child(tree, "at"), start),
                    self._nm(atom(child(tree, "size")), start),
                    0 if drill is None else self._nm(atom(drill), start),
                    span[0] if span else 0,
                    span[-1] if span else len(self.layers.copper) - 1,
                    self._net_of(tree, start),
                )
            )
        table = np.array(rows, dtype=np.int64).reshape(-1, 7)
        return Vias(table[:, 0:2], table[:, 2], table[:, 3], table[:, 4], table[:, 5], table[:, 6])

    # -- zones ---------------------------------------------------------------------------------

    def _zone(self, index: int) -> Zone | None:
        s = self.structure
        start = int(s.opens[2][index])
        rings: list[tuple[int, int]] = []
        small: Tree = ["zone"]
        for inner in s.children(2, index):
            begin, end = int(s.opens[3][inner]), int(s.closes[3][inner]) + 1
            match = _WORD.match(self.data, begin)
            word = match.group(1) if match else b""
            if word == b"filled_polygon":
                rings.append((begin, end))
            elif word == b"fill_segments":
                self._skip("zone-fill-segments")
            elif word == b"polygon":
                small.append(["polygon", str(begin), str(end)])
            else:
                small.append(self._tree(begin, end))
        names = atoms(child(small, "layers")) or atoms(child(small, "layer"))
        layers = self.layers.indices(names)
        if child(small, "keepout") is not None or child(small, "placement") is not None:
            self._skip("keepout-zone")
            return None
        if not layers:
            self._skip("zone-not-on-copper")
            return None
        outline = child(small, "polygon")
        span = (int(str(outline[1])), int(str(outline[2]))) if outline else (start, start)
        grow = 0
        if self.version < _FILLS_ARE_EDGES_FROM and not child(small, "filled_areas_thickness"):
            grow = self._nm(atom(child(small, "min_thickness")) or "0", start) // 2
        fills = []
        for begin, end in rings:
            layer, points = self._ring(begin, end, layers[0])
            if len(points):
                fills.append(Fill(layer, points, grow))
        if not fills:
            self._skip("zone-unfilled")
        attribute = child(small, "attr")
        name = atom(child(small, "name")) or ""
        return Zone(
            self._net_of(small, start),
            name,
            layers,
            _count(atom(child(small, "priority"))),
            self._ring(*span, -1)[1],
            tuple(fills),
            teardrop=name.startswith("$teardrop")
            or (attribute is not None and child(attribute, "teardrop") is not None),
        )

    def _skip(self, what: str) -> None:
        self.skipped[what] = self.skipped.get(what, 0) + 1

    def _ring(self, begin: int, end: int, layer: int) -> tuple[int, IntArray]:
        """Layer and points of a polygon node; curved sides become chords of at most 5 degrees."""
        raw = self.data[begin:end]
        at = raw.find(b"(pts")
        head = raw[: max(at, 0)].decode("utf-8", "replace")
        if at < 0:
            return layer, np.zeros((0, 2), dtype=np.int64)
        named = re.search(r'\(layer\s+"?([^"()\s]+)', head)
        if named:
            layer = self.layers.index(named.group(1))
        if b"(arc" in raw:
            points = self._curved(begin, self._tree(begin + at, end - 1))
        else:
            points = self._straight(begin + at, end)
        self.points += len(points)
        if self.points > limits.MAX_POLYGON_POINTS:
            raise self._fail(begin, f"more than {limits.MAX_POLYGON_POINTS} polygon points")
        return layer, points

    def _straight(self, at: int, end: int) -> IntArray:
        """Points of a `pts` node at byte `at` without arcs, up to the end of its parent."""
        raw = self.data[at + 4 : end].translate(_BLANKS)
        if not raw.translate(None, _IN_NUMBERS).replace(b"(xy  )", b"").strip(b" )"):
            scaled = _scaled(floats(raw.translate(_NOT_NUMBERS, b"xy")))
            if scaled is not None and len(scaled) == 2 * raw.count(b"(xy"):
                return scaled.reshape(-1, 2)
        # Not as KiCad writes it: point by point, for the place of the one at fault.
        points, others = [], 0
        for match in _BRACKET.finditer(self.data, at + 4, end):
            tokens = [plain(one) for one in tokens_of(match.group(1).decode("utf-8", "replace"))]
            if tokens[:1] in (["island"], ["layer"]):  # a sibling behind the points
                others += 1
                continue
            if len(tokens) != 3 or tokens[0] != "xy":
                raise self._fail(match.start(), "a polygon point is malformed", "'(xy X Y)'")
            points.append((self._nm(tokens[1], match.start()), self._nm(tokens[2], match.start())))
        if len(points) + others != self.data.count(b"(", at + 4, end):
            raise self._fail(at, "a polygon point is malformed", "'(xy X Y)'")
        return np.array(points, dtype=np.int64).reshape(-1, 2)

    def _curved(self, start: int, pts: Tree) -> IntArray:
        arcs = sum(1 for one in pts if isinstance(one, list) and one[:1] == ["arc"])
        if arcs > limits.MAX_POLYGON_ARCS:
            # Each becomes many chords: refused before the memory is filled.
            raise self._fail(start, f"more than {limits.MAX_POLYGON_ARCS} arcs in one polygon")
        self.polygon_arcs += arcs
        if self.polygon_arcs > limits.MAX_ARCS_OF_ALL_POLYGONS:
            raise self._fail(
                start, f"more than {limits.MAX_ARCS_OF_ALL_POLYGONS} arcs in all polygons"
            )
        points: list[tuple[int, int]] = []
        for one in pts[1:]:
            if not isinstance(one, list) or not one:
                continue
            if self.points + len(points) > limits.MAX_POLYGON_POINTS:
                raise self._fail(start, f"more than {limits.MAX_POLYGON_POINTS} polygon points")
            if one[0] == "xy":
                if len(one) != 3:
                    raise self._fail(start, "a polygon point is malformed", "'(xy X Y)'")
                points.append(self._point(one, start))
            elif one[0] == "arc":
                three = [self._point(child(one, key), start) for key in ("start", "mid", "end")]
                points += chords_of_arc(*three)
        return np.array(points, dtype=np.int64).reshape(-1, 2)

    # -- pads and outline ----------------------------------------------------------------------

    def _custom_pads(self) -> dict[int, tuple[PadShape, ...]]:
        found: dict[int, tuple[PadShape, ...]] = {}
        for index, begin, end in self.rare_pads:
            primitives = child(self._tree(begin, end), "primitives")
            shapes = tuple(
                shape
                for one in (primitives or [])[1:]
                if isinstance(one, list) and one and (shape := self._primitive(one, begin))
            )
            if shapes:
                found[index] = shapes
        return found

    def _primitive(self, tree: Tree, start: int) -> PadShape | None:
        drawn = self._drawing(tree, start)
        if drawn is None:
            return None
        fill = child(tree, "fill")
        said = atom(child(tree, "width")) or atom(child(child(tree, "stroke") or [], "width"))
        width = self._nm(said or "0", start)
        # Up to KiCad 5 nothing is said: polygons and circles of no line width are filled.
        implied = drawn[0] == "polygon" or (drawn[0] == "circle" and width == 0)
        filled = implied if fill is None else atom(fill) in (None, "yes", "solid")
        return PadShape(drawn[0], drawn[1], width, filled)

    def _drawing(self, tree: Tree, start: int) -> tuple[str, IntArray] | None:
        """Kind and points of a graphic line, arc, circle, rectangle or polygon."""
        kind = str(tree[0]).partition("_")[2]
        keys = {
            "line": ("start", "end"),
            "rect": ("start", "end"),
            "circle": ("center", "end"),
        }
        if kind == "poly":
            pts = child(tree, "pts")
            return ("polygon", self._curved(start, pts)) if pts else None
        if kind == "arc":
            if child(tree, "mid") is not None:
                ends = [self._point(child(tree, key), start) for key in ("start", "mid", "end")]
            else:  # up to KiCad 5: centre, start, angle
                centre = self._point(child(tree, "start"), start)
                first = self._point(child(tree, "end"), start)
                angle = self._nm(atom(child(tree, "angle")) or "0", start) / 1e6
                ends = [first, *(turned(first, centre, part * angle) for part in (0.5, 1.0))]
            return "arc", np.array(ends, dtype=np.int64)
        if kind not in keys:
            self._skip(f"drawing-{kind or tree[0]}")
            return None
        return kind, np.array([self._point(child(tree, key), start) for key in keys[kind]])

    def _outline(self) -> Iterable[OutlineShape]:
        for head in _OUTLINE_HEADS:
            for start, tree in self._trees(head):
                if atom(child(tree, "layer")) != _EDGE:
                    continue
                drawn = self._drawing(tree, start)
                if drawn is not None:
                    yield OutlineShape(*drawn)
        yield from self._footprint_edges()

    def _footprint_edges(self) -> Iterable[OutlineShape]:
        """Edges that are drawn inside footprints (board-edge connectors, cut-outs)."""
        if self.data.count(_EDGE.encode("ascii")) == 0:
            return
        s = self.structure
        footprints = sorted(self._indices("footprint") + self._indices("module"))
        for index, place in zip(footprints, self.places, strict=True):
            begin, end = int(s.opens[2][index]), int(s.closes[2][index])
            if self.data.find(_EDGE.encode("ascii"), begin, end) < 0:
                continue
            for inner in s.children(2, index):
                start = int(s.opens[3][inner])
                if not self.data.startswith(b"(fp_", start):
                    continue
                tree = self._tree(start, int(s.closes[3][inner]) + 1)
                if atom(child(tree, "layer")) == _EDGE and tree[0] != "fp_text":
                    drawn = self._drawing(tree, start)
                    if drawn is not None:
                        kind = "polygon" if drawn[0] == "rect" else drawn[0]
                        points = corners(drawn[1]) if drawn[0] == "rect" else drawn[1]
                        yield OutlineShape(kind, placed(points, place))


def _scaled(values: NDArray[np.float64]) -> IntArray | None:
    """Millimetres as nanometres; None when one is out of range."""
    scaled = np.rint(values * 1e6)
    if len(scaled) and not (np.abs(scaled) <= limits.MAX_COORDINATE_NM).all():
        return None
    return scaled.astype(np.int64)


def _count(text: str | None) -> int:
    """A small whole number, 0 when it is none."""
    return int(text) if text and len(text) < 10 and text.isdecimal() else 0
