# SPDX-License-Identifier: GPL-3.0-or-later
"""Adding to board notes and taking from them: always a new value, the old one stays."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TypeVar

from netgraph.roles.notes import PART_TOPICS, BoardNotes, NetNote, PartNote, Topic

Note = TypeVar("Note", PartNote, NetNote)


def merged(old: Note, news: Note) -> Note:
    """The old note with what the new one says; where it says nothing the old word stays."""
    empty = type(news)()
    said = {
        one.name: getattr(news, one.name)
        for one in fields(news)
        if getattr(news, one.name) != getattr(empty, one.name)
    }
    return replace(old, **said)


def with_part(notes: BoardNotes, part_id: str, note: PartNote) -> BoardNotes:
    """The notes with this said of a part, added to what is noted of it already."""
    return replace(notes, parts={**notes.parts, part_id: merged(notes.part(part_id), note)})


def with_net(notes: BoardNotes, net: str, note: NetNote) -> BoardNotes:
    """The notes with this said of a net, added to what is noted of it already."""
    return replace(notes, nets={**notes.nets, net: merged(notes.net(net), note)})


def without_part(notes: BoardNotes, part_id: str) -> BoardNotes:
    """The notes with nothing said of a part; its open questions are asked again."""
    parts = {name: note for name, note in notes.parts.items() if name != part_id}
    gone = frozenset(one for one in notes.asked if one[0] in PART_TOPICS and one[1] == part_id)
    return replace(notes, parts=parts, asked=notes.asked - gone)


def without_net(notes: BoardNotes, net: str) -> BoardNotes:
    """The notes with nothing said of a net; its open questions are asked again."""
    nets = {name: note for name, note in notes.nets.items() if name != net}
    gone = frozenset(one for one in notes.asked if one[0] not in PART_TOPICS and one[1] == net)
    return replace(notes, nets=nets, asked=notes.asked - gone)


def with_asked(notes: BoardNotes, topic: Topic, name: str) -> BoardNotes:
    """The notes with one more question that nobody could answer."""
    return replace(notes, asked=notes.asked | {(topic, name)})
