# SPDX-License-Identifier: GPL-3.0-or-later
"""Lay files of one board over each other; say item by item where they disagree.

The rule of precedence: the first file wins wherever it says something; a later one fills what is
open. Three things are open though something stands there: names that the file may have cut, places
of a file without places, and the mark of fitted parts in a file that has no such marks.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from netgraph.model.board import NO_SIDE, Board, Pad, Part, board_of
from netgraph.model.builder import BoardBuilder
from netgraph.model.compare import NetDifference, PadsApart, compare_boards, is_untraced
from netgraph.model.copper import Copper
from netgraph.model.merge_doubts import against_measured, doubt_of_file, nets_by_pad, renamed
from netgraph.model.pad_match import CUT_AT, PadMatch, match_pads
from netgraph.model.same_text import same_footprint, same_value
from netgraph.reasons import Reason, few_names, reason

About = Literal[
    "net", "value", "footprint", "fitted", "side", "pin-name", "pin-type", "part-missing",
    "part-added", "pad-added", "place",
]  # fmt: skip
_FILLED = {
    "no-netlist",
    "no-pad-places",
    "some-pad-places",
    "names-cut",
    "no-sides",
    "names-volts-differ",
}
"""Sentences on what is not known that are asked anew after a merge."""


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Two files say different things of one item; `taken` is what the merged board says.

    `file` is the later file, by its name without folders; `first` is what all before it say.
    """

    about: About
    name: str
    first: str
    second: str
    taken: str
    file: str = ""


@dataclass(frozen=True)
class Merged:
    """The joined board and everything on which its files disagree."""

    board: Board
    disagreements: tuple[Disagreement, ...]


def merge_boards(first: Board, second: Board) -> Merged:
    """Lay `second` over `first`, joined by designator and pin (and place, where both have them)."""
    return _Merge(first, second).merged()


