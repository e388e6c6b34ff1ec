# SPDX-License-Identifier: GPL-3.0-or-later
"""A board as plain bytes and back: what the reading child hands over, and what a cache keeps.

A zip of number columns (numpy's own form, never a pickle) and one JSON head with the names. What
is unpacked is checked: the bytes may come from a child that a hostile file has taken over.
"""

from __future__ import annotations

import io
import json
import zipfile
import zlib
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any, Final

import numpy as np

from netgraph import limits
from netgraph.errors import BoardFileError
from netgraph.model.board import (
    COPPER_SIDES,
    PAD_KINDS,
    PAD_SHAPES,
    Board,
    BoardWarning,
    Net,
    NetTie,
    PadColumns,
    Part,
    Source,
)
from netgraph.model.copper import (
    Arcs,
    Copper,
    Fill,
    OutlineShape,
    PadShape,
    StackLayer,
    Stackup,
    Tracks,
    Vias,
    Zone,
)
from netgraph.reasons import Reason, reason_again

ARCHIVE_VERSION: Final = 3

_PAD_NUMBERS: Final = (
    *("part", "net", "ordinal", "x_nm", "y_nm", "angle_deg", "width_nm", "height_nm"),
    *("drill_nm", "copper_side", "kind", "shape"),
)
_SMALL: Final = {"copper_side": len(COPPER_SIDES), "kind": len(PAD_KINDS), "shape": len(PAD_SHAPES)}
_TRACKS: Final = ("start", "end", "width", "layer", "net")
_ARCS: Final = ("start", "mid", "end", "width", "layer", "net")
_VIAS: Final = ("at", "size", "drill", "first_layer", "last_layer", "net")
_POINTS: Final = ("start", "mid", "end", "at")
_FAULT_FIELDS: Final = ("code", "message", "line", "column", "expected", "hint")

Json = dict[str, Any]


_UNSOUND: Final = (
    *(ValueError, KeyError, IndexError, TypeError, AttributeError, OverflowError, EOFError),
    *(OSError, NotImplementedError, RuntimeError, MemoryError, zipfile.BadZipFile, zlib.error),
)
"""What zip, numpy and json raise when bytes are not what they seem."""


class ArchiveError(ValueError):
    """The bytes are no archive of this version, or do not hang together."""


def pack_board(board: Board) -> bytes:
    """The board with all its copper as bytes; `unpack_board` gives an equal one.

    Copper that can't be read is kept as its error, to be raised when somebody asks for it.
    """
    columns = board.columns
    arrays: dict[str, Any] = {f"pad_{name}": getattr(columns, name) for name in _PAD_NUMBERS}
    head: Json = {
        "archive": ARCHIVE_VERSION,
        "name": board.name,
        "source": asdict(board.source),
        "parts": [_part_row(part) for part in board.parts],
        "nets": [[net.name, net.net_class] for net in board.nets],
        "pins": [list(columns.pin), list(columns.pin_name), list(columns.pin_type)],
        "copper_layers": list(board.copper_layers),
        "net_ties": [[tie.part_id, list(tie.pins)] for tie in board.net_ties],
        "capabilities": sorted(board.capabilities),
        "warnings": [[one.code, one.text, one.count, one.line] for one in board.warnings],
        "stackup": asdict(board.stackup),
        "partial": board.partial,
        "unclear_nets": sorted(board.unclear_nets),
        "aliases": dict(board.aliases),
        "apart": board.apart,
        "not_known": [[one.code, dict(one.params)] for one in board.not_known],
        "copper_fault": None,
    }
    try:
        copper = board.copper
    except BoardFileError as fault:
        head["copper_fault"] = {name: getattr(fault, name) for name in _FAULT_FIELDS}
        copper = Copper()
    head["copper"] = _pack_copper(copper, arrays)
    text = json.dumps(head, ensure_ascii=True, allow_nan=False).encode("ascii")
    out = io.BytesIO()
    np.savez(out, head=np.frombuffer(text, dtype=np.uint8), **arrays)
    return out.getvalue()


def _part_row(part: Part) -> list[object]:
    return [
        *(part.id, part.ref, part.value, part.footprint, part.side, part.x_nm, part.y_nm),
        *(part.angle_deg, part.not_fitted_because, list(part.attributes)),
        *([list(pair) for pair in part.fields], part.tags),
    ]


