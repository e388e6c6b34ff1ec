# SPDX-License-Identifier: GPL-3.0-or-later
"""The model and the injection ceiling: what it may do and what it may not."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from netgraph.circuit.bounds import volt_bounds
from netgraph.circuit.elements import board_circuit
from netgraph.circuit.instruments import apply, supply
from netgraph.circuit.junction import FloatArray
from netgraph.circuit.network import GROUND, Circuit
from netgraph.plan.conduction import powered_nets
from netgraph.plan.inject import injection_plan
from netgraph.plan.model_check import with_model
from netgraph.plan.wiring import Wiring
from tests.property.plan_strategies import Drawn, boards


def fed_nets(drawn: Drawn) -> st.SearchStrategy[str]:
    return st.sampled_from([net.name for net in drawn[0].nets])


@given(boards(), st.data())
def test_the_model_only_adds_nets_that_count(drawn: Drawn, data: st.DataObject) -> None:
    board, roles, tree = drawn
    net = data.draw(fed_nets(drawn))
    wiring = Wiring(board, roles, tree)
    walked = powered_nets(wiring, net)
    both = with_model(wiring, net, walked)
    assert walked.keys() <= both.keys()
    assert all(both[name].hard or not one.hard for name, one in walked.items())


@given(boards(), st.data())
def test_the_ceiling_is_no_higher_than_any_nominal_that_the_model_reaches(
    drawn: Drawn, data: st.DataObject
) -> None:
    board, roles, tree = drawn
    net = data.draw(fed_nets(drawn))
    plan = injection_plan(board, roles, tree, net)
    if plan.max_volts is None:
        return
    wiring = Wiring(board, roles, tree)
    for name, bound in volt_bounds(board, roles, tree, net, plan.max_volts).items():
        nominal, _ = wiring.nominal(name)
        if bound.way == "hard" and wiring.is_power(name) and nominal is not None:
            assert plan.max_volts <= nominal


@settings(max_examples=60)
@given(boards(), st.data(), st.floats(0.1, 5.0))
def test_no_net_is_solved_above_its_bound(drawn: Drawn, data: st.DataObject, volts: float) -> None:
    """The solved board, with all its drops and loads, stays below what the bound allows."""
    board, roles, tree = drawn
    circuit = board_circuit(board, roles, tree)
    names = [net.name for net in board.nets if circuit.node(net.name) != GROUND]
    net = data.draw(st.sampled_from(names))
    bounds = volt_bounds(board, roles, tree, net, volts)
    found = apply(circuit, [supply(circuit.node(net), volts, 10.0)]).point
    for name in names:
        solved = found.at(circuit.node(name))
        if np.isnan(solved) or name == net:
            continue
        if name not in bounds:
            # Over insulation and leaks alone: a net without a load may float up through them, but
            # no more than some dozen of them (1 Mohm at least) feed it.
            assert solved <= volts + 1e-6
            assert inflow(circuit, found.volts, circuit.node(name)) <= 50 * volts / 1e6
        else:
            assert solved <= bounds[name].upper_volts + 1e-6


def inflow(circuit: Circuit, volts: FloatArray, node: int) -> float:
    """What flows into a node over branches."""
    padded = np.append(volts, 0.0)
    amps = circuit.siemens * (padded[circuit.a] - padded[circuit.b])
    into = np.where(circuit.b == node, amps, 0.0) - np.where(circuit.a == node, amps, 0.0)
    return float(np.nan_to_num(into).clip(min=0.0).sum())
