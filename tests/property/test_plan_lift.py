# SPDX-License-Identifier: GPL-3.0-or-later
"""Whatever the board: kept parts are never lifted, and no advised lift stops a needed supply.

The evaluator here is written apart from the code: plain rounds over the rail tree until nothing
changes. Our own claims; the source is the project's rule that a wrong lift destroys data.
"""

from __future__ import annotations

from hypothesis import assume, event, given
from hypothesis import strategies as st

from netgraph.plan.enables import Drive
from netgraph.plan.lift import LiftTable, lift_table
from netgraph.plan.lift_set import judge_set
from netgraph.plan.needs import find_needs
from netgraph.plan.power_logic import PowerLogic
from netgraph.plan.wiring import Wiring
from netgraph.rails.tree import Feeder, Rail, RailTree
from netgraph.roles.answer import Roles
from tests.property.plan_strategies import Drawn, boards

IRREPLACEABLE = {
    *("processor", "programmable-logic", "memory", "storage"),
    *("boot-flash", "eeprom", "secure-element"),
}


def table_of(drawn: Drawn) -> LiftTable:
    board, roles, tree = drawn
    grounds = roles.grounds() | set(tree.grounds)
    others = [net.name for net in board.nets if net.name not in grounds]
    assume(others)
    return lift_table(board, roles, tree, others[0], whole_board=True)


def living_rails(drawn: Drawn, lost: str | frozenset[str] | None, least: float = 0.0) -> set[str]:
    """Rails that can be fed from an entry without the lost parts, round by round.

    A feeder whose input is not known counts as fed when every rail its part touches and doesn't
    feed lives (and there is one). What holds an enable or a reset, and which small parts a chip
    can't run without, is taken as found; what follows from it is worked out here.
    """
    return Rounds(drawn, lost, least).rails


class Rounds:
    """Rails and chips that come up from nothing, switched on round by round until none is added."""

    def __init__(self, drawn: Drawn, lost: str | frozenset[str] | None, least: float) -> None:
        self.drawn = drawn
        board, roles, tree = drawn
        self.here = roles.fitted - (lost if isinstance(lost, frozenset) else {lost})
        self.needs = find_needs(Wiring(board, roles, tree))
        # Whether a driver counts as started is decided on the untouched board, by the logic.
        self.assumed = PowerLogic.build(board, roles, tree, trusted_only=least > 0).relaxed
        self.supplies = {part.id: supplies_of(drawn, part.id) for part in board.parts}
        self.feeds: dict[str, list[Feeder]] = {}
        for rail in tree:
            feeders = [one for one in rail.feeders if one.part_id in roles.fitted]
            self.feeds[rail.net] = [one for one in feeders if one.confidence >= least] or feeders
        self.rails: set[str] = set()
        self.chips: set[str] = set()
        before = -1
        while before < len(self.rails) + len(self.chips):
            before = len(self.rails) + len(self.chips)
            self.rails |= {rail.net for rail in tree if self.comes_up(rail)}
            self.chips |= {one for one in self.here if self.runs(one)}

    def comes_up(self, rail: Rail) -> bool:
        board, roles, _ = self.drawn
        holders = [
            part
            for part in board.parts_on_net[rail.net]
            if roles.parts[part].role in ("connector", "battery", "slot") and part in roles.fitted
        ]
        if rail.kind == "entry" and (not holders or set(holders) & self.here):
            return True
        return any(
            one.part_id in self.here
            and inputs_live(self.drawn, one.part_id, one.from_net, self.rails)
            and self.is_helped(one.part_id, rail.net)
            for one in self.feeds[rail.net]
        )

    def is_helped(self, chip: str, rail: str) -> bool:
        """Whether a feeder's enables hold and the parts it needs for this output are there."""
        return all(
            self.holds(drive) for drive in self.needs.enables.get(chip, ()) if drive.serves(rail)
        ) and all(
            need.part_id in self.here
            for need in self.needs.aids
            if need.user == chip
            and need.vital
            and need.kind not in ("clock", "strap")
            and need.rail in (None, rail)
        )

    def runs(self, chip: str) -> bool:
        """Whether a chip has its supplies and what it starts by."""
        if not self.supplies[chip] <= self.rails:
            return False
        made = {net for net, feeders in self.feeds.items() if chip in {f.part_id for f in feeders}}
        drives = list(self.needs.resets.get(chip, ()))
        drives += [
            drive
            for drive in self.needs.enables.get(chip, ())
            if not any(drive.serves(net) for net in made)
        ]
        if not all(self.holds(drive) for drive in drives):
            return False
        for need in self.needs.aids:
            if need.user != chip or not need.vital:
                continue
            starts = need.kind in ("clock", "strap")
            if not starts and any(need.rail in (None, net) for net in made):
                continue
            oscillates = self.drawn[1].parts[need.part_id].role == "oscillator"
            if need.kind == "clock" and oscillates and not self.drives(need.part_id):
                return False
            if need.part_id not in self.here:
                return False
        return True

    def drives(self, chip: str) -> bool:
        """Whether a chip can drive a line: it runs, and what little it makes is there."""
        if chip not in self.here or chip in self.assumed:
            return chip in self.here
        tree = self.drawn[2]
        made = {rail.net for rail in tree if chip in {one.part_id for one in rail.feeders}}
        return chip in self.chips and (len(made) > 2 or made <= self.rails)

    def holds(self, drive: Drive) -> bool:
        """Whether a line has its level."""
        ways = [
            self.here.issuperset(way.parts)
            and (not way.rail or way.rail in self.rails)
            and (not way.chip or self.drives(way.chip))
            for way in drive.ways
        ]
        return (
            (any(ways) or not ways)
            and all(self.drives(one) for one in drive.also)
            and self.here.issuperset(drive.maybe)
            and self.rails.issuperset(drive.first)
        )


