# SPDX-License-Identifier: GPL-3.0-or-later
"""Where does each rail stand in a drawing of the rail tree, feeders left of what they feed?

Layers by the longest path from the entries, few crossings by sorting each layer by the mean place
of its neighbours (Sugiyama, Tagawa and Toda 1981 [layered-drawing]). Rails of unknown feeder stand
apart in a block of their own: they are no roots. Nothing random: the same tree, the same picture.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from netgraph.rails.tree import RailTree

MOST_NODES: Final = 60
"""More are not read by anybody: paths in drawings get hard to follow from about 50 nodes on."""
SWEEPS: Final = 12
BLOCK_COLUMNS: Final = 3


@dataclass(frozen=True, slots=True)
class Sizes:
    """Lengths of the drawing, in CSS pixels."""

    box_width: float = 184.0
    box_height: float = 46.0
    column_gap: float = 48.0
    row_gap: float = 12.0
    block_gap: float = 44.0


@dataclass(frozen=True, slots=True)
class TreeNode:
    """A box: one rail, or several folded into one (`nets` names them); x, y is its middle."""

    id: str
    nets: tuple[str, ...]
    label: str
    x: float
    y: float
    apart: bool
    """In the block of rails whose feeder is not known."""


@dataclass(frozen=True, slots=True)
class TreeEdge:
    """Power flows from one box to another through these parts; `points` is the line to draw."""

    start: str
    end: str
    feeders: tuple[str, ...]
    points: tuple[tuple[float, float], ...]
    against: bool
    """It closes a ring of rails that feed each other, and is drawn backwards."""


@dataclass(frozen=True, slots=True)
class TreeDrawing:
    """The whole picture; `apart_y` is where the block of rails of unknown feeder begins."""

    nodes: tuple[TreeNode, ...]
    edges: tuple[TreeEdge, ...]
    width: float
    height: float
    apart_y: float | None
    crossings: int
    folded: int
    """Rails that stand in folded boxes."""


def draw_rail_tree(
    tree: RailTree, *, most: int = MOST_NODES, sizes: Sizes | None = None
) -> TreeDrawing:
    """Lay out the folded rail tree.

    Parameters
    ----------
    most
        Boxes at most, at least 3; rails beyond are folded: first leaves of one feeder, then those
        without known feeder.

    Returns
    -------
    Places in CSS pixels, y down; loads and capacitors are no boxes.
    """
    sizes = sizes or Sizes()
    names = short_names([rail.net for rail in tree])
    links = _links(tree)
    joined = {end for pair in links for end in pair}
    apart = [rail.net for rail in tree if rail.net not in joined]
    boxes = _fold(tree, links, apart, max(3, most))
    folded_links = _between(boxes, links)
    layout = _Layout(folded_links, sizes)
    nodes: list[TreeNode] = []
    height = layout.height
    for box in layout.order:
        x, y = layout.place[box]
        nodes.append(TreeNode(box, boxes[box], _label(boxes[box], names), x, y, apart=False))
    rest = [box for box in boxes if box not in layout.place]
    apart_y = None
    width = layout.width
    if rest:
        apart_y = height + (sizes.block_gap if height else sizes.block_gap / 2)
        rows = -(-len(rest) // BLOCK_COLUMNS)
        for index, box in enumerate(rest):
            column, row = divmod(index, rows)
            x = sizes.box_width / 2 + column * (sizes.box_width + sizes.column_gap / 3)
            y = apart_y + sizes.box_height / 2 + row * (sizes.box_height + sizes.row_gap)
            nodes.append(TreeNode(box, boxes[box], _label(boxes[box], names), x, y, apart=True))
        columns = min(BLOCK_COLUMNS, -(-len(rest) // rows))
        block = columns * sizes.box_width + (columns - 1) * sizes.column_gap / 3
        width = max(width, block)
        height = apart_y + rows * (sizes.box_height + sizes.row_gap) - sizes.row_gap
    edges = tuple(
        TreeEdge(a, b, tuple(folded_links[a, b]), layout.line(a, b), (a, b) in layout.against)
        for a, b in folded_links
    )
    folded = sum(len(nets) for nets in boxes.values() if len(nets) > 1)
    return TreeDrawing(tuple(nodes), edges, width, height, apart_y, layout.crossings, folded)


def short_names(names: Sequence[str]) -> dict[str, str]:
    """The last part of each path-like name, with as much before it as tells it from the others.

    >>> short_names(["/cpu/VCC", "/ram/VCC", "/lcd/+5V"])
    {'/cpu/VCC': 'cpu/VCC', '/ram/VCC': 'ram/VCC', '/lcd/+5V': '+5V'}
    """
    steps = {name: [one for one in name.split("/") if one] or [name] for name in names}
    taken = dict.fromkeys(names, 1)
    while True:
        shown: dict[str, list[str]] = defaultdict(list)
        for name, count in taken.items():
            shown["/".join(steps[name][-count:])].append(name)
        longer = [
            name
            for same in shown.values()
            if len(same) > 1
            for name in same
            if taken[name] < len(steps[name])
        ]
        if not longer:
            return {name: "/".join(steps[name][-count:]) for name, count in taken.items()}
        for name in longer:
            taken[name] += 1


def _label(nets: tuple[str, ...], names: Mapping[str, str]) -> str:
    return names[nets[0]] if len(nets) == 1 else ""


Link = tuple[str, str]


def _links(tree: RailTree) -> dict[Link, list[str]]:
    """(from rail, to rail) -> the parts that feed it."""
    found: dict[Link, list[str]] = {}
    for rail in tree:
        for one in rail.feeders:
            if one.from_net in tree.by_net and one.from_net != rail.net:
                parts = found.setdefault((one.from_net or "", rail.net), [])
                if one.part_id not in parts:
                    parts.append(one.part_id)
    return found


def _fold(
    tree: RailTree, links: Mapping[Link, list[str]], apart: list[str], most: int
) -> dict[str, tuple[str, ...]]:
    """Box -> its rails, in the order of the tree; at most so many boxes."""
    groups: list[tuple[str, ...]] = []
    parents: dict[str, set[str]] = defaultdict(set)
    feeding = {start for start, _ in links}
    for start, end in links:
        parents[end].add(start)
    over = len(tree.rails) - most
    if over > 0:
        leaves: dict[str, list[str]] = defaultdict(list)
        for rail in tree:
            if len(parents[rail.net]) == 1 and rail.net not in feeding:
                leaves[next(iter(parents[rail.net]))].append(rail.net)
        for _, same in sorted(leaves.items(), key=lambda pair: -len(pair[1])):
            if over > 0 and len(same) > 2:
                groups.append(tuple(same))
                over -= len(same) - 1
        if over > 0 and len(apart) > 1:
            gone = apart[max(0, len(apart) - over - 1) :]
            groups.append(tuple(gone))
            over -= len(gone) - 1
        if over > 0:
            # What is left is a very deep tree: its far end is told as one box.
            inside = {net for group in groups for net in group}
            tail = [rail.net for rail in tree if rail.net not in inside][-over - 1 :]
            groups.append(tuple(tail))
    of_group = {net: group for group in groups for net in group}
    boxes: dict[str, tuple[str, ...]] = {}
    for rail in tree:
        nets = of_group.get(rail.net, (rail.net,))
        boxes.setdefault(nets[0], nets)
    return boxes


def _between(
    boxes: Mapping[str, tuple[str, ...]], links: Mapping[Link, list[str]]
) -> dict[Link, list[str]]:
    box_of = {net: box for box, nets in boxes.items() for net in nets}
    found: dict[Link, list[str]] = {}
    for (start, end), parts in links.items():
        pair = (box_of[start], box_of[end])
        if pair[0] != pair[1]:
            found.setdefault(pair, []).extend(p for p in parts if p not in found.get(pair, []))
    return found


class _Layout:
    """Places of all boxes that have a link; `against` are links that close a ring."""

    def __init__(self, links: Mapping[Link, list[str]], sizes: Sizes) -> None:
        self.sizes = sizes
        self.links = list(links)
        self.against = _ring_closers(self.links)
        self.forward = [(b, a) if (a, b) in self.against else (a, b) for a, b in self.links]
        self.layer = _layers(self.forward)
        self.place: dict[str, tuple[float, float]] = {}
        self.bends: dict[Link, list[tuple[float, float]]] = {}
        self.crossings = 0
        self.order: list[str] = []
        top = 0.0
        for group in _connected(self.forward):
            top = self._component(group, top)
        self.height = max(0.0, top - sizes.block_gap)
        deepest = max(self.layer.values(), default=-1) + 1
        self.width = max(0.0, deepest * sizes.box_width + (deepest - 1) * sizes.column_gap)

    def _component(self, group: set[str], top: float) -> float:
        links = [pair for pair in self.forward if pair[0] in group]
        rows, hops = self._rows(group, links)
        rows, crossings = _fewest_crossings(rows, hops)
        self.crossings += crossings
        y_of = self._heights(rows, hops)
        least = min(y_of.values())
        for depth, row in enumerate(rows):
            x = depth * (self.sizes.box_width + self.sizes.column_gap) + self.sizes.box_width / 2
            for one in row:
                y = y_of[one] - least + top + self.sizes.box_height / 2
                if isinstance(one, str):
                    self.place[one] = (x, y)
                    self.order.append(one)
                else:
                    # Straight through the column, so that the line crosses no box of it.
                    half = self.sizes.box_width / 2
                    way = self.bends.setdefault((one[0], one[1]), [])
                    way += [(x - half, y), (x + half, y)]
        lowest = max(y_of.values()) - least
        return top + lowest + self.sizes.box_height + self.sizes.block_gap

    def _rows(
        self, group: set[str], links: Sequence[Link]
    ) -> tuple[list[list[Spot]], list[tuple[Spot, Spot]]]:
        """Boxes and way marks of each layer, and the hops between neighbouring layers."""
        depth = max(self.layer[box] for box in group) + 1
        rows: list[list[Spot]] = [[] for _ in range(depth)]
        for box in dict.fromkeys(end for pair in links for end in pair):
            rows[self.layer[box]].append(box)
        hops: list[tuple[Spot, Spot]] = []
        for a, b in links:
            before: Spot = a
            for layer in range(self.layer[a] + 1, self.layer[b]):
                mark = (a, b, layer)
                rows[layer].append(mark)
                hops.append((before, mark))
                before = mark
            hops.append((before, b))
        return rows, hops

    def _heights(
        self, rows: list[list[Spot]], hops: Sequence[tuple[Spot, Spot]]
    ) -> dict[Spot, float]:
        """Spread each layer without overlap, each spot as near its neighbours' mean as it goes."""
        step = self.sizes.box_height + self.sizes.row_gap
        near: dict[Spot, list[Spot]] = defaultdict(list)
        for a, b in hops:
            near[a].append(b)
            near[b].append(a)
        y_of: dict[Spot, float] = {one: i * step for row in rows for i, one in enumerate(row)}
        for _ in range(SWEEPS):
            for row in rows:
                wanted = [
                    sum(y_of[n] for n in near[one]) / len(near[one]) if near[one] else y_of[one]
                    for one in row
                ]
                y_of |= zip(row, _spread(wanted, step), strict=True)
        return y_of

    def line(self, a: str, b: str) -> tuple[tuple[float, float], ...]:
        """The way of a link, from the right edge of one box to the left edge of the other."""
        back = (a, b) in self.against
        start, end = (b, a) if back else (a, b)
        half = self.sizes.box_width / 2
        (x0, y0), (x1, y1) = self.place[start], self.place[end]
        points = ((x0 + half, y0), *self.bends.get((start, end), ()), (x1 - half, y1))
        return tuple(reversed(points)) if back else points