def _pack_copper(copper: Copper, arrays: dict[str, Any]) -> Json:
    for prefix, columns, names in (
        ("track", copper.tracks, _TRACKS),
        ("arc", copper.arcs, _ARCS),
        ("via", copper.vias, _VIAS),
    ):
        arrays |= {f"{prefix}_{name}": getattr(columns, name) for name in names}
    rings: list[Any] = []
    zones = []
    for zone in copper.zones:
        rings.append(zone.outline)
        rings += [fill.points for fill in zone.fills]
        fills = [[fill.layer, fill.grow_nm] for fill in zone.fills]
        zones.append([zone.net, zone.name, list(zone.layers), zone.priority, zone.teardrop, fills])
    pads = []
    for index, shapes in copper.custom_pads.items():
        rings += [shape.points for shape in shapes]
        pads.append([index, [[one.kind, one.width_nm, one.filled] for one in shapes]])
    rings += [shape.points for shape in copper.outline]
    arrays["ring_sizes"] = np.array([len(ring) for ring in rings], dtype=np.int64)
    arrays["ring_points"] = np.concatenate([np.zeros((0, 2), np.int64), *rings])
    outline = [one.kind for one in copper.outline]
    return {"zones": zones, "pads": pads, "outline": outline, "skipped": copper.skipped}


# -- unpacking ---------------------------------------------------------------------------------


def unpack_board(data: bytes) -> Board:
    """The board in an archive.

    Raises
    ------
    ArchiveError
        The bytes are no archive of this version, or columns, names and numbers contradict.
    """
    try:
        with np.load(io.BytesIO(data), allow_pickle=False) as found:
            arrays = {name: found[name] for name in found.files}
        head = json.loads(arrays.pop("head").tobytes())
        if head["archive"] != ARCHIVE_VERSION:
            raise ArchiveError(f"an archive of version {head['archive']!r}")
        return _board(head, arrays)
    except ArchiveError:
        raise
    except _UNSOUND as error:
        raise ArchiveError(f"no board archive: {type(error).__name__}: {error}") from None


def _board(head: Json, arrays: dict[str, Any]) -> Board:
    parts = tuple(_part(index, row) for index, row in enumerate(head["parts"]))
    nets = tuple(Net(index, *row) for index, row in enumerate(head["nets"]))
    if len(parts) > limits.MAX_PARTS or len(nets) > limits.MAX_NETS:
        raise ArchiveError("more parts or nets than the limits allow")
    columns = _pads(head["pins"], arrays, len(parts), len(nets))
    copper = _copper(head["copper"], arrays, len(columns), len(nets))
    stack = head["stackup"]
    layers = tuple(StackLayer(**one) for one in stack.pop("layers"))
    board = Board(
        name=head["name"],
        source=Source(**head["source"]),
        parts=parts,
        nets=nets,
        columns=columns,
        copper_layers=tuple(head["copper_layers"]),
        net_ties=tuple(NetTie(part, tuple(pins)) for part, pins in head["net_ties"]),
        capabilities=frozenset(head["capabilities"]),
        warnings=tuple(BoardWarning(*row) for row in head["warnings"]),
        stackup=Stackup(layers=layers, **stack),
        not_known=_not_known(head["not_known"]),
        partial=bool(head["partial"]),
        unclear_nets=frozenset(head["unclear_nets"]),
        aliases={str(alias): str(name) for alias, name in head["aliases"].items()},
        apart=tuple(tuple((str(one), str(pin)) for one, pin in pads) for pads in head["apart"]),
        load_copper=_loader(copper, head["copper_fault"]),
    )
    if len(board.nets_of_part) != len(parts) or len({net.name for net in nets}) != len(nets):
        raise ArchiveError("a name stands twice")
    return board


def _not_known(rows: list[Any]) -> tuple[Reason, ...]:
    """Sentences that go with every answer; one without words here would promise too much."""
    found = [reason_again(code, params) for code, params in rows]
    if None in found:
        raise ArchiveError("a sentence that has no words")
    return tuple(one for one in found if one is not None)