def inputs_live(drawn: Drawn, part: str, source: str | None, alive: set[str]) -> bool:
    if source is not None:
        return source in alive
    own = {rail.net for rail in drawn[2] for one in rail.feeders if one.part_id == part}
    needs = supplies_of(drawn, part) - own
    return bool(needs) and needs <= alive


def supplies_of(drawn: Drawn, part: str) -> set[str]:
    """Rails a part needs: those that list it as a load, and of a chip all it touches.

    A connector passes supplies on and needs none.
    """
    board, roles, tree = drawn
    if roles.parts[part].role in ("connector", "slot"):
        return set()
    passive = {"inductor", "ferrite", "capacitor", "resistor", "sense-resistor", "thermistor"}
    passive |= {"fuse", "link", "diode", "tvs", "led", "crystal", "connector", "transistor"}
    passive |= {"esd-array"}
    own = {rail.net for rail in tree for one in rail.feeders if one.part_id == part}
    needs = {rail.net for rail in tree if part in rail.loads}
    if roles.parts[part].role not in passive:
        needs |= {net for net in board.nets_of_part[part] if net in tree.by_net}
    return needs - own


@given(boards())
def test_kept_parts_are_never_lifted(drawn: Drawn) -> None:
    table = table_of(drawn)
    kept = {item.part_id: item.kind for item in table.keeps.items}
    for row in table.rows:
        if row.part_id in kept:
            assert row.verdict == {"irreplaceable": "keep", "replace": "replace"}[kept[row.part_id]]


@given(boards())
def test_parts_that_might_hold_data_are_never_lifted(drawn: Drawn) -> None:
    """Whatever the confidence of an irreplaceable role, and whatever is not sure at all."""
    _, roles, _ = drawn
    for row in table_of(drawn).rows:
        role = roles.parts[row.part_id]
        if role.role in IRREPLACEABLE or role.role == "unknown" or role.confidence < 0.6:
            assert row.verdict not in ("lift", "lift-and-jumper")


@given(boards(), st.sampled_from((0.0, 0.6)))
def test_no_advised_lift_stops_a_needed_rail(drawn: Drawn, least: float) -> None:
    table = table_of(drawn)
    before = living_rails(drawn, None, least) & set(table.keeps.rails)
    lifts = [row.part_id for row in table.rows if row.verdict == "lift"]
    event(f"needed rails: {bool(before)}, lifts: {bool(lifts)}")
    for part_id in lifts:
        assert before <= living_rails(drawn, part_id, least), part_id


