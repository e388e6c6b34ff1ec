# SPDX-License-Identifier: GPL-3.0-or-later
"""Roles and rails on random boards, and on real ones told in another order or under other names."""

from __future__ import annotations

import random
import re

import pytest
from hypothesis import given

from netgraph.formats import read_board
from netgraph.model import Board
from netgraph.rails import RailTree, find_rails
from netgraph.roles import NET_KINDS, ROLES, Roles, find_roles
from tests.oracle import keys
from tests.oracle.retold import retold
from tests.property.board_strategies import boards


def answers(board: Board) -> tuple[Roles, RailTree]:
    roles = find_roles(board)
    return roles, find_rails(board, roles)


@given(boards())
def test_any_board_gets_an_answer_for_every_part_and_net(board):
    roles, tree = answers(board)
    assert set(roles.parts) == {part.id for part in board.parts}
    assert set(roles.nets) == {net.name for net in board.nets}
    for answer in (*roles.parts.values(), *roles.nets.values()):
        assert 0 <= answer.confidence <= 1
        assert all(why.text for why in answer.reasons)
    assert {one.role for one in roles.parts.values()} <= set(ROLES)
    assert {one.kind for one in roles.nets.values()} <= set(NET_KINDS)
    assert not set(tree.by_net) & roles.grounds()


@given(boards())
def test_no_rail_is_fed_by_itself_or_by_a_part_that_is_off(board):
    roles, tree = answers(board)
    for rail in tree:
        assert 0 <= rail.confidence <= 1
        for feeder in rail.feeders:
            assert feeder.from_net != rail.net
            assert feeder.part_id in roles.fitted
    above = {rail.net: {f.from_net for f in rail.feeders if f.from_net} for rail in tree}
    for start in above:
        seen: set[str] = set()
        stack = list(above[start])
        while stack:
            net = stack.pop()
            assert net != start
            if net not in seen:
                seen.add(net)
                stack.extend(above.get(net, ()))


@pytest.fixture(params=keys.BOARDS)
def real(request, boards_dir):
    return read_board(boards_dir / request.param / "board.kicad_pcb")


def test_the_order_of_the_file_does_not_matter(real):
    shuffled = retold(real, order=lambda all_: random.Random(7).sample(all_, len(all_)))
    (roles, tree), (roles2, tree2) = answers(real), answers(shuffled)
    assert {n: r.kind for n, r in roles.nets.items()} == {n: r.kind for n, r in roles2.nets.items()}
    first = {rail.net: (rail.kind, {f.part_id for f in rail.feeders}) for rail in tree}
    second = {rail.net: (rail.kind, {f.part_id for f in rail.feeders}) for rail in tree2}
    differing = {net for net in first if first[net] != second.get(net)}
    assert len(differing) <= 0.03 * len(first), differing


def test_renumbered_designators_change_nothing(real):
    def ref(text: str) -> str:
        return re.sub(r"\d+$", lambda found: str(int(found.group()) + 500), text)

    renamed = retold(real, ref=ref)
    roles, roles2 = find_roles(real), find_roles(renamed)
    differing = [
        part.id
        for part in real.parts
        if "@" not in part.id
        and renamed.has_part(ref(part.id))
        and roles.role(part.id) != roles2.role(ref(part.id))
    ]
    assert len(differing) <= 0.01 * len(real.parts), differing


def test_without_net_names_no_supply_becomes_ground(real, request):
    """Names blanked: fewer answers, but never a wrong ground."""
    names = {net.name: f"N{index}" for index, net in enumerate(real.nets)}
    blank = retold(real, net=names.__getitem__)
    grounds = find_roles(blank).grounds()
    key = keys.load_key(request.node.callspec.params["real"])
    supplies = {
        names[net]
        for net, said in key["nets"].items()
        if said["kind"] in ("rail", "reference", "high-voltage", "switch-node")
    }
    assert not grounds & supplies
    # A board with all its capacitors inside one package has nothing to tell a ground by.
    if sum(1 for part in real.parts if part.ref.startswith("C")) >= 30:
        largest = max(real.nets, key=lambda net: len(real.pads_on_net(net.name)))
        assert names[largest.name] in grounds
