# SPDX-License-Identifier: GPL-3.0-or-later
"""Whatever the board: power stays below every nominal that counts, no kept part is a lift step.

What comes alive is found here anew by networkx, over edges written down from the contract's one
rule (architecture paper of the project), as in ``test_plan_inject``.
"""

from __future__ import annotations

import networkx as nx
from hypothesis import event, given
from hypothesis import strategies as st

from netgraph.advice.ordered_plan import ordered_plan
from netgraph.advice.plan_types import STAGES
from netgraph.advice.power_gate import power_gate
from netgraph.diagnosis.bench_state import BenchState, replay
from netgraph.diagnosis.cards import Card, Cards
from netgraph.plan.keep_list import find_keeps
from tests.property.plan_strategies import Drawn, boards
from tests.property.test_plan_inject import conducting


@st.composite
def benches(draw: st.DrawFn) -> tuple[Drawn, BenchState]:
    """A board and some cards on it: readings, lifts, water, cell."""
    drawn = draw(boards())
    board, roles, _ = drawn
    nets = st.sampled_from([net.name for net in board.nets])
    parts = st.sampled_from([part.id for part in board.parts])
    value = st.sampled_from((None, 0.05, 3.0, 40.0, 500.0, 2e6))
    one = st.one_of(
        st.builds(lambda at, v: Card("ohms", {"at": at, "value": v}), nets, value),
        st.builds(
            lambda at, to, v: Card("ohms", {"at": at, "to": to, "value": v}), nets, nets, value
        ),
        st.builds(lambda ref: Card("lift", {"ref": ref}), parts),
        st.builds(lambda ref: Card("jumper", {"ref": ref}), parts),
        st.builds(lambda ref: Card("unplug", {"ref": ref}), parts),
        st.builds(lambda yes: Card("cell", {"connected": yes}), st.booleans()),
        st.sampled_from(
            [
                Card("clean", {}),
                Card("dry", {"hours": 4.0}),
                Card("photo", {}),
                Card("shield", {"off": True}),
                Card("not-seen", {"at": "board"}),
            ]
        ),
    )
    ready = draw(st.booleans())
    some = draw(st.lists(one, max_size=2 if ready else 8))
    cards = Cards((*(_ready(drawn) if ready else ()), *some))
    return drawn, replay(board, cards, roles.grounds())


def _ready(drawn: Drawn) -> tuple[Card, ...]:
    """The triage done and every net read, as on a sound board."""
    board, roles, _ = drawn
    return (
        Card("cell", {"connected": False}),
        Card("photo", {}),
        Card("shield", {"off": True}),
        *(Card("unplug", {"ref": part.id}) for part in board.parts),
        Card("clean", {}),
        Card("dry", {"hours": 4.0}),
        Card("not-seen", {"at": "board"}),
        *(
            Card("ohms", {"at": net.name, "value": 1e5})
            for net in board.nets
            if roles.kind(net.name) != "ground"
        ),
    )


@given(benches())
def test_power_never_passes_the_nominal_of_the_entry_or_of_what_it_feeds(
    found: tuple[Drawn, BenchState],
) -> None:
    drawn, bench = found
    board, roles, tree = drawn
    gate = power_gate(board, roles, tree, bench=bench)
    if gate.feed is None or gate.feed.volts is None:
        event("no volts")
        return
    event("volts given")
    now = board.without(bench.lifted)
    fitted = type(roles)(roles.parts, roles.nets, roles.fitted - bench.lifted)
    reached = nx.descendants(conducting((now, fitted, tree), []), gate.feed.net)
    rails = {rail.net: rail for rail in tree}
    for net in {gate.feed.net, *reached} & set(rails):
        nominal = rails[net].nominal_volts
        assert nominal is not None
        assert gate.feed.volts <= nominal


@given(benches())
def test_yes_is_said_only_when_nothing_is_open(found: tuple[Drawn, BenchState]) -> None:
    (board, roles, tree), bench = found
    gate = power_gate(board, roles, tree, bench=bench)
    event(gate.verdict)
    if gate.verdict == "yes":
        assert gate.feed is not None
        assert gate.feed.volts is not None
        assert bench.cell_connected is False
        assert not bench.wet
        assert all(one.passed for one in gate.clear_first)
    assert gate.because
    for check in gate.clear_first:
        if check.kind == "rail" and check.ohms is None:
            assert check.state in ("open", "waived")


@given(benches(), st.data())
def test_the_plan_keeps_its_order_and_lifts_nothing_that_is_kept(
    found: tuple[Drawn, BenchState], data: st.DataObject
) -> None:
    (board, roles, tree), bench = found
    live = [net.name for net in board.nets if roles.kind(net.name) != "ground"]
    net = data.draw(st.sampled_from(live))
    weights = data.draw(
        st.dictionaries(st.sampled_from([part.id for part in board.parts]), st.floats(0, 100))
    )
    plan = ordered_plan(board, roles, tree, net, bench=bench, weights=weights)
    order = [STAGES.index(one.stage) for one in plan.steps]
    assert order == sorted(order)
    kept = find_keeps(board.without(bench.lifted), roles, tree).by_part()
    steps = [one for one in plan.steps if one.action in ("lift", "lift-and-jumper")]
    event(f"{min(len(steps), 3)} lifts")
    for step in steps:
        assert step.ref is not None
        item = kept.get(step.ref)
        assert item is None or (item.kind == "replace" and step.stage == "replaceable")
        assert step.ref in roles.fitted - bench.lifted
        assert step.heat is not None
        assert step.heat.method != "none" or step.stage == "replaceable"
    assert len({one.ref for one in steps}) == len(steps)
    opened = [n for n, one in enumerate(plan.steps) if one.action == "open-to-test"]
    lifted = [n for n, one in enumerate(plan.steps) if one.action == "lift"]
    assert not opened or not lifted or max(opened) < min(lifted)
