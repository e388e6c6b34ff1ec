# SPDX-License-Identifier: GPL-3.0-or-later
"""The order of a job, by bench practice (the design paper, sections 1, 2, 7 and 11)."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from netgraph.advice.ordered_plan import ordered_plan
from netgraph.advice.plan_types import STAGES, OrderedPlan, Step
from netgraph.advice.weights import parse_weights, site_name
from netgraph.errors import UnknownNameError, UsageError, WeightsError
from netgraph.plan.sites import path_sites
from netgraph.plan.wiring import IRREPLACEABLE_ROLES
from tests.unit.advice.bench import bench, card, lark, ohms, triage_done

FLEXES = ("J2", "J3", "J5")


def plan(*lines: str, weights: Mapping[str, float] | None = None, net: str = "VSYS") -> OrderedPlan:
    return ordered_plan(*lark(), net, bench=bench(lark(), *lines), weights=weights)


def of(found: OrderedPlan, stage: str) -> list[Step]:
    return [one for one in found.steps if one.stage == stage]


def test_stages_come_in_the_order_of_the_work() -> None:
    order = [STAGES.index(one.stage) for one in plan().steps]
    assert order == sorted(order)


def test_a_wet_arrival_is_handled_in_the_order_of_bench_practice() -> None:
    """The first scenario of bench practice 11: no charging, cell off, photographs, flexes and
    shields off, rinse, clean, dry at 60 to 70 °C, look; injecting and booting vetoed.
    """
    codes = [one.why.code for one in plan(card("cell", connected=True)).steps]
    wanted = [
        "plan-no-charging",
        "plan-cell",
        "plan-photo",
        "plan-unplug",
        "plan-shield",
        "plan-rinse",
        "plan-clean",
        "plan-dry",
        "plan-look-at",
        "plan-measure",
        "plan-inject",
    ]
    places = [codes.index(one) for one in wanted]
    assert places == sorted(places)


def test_while_wet_injecting_and_booting_are_vetoed_with_the_reason() -> None:
    wet = plan(card("cell", connected=True))
    for step in wet.steps:
        if step.action in ("image", "inject", "power") and dict(step.target).get("on") != "false":
            assert {"triage-cell-connected", "triage-dry"} <= {one.code for one in step.vetoes}
    ready = plan(*triage_done(*FLEXES))
    assert [one for one in ready.steps if one.vetoes] == []


def test_drying_is_never_baking() -> None:
    (step,) = [one for one in plan().steps if one.action == "dry"]
    assert dict(step.target)["method"] == "60-70 °C"


def test_a_main_rail_short_is_split_fed_and_only_then_lifted() -> None:
    """The second scenario: open-to-test before lifts, 0.3 V and 0.5 A at first, the power
    manager never first.
    """
    found = plan(*triage_done(*FLEXES), ohms("VSYS", 0.09))
    assert found.reading is not None
    assert not found.cleared
    (feed,) = [one for one in of(found, "inject") if one.action == "image"]
    target = dict(feed.target)
    assert target["set_volts"] <= 0.3
    assert target["limit_amps"] <= 0.5
    lifts = [one.ref for one in found.steps if one.action == "lift"]
    assert lifts.index("U4") > max(lifts.index(one.ref) for one in of(found, "shunt"))
    assert {one.ref for one in of(found, "open")} >= {"L1"}
    assert [one.ref for one in of(found, "replaceable")] == ["U3", "U4"]


def test_once_the_net_reads_sound_no_lift_is_left_but_the_power_gate_is() -> None:
    """The end of the second scenario: VSYS 1.9 kohm -> solved, the power gate, not more lifts."""
    lift = card("lift", ref="C34")
    found = plan(*triage_done(*FLEXES), ohms("VSYS", 0.09), lift, ohms("VSYS", 1900))
    assert found.cleared
    assert not {"open", "shunt", "suspect", "replaceable", "separate"} & {
        one.stage for one in found.steps
    }
    assert of(found, "power")
    assert of(found, "copy")


def test_a_core_that_reads_low_is_not_cleared_and_not_called_shorted() -> None:
    found = plan(ohms("CORE_0V95", 4.0), net="CORE_0V95")
    assert not found.cleared
    assert found.reading is not None
    assert found.reading.code == "check-compare"


def test_what_holds_the_data_is_never_a_lift_step() -> None:
    board, roles, _ = lark()
    for net in ("VSYS", "3V3", "1V8", "MEM_1V1", "CORE_0V95"):
        found = plan(net=net)
        lifted = {one.ref for one in found.steps if one.action in ("lift", "lift-and-jumper")}
        assert not [one for one in lifted if one and roles.role(one) in IRREPLACEABLE_ROLES]
        assert set(found.never_lifted) == {
            part.id for part in board.parts if roles.role(part.id) in IRREPLACEABLE_ROLES
        }


def test_each_lift_is_judged_on_the_board_as_the_ones_before_leave_it() -> None:
    """Lifting all of them in turn, each is still `lift` when its turn comes."""
    from netgraph.plan.lift import lift_table

    board, roles, tree = lark()
    off: list[str] = []
    for step in [*of(plan(), "shunt"), *of(plan(), "suspect")]:
        rows = {
            row.part_id: row.verdict
            for row in lift_table(board.without(off), roles, tree, "VSYS").rows
        }
        assert step.ref is not None
        assert rows[step.ref] == "lift"
        off.append(step.ref)
    assert len(off) > 4


def test_weights_come_first_by_weight_for_the_effort() -> None:
    shunts = [one.ref for one in of(plan(weights={"C34": 5, "C8": 1}), "shunt")]
    assert shunts[0] == "C34"
    # C8 weighs a fifth, the others no more than half of that.
    assert shunts[1] == "C8"


def test_a_seen_deposit_moves_a_part_up() -> None:
    seen = card("seen", at="C8", what="green deposit")
    assert of(plan(seen), "shunt")[0].ref == "C8"
    assert of(plan(seen), "shunt")[0].why.code == "plan-lift-deposit"


def test_the_weight_of_a_place_decides_where_to_look_first() -> None:
    board, roles, _ = lark()
    sites = [one for one in path_sites(board, roles, "VSYS") if one.kind == "under-package"]
    name = site_name(sites[-1])
    looks = [one for one in plan(weights={name: 3}).steps if one.why.code == "plan-look-at"]
    assert str(dict(looks[0].target)["at"]) in name


def test_lifted_parts_are_gone_and_done_steps_are_marked() -> None:
    found = plan(*triage_done(*FLEXES), card("lift", ref="C35"))
    assert "C35" not in {one.ref for one in found.steps}
    opening = [one for one in found.steps if one.stage in ("triage", "unplug", "clean")]
    assert [one.why.code for one in opening if not one.done] == []


def test_what_has_no_way_back_comes_after_what_has() -> None:
    found = plan()
    numbers = {one.ref: n for n, one in enumerate(found.steps) if one.action == "open-to-test"}
    lifts = [n for n, one in enumerate(found.steps) if one.action == "lift"]
    assert max(numbers.values()) < min(lifts)
    for one in found.steps:
        if one.action in ("lift", "open-to-test", "lift-and-jumper"):
            assert one.check is not None
            assert one.undo is not None
            assert one.stop
            assert one.cautions
            assert one.heat is not None


def test_a_ground_and_an_unknown_net_are_told() -> None:
    with pytest.raises(UsageError):
        plan(net="GND")
    with pytest.raises(UnknownNameError):
        plan(net="VSYSS")


@pytest.mark.parametrize("value", [-1.0, float("nan"), float("inf")])
def test_a_weight_that_is_none_is_refused(value: float) -> None:
    with pytest.raises(UsageError):
        plan(weights={"C34": value})


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[]", "no JSON object"),
        ('{"C34": -1}', "no number from 0"),
        ('{"C34": true}', "no number from 0"),
        ('{"C34": NaN}', "NaN is no number"),
        ('{"C34": 1, "C34": 2}', "given twice"),
        ('{"C999": 1}', "no part or place"),
        ('{"C34.1~C34.9": 1}', "no part or place"),
        ('{"C34": 1', "no JSON"),
        ("[" * 100_000, "nested too deep"),
    ],
)
def test_a_slip_in_the_weights_is_told(text: str, told: str) -> None:
    with pytest.raises(WeightsError) as caught:
        parse_weights(text, lark()[0], path="w.json")
    assert told in caught.value.one_line()
    assert caught.value.one_line().startswith("w.json")


def test_weights_of_parts_and_places_are_read() -> None:
    text = '{"C34": 3, "C34.1~C34.2": 0.5}'
    assert parse_weights(text, lark()[0]) == {"C34": 3.0, "C34.1~C34.2": 0.5}


def test_a_deposit_is_cleaned_before_heat_even_at_a_chip_that_stays() -> None:
    found = plan(*triage_done(*FLEXES), card("seen", at="U9", what="white deposit"))
    again = [one for one in of(found, "clean") if one.why.code == "plan-clean-deposit"]
    assert [dict(one.target)["at"] for one in again] == ["U9"]


def test_a_swollen_cell_stops_the_plan_at_its_first_line() -> None:
    first = plan(card("seen", at="J1", what="cell swollen")).steps[0]
    assert (first.action, first.why.code) == ("stop", "triage-cell-swollen")


def test_parts_to_find_out_about_are_named_and_not_lifted() -> None:
    found = plan()
    assert found.unsure
    assert not set(found.unsure) & {one.ref for one in found.steps if one.action == "lift"}
