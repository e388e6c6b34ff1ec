# SPDX-License-Identifier: GPL-3.0-or-later
"""A question to a person with its choices, and the board notes that an answer becomes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal, TypeVar

from netgraph.errors import UsageError
from netgraph.reasons import Reason
from netgraph.roles.answer import NET_KINDS, ROLES
from netgraph.roles.note_edits import with_asked, with_net, with_part
from netgraph.roles.notes import MOST_VOLTS, PART_TOPICS, BoardNotes, NetNote, PartNote, Topic

Typed = Literal["role", "kind", "volts"]
"""What a person types where no ready choice fits."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One possible answer: its label in plain words, and the note it would set.

    Exactly one of these holds: a note stands ready (`part_note` or `net_note`); `typed` says what
    the person types to make the note; `gives_up` means that nobody knows, which is noted too.
    """

    label: Reason
    part_note: PartNote | None = None
    net_note: NetNote | None = None
    typed: Typed | None = None
    gives_up: bool = False


@dataclass(frozen=True, slots=True)
class Question:
    """One answer that is not sure, put as a question.

    `about` is the topic and `target` the part or net; `now` is the answer so far in plain words.
    `parts` and `kept` count what hangs on it, `ceilings` the rails whose injection ceiling counts
    the net; `weight` is made of them (see `find_questions`).
    """

    about: Topic
    target: str
    asks: Reason
    now: Reason
    confidence: float
    choices: tuple[Choice, ...]
    weight: float
    parts: int
    kept: int
    ceilings: int
    why: Reason

    @property
    def is_of_part(self) -> bool:
        """Whether it speaks of a part (else of a net)."""
        return self.about in PART_TOPICS


def answered(notes: BoardNotes, question: Question, choice: Choice, typed: str = "") -> BoardNotes:
    """The notes with this answer; nothing is written to a file.

    Parameters
    ----------
    choice
        One of the question's choices.
    typed
        What the person typed, for a choice that asks for it: a role, a kind, or volts.

    Raises
    ------
    UsageError
        The typed text is no such word, or no figure in volts that can be a nominal.
    """
    if choice.gives_up:
        return with_asked(notes, question.about, question.target)
    part_note, net_note = choice.part_note, choice.net_note
    if choice.typed == "role":
        part_note = PartNote(role=_word(typed, "role", _ROLE_OF))
    elif choice.typed == "kind":
        net_note = NetNote(kind=_word(typed, "kind", _KIND_OF))
    elif choice.typed == "volts":
        net_note = NetNote(nominal_volts=_volts(typed))
    if part_note is not None:
        return with_part(notes, question.target, part_note)
    return with_net(notes, question.target, net_note or NetNote())


W = TypeVar("W")
_ROLE_OF: Final = {str(one): one for one in ROLES}
_KIND_OF: Final = {str(one): one for one in NET_KINDS}


def _word(typed: str, what: str, known: Mapping[str, W]) -> W:
    text = "-".join(typed.lower().split())
    if text not in known:
        raise UsageError(f"no {what} is named {typed!r}", hint=f"one of: {', '.join(known)}")
    return known[text]


def _volts(typed: str) -> float:
    text = typed.strip().removesuffix("V").removesuffix("v").strip().replace(",", ".")
    try:
        volts = float(text)
    except ValueError:
        volts = math.nan
    if math.isnan(volts) or abs(volts) > MOST_VOLTS:
        raise UsageError(f"{typed!r} is no figure in volts", hint="such as 3.3 or -12")
    return volts
