# SPDX-License-Identifier: GPL-3.0-or-later
"""The joint choice of feeders over the whole board.

Sure candidates (pin names, coils, diodes, entries) are taken first. Parts that could pass a supply
either way are then oriented outwards from what is driven already; each rail gets the best
candidate that doesn't hang on itself.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from heapq import heappop, heappush

from netgraph.rails.candidate import Candidate, Supplies
from netgraph.rails.entries import CELL_NAME, ENTRY_ROLES, IS_ENTRY, Entry, left_over
from netgraph.rails.tree import Feeder
from netgraph.reasons import reason
from netgraph.roles.answer import Role
from netgraph.roles.notes import BoardNotes, FeederNote

_MAY_FEED_A_PORT: frozenset[Role] = frozenset(
    ("load-switch", "regulator", "ferrite", "fuse", "link", "sense-resistor")
)
_NO_MODULE: frozenset[Role] = ENTRY_ROLES | frozenset(
    ("capacitor", "resistor", "ferrite", "fuse", "link", "inductor", "sense-resistor", "diode",
     "tvs", "esd-array", "test-point", "mechanical", "crystal", "thermistor", "antenna",
     "transformer", "bridge-rectifier", "switch", "transistor", "programmable-logic", "memory",
     "storage", "logic", "level-shifter", "analog-switch", "amplifier", "optocoupler", "led",
     "eeprom", "boot-flash", "motor-driver", "haptic")
)  # fmt: skip
_BIG_CHIP_PINS = 20
_MODULE_RAILS = 3
_SURE_SCORE = 2.0
_STRONG_SCORE = 2.4
_LEVELS = (0.8, 0.55, IS_ENTRY)
_RIVAL_STEP = 1.0
"""A second feeder whose score is lower by more than this is no alternative."""


@dataclass(slots=True)
class Choice:
    """What was chosen for one rail; `noted` are the candidates that a person's feeders are."""

    feeders: list[Candidate] = field(default_factory=list)
    entry: Entry | None = None
    user: tuple[Feeder, ...] | None = None
    noted: list[Candidate] = field(default_factory=list)

    @property
    def entry_score(self) -> float:
        """How much speaks for an entry, 0 for none."""
        return self.entry.score if self.entry is not None else 0.0


