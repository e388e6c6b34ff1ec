# SPDX-License-Identifier: GPL-3.0-or-later
"""Tracks, vias, zones, custom pads and the outline of a board as kiutils objects."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from typing import Any
from uuid import UUID

from netgraph.errors import WriterError
from netgraph.formats.kicad_text import mm, point, text
from netgraph.model.board import Board
from netgraph.model.copper import IntArray, Zone

_LINE_WIDTH = "0.1"
_TEARDROP = "$teardrop_padvia$"


class CopperItems:
    """The drawn copper of one board, ready to be written."""

    def __init__(
        self,
        board: Board,
        layers: tuple[str, ...],
        stamp: Callable[[str, object], UUID],
        dropped: Counter[str],
    ) -> None:
        self.board = board
        self.copper = board.copper
        self.layers = layers
        self.last = len(board.copper_layers) - 1
        self.stamp = stamp
        self.dropped = dropped

    def _layer(self, index: int) -> str | None:
        """KiCad's name of a copper layer; the board's last layer is always the bottom."""
        if not 0 <= index <= self.last:
            return None
        return self.layers[-1] if index == self.last and index else self.layers[index]

    def traces(self) -> list[Any]:
        """All tracks, arcs and vias that lie on copper."""
        from kiutils.items.brditems import Arc, Segment, Via

        found: list[Any] = []
        t, a, v = self.copper.tracks, self.copper.arcs, self.copper.vias
        for index, (start, end, width, layer, net) in enumerate(
            zip(*_lists(t.start, t.end, t.width, t.layer, t.net), strict=True)
        ):
            name = self._layer(layer)
            if name is None:
                self.dropped["not-on-copper"] += 1
                continue
            found.append(
                Segment(
                    start=point(*start),
                    end=point(*end),
                    width=mm(width),
                    layer=name,
                    net=net + 1,
                    tstamp=self.stamp("track", index),
                )
            )
        for index, (start, mid, end, width, layer, net) in enumerate(
            zip(*_lists(a.start, a.mid, a.end, a.width, a.layer, a.net), strict=True)
        ):
            name = self._layer(layer)
            if name is None:
                self.dropped["not-on-copper"] += 1
                continue
            found.append(
                Arc(
                    start=point(*start),
                    mid=point(*mid),
                    end=point(*end),
                    width=mm(width),
                    layer=name,
                    net=net + 1,
                    tstamp=self.stamp("arc", index),
                )
            )
        for index, (at, size, drill, first, last, net) in enumerate(
            zip(*_lists(v.at, v.size, v.drill, v.first_layer, v.last_layer, v.net), strict=True)
        ):
            span = [self._layer(first) or self.layers[0], self._layer(last) or self.layers[-1]]
            found.append(
                Via(
                    type=None if span == [self.layers[0], self.layers[-1]] else "blind",
                    position=point(*at),
                    size=mm(size),
                    drill=mm(drill),
                    layers=span,
                    net=net + 1,
                    tstamp=self.stamp("via", index),
                )
            )
        return found

    # -- zones ---------------------------------------------------------------------------------

    def zones(self) -> list[Any]:
        """All zones that have a shape."""
        found = [self._zone(zone, index) for index, zone in enumerate(self.copper.zones)]
        return [zone for zone in found if zone is not None]

    def _zone(self, zone: Zone, index: int) -> Any:
        from kiutils.items.zones import FilledPolygon, FillSettings, Hatch, ZonePolygon
        from kiutils.items.zones import Zone as KiZone

        fills = [fill for fill in zone.fills if self._layer(fill.layer) and len(fill.points)]
        self.dropped["not-on-copper"] += len(zone.fills) - len(fills)
        layers = [name for one in zone.layers if (name := self._layer(one))]
        outline = zone.outline if len(zone.outline) or not fills else fills[0].points
        if not layers or not len(outline):
            self.dropped["zone-without-shape"] += 1
            return None
        grow = {fill.grow_nm for fill in fills} or {0}
        if len(grow) > 1:
            raise WriterError(f"the fills of one zone reach out by different widths: {grow} nm")
        reach = grow.pop()
        net = self.board.nets[zone.net].name if zone.net >= 0 else ""
        name = zone.name
        if zone.teardrop and not name.startswith("$teardrop"):
            name = _TEARDROP + name
        return KiZone(
            net=zone.net + 1,
            netName=text(net, "a net name"),
            layers=layers,
            tstamp=self.stamp("zone", index),
            name=text(name, "a zone name") if name else None,
            hatch=Hatch("edge", "0.508"),
            priority=zone.priority or None,
            clearance="0.2",
            minThickness=mm(2 * reach) if reach else "0.254",
            filledAreasThickness=None if reach else "no",
            # kiutils writes None for these two where they are not set
            fillSettings=FillSettings(
                yes=bool(fills), thermalGap="0.508", thermalBridgeWidth="0.508"
            ),
            polygons=[ZonePolygon(_points(outline))],
            filledPolygons=[
                FilledPolygon(layer=self._layer(fill.layer), coordinates=_points(fill.points))
                for fill in fills
            ],
        )

    # -- drawings ------------------------------------------------------------------------------

    def pad_primitives(self) -> dict[int, list[Any]]:
        """Pad index -> shapes of a custom pad, in pad coordinates."""
        return {
            index: [
                _drawing(shape.kind, shape.points, mm(shape.width_nm), shape.filled)
                for shape in shapes
            ]
            for index, shapes in self.copper.custom_pads.items()
        }

    def outline(self) -> list[Any]:
        """The board's edge, empty when it has none."""
        return [
            _drawing(
                shape.kind,
                shape.points,
                _LINE_WIDTH,
                None,
                layer="Edge.Cuts",
                tstamp=self.stamp("outline", index),
            )
            for index, shape in enumerate(self.copper.outline)
        ]


def _drawing(kind: str, points: IntArray, width: str, filled: bool | None, **common: Any) -> Any:
    from kiutils.items.gritems import GrArc, GrCircle, GrLine, GrPoly, GrRect

    at = _points(points)
    fill = None if filled is None else "yes" if filled else "none"
    if kind == "polygon":
        return GrPoly(coordinates=at, width=width, fill=fill, **common)
    if kind == "arc":
        return GrArc(start=at[0], mid=at[1], end=at[2], width=width, **common)
    if kind == "circle":
        return GrCircle(center=at[0], end=at[1], width=width, fill=fill, **common)
    if kind == "rect":
        return GrRect(start=at[0], end=at[1], width=width, fill=fill, **common)
    if kind == "line":
        return GrLine(start=at[0], end=at[1], width=width, **common)
    raise WriterError(f"a drawing of the unknown kind {kind!r}")


def _points(points: IntArray) -> list[Any]:
    return [point(x, y) for x, y in points.tolist()]


def _lists(*columns: IntArray) -> Iterable[Any]:
    return [column.tolist() for column in columns]
