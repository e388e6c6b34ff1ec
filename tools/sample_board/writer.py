# SPDX-License-Identifier: GPL-3.0-or-later
"""Put parts, copper and zones into a kiutils board of KiCad 6 form.

kiutils stamps the clock into ``tedit``, escapes nothing in strings and writes numbers as Python
prints them; all three are settled here. Time stamps are uuid5 of a fixed name space.
"""

from __future__ import annotations

import uuid

from kiutils.board import Board
from kiutils.footprint import Attributes, DrillDefinition, Footprint, Pad
from kiutils.items.brditems import (
    GeneralSettings,
    LayerToken,
    PlotSettings,
    Segment,
    SetupData,
    Stackup,
    StackupLayer,
    Via,
)
from kiutils.items.common import Effects, Font, Justify, Net, PageSettings, Position, TitleBlock
from kiutils.items.fpitems import FpLine, FpText
from kiutils.items.gritems import GrArc, GrLine, GrText
from kiutils.items.zones import (
    FilledPolygon,
    FillSettings,
    Hatch,
    KeepoutSettings,
    Zone,
    ZonePolygon,
)

from .footprints import Box
from .maps import DRILL, LAYERS, VIA, Copper
from .placement import BOARD, CORNER, Placed
from .planes import ANTENNA, Ring
from .zones import Fill

SPACE = uuid.UUID("5f0b8f5a-6d1c-5c0e-9b7e-2b6c1f4d8a10")
TEDIT = "66000000"
ORIGIN = (100_000, 80_000)
"""Place of the board's upper left corner on the sheet, in micrometres."""
TEXT = 450


def _stamp(name: str) -> str:
    return str(uuid.uuid5(SPACE, name))


def _mm(value: int) -> float | int:
    return value // 1000 if value % 1000 == 0 else value / 1000


def _at(x: int, y: int, angle: int | None = None) -> Position:
    return Position(X=_mm(x), Y=_mm(y), angle=angle or None)


def _sheet(x: int, y: int) -> Position:
    return _at(x + ORIGIN[0], y + ORIGIN[1])


def _check(text: str) -> str:
    if any(ch in text for ch in '"\\\n\r\t'):
        raise ValueError(f"text that the writer can not quote: {text!r}")
    return text


def _layers() -> list[LayerToken]:
    table = [
        (0, "F.Cu", "signal", None), (1, "In1.Cu", "power", None), (2, "In2.Cu", "power", None),
        (31, "B.Cu", "signal", None), (34, "B.Paste", "user", None), (35, "F.Paste", "user", None),
        (36, "B.SilkS", "user", "B.Silkscreen"), (37, "F.SilkS", "user", "F.Silkscreen"),
        (38, "B.Mask", "user", None), (39, "F.Mask", "user", None),
        (40, "Dwgs.User", "user", "User.Drawings"), (41, "Cmts.User", "user", "User.Comments"),
        (44, "Edge.Cuts", "user", None), (45, "Margin", "user", None),
        (46, "B.CrtYd", "user", "B.Courtyard"), (47, "F.CrtYd", "user", "F.Courtyard"),
        (48, "B.Fab", "user", None), (49, "F.Fab", "user", None),
    ]  # fmt: skip
    return [LayerToken(ordinal=n, name=a, type=t, userName=u) for n, a, t, u in table]


def _setup() -> SetupData:
    def layer(name: str, kind: str, thick: float | None = None, glass: str | None = None
              ) -> StackupLayer:  # fmt: skip
        return StackupLayer(
            name=name, type=kind, thickness=thick, material=glass,
            epsilonR=4.3 if glass else None, lossTangent=0.02 if glass else None,
        )  # fmt: skip

    stack = [
        layer("F.SilkS", "Top Silk Screen"),
        layer("F.Paste", "Top Solder Paste"),
        layer("F.Mask", "Top Solder Mask", 0.01),
        layer("F.Cu", "copper", 0.035),
        layer("dielectric 1", "prepreg", 0.11, "FR4"),
        layer("In1.Cu", "copper", 0.0175),
        layer("dielectric 2", "core", 0.655, "FR4"),
        layer("In2.Cu", "copper", 0.0175),
        layer("dielectric 3", "prepreg", 0.11, "FR4"),
        layer("B.Cu", "copper", 0.035),
        layer("B.Mask", "Bottom Solder Mask", 0.01),
        layer("B.Paste", "Bottom Solder Paste"),
        layer("B.SilkS", "Bottom Silk Screen"),
    ]
    return SetupData(
        stackup=Stackup(layers=stack, copperFinish="ENIG", dielectricContraints="no"),
        packToMaskClearance=0.05,
        plotSettings=PlotSettings(
            layerSelection="0x00010fc_ffffffff", svgUseInch=False, svgPrecision=6,
            excludeEdgeLayer=True, hpglPenNumber=1, hpglPenSpeed=20, hpglPenDiameter=15.0,
            plotReference=True, plotValue=True, outputFormat=1, drillShape=1,
        ),
    )  # fmt: skip


