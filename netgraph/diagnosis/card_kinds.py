# SPDX-License-Identifier: GPL-3.0-or-later
"""Which kinds of bench card there are, and what each field of each kind must hold.

One table, by the contract of the JSON Lines form; ``diagnosis.cards`` reads by it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

Form = Literal["number", "amount", "text", "yes-no", "place", "side", "points", "word"]
"""``amount`` is a number that is not negative; ``place`` a name or {x_mm, y_mm, side}."""


@dataclass(frozen=True, slots=True)
class CardField:
    """What a field holds: its form, the words it may be, whether it may be left out or null."""

    form: Form
    words: tuple[str, ...] = ()
    required: bool = True
    null: bool = False


_AT: Final = CardField("place")
_AT_MAYBE: Final = CardField("place", required=False)
_VALUE: Final = CardField("number")
_AMOUNT: Final = CardField("amount")
_TEXT: Final = CardField("text")
_TEXT_MAYBE: Final = CardField("text", required=False)
_YES_NO: Final = CardField("yes-no")
_AMOUNT_MAYBE: Final = CardField("amount", required=False)


def _word(*words: str, required: bool = True) -> CardField:
    return CardField("word", words, required)


_REF: Final = {"ref": _TEXT}
_WORK: Final = {
    "at": _AT_MAYBE,
    "board": CardField("yes-no", required=False),
    "method": _TEXT_MAYBE,
    "hours": _AMOUNT_MAYBE,
}
_OVER_RANGE: Final = CardField("amount", null=True)

CARD_FIELDS: Final[dict[str, dict[str, CardField]]] = {
    "ohms": {"at": _AT, "to": _AT_MAYBE, "value": _OVER_RANGE},
    "diode": {
        "at": _AT,
        "value": _OVER_RANGE,
        "red": _word("ground", "at", required=False),
    },
    "volts": {
        "at": _AT,
        "to": _AT_MAYBE,
        "value": _VALUE,
        "state": _word("standby", "key", "running", required=False),
    },
    "draw": {
        "at": _AT_MAYBE,
        "volts": CardField("number", required=False),
        "value": _AMOUNT_MAYBE,
        "state": _word("before-key", "after-key", "steady", "loop"),
        "period_s": _AMOUNT_MAYBE,
        "low": _AMOUNT_MAYBE,
        "high": _AMOUNT_MAYBE,
    },
    "inject": {
        "at": _AT,
        "set_volts": _AMOUNT,
        "limit_amps": _AMOUNT,
        "volts": _AMOUNT_MAYBE,
        "amps": _AMOUNT_MAYBE,
        "mode": _word("cv", "cc", required=False),
    },
    "drop": {"from": _AT, "to": _AT, "value": _VALUE},
    "warm": {"at": _AT, "value": CardField("number", required=False)},
    "cold": {"at": _AT_MAYBE, "value": CardField("number", required=False)},
    "temp": {"at": _AT, "value": _VALUE},
    "seen": {"at": _AT_MAYBE, "what": _TEXT_MAYBE},
    "not-seen": {"at": _AT_MAYBE, "what": _TEXT_MAYBE},
    "usb": {"seen": _word("none", "rom", "normal")},
    "clock": {"at": _AT, "present": _YES_NO},
    "boot": {"stage": _word("none", "logo", "loop", "prompt", "unlocked", "data")},
    "unplug": _REF,
    "plug": _REF,
    "shield": {"ref": _TEXT_MAYBE, "off": CardField("yes-no", required=False)},
    "lift": _REF,
    "fit": {"ref": _TEXT, "from": _word("same", "donor", "new", required=False)},
    "jumper": _REF,
    "cut": {"net": _TEXT, "at": _AT_MAYBE},
    "open-to-test": _REF,
    "clean": _WORK,
    "dry": _WORK,
    "cell": {"connected": _YES_NO},
    "power": {"on": _YES_NO, "at": _AT_MAYBE, "volts": CardField("number", required=False)},
    "frame": {
        "file": _TEXT,
        "side": CardField("side", required=False),
        "points": CardField("points", required=False),
    },
    "profile": {"file": _TEXT},
    "ambient": {"value": _VALUE},
    "freeze": {"at": _AT, "cleared": _AT_MAYBE},
    "photo": {"file": _TEXT_MAYBE},
    "note": {"text": _TEXT},
    "waive": {"what": _TEXT, "why": _TEXT},
    "undo": {"id": _TEXT},
}
"""Kind -> its own fields. Diode mode may be over range like ohms."""

SHARED_FIELDS: Final[dict[str, CardField]] = {
    "sd": _AMOUNT_MAYBE,
    "instrument": _TEXT_MAYBE,
    "time": _TEXT_MAYBE,
    "id": _TEXT_MAYBE,
}
"""What any card may carry besides."""

PART_KINDS: Final = ("unplug", "plug", "lift", "fit", "jumper", "open-to-test")
"""Kinds whose `ref` is a part of the board."""
