# SPDX-License-Identifier: GPL-3.0-or-later
"""Write the board's graph as GraphML: parts and nets as nodes, connected pads as edges."""

from __future__ import annotations

import json

from netgraph.errors import WriterError
from netgraph.formats.board_json import apart_table, pad_copper
from netgraph.model.board import Board, Pad


def write_graphml(board: Board) -> str:
    """GraphML of ``board.graph``, with texts for node names (``part:U1``, ``net:VSYS``).

    Raises
    ------
    WriterError
        A name or value holds a sign that XML can't.
    """
    import networkx as nx

    graph = nx.MultiGraph(name=board.name)
    placed = "has_positions" in board.capabilities
    for part in board.parts:
        pads = [board.pad(index) for index in board.pad_range(part)]
        more: dict[str, str | float] = {}
        if part.not_fitted_because is not None:
            more["not_fitted_because"] = part.not_fitted_because
        if placed:
            more |= {"x_mm": part.x_nm / 1e6, "y_mm": part.y_nm / 1e6, "angle_deg": part.angle_deg}
        loose = [
            {"pad": number, "pin": pad.pin, **_pad_data(pad, placed=placed)}
            for number, pad in enumerate(pads)
            if pad.net is None
        ]
        if loose:
            more["open_pins"] = json.dumps(loose, ensure_ascii=False)
        if part.attributes:
            more["attributes"] = json.dumps(list(part.attributes), ensure_ascii=False)
        graph.add_node(
            f"part:{part.id}", kind="part", name=part.id, ref=part.ref, value=part.value,
            footprint=part.footprint, side=part.side, fitted=part.fitted, **more,
        )  # fmt: skip
    for net in board.nets:
        graph.add_node(
            f"net:{net.name}", kind="net", name=net.name, net_class=net.net_class,
            unclear=net.name in board.unclear_nets,
        )  # fmt: skip
    for part in board.parts:
        for number, index in enumerate(board.pad_range(part)):
            pad = board.pad(index)
            if pad.net is None:
                continue
            more = _pad_data(pad, placed=placed)
            graph.add_edge(
                f"part:{part.id}", f"net:{pad.net}", pin=pad.pin, ordinal=pad.ordinal, pad=number,
                **more,
            )  # fmt: skip
    graph.graph |= {
        "capabilities": " ".join(sorted(board.capabilities - {"has_copper"})),
        "partial": board.partial,
        "other_names": json.dumps(dict(board.aliases), ensure_ascii=False),
        "apart": json.dumps(apart_table(board), ensure_ascii=False),
        "not_known": "; ".join(o.text for o in board.not_known),
        "not_known_codes": json.dumps(
            [{"code": one.code, "params": dict(one.params)} for one in board.not_known]
        ),
    }
    try:
        return "\n".join(nx.generate_graphml(graph)) + "\n"
    except ValueError as error:
        raise WriterError(f"this board can't be written as XML: {error}") from None


def _pad_data(pad: Pad, *, placed: bool) -> dict[str, str | float]:
    """What is told of a pad beside its pin and net."""
    more: dict[str, str | float] = {"pin_name": pad.pin_name, "pin_type": pad.pin_type}
    if placed:
        # A node has a kind of its own: part or net.
        more |= {
            "pad_kind" if key == "kind" else key: value for key, value in pad_copper(pad).items()
        }
    return more
