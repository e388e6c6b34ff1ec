# SPDX-License-Identifier: GPL-3.0-or-later
"""Netlist text as a tree of plain atoms: from s-expressions [kicad-lexer] and from XML.

Both give the same nodes: a list of its head, then atoms and inner nodes. In XML an attribute is an
inner node of two atoms, and the text of an element its last atom.
"""

from __future__ import annotations

import re

from netgraph import limits
from netgraph.errors import BoardFileError
from netgraph.formats.sexpr import plain
from netgraph.formats.structure import place_of


class Node(list["str | Node"]):
    """A node; `at` is the offset (text) or the line (XML) where it begins."""

    __slots__ = ("at",)
    at: int


_ATOM = r'"[^"\\]*(?:\\.[^"\\]*)*"|[^\s()"][^\s()]*'
_PIECE = re.compile(
    rf"\(\s*([A-Za-z_]\w*)\s+({_ATOM})\s*\)|([()])|({_ATOM})|(\S)", re.DOTALL | re.ASCII
)
_COMMENT = re.compile(r"(?:^|(?<=\n))[ \t]*#[^\n]*")


def find(node: Node, head: str) -> Node | None:
    """The first inner node with this head."""
    for one in node:
        if one.__class__ is Node and one and one[0] == head:
            return one
    return None


def find_all(node: Node | None, head: str) -> list[Node]:
    """All inner nodes with this head."""
    return [] if node is None else [one for one in node if isinstance(one, Node) and one[0] == head]


def said(node: Node | None, head: str) -> str:
    """The last atom of an inner node; empty where it is not there or says nothing."""
    inner = None if node is None else find(node, head)
    return "" if inner is None else last_atom(inner)


def last_atom(node: Node) -> str:
    """The last atom behind the head; empty where there is none."""
    last = node[-1]
    return last if len(node) > 1 and isinstance(last, str) else ""


_PARENT = {
    "components": "export", "comp": "components", "libparts": "export", "libpart": "libparts",
    "libraries": "export", "nets": "export", "net": "nets", "node": "net",
}  # fmt: skip
"""What the large nodes of a netlist stand in."""


def _parent_left_open(outer: Node) -> Node | None:
    """The node that holds what never stands in it, so that its own end must be missing."""
    todo = [outer]
    while todo:
        node = todo.pop()
        inner = [one for one in node if one.__class__ is Node and one]
        for one in inner:
            wanted = _PARENT.get(str(one[0]))
            if wanted is not None and node is not outer and node[0] != wanted:
                return node
        todo += reversed(inner)
    return None


class TextTree:
    """Parse one s-expression; offsets become lines only when an error needs them."""

    def __init__(self, data: bytes) -> None:
        # A string of very many escapes would be tried again and again by the pattern.
        if data.count(b"\\") > limits.MAX_ESCAPES:
            raise BoardFileError(
                "limit-exceeded", f"more than {limits.MAX_ESCAPES} backslashes (MAX_ESCAPES)"
            )
        self.text = data.decode("utf-8")
        if "#" in self.text:
            # A comment line is blanked; inside a string a line may begin so too, in no real file.
            self.text = _COMMENT.sub(lambda found: " " * len(found[0]), self.text)

    def read(self) -> Node:
        """The one node of the text.

        Raises
        ------
        BoardFileError
            Brackets don't pair, a string has no end, or nesting is deeper than the limit.
        """
        outer = Node()
        outer.at = 0
        stack = [outer]
        node = outer
        for piece in _PIECE.finditer(self.text):
            kind = piece.lastindex
            if kind == 2:
                key, value = piece[1], piece[2]
                leaf = Node((key, plain(value) if value[0] == '"' else value))
                leaf.at = piece.start()
                node.append(leaf)
            elif kind == 3:
                if piece[3] == "(":
                    inner = Node()
                    inner.at = piece.start()
                    node.append(inner)
                    stack.append(inner)
                    node = inner
                    if len(stack) > limits.MAX_DEPTH:
                        raise self.error(
                            piece.start(),
                            f"brackets nest deeper than {limits.MAX_DEPTH} (MAX_DEPTH)",
                            code="limit-exceeded",
                        )
                else:
                    if len(stack) == 1:
                        raise self.error(piece.start(), "a closing bracket too many")
                    if not node or not isinstance(node[0], str):
                        raise self.error(node.at, "a node without a name", "a word behind '('")
                    stack.pop()
                    node = stack[-1]
            elif kind == 4:
                node.append(plain(piece[4]))
            else:
                raise self.error(piece.start(), "a string that doesn't end", code="file-truncated")
        if len(stack) > 1:
            misplaced = _parent_left_open(outer)
            if misplaced is not None:
                # Its bracket was taken by a later one; where it should have closed is known.
                raise self.error(misplaced.at, f"'({misplaced[0]}' is not closed", "')'")
            raise self.error(
                stack[-1].at, "this node is not closed: the file is cut", "')'", "file-truncated"
            )
        if len(outer) != 1 or not isinstance(outer[0], Node):
            raise self.error(0, "the text is not one node", "'(export'")
        return outer[0]

    def error(
        self, at: int, message: str, expected: str = "", code: str = "file-malformed"
    ) -> BoardFileError:
        """A fault at an offset, with line and column."""
        raw = self.text.encode("utf-8")
        line, column = place_of(raw, len(self.text[:at].encode("utf-8")))
        return BoardFileError(
            code,  # type: ignore[arg-type]
            message,
            line=line,
            column=column,
            expected=expected,
        )


