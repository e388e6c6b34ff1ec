# SPDX-License-Identifier: GPL-3.0-or-later
"""Bench cards: every kind of the contract is read, every slip is one line with its place."""

from __future__ import annotations

import contextlib
import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netgraph import limits
from netgraph.diagnosis.card_kinds import CARD_FIELDS
from netgraph.diagnosis.cards import Spot, parse_cards
from netgraph.diagnosis.cards_file import read_cards
from netgraph.errors import BoardFileError, CardsError

# One card of each kind, typed by hand from the table of cards in the design paper "Architecture".
EXAMPLES = """
{"kind": "ohms", "at": "VSYS", "to": "GND", "value": 0.09, "sd": 0.02, "instrument": "meter"}
{"kind": "ohms", "at": "VSYS", "value": null}
{"kind": "diode", "at": "VSYS", "value": 0.41, "red": "ground"}
{"kind": "volts", "at": "VSYS", "to": "GND", "value": 3.7, "state": "standby"}
{"kind": "draw", "at": "VBAT", "volts": 3.7, "value": 0.001, "state": "before-key"}
{"kind": "draw", "volts": 3.7, "state": "loop", "period_s": 6, "low": 0.1, "high": 0.9}
{"kind": "inject", "at": "C8.1", "set_volts": 0.3, "limit_amps": 0.5, "amps": 0.5, "mode": "cc"}
{"kind": "drop", "from": "C8.1", "to": "C9.1", "value": 0.0041}
{"kind": "warm", "at": {"x_mm": 10.5, "y_mm": 3, "side": "top"}, "value": 2.5}
{"kind": "cold", "at": "VSYS"}
{"kind": "temp", "at": "U9", "value": 61}
{"kind": "seen", "at": "C34", "what": "deposit"}
{"kind": "not-seen", "at": "J3", "what": "deposit"}
{"kind": "usb", "seen": "none"}
{"kind": "clock", "at": "Y1", "present": true}
{"kind": "boot", "stage": "loop"}
{"kind": "unplug", "ref": "J3"}
{"kind": "plug", "ref": "J3"}
{"kind": "shield", "ref": "SH1", "off": true}
{"kind": "lift", "ref": "C34"}
{"kind": "fit", "ref": "C34", "from": "new"}
{"kind": "jumper", "ref": "FB1"}
{"kind": "cut", "net": "VSYS", "at": "C34"}
{"kind": "open-to-test", "ref": "L1"}
{"kind": "clean", "at": "board", "method": "brush", "hours": 0.3}
{"kind": "dry", "board": true, "method": "oven 65", "hours": 4}
{"kind": "cell", "connected": false}
{"kind": "power", "on": true, "at": "VBAT", "volts": 3.7}
{"kind": "frame", "file": "a.csv", "side": "top", "points": [[[1, 2], [3, 4]]]}
{"kind": "profile", "file": "p.csv"}
{"kind": "ambient", "value": 22.5}
{"kind": "freeze", "at": "C34", "cleared": "C35"}
{"kind": "photo", "file": "top.jpg"}
{"kind": "note", "text": "came in a bag of rice"}
{"kind": "waive", "what": "photo", "why": "taken by the owner", "time": "10:04", "id": "w1"}
{"kind": "undo", "id": "w1"}
"""


def test_every_kind_of_the_contract_is_read() -> None:
    cards = parse_cards(EXAMPLES)
    read = {one.kind for one in cards} | {"undo", "waive"}
    assert read == set(CARD_FIELDS)
    assert len(cards) == 34


def test_an_undone_card_does_not_stand() -> None:
    assert "waive" not in {one.kind for one in parse_cards(EXAMPLES)}


