# SPDX-License-Identifier: GPL-3.0-or-later
"""The and/or logic against a brute force that looks for proofs by hand, on random graphs.

The evaluator here shares nothing with the code: a node lives if a proof of it can be built that
does not lean on itself; every single loss is tried one by one. Cycles are common.
"""

from __future__ import annotations

import random

import pytest

from netgraph.plan.and_or import AndOrGraph


def lives(graph: AndOrGraph, node: int, lost: frozenset[int], path: frozenset[int]) -> bool:
    """Whether a proof tree for `node` exists in which no branch meets itself."""
    if node in path or graph.own[node] in lost:
        return False
    needs = [lives(graph, one, lost, path | {node}) for one in graph.inputs[node]]
    return all(needs) if graph.is_and[node] else any(needs)


def random_graph(seed: int) -> AndOrGraph:
    """Up to eleven nodes with up to three inputs each, any node may feed any other."""
    draw = random.Random(seed)
    size = draw.randint(2, 11)
    is_and = tuple(draw.random() < 0.55 for _ in range(size))
    inputs = tuple(
        tuple(draw.sample(range(size), k=min(size, draw.choice((0, 1, 1, 2, 2, 3)))))
        for _ in range(size)
    )
    bits = iter(range(size))
    own = tuple(next(bits) if draw.random() < 0.7 else -1 for _ in range(size))
    return AndOrGraph(is_and, inputs, own)


@pytest.mark.parametrize("block", range(10))
def test_single_points_and_survivors_equal_brute_force(block: int) -> None:
    """500 graphs in ten blocks: K(v) holds exactly the parts whose loss kills v."""
    alive_nodes = dead_nodes = 0
    for seed in range(50 * block, 50 * block + 50):
        graph = random_graph(seed)
        parts = [bit for bit in graph.own if bit >= 0]
        base = [lives(graph, node, frozenset(), frozenset()) for node in range(len(graph.own))]
        assert list(graph.alive()) == base, f"seed {seed}"
        alive_nodes += sum(base)
        for part in parts:
            after = [
                lives(graph, node, frozenset({part}), frozenset()) for node in range(len(graph.own))
            ]
            assert list(graph.alive(1 << part)) == after, f"seed {seed}, part {part}"
            for node, (before, now) in enumerate(zip(base, after, strict=True)):
                killed = bool(graph.kill_sets[node] >> part & 1)
                assert killed == (not now), f"seed {seed}, node {node}, part {part}"
                dead_nodes += before and not now
    # A block in which nothing lives or nothing is ever lost would prove nothing.
    assert alive_nodes > 25
    assert dead_nodes > 20


def test_several_losses_at_once_equal_brute_force() -> None:
    for seed in range(1000, 1100):
        graph = random_graph(seed)
        draw = random.Random(seed)
        parts = [bit for bit in graph.own if bit >= 0]
        lost = frozenset(draw.sample(parts, k=min(len(parts), 3)))
        mask = sum(1 << bit for bit in lost)
        wanted = [lives(graph, node, lost, frozenset()) for node in range(len(graph.own))]
        assert list(graph.alive(mask)) == wanted, f"seed {seed}"


def test_a_rail_that_only_feeds_itself_is_dead() -> None:
    """Two converters, each fed by the other's output (nodes 0 and 1 are rails)."""
    graph = AndOrGraph((False, False, True, True), ((3,), (2,), (0,), (1,)), (-1, -1, 0, 1))
    assert graph.alive() == (False, False, False, False)
    assert set(graph.kill_sets) == {0b11}
