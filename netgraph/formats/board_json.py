# SPDX-License-Identifier: GPL-3.0-or-later
"""A board as JSON (``netgraph.board/1``): all of the netlist and what is not known; no copper."""

from __future__ import annotations

import json
import re
from typing import Any, cast

from netgraph import limits
from netgraph.errors import BoardCheckError, BoardFileError
from netgraph.formats.json_fields import Fields, json_object, lines_told, refuse
from netgraph.formats.plain_text import head_text
from netgraph.model.board import (
    COPPER_SIDES,
    PAD_KINDS,
    PAD_SHAPES,
    Board,
    BoardWarning,
    Capability,
    CopperSide,
    Pad,
    PadKind,
    Part,
    Side,
    Source,
)
from netgraph.model.builder import BoardBuilder, is_bad_name
from netgraph.reasons import ParamValue, reason_again

FORMAT = "board-json"
SCHEMA = "netgraph.board/1"
_SIDES = ("top", "bottom")
_CAN = (
    "has_positions", "has_values", "has_pin_names", "has_pin_types", "has_dnp",
)  # fmt: skip


class BoardJsonReader:
    """Boards as JSON."""

    name = FORMAT
    title = "board as JSON (netgraph.board/1)"
    suffixes: tuple[str, ...] = (".json",)
    carries: tuple[str, ...] = (
        "netlist", "places", "values", "pin names and types", "parts not fitted",
        "what is not known",
    )  # fmt: skip
    limits = "no drawn copper, no stack-up"

    def sniff(self, head: bytes) -> float:
        """1.0 when the schema is named at the beginning."""
        return 1.0 if re.match(rf'\s*\{{\s*"schema"\s*:\s*"{SCHEMA[:-1]}', head_text(head)) else 0.0

    def read(self, data: bytes, *, file_name: str, sha256: str) -> Board:
        """See ``read_board_json``."""
        return read_board_json(data, file_name=file_name, sha256=sha256)


