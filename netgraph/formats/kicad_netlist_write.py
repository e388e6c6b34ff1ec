# SPDX-License-Identifier: GPL-3.0-or-later
"""Write a board as a KiCad netlist, version E, as KiCad 6 and newer export it [kicad-netlist]."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from netgraph.errors import WriterError
from netgraph.formats.losses import OPENNESS, count_losses
from netgraph.model.board import Board, Part

_ESCAPES = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\r": "\\r", "\t": "\\t"}


def write_kicad_netlist(board: Board, *, dropped: Counter[str] | None = None) -> str:
    """The netlist as text.

    Kept: parts with value, footprint, fields and the mark of parts not fitted; nets in their
    order with class, one node for each pin; pin names and types; pins without a net, by the
    library part that each part gets for itself. A repeated reference is written with its identity
    (``MH@2``). A part's exact words for not being fitted, its attributes and tags are not kept.

    Parameters
    ----------
    dropped
        Counts what is left out, by kind: ``places``, ``reference-of-symbol`` (names that begin
        with ``#`` are symbols, no parts), ``net-without-pad``, ``field-empty``, ``side``,
        ``drawn-copper``, ``partial-mark``, ``unclear-net-mark``.

    Raises
    ------
    WriterError
        No pin is on a net: such a file says nothing.
    """
    counts: Counter[str] = Counter() if dropped is None else dropped
    kept = [part for part in board.parts if not part.id.startswith("#") and part.id]
    counts["reference-of-symbol"] += len(board.parts) - len(kept)
    counts["places"] += int("has_positions" in board.capabilities)
    count_losses(board, counts, "side", "drawn-copper", *OPENNESS)
    nodes = _nodes(board, kept)
    if not any(nodes.values()):
        raise WriterError("no pin is on a net", hint="a netlist needs at least one net")
    lines = [
        '(export (version "E")',
        f'  (design (source {_q(board.source.file_name)}) (tool "netgraph"))',
        "  (components",
        *(line for part in kept for line in _component(part, counts)),
        "  )",
        "  (libparts",
        *(line for part in kept for line in _libpart(board, part)),
        "  )",
        "  (libraries)",
        "  (nets",
        *_nets(board, nodes, counts),
        "  ))",
    ]
    counts += Counter()  # takes the zeros out
    return "\n".join(lines) + "\n"


def _q(text: str) -> str:
    """A quoted string; every sign comes back."""
    out = []
    for char in text:
        if char in _ESCAPES:
            out.append(_ESCAPES[char])
        elif char < " " or char == "\x7f":
            out.append(f"\\x{ord(char):02x}")
        else:
            out.append(char)
    return f'"{"".join(out)}"'


def _component(part: Part, counts: Counter[str]) -> Iterator[str]:
    yield f"    (comp (ref {_q(part.id)})"
    yield f"      (value {_q(part.value or '~')})"
    if part.footprint:
        yield f"      (footprint {_q(part.footprint)})"
    fields = {key: text for key, text in part.fields if key and text}
    counts["field-empty"] += len(part.fields) - len(fields)
    if fields:
        inner = " ".join(f"(field (name {_q(key)}) {_q(text)})" for key, text in fields.items())
        yield f"      (fields {inner})"
    yield f'      (libsource (lib "netgraph") (part {_q(part.id)}) (description ""))'
    if not part.fitted:
        yield '      (property (name "dnp"))'
    yield "    )"


def _libpart(board: Board, part: Part) -> Iterator[str]:
    pins: dict[str, tuple[str, str]] = {}
    c = board.columns
    for index in board.pad_range(part):
        pins.setdefault(c.pin[index], (c.pin_name[index], c.pin_type[index]))
    yield f'    (libpart (lib "netgraph") (part {_q(part.id)})'
    if pins:
        yield "      (pins"
        for pin, (name, kind) in pins.items():
            yield f"        (pin (num {_q(pin)}) (name {_q(name)}) (type {_q(kind)}))"
        yield "      )"
    yield "    )"


def _nodes(board: Board, kept: list[Part]) -> dict[int, list[tuple[str, str, str, str]]]:
    """Net -> reference, pin, pin name and type; a pin of several pads once."""
    found: dict[int, dict[tuple[str, str], tuple[str, str, str, str]]] = {}
    c = board.columns
    for part in kept:
        for index in board.pad_range(part):
            net = int(c.net[index])
            if net >= 0:
                node = (part.id, c.pin[index], c.pin_name[index], c.pin_type[index])
                found.setdefault(net, {}).setdefault(node[:2], node)
    return {net: list(nodes.values()) for net, nodes in found.items()}


def _nets(
    board: Board, nodes: dict[int, list[tuple[str, str, str, str]]], counts: Counter[str]
) -> Iterator[str]:
    for net in board.nets:
        if net.index not in nodes:
            counts["net-without-pad"] += 1
            continue
        known = f" (class {_q(net.net_class)})" if net.net_class else ""
        yield f"    (net (code {_q(str(net.index + 1))}) (name {_q(net.name)}){known}"
        for ref, pin, name, kind in nodes[net.index]:
            extra = f" (pinfunction {_q(name)})" if name else ""
            extra += f" (pintype {_q(kind)})" if kind else ""
            yield f"      (node (ref {_q(ref)}) (pin {_q(pin)}){extra})"
        yield "    )"
