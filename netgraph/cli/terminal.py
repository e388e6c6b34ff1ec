# SPDX-License-Identifier: GPL-3.0-or-later
"""A page on a terminal: the same lines as the plain form, with ruled tables and colours by rich.

The layout stays our own, so that a figure or a name is never broken where the plain text keeps it
whole. The colours only repeat what the words say; ``NO_COLOR`` and dumb terminals are rich's care.
"""

from __future__ import annotations

from rich.console import Console
from rich.text import Text as RichText

from netgraph.cli.page import GAP, Page, Table, Text, column_widths, plain_lines, wrapped_cells

STYLES = {
    "title": "bold",
    "label": "bold",
    "keep": "bold green",
    "replace": "green",
    "lift": "bold yellow",
    "lift-and-jumper": "yellow",
    "unsure": "magenta",
    "ok": "bold green",
    "no": "bold red",
    "veto": "red",
    "faint": "dim",
}


def write_blocks(page: Page, width: int) -> None:
    """Write the page to stdout, at most `width` cells wide."""
    console = Console(width=width, highlight=False, markup=False, emoji=False)
    for block in page.blocks:
        lines = [RichText(line.rstrip()) for line in plain_lines(block, width)]
        if isinstance(block, Text):
            _colour(block, lines)
        else:
            _rule(block, lines, width)
        for line in lines:
            console.print(line, soft_wrap=True)


def _colour(block: Text, lines: list[RichText]) -> None:
    for number, line in enumerate(lines):
        line.style = STYLES.get(block.style, "")
        if block.label and number == 0:
            line.stylize(STYLES["label"], 0, block.indent + len(block.label))


def _rule(block: Table, lines: list[RichText], width: int) -> None:
    """Make the headers bold and draw a line below them; records stay as they are."""
    widths = column_widths(block, width)
    if widths is None:
        return
    # Headers are single words or short, but a narrow page may wrap them.
    heads = max(len(cell) for cell in wrapped_cells(block.headers, widths))
    for line in lines[:heads]:
        line.stylize(STYLES["title"])
    rule = "\N{BOX DRAWINGS LIGHT HORIZONTAL}" * (sum(widths) + len(GAP) * (len(widths) - 1))
    lines.insert(heads, RichText(" " * block.indent + rule, style=STYLES["faint"]))
