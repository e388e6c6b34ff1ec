# SPDX-License-Identifier: GPL-3.0-or-later
"""The project's pages, and what stands in them: links, anchors, commands, Python examples."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.support import ROOT

PAGES = sorted(
    [*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md"), *(ROOT / "sample_boards").rglob("*.md")]
)
GENERATED = {"docs/reference/commands.md"}
"""Made from the program's own help and held equal to it by another test."""

_LINK = re.compile(r"(?<!!)\[[^\]]*\]\(([^)\s]+)\)")
_FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_SPAN = re.compile(r"`([^`\n]+)`")


def name_of(path: Path) -> str:
    """The page's path from the root of the repository."""
    return path.relative_to(ROOT).as_posix()


@dataclass(frozen=True)
class Page:
    path: Path
    text: str

    @property
    def name(self) -> str:
        return name_of(self.path)

    def blocks(self, language: str) -> list[str]:
        """The fenced blocks of one language."""
        return [body for kind, body in self.all_blocks() if kind == language]

    def all_blocks(self) -> list[tuple[str, str]]:
        """All fenced blocks in the order of the page, each with its language."""
        return _FENCE.findall(self.text)

    def links(self) -> list[str]:
        """Targets of all links outside of code."""
        return _LINK.findall(_SPAN.sub("", _FENCE.sub("", self.text)))

    def anchors(self) -> set[str]:
        """Anchors of the headings, as a page in the browser makes them."""
        heads = re.findall(r"^#{1,6} (.+)$", _FENCE.sub("", self.text), re.MULTILINE)
        return {anchor_of(head) for head in heads}

    def commands(self) -> Iterator[str]:
        """Each call of the program that the page shows: in blocks, after `$`, or in a sentence."""
        for body in self.blocks("console"):
            yield from re.findall(r"^\$ (netgraph .+)$", body, re.MULTILINE)
        outside = _FENCE.sub("", self.text)
        yield from re.findall(r"^    (netgraph .+)$", outside, re.MULTILINE)
        for span in _SPAN.findall(outside):
            if span.startswith("netgraph "):
                yield span

    def runnable(self) -> list[list[str]]:
        """Commands in blocks that name the sample board, as words without `netgraph`."""
        lines = [line for body in self.blocks("console") for line in body.splitlines()]
        lines += [f"$ {line}" for line in re.findall(r"^    (netgraph .+)$", self.text, re.M)]
        return [
            shlex.split(line[2:])[1:]
            for line in lines
            if line.startswith("$ netgraph ") and "lark.kicad_pcb" in line
        ]


def anchor_of(heading: str) -> str:
    """Lower case, blanks to hyphens, punctuation gone."""
    plain = re.sub(r"[`*]", "", heading).strip().lower()
    return re.sub(r"[^\w\- ]", "", plain).replace(" ", "-")


def page(name: str) -> Page:
    path = ROOT / name
    return Page(path, path.read_text(encoding="utf-8"))


def pages() -> list[Page]:
    return [Page(path, path.read_text(encoding="utf-8")) for path in PAGES]
