# SPDX-License-Identifier: GPL-3.0-or-later
"""Are two boards the same, net by net, even where the nets have other names?

Nets are compared by the pads on them. A net with a single pad joins nothing and counts as no net,
since many files leave such pads out.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from netgraph.model.board import Board
from netgraph.model.pad_match import PadMatch, match_pads


@dataclass(frozen=True, slots=True)
class NetDifference:
    """Nets that don't hold the same pads: those of one board and those of the other.

    `pads_a` and `pads_b` are pads (``REF.PIN``) that show it: one for each pair of nets.
    """

    nets_a: tuple[str, ...]
    nets_b: tuple[str, ...]
    pads: tuple[str, ...]
    unclear: bool


@dataclass(frozen=True)
class Comparison:
    """What two boards have in common and where they differ, on the pads both hold."""

    match: PadMatch
    same: tuple[tuple[str, str], ...]
    differ: tuple[NetDifference, ...]
    parts_only_a: tuple[str, ...]
    parts_only_b: tuple[str, ...]
    unclear_a: tuple[str, ...]
    unclear_b: tuple[str, ...]

    @property
    def is_same(self) -> bool:
        """Whether every net holds the same pads, as far as both boards know them."""
        return bool(self.match.pairs) and not self.differ

    @property
    def renamed(self) -> tuple[tuple[str, str], ...]:
        """Same nets whose names differ."""
        return tuple((a, b) for a, b in self.same if a != b)


def compare_boards(a: Board, b: Board) -> Comparison:
    """Compare the partition of pads into nets."""
    match = match_pads(a, b)
    net_a, net_b = _joining_nets(a), _joining_nets(b)
    by_a: dict[str | None, set[str | None]] = defaultdict(set)
    by_b: dict[str | None, set[str | None]] = defaultdict(set)
    shown: dict[tuple[str | None, str | None], int] = {}
    for i, j in match.pairs:
        one, two = net_a[i], net_b[j]
        by_a[one].add(two)
        by_b[two].add(one)
        shown.setdefault((one, two), i)
    same, differ = [], []
    seen: set[str] = set()
    for one in [net.name for net in a.nets]:
        if one not in by_a or one in seen:
            continue
        nets_a, nets_b = _family(one, by_a, by_b)
        seen |= nets_a
        if len(nets_a) == 1 and len(nets_b) == 1 and None not in nets_b:
            (two,) = nets_b
            alone = by_b[two] == {one}
            if alone:
                same.append((one, str(two)))
                continue
        differ.append(_difference(a, b, nets_a, nets_b, by_a, shown))
    # Nets of b all of whose pads join nothing on a.
    differ += [
        NetDifference((), (two,), (_pad(a, shown[None, two]),), two in b.unclear_nets)
        for two in sorted(one for one in by_a.get(None, ()) if one is not None)
        if by_b[two] == {None} and _count(two, match, net_b) > 1
    ]
    return Comparison(
        match,
        tuple(same),
        tuple(one for one in differ if one is not None),
        _parts_only(a, match.only_a, {i for i, _ in match.pairs}),
        _parts_only(b, match.only_b, {j for _, j in match.pairs}),
        tuple(sorted(a.unclear_nets)),
        tuple(sorted(b.unclear_nets)),
    )


def _count(net: str, match: PadMatch, net_b: list[str | None]) -> int:
    return sum(net_b[j] == net for _, j in match.pairs)


def _joining_nets(board: Board) -> list[str | None]:
    """Net of each pad; None where it joins no second pin."""
    c = board.columns
    pins: dict[int, set[tuple[int, str]]] = defaultdict(set)
    for part, pin, net in zip(c.part.tolist(), c.pin, c.net.tolist(), strict=True):
        pins[net].add((part, pin))
    names = [net.name for net in board.nets]
    return [names[net] if net >= 0 and len(pins[net]) > 1 else None for net in c.net.tolist()]


def _family(
    start: str,
    by_a: dict[str | None, set[str | None]],
    by_b: dict[str | None, set[str | None]],
) -> tuple[set[str], set[str | None]]:
    """All nets of both boards that hang together through shared pads; no net joins none."""
    nets_a, nets_b = {start}, set[str | None]()
    todo = [start]
    while todo:
        for two in by_a[todo.pop()]:
            if two in nets_b:
                continue
            nets_b.add(two)
            if two is None:
                continue
            for one in by_b[two]:
                if one is not None and one not in nets_a:
                    nets_a.add(one)
                    todo.append(one)
    return nets_a, nets_b


def _difference(
    a: Board,
    b: Board,
    nets_a: set[str],
    nets_b: set[str | None],
    by_a: dict[str | None, set[str | None]],
    shown: dict[tuple[str | None, str | None], int],
) -> NetDifference:
    named_b = {one for one in nets_b if one is not None}
    pads = [
        shown[one, two]
        for one in sorted(nets_a)
        for two in sorted(by_a[one], key=lambda name: name or "")
    ]
    unclear = bool(nets_a & a.unclear_nets or named_b & b.unclear_nets)
    return NetDifference(
        tuple(sorted(nets_a)),
        tuple(sorted(named_b)),
        tuple(dict.fromkeys(_pad(a, one) for one in pads)),
        unclear,
    )


def _pad(board: Board, index: int) -> str:
    part = board.parts[board.columns.part[index]]
    return f"{part.id}.{board.columns.pin[index]}"


def _parts_only(board: Board, pads: tuple[int, ...], met: set[int]) -> tuple[str, ...]:
    """Parts with pads of which none was found on the other board."""
    c = board.columns
    found = {int(c.part[one]) for one in met}
    return tuple(
        dict.fromkeys(board.parts[c.part[one]].id for one in pads if int(c.part[one]) not in found)
    )