class SilkRoom:
    """Finds a free spot for each designator: beside the part, else on it."""

    def __init__(self, placed: dict[str, Placed]) -> None:
        self.taken: dict[str, list[Box]] = {"top": [], "bottom": []}
        for seat in placed.values():
            for pad in seat.pads():
                a, b = pad.width // 2 + 50, pad.height // 2 + 50
                box = (pad.x - a, pad.y - b, pad.x + a, pad.y + b)
                for side in ("top", "bottom") if pad.drill else (pad.side,):
                    self.taken[side].append(box)

    def spot(self, seat: Placed) -> tuple[int, int] | None:
        """Middle of the text on the board, None when there is no room; takes the room."""
        width, height = len(seat.part.ref) * TEXT // 2 + 60, TEXT // 2 + 60
        box = seat.box(seat.pattern.courtyard)
        mx, my = (box[0] + box[2]) // 2, (box[1] + box[3]) // 2
        tries = [
            (mx, box[1] - height + 60), (mx, box[3] + height - 60),
            (box[0] - width + 60, my), (box[2] + width - 60, my),
            (mx, my), (mx, box[1] - height - 300), (mx, box[3] + height + 300),
        ]  # fmt: skip
        for x, y in tries:
            mine = (x - width, y - height, x + width, y + height)
            if mine[0] < 300 or mine[1] < 300 or mine[2] > BOARD[0] - 300:
                continue
            if mine[3] > BOARD[1] - 300:
                continue
            if not any(
                mine[0] < o[2] and o[0] < mine[2] and mine[1] < o[3] and o[1] < mine[3]
                for o in self.taken[seat.part.side]
            ):
                self.taken[seat.part.side].append(mine)
                return x, y
        return None


def _local(seat: Placed, x: int, y: int) -> tuple[int, int]:
    """Board point to the stored (already mirrored) local coordinates of a footprint."""
    dx, dy = x - seat.x, y - seat.y
    return {0: (dx, dy), 90: (-dy, dx), 180: (-dx, -dy), 270: (dy, -dx)}[seat.turn]


def _text(seat: Placed, kind: str, text: str, spot: tuple[int, int], layer: str) -> FpText:
    low = seat.part.side == "bottom"
    size = _mm(TEXT)
    return FpText(
        type=kind, text=_check(text), layer=layer, position=_at(*_local(seat, *spot)),
        hide=kind == "value",
        effects=Effects(
            font=Font(height=size, width=size, thickness=0.08), justify=Justify(mirror=low)
        ),
        tstamp=_stamp(f"{seat.part.ref}/text/{kind}"),
    )  # fmt: skip


def _frame(seat: Placed, box: Box, layer: str, width: float, name: str) -> list[FpLine]:
    sign = -1 if seat.part.side == "bottom" else 1
    x0, y0, x1, y1 = box
    corners = [(x0, y0 * sign), (x1, y0 * sign), (x1, y1 * sign), (x0, y1 * sign)]
    return [
        FpLine(
            start=_at(*corners[k]), end=_at(*corners[(k + 1) % 4]), layer=layer, width=width,
            tstamp=_stamp(f"{seat.part.ref}/{name}/{k}"),
        )
        for k in range(4)
    ]  # fmt: skip


