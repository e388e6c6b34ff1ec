# SPDX-License-Identifier: GPL-3.0-or-later
"""A net or a part and what it touches, folded so that it can be read: places included.

Ground is never a node. Parts of one role that hang on a net in one way are one node ("29
capacitors") as soon as there are more than three, or when there is no room.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import Final

from netgraph.model.board import Board
from netgraph.rails import rail_members
from netgraph.rails.draw_order import short_names
from netgraph.rails.members import RailMember
from netgraph.rails.tree import RailTree
from netgraph.roles.answer import Roles

Json = dict[str, object]

FOLD_FROM: Final = 4
"""Our own choice: so many alike are folded into one."""
_LEFT: Final = ("source", "series", "sense")


@dataclass
class _Sketch:
    """Nodes and edges so far; each column grows downwards."""

    nodes: list[Json] = field(default_factory=list)
    edges: list[Json] = field(default_factory=list)
    columns: dict[int, list[Json]] = field(default_factory=lambda: defaultdict(list))
    folded: int = 0

    def node(self, column: int, **told: object) -> Json:
        made: Json = {"role": "", "connection": None, "names": [], "x": float(column), "y": 0.0}
        made |= told
        self.nodes.append(made)
        self.columns[column].append(made)
        return made

    def edge(self, start: Json, end: Json, pins: list[str]) -> None:
        self.edges.append({"start": start["id"], "end": end["id"], "pins": pins})

    def placed(self) -> None:
        """Each column is centred on the middle node's height."""
        for rows in self.columns.values():
            for index, one in enumerate(rows):
                one["y"] = index - (len(rows) - 1) / 2


def near_net(board: Board, roles: Roles, tree: RailTree, net: str, limit: int) -> Json:
    """The fields of ``netgraph.neighbourhood/1`` for a net.

    Raises
    ------
    UnknownNameError
        There is no such net.
    """
    members = rail_members(board, roles, tree, net)
    sketch = _Sketch()
    middle = sketch.node(
        0, id=f"net:{net}", kind="net", name=net, label=net, role=roles.nets[net].kind
    )
    groups: dict[tuple[str, str], list[RailMember]] = defaultdict(list)
    for one in members:
        groups[one.connection, one.role].append(one)
    singles = sum(len(same) for same in groups.values() if len(same) < FOLD_FROM)
    room = limit - sum(len(same) >= FOLD_FROM for same in groups.values())
    for (connection, role), same in sorted(groups.items(), key=lambda pair: _rank(*pair[0])):
        column = -1 if connection in _LEFT else 1
        if len(same) < FOLD_FROM and singles <= room:
            for one in same:
                node = _part_node(sketch, board, roles, one.part_id, column, connection)
                sketch.edge(middle, node, list(one.pins))
            continue
        names = [one.part_id for one in same]
        sketch.folded += len(names)
        node = sketch.node(
            column,
            id=f"more:{connection}:{role}",
            kind="more",
            name="",
            label="",
            role=role,
            connection=connection,
            names=names,
        )
        sketch.edge(middle, node, [])
    sketch.placed()
    grounds = sorted({other for one in members for other in one.other_nets} & set(tree.grounds))
    return _fields(sketch, middle, [] if net in tree.grounds else grounds)


def _rank(connection: str, role: str) -> tuple[int, str]:
    order = ("source", "series", "sense", "load", "shunt")
    return order.index(connection), role


def _part_node(
    sketch: _Sketch, board: Board, roles: Roles, part_id: str, column: int, connection: str | None
) -> Json:
    part = board.part(part_id)
    return sketch.node(
        column,
        id=f"part:{part_id}",
        kind="part",
        name=part_id,
        label=f"{part_id} {part.value}".strip()[:24],
        role=roles.parts[part_id].role,
        connection=connection,
    )


def near_part(board: Board, roles: Roles, tree: RailTree, part_id: str, limit: int) -> Json:
    """The fields of ``netgraph.neighbourhood/1`` for a part.

    Raises
    ------
    UnknownNameError
        There is no such part.
    """
    board.part(part_id)
    sketch = _Sketch()
    middle = _part_node(sketch, board, roles, part_id, 0, None)
    nets = [net for net in board.nets_of_part[part_id] if net not in tree.grounds]
    grounds = [net for net in board.nets_of_part[part_id] if net in tree.grounds]
    # Supplies first: they are what is asked about.
    nets.sort(key=lambda net: (net not in tree.by_net, len(board.parts_on_net[net]) < 2))
    shown, rest = nets[: limit // 2], nets[limit // 2 :]
    names = short_names(nets)
    for index, net in enumerate(shown):
        side = -1 if index % 2 == 0 else 1
        node = sketch.node(
            side,
            id=f"net:{net}",
            kind="net",
            name=net,
            label=names[net][-24:],
            role=roles.nets[net].kind,
        )
        sketch.edge(middle, node, list(board.pins_on_net(part_id, net)))
        _beyond(sketch, board, roles, node, net, part_id, 2 * side)
    if rest:
        sketch.folded += len(rest)
        node = sketch.node(1, id="more:nets", kind="more", name="", label="", names=rest)
        sketch.edge(middle, node, [])
    sketch.placed()
    return _fields(sketch, middle, grounds)


def _beyond(
    sketch: _Sketch, board: Board, roles: Roles, node: Json, net: str, part_id: str, column: int
) -> None:
    """The only other part on a net by name, several as one node."""
    others = [one for one in board.parts_on_net[net] if one != part_id and one in roles.fitted]
    if len(others) == 1 and not any(one["id"] == f"part:{others[0]}" for one in sketch.nodes):
        other = _part_node(sketch, board, roles, others[0], column, None)
        sketch.edge(node, other, list(board.pins_on_net(others[0], net)))
    elif others:
        sketch.folded += len(others)
        more = sketch.node(column, id=f"more:{net}", kind="more", name="", label="", names=others)
        sketch.edge(node, more, [])


def _fields(sketch: _Sketch, middle: Json, grounds: list[str]) -> Json:
    return {
        "middle": middle["id"],
        "nodes": sketch.nodes,
        "edges": sketch.edges,
        "grounds": grounds,
        "folded": sketch.folded,
    }
