# SPDX-License-Identifier: GPL-3.0-or-later
"""Write the board's graph as GraphML: parts and nets as nodes, connected pads as edges."""

from __future__ import annotations

from netgraph.errors import WriterError
from netgraph.model.board import Board


def write_graphml(board: Board) -> str:
    """GraphML of ``board.graph``, with texts for node names (``part:U1``, ``net:VSYS``).

    Raises
    ------
    WriterError
        A name or value holds a sign that XML can't.
    """
    import networkx as nx

    graph = nx.MultiGraph(name=board.name)
    for (kind, name), attributes in board.graph.nodes(data=True):
        graph.add_node(f"{kind}:{name}", kind=kind, name=name, **attributes)
    pads = board.columns
    for a, b, key, attributes in board.graph.edges(keys=True, data=True):
        pin, ordinal = key
        index = attributes["pad"]
        more = {"pin_name": pads.pin_name[index], "pin_type": pads.pin_type[index]}
        if "has_positions" in board.capabilities:
            more |= {"x_mm": pads.x_nm[index] / 1e6, "y_mm": pads.y_nm[index] / 1e6}
        graph.add_edge(f"{a[0]}:{a[1]}", f"{b[0]}:{b[1]}", pin=pin, ordinal=ordinal, **more)
    graph.graph |= {
        "partial": board.partial,
        "not_known": "; ".join(o.text for o in board.not_known),
    }
    try:
        return "\n".join(nx.generate_graphml(graph)) + "\n"
    except ValueError as error:
        raise WriterError(f"this board can't be written as XML: {error}") from None
