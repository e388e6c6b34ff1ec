# SPDX-License-Identifier: GPL-3.0-or-later
"""JSON answers about files of boards: formats, merge, compare, convert, trace, photo, unplug."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

from netgraph.contract.answers import reasons_json
from netgraph.model import Board
from netgraph.reasons import Reason

if TYPE_CHECKING:
    from netgraph.formats.hand_trace import Trace
    from netgraph.formats.photo_board import PhotoBoard
    from netgraph.formats.reading import Reader
    from netgraph.formats.trace_state import TraceState
    from netgraph.formats.writing import Writer
    from netgraph.model.compare import Comparison
    from netgraph.model.join import JoinedBoards
    from netgraph.model.merge import Merged
    from netgraph.plan.drawn_nets import DrawnNet, DrawnShort

Json = dict[str, object]


def formats_fields(readers: Sequence[Reader], writers: Sequence[Writer]) -> Json:
    """The formats that can be read and written."""
    return {
        "formats": [
            {
                "name": one.name,
                "title": one.title,
                "suffixes": list(one.suffixes),
                "carries": list(getattr(one, "carries", ())),
                "limits": str(getattr(one, "limits", "")),
            }
            for one in readers
        ],
        "written": [
            {
                "name": one.name,
                "title": one.title,
                "suffixes": [one.suffix],
                "carries": list(one.carries),
                "limits": one.limits,
            }
            for one in writers
        ],
    }


def merge_fields(merged: Merged, others: Sequence[str]) -> Json:
    """Counts of the merged board and every disagreement."""
    board = merged.board
    return {
        "others": list(others),
        "parts": len(board.parts),
        "pads": len(board.columns),
        "nets": len(board.nets),
        "unclear_nets": sorted(board.unclear_nets),
        "disagreements": [
            {
                "about": one.about,
                "name": one.name,
                "first": one.first,
                "second": one.second,
                "taken": one.taken,
                "file": one.file,
            }
            for one in merged.disagreements
        ],
    }


def compare_fields(a: Board, b: Board, found: Comparison, names: tuple[str, str]) -> Json:
    """Whether two boards are the same net by net, and what differs; `names` tell them apart."""
    match = found.match
    return {
        "file_a": names[0],
        "file_b": names[1],
        "same": found.is_same,
        "pads_compared": len(match.pairs),
        "pads_only_a": len(match.only_a),
        "pads_only_b": len(match.only_b),
        "parts_only_a": list(found.parts_only_a),
        "parts_only_b": list(found.parts_only_b),
        "unsure": [f"{ref}.{pin}" for ref, pin in match.unsure],
        "worst_mm": None if match.worst_nm is None else match.worst_nm / 1e6,
        "moved": list(found.moved),
        "offset_x_mm": None if match.offset_nm is None else match.offset_nm[0] / 1e6,
        "offset_y_mm": None if match.offset_nm is None else match.offset_nm[1] / 1e6,
        "unclear_a": list(found.unclear_a),
        "unclear_b": list(found.unclear_b),
        "partial_a": a.partial,
        "partial_b": b.partial,
        "not_known_a": reasons_json(a.not_known),
        "not_known_b": reasons_json(b.not_known),
        "nets": [{"net_a": one, "net_b": two} for one, two in found.same],
        "differ": [
            {
                "nets_a": list(one.nets_a),
                "nets_b": list(one.nets_b),
                "pads": list(one.pads),
                "unclear": one.unclear,
                "apart": [
                    {
                        "net_a": group.net_a,
                        "net_b": group.net_b,
                        "pads": list(group.pads),
                        "sure": group.sure,
                    }
                    for group in one.apart
                ],
            }
            for one in found.differ
        ],
    }


def copper_fields(board: Board, opens: Sequence[DrawnNet], shorts: Sequence[DrawnShort]) -> Json:
    """Where the drawn copper joins other pads than the netlist."""
    sure = [one for one in opens if not one.unfilled]
    unfilled = sum(not zone.is_filled for zone in board.copper.zones)
    agrees: bool | None = not sure and not shorts
    if agrees and opens:
        agrees = None
    return {
        "file": board.source.file_name,
        "agrees": agrees,
        "shorts": [
            {
                "net_a": one.net_a,
                "net_b": one.net_b,
                "x_mm": one.x_nm / 1e6,
                "y_mm": one.y_nm / 1e6,
                "layer": board.copper_layers[one.layer],
            }
            for one in shorts
        ],
        "opens": [
            {"net": one.net, "pieces": [list(p) for p in one.pieces], "unfilled": one.unfilled}
            for one in opens
        ],
        "unfilled_zones": unfilled,
    }


def convert_fields(writer: str, name: str, dropped: Counter[str]) -> Json:
    """What was written, and what the format could not hold."""
    return {"written": name, "format": writer, "left_out": dict(sorted(dropped.items()))}


def trace_fields(trace: Trace, events: Sequence[Reason] = (), undone: str | None = None) -> Json:
    """The nets of a trace so far, what a person should hear of the lines added just now, and the
    line taken back.
    """
    state = trace.state()
    return {
        "lines": len(trace.facts()),
        "parts": [part.ref for part in state.parts],
        "nets": net_rows(state),
        "joined_rails": [{"a": o.a, "b": o.b, "line": o.line} for o in state.joined_rails],
        "gave_way": list(dict.fromkeys(one.line for one in state.gave_way)),
        "given_up": [
            {"line": one.line, "pads": [state.shown(pad) for pad in one.pads], "rest": one.rest}
            for one in state.gave_way
        ],
        "events": [one.as_json() for one in events],
        "undone": undone,
    }


def net_rows(state: TraceState) -> list[Json]:
    """Each net as far as it is traced."""
    return [
        {
            "net": state.net_name(root),
            "names": list(state.names.get(root, [])),
            "pads": [state.shown(pad) for pad in pads],
            "assumed": all(pad in state.assumed for pad in pads),
        }
        for root, pads in state.nets().items()
    ]


def photo_fields(
    photo: PhotoBoard,
    board: Board | None,
    events: Sequence[Reason] = (),
    undone: str | None = None,
) -> Json:
    """The pictures, parts and traced lines of a photo board; the rest as in `trace_fields`."""
    return {
        "name": photo.name,
        "pictures": [
            {"side": one.side, "file": one.file, "points": len(one.points)}
            for one in photo.pictures
        ],
        "parts": len(photo.parts),
        "pads": sum(len(part.pads) for part in photo.parts),
        "traced": list(photo.traced),
        "nets": [] if board is None else [net.name for net in board.nets],
        "places": board is not None and "has_positions" in board.capabilities,
        "events": [one.as_json() for one in events],
        "undone": undone,
    }


def unplug_fields(before: JoinedBoards, after: JoinedBoards, refs: Sequence[str]) -> Json:
    """Which nets come apart when connectors are unplugged."""
    now = after.joined()
    apart = [
        {"net": name, "was": nets, "stays": now.get(name, [])}
        for name, nets in before.joined().items()
        if now.get(name) != nets
    ]
    return {
        "unplugged": list(refs),
        "apart": apart,
        "still_joined": [{"net": name, "nets": nets} for name, nets in now.items()],
    }
