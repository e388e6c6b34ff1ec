# SPDX-License-Identifier: GPL-3.0-or-later
"""Published graphs, laid out as boards: bridges, cut nodes and dominators must come out.

Source: tests/oracle/data/graph_*.csv (their first lines name where each graph is from). A graph
becomes a board with nets for its nodes and two-pad parts for its edges; the answers are found by
networkx on the board's own graphs, and by the power logic where they are dominators.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import networkx as nx
import pytest

from netgraph.model import Board, BoardBuilder
from netgraph.plan.and_or import AndOrGraph

DATA = Path(__file__).parent / "data"


def rows(name: str) -> list[dict[str, str]]:
    lines = (DATA / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


EXPECTED = rows("graph_expected.csv")


def edges_of(graph: str) -> list[tuple[str, str]]:
    found = [(row["u"], row["v"]) for row in rows("graph_edges.csv") if row["graph"] == graph]
    assert found, f"no edges for {graph}"
    return found


@cache
def as_board(graph: str) -> Board:
    """Nets for nodes, one two-pad part for each edge; the part's name holds its ends, sorted."""
    builder = BoardBuilder(graph)
    for u, v in edges_of(graph):
        part = builder.add_part("-".join(sorted((u, v))))
        builder.add_pad(part, "1", f"net {u}")
        builder.add_pad(part, "2", f"net {v}")
    return builder.freeze()


def asked(quantity: str) -> list[tuple[str, str, str, str]]:
    return [
        (row["graph"], row["key"], row["value"], row["status"])
        for row in EXPECTED
        if row["quantity"] == quantity
    ]


@pytest.mark.parametrize(("graph", "key", "value", "status"), asked("articulation_points"))
def test_cut_nets(graph: str, key: str, value: str, status: str) -> None:
    cut = {name for kind, name in nx.articulation_points(simple(graph)) if kind == "net"}
    assert cut == {f"net {one}" for one in value.split()}, f"{graph}: {status}"


@pytest.mark.parametrize(("graph", "key", "value", "status"), asked("bridges"))
def test_parts_that_alone_join_two_sides(graph: str, key: str, value: str, status: str) -> None:
    """On the graph of parts and nets a bridge is a cut node that is a part."""
    cut = {name for kind, name in nx.articulation_points(simple(graph)) if kind == "part"}
    wanted = {"-".join(sorted(one.split("-"))) for one in value.split()}
    assert cut == wanted, f"{graph}: {status}"
    bridges = nx.bridges(nx.Graph(as_board(graph).net_graph))
    names = {"-".join(sorted(one.removeprefix("net ") for one in pair)) for pair in bridges}
    assert names == wanted, f"{graph}: {status}"


@pytest.mark.parametrize(("graph", "key", "value", "status"), asked("biconnected_components"))
def test_blocks(graph: str, key: str, value: str, status: str) -> None:
    blocks = nx.biconnected_components(nx.Graph(as_board(graph).net_graph))
    assert len(list(blocks)) == int(value), f"{graph}: {status}"


@pytest.mark.parametrize(("graph", "key", "value", "status"), asked("node_connectivity"))
def test_node_connectivity(graph: str, key: str, value: str, status: str) -> None:
    found = nx.node_connectivity(nx.Graph(as_board(graph).net_graph))
    assert found == int(value), f"{graph}: {status}"


@pytest.mark.parametrize(("graph", "key", "value", "status"), asked("edge_connectivity"))
def test_edge_connectivity(graph: str, key: str, value: str, status: str) -> None:
    found = nx.edge_connectivity(nx.Graph(as_board(graph).net_graph))
    assert found == int(value), f"{graph}: {status}"


def simple(graph: str) -> nx.Graph:
    return nx.Graph(as_board(graph).graph)


@cache
def dominators(graph: str) -> dict[str, frozenset[str]]:
    """Single points of each node by the power logic, every node a part fed by any of its inputs.

    Without an "all of" the single points of a node are its dominators and the node itself.
    """
    edges = edges_of(graph)
    nodes = list(dict.fromkeys(one for edge in edges for one in edge))
    root = {"lt1979": "R", "domrel": "1", "board_tree": "VIN"}[graph]
    # Node n: 2n is "the part is there and fed", 2n + 1 "any input lives".
    is_and = [kind for _ in nodes for kind in (True, False)]
    inputs: list[tuple[int, ...]] = []
    for name in nodes:
        inputs.append(() if name == root else (2 * nodes.index(name) + 1,))
        inputs.append(tuple(2 * nodes.index(u) for u, v in edges if v == name))
    own = [bit for n in range(len(nodes)) for bit in (n, -1)]
    sets = AndOrGraph(tuple(is_and), tuple(inputs), tuple(own)).kill_sets
    return {
        name: frozenset(other for at, other in enumerate(nodes) if sets[2 * n] >> at & 1)
        for n, name in enumerate(nodes)
    }


@pytest.mark.parametrize(("graph", "key", "value", "status"), asked("idom"))
def test_single_points_without_and_are_the_published_dominators(
    graph: str, key: str, value: str, status: str
) -> None:
    """K(v) = {v} and K of v's immediate dominator."""
    found = dominators(graph)
    assert found[key] == found[value] | {key}, f"{graph}: idom of {key}: {status}"