def test_values_are_plain_si_numbers_and_null_is_over_range() -> None:
    first, second, *_ = parse_cards(EXAMPLES)
    assert first.number("value") == 0.09
    assert second.number("value") is None
    warm = next(one for one in parse_cards(EXAMPLES) if one.kind == "warm")
    assert warm.place("at") == Spot(10.5, 3.0, "top")


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('{"kind": "ohms", "at": "VSYS"}', "lacks value"),
        ('{"kind": "ohms", "at": "VSYS", "value": "0.09"}', "SI units as plain numbers"),
        ('{"kind": "ohms", "at": "VSYS", "value": -1}', "is negative"),
        ('{"kind": "ohms", "at": "VSYS", "value": true}', "a plain number"),
        ('{"kind": "ohms", "at": "VSYS", "value": NaN}', "NaN is no number"),
        ('{"kind": "ohms", "at": "VSYS", "value": 1e999}', "out of range"),
        ('{"kind": "ohms", "at": "VSYS", "vaule": 1, "value": 1}', "has no field"),
        ('{"kind": "ohms", "at": "VSYS", "value": 1, "value": 2}', "given twice"),
        ('{"kind": "ohms", "at": "", "value": 1}', "name of a net, part or pad"),
        ('{"kind": "ohms", "at": {"x_mm": 1}, "value": 1}', "no place"),
        ('{"kind": "ohm", "at": "VSYS", "value": 1}', "near: ohms"),
        ('{"kind": "diode", "at": "VSYS", "value": 1, "red": "left"}', "ground or at"),
        ('{"kind": "draw", "value": 1, "state": "on"}', "before-key or after-key"),
        ('{"kind": "draw", "state": "steady"}', "lacks value"),
        ('{"kind": "cell", "connected": "no"}', "true or false"),
        ('{"at": "VSYS"}', "names no kind"),
        ('["ohms"]', "no JSON object"),
        ('{"kind": "ohms", ', "one JSON object on a line"),
        ('{"kind": "undo", "id": "x"}', "no earlier card"),
        ("[" * 100_000, "nested too deep"),
        ('{"kind": "note", "text": 1' + "0" * 5000 + "}", "number too long"),
    ],
)
def test_a_slip_is_told_with_its_line(line: str, told: str) -> None:
    with pytest.raises(CardsError) as caught:
        parse_cards(f'\n{{"kind": "cell", "connected": false}}\n{line}\n', path="c.jsonl")
    assert told in caught.value.one_line()
    assert caught.value.one_line().startswith("c.jsonl:3")
    assert len(caught.value.one_line()) < 500
    assert caught.value.exit_status == 3


def test_an_id_stands_for_one_card() -> None:
    with pytest.raises(CardsError, match="used before, on line 1"):
        parse_cards('{"kind": "note", "text": "a", "id": "1"}\n' * 2)
    with pytest.raises(CardsError, match="withdrawn already"):
        parse_cards(
            '{"kind": "note", "text": "a", "id": "1"}\n' + '{"kind": "undo", "id": "1"}\n' * 2
        )


def test_limits_hold(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("netgraph.diagnosis.cards.MAX_CARDS", 3)
    with pytest.raises(CardsError, match="more than 3 cards"):
        parse_cards('{"kind": "note", "text": "a"}\n' * 4)
    assert limits.MAX_CARDS > 10_000


def test_a_file_that_is_no_text_is_told(tmp_path: Path) -> None:
    file = tmp_path / "c.jsonl"
    file.write_bytes(b'{"kind": "cell", "connected": false}\n\xff\xfe')
    with pytest.raises(CardsError, match="not UTF-8"):
        read_cards(file)
    with pytest.raises(BoardFileError, match="no such file"):
        read_cards(tmp_path / "none.jsonl")


def test_a_mark_at_the_beginning_and_windows_line_ends_are_no_fault(tmp_path: Path) -> None:
    file = tmp_path / "c.jsonl"
    file.write_bytes(b'\xef\xbb\xbf{"kind": "cell", "connected": false}\r\n')
    assert len(read_cards(file)) == 1


@given(st.text(max_size=200))
def test_no_text_ends_in_anything_but_cards_or_an_error_of_ours(text: str) -> None:
    with contextlib.suppress(CardsError):
        parse_cards(text)


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=6,
)
FIELDS = sorted({name for fields in CARD_FIELDS.values() for name in fields})


@given(st.sampled_from(sorted(CARD_FIELDS)), st.dictionaries(st.sampled_from(FIELDS), JSON))
def test_no_card_of_wild_values_ends_in_anything_else(kind: str, values: dict[str, object]) -> None:
    with contextlib.suppress(CardsError):
        parse_cards(json.dumps({"kind": kind, **values}))
