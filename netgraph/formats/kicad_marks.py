# SPDX-License-Identifier: GPL-3.0-or-later
"""What KiCad 6 has no word for, kept in a saved board as footprint properties of our own.

The writer adds such a property only where the plain file would be read back differently; the
reader takes it off the fields again. KiCad keeps properties that it does not know.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence

NOT_FITTED = "netgraph.not_fitted"
"""Why the part is not fitted, in the words of the first file; empty text: it is fitted."""

ATTRIBUTES = "netgraph.attributes"
"""All words of ``attr`` as a JSON list (``dnp`` and others came after KiCad 6)."""

NET_TIES = "netgraph.net_ties"
"""Groups of joined pins as a JSON list of lists."""

KEYS = (NOT_FITTED, ATTRIBUTES, NET_TIES)


def dump_words(words: Iterable[str]) -> str:
    """A list of words as text.

    >>> dump_words(["smd", "dnp"])
    '["smd", "dnp"]'
    """
    return json.dumps(list(words), ensure_ascii=False)


def dump_groups(groups: Iterable[Iterable[str]]) -> str:
    """A list of lists of words as text."""
    return json.dumps([list(group) for group in groups], ensure_ascii=False)


def load_words(text: str) -> tuple[str, ...] | None:
    """The words that ``dump_words`` wrote; None when the text is something else."""
    found = _json(text)
    return _words(found)


def load_groups(text: str) -> list[tuple[str, ...]] | None:
    """The groups that ``dump_groups`` wrote; None when the text is something else."""
    found = _json(text)
    if not isinstance(found, list):
        return None
    groups = [_words(group) for group in found]
    known = [group for group in groups if group is not None]
    return known if len(known) == len(groups) else None


def _json(text: str) -> object:
    # A short text is all that the writer makes; json nests by recursion, so depth is bounded too.
    if len(text) > 65_536 or text.count("[") > 10_000:
        return None
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        return None


def _words(found: object) -> tuple[str, ...] | None:
    if isinstance(found, list) and all(isinstance(one, str) for one in found):
        return tuple(found)
    return None


def implied_ties(footprint: str, tags: str) -> list[tuple[str, ...]]:
    """Up to KiCad 6 the words "net tie" in name or tags mean: all pads are joined [kicad].

    >>> implied_ties("NetTie:NetTie-2_SMD", "")
    [('*',)]
    """
    named = f"{footprint} {tags}".casefold()
    return [("*",)] if "net tie" in named or "nettie" in named else []


def plain_attributes(attributes: Sequence[str]) -> tuple[str, ...]:
    """The words of ``attr`` that KiCad 6 knows, in the order in which they are written."""
    kinds = [word for word in attributes if word in ("smd", "through_hole")][:1]
    flags = [
        word
        for word in ("board_only", "exclude_from_pos_files", "exclude_from_bom")
        if word in attributes
    ]
    return (*kinds, *flags)
