# SPDX-License-Identifier: GPL-3.0-or-later
"""Laws of the board model over random boards."""

from __future__ import annotations

import random
from dataclasses import replace

import networkx as nx
from hypothesis import given
from hypothesis import strategies as st

from netgraph.model import Board, BoardBuilder
from tests.property.board_strategies import boards


def rebuilt(board: Board, *, seed: int, move: bool) -> Board:
    """The same netlist in another order and, with `move`, elsewhere, with other values."""
    shuffle = random.Random(seed)
    builder = BoardBuilder("another name")
    nets = [net.name for net in board.nets]
    shuffle.shuffle(nets)
    for net in nets:
        builder.add_net(net)
    parts = list(board.parts)
    shuffle.shuffle(parts)
    for part in parts:
        index = builder.add_part(part.ref, value="" if move else part.value, footprint="other")
        pads = [board.pad(one) for one in board.pad_range(part)]
        shuffle.shuffle(pads)
        for pad in pads:
            builder.add_pad(
                index,
                pad.pin,
                pad.net,
                x_nm=pad.x_nm // 2 + 7 if move else pad.x_nm,
                y_nm=-pad.y_nm if move else pad.y_nm,
            )
    return builder.freeze()


@given(boards(drawn=False), st.integers(0, 2**32), st.booleans())
def test_the_fingerprint_does_not_depend_on_order_places_or_file_name(
    board: Board, seed: int, move: bool
) -> None:
    other = rebuilt(board, seed=seed, move=move)
    renamed = replace(other, source=replace(other.source, file_name="x.kicad_pcb", sha256="0"))
    assert renamed.fingerprint == board.fingerprint


@given(boards(drawn=False))
def test_the_fingerprint_changes_with_one_connection(board: Board) -> None:
    """A pad more on a new net is another netlist."""
    builder = BoardBuilder(board.name)
    for part in board.parts:
        index = builder.add_part(part.ref)
        for one in board.pad_range(part):
            pad = board.pad(one)
            builder.add_pad(index, pad.pin, pad.net)
    builder.add_pad(0, "a pin of its own", "a net of its own")
    assert builder.freeze().fingerprint != board.fingerprint


@given(boards(drawn=False))
def test_the_graph_has_a_node_for_each_part_and_net_and_an_edge_for_each_connected_pad(
    board: Board,
) -> None:
    graph = board.graph
    connected = [pad for pad in board.pads if pad.net is not None]
    assert graph.number_of_nodes() == len(board.parts) + len(board.nets)
    assert graph.number_of_edges() == len(connected)
    for net in board.nets:
        assert graph.degree(("net", net.name)) == len(board.pads_on_net(net.name))
    assert nx.is_bipartite(graph)


@given(boards(drawn=False))
def test_parts_have_identities_of_their_own_and_pads_lie_side_by_side(board: Board) -> None:
    assert len({part.id for part in board.parts}) == len(board.parts)
    flat = [index for part in board.parts for index in board.pad_range(part)]
    assert flat == list(range(len(board.columns)))
    keys = {(pad.part_id, pad.pin, pad.ordinal) for pad in board.pads}
    assert len(keys) == len(board.pads)


@given(boards(drawn=False))
def test_both_directions_between_parts_and_nets_agree(board: Board) -> None:
    forth = {(part, net) for part, nets in board.nets_of_part.items() for net in nets}
    back = {(part, net) for net, parts in board.parts_on_net.items() for part in parts}
    assert forth == back == {(pad.part_id, pad.net) for pad in board.pads if pad.net is not None}


@given(boards(drawn=False), st.data())
def test_a_lifted_part_is_marked_and_nothing_else_changes(
    board: Board, data: st.DataObject
) -> None:
    ids = [part.id for part in board.parts]
    lifted = data.draw(st.lists(st.sampled_from(ids), unique=True))
    after = board.without(lifted)
    for one, two in zip(board.parts, after.parts, strict=True):
        assert two.fitted == (one.fitted and one.id not in lifted)
        assert two == one or (one.id in lifted and two.not_fitted_because == "lifted")
    assert after.fingerprint == board.fingerprint
    assert after.without(lifted).parts == after.parts
    assert set(after.net_graph.edges(keys=True)) <= set(board.net_graph.edges(keys=True))