Spot = str | tuple[str, str, int]
"""A box, or the way mark of a long link in one layer."""


def _spread(wanted: Sequence[float], step: float) -> list[float]:
    """Places at least `step` apart, in order, as near to the wanted ones as least squares go."""
    blocks: list[tuple[float, int]] = []  # mean of (wanted - own offset), how many
    for index, want in enumerate(wanted):
        mean, count = want - index * step, 1
        while blocks and blocks[-1][0] >= mean:
            other, more = blocks.pop()
            mean = (mean * count + other * more) / (count + more)
            count += more
        blocks.append((mean, count))
    starts = [mean for mean, count in blocks for _ in range(count)]
    return [start + index * step for index, start in enumerate(starts)]


def _ring_closers(links: Sequence[Link]) -> set[Link]:
    """Links without which no ring is left: those that lead back on the way of a walk."""
    after: dict[str, list[str]] = defaultdict(list)
    fed = set()
    for a, b in links:
        after[a].append(b)
        fed.add(b)
    found: set[Link] = set()
    state: dict[str, int] = {}
    starts = [a for a, _ in links if a not in fed] + [a for a, _ in links]
    for start in starts:
        if start in state:
            continue
        state[start] = 1
        stack = [(start, iter(after[start]))]
        while stack:
            here, rest = stack[-1]
            for other in rest:
                if state.get(other) == 1:
                    found.add((here, other))
                elif other not in state:
                    state[other] = 1
                    stack.append((other, iter(after[other])))
                    break
            else:
                state[here] = 2
                stack.pop()
    return found


