# SPDX-License-Identifier: GPL-3.0-or-later
"""Numbers and texts in the form in which a KiCad file holds them."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from netgraph.errors import WriterError, visible

_ESCAPES = {"\\": r"\\", "\n": r"\n", "\r": r"\r", "\t": r"\t"}


def mm(length_nm: int) -> str:
    """A length in millimetres, exact, without exponent.

    >>> mm(1_500_000), mm(-1), mm(0)
    ('1.5', '-0.000001', '0')
    """
    whole, part = divmod(abs(int(length_nm)), 1_000_000)
    sign = "-" if length_nm < 0 else ""
    return f"{sign}{whole}.{part:06d}".rstrip("0").rstrip(".") if part else f"{sign}{whole}"


def degrees(angle_deg: float) -> str | None:
    """An angle, exact, within one turn; None for 0, which the file leaves out.

    >>> degrees(90.0), degrees(0.0), degrees(-22.5)
    ('90', None, '-22.5')
    """
    angle = float(angle_deg)
    if abs(angle) > 360.0:
        angle %= 360.0
    if angle == 0.0:
        return None
    if angle == int(angle):
        return str(int(angle))
    return format(Decimal(repr(angle)), "f")


def text(said: str, what: str) -> str:
    r"""A text as kiutils needs it: kiutils puts it into quotes and escapes only the quotes.

    A backslash at the end is written by its number: kiutils itself would read ``\\"`` as an
    escaped quote.

    Raises
    ------
    WriterError
        It holds a control character other than tab and line break, or half a character.
    """
    if said.isprintable() and "\\" not in said:
        return said
    bad = [one for one in said if (one < " " and one not in _ESCAPES) or one == "\x7f"]
    if bad or any("\ud800" <= one <= "\udfff" for one in said):
        raise WriterError(
            f"{what} holds a control character: {visible(said[:60])}", hint="rename it first"
        )
    body = "".join(_ESCAPES.get(one, one) for one in said)
    return body[:-2] + r"\134" if said.endswith("\\") else body


def point(x_nm: int, y_nm: int) -> Any:
    """A kiutils position."""
    from kiutils.items.common import Position

    return Position(mm(x_nm), mm(y_nm))
