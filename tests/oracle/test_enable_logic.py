# SPDX-License-Identifier: GPL-3.0-or-later
"""Every set of lifts on small random boards with enables: the logic against rounds by hand.

The boards are made from a plan of who feeds and enables whom; the evaluator here knows that plan
alone (no pad, no pin name, nothing of the code's graph) and switches converters on round by round
until nothing changes. All sets of parts are tried, not a sample. Our own claims; the source is
the project's rule that a wrong lift destroys data.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from itertools import chain, combinations

from hypothesis import event, given, settings
from hypothesis import strategies as st

from netgraph.model import Board
from netgraph.plan.and_or import Proof
from netgraph.plan.lift_set import judge_set
from netgraph.plan.power_logic import PowerLogic
from netgraph.rails.tree import RailTree
from netgraph.roles.answer import Roles
from tests.unit.plan.sketch import Sketch


@dataclass
class Converter:
    """One regulator of the plan. `how` tells what holds its enable (see `plans`)."""

    ref: str
    source: str
    rail: str
    how: str
    pulls: list[tuple[str, str]] = field(default_factory=list)
    driver: str = ""
    divider: tuple[str, str] | None = None
    names: dict[str, str] = field(default_factory=dict)


@dataclass
class Plan:
    """Who feeds and enables whom on a small board."""

    rails: list[str]
    converters: list[Converter]
    loads: dict[str, tuple[str, ...]]
    bystanders: list[str]
    crystal: str = ""
    oscillator: tuple[str, ...] = ()
    reset: tuple[str, str] = ("", "")

    def parts(self) -> list[str]:
        found = ["J1", *self.loads, *self.bystanders]
        found += [one for one in (self.crystal, self.reset[0], *self.oscillator[:1]) if one]
        found += self.oscillator[2:3]
        for one in self.converters:
            found += [one.ref, *(ref for ref, _ in one.pulls if ref), *(one.divider or ())]
        return found


Drawn = tuple[Plan, tuple[Board, Roles, RailTree]]


@st.composite
def plans(draw: st.DrawFn) -> Drawn:
    """One to three rails below an entry; enables tied, pulled, divided, driven, chained, open;
    a processor that starts by clock and reset.
    """
    s = Sketch()
    rails = [f"V{n}" for n in range(draw(st.integers(2, 4)))]
    plan = Plan(rails, [], {}, [])
    s.rail("V0", "entry", 5.0)
    s.part("J1", "connector", "V0", "GND")
    feeders: dict[str, list[tuple[str, str]]] = {}
    count = 0
    for rail in rails[1:]:
        for _ in range(draw(st.sampled_from((1, 1, 1, 2)))):
            earlier = rails[: rails.index(rail)]
            # Once in a while from anywhere: supplies that feed each other in a circle.
            every = [one for one in rails if one != rail]
            source = draw(st.sampled_from(every if draw(st.integers(0, 7)) == 0 else earlier))
            feeders.setdefault(rail, []).append((f"U{10 + count}", source))
            kinds = ("none", "tied", "pulled", "pulled", "two", "low", "chip", "good", "open")
            how = draw(st.sampled_from(kinds))
            plan.converters.append(Converter(f"U{10 + count}", source, rail, how))
            count += 1
    core = draw(st.sampled_from(rails))
    more = draw(st.sampled_from(rails))
    plan.loads["U1"] = tuple(dict.fromkeys((core, more)))
    plan.loads["U2"] = (draw(st.sampled_from(rails)),)
    driven = [f"EN{n}" for n, one in enumerate(plan.converters) if one.how == "chip"]
    for number, one in enumerate(plan.converters):
        _enable(draw, s, plan, one, number)
        if draw(st.integers(0, 2)) == 0:
            _divide(s, one, number)
    for one in plan.converters:
        good = [f"EN{n}" for n, user in enumerate(plan.converters) if user.driver == one.ref]
        names = {**one.names, **dict.fromkeys(good, "PG")}
        pins = (one.source, "GND", one.rail, *one.names, *good)
        s.part(one.ref, "regulator", *dict.fromkeys(pins), names=names)
    types = dict.fromkeys(driven, "output")
    lines = _start(draw, s, plan)
    s.part("U1", "processor", *plan.loads["U1"], "GND", *driven, *lines, types=types)
    s.part("U2", "storage", *plan.loads["U2"], "GND", "DATA")
    s.part("R90", "resistor", "DATA", "IDLE", ohm=33.0)
    plan.bystanders.append("R90")
    for rail in rails[1:]:
        s.rail(rail, "linear", 3.3, *feeders[rail])
    return plan, s.done()


def _start(draw: st.DrawFn, s: Sketch, plan: Plan) -> list[str]:
    """What the processor starts by: a crystal or an oscillator with an enable, a reset pull-up."""
    lines = []
    clock = draw(st.sampled_from(("", "crystal", "oscillator")))
    if clock == "crystal":
        plan.crystal = "Y1"
        s.part("Y1", "crystal", "XIN", "XOUT").part("C90", "capacitor", "XIN", "GND", farad=1e-11)
        plan.bystanders.append("C90")
        lines += ["XIN", "XOUT"]
    elif clock == "oscillator":
        rail, pull = draw(st.sampled_from(plan.rails)), draw(st.sampled_from(plan.rails))
        plan.oscillator = ("Y1", rail, "R91", pull)
        s.part("R91", "resistor", pull, "OSC_ON", ohm=10e3)
        s.part("Y1", "oscillator", "OSC_ON", "GND", "CLK", rail, names={"OSC_ON": "OE"})
        lines.append("CLK")
    if draw(st.booleans()):
        plan.reset = ("R92", draw(st.sampled_from(plan.rails)))
        s.net("RST", "reset").part("R92", "resistor", plan.reset[1], "RST", ohm=10e3)
        lines.append("RST")
    return lines


def _enable(draw: st.DrawFn, s: Sketch, plan: Plan, one: Converter, number: int) -> None:
    """The line of one enable: what holds it, what holds it off, what delays it."""
    line = f"EN{number}"
    others = [rail for rail in plan.rails if rail != one.rail]
    good = [each.ref for each in plan.converters if each.ref != one.ref]
    if one.how == "good" and not good:
        one.how = "pulled"
    if one.how == "tied":
        line = draw(st.sampled_from(others))
        one.pulls.append(("", line))
    elif one.how in ("pulled", "two", "good"):
        for n in range(2 if one.how == "two" else 1):
            ref, rail = f"R{10 * number + 10 + n}", draw(st.sampled_from(others))
            s.part(ref, "resistor", rail, line, ohm=100e3)
            one.pulls.append((ref, rail))
        if one.how == "good":
            one.driver = draw(st.sampled_from(good))
        for role, ref in (("resistor", f"R{10 * number + 15}"), ("capacitor", f"C{number}")):
            if draw(st.booleans()):
                s.part(ref, role, line, "GND", ohm=47e3, farad=1e-7)  # type: ignore[arg-type]
                plan.bystanders.append(ref)
    elif one.how == "low":
        ref = f"R{10 * number + 10}"
        s.part(ref, "resistor", line, "GND", ohm=100e3)
        one.pulls.append((ref, ""))
    elif one.how == "chip":
        one.driver = "U1"
    if one.how != "none":
        one.names[line] = "~{EN}" if one.how == "low" else "EN"


def _divide(s: Sketch, one: Converter, number: int) -> None:
    """A feedback divider from the output to ground."""
    one.divider = (f"R{10 * number + 17}", f"R{10 * number + 18}")
    node = f"N{number}"
    s.part(one.divider[0], "resistor", one.rail, node, ohm=100e3)
    s.part(one.divider[1], "resistor", node, "GND", ohm=30e3)
    one.names[node] = "FB"


# -- the evaluator -----------------------------------------------------------------------------


@dataclass(frozen=True)
class Living:
    """What lives with some parts off."""

    rails: frozenset[str]
    loads: frozenset[str]


def living(plan: Plan, lost: Collection[str], assumed: Collection[str] = ()) -> Living:
    """Rails and loads that come up, round by round from nothing.

    Parameters
    ----------
    assumed
        Chips that are taken to drive their lines whenever they are on the board.
    """
    off = set(lost)
    up: set[str] = set()
    running: set[str] = set()
    while True:
        before = len(up) + len(running)
        if "J1" not in off:
            up.add("V0")
        for one in plan.converters:
            if runs(plan, one, off, up, running, assumed):
                up.add(one.rail)
        running |= {
            load
            for load, needs in plan.loads.items()
            if load not in off
            and up.issuperset(needs)
            and (load != "U1" or starts(plan, off, up, assumed))
        }
        if len(up) + len(running) == before:
            return Living(frozenset(up), frozenset(running))


def starts(plan: Plan, off: set[str], up: set[str], assumed: Collection[str]) -> bool:
    """Whether the processor has its clock and its reset is let go."""
    if plan.crystal in off:
        return False
    pull, rail = plan.reset
    if pull and (pull in off or rail not in up):
        return False
    if not plan.oscillator:
        return True
    can, supply, holder, source = plan.oscillator
    fed = holder not in off and {supply, source} <= up
    return can not in off and (fed or can in assumed)


def runs(
    plan: Plan,
    one: Converter,
    off: set[str],
    up: set[str],
    running: set[str],
    assumed: Collection[str],
) -> bool:
    """Whether a converter has its input, its own parts, and its enable held."""
    if {one.ref, *(one.divider or ())} & off or one.source not in up:
        return False
    if one.how in ("none", "open"):
        return True
    if one.how == "chip":
        return one.driver not in off and (one.driver in running or one.driver in assumed)
    held = any(ref not in off and (not rail or rail in up) for ref, rail in one.pulls)
    if one.how != "good" or not held:
        return held
    by_name = {each.ref: each for each in plan.converters}
    other = by_name[one.driver]
    return other.ref not in off and (
        other.ref in assumed or {*supplies(plan, other), other.rail} <= up
    )


def supplies(plan: Plan, one: Converter) -> set[str]:
    """Rails a converter sits on as a load: its input, and the supply its enable is tied to."""
    return {one.source, *(rail for ref, rail in one.pulls if not ref)}


def every_set(parts: Collection[str], most: int) -> Iterator[tuple[str, ...]]:
    names = sorted(parts)
    return chain.from_iterable(combinations(names, n) for n in range(most + 1))


@given(plans())
@settings(max_examples=60, deadline=None)
def test_each_set_of_lifts_leaves_alive_what_the_rounds_find(drawn: Drawn) -> None:
    plan, board = drawn
    logic = PowerLogic.build(*board)
    names = set(plan.parts())
    event(f"assumed drivers: {len(logic.relaxed)}")
    for lost in every_set(names, 3):
        wanted = living(plan, lost, logic.relaxed)
        found = logic.alive(lost)
        assert found.rails == wanted.rails, lost
        assert found.parts & plan.loads.keys() == wanted.loads, lost
        for rail in sorted(living(plan, (), logic.relaxed).rails - wanted.rails):
            proof = logic.proof(("rail", rail), lost)
            assert proof is not None
            assert logic.check(proof)
            assert replayed(proof), proof


@given(plans())
@settings(max_examples=100, deadline=None)
def test_a_driver_is_only_assumed_where_it_could_not_start(drawn: Drawn) -> None:
    plan, board = drawn
    logic = PowerLogic.build(*board)
    strict = living(plan, ())
    for chip in logic.relaxed:
        if chip in plan.loads:
            assert chip not in strict.loads
        elif chip in plan.oscillator:
            assert not {plan.oscillator[1], plan.oscillator[3]} <= strict.rails
        else:
            (one,) = (each for each in plan.converters if each.ref == chip)
            assert one.rail not in strict.rails or not supplies(plan, one) <= strict.rails


@given(plans())
@settings(max_examples=25, deadline=None)
def test_a_set_called_safe_is_safe_and_a_refusal_replays(drawn: Drawn) -> None:
    """All sets of one and two parts: `safe` keeps all that the goal needs, by the rounds above."""
    plan, board = drawn
    logic = PowerLogic.build(*board, trusted_only=True)
    base = living(plan, (), logic.relaxed)
    for chosen in every_set(set(plan.parts()), 2):
        if not chosen:
            continue
        found = judge_set(*board, chosen)
        wired = {row.part_id for row in found.rows if row.verdict == "lift-and-jumper"}
        after = living(plan, set(chosen) - wired, logic.relaxed)
        if found.verdict == "safe":
            lost = (base.loads - after.loads) | {
                rail for load in base.loads for rail in plan.loads[load] if rail not in after.rails
            }
            assert not lost, (chosen, lost)
        if found.proof is not None:
            assert logic.check(found.proof)
            assert replayed(found.proof)
            kind, name = found.proof.target
            if kind == "rail":
                assert name in base.rails
                assert name not in after.rails
            elif name in plan.loads:
                assert name not in after.loads


def replayed(proof: Proof) -> bool:
    """The claims of a proof, step by step, by what each kind of need means and without the graph.

    A dead part is off; anything that needs all of its inputs names a dead one; anything that any
    input keeps alive names only dead ones. The target is among the dead.
    """
    dead = {one.node for one in proof.dead}
    for one in proof.dead:
        kind, name = one.node
        if kind == "part":
            if name not in proof.lifted or one.because:
                return False
        elif one.needs_all:
            if not one.because or not set(one.because) <= dead:
                return False
            if kind in ("rail", "ways"):
                return False
        elif not set(one.because) <= dead or kind in ("feed", "load", "enable", "way", "aid"):
            return False
    return proof.target in dead
