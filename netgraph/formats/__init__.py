# SPDX-License-Identifier: GPL-3.0-or-later
"""Files in, boards out: one module a format, chosen by content. Knows no roles and no physics."""

from netgraph.formats.reading import Reader, read_board, read_boards, readers

__all__ = ["Reader", "read_board", "read_boards", "readers"]