class Chooser:
    """Chooses over one board; the result stands in `choice` and `parents`, by net."""

    def __init__(
        self,
        every: Supplies,
        candidates: Sequence[Candidate],
        entries: dict[int, Entry],
        notes: BoardNotes,
    ) -> None:
        self.every = every
        self.notes = notes
        self.candidates = candidates
        self.incoming: dict[int, list[Candidate]] = defaultdict(list)
        self.outgoing: dict[int, list[int]] = defaultdict(list)
        for nth, candidate in enumerate(candidates):
            self.incoming[candidate.to].append(candidate)
            if not candidate.directed:
                self.outgoing[candidate.source].append(nth)
        self.nets = sorted(every.supplies)
        self.choice = {net: Choice(entry=entries.get(net)) for net in self.nets}
        self.parents: dict[int, set[int]] = {net: set() for net in self.nets}

    def choose(self) -> None:
        """Take the surest candidates first; orient the rest outwards from what is driven."""
        self._user_feeders()
        directed = sorted(
            (c for c in self.candidates if c.directed), key=lambda c: (-c.score, c.part, c.to)
        )
        for candidate in directed:
            if candidate.score >= _SURE_SCORE:
                self._take(candidate)
        for level in _LEVELS:
            self._spread(level)
        while self._host_ports():
            self._spread(IS_ENTRY)
        for candidate in directed:
            if candidate.score < _SURE_SCORE and not self._is_fed(candidate.to, IS_ENTRY):
                self._take(candidate)
                self._spread(IS_ENTRY)
        self._power_paths()
        self._spread(IS_ENTRY)
        self._big_chips(least_rails=_MODULE_RAILS)
        self._spread(IS_ENTRY)
        self._leftover_entries()
        self._spread(IS_ENTRY)
        self._big_chips(least_rails=1)
        self._spread(0.0)
        self._alternatives()

    # -- a person's word -----------------------------------------------------------------------

    def _user_feeders(self) -> None:
        board = self.every.board
        for net in self.nets:
            said = self.notes.net(board.nets[net].name).feeders
            if said is None:
                continue
            if not said:
                # Nothing on the board feeds it: its power comes in from outside.
                self.choice[net].entry = Entry(1.0, reason("user-entry"))
            self.choice[net].user = tuple(self._user_feeder(one, net) for one in said)
            self.parents[net] = {
                board.net(one.from_net).index
                for one in said
                if one.from_net and board.has_net(one.from_net)
            }

    def _user_feeder(self, said: FeederNote, net: int) -> Feeder:
        """A named feeder; where the wiring shows how it feeds, that is kept with it."""
        every = self.every
        alike = [
            one
            for one in self.incoming.get(net, ())
            if every.part_id(one.part) == said.part_id
            and (
                said.from_net is None
                or (one.source >= 0 and every.name(one.source) == said.from_net)
            )
        ]
        best = max(alike, key=lambda one: one.score, default=None)
        if best is not None:
            self.choice[net].noted.append(best)
        return Feeder(
            said.part_id,
            said.from_net,
            "unknown" if best is None else best.kind,
            1.0,
            (reason("user-feeder"),),
            () if best is None else tuple(every.part_id(p) for p in best.through),
        )

    # -- special patterns ----------------------------------------------------------------------

    def _host_ports(self) -> bool:
        """Ports that look like entries, but are fed from a rail that is fed elsewhere.

        True when one was found; others may hang on it.
        """
        for candidate in self.candidates:
            choice = self.choice[candidate.to]
            role = self.every.role[candidate.part]
            if (
                candidate.directed
                or not choice.entry_score
                or CELL_NAME.search(self.every.name(candidate.to))
                or choice.feeders
                or role not in _MAY_FEED_A_PORT
                or candidate.source < 0
                or not self.choice[candidate.source].feeders
                or self.hangs_on(candidate.source, candidate.to)
                or self._feeds_back(candidate)
            ):
                continue
            entry, choice.entry = choice.entry, None
            self._take(candidate)
            if choice.feeders:
                return True
            choice.entry = entry
        return False

    def _power_paths(self) -> None:
        """The system supply of a power manager whose pins have no names.

        Two or more of its converters take their power from the rail, nothing else feeds it, and
        the chip also touches entries: then its power path makes the rail from them.
        """
        takes: dict[tuple[int, int], int] = defaultdict(int)
        for candidate in self.candidates:
            if candidate.through and candidate.kind == "buck" and candidate.source >= 0:
                takes[(candidate.part, candidate.source)] += 1
        for (chip, net), count in sorted(takes.items()):
            choice = self.choice[net]
            fed = [c for c in choice.feeders if c.source >= 0]
            if count < 2 or fed or choice.user is not None or choice.entry_score >= IS_ENTRY:
                continue
            entries = [
                other
                for other in self.every.wiring.nets[chip]
                if other in self.choice
                and self.choice[other].entry_score >= IS_ENTRY
                and not self.choice[other].feeders
                and not self.hangs_on(other, net)
            ]
            if not entries:
                continue
            choice.feeders.clear()
            for other in entries:
                why = reason("power-path", net=self.every.name(other))
                self._take(Candidate(chip, other, net, "charger", 2.3, True, (why,)))

    def _big_chips(self, least_rails: int) -> None:
        """Last resort: the only large chip on a rail that nothing feeds, at low confidence.

        A module or system-in-package makes several such rails; it comes before the connectors
        that may stand on them, a chip with one such rail comes after.
        """
        wiring = self.every.wiring
        unfed = [
            net
            for net in self.nets
            if self.every.kind[net] != "reference" and not self._is_fed(net, IS_ENTRY)
        ]
        rails_of: dict[int, int] = defaultdict(int)
        for net in unfed:
            for part in wiring.parts[net]:
                rails_of[part] += 1
        for net in unfed:
            big = [
                part
                for part in wiring.parts[net]
                if self.every.role[part] not in _NO_MODULE
                and len(wiring.pins[part]) >= _BIG_CHIP_PINS
                and rails_of[part] >= least_rails
            ]
            if len(big) == 1:
                why = reason("big-chip", ref=self.every.part_id(big[0]))
                self._take(Candidate(big[0], -1, net, "unknown", 1.6, True, (why,)))

    def _alternatives(self) -> None:
        """The other positions of a jumper that selects one of several supplies."""
        for candidate in self.candidates:
            chosen = self.choice[candidate.to].feeders if candidate.to in self.choice else []
            if (
                candidate.code == "selects"
                and any(c.part == candidate.part and c.code == "selects" for c in chosen)
                and self._is_fed(candidate.source, IS_ENTRY)
                and not self._feeds_back(candidate)
            ):
                self._take(candidate)

    def _leftover_entries(self) -> None:
        """Rails that nothing feeds, but a connector is on them: one after the other.

        First those that no part would rather feed than be fed from; what can be reached from an
        entry found so is no entry itself.
        """
        last = [net for net in self.nets if self._is_rather_fed(net)]
        for net in [*(net for net in self.nets if net not in last), *last]:
            if self._is_fed(net, IS_ENTRY) or self.every.kind[net] == "reference":
                continue
            entry = left_over(self.every, net)
            if entry is not None and entry.score > self.choice[net].entry_score:
                self.choice[net].entry = entry
                if net in last or self._has_leaning(net):
                    self._spread(IS_ENTRY)

    def _has_leaning(self, net: int) -> bool:
        """Some part would rather pass power on from this net than towards it."""
        return any(self._leans(self.candidates[nth]) for nth in self.outgoing.get(net, ()))

    def _is_rather_fed(self, net: int) -> bool:
        return any(not c.directed and self._leans(c) for c in self.incoming.get(net, ()))

    def _leans(self, candidate: Candidate) -> bool:
        """Whether the part speaks for this direction more than for the other."""
        back = [
            c.score
            for c in self.incoming.get(candidate.source, ())
            if c.part == candidate.part and c.source == candidate.to
        ]
        return bool(back) and candidate.score > max(back)

    # -- spreading and taking ------------------------------------------------------------------

    def _is_fed(self, net: int, entry_level: float) -> bool:
        choice = self.choice.get(net)
        return choice is not None and (
            bool(choice.feeders)
            or bool(choice.user)
            or choice.entry_score >= max(entry_level, 0.01)
        )

    def _spread(self, entry_level: float) -> None:
        """Orient parts that pass both ways, away from fed rails, best score first.

        Each rail's outgoing candidates enter the queue once it is fed, so the work grows with the
        number of candidates only.
        """
        queue: list[tuple[float, int, int, int]] = []

        def enter(net: int) -> None:
            for nth in self.outgoing.get(net, ()):
                c = self.candidates[nth]
                heappush(queue, (-self._joint_score(c), c.part, c.to, nth))

        for net in self.nets:
            if self._is_fed(net, entry_level):
                enter(net)
        while queue:
            candidate = self.candidates[heappop(queue)[3]]
            choice = self.choice[candidate.to]
            if self._is_fed(candidate.to, max(entry_level, IS_ENTRY)) or self._feeds_back(
                candidate
            ):
                continue
            self._take(candidate)
            if choice.feeders:
                enter(candidate.to)

    def _joint_score(self, candidate: Candidate) -> float:
        return candidate.score + (0.5 if self._strongly_fed(candidate.source) else 0.0)

    def _strongly_fed(self, net: int) -> bool:
        choice = self.choice.get(net)
        return choice is not None and (
            choice.entry_score >= _LEVELS[0]
            or any(c.score >= _STRONG_SCORE and c.source >= 0 for c in choice.feeders)
        )

    def _feeds_back(self, candidate: Candidate) -> bool:
        """Whether the part already feeds the other way, or selects what it would pass on."""
        return any(
            taken.part == candidate.part
            and (taken.source == candidate.to or candidate.code == "selects")
            for taken in self.choice[candidate.source].feeders
            if candidate.source in self.choice
        )

    def _take(self, candidate: Candidate) -> None:
        choice = self.choice.get(candidate.to)
        if choice is None or choice.user is not None:
            return
        if choice.entry_score >= _LEVELS[0] and not self._strong(candidate):
            return
        if any(c.part == candidate.part and c.source == candidate.source for c in choice.feeders):
            return
        if candidate.source >= 0 and self.hangs_on(candidate.source, candidate.to):
            return
        if choice.feeders and candidate.score < choice.feeders[0].score - _RIVAL_STEP:
            return
        choice.feeders.append(candidate)
        if candidate.source >= 0:
            self.parents[candidate.to].add(candidate.source)

    def _strong(self, candidate: Candidate) -> bool:
        if candidate.code in ("buck", "boost", "buck-boost", "inverting"):
            return candidate.score >= 3.0
        # A switch whose output pin drives the net feeds a port; a cell is no port.
        cell = CELL_NAME.search(self.every.name(candidate.to)) is not None
        return candidate.code == "pin-in-out" and candidate.score >= 3.5 and not cell

    def hangs_on(self, net: int, root: int) -> bool:
        """Whether `net` is fed, directly or not, from `root`."""
        seen, stack = set(), [net]
        while stack:
            one = stack.pop()
            if one == root:
                return True
            if one not in seen:
                seen.add(one)
                stack.extend(self.parents.get(one, ()))
        return False
