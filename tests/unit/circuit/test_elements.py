# SPDX-License-Identifier: GPL-3.0-or-later
"""What each kind of part conducts on a dead board."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from netgraph.circuit.elements import Hypotheses, board_circuit
from netgraph.circuit.instruments import apply, diode_mode, ohms_mode, reading, supply
from netgraph.circuit.network import GROUND, Circuit
from netgraph.circuit.values import coil, diode_law, insulation, junction_laws, resistor
from netgraph.model import Board, BoardBuilder
from netgraph.rails.tree import Feeder, Rail, RailTree, SwitchNode
from netgraph.roles.answer import NetRole, PartRole, Roles
from tests.unit.plan.sketch import Sketch


def rows(circuit: Circuit, part: str) -> set[tuple[str, str, str]]:
    """What stands between which nets for a part; leaks of nanoamperes left out."""

    def name(node: int) -> str:
        return "ground" if node == GROUND else circuit.nodes[node]

    found = {
        (label.what, *sorted((name(a), name(b))))
        for a, b, label in zip(circuit.a, circuit.b, circuit.branch_label, strict=True)
        if label.part_id == part and label.what != "leak"
    }
    return found | {
        (label.what, name(a), name(c))
        for a, c, label in zip(circuit.anode, circuit.cathode, circuit.junction_label, strict=True)
        if label.part_id == part
    }


def drawn(sketch: Sketch, rails: Iterable[Rail], nodes: Iterable[SwitchNode] = ()) -> Circuit:
    board, roles = parts_of(sketch)
    return board_circuit(board, roles, RailTree(("GND",), tuple(rails), tuple(nodes)))


def parts_of(sketch: Sketch) -> tuple[Board, Roles]:
    board, roles, _ = sketch.done()
    return board, roles


def rail(net: str, volts: float | None = 3.3, *feeders: Feeder, kind: str = "linear") -> Rail:
    return Rail(net, kind, volts, feeders, confidence=0.9)  # type: ignore[arg-type]


def base() -> Sketch:
    s = Sketch()
    s.net("GND", "ground")
    for name, volts in (("VIN", 5.0), ("3V3", 3.3)):
        s.net(name, "rail", volts)
    return s


def test_passive_parts_are_one_branch_each() -> None:
    s = base()
    s.net("A", "signal").net("B", "signal")
    s.part("R1", "resistor", "A", "B", ohm=4700.0, value="4k7 1%")
    s.part("FB1", "ferrite", "VIN", "3V3", ohm=600.0)
    s.part("C1", "capacitor", "3V3", "GND", farad=1e-5)
    s.part("J1", "connector", "A", "B", "VIN")
    s.part("SW1", "switch", "A", "GND")
    s.part("W1", "link", "A", "GND", value="Open")
    circuit = drawn(s, [rail("VIN"), rail("3V3")])
    assert rows(circuit, "R1") == {("resistor", "A", "B")}
    assert rows(circuit, "FB1") == {("ferrite", "3V3", "VIN")}
    assert rows(circuit, "C1") == {("insulation", "3V3", "ground")}
    for silent in ("J1", "SW1", "W1"):
        assert rows(circuit, silent) == set(), silent
    ohms = {
        one.part_id: 1 / g for one, g in zip(circuit.branch_label, circuit.siemens, strict=True)
    }
    # A ferrite's 600 ohm are for radio waves.
    assert (ohms["R1"], ohms["FB1"], ohms["C1"]) == pytest.approx((4700.0, 0.1, 5e6))


@pytest.mark.parametrize(
    ("pins", "pairs"),
    [
        ({"1": "A", "2": "B", "3": "C", "4": "D"}, {("A", "D"), ("B", "C")}),
        ({"1.1": "A", "2.1": "B", "1.2": "C", "2.2": "D"}, {("A", "C"), ("B", "D")}),
        ({"1": "A", "2": "B", "3": "C"}, set()),
    ],
)
def test_resistor_arrays_by_their_pin_numbers(
    pins: dict[str, str], pairs: set[tuple[str, str]]
) -> None:
    """Anything else is left out: a wrong pair would join two nets that are apart."""
    builder = BoardBuilder("array")
    part = builder.add_part("RN1", value="4x33R")
    for number, net in pins.items():
        builder.add_pad(part, number, net)
    builder.add_pad(builder.add_part("C1"), "1", "GND")
    board = builder.freeze()
    nets = {net.name: NetRole(net.name, "signal", 0.9) for net in board.nets}
    nets["GND"] = NetRole("GND", "ground", 0.9)
    roles = Roles({"RN1": PartRole("RN1", "resistor", 0.9, ohm=33.0)}, nets, frozenset({"RN1"}))
    circuit = board_circuit(board, roles, RailTree(("GND",), ()))
    assert rows(circuit, "RN1") == {("resistor", *pair) for pair in pairs}
    assert [one.code for one in circuit.notes] == ([] if pairs else ["circuit-not-modelled"])


def test_a_chip_has_clamps_on_signals_and_substrate_and_load_on_its_supply() -> None:
    s = base()
    s.net("A", "signal")
    s.part("U1", "sensor", "3V3", "A", "GND")
    circuit = drawn(s, [rail("3V3")])
    assert rows(circuit, "U1") == {
        ("substrate", "ground", "3V3"),
        ("load", "3V3", "ground"),
        ("clamp", "ground", "A"),
        ("clamp", "A", "3V3"),
    }


def test_a_healthy_core_rail_reads_a_few_ohms() -> None:
    """Bench practice: big processors 1 to 10 ohm, memory rails 50 to 300 ohm."""
    s = base()
    s.net("CORE", "rail", 0.95).net("DDR", "rail", 1.1)
    s.part("U1", "processor", "CORE", "3V3", "GND")
    s.part("U2", "memory", "DDR", "GND", "SDQ")
    circuit = drawn(s, [rail("3V3"), rail("CORE", 0.95), rail("DDR", 1.1)])

    def ohms(net: str) -> float | None:
        one = ohms_mode(circuit.node(net))
        found = apply(circuit, [one])
        return reading(one, found.volts(0), found.amps(0))

    core, memory, plain = ohms("CORE"), ohms("DDR"), ohms("3V3")
    assert core is not None
    assert memory is not None
    assert 1 <= core <= 10
    assert 50 <= memory <= 300
    assert plain is None or plain > 1000


@pytest.mark.parametrize(
    ("kind", "wanted"),
    [("linear", ("3V3", "VIN")), ("switched", ("3V3", "VIN")), ("boost", ("VIN", "3V3"))],
)
def test_a_converter_that_is_off_conducts_backwards(kind: str, wanted: tuple[str, str]) -> None:
    s = base()
    s.part("U1", "regulator", "VIN", "3V3", "GND")
    feeder = Feeder("U1", "VIN", kind, 0.9)  # type: ignore[arg-type]
    circuit = drawn(s, [rail("VIN"), rail("3V3", 3.3, feeder, kind=kind)])
    assert ("body", *wanted) in rows(circuit, "U1")
    assert ("body", *reversed(wanted)) not in rows(circuit, "U1")


def test_a_buck_conducts_through_its_switch_node_and_coil() -> None:
    """No phantom path: the switch node's clamp goes to the converter's input and nowhere else."""
    s = base()
    s.net("SW", "switch-node")
    s.part("U1", "regulator", "VIN", "SW", "GND")
    s.part("L1", "inductor", "SW", "3V3")
    feeder = Feeder("U1", "VIN", "buck", 0.9, through=("L1",))
    node = SwitchNode("SW", "U1", "L1", "VIN", "3V3", "buck")
    circuit = drawn(s, [rail("VIN"), rail("3V3", 3.3, feeder, kind="buck")], [node])
    ways = rows(circuit, "U1")
    assert ("high-side", "SW", "VIN") in ways
    assert ("low-side", "ground", "SW") in ways
    assert not [one for one in ways if one[0] == "body"]
    assert rows(circuit, "L1") == {("inductor", "3V3", "SW")}


def charger() -> tuple[Board, Roles, RailTree]:
    s = base()
    s.net("VBAT", "rail", 3.7).net("VSYS", "rail", 3.7)
    s.part("J1", "battery", "VBAT", "GND")
    s.part("U3", "charger", "VBAT", "VSYS", "VIN", "GND")
    s.part("U4", "regulator", "VSYS", "3V3", "GND")
    board, roles = parts_of(s)
    rails = (
        Rail("VBAT", "entry", 3.7, confidence=0.9),
        Rail("VIN", "entry", 5.0, confidence=0.9),
        rail(
            "VSYS", 3.7, Feeder("U3", "VBAT", "charger", 0.9), Feeder("U3", "VIN", "charger", 0.9)
        ),
        rail("3V3", 3.3, Feeder("U4", "VSYS", "linear", 0.9)),
    )
    return board, roles, RailTree(("GND",), rails)


def test_the_switch_of_the_cell_is_a_hypothesis() -> None:
    """Off, the system sits one junction below the cell; on, it sits at the cell's volts."""
    board, roles, tree = charger()
    volts = {}
    for on in (False, True):
        circuit = board_circuit(board, roles, tree, hypotheses=Hypotheses(battery_switch=on))
        found = apply(circuit, [supply(circuit.node("VBAT"), 4.0, 1.0)])
        volts[on] = found.point.at(circuit.node("VSYS"))
    assert 0.4 < 4.0 - volts[False] < 0.8
    assert volts[True] == pytest.approx(4.0, abs=0.01)


