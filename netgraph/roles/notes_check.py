# SPDX-License-Identifier: GPL-3.0-or-later
"""Do board notes fit the board, and where do they say something else than its file?

What does not fit stops every command. What contradicts the file is only shown: the person wins.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final, Literal

from netgraph.errors import NotesError, UnknownNameError, visible
from netgraph.model import Board, Pad, Part
from netgraph.net_names import volts_in_name
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import NetKind, Role
from netgraph.roles.designator import designator_class, split_designator
from netgraph.roles.ground import is_chassis_name, is_ground_name
from netgraph.roles.notes import AGREE, PART_TOPICS, BoardNotes, FeederNote, NetNote, PartNote

SMALL_NODE: Final = 8
"""Our own choice: a switch node has no more parts than that."""


@dataclass(frozen=True, slots=True)
class NotesProblem:
    """Something in the notes that does not fit the board.

    `code` is ``other-netlist``, ``unknown-part``, ``unknown-net`` or ``feeder-not-on-net``.
    """

    code: str
    text: str


def check_notes(board: Board, notes: BoardNotes) -> tuple[NotesProblem, ...]:
    """What in the notes does not fit the board; empty when all is well.

    Notes without a fingerprint are taken as written for this board.
    """
    problems = []
    if notes.fingerprint and notes.fingerprint != board.fingerprint:
        problems.append(NotesProblem("other-netlist", "the notes were written for another netlist"))
    for name, part_note in notes.parts.items():
        problems += _unknown(board, "part", name, "notes on")
        for one in part_note.enabled_by or ():
            problems += _unknown(board, "part", one, f"what enables {name}:")
        for one in part_note.needs_first:
            problems += _unknown(board, "net", one, f"what {name} needs first:")
    for name, note in notes.nets.items():
        problems += _unknown(board, "net", name, "notes on")
        for feeder in note.feeders or ():
            unknown = _unknown(board, "part", feeder.part_id, f"a feeder of {name}:")
            if feeder.from_net is not None:
                unknown += _unknown(board, "net", feeder.from_net, f"a feeder of {name}:")
            problems += unknown
            if not unknown and board.has_net(name):
                problems += _touches(board, feeder, name)
    for topic, name in sorted(notes.asked):
        problems += _unknown(board, "part" if topic in PART_TOPICS else "net", name, "asked about")
    return tuple(problems)


def fitting_notes(
    board: Board, notes: BoardNotes, path: str, written_for: str | None = None
) -> BoardNotes:
    """The notes as they are meant for this board: on its nets by the names they have here.

    Parameters
    ----------
    path
        The notes file, for errors.
    written_for
        Another fingerprint that the notes may bear: that of a device with all its boards plugged
        in, where `board` has some unplugged.

    Raises
    ------
    NotesError
        They do not fit, or two of them speak of one net; the first problem is named.
    """
    if written_for is not None and notes.fingerprint == written_for:
        notes = replace(notes, fingerprint=board.fingerprint)
    nets: dict[str, NetNote] = {}
    for name, note in notes.nets.items():
        here = name if board.has_net(name) else board.other_names.get(name, name)
        if replace(nets.setdefault(here, note), why="") != replace(note, why=""):
            text = f"two notes speak of one net: {here} is also called {name} here"
            raise NotesError(text, path=path, hint="take one of them away")
    notes = replace(notes, nets=nets)
    problems = check_notes(board, notes)
    if problems:
        more = f", and {len(problems) - 1} more" if len(problems) > 1 else ""
        hint = "`netgraph notes check` lists all"
        raise NotesError(f"{problems[0].text}{more}", path=path, hint=hint)
    return notes


def _unknown(
    board: Board, what: Literal["part", "net"], name: str, where: str
) -> list[NotesProblem]:
    try:
        _ = board.part(name) if what == "part" else board.net(name)
    except UnknownNameError as error:
        code = f"unknown-{what}"
        return [NotesProblem(code, visible(f"{where} {name}: {error.message} ({error.hint})"))]
    return []


def _touches(board: Board, feeder: FeederNote, net: str) -> list[NotesProblem]:
    """A feeder has a pad on the net it takes from, or a coil on its switch node has; the fed net
    may lie behind its coil too.
    """
    nets = board.nets_of_part[feeder.part_id]
    if feeder.from_net is None or feeder.from_net in nets:
        return []
    for part_id in board.parts_on_net[feeder.from_net]:
        between = board.nets_of_part[part_id]
        # A node inside a converter is small; over ground or a supply everything is joined.
        if len(between) == 2 and any(
            one in nets and len(board.parts_on_net[one]) <= SMALL_NODE and not is_ground_name(one)
            for one in between
        ):
            return []
    text = f"{feeder.part_id} is said to feed {net} from {feeder.from_net}, but has no pad on it"
    return [NotesProblem("feeder-not-on-net", visible(text))]


# -- what does the file say? -------------------------------------------------------------------

_TWO_NETS: Final[frozenset[Role]] = frozenset(
    {"capacitor", "resistor", "inductor", "ferrite", "fuse", "crystal", "diode", "led"}
)
"""Letters of these classes say clearly what a part is; U, Q, K and the like stand for many."""
_NO_SUPPLY: Final[frozenset[NetKind]] = frozenset(
    {"signal", "clock", "reset", "enable", "bus", "no-connect"}
)


@dataclass(frozen=True, slots=True)
class Conflict:
    """A note that says something else than the board's file.

    `key` is the key of the note ("fitted", "role", "kind", "nominal_volts", "feeders").
    """

    about: Literal["part", "net"]
    name: str
    key: str
    why: Reason


def find_conflicts(board: Board, notes: BoardNotes) -> tuple[Conflict, ...]:
    """Where notes contradict the file: fitted marks, class letters, names, and types of pins.

    Names that the board does not have are left to `check_notes`.
    """
    found: list[Conflict] = []
    for name, part_note in sorted(notes.parts.items()):
        if name in board.nets_of_part:
            part = board.part(name)
            found += (Conflict("part", name, *one) for one in _of_part(board, part, part_note))
    for name, net_note in sorted(notes.nets.items()):
        if board.has_net(name):
            found += (Conflict("net", name, *one) for one in _of_net(board, name, net_note))
    return tuple(found)


def _of_part(board: Board, part: Part, note: PartNote) -> Iterator[tuple[str, Reason]]:
    if note.fitted is not None and note.fitted != part.fitted:
        if note.fitted:
            mark = part.not_fitted_because or "not fitted"
            yield "fitted", reason("file-not-fitted", part=part.id, mark=mark)
        elif "has_dnp" in board.capabilities:
            yield "fitted", reason("file-fitted", part=part.id)
    if note.role is None:
        return
    letters = designator_class(split_designator(part.ref).letters)
    if letters is not None and letters.roles[0] in _TWO_NETS and note.role not in letters.roles:
        yield (
            "role",
            reason(
                "file-letters", letters=letters.letters, meaning=letters.meaning, role=note.role
            ),
        )


def _of_net(board: Board, name: str, note: NetNote) -> Iterator[tuple[str, Reason]]:
    told = volts_in_name(name)
    said = note.nominal_volts
    if told is not None and said is not None and abs(told - said) > AGREE * abs(told):
        yield "nominal_volts", reason("file-name-volts", net=name, volts=told, said=said)
    if is_ground_name(name) and said:
        yield "nominal_volts", reason("file-name-ground", net=name)
    grounded = is_ground_name(name) or is_chassis_name(name)
    if grounded and note.kind not in (None, "ground", "chassis"):
        yield "kind", reason("file-name-ground", net=name)
    if note.kind == "ground" and told:
        yield "kind", reason("file-name-supply", net=name, volts=told)
    if note.kind in _NO_SUPPLY:
        typed = sorted({p.part_id for p in _pads(board, name) if p.pin_type.startswith("power_")})
        if typed:
            yield "kind", reason("file-supply-pins", net=name, part=typed[0], count=len(typed))
    for feeder in note.feeders or ():
        yield from (("feeders", one) for one in _of_feeder(board, name, feeder))


def _of_feeder(board: Board, net: str, feeder: FeederNote) -> Iterator[Reason]:
    """Pins typed the other way round: an input on the fed net, an output on the feeding one."""
    if feeder.part_id not in board.nets_of_part:
        return
    if not board.part(feeder.part_id).fitted:
        yield reason("file-feeder-off", part=feeder.part_id)
    types = {p.pin_type for p in _pads(board, net) if p.part_id == feeder.part_id}
    if types and all(one.startswith(("power_in", "input")) for one in types):
        yield reason("file-feeder-input", part=feeder.part_id, net=net)
    if feeder.from_net is None or not board.has_net(feeder.from_net):
        return
    types = {p.pin_type for p in _pads(board, feeder.from_net) if p.part_id == feeder.part_id}
    if types and all(one.startswith(("power_out", "output")) for one in types):
        yield reason("file-feeder-output", part=feeder.part_id, net=feeder.from_net)


def _pads(board: Board, net: str) -> tuple[Pad, ...]:
    return tuple(board.pad(int(index)) for index in board.pads_on_net(net))
