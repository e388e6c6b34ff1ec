# SPDX-License-Identifier: GPL-3.0-or-later
"""Tokens and small trees of one s-expression node [kicad-lexer].

Atoms keep their quotes, since ``(net 5)`` is a number and ``(net "5")`` a name; ``plain`` takes
them off. Only small nodes are parsed to trees; big ones are read by their own modules.
"""

from __future__ import annotations

import re

Tree = list["str | Tree"]

_TOKEN = re.compile(r'"[^"\\]*(?:\\.[^"\\]*)*"|[()]|[^\s()"][^\s()]*', re.DOTALL | re.ASCII)
tokens_of = _TOKEN.findall
"""All tokens of a text, in order; quoted strings with their quotes."""

_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII)
_ESCAPE = re.compile(r"\\(x[0-9a-fA-F]{1,2}|[0-7]{1,3}|[\s\S])")
_ESCAPED = {"a": "\a", "b": "\b", "f": "\f", "n": "\n", "r": "\r", "t": "\t", "v": "\v"}


def plain(token: str) -> str:
    r"""The text of an atom without quotes and escapes.

    A backslash in a bare word is an ordinary character.

    >>> plain('"a \\"b\\""'), plain("C:\\x")
    ('a "b"', 'C:\\x')
    """
    if token[:1] != '"':
        return token
    body = token[1:-1]
    return _ESCAPE.sub(_unescape, body) if "\\" in body else body


def _unescape(match: re.Match[str]) -> str:
    what = match.group(1)
    if what[0] == "x" and len(what) > 1:
        return chr(int(what[1:], 16))
    if what[0] in "01234567":
        return chr(int(what, 8))
    return _ESCAPED.get(what, what)


def number(token: str) -> float:
    """The number an atom stands for, by a strict decimal pattern.

    Raises
    ------
    ValueError
        It is no decimal number (``nan``, ``inf``, ``1_0`` are none), or too large for a float.
    """
    text = token[1:-1] if token[:1] == '"' else token
    if not _NUMBER.fullmatch(text):
        raise ValueError(token)
    value = float(text)
    if value - value != 0.0:
        raise ValueError(token)
    return value


def tree_of(text: str) -> Tree:
    """Parse one node to nested lists, without recursion.

    Raises
    ------
    ValueError
        Brackets don't pair up, or nothing is there.
    """
    stack: list[Tree] = [[]]
    for token in tokens_of(text):
        if token == "(":
            stack.append([])
        elif token == ")":
            if len(stack) == 1:
                raise ValueError("closing bracket without an opening one")
            done = stack.pop()
            stack[-1].append(done)
        else:
            stack[-1].append(token)
    if len(stack) != 1 or len(stack[0]) != 1 or not isinstance(stack[0][0], list):
        raise ValueError("not one node")
    return stack[0][0]


def child(tree: Tree, head: str) -> Tree | None:
    """The first child list with this head, or None."""
    for one in tree:
        if isinstance(one, list) and one and one[0] == head:
            return one
    return None


def children(tree: Tree, head: str) -> list[Tree]:
    """All child lists with this head."""
    return [one for one in tree if isinstance(one, list) and one and one[0] == head]


def atom(tree: Tree | None, index: int = 1) -> str | None:
    """The atom at an index of a node as plain text; None when it is not there or a list."""
    if tree is None or index >= len(tree):
        return None
    found = tree[index]
    return plain(found) if isinstance(found, str) else None


def atoms(tree: Tree | None) -> list[str]:
    """All atoms behind the head, as plain text."""
    return [] if tree is None else [plain(one) for one in tree[1:] if isinstance(one, str)]