class XmlTree:
    """Parse XML through defusedxml: no document type, no entities of its own, bounded depth.

    Texts of blanks are taken for layout; with `blanks` those on one line, in an element without
    elements, are kept.
    """

    def __init__(self, data: bytes, *, blanks: bool = False) -> None:
        self.data = data
        self.blanks = blanks

    def read(self) -> Node:
        """The root node.

        Raises
        ------
        BoardFileError
            No sound XML, a document type or entity in it, or nesting beyond the limit.
        """
        from defusedxml.common import DefusedXmlException
        from defusedxml.ElementTree import DefusedXMLParser, ParseError

        builder = _XmlBuilder(blanks=self.blanks)
        parser = DefusedXMLParser(target=builder, forbid_dtd=True)
        try:
            parser.feed(self.data)
            root = parser.close()
        except ParseError as error:
            line, column = error.position
            text = str(error).partition(":")[0]
            code = "file-truncated" if "no element" in text or "unclosed" in text else None
            raise BoardFileError(
                code or "file-malformed",  # type: ignore[arg-type]
                f"no sound XML: {text}",
                line=line,
                column=column + 1,
            ) from None
        except DefusedXmlException:
            raise BoardFileError(
                "file-malformed",
                "the XML holds a document type or entities, which are refused",
                expected="plain XML, as the netlist program writes it",
            ) from None
        except (ValueError, LookupError) as error:
            raise BoardFileError("file-malformed", f"no sound XML: {error}") from None
        if not isinstance(root, Node):
            raise BoardFileError("file-empty", "no element in the XML")
        return root

    def error(
        self, at: int, message: str, expected: str = "", code: str = "file-malformed"
    ) -> BoardFileError:
        """A fault; `at` counts elements from 1, and the line is found by their brackets."""
        starts = [found.start() for found in re.finditer(rb"<[A-Za-z_]", self.data)]
        offset = starts[min(at, len(starts)) - 1] if starts and at else 0
        line, column = place_of(self.data, offset)
        return BoardFileError(
            code,  # type: ignore[arg-type]
            message,
            line=line,
            column=column,
            expected=expected,
        )


class _XmlBuilder:
    """Target of the parser: nodes as the s-expression form has them; counts elements."""

    def __init__(self, *, blanks: bool) -> None:
        self.blanks = blanks
        self.root: Node | None = None
        self.stack: list[Node] = []
        self.texts: list[list[str]] = []
        self.count = 0

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        self.count += 1
        node = Node((tag,))
        node.at = self.count
        for key, value in attributes.items():
            leaf = Node((key, value))
            leaf.at = self.count
            node.append(leaf)
        if self.stack:
            self.stack[-1].append(node)
        else:
            self.root = node
        self.stack.append(node)
        self.texts.append([])
        if len(self.stack) > limits.MAX_DEPTH:
            raise BoardFileError(
                "limit-exceeded", f"elements nest deeper than {limits.MAX_DEPTH} (MAX_DEPTH)"
            )

    def data(self, text: str) -> None:
        self.texts[-1].append(text)

    def end(self, tag: str) -> None:  # noqa: ARG002 - the parser holds the tags together
        node = self.stack.pop()
        text = "".join(self.texts.pop())
        # Its number is the last one only where no element began inside it.
        leaf = self.blanks and node.at == self.count
        if text.strip() or (leaf and text and "\n" not in text):
            node.append(text)

    def close(self) -> Node | None:
        return self.root
