# SPDX-License-Identifier: GPL-3.0-or-later
"""The rail tree of a board: entries, candidates, the joint choice, certainty, volts; described."""

from __future__ import annotations

from netgraph.model.board import Board
from netgraph.rails.candidate import Candidate, Supplies
from netgraph.rails.candidates import find_candidates
from netgraph.rails.certainty import Weighed, weigh
from netgraph.rails.choose import Choice, Chooser
from netgraph.rails.entries import IS_ENTRY, find_entries
from netgraph.rails.tree import Feeder, Rail, RailKind, RailTree, SeriesPart
from netgraph.rails.volts import infer_volts
from netgraph.reasons import reason
from netgraph.roles.answer import Role, Roles
from netgraph.roles.notes import NO_NOTES, BoardNotes
from netgraph.roles.wiring import Wiring

_LOAD_NOT: frozenset[Role] = frozenset(
    ("capacitor", "resistor", "ferrite", "fuse", "link", "inductor", "sense-resistor", "diode",
     "tvs", "esd-array", "test-point", "mechanical", "crystal", "thermistor", "antenna",
     "transformer", "bridge-rectifier", "switch", "transistor")
)  # fmt: skip
_SERIES: frozenset[Role] = frozenset(
    ("ferrite", "fuse", "link", "inductor", "sense-resistor", "resistor", "diode", "transistor")
)
_FEEDING: frozenset[Role] = frozenset(("power-manager", "charger"))
_UNFED_SURE = 0.2
_UNKNOWN_SURE = 0.2


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
    every, chooser, weighed = weigh_board(board, roles, notes)
    return _Describer(every, chooser, weighed, notes).tree()


def weigh_board(
    board: Board, roles: Roles, notes: BoardNotes = NO_NOTES
) -> tuple[Supplies, Chooser, dict[int, list[Weighed]]]:
    """The choice of feeders with the facts behind each certainty, before it is described."""
    every = Supplies(Wiring(board, roles.fitted), roles)
    entries = find_entries(every)
    every.entries = {net: entry.score for net, entry in entries.items()}
    chooser = Chooser(every, find_candidates(every), entries, notes)
    chooser.choose()
    return every, chooser, weigh(every, chooser)


class _Describer:
    def __init__(
        self,
        every: Supplies,
        chooser: Chooser,
        weighed: dict[int, list[Weighed]],
        notes: BoardNotes,
    ) -> None:
        self.every = every
        self.board = every.board
        self.roles = every.roles
        self.wiring = every.wiring
        self.role = every.role
        self.choice = chooser.choice
        self.parents = chooser.parents
        self.chooser = chooser
        self.weighed = weighed
        self.notes = notes

    def tree(self) -> RailTree:
        """All rails, grounds and switch nodes."""
        self.volts = infer_volts(
            self.wiring,
            self.roles,
            {net: self._ranked(net) or choice.noted for net, choice in self.choice.items()},
            {
                net: choice.entry_score >= IS_ENTRY and not choice.feeders
                for net, choice in self.choice.items()
            },
        )
        rails = tuple(self._rail(net) for net in self._order())
        grounds = sorted(
            (self.board.nets[net].name for net in self.every.grounds),
            key=lambda name: -self.wiring.pads[self.board.net(name).index],
        )
        nodes = sorted(self.every.switch_nodes, key=lambda node: (node.net, node.inductor))
        return RailTree(tuple(grounds), rails, tuple(nodes))

    def _ranked(self, net: int) -> list[Candidate]:
        return [one.candidate for one in self.weighed.get(net, ()) if one.candidate is not None]

    def _order(self) -> list[int]:
        """Rails from the entries outwards: by depth, then by name."""
        depth: dict[int, int] = {}
        for net in self.chooser.nets:
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
        return sorted(self.chooser.nets, key=lambda net: (depth[net], self.board.nets[net].name))

    def _rail(self, net: int) -> Rail:
        name = self.board.nets[net].name
        choice, role = self.choice[net], self.roles.nets[name]
        feeders = choice.user if choice.user is not None else self._feeders(net)
        entry = choice.entry_score >= IS_ENTRY and not feeders
        kind: RailKind = "entry" if entry else feeders[0].kind if feeders else "unknown"
        if role.kind == "reference":
            kind = "reference"
        sure = max((one.confidence for one in feeders), default=_UNFED_SURE)
        if entry:
            sure = max((one.sure for one in self.weighed.get(net, ())), default=1.0)
        reasons = list(role.reasons)
        if entry and choice.entry is not None:
            reasons.insert(0, choice.entry.why)
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
            round(sure, 3),
            tuple(dict.fromkeys(reasons)),
            nominal.spread if nominal is not None else None,
        )

    def _feeders(self, net: int) -> tuple[Feeder, ...]:
        return tuple(
            Feeder(
                self.board.parts[c.part].id,
                self.board.nets[c.source].name if c.source >= 0 else None,
                c.kind,
                one.sure,
                one.reasons,
                tuple(self.board.parts[p].id for p in c.through),
            )
            for one in self.weighed.get(net, ())
            if (c := one.candidate) is not None
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
                if len(nets) == 2 and self.wiring.other_net(part, net) in self.every.grounds:
                    capacitors.append(own)
                continue
            if role in _SERIES:
                onward = [
                    n for n in nets if n != net and n in self.parents and self._part_feeds(part, n)
                ]
                series += [SeriesPart(own, self.board.nets[n].name) for n in onward]
                continue
            if role not in _LOAD_NOT and not self._makes_it(part, net):
                loads.append(own)
        return tuple(series), tuple(loads), tuple(capacitors)

    def _makes_it(self, part: int, net: int) -> bool:
        """A power manager or charger on a rail that hangs on what it makes itself.

        It can't need that rail: it looks at it, or takes it as one more input of its power path.
        """
        if self.role[part] not in _FEEDING:
            return False
        made = [n for n in self.wiring.nets[part] if n in self.choice and self._part_feeds(part, n)]
        return any(n != net and self.chooser.hangs_on(net, n) for n in made)

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
            choice: Choice | None = self.choice.get(net)
            if choice is None or choice.user is not None:
                return None
            if not choice.feeders:
                return True if choice.entry_score >= IS_ENTRY else None
            kinds = {c.kind for c in choice.feeders}
            if kinds != {"filtered"}:
                return False if kinds == {"switched"} else None
            if any(self.role[c.part] == "transistor" for c in choice.feeders):
                return None
            net = choice.feeders[0].source
        return None
