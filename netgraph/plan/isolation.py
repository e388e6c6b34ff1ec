# SPDX-License-Identifier: GPL-3.0-or-later
"""Which parts to take off so that a faulty branch no longer drags down what the goal needs.

A least-cost node cut over the parts of the power path (max-flow min-cut by networkx; each part is
a node with its cost as capacity, nets cost nothing). What the goal can't live without is never
part of a cut.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from netgraph.plan.lift_types import LiftState
from netgraph.plan.power_paths import PowerPaths, reach
from netgraph.plan.wiring import name_list
from netgraph.reasons import Reason, reason

MOST_CUTS: Final = 5
_SCALE: Final = 100
"""Costs as whole numbers: flows of floats may never balance."""


@dataclass(frozen=True, slots=True)
class Cut:
    """One way to separate the branch: parts off, what it costs, and how to see that it worked.

    `back_feeds` are chips with supplies on both sides, `stays` needed parts on the faulty side.
    """

    parts: tuple[str, ...]
    cost: float
    why: Reason
    verify: tuple[Reason, ...]
    back_feeds: tuple[Reason, ...]
    nets_off: tuple[str, ...]

    def as_json(self) -> dict[str, object]:
        """Parts, cost, reasons, and the nets that go with the branch."""
        return {
            "parts": list(self.parts),
            "cost": self.cost,
            "why": self.why.as_json(),
            "verify": [one.as_json() for one in self.verify],
            "back_feeds": [one.as_json() for one in self.back_feeds],
            "nets_off": list(self.nets_off),
        }


@dataclass(frozen=True, slots=True)
class Isolation:
    """Ways to separate a branch from the keep list, cheapest first; `why` when there is none."""

    net: str
    goal: str
    kept_rails: tuple[str, ...]
    cuts: tuple[Cut, ...]
    why: Reason | None

    def as_json(self) -> dict[str, object]:
        """All fields as plain data."""
        return {
            "net": self.net,
            "goal": self.goal,
            "kept_rails": list(self.kept_rails),
            "cuts": [one.as_json() for one in self.cuts],
            "why": None if self.why is None else self.why.as_json(),
        }


def isolate(state: LiftState, net: str) -> Isolation:
    """Cuts between `net` and the rails the goal needs, the cheapest first.

    Raises
    ------
    UnknownNameError
        The board has no such net.
    """
    wiring = state.wiring
    wiring.board.net(net)
    goal = state.keeps.goal
    kept = tuple(sorted(state.needed - {net}))
    if state.keeps.unclear is not None:
        return Isolation(net, goal, kept, (), state.keeps.unclear)
    if net in state.needed:
        return Isolation(net, goal, kept, (), reason("cut-impossible", net=net))
    paths = PowerPaths(wiring)
    # A boost converter that runs without its diode destroys itself and may short its input.
    diodes = {
        one
        for _, feeder in wiring.feeders()
        if feeder.kind == "boost"
        for one in feeder.through
        if wiring.role(one) == "diode"
    }
    fixed = frozenset(state.kept) | state.single | diodes
    joins = _component(paths, net)
    reached = [one for one in kept if any(one in nets for nets in joins.values())]
    if not reached:
        return Isolation(net, goal, kept, (), reason("cut-none-needed", net=net))
    guarded = frozenset(one for one, item in state.kept.items() if item.kind == "irreplaceable")
    costs = {part: paths.cost(part, guarded) for part in joins if part not in fixed}
    found = list(_cuts(joins, costs, net, reached))
    if not found:
        why = reason("cut-copper", net=net, kept=name_list(reached))
        return Isolation(net, goal, kept, (), why)
    cuts = (_told(state, paths, net, reached, parts, cost) for parts, cost in found)
    return Isolation(net, goal, kept, tuple(cuts), None)


def _component(paths: PowerPaths, net: str) -> dict[str, tuple[str, ...]]:
    """Parts of the power path that the net hangs together with."""
    nets = reach(paths.joins, net)
    return {part: ends for part, ends in paths.joins.items() if nets.intersection(ends)}


def _cuts(
    joins: dict[str, tuple[str, ...]], costs: dict[str, float], net: str, kept: list[str]
) -> Iterator[tuple[tuple[str, ...], float]]:
    """The best cut, then the best ones that do without one part of it each; cheapest first."""
    best = least_cut(joins, costs, net, kept)
    if best is None:
        return
    found = {best[0]: best[1]}
    for part in best[0]:
        other = least_cut(joins, {k: v for k, v in costs.items() if k != part}, net, kept)
        if other is not None:
            found[other[0]] = other[1]
    yield from sorted(found.items(), key=lambda one: (one[1], len(one[0]), one[0]))[:MOST_CUTS]


def least_cut(
    joins: dict[str, tuple[str, ...]], costs: dict[str, float], source: str, kept: list[str]
) -> tuple[tuple[str, ...], float] | None:
    """The cheapest set of parts that parts `source` from all of `kept`.

    Parameters
    ----------
    joins
        Part -> nets it joins.
    costs
        Cost of each part that may be taken off; a part without one stays.

    Returns
    -------
    tuple or None
        The parts, sorted, and their cost; None when parts that have to stay join the two.
    """
    import networkx as nx

    graph = nx.DiGraph()
    for part, nets in joins.items():
        capacity = {"capacity": round(costs[part] * _SCALE)} if part in costs else {}
        graph.add_edge(("in", part), ("out", part), **capacity)
        for net in nets:
            graph.add_edge(("net", net), ("in", part))
            graph.add_edge(("out", part), ("net", net))
    for net in kept:
        graph.add_edge(("net", net), ("kept", ""))
    start, end = ("net", source), ("kept", "")
    if start not in graph or end not in graph or not nx.has_path(graph, start, end):
        return (), 0.0
    try:
        _, (near, _) = nx.minimum_cut(graph, start, end)
    except nx.NetworkXUnbounded:
        return None
    parts = sorted(part for part in costs if ("in", part) in near and ("out", part) not in near)
    return tuple(parts), round(sum(costs[part] for part in parts), 2)


def _told(
    state: LiftState,
    paths: PowerPaths,
    net: str,
    kept: list[str],
    parts: tuple[str, ...],
    cost: float,
) -> Cut:
    """A cut in words: what it takes away, what still joins the sides, and the reading to take."""
    wiring = state.wiring
    off = reach(paths.joins, net, parts)
    verify = []
    for part in parts:
        near = [one for one in paths.joins[part] if one in off]
        far = [one for one in paths.joins[part] if one not in off]
        if near and far:
            verify.append(reason("cut-verify", near=name_list(near), far=name_list(far)))
    across = sorted(
        one
        for one in {part for each in off for part in wiring.parts(each)} - set(parts)
        if wiring.is_chip(one) and set(wiring.supplies(one)) - off
    )
    feeds = [reason("cut-back-feed", part=one) for one in across]
    feeds += [reason("cut-kept-on-side", part=one) for one in across if one in state.kept]
    why = reason("cut-by-parts", parts=name_list(parts), cost=cost, net=net, kept=name_list(kept))
    return Cut(parts, cost, why, tuple(verify), tuple(feeds), tuple(sorted(off)))