def test_behind_a_converter_that_is_off_a_leak_draws_nothing() -> None:
    """1 ohm at an output changes no supply current; only a meter on that rail sees it."""
    board, roles, tree = charger()
    sound = board_circuit(board, roles, tree)
    from netgraph.circuit.faults import parse_faults, place_faults, with_fault

    fault = place_faults(parse_faults("leak 3V3 GND 1R"), board, roles, frozenset({"GND"}))
    shorted = with_fault(sound, fault)

    def draw(circuit: Circuit) -> float:
        return apply(circuit, [supply(circuit.node("VBAT"), 4.0, 1.0)]).amps(0)

    assert draw(shorted) == pytest.approx(draw(sound), rel=1e-3)
    one = diode_mode(sound.node("3V3"))
    before, after = apply(sound, [one]), apply(shorted, [one])
    assert (reading(one, before.volts(0), before.amps(0)) or 9) > 0.4
    assert (reading(one, after.volts(0), after.amps(0)) or 9) < 0.002


def test_parts_of_unknown_inside_are_left_out_and_named() -> None:
    s = base()
    s.part("T1", "transformer", "VIN", "3V3", "A", "GND")
    circuit = drawn(s, [rail("VIN"), rail("3V3")])
    assert rows(circuit, "T1") == set()
    assert [(one.code, dict(one.params)["parts"]) for one in circuit.notes] == [
        ("circuit-not-modelled", "T1")
    ]


