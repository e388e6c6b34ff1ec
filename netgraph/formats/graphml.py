# SPDX-License-Identifier: GPL-3.0-or-later
"""Read a board from GraphML [graphml]: parts and nets as nodes, connected pads as edges.

The form of `graphml_write`; any other program may write it too. A node says `kind` (part or net)
and `name`; an edge joins a part and a net and says its `pin`. All else is optional.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final, cast

from netgraph import limits
from netgraph.errors import BoardCheckError, BoardFileError
from netgraph.formats.board_json import read_openness, read_part
from netgraph.formats.json_fields import MOST, Fields
from netgraph.formats.netlist_tree import Node, XmlTree
from netgraph.formats.plain_text import head_text, refuse_large
from netgraph.model.board import Board, Capability, Source
from netgraph.model.builder import BoardBuilder

FORMAT = "graphml"
_DIGITS = 40
"""No number of a board is longer."""
_CAN: Final = ("has_positions", "has_values", "has_pin_names", "has_pin_types", "has_dnp")
_NUMBERS: Final = frozenset({"int", "long", "float", "double"})
_LAST_CAN: Final[tuple[tuple[str, Capability], ...]] = (
    ("value", "has_values"),
    ("pin_name", "has_pin_names"),
    ("pin_type", "has_pin_types"),
)


class GraphmlReader:
    """Graphs of parts and nets."""

    name = FORMAT
    title = "graph of parts and nets (GraphML)"
    suffixes: tuple[str, ...] = (".graphml",)
    carries: tuple[str, ...] = (
        "netlist", "places", "values", "pin names and types", "parts not fitted",
        "what is not known",
    )  # fmt: skip
    limits = "no drawn copper, no fields, no stack-up"

    def sniff(self, head: bytes) -> float:
        """1.0 when the first element is ``graphml``."""
        text = re.sub(r"^\s*(<\?[^>]*\?>|<!--.*?-->|\s)*", "", head_text(head), flags=re.DOTALL)
        return 1.0 if re.match(r"<(?:\w+:)?graphml[\s>]", text) else 0.0

    def read(self, data: bytes, *, file_name: str, sha256: str) -> Board:
        """See ``read_graphml``."""
        return read_graphml(data, file_name=file_name, sha256=sha256)


def read_graphml(data: bytes, *, file_name: str = "", sha256: str = "") -> Board:
    """The board in a GraphML text.

    Raises
    ------
    BoardFileError
        No sound XML, no graph of parts and nets, a number or name that is none, a limit passed;
        with the line.
    """
    refuse_large(data)
    tree = XmlTree(data, blanks=True)
    try:
        return _Reading(tree, tree.read()).board(Source(FORMAT, file_name, sha256, "1"))
    except BoardCheckError as error:
        raise BoardFileError("file-malformed", error.message, hint=error.hint) from None


class _Reading:
    """One graph, its keys looked up by their identities."""

    def __init__(self, tree: XmlTree, root: Node) -> None:
        self.tree = tree
        graphs = _inner(root, "graph")
        if _local(root[0]) != "graphml" or len(graphs) != 1:
            raise tree.error(
                root.at, f"{len(graphs)} graphs in the file", "one graph of parts and nets"
            )
        self.graph = graphs[0]
        odd = _inner(self.graph, "hyperedge")
        odd += [one for node in _inner(self.graph, "node") for one in _inner(node, "graph")]
        if odd:
            what = f"a {_local(odd[0][0])} within the graph"
            raise tree.error(odd[0].at, what, "plain nodes, and edges from part to net")
        self.keys: dict[str, tuple[str, str]] = {}
        for key in _inner(root, "key"):
            told = _attributes(key)
            name = told.get("attr.name", told.get("id", ""))
            if told.get("id", "") in self.keys:
                raise tree.error(key.at, f"the key {told.get('id', '')[:40]!r} is declared twice")
            self.keys[told.get("id", "")] = (name, told.get("attr.type", "string"))

    def board(self, source: Source) -> Board:
        """The board, its pads in the order of their numbers."""
        top = self.table(self.graph)
        builder = BoardBuilder(str(top.get("name") or "board"), source=source)
        parts: dict[str, tuple[Node, dict[str, object]]] = {}
        nets: dict[str, str] = {}
        unclear: list[object] = []
        for node in _inner(self.graph, "node"):
            own = _attributes(node).get("id", "")
            table = self.table(node)
            if own in parts or own in nets or not own:
                raise self.tree.error(node.at, f"the node {own[:60]!r} stands twice or has no id")
            name = table.get("name", own.partition(":")[2] or own)
            table["name"] = name
            if table.get("kind") == "net":
                net = Fields(table, f"node {own[:60]!r}")
                with self.line_of(node):
                    nets[own] = net.text("name", name=True)
                    if builder.net_number(nets[own]) is not None:
                        raise self.tree.error(
                            node.at, f"two nets are named {nets[own][:60]!r}", "one node a net"
                        )
                    builder.add_net(nets[own], net_class=net.text("net_class", ""))
                unclear += [nets[own]] if table.get("unclear") is True else []
            elif table.get("kind") == "part":
                parts[own] = (node, table)
            else:
                raise self.tree.error(
                    node.at, f"the node {own[:60]!r} is neither a part nor a net",
                    'data with the key "kind" that says part or net',
                )  # fmt: skip
            if len(parts) > limits.MAX_PARTS or len(nets) > limits.MAX_NETS:
                raise BoardFileError(
                    "limit-exceeded",
                    f"more than {limits.MAX_PARTS} parts or {limits.MAX_NETS} nets "
                    "(MAX_PARTS, MAX_NETS)",
                )
        pads = self.pads(parts, nets)
        for own, (node, table) in parts.items():
            self.add_part(builder, own, node, table, pads[own])
        self.add_openness(builder, top, unclear, pads, parts)
        return builder.freeze()

    def pads(
        self, parts: dict[str, tuple[Node, dict[str, object]]], nets: dict[str, str]
    ) -> dict[str, list[dict[str, object]]]:
        """Pads of each part by the edges and the part's own list of open pins."""
        found: dict[str, list[dict[str, object]]] = {own: [] for own in parts}
        for count, edge in enumerate(_inner(self.graph, "edge"), start=1):
            if count > limits.MAX_PADS:
                raise BoardFileError(
                    "limit-exceeded", f"more than {limits.MAX_PADS} edges (MAX_PADS)"
                )
            told = _attributes(edge)
            ends = [told.get("source", ""), told.get("target", "")]
            part = next((one for one in ends if one in parts), None)
            net = next((one for one in ends if one in nets), None)
            if part is None or net is None:
                raise self.tree.error(
                    edge.at,
                    f"an edge from {ends[0][:60]!r} to {ends[1][:60]!r}",
                    "a part and a net that are nodes of this graph",
                    "reference-undefined",
                )
            found[part].append(_pad_fields(self.table(edge)) | {"net": nets[net]})
        for own, (node, table) in parts.items():
            found[own] += self.open_pins(node, table)
        return found

    def open_pins(self, node: Node, table: dict[str, object]) -> list[dict[str, object]]:
        try:
            listed = json.loads(str(table.pop("open_pins", "[]")))
            if not isinstance(listed, list):
                raise TypeError
            return [
                # The first form had pairs of number and pin alone.
                {"pad": int(one[0]), "pin": str(one[1])} if isinstance(one, list)
                else _pad_fields(dict(one)) | {"pad": int(one["pad"]), "pin": str(one["pin"])}
                for one in listed
            ]  # fmt: skip
        except (ValueError, TypeError, LookupError, OverflowError, RecursionError):
            raise self.tree.error(
                node.at, "open_pins can't be read", 'a list such as [{"pad": 3, "pin": "7"}]'
            ) from None

    def add_part(
        self,
        builder: BoardBuilder,
        own: str,
        node: Node,
        table: dict[str, object],
        pads: list[dict[str, object]],
    ) -> None:
        """One part with its pads."""
        if isinstance(table.get("attributes"), str):
            try:
                table["attributes"] = json.loads(str(table["attributes"]))
            except (ValueError, RecursionError):
                raise self.tree.error(
                    node.at, "attributes can't be read", "a list of words as JSON"
                ) from None
        pads.sort(key=lambda one: _order(one.get("pad")))
        if table.get("fitted") is False:
            table.setdefault("not_fitted_because", "marked in the graph")
        whole = table | {"id": table["name"], "pads": pads}
        whole.setdefault("ref", str(table["name"]).rpartition("/")[2])
        part = Fields(whole, f"node {own[:60]!r}")

        with self.line_of(node):
            read_part(builder, part, part.text("ref", name=True), part.text("id", name=True))

    def add_openness(
        self,
        builder: BoardBuilder,
        top: dict[str, object],
        unclear: list[object],
        pads: dict[str, list[dict[str, object]]],
        parts: dict[str, tuple[Node, dict[str, object]]],
    ) -> None:
        """What the board tells and what it doesn't."""
        told = top.get("capabilities")
        if told is None:
            every = [table for _, table in parts.values()] + [one for some in pads.values()
                                                              for one in some]  # fmt: skip
            builder.capabilities |= {
                can for key, can in _LAST_CAN if any(table.get(key) for table in every)
            }
        for word in str(told or "").split():
            if word not in _CAN:
                raise self.tree.error(
                    self.graph.at, f"capabilities hold {word[:40]!r}", ", ".join(_CAN)
                )
            builder.capabilities.add(cast("Capability", word))
        try:
            codes = json.loads(str(top.get("not_known_codes") or "[]"))
            others = json.loads(str(top.get("other_names") or "{}"))
            apart = json.loads(str(top.get("apart") or "[]"))
        except (ValueError, RecursionError):
            raise self.tree.error(
                self.graph.at, "not_known_codes, other_names or apart can't be read", "JSON"
            ) from None
        open_table = {
            "partial": top.get("partial", False),
            "unclear_nets": unclear,
            "not_known": codes,
            "other_names": others,
            "apart": apart,
        }
        with self.line_of(self.graph):
            read_openness(builder, Fields(open_table, "graph"))

    # -- data ----------------------------------------------------------------------------------

    def table(self, node: Node) -> dict[str, object]:
        """The data of a node, an edge or the graph, by the names of their keys."""
        found: dict[str, object] = {}
        for one in _inner(node, "data"):
            told = _attributes(one)
            key = self.keys.get(told.get("key", ""))
            if key is None:
                raise self.tree.error(
                    one.at,
                    f"data of a key {told.get('key', '')[:40]!r} that is not declared",
                    "a key element with this id",
                    "reference-undefined",
                )
            name, kind = key
            if name in found:
                raise self.tree.error(one.at, f"data {name[:40]!r} stands twice", "each once")
            text = one[-1] if isinstance(one[-1], str) and len(one) > 1 else ""
            found[name] = self.value(one, text, kind)
        return found

    def value(self, node: Node, text: str, kind: str) -> object:
        """A text as the type of its key."""
        if kind == "boolean":
            # Some programs write True and False.
            word = text.strip().lower()
            if word not in ("true", "false", "1", "0"):
                raise self.tree.error(node.at, f"{text[:40]!r} is no boolean", "true or false")
            return word in ("true", "1")
        if kind in _NUMBERS:
            try:
                if len(text) > _DIGITS or "_" in text:
                    raise ValueError
                return float(text) if kind in ("float", "double") else int(text)
            except ValueError:
                raise self.tree.error(
                    node.at, f"{text[:40]!r} is no number", "a number", "number-invalid"
                ) from None
        return text

    @contextmanager
    def line_of(self, node: Node) -> Iterator[None]:
        """Faults raised inside get the line of the node."""
        try:
            yield
        except BoardFileError as error:
            if error.line is None:
                error.line = self.tree.error(node.at, "").line
            raise


def _pad_fields(table: dict[str, object]) -> dict[str, object]:
    """The data of a pad by the names of board JSON."""
    if "pad_kind" in table:
        table["kind"] = table.pop("pad_kind")
    return table


def _order(number: object) -> float:
    known = isinstance(number, int | float) and abs(number) <= MOST
    return float(number) if known else float("inf")  # type: ignore[arg-type]


def _local(tag: object) -> str:
    """A tag without its namespace."""
    return str(tag).rpartition("}")[2]


def _inner(node: Node, name: str) -> list[Node]:
    return [one for one in node[1:] if isinstance(one, Node) and _local(one[0]) == name]


def _attributes(node: Node) -> dict[str, str]:
    found: dict[str, str] = {}
    for one in node[1:]:
        if isinstance(one, Node) and len(one) == 2 and isinstance(one[1], str):
            # Attributes stand before inner elements: one of the same name is none.
            found.setdefault(str(one[0]), str(one[1]))
    return found
