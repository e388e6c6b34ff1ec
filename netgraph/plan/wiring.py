# SPDX-License-Identifier: GPL-3.0-or-later
"""Who touches what on the assembled board: the view of board, roles and rails all plans share.

Only fitted parts are seen here. A part or net without a role counts as unknown, never as an error,
since a board traced by hand may be judged in part only.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from netgraph.model import Board, Pad
from netgraph.net_names import quoted
from netgraph.rails.tree import Feeder, Rail, RailTree
from netgraph.roles.answer import LIKELY, NetKind, NetRole, PartRole, Role, Roles
from netgraph.roles.notes import AGREE

IRREPLACEABLE_ROLES: Final[frozenset[Role]] = frozenset(
    {
        "processor",
        "programmable-logic",
        "memory",
        "storage",
        "boot-flash",
        "eeprom",
        "secure-element",
    }
)
"""Roles that may hold the data, its keys or what is paired with them (bench practice)."""

POWER_CHIPS: Final[frozenset[Role]] = frozenset(
    {"power-manager", "charger", "regulator", "load-switch", "power-controller"}
)

SERIES_ROLES: Final[frozenset[Role]] = frozenset(
    {"ferrite", "link", "fuse", "sense-resistor", "inductor"}
)
"""Two-net parts that pass direct current with next to no loss."""

PASSIVES: Final[frozenset[Role]] = frozenset(
    {
        "inductor",
        "ferrite",
        "capacitor",
        "resistor",
        "sense-resistor",
        "thermistor",
        "fuse",
        "link",
        "diode",
        "bridge-rectifier",
        "tvs",
        "led",
        "crystal",
        "transformer",
        "antenna",
    }
)

BODILESS: Final[frozenset[Role]] = frozenset({"test-point", "mechanical", "antenna"})
"""Copper and metal: nothing in them can fail as a load."""

NOT_CHIPS: Final[frozenset[Role]] = (
    PASSIVES
    | BODILESS
    | frozenset[Role](
        {"connector", "slot", "switch", "battery", "transistor", "esd-array", "speaker"}
    )
)

_TAMPER: Final = re.compile(r"tamp(?:er)?(?![a-z])", re.IGNORECASE)
"""Word of a line by which a chip sees that its case is opened (practice)."""

_STEPS_DOWN: Final = frozenset({"buck", "linear", "switched", "filtered"})

SMALL_OHM: Final = 150.0
"""Resistors up to here count as conducting for the injection ceiling (architecture, one rule)."""


@dataclass(frozen=True)
class Wiring:
    """The fitted parts of a board with their roles, and the nets with their kinds."""

    board: Board
    roles: Roles
    tree: RailTree

    @cached_property
    def fitted(self) -> frozenset[str]:
        """Identities of the parts on the board now: a lift counts even if the roles are older."""
        return frozenset(
            part.id
            for part in self.board.parts
            if part.id in self.roles.fitted and part.not_fitted_because != "lifted"
        )

    @cached_property
    def taken_off(self) -> frozenset[str]:
        """Parts that the file has on the board and that are off now: lifted, or said to be off."""
        return frozenset(
            part.id
            for part in self.board.parts
            if part.id not in self.fitted and part.not_fitted_because in (None, "lifted")
        )

    @cached_property
    def grounds(self) -> frozenset[str]:
        """Names of all ground nets, by roles or by the rail tree."""
        return self.roles.grounds() | frozenset(self.tree.grounds)

    @cached_property
    def _parts_on_net(self) -> dict[str, tuple[str, ...]]:
        return {
            net: tuple(one for one in parts if one in self.fitted)
            for net, parts in self.board.parts_on_net.items()
        }

    def parts(self, net: str) -> tuple[str, ...]:
        """Fitted parts with a pad on the net, in board order."""
        return self._parts_on_net[net]

    def nets(self, part_id: str) -> tuple[str, ...]:
        """Nets the part touches, each once."""
        return self.board.nets_of_part[part_id]

    def live_nets(self, part_id: str) -> tuple[str, ...]:
        """Nets the part touches that are no ground."""
        return tuple(net for net in self.nets(part_id) if net not in self.grounds)

    def watched_nets(self, part_id: str) -> tuple[str, ...]:
        """Lines of the part that watch whether the device is opened, by net or pin name."""
        names = {pad.net: pad.pin_name for pad in self.pads_of[part_id] if pad.net is not None}
        return tuple(
            net
            for net in self.live_nets(part_id)
            if _TAMPER.search(net.rpartition("/")[2]) or _TAMPER.search(names.get(net, ""))
        )

    def part_role(self, part_id: str) -> PartRole:
        """The role of the part; unknown with confidence 0 when nobody judged it."""
        return self.roles.parts.get(part_id) or PartRole(part_id, "unknown", 0.0)

    def role(self, part_id: str) -> Role:
        """The role's name, whatever its confidence."""
        return self._role_of.get(part_id, "unknown")

    @cached_property
    def _role_of(self) -> dict[str, Role]:
        return {part_id: one.role for part_id, one in self.roles.parts.items()}

    def is_sure(self, part_id: str) -> bool:
        """Whether the role is sure enough to act on (a person's word always is)."""
        role = self.part_role(part_id)
        return role.source == "user" or role.confidence >= LIKELY

    def net_role(self, net: str) -> NetRole:
        """The kind of the net; unknown with confidence 0 when nobody judged it."""
        return self.roles.nets.get(net) or NetRole(net, "unknown", 0.0)

    def kind(self, net: str) -> NetKind:
        """The net's kind; a ground of the rail tree is ground, a rail of the tree is a rail."""
        if net in self.grounds:
            return "ground"
        kind = self.net_role(net).kind
        if net in self.tree.by_net and kind in ("signal", "unknown"):
            return "rail"
        return kind

    def is_power(self, net: str) -> bool:
        """Whether the net distributes a supply: rail, reference or high-voltage."""
        return net not in self.grounds and (
            net in self.tree.by_net
            or self.net_role(net).kind in ("rail", "reference", "high-voltage")
        )

    def is_sure_rail(self, net: str) -> bool:
        """Whether the net is a supply with a confidence to act on (a person's word always is)."""
        role = self.net_role(net)
        rail = self.tree.by_net.get(net)
        if rail is None:
            return False
        return role.source == "user" or max(role.confidence, rail.confidence) >= LIKELY

    def is_chip(self, part_id: str) -> bool:
        """Whether the part is something with an inside of its own (not known counts as one)."""
        return self.role(part_id) not in NOT_CHIPS

    def nominal(self, net: str) -> tuple[float | None, bool]:
        """Nominal volts of a net and whether they may be built on.

        Roles and rail tree may both know a figure; where they differ the lower magnitude counts
        and is not built on, unless a person stated it. A note that is disputed by the net's name
        is not built on either.
        """
        role = self.net_role(net)
        rail = self.tree.by_net.get(net)
        stated = role.nominal_volts
        limit = self.volts_limit(net)
        if limit is not None:
            return limit, False
        if stated is not None and role.volts_source == "user":
            return stated, True
        of_tree = rail.nominal_volts if rail is not None else None
        known = [volts for volts in (stated, of_tree) if volts is not None]
        if not known:
            return None, False
        confidence = max(role.confidence, rail.confidence if rail is not None else 0.0)
        sure = confidence >= LIKELY and len(set(known)) == 1
        return min(known, key=lambda volts: (abs(volts), volts)), sure

    def least_volts(self, net: str) -> float | None:
        """What a net of doubtful nominal has at the least, where two figures for it are known.

        A name and a divider that differ leave open which is right, not that it is one of them.
        """
        role, rail = self.net_role(net), self.tree.by_net.get(net)
        if rail is None or role.volts_source == "user":
            return None
        if role.nominal_volts is None or rail.nominal_volts is None:
            return None
        if role.nominal_volts <= 0 or rail.nominal_volts <= 0:
            return None
        if max(role.confidence, rail.confidence) < LIKELY:
            return None
        spread = () if rail.volts_range is None else rail.volts_range
        bounds: list[float] = [role.nominal_volts, rail.nominal_volts, *spread]
        return min(bounds)

    def volts_limit(self, net: str) -> float | None:
        """What speaks against a person's figure for a net: its name, or the supply it comes from.

        A step-down or linear converter, a switch or a filter gives no more than it gets. None when
        no figure was noted or nothing speaks against it.
        """
        role = self.net_role(net)
        if role.volts_source != "user" or role.nominal_volts is None:
            return None
        if role.disputed_volts is not None:
            return role.disputed_volts
        most = self._most_volts(net, frozenset())
        if most is None or abs(role.nominal_volts) <= abs(most) * (1 + AGREE):
            return None
        return most

    def _most_volts(self, net: str, above: frozenset[str]) -> float | None:
        """The most that a rail can get from what feeds it; None when that is not known."""
        rail = self.tree.by_net.get(net)
        if rail is None or not rail.feeders or net in above:
            return None
        found: list[float] = []
        for feeder in rail.feeders:
            if feeder.from_net is None or feeder.kind not in _STEPS_DOWN:
                return None
            source = self._volts_above(feeder.from_net, above | {net})
            if source is None:
                return None
            found.append(source)
        return max(found)

    def _volts_above(self, net: str, above: frozenset[str]) -> float | None:
        role = self.net_role(net)
        most = self._most_volts(net, above)
        rail = self.tree.by_net.get(net)
        own = role.nominal_volts
        if own is None and rail is not None:
            own = rail.nominal_volts
        if role.volts_source == "user" and role.disputed_volts is not None:
            own = role.disputed_volts
        known = [abs(one) for one in (own, most) if one is not None]
        return min(known, default=None)

    @cached_property
    def outputs(self) -> dict[str, frozenset[str]]:
        """Part identity -> rails it feeds (fitted feeders only)."""
        found: dict[str, set[str]] = {}
        for rail, feeder in self.feeders():
            found.setdefault(feeder.part_id, set()).add(rail.net)
        return {part_id: frozenset(nets) for part_id, nets in found.items()}

    def feeders(self) -> Iterable[tuple[Rail, Feeder]]:
        """All feeders whose part is fitted, with the rail each feeds."""
        for rail in self.tree:
            for feeder in rail.feeders:
                if feeder.part_id in self.fitted:
                    yield rail, feeder

    @cached_property
    def _feeders_of(self) -> dict[str, list[tuple[Rail, Feeder]]]:
        found: dict[str, list[tuple[Rail, Feeder]]] = {}
        for rail, feeder in self.feeders():
            for one in dict.fromkeys((feeder.part_id, *feeder.through)):
                found.setdefault(one, []).append((rail, feeder))
        return found

    def feeders_with(self, part_id: str) -> Iterable[tuple[Rail, Feeder]]:
        """The fitted feeders that are this part or lead through it, with the rail each feeds."""
        return self._feeders_of.get(part_id, ())

    @cached_property
    def _rails_with_load(self) -> dict[str, tuple[str, ...]]:
        found: dict[str, list[str]] = {}
        for rail in self.tree:
            for part_id in rail.loads:
                found.setdefault(part_id, []).append(rail.net)
        return {part_id: tuple(nets) for part_id, nets in found.items()}

    def supplies(self, part_id: str) -> tuple[str, ...]:
        """Rails the part needs: those it is a load of, and for a chip all rails it sits on.

        Its own outputs are no supplies of it; a connector passes supplies on and needs none to
        be there. Sorted by name.
        """
        known = self._supplies_of.get(part_id)
        if known is None:
            known = self._supplies_of[part_id] = self._find_supplies(part_id)
        return known

    @cached_property
    def _supplies_of(self) -> dict[str, tuple[str, ...]]:
        return {}

    def _find_supplies(self, part_id: str) -> tuple[str, ...]:
        if self.role(part_id) in ("connector", "slot"):
            return ()
        found = set(self._rails_with_load.get(part_id, ()))
        if self.is_chip(part_id):
            found.update(net for net in self.nets(part_id) if net in self.tree.by_net)
        return tuple(sorted(found - self.outputs.get(part_id, frozenset())))

    def is_inner_supply(self, net: str, part_id: str) -> bool:
        """Whether a chip's output serves nothing but the chip itself: it has a capacitor, and
        apart from resistors and test points nothing else hangs on it.
        """
        roles = [self.role(one) for one in self.parts(net) if one != part_id]
        quiet = ("capacitor", "resistor", "test-point")
        return "capacitor" in roles and all(role in quiet for role in roles)

    def signal_nets(self, part_id: str) -> tuple[str, ...]:
        """Nets of the part that are neither ground nor a supply and that lead to another part."""
        return tuple(
            net
            for net in self.nets(part_id)
            if net not in self.grounds and not self.is_power(net) and len(self.parts(net)) > 1
        )

    @cached_property
    def pads_of(self) -> Mapping[str, tuple[Pad, ...]]:
        """Pads of each part as objects."""
        return self.board.pads_of_part

    def pin_names(self, part_id: str, net: str) -> tuple[str, ...]:
        """Names of the part's pins on the net, upper case, those without a name left out."""
        return tuple(
            dict.fromkeys(
                pad.pin_name.upper()
                for pad in self.pads_of[part_id]
                if pad.net == net and pad.pin_name
            )
        )

    def is_placed(self) -> bool:
        """Whether the board has places at all (a bare netlist has all pads at zero)."""
        columns = self.board.columns
        return bool(
            "has_positions" in self.board.capabilities
            or (len(columns) and (columns.x_nm.any() or columns.y_nm.any()))
        )


def name_list(names: Iterable[str], most: int = 5) -> str:
    """Names for a sentence: sorted, each once, the tail only counted.

    A name with a comma stands in quotes, so that one can see where it ends.

    >>> name_list(["B", "A", "C"], most=2)
    'A, B and 1 more'
    >>> name_list(["SD, audio/MIC", "V"])
    "'SD, audio/MIC', V"
    """
    unique = [quoted(name) for name in sorted(set(names))]
    if len(unique) <= most:
        return ", ".join(unique)
    return f"{', '.join(unique[:most])} and {len(unique) - most} more"