def test_isolated_grounds_stay_apart_and_joined_ones_are_one() -> None:
    s = base()
    s.net("AGND", "ground").net("IGND", "ground")
    s.part("R1", "link", "GND", "AGND", ohm=0.0)
    s.part("C9", "capacitor", "GND", "IGND", farad=1e-9)
    s.part("U1", "sensor", "3V3", "GND")
    board, roles = parts_of(s)
    circuit = board_circuit(board, roles, RailTree(("GND", "AGND", "IGND"), (rail("3V3"),)))
    assert circuit.node("AGND") == circuit.node("GND") == GROUND
    assert circuit.node("IGND") >= 0


def test_a_lifted_part_is_gone() -> None:
    s = base()
    s.part("R1", "resistor", "3V3", "GND", ohm=10.0)
    board, roles = parts_of(s)
    tree = RailTree(("GND",), (rail("3V3"),))
    assert rows(board_circuit(board, roles, tree), "R1")
    assert not rows(board_circuit(board.without({"R1"}), roles, tree), "R1")


def test_values_say_where_they_come_from() -> None:
    assert (resistor(10e3, "10k").basis, resistor(10e3, "10k").source) == ("part", "practice")
    assert resistor(10e3, "10k 1%").source == "iec60062"
    assert resistor(None, "").basis == "default"
    assert resistor(0.0, "0R").ohm == 0.01
    assert insulation(None).basis == "default"
    assert coil("2u2/DCR=35m").ohm == pytest.approx(0.035)
    kinds = junction_laws()
    assert diode_law("1N5819") is kinds["schottky"]
    assert diode_law("1N4148W") is kinds["silicon"]
    assert diode_law("D_X") is kinds["diode"]


@pytest.mark.parametrize(
    ("key", "low", "high"),
    [("silicon", 0.5, 0.7), ("schottky", 0.15, 0.35), ("clamp", 0.5, 0.7), ("body", 0.5, 0.7),
     ("substrate", 0.5, 0.7), ("led", 1.6, 2.8)],
)  # fmt: skip
def test_model_junctions_lie_where_meter_manuals_say(key: str, low: float, high: float) -> None:
    """Table of typical semiconductors: silicon 0.5 to 0.7 V, Schottky 0.2 to 0.35 V at 1 mA (a
    power Schottky a little less), LEDs from red to blue.
    """
    from netgraph.circuit.network import CircuitBuilder
    from netgraph.circuit.solve import Source, solve_point

    law = junction_laws()[key]
    builder = CircuitBuilder()
    node = builder.node("A")
    builder.junction(node, GROUND, law.saturation, law.emission, law.series_ohm)
    volts = solve_point(builder.freeze(), [Source(node, GROUND, 1e-3)]).at(node)
    assert low <= volts <= high
