# SPDX-License-Identifier: GPL-3.0-or-later
"""Vias, traces (378) and the outline (389) of a test point list, read on demand [ipc-d356].

Places in these records are modal: a letter that is missing repeats its last number.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from netgraph import limits
from netgraph.errors import BoardFileError
from netgraph.formats.fixed_columns import Ints, Lines
from netgraph.model.copper import Copper, OutlineShape, Tracks, Vias

_LAYER = re.compile(r"\s*L([0-9]{1,2})\b")
_APERTURE = re.compile(r"\s*X\s*([0-9]{1,6})(?:\s*Y\s*[0-9]{1,6})?\s(?=\s*[XY])")
_PLACE = re.compile(r"\s*(?:X\s*([+-]?[0-9]{1,9}))?(?:Y\s*([+-]?[0-9]{1,9}))?")
_BREAK = re.compile(r"\s*\*")


@dataclass(frozen=True, eq=False)
class CopperOfTestFile:
    """What is needed to read the copper later; places of vias are nanometres already."""

    data: bytes
    lines: Lines
    rows: Ints
    nm: int
    aliases: Mapping[str, str]
    nets: Mapping[str, int]
    layers: int
    via_at: Ints
    via_size: Ints
    via_drill: Ints
    via_net: Ints

    def read(self) -> Copper:
        """The copper; damaged traces are an error with their line."""
        count = len(self.via_size)
        skipped: dict[str, int] = {}
        tracks: list[tuple[int, ...]] = []
        outline: list[OutlineShape] = []
        for row in self.rows.tolist():
            text, code = self._whole(row)
            if code == "378":
                tracks += self._traces(row, text, skipped)
            else:
                outline += [
                    OutlineShape("line", np.array([a, b], dtype=np.int64))
                    for chain in _chains(text[18:], self._line_of(row))
                    for a, b in _steps(self._points(chain))
                ]
        table = np.array(tracks, dtype=np.int64).reshape(-1, 7)
        return Copper(
            tracks=Tracks(table[:, 0:2], table[:, 2:4], table[:, 4], table[:, 5], table[:, 6]),
            vias=Vias(
                self.via_at,
                self.via_size,
                self.via_drill,
                np.zeros(count, dtype=np.int64),
                np.full(count, self.layers - 1, dtype=np.int64),
                self.via_net,
            ),
            outline=tuple(outline),
            skipped=skipped,
        )

    def _line_of(self, row: int) -> int:
        return row + 1

    def _text(self, row: int) -> str:
        start, length = int(self.lines.start[row]), int(self.lines.length[row])
        return self.data[start : start + length].decode("latin-1")

    def _whole(self, row: int) -> tuple[str, str]:
        """The record with its continuation lines, and its code."""
        text = self._text(row)
        code, pieces = text[:3], [text[3:]]
        follow = "0" + code[1:]
        row += 1
        while row < len(self.lines.start) and self._text(row)[:3] == follow:
            pieces.append(self._text(row)[3:])
            row += 1
        return " ".join(pieces), code

    def _points(self, chain: list[tuple[int, int]]) -> list[tuple[int, int]]:
        return [(x * self.nm, -y * self.nm) for x, y in chain]

    def _traces(self, row: int, text: str, skipped: dict[str, int]) -> Iterator[tuple[int, ...]]:
        raw = text[:14].strip()
        net = self.nets.get(self.aliases.get(raw, raw), -1)
        layer = _LAYER.match(text, 14)
        if layer is None or not 1 <= int(layer[1]) <= self.layers:
            skipped["trace-without-layer"] = skipped.get("trace-without-layer", 0) + 1
            return
        at = layer.end()
        aperture = _APERTURE.match(text, at)
        width = int(aperture[1]) * self.nm if aperture else 0
        at = aperture.end() if aperture else at
        for chain in _chains(text[at:], self._line_of(row)):
            for (x1, y1), (x2, y2) in _steps(self._points(chain)):
                yield x1, y1, x2, y2, width, int(layer[1]) - 1, net


def _steps(
    points: list[tuple[int, int]],
) -> Iterator[tuple[tuple[int, int], tuple[int, int]]]:
    yield from pairwise(points)


def _chains(text: str, line: int) -> Iterator[list[tuple[int, int]]]:
    """Runs of places, cut at stars.

    Raises
    ------
    BoardFileError
        A place is no number, or is beyond the limit.
    """
    at = 0
    x: int | None = None
    y: int | None = None
    chain: list[tuple[int, int]] = []
    while at < len(text):
        star = _BREAK.match(text, at)
        if star is not None:
            if chain:
                yield chain
            chain, at = [], star.end()
            continue
        found = _PLACE.match(text, at)
        if found is None or (found[1] is None and found[2] is None):
            if text[at:].strip():
                raise BoardFileError(
                    "number-invalid",
                    f"no place: {text[at : at + 12].strip()!r}",
                    line=line,
                    expected="X and Y with whole numbers",
                )
            break
        x = int(found[1]) if found[1] is not None else x
        y = int(found[2]) if found[2] is not None else y
        if max(abs(x or 0), abs(y or 0)) * 2540 > limits.MAX_COORDINATE_NM:
            raise BoardFileError(
                "number-invalid", "a place beyond 2.147 m (MAX_COORDINATE_NM)", line=line
            )
        if x is not None and y is not None:
            chain.append((x, y))
        at = found.end()
    if chain:
        yield chain
