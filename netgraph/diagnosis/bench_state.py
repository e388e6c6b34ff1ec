# SPDX-License-Identifier: GPL-3.0-or-later
"""What the cards say of the bench now: cell, wet or dry, what is off, which readings still hold.

Cards are replayed in their order. A reading holds until the board is cleaned or a part on its net
is worked on: then the net is measured again.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from netgraph.diagnosis.card_kinds import PART_KINDS
from netgraph.diagnosis.cards import NO_CARDS, Card, Cards, Spot
from netgraph.errors import CardsError, UnknownNameError
from netgraph.model import Board
from netgraph.net_names import quoted

DIODE_AMPS: Final = 1e-3
"""Test current of diode mode, about (bench practice 4: 0.5 to 1.5 mA)."""

DRY_HOURS: Final = 0.5
"""Under large packages solvent needs at least 30 minutes warm (bench practice 5)."""

_SWOLLEN: Final = re.compile(r"swoll|swell|bulg|puff|hot cell|cell hot", re.I)
_DEPOSIT: Final = re.compile(r"deposit|corro|residue|crust|burn|stain|crack|green|white|soot", re.I)


@dataclass(frozen=True, slots=True)
class Reading:
    """A resistance between two nets; `to` None is ground. `ohms` is infinite over range.

    From a diode-mode reading `ohms` is the least that can lie there: part of the current may go
    through junctions.
    """

    net: str
    to: str | None
    ohms: float
    kind: str
    line: int


@dataclass(frozen=True)
class BenchState:
    """The bench after the last card. None: no card says."""

    cards: Cards = NO_CARDS
    cell_connected: bool | None = None
    swollen_line: int | None = None
    photographed: bool = False
    looked: bool = False
    looked_again: bool = False
    shields_off: bool = False
    cleaned: bool = False
    wet: bool = False
    dried: bool = False
    dry_hours: float | None = None
    unplugged: frozenset[str] = frozenset()
    plugged: frozenset[str] = frozenset()
    lifted: frozenset[str] = frozenset()
    jumpered: frozenset[str] = frozenset()
    opened: frozenset[str] = frozenset()
    cuts: tuple[str, ...] = ()
    deposits: frozenset[str] = frozenset()
    waived: Mapping[str, str] = field(default_factory=dict)
    readings: tuple[Reading, ...] = ()
    before_key_amps: float | None = None
    looping: bool = False
    unlocked: bool = False

    def resistance(self, net: str, to: str | None = None) -> Reading | None:
        """The latest reading that holds between two nets, whichever way round it was taken."""
        for one in reversed(self.readings):
            if (one.net, one.to) in ((net, to), (to, net)):
                return one
        return None


NO_BENCH: Final = BenchState()


def replay(board: Board, cards: Cards, grounds: frozenset[str] = frozenset()) -> BenchState:
    """The state of the bench after these cards.

    Parameters
    ----------
    grounds
        Names of the ground nets: what `to` stands for when a card doesn't give it.

    Raises
    ------
    CardsError
        A card names a net, part or pad that the board does not have.
    """
    player = _Player(board, cards, grounds)
    for card in cards:
        player.play(card)
    return player.state()


class _Player:
    """Replays the cards one by one."""

    def __init__(self, board: Board, cards: Cards, grounds: frozenset[str]) -> None:
        self.board = board
        self.cards = cards
        self.grounds = grounds
        self.facts: dict[str, object] = {}
        self.unplugged: set[str] = set()
        self.plugged: set[str] = set()
        self.lifted: set[str] = set()
        self.jumpered: set[str] = set()
        self.opened: set[str] = set()
        self.cuts: list[str] = []
        self.deposits: set[str] = set()
        self.wet: set[str] = set()
        self.waived: dict[str, str] = {}
        self.readings: list[Reading] = []

    def state(self) -> BenchState:
        return BenchState(
            cards=self.cards,
            unplugged=frozenset(self.unplugged),
            plugged=frozenset(self.plugged),
            lifted=frozenset(self.lifted),
            jumpered=frozenset(self.jumpered),
            opened=frozenset(self.opened),
            cuts=tuple(self.cuts),
            deposits=frozenset(self.deposits),
            wet=bool(self.wet),
            waived=dict(self.waived),
            readings=tuple(self.readings),
            **self.facts,  # type: ignore[arg-type]
        )

    # -- names ---------------------------------------------------------------------------------

    def fault(self, card: Card, message: str, hint: str = "") -> CardsError:
        return CardsError(message, path=self.cards.path, line=card.line, hint=hint)

    def names(self, card: Card, place: str) -> tuple[str | None, str | None]:
        """(part, net) that a place names: a net, a part, or a pad with the net it lies on."""
        board = self.board
        name = board.other_names.get(place, place)
        if not board.has_net(name) and not board.has_part(name):
            prefix, slash, rest = name.partition("/")
            if slash and prefix == board.name:
                name = rest
        if board.has_net(name):
            return None, name
        if board.has_part(name):
            return name, None
        part, dot, pin = name.rpartition(".")
        if dot and board.has_part(part):
            for index in board.pad_range(board.part(part)):
                pad = board.pad(index)
                if pad.pin == pin:
                    return part, pad.net
            raise self.fault(card, f"{part} has no pad named {pin[:80]!r}")
        try:
            board.net(name)
        except UnknownNameError as error:
            text = f"no net, part or pad is named {name[:80]!r}"
            raise self.fault(card, text, error.hint) from None
        raise AssertionError(name)  # pragma: no cover - has_net said no

    def net_at(self, card: Card, field_name: str) -> str | None:
        """The net a reading was taken on; None: ground, or a spot on the board."""
        place = card.place(field_name)
        if place is None or isinstance(place, Spot):
            return None
        part, net = self.names(card, place)
        if net is None and part is not None:
            nets = [one for one in self.board.nets_of_part[part] if one not in self.grounds]
            if len(nets) != 1:
                shown = ", ".join(quoted(one) for one in nets[:6]) or "none but ground"
                raise self.fault(
                    card, f"{part} lies on several nets", f"write {part}.PIN or a net: {shown}"
                )
            net = nets[0]
        return net

    def part_of(self, card: Card) -> str:
        ref = card.text("ref")
        if not self.board.has_part(ref):
            try:
                self.board.part(ref)
            except UnknownNameError as error:
                raise self.fault(card, f"no part is named {ref[:80]!r}", error.hint) from None
        return ref

    # -- cards ---------------------------------------------------------------------------------

    def play(self, card: Card) -> None:
        kind = card.kind
        if kind in PART_KINDS:
            self.on_part(card, self.part_of(card))
        elif kind in ("ohms", "diode"):
            self.on_resistance(card)
        elif kind in ("clean", "dry"):
            self.on_wet(card)
        elif kind in ("seen", "not-seen"):
            self.on_look(card)
        elif kind == "cut":
            net = card.text("net")
            self.names(card, net)
            self.cuts.append(net)
            self.outdate(net)
        elif kind == "cell":
            self.facts["cell_connected"] = card.yes("connected")
        elif kind == "shield":
            self.facts["shields_off"] = card.yes("off") is not False
        elif kind == "photo":
            self.facts["photographed"] = True
        elif kind == "waive":
            self.waived[card.text("what").strip().casefold()] = card.text("why")
        elif kind == "draw":
            if card.text("state") == "before-key":
                self.facts["before_key_amps"] = card.number("value")
            self.facts["looping"] = card.text("state") == "loop"
        elif kind == "boot":
            self.facts["looping"] = card.text("stage") == "loop"
            self.facts["unlocked"] = card.text("stage") in ("unlocked", "data")
        else:
            # Not needed for the state of the bench; names are checked all the same.
            for name in ("at", "to", "from", "cleared"):
                place = card.place(name)
                if isinstance(place, str):
                    self.names(card, place)

    def on_part(self, card: Card, ref: str) -> None:
        kind = card.kind
        if kind == "unplug":
            self.unplugged.add(ref)
            self.plugged.discard(ref)
            return
        if kind == "plug":
            self.plugged.add(ref)
            self.unplugged.discard(ref)
            return
        for done in (self.lifted, self.jumpered, self.opened):
            done.discard(ref)
        if kind == "lift":
            self.lifted.add(ref)
        elif kind == "jumper":
            self.jumpered.add(ref)
        elif kind == "open-to-test":
            self.opened.add(ref)
        for net in self.board.nets_of_part[ref]:
            if net not in self.grounds:
                self.outdate(net)

    def on_resistance(self, card: Card) -> None:
        net, to = self.net_at(card, "at"), self.net_at(card, "to")
        if net is None:
            return
        value = card.number("value")
        ohms = math.inf if value is None else value
        if card.kind == "diode":
            ohms /= DIODE_AMPS
        pair = [None if one in self.grounds else one for one in (net, to)]
        if pair[0] is None:
            pair.reverse()
        if pair[0] is not None:
            self.readings.append(Reading(pair[0], pair[1], ohms, card.kind, card.line))

    def on_wet(self, card: Card) -> None:
        place = card.place("at")
        whole = place is None or place == "board" or card.yes("board") is True
        spot = "board" if whole else str(place)
        if isinstance(place, str) and not whole:
            self.names(card, place)
        if card.kind == "clean":
            self.wet.add(spot)
            self.facts |= {"cleaned": True, "dried": False, "dry_hours": None}
            self.facts |= {"looked_again": False, "before_key_amps": None}
            # Meter after water: what was read before says nothing of the board now.
            self.readings.clear()
            return
        self.wet = set() if whole else self.wet - {spot}
        if not self.wet:
            self.facts |= {"dried": True, "dry_hours": card.number("hours")}

    def on_look(self, card: Card) -> None:
        place = card.place("at")
        part = None
        if isinstance(place, str):
            part, _ = self.names(card, place) if place != "board" else (None, None)
        what = card.text("what")
        self.facts["looked"] = True
        if self.facts.get("dried"):
            self.facts["looked_again"] = True
        if card.kind == "seen":
            if _SWOLLEN.search(what):
                self.facts["swollen_line"] = card.line
            elif part is not None and (not what or _DEPOSIT.search(what)):
                self.deposits.add(part)
        elif part is not None:
            self.deposits.discard(part)

    def outdate(self, net: str) -> None:
        """Drop readings on a net that was worked on, and what the board drew before."""
        self.facts["before_key_amps"] = None
        self.readings = [one for one in self.readings if net not in (one.net, one.to)]
