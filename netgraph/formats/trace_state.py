# SPDX-License-Identifier: GPL-3.0-or-later
"""What the facts of a hand trace say together: which pads are one net, which are known not to be.

A union of sets, each standing under its oldest pad. Facts that forbid a union are kept with both
sets, so that a line costs no more than what it touches.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import NamedTuple

from netgraph import limits
from netgraph.errors import BoardCheckError, BoardFileError
from netgraph.formats.trace_lines import Fact, PadName
from netgraph.model.board import Side
from netgraph.reasons import Reason, reason

PadKey = tuple[int, str]
"""Index of the part and pin; the part's name may still change."""


class JoinedRails(NamedTuple):
    """Two named nets that became one, and the line that did it."""

    a: str
    b: str
    line: int


class GaveWay(NamedTuple):
    """What was given up of an assumed line: these pads, or the whole line where `rest` is False."""

    line: int
    pads: tuple[PadKey, ...] = ()
    rest: bool = False


class Changed(NamedTuple):
    """A value, package or side that a later line says otherwise."""

    part: int
    was: str
    now: str
    line: int


class PadPlace(NamedTuple):
    """Where a pad was seen, and how large; nanometres."""

    x_nm: int
    y_nm: int
    width_nm: int
    height_nm: int
    through: bool = False


@dataclass
class PartFacts:
    """What is known of one part."""

    ref: str
    value: str = ""
    package: str = ""
    side: Side | None = None
    fitted: bool = True


