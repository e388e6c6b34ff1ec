# SPDX-License-Identifier: GPL-3.0-or-later
"""Write a board as a KiCad 6 file (``.kicad_pcb``, version 20211014) through kiutils objects.

Lengths are written to the nanometre, so positions come back exactly. Nothing depends on the clock
or on chance: the same board gives the same text.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from math import cos, radians, sin
from typing import Any
from uuid import NAMESPACE_OID, UUID, uuid5

from netgraph import limits
from netgraph.errors import WriterError
from netgraph.formats import kicad_marks
from netgraph.formats.kicad_text import degrees, mm, point, text
from netgraph.formats.kicad_write_copper import CopperItems
from netgraph.formats.not_fitted import not_fitted_because
from netgraph.model.board import COPPER_SIDES, PAD_KINDS, PAD_SHAPES, Board, Part

FILE_VERSION = "20211014"

_PAD_TYPE = {"smd": "smd", "through": "thru_hole", "hole": "np_thru_hole", "edge": "connect"}
_MOST_COPPER_LAYERS = 32
_MARGIN_NM = 2_000_000


def write_kicad_board(
    board: Board, *, with_copper: bool = True, dropped: Counter[str] | None = None
) -> str:
    """The board as the text of a KiCad 6 file.

    Kept: parts with reference, value, footprint name, side, position, fields, tags, attributes
    and the mark of parts not fitted; pads with pin, net, position, size, drill, copper side, kind,
    shape, pin name and type; nets in their order; net ties; the outline; the stack-up; with
    `with_copper` also tracks, arcs, vias, zones with their fills, and custom pad shapes. Where
    KiCad 6 has no word, a footprint property says it (``kicad_marks``). A thickness that the board
    does not know is written as KiCad's 1.6 mm. A board without an outline gets a rectangle 2 mm
    around its pads. Copper layers keep their own names as KiCad's user names; an odd
    number of them gets one more, empty, above the bottom, since KiCad knows even numbers alone.

    Parameters
    ----------
    dropped
        Counts what is left out, by kind: ``net-class`` (KiCad keeps classes in another file),
        ``field-repeated`` (a second field of one name), ``field-reserved`` (named Reference or
        Value), ``not-on-copper`` (tracks and fills on other layers), ``zone-without-shape``.

    Raises
    ------
    WriterError
        A text holds a control character other than tab and line break, the board has more than 32
        copper layers, or a part is larger than KiCad's coordinates allow.
    """
    return _Writer(board, with_copper, Counter() if dropped is None else dropped).text()


class _Writer:
    """One board on its way into kiutils objects."""

    def __init__(self, board: Board, with_copper: bool, dropped: Counter[str]) -> None:
        self.board = board
        self.with_copper = with_copper
        self.dropped = dropped
        self.layers = _layer_names(board)
        self.seed = uuid5(NAMESPACE_OID, board.fingerprint)

    def text(self) -> str:
        from kiutils.board import Board as KiBoard
        from kiutils.items.common import Net

        board = self.board
        out = KiBoard.create_new()
        out.version, out.generator = FILE_VERSION, "netgraph"
        out.layers = [*self._copper_layers(), *(one for one in out.layers if one.ordinal > 31)]
        if board.stackup.board_thickness_nm is not None:
            out.general.thickness = mm(board.stackup.board_thickness_nm)
        out.setup.stackup = self._stackup()
        out.nets = [Net(0, "")]
        out.nets += [Net(net.index + 1, text(net.name, "a net name")) for net in board.nets]
        self.net_objects = out.nets
        self.dropped["net-class"] += sum(1 for net in board.nets if net.net_class)
        items = CopperItems(board, self.layers, self.stamp, self.dropped)
        self.primitives = items.pad_primitives() if self.with_copper else {}
        out.footprints = [self._footprint(part) for part in board.parts]
        out.graphicItems = items.outline() or self._rectangle()
        if self.with_copper:
            out.traceItems = items.traces()
            out.zones = items.zones()
        self.dropped += Counter()  # takes the zeros out
        written: str = out.to_sexpr()
        return written

    def stamp(self, kind: str, number: object) -> UUID:
        """An identity that depends on the board and the place in it alone."""
        return uuid5(self.seed, f"{kind} {number}")

    # -- the whole board -----------------------------------------------------------------------

    def _copper_layers(self) -> Iterator[Any]:
        from kiutils.items.brditems import LayerToken

        own = self.board.copper_layers
        for index, name in enumerate(self.layers):
            last = index == len(self.layers) - 1
            given = own[-1] if last and own else own[index] if index < len(own) - 1 else name
            yield LayerToken(
                ordinal=31 if last else int(name[2:-3]) if index else 0,
                name=name,
                type="signal",
                userName=None if given == name else text(given, "a layer name"),
            )

    def _stackup(self) -> Any:
        from kiutils.items.brditems import Stackup, StackupLayer

        layers = self.board.stackup.layers
        if not layers:
            return None
        return Stackup(
            layers=[
                StackupLayer(
                    name=text(layer.name, "a stack-up layer"),
                    type=text(layer.kind, "a stack-up layer").replace('"', r"\""),
                    thickness=None if layer.thickness_nm is None else mm(layer.thickness_nm),
                    material=text(layer.material, "a material") if layer.material else None,
                )
                for layer in layers
            ]
        )

    def _rectangle(self) -> list[Any]:
        """An edge around all pads, for boards that have none."""
        from kiutils.items.gritems import GrRect

        c = self.board.columns
        if not len(c):
            return []
        reach = max(int(c.width_nm.max()), int(c.height_nm.max())) // 2 + _MARGIN_NM
        low = int(c.x_nm.min()) - reach, int(c.y_nm.min()) - reach
        high = int(c.x_nm.max()) + reach, int(c.y_nm.max()) + reach
        limit = limits.MAX_COORDINATE_NM
        return [
            GrRect(
                start=point(*(max(one, -limit) for one in low)),
                end=point(*(min(one, limit) for one in high)),
                layer="Edge.Cuts",
                width=mm(100_000),
                tstamp=self.stamp("outline", 0),
            )
        ]

    # -- parts ---------------------------------------------------------------------------------

    def _footprint(self, part: Part) -> Any:
        from kiutils.footprint import Attributes, Footprint
        from kiutils.items.common import Position

        bottom = part.side == "bottom"
        words = kicad_marks.plain_attributes(part.attributes)
        name = part.footprint
        return Footprint(
            entryName=text(name, "a footprint name"),
            layer="B.Cu" if bottom else "F.Cu",
            tedit="0",
            tstamp=self.stamp("footprint", part.index),
            position=Position(mm(part.x_nm), mm(part.y_nm), degrees(part.angle_deg)),
            tags=text(part.tags, "tags") if part.tags else None,
            properties=dict(self._properties(part, words)),
            attributes=Attributes(
                type=next((word for word in words if word in ("smd", "through_hole")), None),
                boardOnly="board_only" in words,
                excludeFromPosFiles="exclude_from_pos_files" in words,
                excludeFromBom="exclude_from_bom" in words,
            ),
            graphicItems=[
                self._text(part, "reference", part.ref, "SilkS"),
                self._text(part, "value", part.value, "Fab"),
            ],
            pads=[self._pad(part, index) for index in self.board.pad_range(part)],
        )

    def _text(self, part: Part, kind: str, said: str, layer: str) -> Any:
        from kiutils.items.common import Effects, Font, Justify, Position
        from kiutils.items.fpitems import FpText

        bottom = part.side == "bottom"
        return FpText(
            type=kind,
            text=text(said, f"a {kind}"),
            position=Position("0", "0"),
            layer=f"{'B' if bottom else 'F'}.{layer}",
            effects=Effects(
                font=Font(height="0.8", width="0.8", thickness="0.12"),
                justify=Justify(mirror=bottom),
            ),
            tstamp=self.stamp(kind, part.index),
        )

    def _properties(self, part: Part, words: tuple[str, ...]) -> Iterator[tuple[str, str]]:
        fields: dict[str, str] = {}
        for key, said in part.fields:
            if key in ("Reference", "Value"):
                self.dropped["field-reserved"] += 1
            elif key in fields:
                self.dropped["field-repeated"] += 1
            elif key in kicad_marks.KEYS:
                raise WriterError(f"{part.id} has a field {key!r}; this name is taken")
            else:
                fields[key] = said
        for key, said in fields.items():
            yield text(key, "a field name"), text(said, "a field")
        if words != part.attributes:
            yield kicad_marks.ATTRIBUTES, text(kicad_marks.dump_words(part.attributes), "a word")
        implied = not_fitted_because(
            part.ref,
            part.value,
            part.footprint,
            attributes=part.attributes,
            tags=part.tags,
            fields=fields.items(),
        )
        if implied != part.not_fitted_because:
            because = part.not_fitted_because
            # Empty text stands for a fitted part: a reason that says nothing gets words.
            said = "" if because is None else because or "no reason given"
            yield kicad_marks.NOT_FITTED, text(said, "a mark")
        ties = [tie.pins for tie in self.board.net_ties if tie.part_id == part.id]
        if ties != kicad_marks.implied_ties(part.footprint, part.tags):
            yield kicad_marks.NET_TIES, text(kicad_marks.dump_groups(ties), "a pin")

    # -- pads ----------------------------------------------------------------------------------

    def _pad(self, part: Part, index: int) -> Any:
        from kiutils.footprint import Pad, PadOptions
        from kiutils.items.common import Position

        c = self.board.columns
        kind, shape = PAD_KINDS[c.kind[index]], PAD_SHAPES[c.shape[index]]
        x, y = _local(part, int(c.x_nm[index]), int(c.y_nm[index]))
        width, height = int(c.width_nm[index]), int(c.height_nm[index])
        net = int(c.net[index])
        name, electrical = c.pin_name[index], c.pin_type[index]
        return Pad(
            number=text(c.pin[index], "a pin"),
            type=_PAD_TYPE[kind],
            shape=shape,
            position=Position(x, y, degrees(float(c.angle_deg[index]))),
            size=point(width, height),
            drill=_drill(int(c.drill_nm[index]), width, height),
            layers=self._pad_layers(part, kind, COPPER_SIDES[c.copper_side[index]]),
            roundrectRatio="0.25" if shape == "roundrect" else None,
            net=self.net_objects[net + 1] if net >= 0 else None,
            pinFunction=text(name, "a pin name") if name else None,
            pinType=text(electrical, "a pin type") if electrical else None,
            customPadOptions=PadOptions() if shape == "custom" else None,
            customPadPrimitives=self.primitives.get(index, []),
            tstamp=self.stamp("pad", index),
        )

    def _pad_layers(self, part: Part, kind: str, copper: str) -> list[str]:
        if copper == "none":
            paste = "B.Paste" if part.side == "bottom" else "F.Paste"
            return ["*.Mask"] if kind == "hole" else [paste]
        if copper == "inner":
            return [self.layers[1]]
        if copper == "both":
            return ["*.Cu", "*.Mask"] if kind in ("through", "hole") else ["F.Cu", "B.Cu", "*.Mask"]
        letter = "F" if copper == "top" else "B"
        paste_too = [f"{letter}.Paste"] if kind == "smd" else []
        return [f"{letter}.Cu", *paste_too, f"{letter}.Mask"]


def _layer_names(board: Board) -> tuple[str, ...]:
    """KiCad's names for the copper layers, top to bottom; inner ones only if they are needed."""
    count = max(2, len(board.copper_layers))
    if count == 2 and COPPER_SIDES.index("inner") in board.columns.copper_side:
        count = 4
    count += count % 2  # KiCad knows even counts alone
    if count > _MOST_COPPER_LAYERS:
        raise WriterError(f"{count} copper layers, KiCad has at most {_MOST_COPPER_LAYERS}")
    return ("F.Cu", *(f"In{number}.Cu" for number in range(1, count - 1)), "B.Cu")


