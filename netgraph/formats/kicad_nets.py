# SPDX-License-Identifier: GPL-3.0-or-later
"""Which net a ``net`` node of a KiCad board means: by number of the table, or by name."""

from __future__ import annotations

from collections.abc import Callable

from netgraph import limits
from netgraph.formats.kicad_faults import FileError
from netgraph.formats.sexpr import plain
from netgraph.model.builder import BoardBuilder, is_bad_name

Warn = Callable[[str, str, int], None]


class NetTable:
    """The nets of one file; number of table or name -> index of the board's net, -1 for none."""

    def __init__(self, builder: BoardBuilder, warn: Warn) -> None:
        self.builder = builder
        self.warn = warn
        self.exists = False
        self.closed = False
        self._by_number: dict[str, int] = {}
        self._by_name_token: dict[str, int] = {}
        self._by_arguments: dict[str, int] = {}

    def __len__(self) -> int:
        return len(self._by_number)

    @property
    def count(self) -> int:
        """How many named nets there are, of the table or not."""
        named = {one for one in self._by_number.values() if one >= 0}
        return len(named | {one for one in self._by_name_token.values() if one >= 0})

    def add_row(self, tokens: list[str], offset: int) -> None:
        """Take one row ``( net ID NAME )`` of the table.

        Raises
        ------
        FileError
            The row is malformed, the number stands twice, or the name can't be used.
        """
        if len(tokens) != 5 or not tokens[2].isdecimal():
            raise FileError(offset, "an entry of the net table is malformed", '(net ID "NAME")')
        self.exists = True
        name = self.name(tokens[3], offset)
        if tokens[2] in self._by_number:
            raise FileError(offset, f"net number {tokens[2][:20]} stands twice in the net table")
        if name and self.builder.net_number(name) is not None:
            self.warn(
                "net-named-twice",
                f"net {name[:40]!r} stands under two numbers of the net table: one net",
                offset,
            )
        self._by_number[tokens[2]] = self.builder.add_net(name) if name else -1

    def name(self, token: str, offset: int) -> str:
        """The name in a token.

        Raises
        ------
        FileError
            It holds a control character or is too long.
        """
        name = plain(token)
        if is_bad_name(name):
            raise FileError(
                offset,
                "a name holds a control character or is too long",
                f"a printable name of at most {limits.MAX_NAME_CHARS} characters",
                "name-invalid",
            )
        return name

    def close(self) -> None:
        """No new nets from now on: the board is frozen; an unknown name is then no net."""
        self.closed = True

    def index_of_text(self, arguments: str, split: Callable[[str], list[str]], offset: int) -> int:
        """Like ``index`` for the text between ``net`` and the bracket; remembered by that text."""
        found = self._by_arguments.get(arguments)
        if found is None:
            tokens = split(arguments)
            found = self.index(tokens, offset)
            if len(tokens) < 2 or self._by_name_token.get(tokens[1]) == found:
                self._by_arguments[arguments] = found
        return found

    def index(self, tokens: list[str], offset: int) -> int:
        """Index of the net that the arguments of a ``net`` node name, -1 for no net.

        One bare integer is a number of the table, anything else a name; number 0 is no net, with
        a table or without one [kicad].

        Raises
        ------
        FileError
            The number is not in the table, or the name can't be used.
        """
        first = tokens[0] if tokens else '""'
        if first[:1] != '"' and first.isdecimal() and (self.exists or len(tokens) > 1):
            found = self._by_number.get(first)
            if found is None:
                raise FileError(
                    offset,
                    f"net number {first[:20]} is not in the net table",
                    "a number of the net table",
                    "reference-undefined",
                )
            if len(tokens) > 1:
                self._compare(found, tokens[1], offset)
            return found
        if first == "0":
            return -1
        known = self._by_name_token.get(first, -2)
        if known == -2:
            known = self._index_of_name(self.name(first, offset))
            self._by_name_token[first] = known
        return known

    def _index_of_name(self, name: str) -> int:
        if not name:
            return -1
        known = self.builder.net_number(name)
        if known is None:
            known = -1 if self.closed else self.builder.add_net(name)
        return known

    def _compare(self, found: int, token: str, offset: int) -> None:
        known = self._by_name_token.get(token)
        if known is None:
            name = plain(token)
            number = self.builder.net_number(name) if name else -1
            # A name that no net has must stay unknown: it may still be added as a name.
            known = -2 if number is None else number
            if known != -2:
                self._by_name_token[token] = known
        if known != found:
            self.warn(
                "net-name-differs",
                f"a pad calls its net {plain(token)!r}, the net table says otherwise; the table "
                "is taken",
                offset,
            )
