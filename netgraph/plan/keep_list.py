# SPDX-License-Identifier: GPL-3.0-or-later
"""The keep list of a goal on one board: which parts do its functions, and the supplies of those."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Final, Literal

from netgraph.model import Board
from netgraph.plan.goals import RECOVER_DATA, Function, Goal, Link
from netgraph.plan.needs import needed_enables
from netgraph.plan.power_logic import PowerLogic
from netgraph.plan.wiring import NOT_CHIPS, Wiring, name_list
from netgraph.rails.tree import RailTree
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import KeepKind, Role, Roles

KeepWord = Literal["irreplaceable", "replace", "no"]

# Names as people write them on schematics (common practice, no source).
_USB = re.compile(r"usb|(^|[^a-z])(d[+-]|d[pm]\d?$|dp[^a-z]|dm[^a-z])|[_/](dp|dm|d_[pn])\d?$", re.I)
_SCREEN = re.compile(r"lcd|display|touch|panel|mipi|dsi\d|edp|tft|oled|screen|ctp|(^|_)tp_", re.I)
LIGHT_VOLTS: Final = 8.0
"""A row of three white light-emitting diodes needs about 9 V (from memory)."""
_BACKLIGHT = re.compile(r"back_?light|bklt|(^|[_/])bl[_+-]|led", re.I)
_SCREEN_PATH: Final[frozenset[Role]] = frozenset(
    {"interface", "display-driver", "level-shifter", "analog-switch"}
)
_STRAP = re.compile(r"reset|rst|boot|strap|por_?[bn]?$", re.I)


@dataclass(frozen=True, slots=True)
class KeepItem:
    """One entry of the keep list and why it stands there."""

    part_id: str
    function: str
    kind: KeepKind
    why: Reason


@dataclass(frozen=True, slots=True)
class Keeps:
    """The keep list of a goal on one board.

    `rails` are all supplies the goal needs, back to the entries. `unclear` says why no list can
    be trusted (nothing irreplaceable found); `unfed` are needed rails without a known feeder.
    `refused` are parts a person said are not needed. `doubts` tell of enables of needed supplies
    that are not known, hold themselves, or have lost what drove them.
    """

    goal: str
    items: tuple[KeepItem, ...]
    rails: tuple[str, ...]
    unclear: Reason | None
    unfed: tuple[str, ...]
    refused: frozenset[str]
    doubts: tuple[Reason, ...] = ()

    def as_json(self) -> list[dict[str, object]]:
        """The contract's `keeps[]`."""
        return [
            {
                "ref": one.part_id,
                "function": one.function,
                "kind": one.kind,
                "why": one.why.as_json(),
            }
            for one in self.items
        ]

    def by_part(self) -> dict[str, KeepItem]:
        """The entry of each kept part."""
        return {item.part_id: item for item in self.items}


def find_keeps(
    board: Board,
    roles: Roles,
    tree: RailTree,
    goal: Goal = RECOVER_DATA,
    keep: Mapping[str, KeepWord] | None = None,
    *,
    logic: PowerLogic | None = None,
) -> Keeps:
    """Work out what the goal needs on this board.

    Parameters
    ----------
    keep
        A person's words by part identity; they win over anything inferred.
    logic
        The power logic of the same board with all its feeders, where it is there already.

    Raises
    ------
    UnknownNameError
        `keep` names a part the board does not have.
    """
    words = dict(keep or {})
    for name in words:
        board.part(name)
    finder = _Finder(logic or PowerLogic.build(board, roles, tree), goal, words)
    finder.claim_core()
    if not finder.core:
        unclear = reason("goal-unclear", goal=goal.name)
        return Keeps(goal.name, tuple(finder.found.values()), (), unclear, (), finder.refused)
    finder.claim_signals()
    finder.claim_supplies()
    # Power chips found just now have clocks and straps of their own.
    finder.claim_signals()
    rails = finder.needed_rails()
    dead = [net for net in rails if net not in finder.logic.base.rails]
    unfed = finder.logic.missing_feeders(dead) if dead else ()
    return Keeps(
        goal.name,
        tuple(finder.found.values()),
        tuple(sorted(rails)),
        None,
        unfed,
        finder.refused,
        enable_doubts(finder.logic, rails, unfed),
    )


