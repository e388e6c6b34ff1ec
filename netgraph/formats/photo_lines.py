# SPDX-License-Identifier: GPL-3.0-or-later
"""Traced lines of a photo board: added, taken away, and following the names of parts and pads."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from netgraph import limits
from netgraph.errors import UsageError
from netgraph.formats.photo_board import PhotoBoard
from netgraph.formats.trace_lines import Fact, fact_of


def with_line(photo: PhotoBoard, text: str) -> PhotoBoard:
    """One more traced line; see ``trace_lines`` for what it may say.

    Raises
    ------
    BoardFileError
        The line can't be understood, or there are too many.
    UsageError
        It holds a line break, or says nothing.
    """
    if "\n" in text or "\r" in text:
        raise UsageError("a line can't hold a line break")
    fact = fact_of(text, len(photo.traced) + 1)
    if fact is not None and fact.kind == "named":
        raise UsageError(
            "a part on photographs is renamed where it was set, not by a line",
            hint=f"netgraph photo part FILE {fact.part} --named {fact.name}, or Change on the page",
        )
    if fact is None:
        raise UsageError("the line says nothing", hint="pads such as C12.1 L3.2 : VSYS")
    if len(photo.traced) >= limits.MAX_TRACE_LINES:
        raise UsageError(f"more than {limits.MAX_TRACE_LINES} lines (MAX_TRACE_LINES)")
    return replace(photo, traced=(*photo.traced, text.strip()))


def without_line(photo: PhotoBoard, number: int, text: str) -> PhotoBoard:
    """Without one traced line; `number` counts from 1, `text` is what it should say.

    Raises
    ------
    UsageError
        That line says something else.
    """
    if not 1 <= number <= len(photo.traced) or photo.traced[number - 1] != text:
        raise UsageError(f"line {number} is another one meanwhile")
    return replace(photo, traced=(*photo.traced[: number - 1], *photo.traced[number:]))


def facts_of(photo: PhotoBoard) -> list[Fact]:
    """What the traced lines say, one by one."""
    found = (fact_of(line, i + 1) for i, line in enumerate(photo.traced))
    return [one for one in found if one is not None]


def reworded(line: str, change: Callable[[str], str]) -> str:
    """The line with its words for parts and pads changed; a net's name and values are none."""
    words = line.split()
    until = len(words)
    if ":" in words:
        until = words.index(":")
    elif (len(words) > 1 and words[1] == "=") or (len(words) == 3 and words[1].casefold() == "is"):
        until = 1
    changed = []
    for i, word in enumerate(words):
        tilde = "~" if i == 0 and word.startswith("~") else ""
        changed.append(tilde + change(word[len(tilde) :]) if i < until else word)
    return " ".join(changed) if changed != words else line


def lines_without(photo: PhotoBoard, is_gone: Callable[[str], bool]) -> PhotoBoard:
    """Traced lines without the words that are gone; a line that then joins nothing goes whole."""
    kept = []
    for number, line in enumerate(photo.traced, start=1):
        fact = fact_of(line, number)
        if fact is None:
            kept.append(line)
            continue
        if fact.part:
            if not is_gone(fact.part):
                kept.append(line)
            continue
        pads = [pad for pad in fact.pads if not is_gone(f"{pad[0]}.{pad[1]}")]
        if len(pads) == len(fact.pads):
            kept.append(line)
            continue
        enough = {"join": 1 if fact.name else 2, "apart": 2}.get(fact.kind, 1)
        if len(pads) < enough:
            continue
        gone = reworded(line, lambda word: "" if is_gone(word) else word)
        kept.append(" ".join(gone.split()))
    return replace(photo, traced=tuple(kept))
