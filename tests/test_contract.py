# SPDX-License-Identifier: GPL-3.0-or-later
"""The published schemas are those of the program, and are sound JSON Schema of the right kind."""

from __future__ import annotations

import json
import re
from typing import Any, get_args

import pytest

from netgraph.contract.models import ANSWERS, json_schema
from netgraph.model.board import CopperSide
from netgraph.rails.tree import RailKind
from netgraph.roles.answer import NET_KINDS, ROLES
from tests.support import ROOT

FOLDER = ROOT / "docs" / "reference" / "schema"

# Typed by hand from "Closed lists" of the architecture paper: additions by decision record only.
CLOSED_ROLES = """processor, programmable-logic, memory, storage, boot-flash, eeprom,
secure-element, power-manager, charger, fuel-gauge, power-controller, regulator, load-switch,
inductor, ferrite, capacitor, resistor, sense-resistor, thermistor, fuse, link, diode,
bridge-rectifier, tvs, esd-array, led, transistor, crystal, oscillator, connector, slot, switch,
battery, radio, network, interface, display-driver, audio, sensor, haptic, motor-driver,
analog-switch, logic, level-shifter, amplifier, optocoupler, transformer, antenna, microphone,
speaker, test-point, mechanical, other, unknown"""
CLOSED_NET_KINDS = """ground, rail, reference, switch-node, signal, clock, reset, enable, bus,
high-voltage, chassis, no-connect, unknown"""
CLOSED_RAIL_KINDS = (
    """entry, buck, boost, linear, switched, charger, filtered, reference, unknown"""
)
CLOSED_VERDICTS = "keep, replace, lift, lift-and-jumper, unsure"
CLOSED_CONNECTIONS = "series, shunt, load, source, sense"


def words(text: str) -> set[str]:
    return {word.strip() for word in text.split(",")}


def enums(schema: object) -> list[set[Any]]:
    """All enumerations anywhere in a schema."""
    if isinstance(schema, dict):
        found = [set(schema["enum"])] if "enum" in schema else []
        return found + [one for value in schema.values() for one in enums(value)]
    if isinstance(schema, list):
        return [one for value in schema for one in enums(value)]
    return []


@pytest.mark.parametrize("command", ANSWERS)
def test_the_published_schema_is_that_of_the_program(command: str) -> None:
    """Made anew by tools/make_schemas.py; within /1 the difference may only add."""
    committed = json.loads((FOLDER / f"{command}.schema.json").read_text(encoding="utf-8"))
    assert committed == json_schema(command)


def test_no_schema_file_lies_idle() -> None:
    assert {path.name for path in FOLDER.iterdir()} == {f"{one}.schema.json" for one in ANSWERS}


@pytest.mark.parametrize("command", ANSWERS)
def test_every_field_of_an_answer_is_required_and_described_as_object(command: str) -> None:
    """A field that is not known is null, never left out; more fields may come later."""
    schema: dict[str, Any] = json_schema(command)
    for name, form in [("answer", schema), *schema.get("$defs", {}).items()]:
        assert set(form["required"]) == set(form["properties"]), name
        assert form.get("additionalProperties") is not False, name
    assert schema["properties"]["schema"]["const"] == f"netgraph.{command}/1"


@pytest.mark.parametrize("command", ANSWERS)
def test_fields_have_plain_names(command: str) -> None:
    schema: dict[str, Any] = json_schema(command)
    for form in [schema, *schema.get("$defs", {}).values()]:
        for field in form["properties"]:
            assert re.fullmatch(r"[a-z][a-z0-9_]*[a-z0-9]|[ab]", field), field


def test_closed_lists_are_those_of_the_contract() -> None:
    assert set(ROLES) == words(CLOSED_ROLES.replace("\n", " "))
    assert set(NET_KINDS) == words(CLOSED_NET_KINDS.replace("\n", " "))
    assert set(get_args(RailKind)) == words(CLOSED_RAIL_KINDS)
    assert words(CLOSED_VERDICTS) in enums(json_schema("lift"))
    assert words(CLOSED_CONNECTIONS) in enums(json_schema("rail"))
    assert {"ok", "unsure", "no"} in enums(json_schema("inject"))
    assert {"part", "pad-gap", "under-package", "via", "track"} in enums(json_schema("path"))
    assert set(get_args(CopperSide)) in enums(json_schema("pads"))
