# SPDX-License-Identifier: GPL-3.0-or-later
"""The board as plain networkx graphs, so that every networkx algorithm works on it."""

from __future__ import annotations

from itertools import pairwise

import networkx as nx

from netgraph.model.board import Board


def part_net_graph(board: Board) -> nx.MultiGraph:
    """Parts and nets as nodes, pads as edges.

    Nodes are ``("part", id)`` and ``("net", name)``; part nodes carry `value`, `footprint`,
    `side`, `fitted`. An edge is a connected pad: its key is ``(pin, ordinal)``, its attribute
    `pad` the pad's index. Pads without a net make no edge; parts that are not fitted stay in the
    graph, marked.

    Returns
    -------
    networkx.MultiGraph
        ``len(board.parts) + len(board.nets)`` nodes.
    """
    graph = nx.MultiGraph(name=board.name)
    for part in board.parts:
        graph.add_node(
            ("part", part.id),
            value=part.value,
            footprint=part.footprint,
            side=part.side,
            fitted=part.fitted,
        )
    graph.add_nodes_from(("net", net.name) for net in board.nets)
    c = board.columns
    part_nodes = [("part", part.id) for part in board.parts]
    net_nodes = [("net", net.name) for net in board.nets]
    graph.add_edges_from(
        (part_nodes[part], net_nodes[net], (pin, ordinal), {"pad": index})
        for index, (part, net, pin, ordinal) in enumerate(
            zip(c.part.tolist(), c.net.tolist(), c.pin, c.ordinal.tolist(), strict=True)
        )
        if net >= 0
    )
    return graph


def net_graph(board: Board) -> nx.MultiGraph:
    """Nets as nodes, fitted parts that join exactly two nets as edges (key: the part's identity).

    Net ties are edges too (attribute `tie` True). Parts with more nets are no edge here: whether
    a chip conducts between two of its nets is no fact of the netlist.
    """
    graph = nx.MultiGraph(name=board.name)
    graph.add_nodes_from(net.name for net in board.nets)
    for part in board.parts:
        nets = board.nets_of_part[part.id]
        if part.fitted and len(nets) == 2:
            graph.add_edge(nets[0], nets[1], key=part.id, tie=False)
    for tie in board.net_ties:
        part = board.part(tie.part_id)
        c = board.columns
        joined = dict.fromkeys(
            board.nets[c.net[i]].name
            for i in board.pad_range(part)
            if c.pin[i] in tie.pins and c.net[i] >= 0
        )
        names = list(joined)
        for a, b in pairwise(names):
            graph.add_edge(a, b, key=tie.part_id, tie=True)
    return graph
