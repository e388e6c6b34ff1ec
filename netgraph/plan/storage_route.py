# SPDX-License-Identifier: GPL-3.0-or-later
"""Which way the stored data can leave, and whether reading the chip by itself would do.

Bench practice 2: a card is imaged and done; plain soldered storage is read in circuit or, failing
that, off the board; storage whose key lies in the processor is of no use without that processor. A
netlist doesn't say whether data are encrypted, so without a person's word the answer is `unknown`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from netgraph.plan.keep_list import Keeps
from netgraph.plan.wiring import Wiring, name_list
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import Role

Protection = Literal["plain", "keyed"]
"""A person's word: stored in the clear, or under a key that lies in the processor."""
RouteKind = Literal["removable", "soldered", "none-found"]
ChipOff = Literal["yes", "no", "unknown"]

_STORES: Final[frozenset[Role]] = frozenset({"storage", "boot-flash", "eeprom"})


@dataclass(frozen=True, slots=True)
class StorageRoute:
    """How the data can be reached: the parts that store, and the verdict on reading them alone."""

    kind: RouteKind
    parts: tuple[str, ...]
    cards: tuple[str, ...]
    chip_off: ChipOff
    why: Reason
    first: Reason

    def as_json(self) -> dict[str, object]:
        """``{"kind", "parts", "cards", "chip_off", "why", "first"}``."""
        return {
            "kind": self.kind,
            "parts": list(self.parts),
            "cards": list(self.cards),
            "chip_off": self.chip_off,
            "why": self.why.as_json(),
            "first": self.first.as_json(),
        }


def storage_route(
    wiring: Wiring, keeps: Keeps, protection: Protection | None = None
) -> StorageRoute:
    """The route of the data, from the roles found and, if given, a person's word on protection."""
    cards = tuple(item.part_id for item in keeps.items if item.function == "card")
    parts = tuple(one for one in sorted(wiring.fitted) if wiring.role(one) == "storage")
    if not parts:
        parts = tuple(one for one in sorted(wiring.fitted) if wiring.role(one) in _STORES)
    if cards:
        first = reason("route-card-first", cards=name_list(cards))
    elif parts:
        first = reason("route-in-circuit-first", parts=name_list(parts))
    else:
        first = reason("route-find-first")
    if not parts and not cards:
        return StorageRoute("none-found", (), (), "unknown", reason("chip-off-none"), first)
    kind: RouteKind = "soldered" if parts else "removable"
    if not parts:
        why = reason("chip-off-card", cards=name_list(cards))
        return StorageRoute(kind, parts, cards, "yes", why, first)
    names = name_list(parts)
    secure = [one for one in sorted(wiring.fitted) if wiring.role(one) == "secure-element"]
    if protection == "plain":
        return StorageRoute(kind, parts, cards, "yes", reason("chip-off-plain", parts=names), first)
    if protection == "keyed":
        return StorageRoute(kind, parts, cards, "no", reason("chip-off-keyed", parts=names), first)
    why = reason("chip-off-unknown", parts=names)
    if secure:
        why = reason("chip-off-secure", parts=names, chip=name_list(secure))
    return StorageRoute(kind, parts, cards, "unknown", why, first)
