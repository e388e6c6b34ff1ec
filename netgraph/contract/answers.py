# SPDX-License-Identifier: GPL-3.0-or-later
"""Every JSON answer as plain dictionaries; the form of each is in ``contract.models``.

``ref`` is the file's text and ``id`` the part's identity where both are given. Where an answer
gives ``ref`` alone it is the identity, so that it can be typed back in; the two differ only for
designators that the file repeats.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from netgraph.model import Board, BoardWarning, Part
from netgraph.model.board import Side
from netgraph.reasons import Reason

if TYPE_CHECKING:
    from netgraph.plan.inject_types import Injection
    from netgraph.plan.review_types import Choice, Question
    from netgraph.plan.sites import Site
    from netgraph.rails import RailMember
    from netgraph.rails.tree import Feeder, Rail, RailTree
    from netgraph.roles.answer import Roles
    from netgraph.roles.notes import BoardNotes, NetNote, PartNote
    from netgraph.roles.notes_check import Conflict, NotesProblem

Json = dict[str, object]

PAD_COLUMNS = (
    "id",
    "ref",
    "pin",
    "ordinal",
    "net",
    "x_mm",
    "y_mm",
    "angle_deg",
    "side",
    "copper_side",
)
"""Fields of ``pads[]`` and columns of its CSV form, in this order."""


def answer(command: str, board: Board | None = None, notes: str | None = None) -> Json:
    """The head that all answers share: schema, and which board and notes it speaks of."""
    head: Json = {"schema": f"netgraph.{command}/1"}
    if board is not None:
        head |= {
            "file": board.source.file_name,
            "notes": notes,
            "partial": board.partial,
            "not_known": reasons_json(board.not_known),
        }
    return head


def millimetres(nanometres: int) -> float:
    """Exact: the shortest text of the result has at most six decimals."""
    return nanometres / 1e6


def reasons_json(reasons: Iterable[Reason]) -> list[Json]:
    """Code, parameters and text of each reason."""
    return [one.as_json() for one in reasons]


# -- what is on the board ----------------------------------------------------------------------


def show_fields(board: Board) -> Json:
    """Counts, source and warnings of a board."""
    left_off = [part.id for part in board.parts if not part.fitted]
    return {
        "name": board.name,
        "format": board.source.format,
        "format_version": board.source.version,
        "generator": board.source.generator,
        "sha256": board.source.sha256,
        "fingerprint": board.fingerprint,
        "parts": len(board.parts),
        "pads": len(board.columns),
        "nets": len(board.nets),
        "copper_layers": len(board.copper_layers),
        "copper_layer_names": list(board.copper_layers),
        "parts_top": _on_side(board, "top"),
        "parts_bottom": _on_side(board, "bottom"),
        "not_fitted": left_off,
        "capabilities": sorted(board.capabilities),
        "largest_nets": largest_nets(board),
        "warnings": [warning_json(one) for one in board.warnings],
    }


def _on_side(board: Board, side: Side) -> int | None:
    return (
        sum(board.side_of(part.id) == side for part in board.parts) if board.knows_sides else None
    )


def largest_nets(board: Board, most: int = 8) -> list[Json]:
    """The nets with most pads: ground and the main rails stand out."""
    counted = sorted(
        ((len(board.pads_on_net(net.name)), net.name) for net in board.nets),
        key=lambda pair: (-pair[0], pair[1]),
    )
    return [{"net": name, "pads": count} for count, name in counted[:most]]


def warning_json(one: BoardWarning) -> Json:
    """A reader's warning."""
    return {"code": one.code, "text": one.text, "count": one.count, "line": one.line}


def pads_fields(board: Board) -> Json:
    """All pads, one row each, in the order of ``PAD_COLUMNS``."""
    placed = "has_positions" in board.capabilities
    rows = (
        (
            pad.part_id,
            pad.ref,
            pad.pin,
            pad.ordinal,
            pad.net,
            millimetres(pad.x_nm) if placed else None,
            millimetres(pad.y_nm) if placed else None,
            pad.angle_deg if placed else None,
            *((pad.side, pad.copper_side) if board.knows_side_of(pad.part_id) else (None, None)),
        )
        for pad in board.pads
    )
    return {"pads": [dict(zip(PAD_COLUMNS, row, strict=True)) for row in rows]}


def parts_fields(board: Board, roles: Roles) -> Json:
    """All parts with their roles."""
    return {"parts": [_part_json(board, roles, part) for part in board.parts]}


def _part_json(board: Board, roles: Roles, part: Part) -> Json:
    role = roles.parts[part.id]
    return {
        "id": part.id,
        "ref": part.ref,
        "value": part.value,
        "package": part.package,
        "side": board.side_of(part.id),
        **place_of(board, part),
        "role": role.role,
        "confidence": role.confidence,
        "source": role.source,
        "reasons": reasons_json(role.reasons),
        "fitted": part.id in roles.fitted,
        "not_fitted_because": part.not_fitted_because,
        "ohm": role.ohm,
        "farad": role.farad,
        "henry": role.henry,
        "nets": list(board.nets_of_part[part.id]),
    }


def place_of(board: Board, part: Part) -> Json:
    """Millimetres of the part's place; null where it isn't known."""
    placed = "has_positions" in board.capabilities or bool(part.x_nm or part.y_nm)
    return {
        "x_mm": millimetres(part.x_nm) if placed else None,
        "y_mm": millimetres(part.y_nm) if placed else None,
    }


# -- rails -------------------------------------------------------------------------------------


