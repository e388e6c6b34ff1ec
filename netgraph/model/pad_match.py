# SPDX-License-Identifier: GPL-3.0-or-later
"""Which pad of one board is which pad of another: by designator and pin, then by place.

Designators and pins of a test point list are cut at 6 and 4 characters; the other board's are cut
alike before they are compared. Where several pads have one key, only their places tell them apart.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from statistics import median

from netgraph.model.board import Board

CUT_AT: dict[str, tuple[int, int]] = {"ipc-d356": (6, 4)}
"""Format -> characters it keeps of a designator and of a pin."""

TOLERANCE_NM = 3_000
"""Two roundings to a test point list's unit of 2540 nm, and a nanometre or two."""

MOVED_NM = 50_000
"""Beyond this a pad lies elsewhere: far above any unit of a file, our own choice."""

Key = tuple[str, str]


@dataclass(frozen=True)
class PadMatch:
    """Pads that are the same on both boards, as pairs of indices.

    `unsure` are keys with several pads on different nets that nothing tells apart.
    `offset_nm` is what has to be added to places of the second board; None without places.
    `worst_nm` is the largest distance left, over all pairs that were compared by place; those in
    `moved` lie elsewhere and don't count.
    """

    pairs: tuple[tuple[int, int], ...]
    only_a: tuple[int, ...]
    only_b: tuple[int, ...]
    unsure: tuple[Key, ...]
    offset_nm: tuple[int, int] | None
    worst_nm: int | None
    moved: tuple[tuple[int, int], ...] = ()


def match_pads(a: Board, b: Board) -> PadMatch:
    """Find the pads that both boards hold; pads without copper are left out."""
    ref_width, pin_width = _widths(a, b)
    keys_a, keys_b = _by_key(a, ref_width, pin_width), _by_key(b, ref_width, pin_width)
    both = [key for key in keys_a if key in keys_b]
    offset = _offset(a, b, keys_a, keys_b)
    pairs: list[tuple[int, int]] = []
    unsure: list[Key] = []
    for key in both:
        ours, theirs = keys_a[key], keys_b[key]
        if offset is not None:
            pairs += _by_place(a, b, ours, theirs, offset, cut=ref_width is not None)
        elif _nets(a, ours) == 1 or _nets(b, theirs) == 1:
            # One pin, one net on a side: each of its pads there stands for all the others'.
            most = max(len(ours), len(theirs))
            pairs += [(ours[i % len(ours)], theirs[i % len(theirs)]) for i in range(most)]
        else:
            unsure.append(key)
    met_a, met_b = {one for one, _ in pairs}, {one for _, one in pairs}
    worst, moved = None, []
    if offset is not None:
        far = [(_distance(a, b, one, offset), one) for one in pairs]
        moved = [one for distance, one in far if distance > MOVED_NM]
        worst = max((distance for distance, _ in far if distance <= MOVED_NM), default=0)
    return PadMatch(
        tuple(pairs),
        tuple(i for key in keys_a for i in keys_a[key] if i not in met_a),
        tuple(i for key in keys_b for i in keys_b[key] if i not in met_b),
        tuple(unsure),
        offset,
        worst,
        tuple(moved),
    )


def _widths(a: Board, b: Board) -> tuple[int | None, int | None]:
    cuts = [CUT_AT[one.source.format] for one in (a, b) if one.source.format in CUT_AT]
    return min(cuts) if cuts else (None, None)


def _by_key(board: Board, ref_width: int | None, pin_width: int | None) -> dict[Key, list[int]]:
    found: dict[Key, list[int]] = defaultdict(list)
    c = board.columns
    none = 4  # of COPPER_SIDES
    # Identities, not the file's text, tell two parts of one designator apart, but a test point
    # list knows the text alone; so do all formats the same way.
    refs = [part.ref.rpartition("/")[2][:ref_width].strip() for part in board.parts]
    ids = [part.id for part in board.parts]
    with_board = [f"{one.rpartition('/')[0]}/" if "/" in one else "" for one in ids]
    for index, (part, pin, side) in enumerate(
        zip(c.part.tolist(), c.pin, c.copper_side.tolist(), strict=True)
    ):
        if side != none:
            found[with_board[part] + refs[part], pin[:pin_width].strip()].append(index)
    return found


def _nets(board: Board, pads: list[int]) -> int:
    return len({int(board.columns.net[one]) for one in pads})


def _offset(
    a: Board, b: Board, keys_a: dict[Key, list[int]], keys_b: dict[Key, list[int]]
) -> tuple[int, int] | None:
    """What brings the places of b onto those of a; None unless most single pads agree on it."""
    if not all("has_positions" in one.capabilities for one in (a, b)):
        return None
    single = [
        (ours[0], keys_b[key][0])
        for key, ours in keys_a.items()
        if len(ours) == 1 and len(keys_b.get(key, ())) == 1
    ]
    if not single:
        return None
    dx = round(median(int(a.columns.x_nm[i] - b.columns.x_nm[j]) for i, j in single))
    dy = round(median(int(a.columns.y_nm[i] - b.columns.y_nm[j]) for i, j in single))
    near = sum(_distance(a, b, pair, (dx, dy)) <= TOLERANCE_NM for pair in single)
    return (dx, dy) if near >= 0.8 * len(single) else None


def _distance(a: Board, b: Board, pair: tuple[int, int], offset: tuple[int, int]) -> int:
    i, j = pair
    dx = abs(int(a.columns.x_nm[i]) - int(b.columns.x_nm[j]) - offset[0])
    dy = abs(int(a.columns.y_nm[i]) - int(b.columns.y_nm[j]) - offset[1])
    return max(dx, dy)


def _by_place(
    a: Board, b: Board, ours: list[int], theirs: list[int], offset: tuple[int, int], *, cut: bool
) -> list[tuple[int, int]]:
    """Each pad with the nearest of the same key, if it is near enough; each taken once.

    Whole names that stand once on both sides mean one pad wherever it lies. A grid of twice the
    tolerance keeps this linear in the number of pads.
    """
    if len(ours) == 1 and len(theirs) == 1:
        near = not cut or _distance(a, b, (ours[0], theirs[0]), offset) <= TOLERANCE_NM
        return [(ours[0], theirs[0])] if near else []
    cells: dict[tuple[int, int], list[int]] = defaultdict(list)
    size = 2 * TOLERANCE_NM
    for j in theirs:
        x, y = int(b.columns.x_nm[j]) + offset[0], int(b.columns.y_nm[j]) + offset[1]
        cells[x // size, y // size].append(j)
    taken: set[int] = set()
    pairs = []
    for i in ours:
        x, y = int(a.columns.x_nm[i]) // size, int(a.columns.y_nm[i]) // size
        near_ones = [
            j
            for u in (x - 1, x, x + 1)
            for v in (y - 1, y, y + 1)
            for j in cells.get((u, v), ())
            if j not in taken and _distance(a, b, (i, j), offset) <= TOLERANCE_NM
        ]
        if near_ones:
            best = min(near_ones, key=lambda j: _distance(a, b, (i, j), offset))
            taken.add(best)
            pairs.append((i, best))
    return pairs
