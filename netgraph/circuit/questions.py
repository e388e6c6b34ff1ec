# SPDX-License-Identifier: GPL-3.0-or-later
"""Which readings are asked? Bench cards, one JSON object a line, or a set that suits the fault."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

from netgraph import limits
from netgraph.errors import BoardFileError
from netgraph.model import Board
from netgraph.reasons import Reason, reason

QuestionKind = Literal["ohms", "diode", "volts", "draw", "inject", "warm", "cold"]

KINDS: Final = ("ohms", "diode", "volts", "draw", "inject", "warm", "cold")
TAKEN_OFF: Final = ("lift", "open-to-test")
_OTHER: Final = frozenset(
    {"drop", "temp", "seen", "not-seen", "usb", "clock", "boot", "unplug", "plug", "shield",
     "fit", "jumper", "cut", "clean", "dry", "cell", "power", "frame", "profile", "ambient",
     "freeze", "photo", "note", "waive", "undo"}
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Question:
    """One reading to predict.

    Attributes
    ----------
    at, to
        Nets, by name; `to` None is ground. For ``warm`` and ``cold`` `at` is a part.
    measured
        What was read, if it was; infinite is over range.
    volts, limit_amps
        What a supply is set to: the reading's own for ``draw`` and ``inject``, that of the last one
        for ``volts``, ``warm`` and ``cold``.
    fed
        Net on which that supply stands.
    usb
        Whether that supply is a USB port with a meter in its cable.
    """

    kind: QuestionKind
    at: str
    to: str | None = None
    measured: float | None = None
    red: Literal["ground", "at"] = "ground"
    volts: float | None = None
    limit_amps: float | None = None
    fed: str | None = None
    card: str | None = None
    usb: bool = False
    off: tuple[str, ...] = ()


@dataclass
class Asked:
    """Questions, in the order of the cards, and what could not be asked."""

    questions: list[Question] = field(default_factory=list)
    skipped: list[Reason] = field(default_factory=list)


def read_cards(text: str, board: Board, grounds: frozenset[str], path: str = "cards") -> Asked:
    """Questions from bench cards, one JSON object a line.

    Raises
    ------
    BoardFileError
        A line is no JSON object or a field has no sensible value; says at which line.
    UnknownNameError
        A card names a net, part or pad that the board does not have.
    """
    asked = Asked()
    state = _State()
    cards: list[tuple[int, dict[str, object]]] = []
    undone: set[str] = set()
    lines = text.split("\n")
    if len(lines) > limits.MAX_CARDS:
        raise BoardFileError(
            "limit-exceeded", f"more than {limits.MAX_CARDS} lines of cards (MAX_CARDS)", path=path
        )
    for number, line in enumerate(lines, start=1):
        if line.strip():
            card = _card(line, number, path)
            cards.append((number, card))
            if card.get("kind") == "undo" and isinstance(card.get("id"), str):
                undone.add(str(card["id"]))
    for number, card in cards:
        if str(card.get("id", "")) not in undone or card.get("kind") == "undo":
            _take(card, number, path, board, grounds, asked, state)
    return asked


@dataclass
class _State:
    """What the cards before have left on the bench."""

    fed: str | None = None
    volts: float | None = None
    limit_amps: float | None = None
    off: list[str] = field(default_factory=list)


def _card(line: str, number: int, path: str) -> dict[str, object]:
    try:
        found = json.loads(line)
    except (ValueError, RecursionError) as error:
        column = getattr(error, "colno", None)
        raise BoardFileError(
            "file-malformed", "no JSON object", path=path, line=number, column=column,
            expected="one bench card a line", hint='{"kind": "ohms", "at": "VSYS", "value": 3.2}',
        ) from None  # fmt: skip
    if not isinstance(found, dict):
        raise BoardFileError(
            "file-malformed", "no JSON object", path=path, line=number, expected="a bench card"
        )
    return found


def _take(
    card: dict[str, object],
    number: int,
    path: str,
    board: Board,
    grounds: frozenset[str],
    asked: Asked,
    state: _State,
) -> None:
    kind = card.get("kind")
    if kind in KINDS:
        try:
            _question(card, board, grounds, asked, state)
        except _FieldError as bad:
            raise BoardFileError(
                "number-invalid", str(bad), path=path, line=number, hint="plain numbers in SI units"
            ) from None
    elif kind in TAKEN_OFF:
        state.off.append(board.part(str(card.get("ref", ""))).id)
    elif kind == "fit":
        gone = board.part(str(card.get("ref", ""))).id
        state.off = [one for one in state.off if one != gone]
    elif kind == "power" and card.get("on") is False:
        state.fed = None
    elif kind in _OTHER:
        asked.skipped.append(reason("predict-card-skipped", kind=str(kind), line=number))
    else:
        raise BoardFileError(
            "file-malformed", f"{str(kind)[:40]!r} is no kind of card", path=path, line=number,
            expected="a kind such as ohms, diode, volts, draw, inject, warm",
        )  # fmt: skip


class _FieldError(ValueError):
    pass


def _question(
    card: dict[str, object],
    board: Board,
    grounds: frozenset[str],
    asked: Asked,
    state: _State,
) -> None:
    kind = str(card["kind"])
    name = str(card["id"]) if isinstance(card.get("id"), str) else None
    off = tuple(state.off)
    measured = _measured(card, kind)
    if kind in ("warm", "cold"):
        place = card.get("at")
        if not isinstance(place, str) or state.fed is None:
            asked.skipped.append(reason("predict-no-supply", kind=kind))
            return
        part = board.part(place.partition(".")[0]).id
        asked.questions.append(
            Question("warm" if kind == "warm" else "cold", part, measured=measured, card=name,
                     fed=state.fed, volts=state.volts, limit_amps=state.limit_amps, off=off)
        )  # fmt: skip
        return
    at = net_at(card.get("at"), board, grounds)
    to = None if card.get("to") is None else net_at(card.get("to"), board, grounds)
    if kind == "ohms":
        if at == to or (to is None and at in grounds):
            raise _FieldError("both leads are on the same net")
        asked.questions.append(Question("ohms", at, to, measured, card=name, off=off))
        return
    if at in grounds:
        raise _FieldError("the place is on ground")
    if kind == "diode":
        red: Literal["ground", "at"] = "at" if card.get("red") == "at" else "ground"
        asked.questions.append(Question("diode", at, None, measured, red, card=name, off=off))
    elif kind == "volts":
        if state.fed is None or card.get("state", "standby") != "standby":
            asked.skipped.append(reason("predict-no-supply", kind=kind))
            return
        asked.questions.append(
            Question("volts", at, to, measured, card=name, fed=state.fed, volts=state.volts,
                     limit_amps=state.limit_amps, off=off)
        )  # fmt: skip
    else:
        _supplied(card, kind, at, measured, name, asked, state)


def _supplied(
    card: dict[str, object],
    kind: str,
    at: str,
    measured: float | None,
    name: str | None,
    asked: Asked,
    state: _State,
) -> None:
    if kind == "draw":
        if card.get("state", "before-key") != "before-key":
            asked.skipped.append(reason("predict-needs-running", kind=kind))
            return
        volts, limit = _number(card, "volts"), 10.0
    else:
        volts, limit = _number(card, "set_volts"), _number(card, "limit_amps")
    state.fed, state.volts, state.limit_amps = at, volts, limit
    what: QuestionKind = "draw" if kind == "draw" else "inject"
    asked.questions.append(
        Question(what, at, None, measured, volts=volts, limit_amps=limit, fed=at, card=name,
                 off=tuple(state.off))
    )  # fmt: skip


def _measured(card: Mapping[str, object], kind: str) -> float | None:
    key = "amps" if kind == "inject" else "value"
    if key not in card:
        return None
    value = card[key]
    if value is None:
        return math.inf if kind in ("ohms", "diode") else None
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise _FieldError(f"{key!r} is no number")
    if value < 0 and kind in ("ohms", "draw"):
        raise _FieldError(f"{key!r} is negative")
    return float(value)


def _number(card: Mapping[str, object], key: str) -> float:
    value = card.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _FieldError(f"{key!r} is missing or no number")
    if not (math.isfinite(value) and 0 < value <= limits.MAX_VOLTS):
        raise _FieldError(f"{key!r} is {value:g}")
    return float(value)


def net_at(place: object, board: Board, grounds: frozenset[str]) -> str:
    """The net that a card's place means: a net, a pad REF.PIN, or a part with one net of its own.

    Raises
    ------
    UnknownNameError
        The board has none of these.
    """
    name = place if isinstance(place, str) else ""
    if board.has_net(name) or name in board.other_names:
        return board.known_as(name)
    if name == "ground" and grounds:
        return min(grounds)
    ref, _, pin = name.rpartition(".")
    if ref and board.has_part(ref):
        nets = board.nets_of_part[ref]
        on = [net for net in nets if pin in board.pins_on_net(ref, net)]
        if on:
            return on[0]
    if board.has_part(name):
        own = [net for net in board.nets_of_part[name] if net not in grounds]
        if len(own) == 1:
            return own[0]
    # Neither: the error of the net names the nearest ones.
    return board.known_as(name)


def suited(
    nets: Sequence[str],
    entries: Iterable[tuple[str, float | None, bool]],
    pairs: Iterable[tuple[str, str | None]],
) -> list[Question]:
    """Readings that tell something about a fault: ohms, diode mode and a first injection at its
    nets, ohms across it, and what a supply at each entry gives.

    Parameters
    ----------
    nets
        Nets that the fault touches.
    entries
        Nets by which power comes in, with their nominal volts and whether that is a USB port.
    pairs
        Ends of the fault's paths.
    """
    found: list[Question] = []
    for net in nets:
        found.append(Question("ohms", net))
        found.append(Question("diode", net))
        found.append(Question("diode", net, red="at"))
    found += [Question("ohms", a, b) for a, b in pairs if b is not None]
    found += [
        Question("inject", net, volts=FIRST_VOLTS, limit_amps=FIRST_AMPS, fed=net) for net in nets
    ]
    found += [
        Question("draw", net, volts=volts, limit_amps=ENTRY_AMPS, fed=net, usb=usb)
        for net, volts, usb in entries
        if volts is not None and volts > 0
    ]
    return found


FIRST_VOLTS, FIRST_AMPS, ENTRY_AMPS = 0.3, 0.5, 1.0
"""First step of an injection by bench practice, and a usual limit at an entry [practice]."""