@given(boards())
def test_an_unclear_goal_gives_no_advice_at_all(drawn: Drawn) -> None:
    table = table_of(drawn)
    if table.keeps.unclear is not None:
        assert {row.verdict for row in table.rows} <= {"unsure"}


@given(boards())
def test_rows_are_the_fitted_parts_and_jumpers_lie_on_their_own_pads(drawn: Drawn) -> None:
    _, roles, _ = drawn
    table = table_of(drawn)
    assert {row.part_id for row in table.rows} == roles.fitted
    for row in table.rows:
        assert (row.jumper is not None) == (row.verdict == "lift-and-jumper")
        if row.jumper is not None:
            assert roles.parts[row.part_id].role not in ("diode", "tvs", "led", "capacitor")
            assert row.jumper.from_pad.startswith(f"{row.part_id}.")
            assert row.jumper.from_pad != row.jumper.to_pad


@given(boards())
def test_single_points_equal_trying_every_part(drawn: Drawn) -> None:
    """The rails' K sets by name, against the rounds above, and every proof checks."""
    board, roles, tree = drawn
    logic = PowerLogic.build(board, roles, tree)
    base = living_rails(drawn, None)
    assert logic.base.rails == base
    for part_id in roles.fitted:
        after = living_rails(drawn, part_id)
        assert logic.alive((part_id,)).rails == after
        for net in base:
            assert (part_id in logic.single_points(rails=(net,))) == (net not in after)
            proof = logic.proof(("rail", net), (part_id,))
            assert (proof is not None) == (net not in after)
            assert proof is None or logic.check(proof)


@given(boards())
def test_a_proof_with_a_dead_node_taken_out_no_longer_checks(drawn: Drawn) -> None:
    board, roles, tree = drawn
    logic = PowerLogic.build(board, roles, tree)
    for rail in tree:
        for part_id in roles.fitted:
            proof = logic.proof(("rail", rail.net), (part_id,))
            if proof is None or len(proof.dead) < 2:
                continue
            cut = type(proof)(proof.target, proof.lifted, proof.dead[:-1])
            assert not logic.check(cut)


@given(boards())
def test_the_order_of_rails_does_not_matter(drawn: Drawn) -> None:
    board, roles, tree = drawn
    turned = RailTree(tree.grounds, tuple(reversed(tree.rails)))
    again: Roles = roles
    one = {row.part_id: row.verdict for row in table_of(drawn).rows}
    two = {row.part_id: row.verdict for row in table_of((board, again, turned)).rows}
    assert one == two


@given(boards())
def test_what_a_single_lift_costs_is_what_a_forward_pass_finds(drawn):
    """Kill sets of all nodes at once against one pass of the logic for each part."""
    board, roles, tree = drawn
    logic = PowerLogic.build(board, roles, tree)
    for part in board.parts:
        after = logic.alive((part.id,))
        lost = logic.lost_without(part.id)
        assert lost.rails == logic.base.rails - after.rails
        assert lost.parts == logic.base.parts - after.parts


@given(boards(), st.data())
def test_a_set_called_safe_is_safe_and_a_refusal_replays(drawn: Drawn, data: st.DataObject) -> None:
    """Every rail the goal needs is looked for on the board without the set, by the evaluator of
    this file; a proof is checked step by step and its target found dead by the same evaluator.
    """
    board, roles, tree = drawn
    refs = [part.id for part in board.parts]
    chosen = data.draw(st.lists(st.sampled_from(refs), min_size=1, max_size=4, unique=True))
    found = judge_set(board, roles, tree, chosen)
    wired = {row.part_id for row in found.rows if row.verdict == "lift-and-jumper"}
    gone = frozenset(chosen) - wired
    event(found.verdict)
    if found.verdict == "safe":
        needed = set(table_of(drawn).keeps.rails)
        for least in (0.0, 0.6):
            before = living_rails(drawn, None, least) & needed
            assert before <= living_rails(drawn, gone, least)
        kept = {item.part_id for item in table_of(drawn).keeps.items}
        assert not kept & set(chosen)
    if found.proof is not None:
        logic = PowerLogic.build(board, roles, tree, trusted_only=True)
        assert logic.check(found.proof)
        kind, name = found.proof.target
        if kind == "rail":
            assert name in living_rails(drawn, None, 0.6)
            assert name not in living_rails(drawn, gone, 0.6)
