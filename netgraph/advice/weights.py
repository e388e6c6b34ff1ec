# SPDX-License-Identifier: GPL-3.0-or-later
"""Weights of an ordered plan: how suspect a part or a place is, as plain numbers from outside.

A JSON object: ``{"C34": 3, "C36.1~R49.2": 0.5}``. A key is a part's identity or the two pads of a
path site, joined by ``~``. Where the numbers come from is not this program's business.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Final, NoReturn

from netgraph.errors import ECHOED, UnknownNameError, WeightsError
from netgraph.formats.reading import read_bytes
from netgraph.limits import MAX_PARTS, MAX_WEIGHTS_BYTES
from netgraph.model import Board
from netgraph.plan.sites import Site

LARGEST: Final = 1e12
SITE_MARK: Final = "~"


def site_name(site: Site) -> str:
    """The name of a path site as weights use it; empty for one without pads.

    A part on both nets goes by its identity.
    """
    if site.kind == "part" and site.refs:
        return site.refs[0]
    if site.a.ref is None or site.b.ref is None:
        return ""
    return f"{site.a.ref}.{site.a.pin}{SITE_MARK}{site.b.ref}.{site.b.pin}"


def parse_weights(text: str, board: Board, *, path: str = "") -> dict[str, float]:
    """Weights from the text of a JSON file, checked against the board.

    Raises
    ------
    WeightsError
        No JSON object of numbers from zero, or a name the board does not have.
    """

    def fault(message: str, hint: str = "", line: int | None = None) -> NoReturn:
        raise WeightsError(message, path=path, line=line, hint=hint)

    def once(pairs: list[tuple[str, object]]) -> dict[str, object]:
        found = dict(pairs)
        if len(found) != len(pairs):
            fault("a name is given twice")
        return found

    def constant(name: str) -> NoReturn:
        fault(f"{name} is no number", "weights are plain numbers, zero or more")

    if len(text) > MAX_WEIGHTS_BYTES:
        fault(f"more than {MAX_WEIGHTS_BYTES} characters of weights")
    try:
        values = json.loads(text, object_pairs_hook=once, parse_constant=constant)
    except json.JSONDecodeError as error:
        fault(f"no JSON: {error.msg[:1].lower()}{error.msg[1:]}", line=error.lineno)
    except (RecursionError, ValueError):
        fault("no usable JSON: nested too deep, or a number too long")
    if not isinstance(values, dict):
        fault("no JSON object", 'write {"C34": 3, ...}')
    if len(values) > MAX_PARTS:
        fault(f"more than {MAX_PARTS} weights")
    found: dict[str, float] = {}
    for name, value in values.items():
        if (
            isinstance(value, bool)
            or not isinstance(value, int | float)
            or not 0 <= value <= LARGEST
            or not math.isfinite(value)
        ):
            fault(f"the weight of {name[:ECHOED]!r} is no number from 0 to {LARGEST:g}")
        try:
            _check_name(board, name)
        except UnknownNameError as error:
            fault(f"no part or place is named {name[:ECHOED]!r}", error.hint)
        found[name] = float(value)
    return found


def _check_name(board: Board, name: str) -> None:
    if not board.has_part(name) and SITE_MARK in name:
        for end in name.split(SITE_MARK, 1):
            part, _, pin = end.rpartition(".")
            if pin not in {board.pad(one).pin for one in board.pad_range(board.part(part))}:
                raise UnknownNameError("pad", end, ())
        return
    board.part(name)


def read_weights(path: str | Path, board: Board) -> Mapping[str, float]:
    """Weights from a file; see ``parse_weights``.

    Raises
    ------
    BoardFileError
        The file can't be opened, or holds no weights for this board.
    """
    try:
        text = read_bytes(Path(path), "a file of weights").decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise WeightsError(f"not UTF-8: {error.reason}", path=str(path)) from None
    return parse_weights(text, board, path=str(path))