def _pads(seat: Placed, numbers: dict[str, int]) -> list[Pad]:
    low = seat.part.side == "bottom"
    side, sign = ("B", -1) if low else ("F", 1)
    pins = {pin.number: pin for pin in seat.part.pins}
    out = []
    for n, land in enumerate(seat.pattern.lands):
        pin = pins.get(land.number)
        pad = Pad(
            number=land.number, type=land.kind, shape=land.shape,
            position=_at(land.x, land.y * sign, seat.turn),
            size=Position(X=_mm(land.width), Y=_mm(land.height)),
            tstamp=_stamp(f"{seat.part.ref}/pad/{n}"),
        )  # fmt: skip
        if land.shape == "roundrect":
            pad.roundrectRatio = 0.2
        if land.drill:
            pad.drill = DrillDefinition(diameter=_mm(land.drill))
            pad.layers = ["*.Cu", "*.Mask"]
        elif seat.part.package in ("TESTPAD", "FIDUCIAL"):
            pad.layers = [f"{side}.Cu", f"{side}.Mask"]
            if seat.part.package == "TESTPAD":
                pad.property = "pad_prop_testpoint"
            else:
                pad.property, pad.solderMaskMargin = "pad_prop_fiducial_glob", 0.5
        else:
            pad.layers = [f"{side}.Cu", f"{side}.Paste", f"{side}.Mask"]
        if seat.part.package.startswith("BGA"):
            pad.property = "pad_prop_bga"
        if land.number == "EP":
            pad.property = "pad_prop_heatsink"
        if pin is not None:
            name = pin.net or f"unconnected-({seat.part.ref}-Pad{pin.number})"
            pad.net = Net(number=numbers[name], name=_check(name))
            pad.pinFunction = _check(pin.name) if pin.name else None
            pad.pinType = pin.kind if pin.net else f"{pin.kind}+no_connect"
            if pin.kind == "no_connect":
                pad.pinType = "no_connect"
        out.append(pad)
    return out


def _footprint(seat: Placed, numbers: dict[str, int], room: SilkRoom) -> Footprint:
    part = seat.part
    side = "B" if part.side == "bottom" else "F"
    flags = seat.pattern.flags
    item = Footprint(
        entryName=seat.pattern.library.partition(":")[2], libraryNickname="lark",
        layer=f"{side}.Cu", tedit=TEDIT, tstamp=_stamp(part.ref),
        position=_sheet(seat.x, seat.y), description=seat.pattern.description,
        path=f"/{_stamp(part.ref + '/symbol')}",
    )  # fmt: skip
    item.position.angle = seat.turn or None
    fields = {"Sheetfile": "lark.kicad_sch", "Sheetname": "", **part.fields}
    if part.description:
        fields["Description"] = part.description
    item.properties = {_check(k): _check(fields[k]) for k in sorted(fields)}
    through = any(land.kind == "thru_hole" for land in seat.pattern.lands)
    item.attributes = Attributes(
        type=None if part.package == "HOLE-2.2" else ("through_hole" if through else "smd"),
        excludeFromPosFiles="exclude_from_pos_files" in flags,
        excludeFromBom="exclude_from_bom" in flags,
    )
    middle, spot = (seat.x, seat.y), room.spot(seat)
    item.graphicItems = [
        _text(seat, "reference", part.ref, spot or middle, f"{side}.{'SilkS' if spot else 'Fab'}"),
        _text(seat, "value", part.value, middle, f"{side}.Fab"),
        *_frame(seat, seat.pattern.body, f"{side}.Fab", 0.1, "fab"),
        *_frame(seat, seat.pattern.courtyard, f"{side}.CrtYd", 0.05, "courtyard"),
    ]
    if part.ref[0] in "UJ":
        # A short silkscreen stroke marks pin one.
        land = seat.pattern.lands[0]
        sign = -1 if part.side == "bottom" else 1
        x, y = seat.pattern.courtyard[0], land.y * sign
        item.graphicItems.append(
            FpLine(start=_at(x - 50, y - 200), end=_at(x - 50, y + 200), layer=f"{side}.SilkS",
                   width=0.15, tstamp=_stamp(f"{part.ref}/pin-one"))
        )  # fmt: skip
    item.pads = _pads(seat, numbers)
    return item


def _outline() -> list[GrLine | GrArc]:
    w, h, r = BOARD[0], BOARD[1], CORNER
    cut = r - r * 70711 // 100000
    lines = [((r, 0), (w - r, 0)), ((w, r), (w, h - r)), ((w - r, h), (r, h)), ((0, h - r), (0, r))]
    arcs = [
        ((w - r, 0), (w - cut, cut), (w, r)),
        ((w, h - r), (w - cut, h - cut), (w - r, h)),
        ((r, h), (cut, h - cut), (0, h - r)),
        ((0, r), (cut, cut), (r, 0)),
    ]
    out: list[GrLine | GrArc] = []
    for n, (a, b) in enumerate(lines):
        out.append(GrLine(start=_sheet(*a), end=_sheet(*b), layer="Edge.Cuts", width=0.1,
                          tstamp=_stamp(f"edge/{n}")))  # fmt: skip
    for n, (a, m, b) in enumerate(arcs):
        out.append(GrArc(start=_sheet(*a), mid=_sheet(*m), end=_sheet(*b), layer="Edge.Cuts",
                         width=0.1, tstamp=_stamp(f"corner/{n}")))  # fmt: skip
    return out


