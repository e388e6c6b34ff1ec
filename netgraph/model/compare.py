# SPDX-License-Identifier: GPL-3.0-or-later
"""Are two boards the same, net by net, even where the nets have other names?

Nets are compared by the pads on them. A net with a single pad joins nothing and counts as no net,
since many files leave such pads out.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from netgraph.model.agree import Pair, agreement
from netgraph.model.board import NO_CONNECT, Board
from netgraph.model.pad_match import PadMatch, match_pads


@dataclass(frozen=True, slots=True)
class PadsApart:
    """Pads (``REF.PIN``) on one net here and on another there; None: joined to nothing.

    `sure` when the rest agrees only without them; else any of the difference's unsure pads may be
    the wrong ones.
    """

    net_a: str | None
    net_b: str | None
    pads: tuple[str, ...]
    sure: bool


@dataclass(frozen=True, slots=True)
class NetDifference:
    """Nets that don't hold the same pads: those of one board and those of the other.

    `apart` are the fewest pads without which they would agree, or all that may be among these.
    `paired` are nets of the two that are one and the same but for these pads.
    """

    nets_a: tuple[str, ...]
    nets_b: tuple[str, ...]
    apart: tuple[PadsApart, ...]
    unclear: bool
    paired: tuple[tuple[str, str], ...] = ()

    @property
    def pads(self) -> tuple[str, ...]:
        """All pads that stand apart, each once."""
        return tuple(dict.fromkeys(pad for group in self.apart for pad in group.pads))


@dataclass(frozen=True)
class Comparison:
    """What two boards have in common and where they differ, on the pads both hold."""

    match: PadMatch
    same: tuple[tuple[str, str], ...]
    differ: tuple[NetDifference, ...]
    parts_only_a: tuple[str, ...]
    parts_only_b: tuple[str, ...]
    moved: tuple[str, ...]
    """Parts of the first board that lie elsewhere on the second."""
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
    pads: dict[Pair, list[int]] = defaultdict(list)
    met_a, met_b = (
        _pins_met(a, (i for i, _ in match.pairs)),
        _pins_met(b, (j for _, j in match.pairs)),
    )
    for i, j in match.pairs:
        one, two = net_a[i], net_b[j]
        # A table of one chip's pins has each net once: what else is on it was not looked at, and
        # nothing that both hold speaks against it.
        alone_b = two is None and b.columns.net[j] >= 0 and met_a[int(a.columns.net[i])] < 2
        alone_a = one is None and a.columns.net[i] >= 0 and met_b[int(b.columns.net[j])] < 2
        if (one is None) != (two is None) and (alone_a or alone_b):
            continue
        if is_untraced(a, i) or is_untraced(b, j):
            continue
        by_a[one].add(two)
        by_b[two].add(one)
        pads[one, two].append(i)
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
        family: dict[Pair, list[int]] = {
            (name, two): pads[name, two] for name in sorted(nets_a) for two in _sorted(by_a[name])
        }
        if None in by_a:
            family |= {
                (None, two): pads[None, two]
                for two in _sorted(nets_b)
                if two is not None and None in by_b[two]
            }
        differ.append(_difference(a, b, family))
    # Nets of b all of whose pads join nothing on a.
    differ += [
        _difference(a, b, {(None, two): pads[None, two]})
        for two in sorted(one for one in by_a.get(None, ()) if one is not None)
        if by_b[two] == {None} and len(pads[None, two]) > 1
    ]
    return Comparison(
        match,
        tuple(same),
        tuple(differ),
        _parts_only(a, match.only_a, {i for i, _ in match.pairs}),
        _parts_only(b, match.only_b, {j for _, j in match.pairs}),
        tuple(dict.fromkeys(a.pad(i).part_id for i, _ in match.moved)),
        tuple(sorted(a.unclear_nets)),
        tuple(sorted(b.unclear_nets)),
    )


def _sorted(names: Iterable[str | None]) -> list[str | None]:
    return sorted(names, key=lambda name: name or "")


def _joining_nets(board: Board) -> list[str | None]:
    """Net of each pad; None where it joins no second pin."""
    c = board.columns
    pins: dict[int, set[tuple[int, str]]] = defaultdict(set)
    for part, pin, net in zip(c.part.tolist(), c.pin, c.net.tolist(), strict=True):
        pins[net].add((part, pin))
    names = [net.name for net in board.nets]
    return [names[net] if net >= 0 and len(pins[net]) > 1 else None for net in c.net.tolist()]


def is_untraced(board: Board, pad: int) -> bool:
    """Whether nobody looked where this pad goes: without a net, on a board known in part."""
    c = board.columns
    return board.partial and c.net[pad] < 0 and c.pin_type[pad] != NO_CONNECT


def _pins_met(board: Board, pads: Iterable[int]) -> Counter[int]:
    """Net -> how many of its pins the other board holds too."""
    c = board.columns
    return Counter(net for _, _, net in {(int(c.part[i]), c.pin[i], int(c.net[i])) for i in pads})


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


def _difference(a: Board, b: Board, pads: Mapping[Pair, list[int]]) -> NetDifference:
    """The difference between nets that hang together by these pads."""
    named_a = {one for one, _ in pads if one is not None}
    named_b = {two for _, two in pads if two is not None}
    found = agreement(pads)
    # A net of which the other board knows one pad, joined to nothing: that pad shows it.
    wrong = found.wrong or tuple(pair for pair in pads if None in pair and not found.open)
    apart = [
        PadsApart(*pair, tuple(dict.fromkeys(_pad(a, one) for one in pads[pair])), sure)
        for pairs, sure in ((wrong, True), (found.open, False))
        for pair in pairs
    ]
    return NetDifference(
        tuple(sorted(named_a)),
        tuple(sorted(named_b)),
        tuple(apart),
        bool(named_a & a.unclear_nets or named_b & b.unclear_nets),
        found.paired,
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
