# SPDX-License-Identifier: GPL-3.0-or-later
"""The pages hang together: links resolve, no page is lost, no address leads outside."""

from __future__ import annotations

import re

import pytest

from tests.docs.pages import PAGES, Page, name_of, page, pages
from tests.support import ROOT


def broken_links(one: Page) -> list[str]:
    found = []
    for link in one.links():
        target, _, anchor = link.partition("#")
        path = (one.path.parent / target).resolve() if target else one.path
        if not path.exists():
            found.append(f"{one.name}: {link} leads nowhere")
        elif anchor and path.suffix == ".md":
            other = Page(path, path.read_text(encoding="utf-8"))
            if anchor not in other.anchors():
                found.append(f"{one.name}: {link}: no such heading")
    return found


def test_every_link_and_anchor_resolves() -> None:
    assert [fault for one in pages() for fault in broken_links(one)] == []


def test_the_check_sees_a_broken_link_and_a_broken_anchor() -> None:
    bad = Page(ROOT / "README.md", "[a](nowhere.md) [b](docs/reference/errors.md#nothing) `[c](x)`")
    assert len(broken_links(bad)) == 2


def test_every_page_can_be_reached_from_the_readme() -> None:
    """A link to a folder reaches what lies in it."""
    waiting, seen = [ROOT / "README.md"], set()
    while waiting:
        path = waiting.pop()
        if path in seen:
            continue
        seen.add(path)
        if path.is_dir():
            waiting += path.glob("*.md")
        elif path.suffix == ".md":
            one = Page(path, path.read_text(encoding="utf-8"))
            waiting += [(path.parent / link.partition("#")[0]).resolve() for link in one.links()]
    lost = {name_of(path) for path in PAGES if path.is_relative_to(ROOT / "docs")} - {
        name_of(path) for path in seen if path.is_relative_to(ROOT)
    }
    assert lost == set()


@pytest.mark.parametrize("name", [name_of(path) for path in PAGES])
def test_no_page_leads_to_another_host_or_to_one_machine(name: str) -> None:
    text = page(name).text
    assert "://" not in text
    assert re.findall(r"(?:^|[\s(`'\"])(/[a-z]+/[a-z][\w./-]*)", text, re.MULTILINE) == []


def test_decisions_have_a_number_each_and_all_their_parts() -> None:
    """Numbers are given out in blocks, so gaps are fine; no number stands twice."""
    files = sorted((ROOT / "docs" / "decisions").glob("*.md"))
    numbers = [int(path.name[:4]) for path in files]
    assert len(numbers) >= 8
    assert len(set(numbers)) == len(numbers)
    for path in files:
        text = path.read_text(encoding="utf-8")
        assert text.startswith(f"# {path.name[:4]}: ")
        assert re.search(r"^Date: \d{4}-\d\d-\d\d\. Status: \w+", text, re.MULTILINE)
        for part in ("**Question.**", "**Choice.**", "**Why.**", "**What would change our mind.**"):
            assert part in text, f"{path.name} lacks {part}"
        assert 10 <= len(text.splitlines()) <= 20, path.name
