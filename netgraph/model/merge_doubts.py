# SPDX-License-Identifier: GPL-3.0-or-later
"""What makes a merge doubtful: files that have little in common, and what a person found by hand
(pads joined, apart, or joined to nothing) against what the other file says.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from netgraph.model.board import ASSUMED, NO_CONNECT, Board, PadsFoundApart
from netgraph.model.same_text import same_quantity
from netgraph.reasons import Reason, few_names, reason

LEAST_TO_DOUBT = 4
"""So many nets or values must be told by both files before a third of them told in two ways makes
these files of two boards. Our own choice: of six real boards under each other's test lists 41 % of
the nets at least were told in two ways, under their own lists none."""

PadName = tuple[str, str]
"""Identity of the part and pin."""


@dataclass(frozen=True)
class Measured:
    """What one board says that was found by hand; net -> its pads, of a board known in part."""

    apart: tuple[PadsFoundApart, ...] = ()
    joined: dict[str, list[PadName]] = field(default_factory=dict)
    alone: tuple[PadName, ...] = ()
    before: dict[PadName, str] = field(default_factory=dict)


def renamed(board: Board, here: Mapping[str, str]) -> Measured:
    """What was found by hand on a board; `here` leads from its parts to those of the whole.

    Netlists of whole boards were drawn, not measured; assumed pads were not measured either.
    """
    apart = tuple(tuple((here.get(part, part), pin) for part, pin in pads) for pads in board.apart)
    if not (board.partial or apart):
        return Measured()
    joined: dict[str, list[PadName]] = defaultdict(list)
    alone = []
    for pad in board.pads if board.partial else ():
        if ASSUMED in board.part(pad.part_id).attributes:
            continue
        name = here.get(pad.part_id, pad.part_id), pad.pin
        if pad.net is not None:
            joined[pad.net].append(name)
        elif pad.pin_type == NO_CONNECT:
            alone.append(name)
    return Measured(apart, dict(joined), tuple(alone), nets_by_pad(board, here, {}))


def nets_by_pad(
    board: Board, here: Mapping[str, str], named: Mapping[str, str]
) -> dict[PadName, str]:
    """Net of each pad; parts by `here`, nets by `named` have other names in the whole."""
    return {
        (here.get(pad.part_id, pad.part_id), pad.pin): named.get(pad.net, pad.net)
        for pad in board.pads
        if pad.net is not None
    }


class Clash(NamedTuple):
    """What was found of some pads, the nets in doubt by it, and why."""

    found: str
    pads: str
    nets: tuple[str, ...]
    why: Reason


def against_measured(found: Measured, whole: Mapping[PadName, str]) -> Iterator[Clash]:
    """Where the whole (pad -> net) says else than what was found by hand."""
    for claim in found.apart:
        met: dict[str, PadName] = {}
        for pad in claim:
            net = whole.get(pad)
            other = pad if net is None else met.setdefault(net, pad)
            if net is None or other == pad:
                continue
            # What the board joined itself was told when that came about.
            if found.before.get(pad) is None or found.before[pad] != found.before.get(other):
                pads = _shown((other, pad))
                why = reason("apart-but-joined", pads=pads, net=net)
                yield Clash("found apart", pads, (net,), why)
    for joined in found.joined.values():
        first: dict[str, PadName] = {}
        for pad in joined:
            if pad in whole:
                first.setdefault(whole[pad], pad)
        if len(first) > 1:
            pads = _shown(first.values())
            why = reason("joined-but-apart", pads=pads, nets=few_names(list(first)))
            yield Clash("found joined", pads, tuple(first), why)
    counts = Counter(whole.values())
    for pad in found.alone:
        net = whole.get(pad)
        if net is not None and counts[net] > 1:
            pads = _shown((pad,))
            why = reason("alone-but-joined", pads=pads, net=net)
            yield Clash("found to join nothing", pads, (net,), why)


def _shown(pads: Iterable[PadName]) -> str:
    return few_names([f"{part}.{pin}" for part, pin in pads], between=" ")


def doubt_of_file(
    a: Board, b: Board, part_b: Mapping[int, int], nets_told: tuple[int, int]
) -> Reason | None:
    """Why `b` is hardly a file of the board that `a` is of; None where nothing speaks for it.

    `part_b` leads from parts of `a` to those of `b`; `nets_told` are how many nets both tell alike
    and how many they don't.
    """
    file = b.source.file_name
    if a.parts and b.parts and not part_b:
        mine = {part.ref.casefold() for part in a.parts if part.ref}
        if any(part.ref.casefold() in mine for part in b.parts):
            return reason("files-differ-in-case", file=file)
        return reason("files-share-nothing", file=file)
    same, odd = nets_told
    for i, j in part_b.items():
        # Only numbers can be held against each other: an order number is no other value.
        alike = same_quantity(a.parts[i].ref, a.parts[i].value, b.parts[j].value)
        same, odd = same + (alike is True), odd + (alike is False)
    if same + odd < LEAST_TO_DOUBT or 2 * odd <= same:
        return None
    return reason("files-of-two-boards", file=file, odd=odd, all=same + odd)
