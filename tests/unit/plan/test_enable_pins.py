# SPDX-License-Identifier: GPL-3.0-or-later
"""Enables of converters without pin names, by family and package.

Pin numbers of the family: from memory, as in the table; that a row is dropped where the board
contradicts it is our own claim.
"""

from __future__ import annotations

from netgraph.plan.enable_pins import enable_pins, named_nets
from netgraph.plan.enables import find_enables
from netgraph.plan.wiring import Wiring
from tests.unit.plan.sketch import Sketch


def lamp_boost(*pins: str, value: str = "MT3608", footprint: str = "SOT23-6") -> Wiring:
    """A boost converter U2 whose pins have no names; U1 has one line to it."""
    s = Sketch().rail("VIN", "entry", 5.0).rail("V18", "boost", 18.0, ("U2", "VIN"))
    s.part("J1", "connector", "VIN", "GND").part("U1", "processor", "VIN", "GND", "LIGHT")
    s.part("U2", "regulator", *pins, "V18", value=value, footprint=footprint)
    return Wiring(*s.done())


def test_a_known_family_tells_the_enable_by_its_number() -> None:
    wiring = lamp_boost("SW", "GND", "FB", "LIGHT", "VIN")
    assert ("LIGHT", "EN") in named_nets(wiring, "U2")
    assert enable_pins(wiring, "U2") == {"LIGHT": ("EN", True)}
    (drive,) = find_enables(wiring)["U2"]
    assert drive.vital == ("U1",)


def test_a_board_that_contradicts_the_table_is_believed() -> None:
    """Pin 2 of the family is ground; here it is not, so the marking means another part."""
    assert named_nets(lamp_boost("GND", "SW", "FB", "LIGHT", "VIN"), "U2") == []


def test_another_package_of_the_family_is_another_table() -> None:
    wiring = lamp_boost("SW", "GND", "FB", "LIGHT", "VIN", footprint="QFN-16")
    assert named_nets(wiring, "U2") == []


def test_the_output_enable_of_an_oscillator_is_its_enable() -> None:
    s = Sketch().rail("VIN", "entry", 5.0)
    s.part("J1", "connector", "VIN", "GND").part("U1", "processor", "VIN", "GND", "CLK")
    s.part("Y1", "oscillator", "ON", "GND", "CLK", "VIN", names={"ON": "OE", "CLK": "OUT"})
    s.part("R1", "resistor", "VIN", "ON", ohm=10e3)
    (drive,) = find_enables(Wiring(*s.done()))["Y1"]
    assert (drive.vital, drive.rails) == (("R1",), ("VIN",))
