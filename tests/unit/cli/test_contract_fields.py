# SPDX-License-Identifier: GPL-3.0-or-later
"""Every JSON answer keeps the contract.

The required fields are typed here by hand from the table of the contract in the design paper
"Architecture", so that a model that loses one is found out.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

from netgraph.contract.models import ANSWERS
from netgraph.errors import DataMissingError
from netgraph.roles.answer import ROLES
from tests.unit.cli.run import netgraph
from tests.unit.cli.small_board import TURNED, write_small_board

WORDS: dict[str, tuple[str, ...]] = {
    "show": ("FILE",),
    "pads": ("FILE",),
    "parts": ("FILE",),
    "rails": ("FILE",),
    "rail": ("FILE", "VSYS"),
    "lift": ("FILE", "--short", "VSYS"),
    "inject": ("FILE", "VSYS"),
    "path": ("FILE", "VSYS", "GND"),
    "plan": ("FILE", "--short", "VSYS", "--with-heat"),
    "power": ("FILE",),
    "review": ("FILE",),
    "predict": ("FILE", "--at", "VSYS"),
}

# Command -> fields of the answer and, behind a dot, of the rows of a list in it.
CONTRACT: dict[str, str] = {
    "show": "format parts pads nets copper_layers warnings",
    "pads": "pads pads.id pads.ref pads.pin pads.ordinal pads.net pads.x_mm pads.y_mm "
    "pads.angle_deg pads.side pads.copper_side",
    "parts": "parts parts.id parts.ref parts.value parts.package parts.side parts.role "
    "parts.confidence parts.reasons parts.fitted",
    "rails": "ground rails rails.net rails.kind rails.nominal_volts rails.feeders rails.series "
    "rails.loads rails.capacitors rails.always_on rails.confidence rails.reasons",
    "rail": "net parts parts.ref parts.role parts.pins parts.connection parts.other_nets "
    "parts.side parts.x_mm parts.y_mm",
    "lift": "goal keeps keeps.ref keeps.function keeps.kind keeps.why parts parts.ref "
    "parts.verdict parts.why parts.loses parts.frees parts.jumper parts.open_to_test",
    "inject": "verdict points points.ref points.pin points.side points.x_mm points.y_mm "
    "points.why first_volts stop_volts max_volts max_volts_because max_amps max_watts "
    "max_seconds also_powered also_powered.net also_powered.through vetoes warnings",
    "path": "sites sites.kind sites.a sites.b sites.gap_mm sites.refs sites.likelihood sites.why",
    "predict": "fault share readings readings.kind readings.at readings.unit readings.fault "
    "readings.sound readings.measured readings.inside feeding islands remarks",
    "plan": "net goal steps steps.action steps.target steps.why steps.check steps.undo "
    "steps.stop steps.cautions",
    "power": "verdict because feed volts limit_amps expected_amps off_if clear_first "
    "stays_unplugged",
    "review": "total questions questions.about questions.target questions.now "
    "questions.confidence questions.weight questions.why questions.choices",
}


@pytest.fixture
def small(tmp_path: Path) -> Path:
    return write_small_board(tmp_path)


def ask(command: str, board: Path) -> dict[str, Any]:
    words = [str(board) if word == "FILE" else word for word in WORDS[command]]
    return netgraph(command, *words, "--json").json()


def unknown_fields(form: BaseModel, place: str = "") -> list[str]:
    """Fields of the answer that no model names."""
    found = [f"{place}.{name}" for name in form.model_extra or {}]
    for name in type(form).model_fields:
        value = getattr(form, name)
        for one in value if isinstance(value, list) else [value]:
            if isinstance(one, BaseModel):
                found += unknown_fields(one, f"{place}.{name}")
    return found


def has_field(answer: dict[str, Any], field: str) -> bool:
    name, _, inner = field.partition(".")
    if name not in answer:
        return False
    rows = answer[name]
    return not inner or (bool(rows) and all(inner in row for row in rows))


@pytest.mark.parametrize("command", WORDS)
def test_each_answer_has_the_fields_of_the_contract(command: str, small: Path) -> None:
    if command == "review":  # nothing on the board is in doubt: take the regulator's words away
        text = small.read_text(encoding="utf-8").replace("AP2112K-3.3", "U7X")
        for name in ("VIN", "VOUT"):
            text = text.replace(f'(pinfunction "{name}")', "")
        small.write_text(text, encoding="utf-8")
    answer = ask(command, small)
    assert answer["schema"] == f"netgraph.{command}/1"
    assert [one for one in CONTRACT[command].split() if not has_field(answer, one)] == []


@pytest.mark.parametrize("command", WORDS)
def test_each_answer_has_the_published_form_and_no_secret_fields(command: str, small: Path) -> None:
    form = ANSWERS[command].model_validate(ask(command, small), strict=True)
    assert unknown_fields(form) == []


@pytest.mark.parametrize("command", WORDS)
@pytest.mark.parametrize("board", ["teres_main_c", "hackrf_marzipan"])
def test_real_boards_are_answered_in_the_published_form(
    command: str, board: str, boards_dir: Path
) -> None:
    """Boards of OLIMEX/DIY-LAPTOP (Apache-2.0) and greatscottgadgets/hackrf (GPL-2)."""
    file = boards_dir / board / "board.kicad_pcb"
    net = {"teres_main_c": "IPS", "hackrf_marzipan": "VCC"}[board]
    words = [{"FILE": str(file), "VSYS": net}.get(word, word) for word in WORDS[command]]
    answer = netgraph(command, *words, "--json").json()
    assert unknown_fields(ANSWERS[command].model_validate(answer, strict=True)) == []


def test_the_demo_answers_in_the_published_form() -> None:
    from netgraph.assets import asset_path
    from netgraph.cli.demo import SAMPLE

    try:
        asset_path(SAMPLE)
    except DataMissingError:
        pytest.skip("the sample board is not made yet")
    answer = netgraph("demo", "--json").json()
    assert unknown_fields(ANSWERS["demo"].model_validate(answer, strict=True)) == []


def test_formats_and_notes_answer_in_the_published_form(small: Path) -> None:
    for words in (["formats"], ["notes", "show", str(small)]):
        answer = netgraph(*words, "--json").json()
        form = ANSWERS[words[0]].model_validate(answer, strict=True)
        assert unknown_fields(form) == []


def test_show_counts_what_stands_in_the_file(small: Path) -> None:
    """Counted by hand in small_board.py."""
    answer = ask("show", small)
    assert (answer["parts"], answer["pads"], answer["nets"]) == (17, 41, 7)
    assert answer["copper_layers"] == 2
    assert answer["not_fitted"] == ["R9"]


def test_names_stand_as_in_the_file_and_identities_are_unique(small: Path) -> None:
    pads = ask("pads", small)["pads"]
    assert {pad["net"] for pad in pads} >= {"SPI CLK, fast", TURNED, "+3V3"}
    holes = [(pad["id"], pad["ref"]) for pad in pads if pad["ref"] == "H"]
    assert set(holes) == {("H", "H"), ("H@2", "H")}
    keys = [(pad["id"], pad["pin"], pad["ordinal"]) for pad in pads]
    assert len(set(keys)) == len(keys)


def test_places_are_exact_to_the_nanometre(small: Path) -> None:
    """FB1 stands at x = 5.123456 mm with pads half a millimetre to both sides."""
    pads = ask("pads", small)["pads"]
    assert [pad["x_mm"] for pad in pads if pad["id"] == "FB1"] == [4.623456, 5.623456]


def test_roles_are_of_the_closed_list(small: Path) -> None:
    parts = {part["id"]: part for part in ask("parts", small)["parts"]}
    assert {part["role"] for part in parts.values()} <= set(ROLES)
    assert parts["C1"]["role"] == "capacitor"
    assert parts["R9"]["fitted"] is False
    for part in parts.values():
        for why in part["reasons"]:
            assert set(why) == {"code", "params", "text"}


def test_lift_never_mentions_a_part_that_is_not_fitted(small: Path) -> None:
    assert "R9" not in {part["ref"] for part in ask("lift", small)["parts"]}
    everything = netgraph("lift", small, "--short", "VSYS", "--all", "--json").json()
    assert {part["ref"] for part in everything["parts"]} == {
        part["id"] for part in ask("parts", small)["parts"] if part["fitted"]
    }


def test_capacitors_of_a_rail_are_a_number_with_names_beside(small: Path) -> None:
    (rail,) = [one for one in ask("rails", small)["rails"] if one["net"] == "VSYS"]
    assert rail["capacitors"] == 6
    assert sorted(rail["capacitor_refs"]) == ["C1", "C2", "C3", "C4", "C5", "C6"]