def write_board_json(board: Board) -> str:
    """The board as JSON text. Left out: copper, stack-up, outline.

    The same board gives the same text; `source` tells where the board itself came from.
    """
    source = board.source
    table = {
        "schema": SCHEMA,
        "name": board.name,
        "made_from": {
            "format": source.format,
            "file_name": source.file_name,
            "version": source.version,
            "generator": source.generator,
        },
        "copper_layers": list(board.copper_layers),
        "capabilities": sorted(board.capabilities - {"has_copper"}),
        "partial": board.partial,
        **({"other_names": dict(board.aliases)} if board.aliases else {}),
        **({"apart": apart_table(board)} if board.apart else {}),
        "unclear_nets": sorted(board.unclear_nets),
        "not_known": [{"code": one.code, "params": dict(one.params)} for one in board.not_known],
        "warnings": [
            {"code": one.code, "text": one.text, "count": one.count, "line": one.line}
            for one in board.warnings
        ],
        "nets": [{"name": net.name, "class": net.net_class} for net in board.nets],
        "parts": [_part(board, part) for part in board.parts],
        "net_ties": [{"part": tie.part_id, "pins": list(tie.pins)} for tie in board.net_ties],
    }
    return json.dumps(table, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _part(board: Board, part: Part) -> dict[str, object]:
    return {
        "id": part.id,
        "ref": part.ref,
        "value": part.value,
        "footprint": part.footprint,
        "side": part.side,
        "x_mm": part.x_nm / 1e6,
        "y_mm": part.y_nm / 1e6,
        "angle_deg": part.angle_deg,
        "not_fitted_because": part.not_fitted_because,
        "attributes": list(part.attributes),
        "fields": [list(pair) for pair in part.fields],
        "tags": part.tags,
        "pads": [_pad(board, index) for index in board.pad_range(part)],
    }


def _pad(board: Board, index: int) -> dict[str, object]:
    pad = board.pad(index)
    return {
        "pin": pad.pin,
        "net": pad.net,
        **pad_copper(pad),
        "pin_name": pad.pin_name,
        "pin_type": pad.pin_type,
    }


def pad_copper(pad: Pad) -> dict[str, str | float]:
    """Place, size, side and shape of a pad; GraphML tells the same."""
    return {
        "x_mm": pad.x_nm / 1e6,
        "y_mm": pad.y_nm / 1e6,
        "angle_deg": pad.angle_deg,
        "width_mm": pad.width_nm / 1e6,
        "height_mm": pad.height_nm / 1e6,
        "drill_mm": pad.drill_nm / 1e6,
        "copper_side": pad.copper_side,
        "kind": pad.kind,
        "shape": pad.shape,
    }


def read_board_json(data: bytes, *, file_name: str = "", sha256: str = "") -> Board:
    """The board in a JSON text of ours.

    Raises
    ------
    BoardFileError
        No sound JSON, another schema, or a field that is not as it should be; the way to it is
        named (``parts[3].pads[0].x_mm``).
    """
    try:
        with lines_told(data):
            return _board(json_object(data, SCHEMA), file_name, sha256)
    except BoardCheckError as error:
        raise BoardFileError("file-malformed", error.message, hint=error.hint) from None


def _board(top: Fields, file_name: str, sha256: str) -> Board:
    made = Fields(top.table.get("made_from", {}), "made_from")
    generator = " ".join(
        word for word in (made.text("format", ""), made.text("version", "")) if word
    )
    builder = BoardBuilder(
        top.text("name", "board", name=True),
        source=Source(FORMAT, file_name, sha256, "1", generator),
    )
    builder.copper_layers = top.texts("copper_layers")
    for word in top.texts("capabilities"):
        if word not in _CAN:
            refuse("capabilities", f"holds {word[:40]!r}", ", ".join(_CAN))
        builder.capabilities.add(cast("Capability", word))
    for place, one in top.items("nets", limits.MAX_NETS, "MAX_NETS"):
        net = Fields(one, place)
        builder.add_net(net.text("name", name=True), net_class=net.text("class", ""))
    indices: dict[str, int] = {}
    for place, one in top.items("parts", limits.MAX_PARTS, "MAX_PARTS"):
        part = Fields(one, place)
        ref = part.text("ref", name=True)
        own = part.text("id", ref, name=True)
        if own in indices:
            refuse(f"{place}.id", "stands twice", "an identity of its own for each part")
        indices[own] = read_part(builder, part, ref, own)
    for place, one in top.items("net_ties", limits.MAX_PARTS, "MAX_PARTS"):
        tie = Fields(one, place)
        owner = indices.get(tie.text("part"))
        if owner is None:
            refuse(f"{place}.part", "is no part of the board", "the id of a part")
        builder.add_net_tie(owner, tie.texts("pins"))
    read_openness(builder, top)
    return builder.freeze()


def read_part(builder: BoardBuilder, part: Fields, ref: str, own: str) -> int:
    """Add a part with its pads; its index. Faults name the way to the field."""
    pairs = []
    for place, pair in part.items("fields", 10_000, "10000"):
        if not (
            isinstance(pair, list) and len(pair) == 2 and all(isinstance(p, str) for p in pair)
        ):
            refuse(place, "is no pair of texts", '["name", "text"]')
        pairs.append((pair[0], pair[1]))
    index = builder.add_part(
        ref,
        value=part.text("value", ""),
        footprint=part.text("footprint", ""),
        side=cast("Side", part.choice("side", _SIDES, "top")),
        x_nm=part.nanometres("x_mm", 0.0),
        y_nm=part.nanometres("y_mm", 0.0),
        angle_deg=part.number("angle_deg", 0.0),
        not_fitted_because=part.text_or_none("not_fitted_because"),
        attributes=part.texts("attributes"),
        fields=tuple(pairs),
        tags=part.text("tags", ""),
        part_id=own,
    )
    left = limits.MAX_PADS - len(builder.rows.part)
    nets: dict[str, str] = {}
    for place, one in part.items("pads", left, "MAX_PADS"):
        pad = Fields(one, place)
        net, pin = pad.text_or_none("net", name=True), pad.text("pin", name=True)
        if net == "":
            refuse(f"{place}.net", "is empty", "a net's name, or null for none")
        if net is not None and pin and nets.setdefault(pin, net) != net:
            builder.pin_on_two_nets(f"{own}.{pin}", (nets[pin], net))
        builder.add_pad(
            index,
            pin,
            net,
            x_nm=pad.nanometres("x_mm", 0.0),
            y_nm=pad.nanometres("y_mm", 0.0),
            angle_deg=pad.number("angle_deg", 0.0),
            width_nm=pad.nanometres("width_mm", 0.0),
            height_nm=pad.nanometres("height_mm", 0.0),
            drill_nm=pad.nanometres("drill_mm", 0.0),
            copper_side=cast("CopperSide", pad.choice("copper_side", COPPER_SIDES, "top")),
            kind=cast("PadKind", pad.choice("kind", PAD_KINDS, "smd")),
            shape=pad.choice("shape", PAD_SHAPES, "rect"),
            pin_name=pad.text("pin_name", ""),
            pin_type=pad.text("pin_type", ""),
        )
    return index


def apart_table(board: Board) -> list[list[dict[str, str]]]:
    """Groups of pads that were found apart, as a JSON value."""
    return [[{"part": part, "pin": pin} for part, pin in pads] for pads in board.apart]


def read_openness(builder: BoardBuilder, top: Fields) -> None:
    """What the board doesn't tell; a sentence that is not known here stops the reading, since an
    answer without it would promise too much.
    """
    builder.partial = top.flag("partial")
    others = top.table.get("other_names", {})
    if not isinstance(others, dict) or not all(
        isinstance(name, str) and not is_bad_name(one) for one, name in others.items()
    ):
        refuse("other_names", "is no table of names", '{"name elsewhere": "name here"}')
    builder.aliases |= others
    for place, group in top.items("apart", limits.MAX_TRACE_LINES, "MAX_TRACE_LINES"):
        pads = []
        for at, one in Fields({"pads": group}, place).items("pads", limits.MAX_PADS_APART, "pads"):
            pad = Fields(one, at)
            pads.append((pad.text("part", name=True), pad.text("pin", name=True)))
        builder.apart.append(tuple(pads))
    for net in top.texts("unclear_nets"):
        if builder.net_number(net) is None:
            refuse("unclear_nets", f"holds {net[:40]!r}", "names of nets of the board")
        builder.unclear_nets.add(net)
    for place, one in top.items("not_known", 1000, "1000"):
        said = Fields(one, place)
        params: Any = said.table.get("params", {})
        if not isinstance(params, dict) or not all(
            value is None or isinstance(value, str | int | float | bool)
            for value in params.values()
        ):
            refuse(f"{place}.params", "is no table of plain values", "{...}")
        found = reason_again(said.text("code"), cast("dict[str, ParamValue]", params))
        if found is None:
            refuse(place, "is a sentence that is not known", "a code of this version")
        builder.not_known.append(found)
    for place, one in top.items("warnings", 100_000, "100000"):
        warning = Fields(one, place)
        line = warning.table.get("line")
        if isinstance(line, int) and line < 1:
            refuse(f"{place}.line", f"is {line}", "a line counted from 1, or null")
        read = BoardWarning(
            warning.text("code", name=True),
            warning.text("text"),
            int(warning.number("count", 1)),
            line if isinstance(line, int) and not isinstance(line, bool) else None,
        )
        builder.warn(read.code, read.text, line=read.line, count=read.count)