@dataclass
class TraceState:
    """Filled fact by fact, traced ones before assumed ones."""

    device: str = ""
    parts: list[PartFacts] = field(default_factory=list)
    index: dict[str, int] = field(default_factory=dict)
    parent: dict[PadKey, PadKey] = field(default_factory=dict)
    order: dict[PadKey, int] = field(default_factory=dict)
    size: dict[PadKey, int] = field(default_factory=dict)
    names: dict[PadKey, list[str]] = field(default_factory=dict)
    owner: dict[str, PadKey] = field(default_factory=dict)
    lonely: dict[PadKey, int] = field(default_factory=dict)
    apart: dict[PadKey, dict[int, int]] = field(default_factory=dict)
    pin_names: dict[PadKey, str] = field(default_factory=dict)
    joined_rails: list[JoinedRails] = field(default_factory=list)
    gave_way: list[GaveWay] = field(default_factory=list)
    changed: list[Changed] = field(default_factory=list)
    assumed: set[PadKey] = field(default_factory=set)
    """Pads of which nothing was found but what an assumed line says of their net."""
    found: dict[PadKey, int] = field(default_factory=dict)
    """Pads whose net was traced (or that they join nothing), and the first line that says so."""
    renamed: dict[str, int] = field(default_factory=dict)
    """What parts were called before they got their true names: assumed lines still call them so."""
    assumed_names: set[str] = field(default_factory=set)
    places: dict[PadKey, PadPlace] = field(default_factory=dict)
    part_places: dict[int, tuple[int, int]] = field(default_factory=dict)
    found_apart: list[tuple[PadKey, ...]] = field(default_factory=list)
    """Pads that a traced line says were measured and are not joined."""
    _claims: int = 0

    def add(self, fact: Fact) -> None:
        """Take in one fact.

        Raises
        ------
        BoardCheckError
            A traced fact contradicts another traced one. Of an assumed one the contradicted pads
            give way instead.
        """
        try:
            if fact.kind == "join":
                self._join(fact)
            elif fact.kind == "nc":
                self._not_connected(fact)
            elif fact.kind == "apart":
                self._apart(fact)
            elif fact.kind == "part":
                self._describe(fact)
            elif fact.kind == "not-fitted":
                self.parts[self._part(fact.part, assumed=fact.assumed)].fitted = False
            elif fact.kind == "pin-name":
                self.pin_names[self._pad(fact.pads[0], fact)] = fact.name
            else:
                self._rename(fact)
        except _ContradictionError as error:
            if not fact.assumed:
                raise BoardCheckError(
                    f"line {fact.line}: {error}",
                    code="board-contradictory",
                    hint="take one of the two lines away",
                ) from None
            self.gave_way.append(GaveWay(fact.line))

    # -- nets ----------------------------------------------------------------------------------

    def root(self, pad: PadKey) -> PadKey:
        """The pad that stands for the whole net of this one."""
        path = []
        while self.parent[pad] != pad:
            path.append(pad)
            pad = self.parent[pad]
        for one in path:
            self.parent[one] = pad
        return pad

    def nets(self) -> dict[PadKey, list[PadKey]]:
        """Root -> its pads in order; single pads that nobody named are no net."""
        found: dict[PadKey, list[PadKey]] = {}
        for pad in self.parent:
            found.setdefault(self.root(pad), []).append(pad)
        return {root: pads for root, pads in found.items() if len(pads) > 1 or self.names.get(root)}

    def net_name(self, root: PadKey) -> str:
        """The name of a net: the first one given, else one made from its oldest pad."""
        names = self.names.get(root)
        made = f"NET_{self.shown(root)}"
        while made in self.owner:  # somebody called another net so
            made += "@"
        return names[0] if names else made

    def shown(self, pad: PadKey) -> str:
        """``REF.PIN``."""
        return f"{self.parts[pad[0]].ref}.{pad[1]}"

    def find(self, pad: PadName, *, assumed: bool = False) -> PadKey | None:
        """A pad by its name, if a line spoke of it; `assumed` lines know parts by older names."""
        part = self.renamed.get(pad[0]) if assumed else None
        part = self.index.get(pad[0]) if part is None else part
        key = None if part is None else (part, pad[1])
        return key if key in self.parent else None

    def _join(self, fact: Fact) -> None:
        if fact.assumed:
            fact = self._uncontradicted(fact)
            if len(fact.pads) < (1 if fact.name else 2):
                return
        known = [self.find(pad, assumed=fact.assumed) for pad in fact.pads]
        roots = {self.root(pad) for pad in known if pad is not None}
        if fact.name in self.owner:
            roots.add(self.root(self.owner[fact.name]))
        ordered = sorted(roots, key=self.order.__getitem__)
        self._check_lonely(fact, ordered)
        self._check_apart(ordered)
        groups = [self.names[one] for one in ordered if self.names.get(one)]
        if fact.name and not any(fact.name in group for group in groups):
            groups.append([fact.name])
        if fact.assumed and len(ordered) > 1:
            # Nets that only an assumption joins: all but the one it names, or the oldest.
            named = self.root(self.owner[fact.name]) if fact.name in self.owner else ordered[0]
            leaning = set(ordered) - {named}
            self.assumed |= {pad for pad in self.parent if self.root(pad) in leaning}
        keys = [self._pad(pad, fact) for pad in fact.pads]
        first = self.root((ordered + keys)[0])
        for one in ordered + keys:
            first = self._union(first, self.root(one))
        self.names[first] = list(dict.fromkeys(name for group in groups for name in group))
        if fact.name:
            self.owner[fact.name] = first
            self.assumed_names |= {fact.name} if fact.assumed else set()
        for key in keys:
            if not fact.assumed:
                self.found.setdefault(key, fact.line)
            elif key not in self.found:
                self.assumed.add(key)
        if len(groups) > 1 and not fact.assumed:
            self.joined_rails.append(JoinedRails(groups[0][0], groups[1][0], fact.line))

    def _uncontradicted(self, fact: Fact) -> Fact:
        """An assumed line without the pads that what was found contradicts."""
        known = {pad: self.find(pad, assumed=True) for pad in fact.pads}
        root_of = {pad: self.root(key) for pad, key in known.items() if key is not None}
        lonely = {pad for pad in root_of if known[pad] in self.lonely}
        named = self.root(self.owner[fact.name]) if fact.name in self.owner else None
        claims = {} if named is None else dict.fromkeys(self.apart.get(named, ()), named)
        bad = {
            root
            for root in root_of.values()
            if root != named and not claims.keys().isdisjoint(self.apart.get(root, ()))
        }
        # Of two pads known apart nobody can say which one the assumption meant: both go.
        roots = [root_of[pad] for pad in root_of if pad not in lonely]
        for root in dict.fromkeys(one for one in roots if one not in bad | {named}):
            for claim in self.apart.get(root, ()):
                if claim in claims:
                    bad |= {root, claims[claim]} - {named}
                claims[claim] = root
        bad |= self._named_otherwise(fact, set(root_of.values()) - {named})
        gone = tuple(pad for pad in fact.pads if pad in lonely or root_of.get(pad) in bad)
        rest = tuple(pad for pad in fact.pads if pad not in gone)
        self._give_way(fact, gone, rest=len(rest) >= (1 if fact.name else 2))
        return replace(fact, pads=rest)

    def _named_otherwise(self, fact: Fact, roots: set[PadKey]) -> set[PadKey]:
        """Nets of another name: an assumption never makes one net of two names.

        Where the other name is assumed too, pads that were found joined lie on both: said as two
        rails that became one.
        """
        other = {root for root in roots if self.names.get(root)}
        if not fact.name:
            return other if len(other) > 1 else set()
        bad = {root for root in other if fact.name not in self.names[root]}
        for root in sorted(bad, key=self.order.__getitem__):
            if self.assumed_names.issuperset(self.names[root]):
                self.joined_rails.append(JoinedRails(self.names[root][0], fact.name, fact.line))
        return bad

    def _give_way(self, fact: Fact, pads: tuple[PadName, ...], *, rest: bool) -> None:
        found = (self.find(pad, assumed=fact.assumed) for pad in pads)
        keys = tuple(key for key in found if key is not None)
        if keys:
            self.gave_way.append(GaveWay(fact.line, keys, rest))

    def _union(self, a: PadKey, b: PadKey) -> PadKey:
        if a == b:
            return a
        if self.order[b] < self.order[a]:
            a, b = b, a
        self.parent[b] = a
        self.size[a] += self.size.pop(b)
        self.names.pop(b, None)
        more, less = self.apart.pop(a, {}), self.apart.pop(b, {})
        if len(more) < len(less):
            more, less = less, more
        more.update(less)
        if more:
            self.apart[a] = more
        return a

    def _check_lonely(self, fact: Fact, roots: list[PadKey]) -> None:
        if (
            len(fact.pads) + bool(fact.name in self.owner) < 2
            and self.size.get(roots[0] if roots else (-1, ""), 1) < 2
        ):
            return
        for pad in fact.pads:
            key = self.find(pad, assumed=fact.assumed)
            if key in self.lonely:
                raise _ContradictionError(
                    f"{self.shown(key)} joins nothing, says line {self.lonely[key]}"
                )

    def _check_apart(self, roots: list[PadKey]) -> None:
        seen: dict[int, int] = {}
        for root in roots:
            for claim, line in self.apart.get(root, {}).items():
                if claim in seen:
                    raise _ContradictionError(f"these pads are apart, says line {line}")
                seen[claim] = line

    def _not_connected(self, fact: Fact) -> None:
        joined = []
        for pad in fact.pads:
            key = self.find(pad, assumed=fact.assumed)
            if key is not None and self.size[self.root(key)] > 1:
                if fact.assumed:
                    joined.append(pad)
                    continue
                raise _ContradictionError(f"{self.shown(key)} is joined by line {self.found[key]}")
            key = self._pad(pad, fact)
            self.lonely[key] = fact.line
            if fact.assumed:
                self.assumed.add(key)
            else:
                self.found.setdefault(key, fact.line)
        self._give_way(fact, tuple(joined), rest=len(joined) < len(fact.pads))

    def _apart(self, fact: Fact) -> None:
        """All pads of one line are apart from each other: one claim, held by each of their nets."""
        first: dict[PadKey, PadKey] = {}
        joined = []
        for pad, key in [(pad, self._pad(pad, fact)) for pad in fact.pads]:
            other = first.setdefault(self.root(key), key)
            if other != key and fact.assumed:
                joined.append(pad)
            elif other != key:
                lines = sorted({self.found[other], self.found[key]})
                raise _ContradictionError(
                    f"{self.shown(other)} and {self.shown(key)} are joined, says line "
                    f"{' and '.join(map(str, lines))}"
                )
        self._give_way(fact, tuple(joined), rest=len(first) > 1)
        if not fact.assumed:
            self.found_apart.append(tuple(first.values()))
        self._claims += 1
        for root in first:
            self.apart.setdefault(root, {})[self._claims] = fact.line

    # -- parts ---------------------------------------------------------------------------------

    def _part(self, ref: str, *, assumed: bool = False) -> int:
        if assumed and ref in self.renamed:
            return self.renamed[ref]
        if ref not in self.index:
            if len(self.parts) >= limits.MAX_PARTS:
                raise BoardFileError(
                    "limit-exceeded", f"more than {limits.MAX_PARTS} parts (MAX_PARTS)"
                )
            self.index[ref] = len(self.parts)
            self.parts.append(PartFacts(ref))
        return self.index[ref]

    def _pad(self, pad: PadName, fact: Fact) -> PadKey:
        key = (self._part(pad[0], assumed=fact.assumed), pad[1])
        if key not in self.parent:
            self.parent[key] = key
            self.order[key] = len(self.order)
            self.size[key] = 1
        return key

    def alike(self) -> list[tuple[str, str]]:
        """Designators of two parts that differ in case only, the older one first."""
        first: dict[str, str] = {}
        found = []
        for part in self.parts:
            old = first.setdefault(part.ref.casefold(), part.ref)
            if old != part.ref:
                found.append((old, part.ref))
        return found

    def see(self, pad: PadName) -> PadKey:
        """A pad that was seen, whether it was traced or not."""
        return self._pad(pad, Fact("join", 0))

    def _describe(self, fact: Fact) -> None:
        number = self._part(fact.part, assumed=fact.assumed)
        part = self.parts[number]
        if fact.assumed:  # fills only what is still open
            part.value = part.value or fact.value
            part.package = part.package or fact.package
            part.side = part.side or fact.side
            return
        for was, now in (
            (part.value, fact.value),
            (part.package, fact.package),
            (part.side or "", fact.side or ""),
        ):
            if was and now and was != now:
                self.changed.append(Changed(number, was, now, fact.line))
        part.value = fact.value or part.value
        part.package = fact.package or part.package
        part.side = fact.side or part.side

    def _rename(self, fact: Fact) -> None:
        """The part called so until now has its true name; assumed lines come later and follow.

        Further traced lines mean another part by the old name.
        """
        if fact.name in self.index and self.index[fact.name] != self.index.get(fact.part):
            raise _ContradictionError(f"{fact.name} is another part already")
        number = self._part(fact.part)
        self.index.pop(fact.part, None)
        self.index[fact.name] = number
        self.renamed[fact.part] = number
        self.parts[number].ref = fact.name


