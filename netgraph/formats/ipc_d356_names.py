# SPDX-License-Identifier: GPL-3.0-or-later
"""Names in fixed columns: aliases of long ones, and what was cut to one text [ipc-d356]."""

from __future__ import annotations

import re
from collections import defaultdict

import numpy as np

from netgraph import limits
from netgraph.formats.fixed_columns import Ints

REF_WIDTH = 6
_NO_NET = frozenset({"", "N/C"})
_NUMBERED = re.compile(r"(.{1,11})#[0-9]+")


class Names:
    """Net names of the records, their aliases put back."""

    def __init__(self, aliases: dict[str, str]) -> None:
        self.aliases = aliases
        self.nets: list[str] = []
        self.raw_of: dict[str, str] = {}
        """Net name -> the text of the records, for names that have no alias."""
        self.wide = False
        """Whether a name is longer than the 14 columns of 356A."""

    def numbers(self, raw: list[bytes]) -> list[int]:
        """Net index of each record, -1 for none."""
        index: dict[str, int] = {}
        known: dict[bytes, int] = {}
        texts = {one: one.decode("latin-1").strip(" ") for one in dict.fromkeys(raw)}
        said = set(texts.values())
        # Where records bear both NNAME1 and 1, the second is a net of that plain name.
        plain = {text for text in said if text in self.aliases and f"NNAME{text}" in said}
        for one, text in texts.items():
            if text in _NO_NET:
                known[one] = -1
                continue
            name = None if text in plain else self.aliases.get(text)
            if name is None:
                name = text
                self.raw_of[name] = text
                self.wide |= len(text) > 14
            known[one] = index.setdefault(name, len(index))
        self.nets = list(index)
        return [known[one] for one in raw]


def cut_names(raw_of: dict[str, str], width: int) -> set[str]:
    """Names as wide as their columns: each may be the rest of several longer ones.

    Where a name ends with ``#1`` and shares its beginning with the end of a full one, the writer
    is seen to keep cut names apart, and none is in doubt.

    >>> sorted(cut_names({"A" * 14: "A" * 14, "B": "B"}, 14))
    ['AAAAAAAAAAAAAA']
    >>> cut_names({"ABCDEFGHIJKLMN": "ABCDEFGHIJKLMN", "EFGHIJKLMN#1": "EFGHIJKLMN#1"}, 14)
    set()
    """
    full = {name for name, raw in raw_of.items() if len(raw) >= width}
    if not full:
        return set()
    ends = {name[-10:] for name in full}
    for raw in raw_of.values():
        numbered = _NUMBERED.fullmatch(raw)
        if numbered is not None and numbered[1] in ends:
            return set()
    return full


def split_cut_parts(
    names: list[str], parts: Ints, pins: list[str], nets: Ints, x: Ints, y: Ints
) -> list[str]:
    """Tell apart parts whose designators were cut to the same six characters.

    It is seen by a pin that lies on several nets. The pads of that pin are the seeds; every other
    pad goes to the nearest one. `parts` is changed in place: the first keeps its number, further
    ones get numbers behind the last.

    Returns
    -------
    list of str
        The designators of the added parts, once for each.
    """
    added: list[str] = []
    rows_of: dict[int, list[int]] = defaultdict(list)
    full = {index for index, name in enumerate(names) if len(name) >= REF_WIDTH}
    if not full:
        return added
    for row, part in enumerate(parts.tolist()):
        if part in full:
            rows_of[part].append(row)
    for part, rows in rows_of.items():
        seeds = _seeds(rows, pins, nets)
        if not 2 <= len(seeds) <= limits.MAX_PARTS_OF_ONE_NAME:
            continue
        nearest = np.zeros(len(rows), dtype=np.int64)
        least = np.full(len(rows), np.inf)
        for group, seed in enumerate(seeds):
            dx, dy = (x[rows] - x[seed]).astype(float), (y[rows] - y[seed]).astype(float)
            distance = dx * dx + dy * dy
            nearest[distance < least] = group
            least = np.minimum(least, distance)
        # Each seed is a part of its own, even where two of them lie at one place.
        nearest[[rows.index(seed) for seed in seeds]] = np.arange(len(seeds))
        first = len(names) + len(added)
        for row, group in zip(rows, nearest.tolist(), strict=True):
            if group:
                parts[row] = first + group - 1
        added += [names[part]] * (len(seeds) - 1)
    return added


def _seeds(rows: list[int], pins: list[str], nets: Ints) -> list[int]:
    """One pad for each part that must be there: the pin with most different nets."""
    by_pin: dict[str, dict[int, int]] = defaultdict(dict)
    for row in rows:
        if pins[row]:
            by_pin[pins[row]].setdefault(int(nets[row]), row)
    # -1 is no net: two unconnected pads say nothing.
    most = max(by_pin.values(), key=len, default={})
    return list(most.values())
