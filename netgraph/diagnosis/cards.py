# SPDX-License-Identifier: GPL-3.0-or-later
"""Bench cards as JSON Lines: one reading or action a line, checked field by field.

A card that can't be understood stops the reading with its line: a reading taken for another one
is worse than none. `undo` withdraws an earlier card by its `id`; it solders nothing back.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Final, NoReturn

from netgraph.diagnosis.card_kinds import CARD_FIELDS, SHARED_FIELDS, CardField
from netgraph.errors import ECHOED, CardsError
from netgraph.limits import MAX_CARDS, MAX_CARDS_BYTES, MAX_NAME_CHARS

LARGEST: Final = 1e15
"""No reading of a bench comes near; larger figures are slips (our choice)."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on the board, in millimetres, y downwards."""

    x_mm: float
    y_mm: float
    side: str


@dataclass(frozen=True, slots=True)
class Card:
    """One reading or action as read. Values are SI; `line` is where it stands in its file."""

    kind: str
    fields: Mapping[str, object]
    line: int = 0
    id: str = ""

    def number(self, name: str) -> float | None:
        """A figure of the card; None when it is null (over range) or not given."""
        value = self.fields.get(name)
        return float(value) if isinstance(value, int | float) else None

    def text(self, name: str) -> str:
        """A text of the card, empty when not given."""
        value = self.fields.get(name)
        return value if isinstance(value, str) else ""

    def place(self, name: str) -> str | Spot | None:
        """A name or spot of the card; None when not given."""
        value = self.fields.get(name)
        return value if isinstance(value, str | Spot) else None

    def yes(self, name: str) -> bool | None:
        """A yes or no of the card; None when not given."""
        value = self.fields.get(name)
        return value if isinstance(value, bool) else None


@dataclass(frozen=True, slots=True)
class Cards:
    """The cards that stand, in the order in which they were typed, withdrawn ones left out."""

    cards: tuple[Card, ...] = ()
    path: str = field(default="", compare=False)

    def __iter__(self) -> Iterator[Card]:
        return iter(self.cards)

    def __len__(self) -> int:
        return len(self.cards)


NO_CARDS: Final = Cards()


def parse_cards(text: str, *, path: str = "") -> Cards:
    """Cards from the text of a JSON Lines file; blank lines are let through.

    Parameters
    ----------
    path
        Only for the place of an error.

    Raises
    ------
    CardsError
        A line is no card; with line and what was expected.

    >>> [one.kind for one in parse_cards('{"kind": "cell", "connected": false}')]
    ['cell']
    """
    if len(text) > MAX_CARDS_BYTES:
        raise CardsError(f"more than {MAX_CARDS_BYTES} characters of cards", path=path)
    found: list[Card] = []
    ids: dict[str, int] = {}
    gone: set[str] = set()
    # Only line feeds part lines: other signs that some call line ends may stand inside a text.
    for number, line in enumerate(text.split("\n"), start=1):
        if not line.strip():
            continue
        if len(found) >= MAX_CARDS:
            raise CardsError(f"more than {MAX_CARDS} cards", path=path, line=number)
        card = _Line(path, number).card(line)
        if card.kind == "undo":
            target = card.text("id")
            if target not in ids or target in gone:
                why = "is withdrawn already" if target in gone else "belongs to no earlier card"
                shown = json.dumps(target[:ECHOED], ensure_ascii=False)
                raise CardsError(f"undo: the id {shown} {why}", path=path, line=number)
            gone.add(target)
            continue
        if card.id:
            if card.id in ids:
                raise CardsError(
                    f"the id {json.dumps(card.id[:ECHOED])} was used before, on line "
                    f"{ids[card.id]}",
                    path=path,
                    line=number,
                )
            ids[card.id] = number
        found.append(card)
    return Cards(tuple(one for one in found if not one.id or one.id not in gone), path)