def _layers(links: Sequence[Link]) -> dict[str, int]:
    """Longest path from a source; sources stand right before the first they feed."""
    before: dict[str, list[str]] = defaultdict(list)
    after: dict[str, list[str]] = defaultdict(list)
    for a, b in links:
        after[a].append(b)
        before[b].append(a)
    boxes = list(dict.fromkeys(end for pair in links for end in pair))
    open_ = {box: len(before[box]) for box in boxes}
    ready = [box for box in boxes if not open_[box]]
    layer = dict.fromkeys(boxes, 0)
    while ready:
        box = ready.pop()
        for other in after[box]:
            layer[other] = max(layer[other], layer[box] + 1)
            open_[other] -= 1
            if not open_[other]:
                ready.append(other)
    for box in boxes:
        if not before[box]:
            layer[box] = min(layer[other] for other in after[box]) - 1
    return layer


def _connected(links: Sequence[Link]) -> list[set[str]]:
    """Boxes that hang together, the largest group first, else in the order of the links."""
    group: dict[str, set[str]] = {}
    for a, b in links:
        ours = group.setdefault(a, {a})
        other = group.setdefault(b, {b})
        if ours is not other:
            ours |= other
            group |= dict.fromkeys(other, ours)
    found = {id(one): one for one in group.values()}
    return sorted(found.values(), key=lambda one: -len(one))