class _Finder:
    """Collects keep items function by function; the first function that claims a part wins."""

    def __init__(self, logic: PowerLogic, goal: Goal, words: Mapping[str, KeepWord]) -> None:
        self.logic = logic
        self.wiring: Wiring = logic.wiring
        self.goal = goal
        self.refused = frozenset(name for name, word in words.items() if word == "no")
        self.found: dict[str, KeepItem] = {}
        self.own_rails_of: dict[tuple[str, KeepKind], list[str]] = {}
        for name, word in words.items():
            if word != "no" and name in self.wiring.fitted:
                why = reason("keep-user", part=name, word=word)
                self.found[name] = KeepItem(name, "a person's word", word, why)

    @property
    def core(self) -> list[str]:
        """The irreplaceable parts found so far."""
        return [name for name, item in self.found.items() if item.kind == "irreplaceable"]

    def claim(self, part_id: str, function: Function, why: Reason) -> None:
        fitted = part_id in self.wiring.fitted
        if fitted and part_id not in self.found and part_id not in self.refused:
            self.found[part_id] = KeepItem(part_id, function.name, function.kind, why)

    def by_link(self, link: Link) -> list[Function]:
        return [one for one in self.goal.functions if one.link == link]

    def claim_core(self) -> None:
        # Whatever the confidence: a part that might hold the data is kept.
        for function in self.by_link("always"):
            for part_id in sorted(self.wiring.fitted):
                role = self.wiring.part_role(part_id)
                if role.role not in function.roles and part_id not in function.parts:
                    continue
                why = reason(
                    "keep-core",
                    part=part_id,
                    role=role.role,
                    function=function.name,
                    confidence=round(role.confidence, 2),
                )
                if function.kind == "replace":
                    why = reason(
                        "keep-function",
                        part=part_id,
                        role=role.role,
                        function=function.name,
                        goal=self.goal.name,
                    )
                self.claim(part_id, function, why)

    # -- by signal -----------------------------------------------------------------------------

    def claim_signals(self) -> None:
        chips = [name for name in self.found if self.wiring.role(name) not in NOT_CHIPS] + self.core
        for chip in dict.fromkeys(chips):
            for net in self.wiring.signal_nets(chip):
                for part_id, at in self.near(net, chip):
                    self.claim_neighbour(chip, part_id, at)
        for function in self.by_link("host-port"):
            self.claim_host_port(function)
        for function in self.by_link("screen"):
            self.claim_screen_path(function)

    def claim_screen_path(self, function: Function) -> None:
        """Bridges, level shifters and switches between a kept chip and a kept screen connector."""
        wiring = self.wiring
        screens = [name for name, item in self.found.items() if item.function == function.name]
        core = set(self.core)
        for screen in screens:
            for net in wiring.signal_nets(screen):
                for part_id, _ in self.near(net, screen):
                    if wiring.role(part_id) not in _SCREEN_PATH:
                        continue
                    chips = {
                        one
                        for other in wiring.signal_nets(part_id)
                        if screen not in wiring.parts(other)
                        for one in core & set(wiring.parts(other))
                    }
                    for chip in sorted(chips)[:1]:
                        why = reason("keep-screen-path", part=part_id, chip=chip, screen=screen)
                        self.claim(part_id, function, why)

    def near(self, net: str, chip: str) -> list[tuple[str, str]]:
        """Parts on the net, and those one two-net part further (a resistor in the line)."""
        found: list[tuple[str, str]] = []
        for part_id in self.wiring.parts(net):
            if part_id == chip:
                continue
            found.append((part_id, net))
            nets = self.wiring.nets(part_id)
            if len(nets) == 2 and not self.wiring.is_chip(part_id):
                other = nets[1] if nets[0] == net else nets[0]
                if other not in self.wiring.grounds and not self.wiring.is_power(other):
                    found += [(one, other) for one in self.wiring.parts(other) if one != part_id]
        return found

    def claim_neighbour(self, chip: str, part_id: str, net: str) -> None:
        wiring = self.wiring
        role = wiring.role(part_id)
        # The sheet's name in front of a net says nothing about the net.
        short = net.rpartition("/")[2]
        text = f"{self.text_of(part_id)} {short}"
        for function in self.goal.functions:
            if role not in function.roles:
                continue
            if function.link == "clock":
                why = reason("keep-clock", part=part_id, chip=chip, net=net)
            elif function.link == "card":
                why = reason("keep-card", part=part_id, chip=chip, net=net)
            elif function.link == "screen" and _SCREEN.search(text):
                why = reason("keep-screen", part=part_id, chip=chip, net=net)
            elif function.link == "key":
                why = reason("keep-key", part=part_id, chip=chip, net=net)
            elif function.link == "strap" and (wiring.kind(net) == "reset" or _STRAP.search(short)):
                why = reason("keep-strap", part=part_id, chip=chip, net=net)
            else:
                continue
            self.claim(part_id, function, why)

    def text_of(self, part_id: str) -> str:
        part = self.wiring.board.part(part_id)
        return f"{part.ref} {part.value} {part.package} {part.tags}"

    def claim_host_port(self, function: Function) -> None:
        """USB connectors that a kept chip reaches over signal nets, with all parts in between."""
        wiring = self.wiring
        for part_id in sorted(wiring.fitted):
            if wiring.role(part_id) not in function.roles:
                continue
            nets = wiring.signal_nets(part_id)
            named = [net for net in nets if _USB.search(net.rpartition("/")[2])]
            if _USB.search(self.text_of(part_id)):
                named = list(nets)
            between = self.parts_between(part_id, named)
            if between is None:
                continue
            self.claim(part_id, function, reason("keep-host-port", part=part_id))
            for one in between:
                why = reason("keep-host-path", part=one, port=part_id)
                self.claim(one, function, why)

    def parts_between(self, start: str, nets: list[str]) -> list[str] | None:
        """Parts on the shortest ways from these nets to a kept chip, and those beside the way.

        None when no kept chip is reached. At most four parts deep: through a protection array,
        a choke, a switch or a hub.
        """
        core = set(self.core)
        path: list[str] = []
        reached = False
        for first in nets:
            came_from: dict[str, tuple[str, str] | None] = {first: None}
            layer = [first]
            goal_net = None
            for _ in range(5):
                hit = [net for net in layer if core & set(self.wiring.parts(net))]
                if hit:
                    goal_net = hit[0]
                    break
                following: list[str] = []
                for net in layer:
                    for part_id in self.wiring.parts(net):
                        if part_id == start:
                            continue
                        for other in self.wiring.signal_nets(part_id):
                            if other not in came_from:
                                came_from[other] = (net, part_id)
                                following.append(other)
                layer = following
            while goal_net is not None:
                reached = True
                path += [
                    one
                    for one in self.wiring.parts(goal_net)
                    if self.wiring.role(one) == "esd-array"
                ]
                step = came_from[goal_net]
                if step is None:
                    break
                goal_net, part_id = step
                path.append(part_id)
        return list(dict.fromkeys(path)) if reached else None

    # -- by supply -----------------------------------------------------------------------------

    def needed_rails(self) -> set[str]:
        """Supplies of all kept chips and connectors, then backwards over every feeder."""
        wiring = self.wiring
        known = wiring.tree.by_net
        waiting: set[str] = set()
        idle = {one.name for one in self.goal.functions if not one.powered}
        for part_id in self.found:
            if self.found[part_id].function in idle:
                continue
            waiting.update(wiring.supplies(part_id))
            if wiring.role(part_id) in ("connector", "slot", "oscillator"):
                waiting.update(
                    net for net in wiring.nets(part_id) if net in known and not self.is_light(net)
                )
            waiting.update(self.own_rails(part_id, self.found[part_id].kind))
            if wiring.role(part_id) == "oscillator":
                waiting.update(self.enable_rails(part_id, None))
            for drive in self.logic.needs.resets.get(part_id, ()):
                waiting.update(drive.rails)
        rails: set[str] = set()
        while waiting:
            net = waiting.pop()
            if net in rails or net not in known:
                continue
            rails.add(net)
            for feeder in known[net].feeders:
                if feeder.part_id not in wiring.fitted:
                    continue
                if feeder.from_net is not None:
                    waiting.add(feeder.from_net)
                waiting.update(wiring.supplies(feeder.part_id))
                waiting.update(self.own_rails(feeder.part_id, "replace"))
                waiting.update(self.enable_rails(feeder.part_id, net))
        return rails

    def enable_rails(self, part_id: str, made: str | None) -> set[str]:
        """Supplies that an enable of the part hangs on, and those of the chips that drive it."""
        found: set[str] = set()
        for drive in self.logic.needs.enables.get(part_id, ()):
            if not drive.serves(made):
                continue
            found.update(drive.rails)
            for chip in drive.chips:
                if chip in self.wiring.fitted and chip not in self.logic.relaxed:
                    found.update(self.wiring.supplies(chip))
        return found

    def own_rails(self, part_id: str, kind: KeepKind) -> list[str]:
        """Outputs of a chip that it needs itself: all of an irreplaceable one, and of any other
        those on which nothing else draws (an inner supply with its capacitor outside).
        """
        known = self.own_rails_of.get((part_id, kind))
        if known is not None:
            return known
        wiring = self.wiring
        if not wiring.is_chip(part_id):
            return []
        self.own_rails_of[part_id, kind] = found = [
            net
            for net in wiring.outputs.get(part_id, ())
            if kind == "irreplaceable" or wiring.is_inner_supply(net, part_id)
        ]
        return found

    def is_light(self, net: str) -> bool:
        """Whether the net only lights a screen: consent prompts can be read with a lamp."""
        kind = self.wiring.net_role(net).kind
        return kind == "high-voltage" or _BACKLIGHT.search(net.rpartition("/")[2]) is not None

    def may_be_light(self, net: str) -> bool:
        """Whether a boosted supply leads to a screen's connector alone: its light, or its bias.

        A name alone tells the two apart, so the supply is kept and the doubt is said.
        """
        wiring = self.wiring
        rail = wiring.tree.by_net[net]
        users = [one for one in rail.loads if one in self.found]
        return (
            rail.kind == "boost"
            and (rail.nominal_volts is None or rail.nominal_volts >= LIGHT_VOLTS)
            and bool(users)
            and all(wiring.role(one) in ("connector", "slot") for one in users)
        )

    def claim_supplies(self) -> None:
        for net in sorted(self.needed_rails()):
            rail = self.wiring.tree.by_net[net]
            fitted = [one for one in rail.feeders if one.part_id in self.wiring.fitted]
            ways = name_list(one.part_id for one in fitted)
            for function in self.by_link("supply-path"):
                for feeder in fitted:
                    for one in (feeder.part_id, *feeder.through):
                        if self.wiring.role(one) in function.roles:
                            why = reason("keep-feeder", part=one, net=net, feeders=ways)
                            if self.may_be_light(net):
                                why = reason("keep-maybe-light", part=one, net=net)
                            self.claim(one, function, why)
            for feeder in fitted:
                self.claim_drivers(feeder.part_id, net)
            if rail.kind == "entry":
                for function in self.by_link("entry"):
                    for part_id in self.wiring.parts(net):
                        if self.wiring.role(part_id) in function.roles:
                            why = reason("keep-entry", part=part_id, net=net)
                            self.claim(part_id, function, why)

    def claim_drivers(self, part_id: str, net: str) -> None:
        """The chips that drive the enable of a needed feeder."""
        for drive in self.logic.needs.enables.get(part_id, ()):
            if not drive.serves(net) or drive.how == "unknown":
                continue
            for function in self.by_link("supply-path"):
                for one in drive.vital:
                    if self.wiring.is_chip(one):
                        why = reason("keep-enable", part=one, chip=part_id, net=net)
                        self.claim(one, function, why)


def enable_doubts(
    logic: PowerLogic, rails: Collection[str], dead: Collection[str]
) -> tuple[Reason, ...]:
    """What isn't known of the enables of these supplies' feeders, and which have lost their drive.

    Parameters
    ----------
    dead
        Those of the rails that nothing can bring up on the board as it is.
    """
    found: list[Reason] = []
    for drive in logic.missing_enables(dead) if dead else ():
        gone = [one for one in drive.vital if one in logic.wiring.taken_off]
        found.append(
            reason(
                "enable-missing", part=drive.user, net=drive.net, parts=name_list(gone) or "a part"
            )
        )
    for drive in needed_enables(logic.needs, logic.wiring.tree, rails):
        if drive.doubt is not None:
            found.append(drive.doubt)
        found.extend(
            reason("enable-holds-itself", part=drive.user, net=drive.net, chip=chip)
            for chip in drive.chips
            if chip in logic.relaxed
        )
    return tuple(dict.fromkeys(found))
