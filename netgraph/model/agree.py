# SPDX-License-Identifier: GPL-3.0-or-later
"""Which pads stand against each other in two netlists: the fewest without which the rest agree.

Nets of two boards agree when each pairs with at most one of the other. Every pad lies on one net
here and one there, so the fewest pads to set aside are those off a pairing of nets that keeps most
pads. It is found by cheapest augmenting paths (Edmonds and Karp 1972); whether another pairing
keeps as many is told by the cycles of cost zero that are left.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

Pair = tuple[str | None, str | None]
"""A net of the one board and a net of the other; None: the pad is joined to nothing there."""
_Node = tuple[str, str]
_Edges = dict[tuple[_Node, _Node], int]

MAX_STEPS = 2_000_000
"""Beyond so many steps no least set is looked for; all pads that may be wrong are named."""
_ROUNDS = 20
_END: _Node = ("", "")


@dataclass(frozen=True)
class Agreement:
    """What is left when the pads that stand against the others are set aside.

    `paired` are nets that are one and the same for sure. Pads of `wrong` are in every least set,
    pads of `open` in some of them only: it can't be told which of these are the wrong ones.
    """

    paired: tuple[tuple[str, str], ...]
    wrong: tuple[Pair, ...]
    open: tuple[Pair, ...]


def agreement(pads: Mapping[Pair, Sequence[int]]) -> Agreement:
    """The least set of pads that parts two netlists.

    Parameters
    ----------
    pads
        Net here and net there -> the pads that lie so; pads that join nothing on either board
        are left out.
    """
    edges: _Edges = {}
    of_pair: dict[Pair, tuple[_Node, _Node]] = {}
    for pair, members in pads.items():
        one, two = pair
        left = ("a", one) if one is not None else ("alone", str(two))
        right = ("b", two) if two is not None else ("alone there", str(one))
        of_pair[pair] = left, right
        # A pad that joins nothing agrees with itself alone: of several only one can be kept.
        edges[left, right] = len(members) if None not in pair else 1
    kept = _clear(edges)
    free: set[tuple[_Node, _Node]] = set()
    met = {node for edge in kept for node in edge}
    rest = {edge: weight for edge, weight in edges.items() if not met & set(edge)}
    for family in _families(rest):
        found = _best({edge: rest[edge] for edge in family})
        if found is None:
            free |= family
        else:
            kept |= found[0]
            free |= found[1]
    wrong, open_ = [], []
    for pair, edge in of_pair.items():
        alone = None in pair and len(pads[pair]) > 1
        if edge in free or (edge in kept and alone):
            open_.append(pair)
        elif edge not in kept:
            wrong.append(pair)
    paired = [
        (pair[0], pair[1])
        for pair, edge in of_pair.items()
        if edge in kept and edge not in free and pair[0] is not None and pair[1] is not None
    ]
    return Agreement(tuple(paired), tuple(wrong), tuple(open_))


def _clear(edges: _Edges) -> set[tuple[_Node, _Node]]:
    """Edges that are in every heaviest matching: heavier than any two that could take their ends.

    Most boards differ in a few pads, and all their nets pair up here already.
    """
    found: set[tuple[_Node, _Node]] = set()
    left = dict(edges)
    for _ in range(_ROUNDS):
        heaviest: dict[_Node, list[int]] = {}
        for edge, weight in left.items():
            for node in edge:
                two = heaviest.setdefault(node, [0, 0])
                two[:] = sorted((*two, weight))[1:]
        clear = {
            (a, b)
            for (a, b), weight in left.items()
            if weight == heaviest[a][1] == heaviest[b][1]
            and weight > heaviest[a][0] + heaviest[b][0]
        }
        if not clear:
            break
        found |= clear
        met = {node for edge in clear for node in edge}
        left = {edge: w for edge, w in left.items() if edge[0] not in met and edge[1] not in met}
    return found


def _families(edges: _Edges) -> list[set[tuple[_Node, _Node]]]:
    """Edges that hang together."""
    import networkx as nx

    graph = nx.Graph(edges.keys())
    number = {node: at for at, nodes in enumerate(nx.connected_components(graph)) for node in nodes}
    found: dict[int, set[tuple[_Node, _Node]]] = {}
    for edge in edges:
        found.setdefault(number[edge[0]], set()).add(edge)
    return list(found.values())


def _best(
    edges: _Edges,
) -> tuple[set[tuple[_Node, _Node]], set[tuple[_Node, _Node]]] | None:
    """Edges of a heaviest matching, and those that another heaviest one holds differently.

    None when it takes more than ``MAX_STEPS``.
    """
    near: dict[_Node, list[_Node]] = {}
    for left, right in edges:
        near.setdefault(left, []).append(right)
    mate: dict[_Node, _Node] = {}
    steps = 0
    while True:
        path, taken = _cheapest_path(edges, near, mate)
        steps += taken
        if steps > MAX_STEPS:
            return None
        if not path:
            break
        for left, right in path:
            mate[left], mate[right] = right, left
    kept = {(left, mate[left]) for left in near if left in mate}
    free = _on_free_cycles(_left_over(edges, kept, mate))
    return kept, {edge for edge in edges if edge in free or edge[::-1] in free}


def _cheapest_path(
    edges: _Edges, near: dict[_Node, list[_Node]], mate: dict[_Node, _Node]
) -> tuple[list[tuple[_Node, _Node]], int]:
    """The new edges of the path that gains most, and the steps it took; empty: nothing gains."""
    cost: dict[_Node, int] = {left: 0 for left in near if left not in mate}
    before: dict[_Node, _Node] = {}
    todo = deque(cost)
    waiting = set(cost)
    steps = 0
    while todo:
        left = todo.popleft()
        waiting.discard(left)
        for right in near[left]:
            steps += 1
            if mate.get(left) == right:
                continue
            new = cost[left] - edges[left, right]
            if right in cost and cost[right] <= new:
                continue
            cost[right], before[right] = new, left
            back = mate.get(right)
            if back is not None:
                cost[back] = new + edges[back, right]
                if back not in waiting:
                    waiting.add(back)
                    todo.append(back)
        if steps > MAX_STEPS:
            return [], steps
    ends = [right for right in before if right not in mate]
    best = min(ends, key=lambda right: cost[right], default=None)
    if best is None or cost[best] >= 0:
        return [], steps
    path, right = [], best
    while True:
        left = before[right]
        path.append((left, right))
        if left not in mate:
            return path[::-1], steps
        right = mate[left]


def _left_over(
    edges: _Edges, kept: set[tuple[_Node, _Node]], mate: dict[_Node, _Node]
) -> dict[_Node, dict[_Node, int]]:
    """The changes that are still possible: arcs with what they cost."""
    arcs: dict[_Node, dict[_Node, int]] = {_END: {}}
    for (left, right), weight in edges.items():
        for node, is_left in ((left, True), (right, False)):
            arcs.setdefault(node, {})
            start, stop = (_END, node) if is_left is (node not in mate) else (node, _END)
            arcs[start][stop] = 0
        if (left, right) in kept:
            arcs[right][left] = weight
        else:
            arcs[left][right] = -weight
    return arcs


def _on_free_cycles(arcs: dict[_Node, dict[_Node, int]]) -> set[tuple[_Node, _Node]]:
    """The arcs that lie on a cycle of cost zero."""
    import networkx as nx

    cost = dict.fromkeys(arcs, 0)
    todo = deque(arcs)
    waiting = set(arcs)
    while todo:
        node = todo.popleft()
        waiting.discard(node)
        for other, price in arcs[node].items():
            if cost[node] + price < cost[other]:
                cost[other] = cost[node] + price
                if other not in waiting:
                    waiting.add(other)
                    todo.append(other)
    # With these costs no arc is dearer than its ends differ: those that are equal make the cycles.
    graph = nx.DiGraph(
        (node, other)
        for node, around in arcs.items()
        for other, price in around.items()
        if cost[node] + price == cost[other]
    )
    groups = nx.strongly_connected_components(graph)
    group = {node: number for number, nodes in enumerate(groups) for node in nodes}
    return {(one, two) for one, two in graph.edges if group[one] == group[two]}
