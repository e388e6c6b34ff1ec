# SPDX-License-Identifier: GPL-3.0-or-later
"""A human answer as a list of blocks: texts, labelled items and tables; and its plain form.

Plain text has no boxes and no colours and never grows wider than the page: long lines wrap at
blanks, long names break only where nothing else helps, nothing is ever cut off. Control characters
of names from files are made visible here, in one place.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from unicodedata import combining, east_asian_width

from netgraph.errors import visible
from netgraph.net_names import quoted

GAP = "  "
HARD_BLANK = "\N{NO-BREAK SPACE}"
"""Stands for a blank inside a name until the lines are made. No text from outside can hold one:
`visible` writes it as an escape."""

LEAST_COLUMN = 10
"""Below this width a column of prose is no pleasure to read."""


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph; `style` is a word that a terminal may colour, `label` stands out before it."""

    text: str
    indent: int = 0
    style: str = ""
    label: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under headers; `right` are the numbers of the columns that are set to the right."""

    headers: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: frozenset[int] = frozenset()
    indent: int = 2


Block = Text | Table


@dataclass
class Page:
    """Collects the blocks of one answer."""

    blocks: list[Block] = field(default_factory=list)

    def title(self, text: str) -> None:
        """A line that stands out."""
        self.blocks.append(Text(visible(text), style="title"))

    def text(self, text: str, *, indent: int = 0, style: str = "") -> None:
        """A paragraph."""
        self.blocks.append(Text(visible(text), indent, style))

    def item(self, label: str, text: str, *, indent: int = 2, style: str = "") -> None:
        """A label with its text, continued below the text's beginning."""
        self.blocks.append(Text(visible(text), indent, style, visible(label)))

    def names(self, label: str, names: Iterable[str], *, indent: int = 2, comma: str = ",") -> None:
        """A label with a list of names; a line never ends inside a name that holds blanks."""
        shown = f"{comma} ".join(visible(quoted(name)).replace(" ", HARD_BLANK) for name in names)
        self.blocks.append(Text(shown, indent, "", visible(label)))

    def blank(self) -> None:
        """An empty line."""
        self.blocks.append(Text(""))

    def section(self, text: str) -> None:
        """An empty line and a title."""
        self.blank()
        self.title(text)

    def table(
        self,
        headers: Sequence[str],
        rows: Iterable[Sequence[str]],
        *,
        right: Iterable[int] = (),
        indent: int = 2,
    ) -> None:
        """Rows under headers."""
        shown = tuple(tuple(visible(cell) for cell in row) for row in rows)
        self.blocks.append(Table(tuple(headers), shown, frozenset(right), indent))

    def plain(self, width: int) -> str:
        """The page as plain text, each line at most `width` cells wide."""
        lines = [line.rstrip() for block in self.blocks for line in plain_lines(block, width)]
        return "\n".join(lines) + "\n" if lines else ""


def cells(text: str) -> int:
    """How many cells of a terminal the text takes: wide signs two, combining ones none."""
    if text.isascii():
        return len(text)
    return sum(
        0 if combining(char) else 2 if east_asian_width(char) in "WF" else 1 for char in text
    )


def wrap(text: str, width: int) -> list[str]:
    """Lines of at most `width` cells, broken at blanks; inside a word only if it is too long.

    >>> wrap("feeds 3V3_AUDIO alone", 10)
    ['feeds', '3V3_AUDIO', 'alone']
    """
    width = max(width, 2)
    lines = [""]
    for word in text.split(" "):
        joined = f"{lines[-1]} {word}" if lines[-1] else word
        if cells(joined) <= width:
            lines[-1] = joined
            continue
        if lines[-1]:
            lines.append("")
        for char in word:
            if cells(lines[-1] + char) > width:
                lines.append("")
            lines[-1] += char
    return lines


def plain_lines(block: Block, width: int) -> Iterator[str]:
    """The lines of one block."""
    if isinstance(block, Text):
        yield from (line.replace(HARD_BLANK, " ") for line in text_lines(block, width))
        return
    widths = column_widths(block, width)
    pad = " " * block.indent
    if widths is None:
        yield from record_lines(block, width)
        return
    for row in (block.headers, *block.rows):
        wrapped = wrapped_cells(row, widths)
        for number in range(max(len(lines) for lines in wrapped)):
            pieces = [lines[number] if number < len(lines) else "" for lines in wrapped]
            yield pad + GAP.join(
                " " * (size - cells(piece)) + piece
                if column in block.right
                else piece + " " * (size - cells(piece))
                for column, (piece, size) in enumerate(zip(pieces, widths, strict=True))
            )


def wrapped_cells(row: Sequence[str], widths: Sequence[int]) -> list[list[str]]:
    """The lines of each cell of a row."""
    return [wrap(cell, size) for cell, size in zip(row, widths, strict=True)]


def text_lines(block: Text, width: int) -> Iterator[str]:
    """A paragraph, hung below its label."""
    indent = min(block.indent, width // 2)
    label = f"{block.label}{GAP}" if block.label else ""
    hang = indent + cells(label)
    if hang > width // 2 or not block.text:
        # A label as long as that stands on lines of its own.
        for line in wrap(label.strip(), width - indent) if label else ():
            yield " " * indent + line
        label, hang = "", indent + (2 if label else 0)
        if not block.text and block.label:
            return
    for number, line in enumerate(wrap(block.text, width - hang)):
        yield (" " * indent + label if number == 0 and label else " " * hang) + line


def column_widths(table: Table, width: int) -> list[int] | None:
    """Width of each column so that the table fits; None when no decent one does."""
    columns = list(zip(table.headers, *table.rows, strict=True))
    widths = [max(cells(cell) for cell in column) for column in columns]
    # No narrower than the longest word, unless that word is a monster.
    least = [
        min(size, max(LEAST_COLUMN, min(30, max(cells(w) for c in column for w in c.split(" ")))))
        for size, column in zip(widths, columns, strict=True)
    ]
    room = width - table.indent - len(GAP) * (len(widths) - 1)
    if sum(least) > room:
        return None
    while sum(widths) > room:
        slack = [size - low for size, low in zip(widths, least, strict=True)]
        widest = max(range(len(widths)), key=lambda column: (slack[column] > 0, widths[column]))
        widths[widest] -= min(slack[widest], sum(widths) - room)
        if slack[widest] <= 0:
            return None
    return widths


def record_lines(table: Table, width: int) -> Iterator[str]:
    """Each row as labelled lines, for pages too narrow for the table."""
    for row in table.rows:
        for column, (header, cell) in enumerate(zip(table.headers, row, strict=True)):
            if cell:
                indent = table.indent + (2 if column else 0)
                yield from text_lines(Text(cell, indent, label=header), width)
