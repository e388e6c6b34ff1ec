# SPDX-License-Identifier: GPL-3.0-or-later
"""The rail tree of a board: what feeds what, chosen jointly over the whole board.

Sure candidates (pin names, coils, diodes, entries) are taken first. Parts that could pass a supply
either way are then oriented outwards from what is driven already; each rail gets the best
candidate that doesn't hang on itself.
"""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass, field
from heapq import heappop, heappush
from math import exp

from netgraph.model.board import Board
from netgraph.rails.candidates import Candidate, CandidateFinder
from netgraph.rails.tree import Feeder, Rail, RailKind, RailTree, SeriesPart, SwitchNode
from netgraph.rails.volts import infer_volts
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import Role, Roles
from netgraph.roles.ground import last_segment
from netgraph.roles.net_words import INPUT_PART
from netgraph.roles.notes import NO_NOTES, BoardNotes, FeederNote
from netgraph.roles.wiring import Wiring

_ENTRY_NAME = re.compile(
    r"(?:^|[^A-Za-z])(?:[A-Z]{0,4}_?VBUS.*|VBAT.*|BATT?.*|V?DC_?IN.*|DC_?\d*V?.*|VIN.*|"
    r"V?USB(?:_?5V|_?V.*)?|"
    r".*USB_?\d?V?BUS.*|PWR_?IN|POWER_?IN|V?EXT(?:_.*)?|.*\bIN\b|5V_?USB|USB_?5V|POE.*|"
    r"VRAW|RAW|12V_?IN|"
    r"VAC.*|.*JACK.*|LIPO.*|VCELL|CELL.*)(?:$|[^A-Za-z])",
    re.IGNORECASE,
)
_CELL_NAME = re.compile(r"VBAT|BATT|LIPO|CELL|(?:^|[^A-Z])BAT(?:$|[^A-Z])|CR20", re.IGNORECASE)
_MAY_FEED_A_PORT: frozenset[Role] = frozenset(
    ("load-switch", "regulator", "ferrite", "fuse", "link", "sense-resistor")
)
_BIG_CHIP_PINS = 20
_MODULE_RAILS = 3
_USB_SUPPLY_PIN = re.compile(r"1|A4|A9|B4|B9|V\+|VCC")
_ENTRY_ROLES: frozenset[Role] = frozenset(("connector", "battery", "slot"))
_LOAD_NOT: frozenset[Role] = frozenset(
    ("capacitor", "resistor", "ferrite", "fuse", "link", "inductor", "sense-resistor", "diode",
     "tvs", "esd-array", "test-point", "mechanical", "crystal", "thermistor", "antenna",
     "transformer", "bridge-rectifier", "switch", "transistor")
)  # fmt: skip
_SERIES: frozenset[Role] = frozenset(
    ("ferrite", "fuse", "link", "inductor", "sense-resistor", "resistor", "diode", "transistor")
)


@dataclass(slots=True)
class _Choice:
    """What was chosen for one rail; `noted` are the candidates that a person's feeders are."""

    feeders: list[Candidate]
    confidence: list[float]
    entry: float = 0.0
    entry_reason: Reason | None = None
    user: tuple[Feeder, ...] | None = None
    noted: list[Candidate] = field(default_factory=list)


def find_rails(board: Board, roles: Roles, notes: BoardNotes = NO_NOTES) -> RailTree:
    """Find grounds, rails and feeders.

    Parameters
    ----------
    board, roles
        Any board and the roles of its parts and nets.
    notes
        A person's corrections: feeders named there replace all others of that rail.

    Returns
    -------
    RailTree
        Rails sorted from the entries outwards; each with its feeders (several: alternatives),
        series parts, loads and shunt capacitors. A rail without a feeder is an entry or unknown;
        confidence says how sure the feeding is.
    """
    return _TreeMaker(board, roles, notes).make()


