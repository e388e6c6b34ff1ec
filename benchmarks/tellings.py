# SPDX-License-Identifier: GPL-3.0-or-later
"""The labelled boards told in other ways, and their keys under the new names."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

from netgraph.model import Board
from netgraph.units import find_quantity
from tests.oracle.retold import retold

Names = Callable[[str], str]
_KINDS = {"R": "resistance", "C": "capacitance", "L": "inductance"}


def same(text: str) -> str:
    """The name as it is."""
    return text


def renumbered(text: str) -> str:
    """R12 becomes R136; identities of repeated references stay."""
    if "@" in text:
        return text
    return re.sub(r"\d+$", lambda found: str(int(found.group()) * 3 + 100), text)


def another_notation(value: str, ref: str) -> str:
    """4.7k becomes 4k7, 100n becomes 0.1uF, 2.2u of a coil 2200nH; other text stays."""
    kind: Any = _KINDS.get(ref[:1]) if ref[1:2].isdigit() else None
    found = find_quantity(value, kind) if kind else None
    if found is None or found.text not in value:
        return value
    if kind == "capacitance":
        unit, scale_of = ("uF", 1e6) if found.value >= 1e-9 else ("nF", 1e9)
        return value.replace(found.text, f"{found.value * scale_of:.4f}".rstrip("0") + unit)
    if kind == "inductance":
        return value.replace(found.text, f"{found.value * 1e9:.6g}nH")
    for scale, letter in ((1e6, "M"), (1e3, "k"), (1.0, "R")):
        if found.value >= scale:
            whole, _, rest = f"{found.value / scale:.4g}".partition(".")
            return value.replace(found.text, f"{whole}{letter}{rest}")
    return value


def tellings(board: Board) -> Iterator[tuple[str, Board, Names, Names]]:
    """(how, the board told that way, new name of a part, new name of a net)."""
    yield "as the file has it", board, same, same
    mixed = retold(board, order=lambda all_: random.Random(3).sample(all_, len(all_)))
    yield "parts shuffled", mixed, same, same
    yield "designators renumbered", retold(board, ref=renumbered), renumbered, same
    values = tuple(
        replace(part, value=another_notation(part.value, part.ref)) for part in board.parts
    )
    yield "values in another notation", replace(board, parts=values), same, same
    yield "pin names removed", retold(board, pin_name=lambda _: ""), same, same
    blank = {net.name: f"N{net.index}" for net in board.nets}
    yield "net names blanked", retold(board, net=blank.__getitem__), same, blank.__getitem__


def renamed(key: dict[str, Any], part: Names, net: Names) -> dict[str, Any]:
    """A key under the new names."""

    def feeders(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
        return [
            {"ref": part(row["ref"]), "from_net": row["from_net"] and net(row["from_net"])}
            for row in rows
        ]

    return {
        "parts": {part(name): said for name, said in key["parts"].items()},
        "nets": {net(name): said for name, said in key["nets"].items()},
        "rails": {
            net(name): {
                **said,
                "feeders": feeders(said["feeders"]),
                "accept": feeders(said.get("accept", [])),
            }
            for name, said in key["rails"].items()
        },
    }


def stripped(board: Board) -> Iterator[tuple[str, Board]]:
    """(how, the board with some texts of its parts taken away): roles from less evidence."""

    def without(**texts: Any) -> Board:
        return replace(board, parts=tuple(replace(part, **texts) for part in board.parts))

    yield "as the file has it", board
    yield "without values", without(value="")
    yield "without footprints", without(footprint="")
    yield "without texts", without(value="", footprint="", fields=(), tags="")