def _fewest_crossings(
    rows: list[list[Spot]], hops: Sequence[tuple[Spot, Spot]]
) -> tuple[list[list[Spot]], int]:
    """Sort each layer by the mean place of its neighbours, there and back; keep the best."""
    left: dict[Spot, list[Spot]] = defaultdict(list)
    right: dict[Spot, list[Spot]] = defaultdict(list)
    for a, b in hops:
        right[a].append(b)
        left[b].append(a)
    best, fewest = [list(row) for row in rows], _count_crossings(rows, hops)
    for sweep in range(SWEEPS):
        if fewest == 0:
            break
        forward = sweep % 2 == 0
        near = left if forward else right
        for row in rows if forward else reversed(rows):
            place = {one: i for other in rows for i, one in enumerate(other)}
            row.sort(key=lambda one: _mean([place[n] for n in near[one]], place[one]))
        crossings = _count_crossings(rows, hops)
        if crossings < fewest:
            best, fewest = [list(row) for row in rows], crossings
    return best, fewest


def _mean(places: Sequence[int], own: int) -> float:
    return sum(places) / len(places) if places else float(own)


def _count_crossings(rows: Iterable[Sequence[Spot]], hops: Sequence[tuple[Spot, Spot]]) -> int:
    place = {one: (depth, i) for depth, row in enumerate(rows) for i, one in enumerate(row)}
    by_layer: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for a, b in hops:
        by_layer[place[a][0]].append((place[a][1], place[b][1]))
    count = 0
    for ends in by_layer.values():
        ends.sort()
        seen: list[int] = []
        for _, place_there in ends:
            count += sum(one > place_there for one in seen)
            seen.append(place_there)
    return count