def rails_fields(tree: RailTree) -> Json:
    """The rail tree: grounds, entries, rails from the entries outwards."""
    return {
        "ground": list(tree.grounds),
        "entries": [rail.net for rail in tree if rail.kind == "entry"],
        "rails": [rail_json(rail) for rail in tree],
        "switch_nodes": [
            {
                "net": node.net,
                "converter": node.converter,
                "inductor": node.inductor,
                "in_net": node.in_net,
                "out_net": node.out_net,
                "kind": node.kind,
            }
            for node in tree.switch_nodes
        ],
        "cycles": [list(cycle) for cycle in tree.cycles],
    }


def rail_json(rail: Rail) -> Json:
    """One rail of the tree."""
    return {
        "net": rail.net,
        "kind": rail.kind,
        "nominal_volts": rail.nominal_volts,
        "volts_range": list(rail.volts_range) if rail.volts_range is not None else None,
        "feeders": [_feeder_json(one) for one in rail.feeders],
        "series": [{"ref": one.part_id, "to_net": one.to_net} for one in rail.series],
        "loads": list(rail.loads),
        "capacitors": len(rail.capacitors),
        "capacitor_refs": list(rail.capacitors),
        "always_on": rail.always_on,
        "confidence": rail.confidence,
        "reasons": reasons_json(rail.reasons),
    }


def _feeder_json(one: Feeder) -> Json:
    return {
        "ref": one.part_id,
        "from_net": one.from_net,
        "confidence": one.confidence,
        "kind": one.kind,
        "through": list(one.through),
        "reasons": reasons_json(one.reasons),
    }


def rail_fields(
    board: Board, roles: Roles, tree: RailTree, net: str, members: Sequence[RailMember]
) -> Json:
    """Who sits on one net, and which parts of it are not fitted."""
    role = roles.nets[net]
    rail = tree.by_net.get(net)
    rows = []
    for one in members:
        part = board.part(one.part_id)
        rows.append(
            {
                "ref": one.part_id,
                "role": one.role,
                "value": part.value,
                "pins": list(one.pins),
                "connection": one.connection,
                "other_nets": list(one.other_nets),
                "side": board.side_of(part.id),
                **place_of(board, part),
            }
        )
    return {
        "net": net,
        "kind": role.kind,
        "nominal_volts": role.nominal_volts if rail is None else rail.nominal_volts,
        "rail": None if rail is None else rail_json(rail),
        "parts": rows,
        "not_fitted": [one for one in board.parts_on_net[net] if one not in roles.fitted],
    }


# -- plans -------------------------------------------------------------------------------------


def inject_fields(plan: Injection) -> Json:
    """Where and up to what a net may be fed."""
    return plan.as_json()


def path_fields(
    net_a: str, net_b: str | None, sites: Sequence[Site], copper_fault: str = ""
) -> Json:
    """Places where two nets could be joined, the likeliest first; `net_b` null: any ground.

    `copper_fault` says why the drawn copper was left out.
    """
    return {
        "net_a": net_a,
        "net_b": net_b,
        "sites": [one.as_json() for one in sites],
        "copper_fault": copper_fault or None,
    }


# -- review ------------------------------------------------------------------------------------


def review_fields(questions: Sequence[Question], total: int) -> Json:
    """The questions, heaviest first, and how many there are in all."""
    return {"total": total, "questions": [_question_json(one) for one in questions]}


def _question_json(one: Question) -> Json:
    return {
        "about": one.about,
        "target": one.target,
        "question": one.asks.as_json(),
        "now": one.now.as_json(),
        "confidence": one.confidence,
        "weight": one.weight,
        "parts": one.parts,
        "kept": one.kept,
        "ceilings": one.ceilings,
        "why": one.why.as_json(),
        "choices": [_choice_json(one.target, choice) for choice in one.choices],
    }


def _choice_json(target: str, choice: Choice) -> Json:
    part, net = choice.part_note, choice.net_note
    return {
        "label": choice.label.as_json(),
        "part_note": None if part is None else _part_note(target, part),
        "net_note": None if net is None else _net_note(target, net),
        "typed": choice.typed,
        "gives_up": choice.gives_up,
    }


# -- the program and its notes -----------------------------------------------------------------


def notes_fields(
    board: Board,
    notes: BoardNotes,
    problems: Sequence[NotesProblem],
    conflicts: Sequence[Conflict] = (),
    *,
    exists: bool,
) -> Json:
    """A person's corrections, whether they fit the board, and where they contradict its file."""
    return {
        "exists": exists,
        "fingerprint": notes.fingerprint or None,
        "board_fingerprint": board.fingerprint,
        "parts": [_part_note(name, one) for name, one in sorted(notes.parts.items())],
        "nets": [_net_note(name, one) for name, one in sorted(notes.nets.items())],
        "fits": not problems,
        "problems": [{"code": one.code, "text": one.text} for one in problems],
        "conflicts": [
            {"about": one.about, "name": one.name, "key": one.key, "why": one.why.as_json()}
            for one in conflicts
        ],
        "asked": [{"about": topic, "target": name} for topic, name in sorted(notes.asked)],
    }


def _part_note(name: str, note: PartNote) -> Json:
    return {
        "ref": name,
        "role": note.role,
        "fitted": note.fitted,
        "keep": note.keep,
        "why": note.why,
        "enabled_by": None if note.enabled_by is None else list(note.enabled_by),
        "needs_first": list(note.needs_first),
    }


def _net_note(name: str, note: NetNote) -> Json:
    feeders = note.feeders
    return {
        "net": name,
        "kind": note.kind,
        "nominal_volts": note.nominal_volts,
        "feeders": None
        if feeders is None
        else [{"ref": one.part_id, "from_net": one.from_net} for one in feeders],
        "always_on": note.always_on,
        "why": note.why,
    }
