# SPDX-License-Identifier: GPL-3.0-or-later
"""The least sure answers that matter most for lift and inject, as questions to a person.

A labelling aid: an answer becomes a board note (``answered``), and what is noted is not asked.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from functools import cached_property
from typing import Final

from netgraph.model import Board
from netgraph.plan.conduction import conducting_edges
from netgraph.plan.doubt import may_feed
from netgraph.plan.inject import net_counts
from netgraph.plan.review_choices import (
    feeder_choices,
    fitted_choices,
    kind_choices,
    role_choices,
    volts_choices,
)
from netgraph.plan.review_types import Choice, Question
from netgraph.plan.wiring import IRREPLACEABLE_ROLES, Wiring
from netgraph.rails.candidates import Candidate, CandidateFinder
from netgraph.rails.tree import Rail, RailTree
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import LIKELY, Roles
from netgraph.roles.notes import NO_NOTES, TOPICS, BoardNotes, Topic
from netgraph.roles.wiring import Wiring as RoleWiring

ASK_BELOW: Final = 0.8
"""Our own choice: answers surer than this are not asked about."""
KEPT_COUNTS: Final = 5
"""Our own choice: a chip that may hold the data counts as much as this many other parts."""
CEILING_COUNTS: Final = 1
"""Our own choice: a rail whose ceiling counts the net counts as much as so many parts."""
MARK_IS_TRUE: Final = 0.7
"""Our own choice: how far a mark `not fitted` is believed where a supply lacks its feeder."""
MANY_PADS: Final = 6
"""From so many pads on a part of unsure role might hold data, as the lift rules have it."""


def find_questions(
    board: Board,
    roles: Roles,
    tree: RailTree,
    *,
    notes: BoardNotes = NO_NOTES,
    limit: int | None = None,
) -> tuple[Question, ...]:
    """What a person should confirm or correct first.

    Asked is what is less sure than 0.8 and was not answered in the notes: the role of a fitted
    part, whether a net is a supply, what feeds a rail, the nominal volts of a rail, and whether a
    part marked as not fitted is there all the same, where a rail lacks its feeder.

    The order is that of weight = (1 - confidence) * (P + 5 K + C), the heaviest first:

    * P: fitted parts on the nets concerned, each once. Concerned are the net itself and all rails
      fed from it, directly or not. For a part: itself, and the same for each rail it feeds, or
      may feed where no feeder of that rail is sure.
    * K: of these, the chips that may hold the data (by role or by a person's word). A part of six
      pads or more whose role is asked counts as one, since it might hold data.
    * C: rails whose injection ceiling counts the net; only for the volts and the kind of a net.

    The constants are our own choice. Equal weights stand in the order of topic and name.

    Parameters
    ----------
    board, roles, tree
        A board with the answers found for it.
    notes
        The notes these answers were found with.
    limit
        Most questions to return; None for all.

    Returns
    -------
    tuple of Question
        Heaviest first. The same input gives the same questions; nothing is changed.
    """
    found = list(_Asker(Wiring(board, roles, tree), notes).questions())
    found.sort(key=lambda one: (-one.weight, TOPICS.index(one.about), one.target))
    return tuple(found if limit is None else found[: max(limit, 0)])


class _Asker:
    def __init__(self, wiring: Wiring, notes: BoardNotes) -> None:
        self.wiring = wiring
        self.notes = notes
        self.stakes = _Stakes(wiring, notes)

    def questions(self) -> Iterator[Question]:
        """All of them, in no order."""
        for part in self.wiring.board.parts:
            yield from self._role(part.id)
            yield from self._fitted(part.id)
        for net in self.wiring.board.nets:
            yield from self._kind(net.name)
        for rail in self.wiring.tree:
            yield from self._feeder(rail)
            yield from self._volts(rail)

    def _make(
        self,
        about: Topic,
        target: str,
        confidence: float,
        asks: Reason,
        now: Reason,
        choices: tuple[Choice, ...],
        *,
        nets: Collection[str] = (),
        ceilings: int = 0,
    ) -> Question:
        of_part = target if about in ("role", "fitted") else None
        parts, kept = self.stakes.hanging(nets, of_part)
        weight = (1 - confidence) * (parts + KEPT_COUNTS * kept + CEILING_COUNTS * ceilings)
        why = (
            reason("review-hangs", parts=parts, kept=kept)
            if not ceilings
            else reason("review-hangs-ceilings", parts=parts, kept=kept, ceilings=ceilings)
        )
        return Question(
            about,
            target,
            asks,
            now,
            round(confidence, 3),
            choices,
            round(weight, 3),
            parts,
            kept,
            ceilings,
            why,
        )

    def _is_open(self, about: Topic, target: str) -> bool:
        return (about, target) not in self.notes.asked

    # -- one topic each ------------------------------------------------------------------------

    def _role(self, part_id: str) -> Iterator[Question]:
        judged = self.wiring.part_role(part_id)
        if (
            part_id not in self.wiring.fitted
            or judged.source == "user"
            or self.notes.part(part_id).role is not None
            or judged.confidence >= ASK_BELOW
            or not self.wiring.live_nets(part_id)
            or not self._is_open("role", part_id)
        ):
            return
        yield self._make(
            "role",
            part_id,
            judged.confidence,
            reason("review-role", part=part_id),
            reason("now-role", role=judged.role.replace("-", " ")),
            role_choices(self.wiring, part_id),
            nets=self.stakes.may_be_fed_by(part_id),
        )

    def _fitted(self, part_id: str) -> Iterator[Question]:
        if (
            part_id in self.wiring.roles.fitted
            or self.notes.part(part_id).fitted is not None
            or not self._is_open("fitted", part_id)
        ):
            return
        nets = self.stakes.may_be_fed_by(part_id)
        others = [net for net in self.wiring.live_nets(part_id) if self.wiring.is_power(net)]
        if not nets or len(others) < 2:
            return
        yield self._make(
            "fitted",
            part_id,
            MARK_IS_TRUE,
            reason("review-fitted", part=part_id),
            reason("now-not-fitted"),
            fitted_choices(part_id),
            nets=nets,
        )

    def _kind(self, net: str) -> Iterator[Question]:
        judged = self.wiring.net_role(net)
        if (
            judged.source == "user"
            or self.notes.net(net).kind is not None
            or judged.confidence >= ASK_BELOW
            or not (net_counts(self.wiring, net) or judged.kind == "ground")
            or not self.wiring.parts(net)
            or not self._is_open("kind", net)
        ):
            return
        yield self._make(
            "kind",
            net,
            judged.confidence,
            reason("review-kind", net=net),
            reason("now-kind", kind=judged.kind.replace("-", " ")),
            kind_choices(self.wiring, net),
            nets=(net,),
            ceilings=self.stakes.ceilings(net),
        )

    def _feeder(self, rail: Rail) -> Iterator[Question]:
        if (
            self.notes.net(rail.net).feeders is not None
            or any(why.code == "user-feeder" for one in rail.feeders for why in one.reasons)
            or any(why.code == "user-entry" for why in rail.reasons)
            or not self._is_open("feeder", rail.net)
        ):
            return
        here = [one for one in rail.feeders if one.part_id in self.wiring.fitted]
        sure = max((one.confidence for one in here), default=rail.confidence)
        if not here and rail.kind != "entry":
            sure = min(sure, 0.2)
        if sure >= ASK_BELOW:
            return
        said = " or ".join(f"{one.part_id} from {one.from_net or '?'}" for one in rail.feeders)
        now = reason("now-feeder", feeders=said) if said else reason("now-no-feeder")
        if not said and rail.kind == "entry":
            now = reason("now-entry")
        index = self.wiring.board.net(rail.net).index
        yield self._make(
            "feeder",
            rail.net,
            sure,
            reason("review-feeder", net=rail.net),
            now,
            feeder_choices(self.wiring, rail.net, self._candidates.get(index, [])),
            nets=(rail.net,),
        )

    def _volts(self, rail: Rail) -> Iterator[Question]:
        role = self.wiring.net_role(rail.net)
        volts, is_sure = self.wiring.nominal(rail.net)
        if (
            is_sure
            or self.notes.net(rail.net).nominal_volts is not None
            or not self._is_open("volts", rail.net)
        ):
            return
        # Not sure with a high confidence: two sources give two figures.
        sure = 0.0 if volts is None else min(max(role.confidence, rail.confidence), LIKELY)
        yield self._make(
            "volts",
            rail.net,
            sure,
            reason("review-volts", net=rail.net),
            reason("now-no-volts") if volts is None else reason("now-volts", volts=volts),
            volts_choices(self.wiring, rail.net),
            nets=(rail.net,),
            ceilings=self.stakes.ceilings(rail.net),
        )

    @cached_property
    def _candidates(self) -> dict[int, list[Candidate]]:
        """What may feed each net, by its index."""
        board, roles = self.wiring.board, self.wiring.roles
        found: dict[int, list[Candidate]] = defaultdict(list)
        for one in CandidateFinder(RoleWiring(board, roles.fitted), roles).find():
            found[one.to].append(one)
        return found


class _Stakes:
    """How much hangs on a net or part."""

    def __init__(self, wiring: Wiring, notes: BoardNotes) -> None:
        self.wiring = wiring
        words = notes.keep_words()
        self.holds_data = {
            part_id
            for part_id in wiring.fitted
            if words.get(part_id) == "irreplaceable"
            or (wiring.role(part_id) in IRREPLACEABLE_ROLES and words.get(part_id) != "no")
        }
        self.trusted = {
            rail.net
            for rail in wiring.tree
            if any(
                one.confidence >= LIKELY and one.part_id in wiring.fitted for one in rail.feeders
            )
            or (rail.kind == "entry" and rail.confidence >= LIKELY)
        }

    def hanging(self, nets: Iterable[str], part_id: str | None) -> tuple[int, int]:
        """Number of parts concerned, and how many of them may hold the data."""
        found = {part_id} if part_id is not None else set()
        for net in self._with_rails_below(nets):
            found.update(self.wiring.parts(net))
        kept = len(found & self.holds_data)
        if part_id is not None and part_id not in self.holds_data:
            pads = len(self.wiring.pads_of[part_id])
            kept += pads >= MANY_PADS and part_id in self.wiring.fitted
        return len(found), kept

    def _with_rails_below(self, nets: Iterable[str]) -> set[str]:
        seen: set[str] = set()
        waiting = list(nets)
        while waiting:
            net = waiting.pop()
            if net not in seen:
                seen.add(net)
                waiting += self._fed_from.get(net, ())
        return seen

    @cached_property
    def _fed_from(self) -> dict[str, list[str]]:
        """Rails that take power from a net; an unknown input means each supply of the part."""
        found: dict[str, list[str]] = defaultdict(list)
        for rail, feeder in self.wiring.feeders():
            known = [feeder.from_net] if feeder.from_net is not None else None
            for net in known or self.wiring.supplies(feeder.part_id):
                found[net].append(rail.net)
        return found

    def may_be_fed_by(self, part_id: str) -> tuple[str, ...]:
        """Rails that the part feeds, lies in the power path of, or may feed if it is the one."""
        found = {net for net, parts in self._power_path.items() if part_id in parts}
        if may_feed(self.wiring, part_id):
            for net in self.wiring.live_nets(part_id):
                if net in self.wiring.tree.by_net and net not in self.trusted:
                    found.add(net)
        return tuple(sorted(found))

    @cached_property
    def _power_path(self) -> dict[str, frozenset[str]]:
        return {
            rail.net: frozenset(
                one for feeder in rail.feeders for one in (feeder.part_id, *feeder.through)
            )
            for rail in self.wiring.tree
        }

    def ceilings(self, net: str) -> int:
        """Rails other than the net that bring it alive when they are fed."""
        seen, waiting = {net}, [net]
        while waiting:
            for other in self._comes_from.get(waiting.pop(), ()):
                if other not in seen:
                    seen.add(other)
                    waiting.append(other)
        return sum(one in self.wiring.tree.by_net for one in seen) - (
            net in self.wiring.tree.by_net
        )

    @cached_property
    def _comes_from(self) -> dict[str, list[str]]:
        found: dict[str, list[str]] = defaultdict(list)
        for edge in conducting_edges(self.wiring):
            if edge.hard:
                found[edge.b].append(edge.a)
        return found
