# SPDX-License-Identifier: GPL-3.0-or-later
"""Roles of all parts and kinds of all nets of a board: the one function of this room."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from netgraph.model.board import Board
from netgraph.net_names import volts_in_name
from netgraph.reasons import reason
from netgraph.roles.answer import LIKELY, NetKind, NetRole, PartRole, Roles
from netgraph.roles.bus_groups import mark_buses
from netgraph.roles.ground import Ground, find_grounds
from netgraph.roles.net_kinds import refine_kinds
from netgraph.roles.nets import RAIL_SCORE, NetJudge
from netgraph.roles.notes import AGREE, NO_NOTES, BoardNotes
from netgraph.roles.parts import PartJudge
from netgraph.roles.promote import Promoter
from netgraph.roles.values import PartText
from netgraph.roles.wiring import Wiring

_CARRY_VOLTS: Final[frozenset[NetKind]] = frozenset({"rail", "reference", "high-voltage"})


def find_roles(board: Board, notes: BoardNotes = NO_NOTES) -> Roles:
    """Judge every part and every net.

    Parts are judged twice: once to find the supplies, once more knowing them. What a person says
    in the notes replaces the answer before nets are judged, so that it propagates.

    Parameters
    ----------
    board
        Any board, also a partial one.
    notes
        A person's corrections; they win.

    Returns
    -------
    Roles
        One answer per part and per net, each with confidence 0..1 and reasons. `unknown` where
        nothing speaks clearly.
    """
    study = _study(board, notes)
    wiring = study.wiring
    parts = _judge_parts(board, notes, study)
    judge = NetJudge(wiring, parts, study.ground_facts)
    nets = {net.name: _noted_net(judge.judge(net.index), notes) for net in board.nets}
    nets = mark_buses(wiring, Promoter(judge, parts, nets).run())
    nets = refine_kinds(wiring, parts, nets)
    return Roles({one.part_id: one for one in parts}, nets, _fitted(board, notes))


def part_judge(board: Board, notes: BoardNotes = NO_NOTES) -> PartJudge:
    """The judge of the second round, which knows grounds and supplies: for those who want the
    evidence itself.
    """
    return _study(board, notes)


class _Study(PartJudge):
    """A judge of parts that also keeps the facts about the grounds."""

    ground_facts: list[Ground]


def _study(board: Board, notes: BoardNotes) -> _Study:
    wiring = Wiring(board, _fitted(board, notes))
    texts = [PartText(part) for part in board.parts]
    grounds = [
        one
        for one in find_grounds(wiring)
        if notes.net(board.nets[one.net].name).kind in (None, "ground")
    ]
    ground_nets = frozenset(one.net for one in grounds)
    parts = _judge_parts(board, notes, PartJudge(wiring, texts, ground_nets, frozenset()))
    judge = NetJudge(wiring, parts, grounds)
    supplies = frozenset(
        net.index
        for net in board.nets
        if net.index not in judge.grounds and judge.rail_score(net.index)[0] >= RAIL_SCORE
    )
    study = _Study(wiring, texts, frozenset(judge.grounds), supplies)
    study.ground_facts = list(judge.grounds.values())
    return study


def _fitted(board: Board, notes: BoardNotes) -> frozenset[str]:
    said = {part_id: note.fitted for part_id, note in notes.parts.items()}
    return frozenset(
        part.id
        for part in board.parts
        if (part.fitted if said.get(part.id) is None else said[part.id])
    )


def _judge_parts(board: Board, notes: BoardNotes, judge: PartJudge) -> list[PartRole]:
    found: list[PartRole] = []
    for part in board.parts:
        answer = judge.judge(part.index)
        note = notes.part(part.id)
        if note.role is not None:
            overruled = answer.role if answer.confidence >= LIKELY else None
            answer = replace(
                answer,
                role=note.role,
                confidence=1.0,
                reasons=(reason("user-says", why=note.why or note.role),),
                source="user",
                overruled=overruled if overruled != note.role else None,
            )
        if note.enabled_by is not None or note.needs_first:
            answer = replace(answer, enabled_by=note.enabled_by, needs_first=note.needs_first)
        found.append(answer)
    return found


def _noted_net(answer: NetRole, notes: BoardNotes) -> NetRole:
    note = notes.net(answer.net)
    if note.kind is not None:
        answer = replace(
            answer,
            kind=note.kind,
            confidence=1.0,
            reasons=(reason("user-says", why=note.why or note.kind),),
            source="user",
        )
    if note.nominal_volts is not None:
        told = volts_in_name(answer.net)
        slip = told is not None and (
            abs(note.nominal_volts) > abs(told) * (1 + AGREE) or note.nominal_volts * told < 0
        )
        answer = replace(
            answer,
            nominal_volts=note.nominal_volts,
            volts_source="user",
            disputed_volts=told if slip and not note.why else None,
        )
        if note.kind is None and answer.kind not in _CARRY_VOLTS:
            # Whoever gives a net a nominal says that it is a supply.
            answer = replace(
                answer,
                kind="rail",
                confidence=1.0,
                reasons=(reason("user-says", why=note.why or "nominal volts given"),),
                source="user",
            )
    return answer