def _points(ring: Ring) -> list[Position]:
    return [_sheet(x, y) for x, y in ring]


def _zones(fills: list[Fill], numbers: dict[str, int]) -> list[Zone]:
    out = []
    for fill in fills:
        zone = Zone(
            net=numbers[fill.net], netName=fill.net, layers=[fill.layer],
            tstamp=_stamp(f"zone/{fill.layer}/{fill.net}/{fill.priority}"),
            hatch=Hatch("edge", 0.5),
            priority=fill.priority or None, connectPads="yes", clearance=0.15, minThickness=0.1,
            filledAreasThickness="no",
            fillSettings=FillSettings(yes=True, thermalGap=0.2, thermalBridgeWidth=0.25),
            polygons=[ZonePolygon(coordinates=_points(fill.outline))],
            filledPolygons=[
                FilledPolygon(layer=fill.layer, coordinates=_points(r)) for r in fill.rings
            ],
        )  # fmt: skip
        out.append(zone)
    x0, y0, x1, y1 = ANTENNA
    out.append(
        Zone(
            net=0, netName="", layers=["F.Cu", "In1.Cu", "In2.Cu", "B.Cu"],
            tstamp=_stamp("zone/antenna"), name="antenna", hatch=Hatch("edge", 0.5),
            clearance=0, minThickness=0.1,
            keepoutSettings=KeepoutSettings(
                tracks="allowed", vias="allowed", pads="allowed", copperpour="not_allowed",
                footprints="allowed",
            ),
            fillSettings=FillSettings(thermalGap=0.2, thermalBridgeWidth=0.25),
            polygons=[ZonePolygon(_points([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]))],
        )
    )  # fmt: skip
    return out


def _traces(copper: Copper) -> list[Segment | Via]:
    out: list[Segment | Via] = []
    for n, t in enumerate(copper.tracks):
        out.append(
            Segment(start=_sheet(t.x0, t.y0), end=_sheet(t.x1, t.y1), width=_mm(t.width),
                    layer=LAYERS[t.layer], net=t.net, tstamp=_stamp(f"track/{n}"))
        )  # fmt: skip
    for n, v in enumerate(copper.vias):
        out.append(
            Via(position=_sheet(v.x, v.y), size=_mm(VIA), drill=_mm(DRILL),
                layers=["F.Cu", "B.Cu"], net=v.net, tstamp=_stamp(f"via/{n}"))
        )  # fmt: skip
    return out


def net_numbers(names: list[str], placed: dict[str, Placed]) -> dict[str, int]:
    """Number the nets from one: ground first, then by name; open pins get nets of their own."""
    alone = [
        f"unconnected-({ref}-Pad{pin.number})"
        for ref, seat in placed.items()
        for pin in seat.part.pins
        if pin.net is None
    ]
    order = ["GND", *(n for n in names if n != "GND"), *sorted(alone)]
    return {name: k for k, name in enumerate(order, start=1)}


def board_text(
    placed: dict[str, Placed], numbers: dict[str, int], copper: Copper, fills: list[Fill]
) -> str:
    """Return the text of the board file."""
    room = SilkRoom(placed)
    label = GrText(
        text="LARK main board rev B", position=_sheet(40_000, 1_300), layer="F.SilkS",
        effects=Effects(font=Font(height=0.8, width=0.8, thickness=0.12)), tstamp=_stamp("label"),
    )  # fmt: skip
    board = Board(
        version="20211014",
        generator="pcbnew",
        general=GeneralSettings(thickness=1.0),
        paper=PageSettings(paperSize="A4"),
        titleBlock=TitleBlock(
            title="Lark main board", date="2026-05-04", revision="B",
            company="Varrowmere Instruments (invented)",
            comments={1: "Invented device for demonstration and tests", 2: "CC0-1.0"},
        ),
        layers=_layers(),
        setup=_setup(),
        nets=[Net(0, ""), *(Net(k, _check(n)) for n, k in numbers.items())],
        footprints=[_footprint(seat, numbers, room) for seat in placed.values()],
        graphicItems=[*_outline(), label],
        traceItems=_traces(copper),
        zones=_zones(fills, numbers),
    )  # fmt: skip
    return str(board.to_sexpr())