class _TreeMaker:
    def __init__(self, board: Board, roles: Roles, notes: BoardNotes) -> None:
        self.board = board
        self.roles = roles
        self.notes = notes
        self.wiring = Wiring(board, roles.fitted)
        self.finder = CandidateFinder(self.wiring, roles)
        self.candidates = self.finder.find()
        self.role = self.finder.role
        self.incoming: dict[int, list[Candidate]] = defaultdict(list)
        self.outgoing: dict[int, list[int]] = defaultdict(list)
        for nth, candidate in enumerate(self.candidates):
            self.incoming[candidate.to].append(candidate)
            if not candidate.directed:
                self.outgoing[candidate.source].append(nth)
        self.grounds = self.finder.grounds
        self.supplies = sorted(self.finder.supplies)
        self.choice = {net: _Choice([], []) for net in self.supplies}
        self.parents: dict[int, set[int]] = {net: set() for net in self.supplies}

    def make(self) -> RailTree:
        """Choose, then describe."""
        self._entries()
        self._user_feeders()
        self._choose()
        self.volts = infer_volts(
            self.wiring,
            self.roles,
            {net: choice.feeders or choice.noted for net, choice in self.choice.items()},
            {
                net: choice.entry >= 0.45 and not choice.feeders
                for net, choice in self.choice.items()
            },
        )
        order = self._order()
        rails = tuple(self._rail(net) for net in order)
        grounds = sorted(
            (self.board.nets[net].name for net in self.grounds),
            key=lambda name: -self.wiring.pads[self.board.net(name).index],
        )
        return RailTree(tuple(grounds), rails, tuple(self._switch_nodes()))

    def _switch_nodes(self) -> list[SwitchNode]:
        return sorted(self.finder.switch_nodes, key=lambda node: (node.net, node.inductor))

    # -- entries -------------------------------------------------------------------------------

    def _entries(self) -> None:
        """Nets that a cell or an input connector supplies, by name and part."""
        for net in self.supplies:
            if self.finder.kind[net] == "reference":
                continue
            name = last_segment(self.board.nets[net].name)
            rectified = [why for why in self._net_reasons(net) if why.code == "rectified"]
            if rectified:
                self._set_entry(net, 0.7, rectified[0])
            for part in self.wiring.parts[net]:
                role = self.role[part]
                own = self.board.parts[part]
                if role == "battery":
                    self._set_entry(net, 0.9, reason("entry-cell", ref=own.id))
                if role not in _ENTRY_ROLES:
                    continue
                text = f"{own.ref} {own.value} {own.package}"
                pins = self.wiring.pins_on(part, net)
                by_pin = any(re.match(r"VBUS|VBAT|BAT\+?$|DC_?IN", pin.name, re.I) for pin in pins)
                by_pin |= "USB" in text.upper() and any(
                    _USB_SUPPLY_PIN.fullmatch(pin.number) for pin in pins
                )
                input_part = INPUT_PART.search(text) is not None
                named = _ENTRY_NAME.search(name) is not None and "Net-(" not in name
                if by_pin and input_part:
                    self._set_entry(net, 0.9, reason("entry-connector", ref=own.id))
                elif named and input_part:
                    self._set_entry(net, 0.85, reason("entry-connector", ref=own.id))
                elif named or by_pin:
                    self._set_entry(net, 0.6, reason("entry-connector", ref=own.id))
                elif input_part and len(self.wiring.nets[part]) <= 4:
                    self._set_entry(net, 0.5, reason("entry-connector", ref=own.id))

    def _net_reasons(self, net: int) -> tuple[Reason, ...]:
        return self.roles.nets[self.board.nets[net].name].reasons

    def _set_entry(self, net: int, sure: float, why: Reason) -> None:
        choice = self.choice[net]
        if sure > choice.entry:
            choice.entry, choice.entry_reason = sure, why

    def _user_feeders(self) -> None:
        for net in self.supplies:
            name = self.board.nets[net].name
            said = self.notes.net(name).feeders
            if said is None:
                continue
            if not said:
                # Nothing on the board feeds it: its power comes in from outside.
                self._set_entry(net, 1.0, reason("user-entry"))
            self.choice[net].user = tuple(self._user_feeder(one, net) for one in said)
            self.parents[net] = {
                self.board.net(one.from_net).index
                for one in said
                if one.from_net and self.board.has_net(one.from_net)
            }

    def _user_feeder(self, said: FeederNote, net: int) -> Feeder:
        """A named feeder; where the wiring shows how it feeds, that is kept with it."""
        alike = [
            one
            for one in self.incoming.get(net, ())
            if self.board.parts[one.part].id == said.part_id
            and (said.from_net is None or self._name(one.source) == said.from_net)
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
            () if best is None else tuple(self.board.parts[p].id for p in best.through),
        )

    def _name(self, net: int) -> str | None:
        return self.board.nets[net].name if net >= 0 else None

    # -- the joint choice ----------------------------------------------------------------------

    def _choose(self) -> None:
        """Take the surest candidates first; orient the rest outwards from what is driven."""
        directed = sorted(
            (c for c in self.candidates if c.directed), key=lambda c: (-c.score, c.part, c.to)
        )
        for candidate in directed:
            if candidate.score >= 2.0:
                self._take(candidate)
        for entry_level in (0.8, 0.55, 0.45):
            self._spread(entry_level)
        while self._host_ports():
            self._spread(0.45)
        for candidate in sorted(directed, key=lambda c: (-c.score, c.part, c.to)):
            if candidate.score < 2.0 and not self._is_fed(candidate.to, 0.45):
                self._take(candidate)
                self._spread(0.45)
        self._power_paths()
        self._spread(0.45)
        self._big_chips(least_rails=_MODULE_RAILS)
        self._spread(0.45)
        self._leftover_entries()
        self._spread(0.45)
        self._big_chips(least_rails=1)
        self._spread(0.0)

    def _host_ports(self) -> bool:
        """Ports that look like entries, but are fed from a rail that is fed elsewhere.

        True when one was found; others may hang on it.
        """
        for candidate in self.candidates:
            choice = self.choice[candidate.to]
            role = self.role[candidate.part]
            if (
                candidate.directed
                or not choice.entry
                or _CELL_NAME.search(self.board.nets[candidate.to].name)
                or choice.feeders
                or role not in _MAY_FEED_A_PORT
                or candidate.source < 0
                or not self.choice[candidate.source].feeders
                or self._hangs_on(candidate.source, candidate.to)
                or self._feeds_back(candidate)
            ):
                continue
            entry, choice.entry = choice.entry, 0.0
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
            if count < 2 or fed or choice.user is not None or choice.entry >= 0.45:
                continue
            entries = [
                other
                for other in self.wiring.nets[chip]
                if other in self.choice
                and self.choice[other].entry >= 0.45
                and not self.choice[other].feeders
                and not self._hangs_on(other, net)
            ]
            if not entries:
                continue
            choice.feeders.clear()
            choice.confidence.clear()
            for other in entries:
                why = reason("power-path", net=self.board.nets[other].name)
                self._take(Candidate(chip, other, net, "charger", 2.3, True, (why,)))

    def _big_chips(self, least_rails: int) -> None:
        """Last resort: the only large chip on a rail that nothing feeds, at low confidence.

        A module or system-in-package makes several such rails; it comes before the connectors
        that may stand on them, a chip with one such rail comes after.
        """
        unfed = [net for net in self.supplies if not self._is_fed(net, 0.45)]
        rails_of: dict[int, int] = defaultdict(int)
        for net in unfed:
            for part in self.wiring.parts[net]:
                rails_of[part] += 1
        for net in unfed:
            big = [
                part
                for part in self.wiring.parts[net]
                if self.role[part] not in _LOAD_NOT
                and self.role[part] not in _ENTRY_ROLES
                and self.role[part] not in ("programmable-logic", "memory", "storage")
                and len(self.wiring.pins[part]) >= _BIG_CHIP_PINS
                and rails_of[part] >= least_rails
            ]
            if len(big) == 1:
                why = reason("big-chip", ref=self.board.parts[big[0]].id)
                self._take(Candidate(big[0], -1, net, "unknown", 1.6, True, (why,)))

    def _is_fed(self, net: int, entry_level: float) -> bool:
        choice = self.choice.get(net)
        return choice is not None and (
            bool(choice.feeders) or bool(choice.user) or choice.entry >= max(entry_level, 0.01)
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

        for net in self.supplies:
            if self._is_fed(net, entry_level):
                enter(net)
        while queue:
            candidate = self.candidates[heappop(queue)[3]]
            choice = self.choice[candidate.to]
            if self._is_fed(candidate.to, max(entry_level, 0.45)) or self._feeds_back(candidate):
                continue
            self._take(candidate)
            if choice.feeders:
                enter(candidate.to)

    def _joint_score(self, candidate: Candidate) -> float:
        return candidate.score + (0.5 if self._strongly_fed(candidate.source) else 0.0)

    def _strongly_fed(self, net: int) -> bool:
        choice = self.choice.get(net)
        return choice is not None and (
            choice.entry >= 0.8 or any(c >= 0.7 for c in choice.confidence)
        )

    def _feeds_back(self, candidate: Candidate) -> bool:
        """Whether the part already feeds the other way."""
        return any(
            taken.part == candidate.part and taken.source == candidate.to
            for taken in self.choice[candidate.source].feeders
            if candidate.source in self.choice
        )

    def _take(self, candidate: Candidate) -> None:
        choice = self.choice.get(candidate.to)
        if choice is None or choice.user is not None:
            return
        if choice.entry >= 0.8 and not self._strong(candidate):
            return
        if any(c.part == candidate.part and c.source == candidate.source for c in choice.feeders):
            return
        if candidate.source >= 0 and self._hangs_on(candidate.source, candidate.to):
            return
        if choice.feeders and candidate.score < choice.feeders[0].score - 1.0:
            return
        choice.feeders.append(candidate)
        choice.confidence.append(self._confidence(candidate))
        if candidate.source >= 0:
            self.parents[candidate.to].add(candidate.source)

    def _strong(self, candidate: Candidate) -> bool:
        if candidate.kind in ("buck", "boost"):
            return candidate.score >= 3.0
        # A switch whose output pin drives the net feeds a port; a cell is no port.
        named = any(why.code == "pin-in-out" for why in candidate.reasons)
        cell = _CELL_NAME.search(self.board.nets[candidate.to].name) is not None
        return named and candidate.score >= 3.5 and not cell

    def _hangs_on(self, net: int, root: int) -> bool:
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

    def _confidence(self, candidate: Candidate) -> float:
        score = candidate.score
        if candidate.source < 0:
            score -= 0.4
        elif not candidate.directed:
            rivals = [
                c.score
                for c in self.candidates
                if c.to == candidate.to and c.part != candidate.part
            ]
            score -= 0.3 * (max(rivals, default=0.0) >= candidate.score)
        if self.role[candidate.part] not in ("unknown",):
            score += 0.5 * (self.roles.parts[self.board.parts[candidate.part].id].confidence - 0.5)
        return round(min(0.98, 1.0 / (1.0 + exp(-(1.2 * score - 2.2)))), 3)

    def _leftover_entries(self) -> None:
        """Rails that nothing feeds, but a connector is on them."""
        for net in self.supplies:
            if self._is_fed(net, 0.45) or self.finder.kind[net] == "reference":
                continue
            connectors = [p for p in self.wiring.parts[net] if self.role[p] in _ENTRY_ROLES]
            if connectors:
                ref = self.board.parts[connectors[0]].id
                self._set_entry(net, 0.45, reason("entry-unfed", ref=ref))

    # -- describing ----------------------------------------------------------------------------

    def _order(self) -> list[int]:
        """Rails from the entries outwards: by depth, then by name."""
        depth: dict[int, int] = {}

        def level(net: int) -> int:
            stack = [net]
            while stack:
                one = stack[-1]
                waiting = [p for p in self.parents[one] if p in self.parents and p not in depth]
                if waiting and one not in depth:
                    depth[one] = 0  # placeholder against loops
                    stack.extend(waiting)
                    continue
                ups = [depth[p] for p in self.parents[one] if p in depth and p != one]
                depth[one] = 1 + max(ups) if ups else 0
                stack.pop()
            return depth[net]

        for net in self.supplies:
            level(net)
        return sorted(self.supplies, key=lambda net: (depth[net], self.board.nets[net].name))

    def _rail(self, net: int) -> Rail:
        name = self.board.nets[net].name
        choice, role = self.choice[net], self.roles.nets[name]
        feeders = choice.user if choice.user is not None else self._feeders(choice)
        entry = choice.entry >= 0.45 and not feeders
        kind: RailKind = "entry" if entry else feeders[0].kind if feeders else "unknown"
        if role.kind == "reference":
            kind = "reference"
        sure = max((one.confidence for one in feeders), default=choice.entry if entry else 0.2)
        reasons = list(role.reasons)
        if choice.entry_reason is not None and entry:
            reasons.insert(0, choice.entry_reason)
        elif not feeders:
            reasons.insert(0, reason("no-feeder"))
        nominal = self.volts.get(net)
        if nominal is not None and nominal.why is not None:
            reasons.append(nominal.why)
        series, loads, capacitors = self._hangers(net, {one.part_id for one in feeders})
        return Rail(
            name,
            kind,
            nominal.volts if nominal is not None else None,
            feeders,
            series,
            loads,
            capacitors,
            self._always_on(net),
            round(min(sure, max(role.confidence, 0.3)), 3),
            tuple(dict.fromkeys(reasons)),
        )

    def _feeders(self, choice: _Choice) -> tuple[Feeder, ...]:
        ranked = sorted(
            zip(choice.feeders, choice.confidence, strict=True),
            key=lambda pair: (-pair[1], pair[0].part),
        )
        return tuple(
            Feeder(
                self.board.parts[c.part].id,
                self.board.nets[c.source].name if c.source >= 0 else None,
                c.kind,
                sure,
                c.reasons,
                tuple(self.board.parts[p].id for p in c.through),
            )
            for c, sure in ranked
        )

    def _hangers(
        self, net: int, feeding: set[str]
    ) -> tuple[tuple[SeriesPart, ...], tuple[str, ...], tuple[str, ...]]:
        series: list[SeriesPart] = []
        loads: list[str] = []
        capacitors: list[str] = []
        for part in self.wiring.parts[net]:
            own, role = self.board.parts[part].id, self.role[part]
            nets = self.wiring.nets[part]
            if own in feeding:
                continue
            if role == "capacitor":
                if len(nets) == 2 and self.wiring.other_net(part, net) in self.grounds:
                    capacitors.append(own)
                continue
            if role in _SERIES:
                onward = [
                    n for n in nets if n != net and n in self.parents and self._part_feeds(part, n)
                ]
                series += [SeriesPart(own, self.board.nets[n].name) for n in onward]
                continue
            if role not in _LOAD_NOT:
                loads.append(own)
        return tuple(series), tuple(loads), tuple(capacitors)

    def _part_feeds(self, part: int, net: int) -> bool:
        choice = self.choice[net]
        if choice.user is not None:
            return any(one.part_id == self.board.parts[part].id for one in choice.user)
        return any(c.part == part for c in choice.feeders)

    def _always_on(self, net: int) -> bool | None:
        """True when only entries and parts without a switch stand before the rail."""
        said = self.notes.net(self.board.nets[net].name).always_on
        if said is not None:
            return said
        seen: set[int] = set()
        while net not in seen:
            seen.add(net)
            choice = self.choice.get(net)
            if choice is None or choice.user is not None:
                return None
            if not choice.feeders:
                return True if choice.entry >= 0.45 else None
            kinds = {c.kind for c in choice.feeders}
            if kinds != {"filtered"}:
                return False if kinds == {"switched"} else None
            if any(self.role[c.part] == "transistor" for c in choice.feeders):
                return None
            net = choice.feeders[0].source
        return None