class _Merge:
    def __init__(self, a: Board, b: Board) -> None:
        self.a, self.b = a, b
        self.items: list[Disagreement] = []
        self.match: PadMatch = match_pads(a, b)
        self.part_b = self._same_parts()
        self.has_nets = [bool((one.columns.net >= 0).any()) for one in (a, b)]
        self.name_of_b: dict[str, str] = {}
        self.open: dict[str, tuple[str, ...]] = {}
        self.doubted: dict[str, tuple[str, ...]] = {}
        self.added_unplaced = False
        self.nets_told = 0, 0

    def merged(self) -> Merged:
        a, b = self.a, self.b
        self.net_a = self._nets_of_a()
        builder = self.builder = BoardBuilder(a.name, source=a.source)
        builder.copper_layers = a.copper_layers or b.copper_layers
        builder.aliases = {**a.aliases}
        builder.stackup = b.stackup if a.stackup.assumed else a.stackup
        for name in self.new_name:
            builder.add_net(self.new_name[name], net_class=a.net(name).net_class)
        geometry = self._takes_places()
        unplaced = self._add_parts(geometry=geometry)
        self._add_parts_of_b()
        self._keep_names_of_b()
        self._list_moved()
        self._tell(unplaced, geometry=geometry)
        board = builder.freeze()
        if not geometry:
            board = replace(board, load_copper=self._copper())
        return Merged(board, tuple(self.items))

    # -- which is which ------------------------------------------------------------------------

    def _same_parts(self) -> dict[int, int]:
        """Part of a -> part of b: by the pads they share, else by their designators."""
        votes: dict[int, Counter[int]] = defaultdict(Counter)
        for i, j in self.match.pairs:
            votes[int(self.a.columns.part[i])][int(self.b.columns.part[j])] += 1
        found = {one: max(counts, key=counts.__getitem__) for one, counts in votes.items()}
        taken = set(found.values())
        widths = [CUT_AT[o.source.format][0] for o in (self.a, self.b) if o.source.format in CUT_AT]
        width = min(widths) if widths else None
        by_ref: dict[str, list[int]] = defaultdict(list)
        for part in self.b.parts:
            if part.index not in taken:
                by_ref[self._key(part, width)].append(part.index)
        mine = Counter(self._key(part, width) for part in self.a.parts if part.index not in found)
        for part in self.a.parts:
            key = self._key(part, width)
            if part.index not in found and mine[key] == 1 and len(by_ref.get(key, ())) == 1:
                found[part.index] = by_ref[key][0]
        return found

    @staticmethod
    def _key(part: Part, width: int | None) -> str:
        # A table may call a part of an assembly by its whole identity.
        ref = part.ref.rpartition("/")[2]
        return f"{board_of(part.id)}/{ref[:width].strip()}"

    # -- nets ----------------------------------------------------------------------------------

    def _nets_of_a(self) -> list[str | None]:
        """Net of each pad of a in the merged board."""
        a, b = self.a, self.b
        own = [None if net < 0 else a.nets[net].name for net in a.columns.net.tolist()]
        self.new_name = {net.name: net.name for net in a.nets}
        self.unclear = set(a.unclear_nets)
        self.split: set[str] = set()
        if not self.has_nets[1]:
            return own
        theirs = {i: self._net_b(j) for i, j in self.match.pairs}
        if not self.has_nets[0]:
            return [theirs.get(i) for i in range(len(own))]
        compared = compare_boards(a, b)
        pairs = list(compared.same)
        self.nets_told = len(pairs), sum(len(one.nets_a) for one in compared.differ)
        for one, two in compared.same:
            self._settle(one, two)
        self._settle_single_pins(theirs)
        whole: dict[str, str] = {}
        for difference in compared.differ:
            if difference.unclear and set(difference.nets_a) & self.unclear:
                self._resolve(own, theirs, difference.nets_a)
                whole |= {two: two for two in difference.nets_b}
                continue
            if difference.unclear:
                continue  # only the second file's names are in doubt: it is no contradiction
            self._list(difference)
            pairs += difference.paired
        pairs += self._pairs_of_single_pins(own, theirs, dict(pairs), whole)
        self.name_of_b = {two: self.new_name.get(one, one) for one, two in pairs} | whole
        found = [None if name is None else self.new_name.get(name, name) for name in own]
        for i, j in self.match.pairs:
            # A pad that a trace only spoke of, as found apart, goes where the other file has it.
            if is_untraced(a, i):
                found[i] = self._name_for(self._net_b(j))
        return found

    def _list(self, difference: NetDifference) -> None:
        """One row for the pads between two nets; one for all that can't be told apart."""
        for group in difference.apart:
            if group.sure:
                first = group.net_a or "not joined"
                self._item("net", " ".join(group.pads), first, group.net_b or "not joined")
        unsure = [group for group in difference.apart if not group.sure]
        if not unsure:
            return
        first, second = (
            " | ".join(dict.fromkeys(net or "not joined" for net in nets))
            for nets in zip(*((one.net_a, one.net_b) for one in unsure), strict=True)
        )
        self._item("net", " or ".join(" ".join(one.pads) for one in unsure), first, second)
        paired = {two for _, two in difference.paired}
        for two in {one.net_b for one in unsure if one.net_b is not None} - paired:
            self.open[two] = _nets_that_may_be(two, unsure)

    def _pairs_of_single_pins(
        self,
        own: list[str | None],
        theirs: dict[int, str | None],
        known: dict[str, str],
        whole: dict[str, str],
    ) -> list[tuple[str, str]]:
        """Nets that join nothing in one of the files: the one net of the first on their pads."""
        met = {*known.values(), *whole, *self.open}
        nets: dict[str, set[str]] = defaultdict(set)
        for i, two in theirs.items():
            one = own[i]
            if two is not None and two not in met and one is not None and one not in known:
                nets[two].add(one)
        return [(ones.pop(), two) for two, ones in nets.items() if len(ones) == 1]

    def _net_b(self, pad: int) -> str | None:
        net = int(self.b.columns.net[pad])
        return None if net < 0 else self.b.nets[net].name

    def _settle(self, one: str, two: str) -> None:
        """The same net: a name that was cut gives way to a whole one."""
        cut = self.a.source.format in CUT_AT and self.b.source.format not in CUT_AT
        if cut and one != two and not self.a.has_net(two):
            self.new_name[one] = two
        if one in self.unclear and two not in self.b.unclear_nets:
            paired = {i for i, _ in self.match.pairs}
            if all(i in paired for i in self.a.pads_on_net(one)):
                self.unclear.discard(one)
                self.unclear.discard(two)

    def _settle_single_pins(self, theirs: dict[int, str | None]) -> None:
        """Cut names of nets that join nothing, neither here nor there."""
        for one in [net.name for net in self.a.nets]:
            pads = self.a.pads_on_net(one)
            there = {theirs.get(i, "") for i in pads}
            pins = {(int(self.a.columns.part[i]), self.a.columns.pin[i]) for i in pads}
            if len(pins) != 1 or len(there) != 1 or "" in there:
                continue
            two = there.pop()
            if two is None or len(self.b.pads_on_net(two)) == len(pads):
                self._settle(one, one if two is None else two)
                self.unclear.discard(one)

    def _resolve(
        self, own: list[str | None], theirs: dict[int, str | None], nets: tuple[str, ...]
    ) -> None:
        """A cut name that stands for several nets: each pad goes where the second file has it."""
        for name in nets:
            if name not in self.unclear:
                continue
            left = False
            for i in self.a.pads_on_net(name):
                if i in theirs:
                    own[i] = theirs[i]
                else:
                    left = True
            self.split.add(name)
            if not left:
                self.unclear.discard(name)

    # -- parts ---------------------------------------------------------------------------------

    def _takes_places(self) -> bool:
        return "has_positions" not in self.a.capabilities and "has_positions" in self.b.capabilities

    def _takes_part_places(self) -> bool:
        return not self.a.knows_part_places and self.b.knows_part_places

    def _add_parts(self, *, geometry: bool) -> list[str]:
        """All parts of a; names of those whose pads have no place in the merged board."""
        unplaced = []
        pair_of = dict(self.match.pairs)
        for part in self.a.parts:
            other_index = self.part_b.get(part.index)
            other = None if other_index is None else self.b.parts[other_index]
            index = self._add_part(part, other)
            pads = self.a.pad_range(part)
            if geometry:
                if not self._add_placed_pads(index, part, other):
                    unplaced.append(part.id)
                continue
            for i in pads:
                near = self.b.pad(pair_of[i]) if i in pair_of else None
                self._add_pad(index, self.a.pad(i), self.net_a[i], near)
            if other is not None:
                self._add_pads_of_b(index, part, other)
            for tie in self.a.net_ties:
                if tie.part_id == part.id:
                    self.builder.add_net_tie(index, tie.pins)
            if "has_positions" not in self.a.capabilities and pads:
                unplaced.append(part.id)
        paired = set(self.part_b.values())
        # Designators that repeat (logos, holes) can't be paired, and are there all the same.
        mine = {part.ref for part in self.a.parts}
        for part in self.b.parts:
            known = part.index in paired or part.ref in mine
            if not known and not self.b.pad_range(part) and self.a.columns.pin:
                self._item("part-missing", part.id, "not there", part.value, "left out")
        return unplaced

    def _add_part(self, part: Part, other: Part | None) -> int:
        value, footprint, because = part.value, part.footprint, part.not_fitted_because
        side, x_nm, y_nm, angle = part.side, part.x_nm, part.y_nm, part.angle_deg
        fields = part.fields
        ref = part.ref
        if other is not None:
            value = self._text("value", part.id, part.value, other.value)
            footprint = self._text("footprint", part.id, part.footprint, other.footprint)
            # A file in which no part is marked says nothing about any of them.
            marked = [not all(two.fitted for two in one.parts) for one in (self.a, self.b)]
            if not marked[0] and because is None:
                because = other.not_fitted_because
            elif all(marked) and part.fitted != other.fitted:
                words = ["fitted" if one.fitted else "not fitted" for one in (part, other)]
                self._item("fitted", part.id, words[0], words[1])
            if self._takes_part_places():
                x_nm, y_nm, angle = other.x_nm, other.y_nm, other.angle_deg
            told = self.a.knows_side_of(part.id), self.b.knows_side_of(other.id)
            if told == (False, True):
                side = other.side
            elif all(told) and side != other.side:
                self._item("side", part.id, part.side, other.side)
            known = {key for key, _ in fields}
            fields += tuple(pair for pair in other.fields if pair[0] not in known)
            if self.a.source.format in CUT_AT and other.ref.startswith(part.ref):
                ref = other.ref
        return self.builder.add_part(
            ref,
            part_id=part.id if part.id != part.ref else ref,
            value=value,
            footprint=footprint,
            side=side,
            x_nm=x_nm,
            y_nm=y_nm,
            angle_deg=angle,
            not_fitted_because=because,
            attributes=self._attributes(part, other),
            fields=fields,
            tags=part.tags or (other.tags if other else ""),
        )

    def _attributes(self, part: Part, other: Part | None) -> tuple[str, ...]:
        """Those of the first file, else of the second; and whether neither tells the side."""
        theirs = other is not None and self.b.knows_side_of(other.id)
        return self._sided(
            part.attributes or (other.attributes if other else ()),
            told=self.a.knows_side_of(part.id) or theirs,
        )

    def _sided(self, attributes: tuple[str, ...], *, told: bool) -> tuple[str, ...]:
        """With the mark of a part whose side no file tells, where the sides of others are told."""
        plain = tuple(one for one in attributes if one != NO_SIDE)
        marked = not told and (self.a.knows_sides or self.b.knows_sides)
        return (*plain, NO_SIDE) if marked else plain

    def _text(self, about: About, name: str, one: str, two: str) -> str:
        if one and two and not _same(about, name, one, two):
            self._item(about, name, one, two)
        return one or two

    def _item(self, about: About, name: str, one: str, two: str, taken: str = "") -> None:
        file = self.b.source.file_name
        self.items.append(Disagreement(about, name, one, two, taken or one, file))

    def _add_pad(self, part: int, pad: Pad, net: str | None, near: Pad | None) -> None:
        pin_name, pin_type = pad.pin_name, pad.pin_type
        if near is not None:
            place = f"{pad.part_id}.{pad.pin}"
            pin_name = self._text("pin-name", place, pin_name, near.pin_name)
            pin_type = self._text("pin-type", place, pin_type, near.pin_type)
        self._row(part, pad, pad.pin, net, pin_name, pin_type, of=self.a)

    def _row(
        self,
        part: int,
        pad: Pad,
        pin: str,
        net: str | None,
        pin_name: str,
        pin_type: str,
        *,
        of: Board,
    ) -> None:
        told = replace(pad, pin=pin, pin_name=pin_name, pin_type=pin_type)
        if not of.knows_side_of(pad.part_id) and pad.copper_side in ("top", "bottom"):
            # Its file tells no sides: the pad lies where the part sits, which another one may tell.
            told = replace(told, copper_side=self.builder.parts[part].side)
        self.builder.add_pad_like(part, told, net)

    def _add_placed_pads(self, index: int, part: Part, other: Part | None) -> bool:
        """The second file's pads of a part, on the first one's nets; whether all have places."""
        mine: dict[str, tuple[Pad, str | None]] = {}
        for i in self.a.pad_range(part):
            mine.setdefault(self.a.columns.pin[i], (self.a.pad(i), self.net_a[i]))
        met = set()
        cut = {pin[:4]: pin for pin in mine} if self.b.source.format in CUT_AT else {}
        for j in self.b.pad_range(other) if other is not None else ():
            pad = self.b.pad(j)
            pin = pad.pin if pad.pin in mine else cut.get(pad.pin, pad.pin)
            known = mine.get(pin)
            if known is None:
                self._add_pad_of_b(index, part, pad, listed=bool(mine))
                continue
            met.add(pin)
            about = known[0]
            self._row(
                index, pad, pin, known[1], about.pin_name or pad.pin_name,
                about.pin_type or pad.pin_type, of=self.b,
            )  # fmt: skip
        for pin, (pad, net) in mine.items():
            if pin not in met:
                self._row(index, pad, pin, net, pad.pin_name, pad.pin_type, of=self.a)
        return met == set(mine)

    def _add_pads_of_b(self, index: int, part: Part, other: Part) -> None:
        """Pads that only the second file has on a part of both: they may carry a rail to it."""
        mine = {self.a.columns.pin[i] for i in self.a.pad_range(part)}
        cuts = [CUT_AT[o.source.format][1] for o in (self.a, self.b) if o.source.format in CUT_AT]
        width = min(cuts) if cuts else None
        cut = {pin[:width].strip() for pin in mine}
        placed = "has_positions" in self.a.capabilities
        for j in self.b.pad_range(other):
            pad = self.b.pad(j)
            if pad.pin[:width].strip() in cut or pad.copper_side == "none":
                continue
            offset = self.match.offset_nm
            if offset is not None:
                pad = replace(pad, x_nm=pad.x_nm + offset[0], y_nm=pad.y_nm + offset[1])
            elif placed and pad.net is None:
                continue  # a pad that joins nothing is not worth the places of all others
            else:
                self.added_unplaced |= placed
            self._add_pad_of_b(index, part, pad, listed=bool(mine))

    def _add_pad_of_b(self, index: int, part: Part, pad: Pad, *, listed: bool) -> None:
        net = self._name_for(pad.net)
        self._row(index, pad, pad.pin, net, pad.pin_name, pad.pin_type, of=self.b)
        if listed:
            there = net or "not joined"
            self._item("pad-added", f"{part.id}.{pad.pin}", "not there", there, "added")

    def _name_for(self, net: str | None) -> str | None:
        """A net of the second file by its name in the merged board."""
        if net is None:
            return None
        known = self.name_of_b.get(net)
        if known is None:
            known, count = net, 2
            # A name that the first file uses for another net must not be joined with it.
            while self.has_nets[0] and known in self.new_name.values():
                known, count = f"{net}@{count}", count + 1
            self.name_of_b[net] = known
            if net in self.b.unclear_nets:
                self.unclear.add(known)
        if net in self.open:
            self.doubted[known] = self.open[net]
        return known

    def _add_parts_of_b(self) -> None:
        """Parts that only the second file has: there may be a load among them, so they come in."""
        known = set(self.part_b.values())
        missing = self.match.only_b
        c = self.b.columns
        wanted = dict.fromkeys(int(c.part[j]) for j in missing if int(c.part[j]) not in known)
        taken = {part.ref for part in self.a.parts}
        for index in wanted:
            part = self.b.parts[index]
            if part.ref in taken and self.a.source.format not in CUT_AT and part.ref:
                # repeated designators (holes, logos) that could not be paired
                continue
            number = self.builder.add_part(
                part.ref,
                value=part.value,
                footprint=part.footprint,
                side=part.side,
                x_nm=part.x_nm,
                y_nm=part.y_nm,
                angle_deg=part.angle_deg,
                not_fitted_because=part.not_fitted_because,
                attributes=self._sided(part.attributes, told=self.b.knows_side_of(part.id)),
                fields=part.fields,
                tags=part.tags,
            )
            for j in self.b.pad_range(part):
                pad = self.b.pad(j)
                net = self._name_for(pad.net)
                self._row(number, pad, pad.pin, net, pad.pin_name, pad.pin_type, of=self.b)
            self._item("part-added", part.id, "not there", part.value, "added")
            self.added = True

    added = False

    def _keep_names_of_b(self) -> None:
        """What the second file calls a net is another name for it, where no name was cut."""
        b, doubted = self.b, {*self.open, *self.b.unclear_nets}
        if b.source.format in CUT_AT:
            doubted |= {net.name for net in b.nets if net.name not in b.aliases.values()}
        further = {other: self.name_of_b.get(name, "") for other, name in b.aliases.items()}
        for other, name in (self.name_of_b | further).items():
            if name and other != name and other not in doubted:
                self.builder.aliases.setdefault(other, name)

    def _list_moved(self) -> None:
        """Parts that lie elsewhere in the second file, by the first of their pads that does."""
        told: dict[str, tuple[Pad, Pad]] = {}
        for i, j in self.match.moved:
            pad = self.a.pad(i)
            told.setdefault(pad.part_id, (pad, self.b.pad(j)))
        for part_id, (one, two) in told.items():
            x, y = self.match.offset_nm or (0, 0)
            places = [
                f"{at.pin} at {(at.x_nm + dx) / 1e6:.3f}, {(at.y_nm + dy) / 1e6:.3f} mm"
                for at, dx, dy in ((one, 0, 0), (two, x, y))
            ]
            self._item("place", part_id, *places)

    def _hold_measured(self) -> None:
        """What was found by hand against what the whole says: an open track, a fault, a slip, or
        files of two boards; until somebody looks, these nets are not sure.
        """
        builder = self.builder
        if not any(board.partial or board.apart for board in (self.a, self.b)):
            return
        ids = [part.id for part in builder.parts]
        whole = {(ids[part], pin): net for (part, pin), net in builder.nets_of_pads().items()}
        own = {part.id: ids[part.index] for part in self.a.parts}
        theirs = {self.b.parts[j].id: ids[i] for i, j in self.part_b.items()}
        sides = (self.a, own, self.new_name), (self.b, theirs, self.name_of_b)
        listed = {one.name for one in self.items if one.about == "net"}
        for (board, here, _), other in zip(sides, sides[::-1], strict=True):
            found = renamed(board, here)
            builder.apart += found.apart
            if other[0].partial:  # there two nets may be one that nobody has found yet
                found = replace(found, joined={})
            # Where the first file won, the whole hides what the later one says.
            clashes = [
                clash
                for said in (whole, nets_by_pad(*other))
                for clash in against_measured(found, said)
            ]
            for clash in dict.fromkeys(clashes):
                told = clash.found, " | ".join(clash.nets)
                first, second = told if board is self.a else told[::-1]
                if clash.pads not in listed:
                    self._item("net", clash.pads, first, second, taken="not sure")
                listed.add(clash.pads)
                builder.unclear_nets |= {
                    net for net in clash.nets if builder.net_number(net) is not None
                }
                builder.not_known.append(clash.why)

    def _is_partial(self) -> bool:
        """Whether the whole may hold more than both files tell, whichever of them comes first.

        A whole netlist completes a partial one only if it knows each of its pads: else it is no
        netlist of the whole board. Assumed nets of a first file win over found ones, and stay so.
        """
        a, b = self.a, self.b
        if not (a.partial or b.partial):
            return False
        assumed = any(one.code == "assumed-pads" for one in a.not_known)
        completed = a.partial and not b.partial and self.has_nets[1] and not self.match.only_a
        settled = b.partial and not a.partial and self.has_nets[0] and not self.match.only_b
        return not (settled or (completed and not assumed))

    # -- what is known now ---------------------------------------------------------------------

    def _tell(self, unplaced: list[str], *, geometry: bool) -> None:
        a, b, builder = self.a, self.b, self.builder
        for capability in ("has_values", "has_pin_names", "has_pin_types", "has_dnp"):
            if capability in a.capabilities or capability in b.capabilities:
                builder.capabilities.add(capability)
        placed = "has_positions" in a.capabilities or geometry
        offset_unknown = self.added_unplaced or (
            self.added and not geometry and self.match.offset_nm != (0, 0)
        )
        if placed and not unplaced and not offset_unknown:
            builder.capabilities.add("has_positions")
        else:
            builder.not_known.append(
                _unplaced(unplaced) if placed and unplaced else reason("no-pad-places")
            )
            builder.forget_pad_places()
        if "has_copper" in a.capabilities and not geometry:
            builder.capabilities.add("has_copper")
        if not (a.knows_sides or b.knows_sides):
            builder.not_known.append(reason("no-sides"))
        if not any(self.has_nets):
            builder.not_known.append(reason("no-netlist"))
        unclear = {self.new_name.get(one, one) for one in self.unclear}
        builder.unclear_nets = {one for one in unclear if builder.net_number(one) is not None}
        cut = any(one.code == "names-cut" for board in (a, b) for one in board.not_known)
        if builder.unclear_nets and cut:
            names = sorted(builder.unclear_nets)
            builder.not_known.append(
                reason(
                    "names-cut",
                    count=len(names),
                    width=14,
                    names=few_names(names),
                )
            )
        for name, others in self.doubted.items():
            known_as = [self.new_name.get(one, one) for one in others]
            builder.unclear_nets |= {name, *known_as}
            builder.not_known.append(
                reason(
                    "net-of-which",
                    net=name,
                    file=b.source.file_name,
                    nets=" / ".join(known_as) or "none of them",
                )
            )
        self._hold_measured()
        doubt = doubt_of_file(a, b, self.part_b, self.nets_told)
        builder.not_known += [] if doubt is None else [doubt]
        builder.partial = self._is_partial()
        for board in (a, b):
            for one in board.not_known:
                about_part = (
                    one.code in ("untraced", "template", "assumed-pads") and not builder.partial
                )
                if one.code not in _FILLED and not about_part:
                    builder.not_known.append(one)
            for warning in board.warnings:
                if warning.code not in ("no-netlist", "names-cut"):
                    builder.warn(
                        warning.code,
                        f"{board.source.file_name}: {warning.text}",
                        line=warning.line,
                        count=warning.count,
                    )
        if self.items:
            builder.warn(
                "files-disagree",
                f"{self.items[0].about} of {self.items[0].name}: {self.items[0].first!r} and "
                f"{self.items[0].second!r}; netgraph merge lists all",
                count=len(self.items),
            )
            builder.not_known.append(
                reason("files-disagree", count=len(self.items), file=b.source.file_name)
            )

    def _copper(self) -> Callable[[], Copper]:
        """The first file's copper; what lies on a net that was split belongs to none for sure."""
        load, gone = self.a.load_copper, {self.a.net(name).index for name in self.split}
        if not gone:
            return load

        def load_without() -> Copper:
            copper = load()
            lost = np.array(sorted(gone), dtype=np.int64)

            def cleared(table: object) -> np.ndarray:
                net = table.net  # type: ignore[attr-defined]
                return np.where(np.isin(net, lost), -1, net)

            return replace(
                copper,
                tracks=replace(copper.tracks, net=cleared(copper.tracks)),
                arcs=replace(copper.arcs, net=cleared(copper.arcs)),
                vias=replace(copper.vias, net=cleared(copper.vias)),
                zones=tuple(
                    replace(zone, net=-1) if zone.net in gone else zone for zone in copper.zones
                ),
            )

        return load_without


def _unplaced(names: list[str]) -> Reason:
    return reason("some-pad-places", count=len(names), names=few_names(names))


def _nets_that_may_be(net: str, unsure: list[PadsApart]) -> tuple[str, ...]:
    """Nets of the first file that a net of the second may be."""
    return tuple(
        dict.fromkeys(one.net_a for one in unsure if one.net_b == net and one.net_a is not None)
    )


def _same(about: About, name: str, one: str, two: str) -> bool:
    if about == "footprint":
        return same_footprint(one, two)
    return same_value(name if about == "value" else "", one, two)