class _Line:
    """Checks one line; knows its place for the error."""

    def __init__(self, path: str, number: int) -> None:
        self.path = path
        self.number = number

    def fault(
        self, message: str, *, column: int | None = None, expected: str = "", hint: str = ""
    ) -> NoReturn:
        raise CardsError(
            message, path=self.path, line=self.number, column=column, expected=expected, hint=hint
        )

    def card(self, line: str) -> Card:
        values = self.object_of(line)
        kind = values.pop("kind", None)
        if not isinstance(kind, str):
            self.fault("the card names no kind", expected='"kind": one of the kinds of card')
        if kind not in CARD_FIELDS:
            near = get_close_matches(kind[:ECHOED], CARD_FIELDS, n=3)
            hint = f"near: {', '.join(near)}" if near else "docs/reference/cards.md lists them"
            self.fault(f"no kind of card is named {_short(kind)}", hint=hint)
        own = CARD_FIELDS[kind]
        known = {**SHARED_FIELDS, **own}
        fields: dict[str, object] = {}
        for name, value in values.items():
            if name not in known:
                near = get_close_matches(name[:ECHOED], known, n=1)
                hint = f"meant {near[0]}?" if near else ""
                self.fault(
                    f"a card of the kind {kind} has no field {_short(name)}",
                    expected=", ".join(own),
                    hint=hint,
                )
            fields[name] = self.value(kind, name, known[name], value)
        for name, form in own.items():
            if form.required and name not in fields:
                self.fault(
                    f"the card {kind} lacks {name}", expected=_said(form), hint=_hint(form, name)
                )
        if kind == "draw" and fields["state"] != "loop" and fields.get("value") is None:
            self.fault("the card draw lacks value", expected="amperes, a plain number")
        identity = fields.get("id")
        own_id = identity if isinstance(identity, str) and kind != "undo" else ""
        return Card(kind, fields, self.number, own_id)

    def object_of(self, line: str) -> dict[str, object]:
        def once(pairs: list[tuple[str, object]]) -> dict[str, object]:
            found = dict(pairs)
            if len(found) != len(pairs):
                self.fault("a field is given twice")
            return found

        def constant(name: str) -> NoReturn:
            self.fault(f"{name} is no number", expected="a plain number, or null for over range")

        try:
            value = json.loads(line, object_pairs_hook=once, parse_constant=constant)
        except json.JSONDecodeError as error:
            self.fault(
                f"no JSON: {error.msg[:1].lower()}{error.msg[1:]}",
                column=error.colno,
                expected="one JSON object on a line of its own",
            )
        except (RecursionError, ValueError):
            self.fault("no usable JSON: nested too deep, or a number too long")
        if not isinstance(value, dict):
            self.fault("this line is no JSON object", expected='{"kind": ..., ...}')
        return value

    def value(self, kind: str, name: str, form: CardField, value: object) -> object:
        what = f"{name} of {kind}"
        if value is None and (form.null or not form.required):
            return None
        if form.form in ("number", "amount"):
            return self.number_of(what, form, value)
        if form.form == "yes-no":
            if not isinstance(value, bool):
                self.fault(f"{what} is {_short(value)}", expected="true or false")
            return value
        if form.form == "points":
            return self.points(what, value)
        if form.form == "place" and isinstance(value, dict):
            return self.spot(what, value)
        if not isinstance(value, str) or not value.strip():
            self.fault(f"{what} is {_short(value)}", expected=_said(form))
        if len(value) > MAX_NAME_CHARS:
            self.fault(f"{what} has more than {MAX_NAME_CHARS} characters")
        words = ("top", "bottom") if form.form == "side" else form.words
        if words and value not in words:
            self.fault(f"{what} is {_short(value)}", expected=" or ".join(words))
        return value

    def number_of(self, what: str, form: CardField, value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            hint = "SI units as plain numbers: 0.0041 for 4.1 mV" if isinstance(value, str) else ""
            self.fault(f"{what} is {_short(value)}", expected=_said(form), hint=hint)
        if not -LARGEST <= value <= LARGEST or not math.isfinite(value):
            self.fault(f"{what} is out of range", expected=f"at most {LARGEST:g}")
        if form.form == "amount" and value < 0:
            self.fault(f"{what} is negative", expected=_said(form))
        return float(value)

    def spot(self, what: str, value: dict[str, object]) -> Spot:
        if set(value) != {"x_mm", "y_mm", "side"}:
            self.fault(f"{what} is no place", expected='a name, or {"x_mm", "y_mm", "side"}')
        number = CardField("number")
        side = value["side"]
        if side not in ("top", "bottom"):
            self.fault(f"side of {what} is {_short(side)}", expected="top or bottom")
        return Spot(
            self.number_of(f"x_mm of {what}", number, value["x_mm"]),
            self.number_of(f"y_mm of {what}", number, value["y_mm"]),
            str(side),
        )

    def points(self, what: str, value: object) -> object:
        if not isinstance(value, list) or len(value) > 100:
            self.fault(f"{what} is {_short(value)}", expected="a list of at most 100 point pairs")
        return tuple(json.dumps(one, sort_keys=True) for one in value)


def _said(form: CardField) -> str:
    words = {
        "number": "a plain number",
        "amount": "a plain number, zero or more",
        "text": "a text",
        "yes-no": "true or false",
        "place": "the name of a net, part or pad (REF.PIN)",
        "side": "top or bottom",
        "points": "a list",
        "word": " or ".join(form.words),
    }[form.form]
    return f"{words}, or null for over range" if form.null else words


def _hint(form: CardField, name: str) -> str:
    return f'for over range write "{name}": null' if form.null else ""


def _short(value: object) -> str:
    try:
        text = json.dumps(value, ensure_ascii=False)
    except ValueError:
        text = "too long a number"
    return f"{text[:ECHOED]}..." if len(text) > ECHOED else text
