# SPDX-License-Identifier: GPL-3.0-or-later
"""Least-cost cuts and half splits against published results, networkx and plain trial.

Sources: the max-flow example of Cormen et al., Introduction to Algorithms (data/max_flow.csv,
values published); the mean number of tests of a half split, derived
exactly (data/half_split.csv, its own header says how); minimum node cuts by networkx; everything
else by trying all sets.
"""

from __future__ import annotations

import csv
import random
from fractions import Fraction
from itertools import chain, combinations
from pathlib import Path

import networkx as nx
import pytest

from netgraph.plan.isolation import least_cut
from netgraph.plan.split import find_splits
from netgraph.plan.wiring import Wiring
from tests.unit.plan.sketch import Sketch

DATA = Path(__file__).parent / "data"


def rows(name: str) -> list[dict[str, str]]:
    lines = (DATA / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize("name", ["clrs_maxflow", "clrs_maxflow_2ed"])
def test_the_textbook_example_read_as_a_cut_of_parts(name: str) -> None:
    """Each pipe of the example is a part that can be taken off at the cost of its capacity.

    Water runs one way, a fault current both ways: a part between the nets of an edge stands for
    it, so that the cut may not be cheaper than the published one, and the library that finds it
    gives the published value on the example itself.
    """
    mine = [row for row in rows("max_flow.csv") if row["graph"] == name]
    edges = [row for row in mine if row["kind"] == "directed"]
    (flow,) = (row["weight"] for row in mine if row["kind"] == "max_flow")
    one_way = nx.DiGraph()
    for row in edges:
        one_way.add_edge(row["u"], row["v"], capacity=float(row["weight"]))
    assert nx.minimum_cut_value(one_way, "s", "t") == float(flow)
    joins = {f"{row['u']}>{row['v']}": (row["u"], row["v"]) for row in edges}
    costs = {f"{row['u']}>{row['v']}": float(row["weight"]) for row in edges}
    found = least_cut(joins, costs, "s", ["t"])
    assert found is not None
    both_ways = nx.Graph()
    for row in edges:
        pair = (row["u"], row["v"])
        weight = (
            float(row["weight"]) + both_ways.get_edge_data(*pair, {"capacity": 0.0})["capacity"]
        )
        both_ways.add_edge(*pair, capacity=weight)
    assert found[1] == nx.minimum_cut_value(both_ways, "s", "t") >= float(flow)


def separated(joins: dict[str, tuple[str, ...]], off: set[str], kept: list[str]) -> bool:
    graph = nx.Graph()
    graph.add_nodes_from(["S", *kept])
    for part, nets in joins.items():
        if part not in off:
            graph.add_edges_from((part, net) for net in nets)
    return not any(nx.has_path(graph, "S", net) for net in kept)


def random_paths(seed: int) -> tuple[dict[str, tuple[str, ...]], dict[str, float], list[str]]:
    draw = random.Random(seed)
    nets = ["S", *(f"N{n}" for n in range(draw.randint(1, 4))), "K0", "K1"]
    joins = {
        f"P{n}": tuple(draw.sample(nets, k=draw.choice((2, 2, 2, 3))))
        for n in range(draw.randint(2, 9))
    }
    costs = {part: draw.choice((1.0, 1.5, 2.0, 3.0, 5.0)) for part in joins if draw.random() < 0.85}
    return joins, costs, ["K0", "K1"]


@pytest.mark.parametrize("block", range(5))
def test_a_cut_is_the_cheapest_of_all_sets_that_separate(block: int) -> None:
    """Every set of parts that may be taken off is tried."""
    cuts = refusals = 0
    for seed in range(40 * block, 40 * block + 40):
        joins, costs, kept = random_paths(seed)
        tried = chain.from_iterable(
            combinations(sorted(costs), size) for size in range(len(costs) + 1)
        )
        prices = [
            round(sum(costs[part] for part in off), 2)
            for off in tried
            if separated(joins, set(off), kept)
        ]
        found = least_cut(joins, costs, "S", kept)
        if not prices:
            assert found is None, seed
            refusals += 1
            continue
        assert found is not None, seed
        assert separated(joins, set(found[0]), kept), seed
        assert found[1] == min(prices), seed
        cuts += bool(found[0])
    assert cuts > 5
    assert refusals > 1


def test_with_equal_costs_a_cut_is_a_minimum_node_cut_of_networkx() -> None:
    for seed in range(200):
        joins, _, kept = random_paths(seed)
        found = least_cut(joins, dict.fromkeys(joins, 1.0), "S", kept[:1])
        graph = nx.Graph([("S", "S")])
        graph.remove_edge("S", "S")
        graph.add_node("K0")
        # Nets are no cut: each is as many nodes as there are parts, all joined to the same parts.
        for part, nets in joins.items():
            for net in nets:
                if net in ("S", "K0"):
                    graph.add_edge(part, net)
                else:
                    graph.add_edges_from((part, (net, n)) for n in range(len(joins) + 1))
        expected = (
            len(nx.minimum_node_cut(graph, "S", "K0")) if nx.has_path(graph, "S", "K0") else 0
        )
        assert found is not None
        assert len(found[0]) == expected, seed


SHORT_CHAINS = [one for one in rows("half_split.csv") if int(one["n_suspects_in_chain"]) <= 32]
"""The longer ones of the table follow the same law and take minutes."""


@pytest.mark.parametrize("row", SHORT_CHAINS, ids=lambda row: row["n_suspects_in_chain"])
def test_halving_a_chain_takes_the_mean_number_of_tests_of_the_table(row: dict[str, str]) -> None:
    """n stages in a row, ferrites between them, one fault; each time the best split is opened."""
    count = int(row["n_suspects_in_chain"])
    sketch = Sketch().rail("V0", "entry", 5.0)
    for n in range(count):
        sketch.part(f"C{n}", "capacitor", f"V{n}", "GND", farad=1e-6)
        if n:
            sketch.rail(f"V{n}", "filtered", 5.0, (f"L{n}", f"V{n - 1}"))
            sketch.part(f"L{n}", "ferrite", f"V{n - 1}", f"V{n}")
    wiring = Wiring(*sketch.done())

    def tests_for(fault: int) -> int:
        left = set(range(count))
        done = 0
        while len(left) > 1:
            best = find_splits(wiring, "V0", {f"C{n}": 1.0 for n in left})[0]
            behind = {n for n in left if f"V{n}" in best.nets_behind}
            left &= behind if fault in behind else left - behind
            done += 1
        return done

    mean = Fraction(sum(tests_for(fault) for fault in range(count)), count)
    assert mean == Fraction(row["half_split_mean_exact"])
