# SPDX-License-Identifier: GPL-3.0-or-later
"""How sure a feeding is: a few facts about the evidence, weighed by a table, made a probability.

The weights stand in ``tables/certainty.csv``, fitted by ``tools/fit_confidence.py`` on the labelled
boards, starting from a prior of the trade. What a new board may bring that no labelled board has
shown is kept as a fixed share of surprise, so no feeding is ever surer than 1 - SURPRISE.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import dropwhile
from math import exp

from netgraph.rails.candidate import Candidate, Supplies
from netgraph.rails.choose import Choice, Chooser
from netgraph.rails.coils import rival_input
from netgraph.rails.entries import (
    BY_NAME_AND_PART,
    BY_NAME_OR_PIN,
    BY_PART,
    ENTRY_ROLES,
    IS_ENTRY,
    Entry,
)
from netgraph.rails.power_pins import uses_on
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import LIKELY, Role

SURPRISE = 0.03
"""Share of answers that a new board may turn over for reasons that no table holds: by judgement."""
RARE_MOST = 0.85
"""The most for a form of evidence that no labelled board has shown, names apart."""
LEAST_BOARDS = 1
GUESSES = frozenset(("big-chip", "entry left over", "manager-pins"))
GUESS_MOST = 0.55
"""The most for answers that stand on nothing but the lack of better ones."""
Facts = tuple[tuple[str, float], ...]

_SERIES_FORM: dict[Role, str] = {
    "ferrite": "bead", "fuse": "bead", "inductor": "bead", "sense-resistor": "low-ohm",
    "link": "low-ohm", "resistor": "resistor", "connector": "jumper", "switch": "jumper",
}  # fmt: skip
_COIL_CODES = ("buck", "boost", "buck-boost", "inverting")
_NAMED_FORMS = ("coil", "diode", "transistor", "own-output", "power-path", "charges", "pump")
_SAME_VOLTS_FORMS = ("bead", "low-ohm", "transistor", "resistor", "jumper")
_RIVAL_MARGIN = 0.5
_VOLTS_SHARE = 0.12


@dataclass(frozen=True, slots=True)
class Weighed:
    """One chosen feeding of a rail (a candidate, or None for an entry) with its certainty."""

    candidate: Candidate | None
    facts: Facts
    sure: float
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class Weight:
    """One row of the table: weight; right answers with this fact, all of them, their boards."""

    weight: float
    right: int
    asked: int
    boards: int


@cache
def weights() -> dict[str, Weight]:
    """The fitted table, by fact."""
    text = files("netgraph.rails").joinpath("tables/certainty.csv").read_text(encoding="utf-8")
    lines = dropwhile(lambda line: line.startswith("#"), text.splitlines())
    return {
        row["fact"]: Weight(
            float(row["weight"]), int(row["right"]), int(row["asked"]), int(row["boards"])
        )
        for row in csv.DictReader(lines)
    }


def probability(facts: Facts, table: Mapping[str, Weight] | None = None) -> float:
    """Share of right answers to expect among feedings with these facts, 0..1.

    The first fact is the form of the evidence; `table` stands for the stored one.
    """
    if table is None:
        table = weights()
    total = sum(table[fact].weight * value for fact, value in facts)
    form = facts[0][0]
    # A direction that names tell is nothing new, even where the kind of part is.
    known = [form, *(fact for fact, _ in facts if fact == "direction by name")]
    shown = any(table[fact].boards >= LEAST_BOARDS for fact in known)
    most = 1.0 if shown else RARE_MOST
    most = GUESS_MOST if form in GUESSES else most
    return round(min(most, (1.0 - SURPRISE) / (1.0 + exp(-total))), 3)


def weigh(every: Supplies, chooser: Chooser) -> dict[int, list[Weighed]]:
    """All chosen feedings per rail, surest first; entries as the only one of their rail."""
    return _Weigher(every, chooser).run()


class _Weigher:
    def __init__(self, every: Supplies, chooser: Chooser) -> None:
        self.every = every
        self.chooser = chooser
        self.done: dict[int, list[Weighed]] = {}
        self.waiting: set[int] = set()

    def run(self) -> dict[int, list[Weighed]]:
        for net in self.chooser.nets:
            stack = [net]
            while stack:  # what feeds a rail is weighed before the rail
                one = stack[-1]
                if one in self.done:
                    stack.pop()
                    continue
                before = [
                    p
                    for p in sorted(self.chooser.parents[one])
                    if p in self.chooser.parents and p not in self.done and p not in self.waiting
                ]
                if before:
                    self.waiting.add(one)
                    stack.extend(before)
                    continue
                self.done[one] = self._weigh_net(one)
                stack.pop()
        return self.done

    def _weigh_net(self, net: int) -> list[Weighed]:
        choice = self.chooser.choice[net]
        if choice.user is not None:
            return []
        if choice.feeders:
            found = [self._weigh_feeder(net, choice, one) for one in choice.feeders]
            return sorted(found, key=lambda w: (-w.sure, w.candidate.part if w.candidate else -1))
        if choice.entry is not None and choice.entry_score >= IS_ENTRY:
            return [self._weigh_entry(net, choice.entry)]
        return []

    def sure_of(self, net: int) -> float:
        """How sure the feeding of a net is, as far as weighed; a person's word is certain."""
        choice = self.chooser.choice.get(net)
        if choice is not None and choice.user:
            return 1.0
        return max((one.sure for one in self.done.get(net, ())), default=0.0)

    def _is_guess(self, net: int) -> bool:
        """Whether the power of a net only seems to come in at some connector, or from there on."""
        first = next(iter(self.done.get(net, ())), None)
        return (
            first is not None
            and first.sure < LIKELY
            and any(fact in ("entry left over", "from a guess") for fact, _ in first.facts)
        )

    # -- facts ---------------------------------------------------------------------------------

    def _weigh_entry(self, net: int, entry: Entry) -> Weighed:
        form = _entry_form(entry)
        reasons = [entry.why]
        if form == "entry left over" and self._nothing_else(net):
            form = "entry by volts"
            reasons.append(reason("nothing-else"))
        facts: list[tuple[str, float]] = [(form, 1.0)]
        self._name_stranger(net, -1, facts, reasons)
        self._doubt_net(net, facts)
        sure = 1.0 if entry.why.code == "user-entry" else probability(tuple(facts))
        return Weighed(None, tuple(facts), sure, tuple(reasons))

    def _weigh_feeder(self, net: int, choice: Choice, one: Candidate) -> Weighed:
        every = self.every
        form = self._form(one)
        facts: list[tuple[str, float]] = [(form, 1.0)]
        reasons = list(one.reasons)
        if one.by_name and form in _NAMED_FORMS:
            facts.append(("direction by name", 1.0))
        self._compare_volts(one, form, facts, reasons)
        if one.source < 0:
            if form in ("coil", "pin by name", "pair", "power-path"):
                facts.append(("input unknown", 1.0))
        elif (
            form == "coil"
            and one.code != "boost"
            and ((other := rival_input(every, one.part, one.to, one.source)) >= 0)
        ):
            facts.append(("input guessed", 1.0))
            reasons.append(reason("input-guessed", other=every.name(other)))
        elif not one.directed or form in ("bridge", "power-path"):
            before = self.sure_of(one.source)
            facts.append(("source unsure", round(1.0 - before, 3)))
            if before < 0.6:
                why = reason("source-unsure", net=every.name(one.source))
                reasons.append(why)
            if not one.directed and self._is_guess(one.source):
                facts.append(("from a guess", 1.0))
        rival = self._rival(net, choice, one)
        guessed = any(fact in ("from a guess", "input guessed") for fact, _ in facts)
        if not guessed and not choice.entry_score and self._is_only_way(net, one):
            facts.append(("only way", 1.0))
            reasons.append(reason("only-way"))
        if rival is not None:
            facts.append(("rival", 1.0))
            reasons.append(reason("rival-feeder", ref=every.part_id(rival)))
        if choice.entry_score >= IS_ENTRY:
            facts.append(("entry too", 1.0))
        if not one.by_name:
            self._name_stranger(net, one.part, facts, reasons)
        self._doubt_net(net, facts)
        role = every.roles.parts[every.part_id(one.part)]
        if role.source != "user":
            facts.append(("part unsure", round(1.0 - role.confidence, 3)))
        sure = probability(tuple(facts))
        return Weighed(one, tuple(facts), sure, tuple(reasons))

    def _form(self, one: Candidate) -> str:
        code = one.code
        if code in _COIL_CODES:
            return "coil"
        if code == "passes-on":
            return _SERIES_FORM.get(self.every.role[one.part], "low-ohm")
        if code == "pin-in-out":
            return "pin by name" if one.by_name else "pair"
        return {
            "manager-output": "pin by name",
            "between-supplies": "pair",
            "only-supply": "pair",
            "back-to-back": "transistor",
            "selects": "jumper",
            "bypass-only": "own-output",
            "charge-pump": "pump",
        }.get(code, code)

    def _compare_volts(
        self, one: Candidate, form: str, facts: list[tuple[str, float]], reasons: list[Reason]
    ) -> None:
        """Whether the volts that names tell fit the way of feeding."""
        if one.source < 0 or one.kind == "reference":
            return
        a, b = self.every.volts[one.source], self.every.volts[one.to]
        if a is None or b is None or not a or not b:
            return
        if form in _SAME_VOLTS_FORMS:
            fits = abs(a - b) <= _VOLTS_SHARE * abs(a)
        elif form == "diode":
            fits = b <= a * (1 + _VOLTS_SHARE)
        elif one.kind == "switched":
            fits = abs(a - b) <= _VOLTS_SHARE * abs(a)
        elif one.code == "boost":
            fits = abs(b) > abs(a)
        elif one.code == "buck" or one.kind == "linear":
            fits = abs(b) < abs(a)
        else:
            return
        facts.append(("volts fit" if fits else "volts against", 1.0))
        if not fits:
            reasons.append(
                reason("volts-against", net=self.every.name(one.source), to=self.every.name(one.to))
            )

    def _rival(self, net: int, choice: Choice, one: Candidate) -> int | None:
        """Another part that could as well feed the net from a rail that is fed."""
        parts = {c.part for c in choice.feeders} | {p for c in choice.feeders for p in c.through}
        for other in self.chooser.incoming.get(net, ()):
            if (
                other.part in parts
                or other.source < 0
                or other.score < one.score - _RIVAL_MARGIN
                or not self.sure_of(other.source)
                or self.chooser.hangs_on(other.source, net)
            ):
                continue
            return other.part
        return None

    def _nothing_else(self, net: int) -> bool:
        """The name says volts, no part could feed the net, no chip of unknown use is on it."""
        return (
            bool(self.every.volts[net])
            and self._stranger(net, but=-1) < 0
            and all(
                other.source >= 0 and self.chooser.hangs_on(other.source, net)
                for other in self.chooser.incoming.get(net, ())
            )
        )

    def _is_only_way(self, net: int, one: Candidate) -> bool:
        """No connector is on the net, and no other part could feed it, nor one of unknown use."""
        every = self.every
        if one.code in ("big-chip", "bypass-only", "divider-top"):
            return False  # that is what this evidence says already
        if any(every.role[part] in ENTRY_ROLES for part in every.wiring.parts[net]):
            return False
        return self._stranger(net, but=one.part) < 0 and all(
            other.part == one.part
            or (other.source >= 0 and self.chooser.hangs_on(other.source, net))
            for other in self.chooser.incoming.get(net, ())
        )

    def _name_stranger(
        self, net: int, but: int, facts: list[tuple[str, float]], reasons: list[Reason]
    ) -> None:
        """A part of unknown use may be the true feeder."""
        stranger = self._stranger(net, but)
        if stranger >= 0:
            facts.append(("stranger", 1.0))
            reasons.append(reason("stranger", ref=self.every.part_id(stranger)))

    def _stranger(self, net: int, but: int) -> int:
        """A part of unknown or doubtful role on the net that may do more than draw; else -1."""
        every = self.every
        for part in every.wiring.parts[net]:
            role = every.roles.parts[every.part_id(part)]
            doubtful = role.role in ("unknown", "other") or role.confidence < LIKELY
            if not doubtful or part == but or role.role in ENTRY_ROLES:
                continue
            uses = uses_on(every.wiring, part, net)
            if len(every.wiring.nets[part]) > 2 and not uses <= {"in", "sense", "enable"}:
                return part
        return -1

    def _doubt_net(self, net: int, facts: list[tuple[str, float]]) -> None:
        role = self.every.roles.nets[self.every.name(net)]
        if role.source != "user":
            facts.append(("rail unsure", round(1.0 - role.confidence, 3)))


def _entry_form(entry: Entry) -> str:
    code = entry.why.code
    if code == "entry-cell":
        return "entry by cell"
    if code == "rectified":
        return "entry by rectifier"
    if code == "entry-unfed":
        return "entry left over"
    if entry.score >= BY_NAME_AND_PART:
        return "entry by part and name"
    if entry.score >= BY_NAME_OR_PIN:
        return "entry by name"
    return "entry by part" if entry.score >= BY_PART else "entry left over"
