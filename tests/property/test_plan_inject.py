# SPDX-License-Identifier: GPL-3.0-or-later
"""Whatever the board: no advised voltage lies above the nominal of anything that comes alive.

What comes alive is found here by networkx over edges written down anew from the contract's one
rule ("Off converters conduct backwards ...", architecture paper of the project).
"""

from __future__ import annotations

from itertools import permutations

import networkx as nx
from hypothesis import event, given
from hypothesis import strategies as st

from netgraph.plan.inject import injection_plan
from netgraph.plan.inject_types import Injection
from tests.property.plan_strategies import Drawn, boards, pairs_of_nets

WIRES = {"link", "ferrite", "inductor", "fuse", "sense-resistor", "diode", "led", "transistor"}


def conducting(drawn: Drawn, bridges: list[tuple[str, str]]) -> nx.DiGraph:
    """Ways that must count by the contract; no more than those."""
    board, roles, tree = drawn
    graph = nx.DiGraph()
    graph.add_nodes_from(net.name for net in board.nets)
    for part_id in roles.fitted:
        role = roles.parts[part_id]
        nets = board.nets_of_part[part_id]
        small = role.role == "resistor" and role.ohm is not None and role.ohm <= 150
        if role.role in WIRES or small:
            graph.add_edges_from(permutations(nets, 2))
    for rail in tree:
        for feeder in rail.feeders:
            if feeder.part_id not in roles.fitted or feeder.from_net is None:
                continue
            if feeder.kind in ("buck", "linear", "switched"):
                graph.add_edge(rail.net, feeder.from_net)
            elif feeder.kind == "boost":
                graph.add_edge(feeder.from_net, rail.net)
    for a, b in bridges:
        graph.add_edges_from([(a, b), (b, a)])
    graph.remove_node("GND")
    return graph


@st.composite
def questions(draw: st.DrawFn) -> tuple[Drawn, str, list[tuple[str, str]], Injection]:
    drawn = draw(boards())
    board, roles, tree = drawn
    net = draw(st.sampled_from([one.name for one in board.nets]))
    bridges = draw(st.lists(pairs_of_nets(board), max_size=2))
    return drawn, net, bridges, injection_plan(board, roles, tree, net, bridges)


Question = tuple[Drawn, str, list[tuple[str, str]], Injection]


@given(questions())
def test_no_volts_above_the_nominal_of_anything_powered(question: Question) -> None:
    drawn, net, bridges, plan = question
    _, roles, _ = drawn
    if plan.verdict == "no":
        assert plan.first_volts == plan.stop_volts == plan.max_amps == 0.0
        return
    graph = conducting(drawn, bridges)
    counted = [one for one in {net} | nx.descendants(graph, net) if one.startswith("V")]
    nominals = [roles.nets[one].nominal_volts for one in counted]
    event(f"verdict {plan.verdict}, rails {min(len(counted), 3)}")
    known = [volts for volts in nominals if volts is not None]
    if None in nominals:
        assert plan.max_volts is None
        assert plan.verdict == "unsure"
    for volts in known:
        assert plan.first_volts <= volts
        assert plan.stop_volts <= volts
        assert plan.max_volts is None or plan.max_volts <= volts
    assert {one.net for one in plan.also_powered} >= set(counted) - {net}


@given(questions())
def test_limits_never_exceed_bench_practice(question: Question) -> None:
    (_, roles, _), _, _, plan = question
    assert 0 <= plan.first_volts <= min(0.3, plan.stop_volts) <= 0.3
    assert plan.stop_volts <= 1.0
    assert plan.max_amps <= 0.5
    assert plan.first_volts * plan.max_amps <= plan.max_watts + 1e-12
    assert plan.max_watts <= 1.0
    assert plan.max_seconds <= 5.0
    if plan.max_volts is None:
        assert plan.verdict != "ok"
        assert plan.stop_volts <= 0.3
    else:
        assert plan.stop_volts <= plan.max_volts
    assert all(one.ref in roles.fitted for one in plan.points)


@given(questions())
def test_irreplaceable_chips_on_the_fed_net_cap_the_power(question: Question) -> None:
    (board, roles, _), net, _, plan = question
    chips = {"processor", "memory", "storage", "eeprom", "boot-flash"}
    here = {roles.parts[one].role for one in board.parts_on_net[net] if one in roles.fitted}
    if here & chips:
        assert plan.max_watts <= 0.25
        assert plan.max_seconds <= 2.0


@given(questions())
def test_one_more_bridge_never_raises_the_ceiling(question: Question) -> None:
    (board, roles, tree), net, bridges, plan = question
    for other in [one.name for one in board.nets][:4]:
        more = injection_plan(board, roles, tree, net, [*bridges, (net, other)])
        assert more.max_volts is None or (
            plan.max_volts is not None and more.max_volts <= plan.max_volts
        )