def events_between(before: TraceState, after: TraceState) -> tuple[Reason, ...]:
    """What a person should hear of a change: named rails that became one, assumptions given up,
    values said otherwise, designators that differ from a known one in case only.
    """
    joined = {(one.a, one.b) for one in before.joined_rails}
    events = [
        reason("trace-rails-joined", a=one.a, b=one.b)
        for one in after.joined_rails
        if (one.a, one.b) not in joined
    ]
    given = {(one.line, pad) for one in before.gave_way for pad in one.pads or (None,)}
    for one in after.gave_way:
        pads = [pad for pad in one.pads if (one.line, pad) not in given]
        if pads:
            names = " ".join(after.shown(pad) for pad in pads)
            if one.rest:
                events.append(reason("trace-pads-gave-way", line=one.line, pads=names))
            else:
                events.append(reason("trace-line-gave-way", line=one.line, pads=names))
        elif not one.pads and (one.line, None) not in given:
            events.append(reason("trace-gave-way", line=one.line))
    events += [
        reason("trace-changed", part=after.parts[one.part].ref, was=one.was, now=one.now)
        for one in after.changed[len(before.changed) :]
    ]
    known = set(before.index)
    events += [
        reason("trace-case", part=new, known=old)
        for old, new in after.alike()
        if old not in known or new not in known
    ]
    return tuple(events)


class _ContradictionError(Exception):
    """A fact that can't hold beside an earlier one."""