def _drill(drill_nm: int, width_nm: int, height_nm: int) -> Any:
    """A hole; a slot when the drill would cut through the pad's shorter side.

    The board knows a slot by its length alone; its breadth follows from the same ring all round.
    """
    from kiutils.footprint import DrillDefinition

    if drill_nm == 0:
        return None
    short, long = sorted((width_nm, height_nm))
    breadth = short - (long - drill_nm)
    if not 0 < breadth < drill_nm or drill_nm < short:
        return DrillDefinition(diameter=mm(drill_nm))
    across, along = (drill_nm, breadth) if width_nm > height_nm else (breadth, drill_nm)
    return DrillDefinition(oval=True, diameter=mm(across), width=mm(along))


def _local(part: Part, x_nm: int, y_nm: int) -> tuple[str, str]:
    """Footprint coordinates, as text in mm, that lead back to an absolute position.

    Whole nanometres where some exist that a reader turns into just this position (they do for
    every pad that came from a file of whole nanometres); else three more digits.
    """
    dx, dy = x_nm - part.x_nm, y_nm - part.y_nm
    quarter = part.angle_deg % 360 / 90
    if quarter == int(quarter):
        px, py = ((dx, dy), (-dy, dx), (-dx, -dy), (dy, -dx))[int(quarter)]
        return _within(part, px, py)
    turned = radians(part.angle_deg)
    c, s = cos(turned), sin(turned)
    fx, fy = dx * c - dy * s, dx * s + dy * c
    near_x, near_y = round(fx), round(fy)
    candidates = sorted(
        ((near_x + i, near_y + j) for i in (-1, 0, 1) for j in (-1, 0, 1)),
        key=lambda at: (at[0] - fx) ** 2 + (at[1] - fy) ** 2,
    )
    for px, py in candidates:
        if _leads_to(part, px, py, c, s) == (x_nm, y_nm):
            return _within(part, px, py)
    _within(part, near_x, near_y)
    return f"{fx / 1e6:.9f}", f"{fy / 1e6:.9f}"


def _leads_to(part: Part, px: int, py: int, c: float, s: float) -> tuple[int, int] | None:
    """Where a pad lands by our reader's arithmetic; None when KiCad's own lands elsewhere."""
    turned = part.x_nm + round(px * c + py * s), part.y_nm + round(-px * s + py * c)
    x, y, mx, my = part.x_nm / 1e6, part.y_nm / 1e6, px / 1e6, py / 1e6
    ours = round((x + mx * c + my * s) * 1e6), round((y - mx * s + my * c) * 1e6)
    return ours if ours == turned else None


def _within(part: Part, x_nm: int, y_nm: int) -> tuple[str, str]:
    if max(abs(x_nm), abs(y_nm)) > limits.MAX_COORDINATE_NM:
        raise WriterError(f"{part.id} has a pad more than 2147 mm from its middle")
    return mm(x_nm), mm(y_nm)