def _loader(copper: Copper, fault: Json | None) -> Any:
    def load() -> Copper:
        if fault is not None:
            told = {name: fault[name] for name in _FAULT_FIELDS[2:]}
            raise BoardFileError(fault["code"], fault["message"], **told)
        return copper

    return load


def _part(index: int, row: Sequence[Any]) -> Part:
    part_id, ref, value, footprint, side, x_nm, y_nm, angle, why, attributes, fields, tags = row
    if side not in ("top", "bottom"):
        raise ArchiveError("a part on neither side")
    pairs = tuple((key, text) for key, text in fields)
    place = (int(x_nm), int(y_nm), float(angle))
    words = (tuple(attributes), pairs, tags)
    return Part(index, part_id, ref, value, footprint, side, *place, why, *words)


def _pads(pins: list[list[str]], arrays: dict[str, Any], parts: int, nets: int) -> PadColumns:
    count = len(pins[0])
    if count > limits.MAX_PADS or any(len(one) != count for one in pins):
        raise ArchiveError("pad names and pads differ in number")
    columns: dict[str, Any] = {}
    for name in _PAD_NUMBERS:
        kind = np.float64 if name == "angle_deg" else np.int8 if name in _SMALL else np.int64
        columns[name] = _column(arrays, f"pad_{name}", (count,), kind)
    for name, most in _SMALL.items():
        _within(columns[name], 0, most, name)
    _within(columns["part"], 0, parts, "part")
    _within(columns["net"], -1, nets, "net")
    if (np.diff(columns["part"]) < 0).any():
        raise ArchiveError("pads are not sorted by part")
    if not np.isfinite(columns["angle_deg"]).all():
        raise ArchiveError("an angle is no number")
    pin, pin_name, pin_type = (tuple(one) for one in pins)
    return PadColumns(**columns, pin=pin, pin_name=pin_name, pin_type=pin_type)


def _column(arrays: dict[str, Any], name: str, shape: tuple[int, ...], kind: Any) -> Any:
    column = arrays[name]
    if column.shape != shape or column.dtype != kind:
        raise ArchiveError(f"column {name} has the wrong form")
    column.flags.writeable = False
    return column


def _within(column: Any, least: int, beyond: int, name: str) -> None:
    if column.size and (int(column.min()) < least or int(column.max()) >= beyond):
        raise ArchiveError(f"column {name} points outside the board")


def _shapes(arrays: dict[str, Any], prefix: str, names: tuple[str, ...], nets: int) -> Json:
    count = len(arrays[f"{prefix}_net"])
    found = {
        name: _column(
            arrays, f"{prefix}_{name}", (count, 2) if name in _POINTS else (count,), np.int64
        )
        for name in names
    }
    _within(found["net"], -1, nets, f"{prefix} net")
    return found


def _copper(told: Json, arrays: dict[str, Any], pads: int, nets: int) -> Copper:
    sizes = arrays["ring_sizes"]
    points = _column(arrays, "ring_points", (int(sizes.sum()), 2), np.int64)
    if (sizes < 0).any():
        raise ArchiveError("a ring of less than no points")
    ends = np.cumsum(sizes).tolist()
    rings = iter([points[a:b] for a, b in zip([0, *ends], ends, strict=False)])
    zones = []
    for net, name, layers, priority, teardrop, fills in told["zones"]:
        if not -1 <= net < nets:
            raise ArchiveError("a zone of no net")
        outline = next(rings)
        filled = tuple(Fill(layer, next(rings), grow) for layer, grow in fills)
        zones.append(Zone(net, name, tuple(layers), priority, outline, filled, teardrop))
    custom = {}
    for index, shapes in told["pads"]:
        if not 0 <= index < pads:
            raise ArchiveError("a pad's shape without the pad")
        custom[index] = tuple(
            PadShape(kind, next(rings), width, filled) for kind, width, filled in shapes
        )
    return Copper(
        tracks=Tracks(**_shapes(arrays, "track", _TRACKS, nets)),
        arcs=Arcs(**_shapes(arrays, "arc", _ARCS, nets)),
        vias=Vias(**_shapes(arrays, "via", _VIAS, nets)),
        zones=tuple(zones),
        custom_pads=custom,
        outline=tuple(OutlineShape(kind, next(rings)) for kind in told["outline"]),
        skipped=told["skipped"],
    )
