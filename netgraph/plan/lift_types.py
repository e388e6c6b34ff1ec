# SPDX-License-Identifier: GPL-3.0-or-later
"""A verdict row, the state all verdicts are judged from, and who shares signals with whom."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final, Literal

from netgraph.plan.backup import Backup
from netgraph.plan.keep_list import KeepItem, Keeps
from netgraph.plan.needs import Need
from netgraph.plan.power_logic import PowerLogic
from netgraph.plan.wiring import Wiring
from netgraph.reasons import Reason

LiftVerdict = Literal["keep", "replace", "lift", "lift-and-jumper", "unsure"]

POWER_WIRE_MM: Final = 0.3
"""Least wire for a supply (bench practice 7, common practice)."""


@dataclass(frozen=True, slots=True)
class Jumper:
    """A wire in place of a part: pads as ``REF.PIN``, least diameter, and what it takes away."""

    from_pad: str
    to_pad: str
    wire_mm: float
    caution: Reason

    def as_json(self) -> dict[str, object]:
        """``{"from", "to", "wire_mm", "caution"}``."""
        return {
            "from": self.from_pad,
            "to": self.to_pad,
            "wire_mm": self.wire_mm,
            "caution": self.caution.as_json(),
        }


@dataclass(frozen=True, slots=True)
class Floating:
    """An input that no one drives once a part is off, and the net to pull it to (10 kohm or so)."""

    net: str
    pull_to: str | None

    def as_json(self) -> dict[str, object]:
        """``{"net", "pull_to"}``."""
        return {"net": self.net, "pull_to": self.pull_to}


@dataclass(frozen=True, slots=True)
class LiftRow:
    """The verdict on one part. `loses` names what stops, `frees` what is separated or unloaded,
    `floats` the inputs of kept parts that nobody drives any more, `needed_for` what the part does
    for a chip (its enable, divider, clock ...), whether the goal needs that chip or not.
    """

    part_id: str
    verdict: LiftVerdict
    why: Reason
    confidence: float
    loses: tuple[str, ...] = ()
    frees: tuple[str, ...] = ()
    jumper: Jumper | None = None
    open_to_test: bool = False
    cautions: tuple[Reason, ...] = ()
    floats: tuple[Floating, ...] = ()
    needed_for: tuple[Need, ...] = ()

    def as_json(self) -> dict[str, object]:
        """The fields of the contract's `lift.parts[]`, plus confidence, floats and cautions."""
        return {
            "ref": self.part_id,
            "verdict": self.verdict,
            "why": self.why.as_json(),
            "confidence": self.confidence,
            "loses": list(self.loses),
            "frees": list(self.frees),
            "jumper": None if self.jumper is None else self.jumper.as_json(),
            "open_to_test": self.open_to_test,
            "floats": [one.as_json() for one in self.floats],
            "cautions": [one.as_json() for one in self.cautions],
            "needed_for": [one.as_json() for one in self.needed_for],
        }


@dataclass(frozen=True)
class LiftState:
    """What every verdict is judged from; see `lift.lift_state`.

    `needed`: rails the goal needs or, as long as a feeder is in doubt, might need. `single`:
    parts whose loss alone kills a needed rail or kept part. `doubtful`: needed rails whose feeder
    is not known well enough. `concerned`: parts that may belong to the supply of a doubtful rail.
    `backups` are small cells that may keep data. `cleared` remembers which chips may go, as it is
    found out; `buffers` the known values of the capacitors of a rail, sorted.
    """

    wiring: Wiring
    keeps: Keeps
    kept: dict[str, KeepItem]
    needed: frozenset[str]
    logic: PowerLogic
    single: frozenset[str]
    doubtful: tuple[str, ...]
    concerned: frozenset[str]
    net: str
    backups: tuple[Backup, ...] = ()
    cleared: dict[str, bool] = field(default_factory=dict, repr=False)
    buffers: dict[str, tuple[float, ...]] = field(default_factory=dict, repr=False)

    def row(
        self,
        part_id: str,
        verdict: LiftVerdict,
        why: Reason,
        *,
        confidence: float | None = None,
        frees: Iterable[str] = (),
        jumper: Jumper | None = None,
        cautions: tuple[Reason, ...] = (),
        floats: tuple[Floating, ...] = (),
    ) -> LiftRow:
        """A row with the losses worked out from the power logic."""
        if confidence is None:
            confidence = self.wiring.part_role(part_id).confidence
        return LiftRow(
            part_id,
            verdict,
            why,
            confidence,
            self.loses(part_id),
            tuple(frees),
            jumper,
            self.can_open_to_test(part_id),
            cautions,
            floats,
            self.logic.needs.of(part_id),
        )

    def loses(self, part_id: str) -> tuple[str, ...]:
        """Rails and kept functions that stop without the part, and the part itself if a chip."""
        lost = self.logic.lost_without(part_id)
        functions = {self.kept[one].function for one in lost.parts if one in self.kept}
        return (*sorted(lost.rails), *sorted(functions))

    def needed_rails_lost(self, part_id: str) -> list[str]:
        """Needed rails that die without the part."""
        return sorted(self.logic.lost_without(part_id).rails & self.needed)

    def feeds_needed(self, part_id: str) -> tuple[str, ...]:
        """Needed rails this part is a feeder of, or stands in the way of a feeder of."""
        return tuple(
            rail.net for rail, _ in self.wiring.feeders_with(part_id) if rail.net in self.needed
        )

    def is_converter_inductor(self, part_id: str) -> bool:
        """Whether an inductor belongs to a converter (and not to a filter)."""
        wiring = self.wiring
        if wiring.role(part_id) != "inductor":
            return False
        if any(node.inductor == part_id for node in wiring.tree.switch_nodes):
            return True
        if any(wiring.net_role(net).kind == "switch-node" for net in wiring.nets(part_id)):
            return True
        return any(part_id in one.through for _, one in wiring.feeders_with(part_id))

    def can_open_to_test(self, part_id: str) -> bool:
        """A coil, ferrite or link on a rail may be lifted on one side, measured, and refitted."""
        wiring = self.wiring
        nets = wiring.nets(part_id)
        return (
            wiring.role(part_id) in ("inductor", "ferrite", "link")
            and wiring.is_sure(part_id)
            and len(nets) == 2
            and not wiring.grounds & set(nets)
            and any(wiring.is_power(net) for net in nets)
        )

    def shared_nets(self, part_id: str) -> dict[str, tuple[str, ...]]:
        """Signal nets of the part that a kept part is on, or one two-net part further.

        Returns
        -------
        dict
            Net of this part -> the kept parts that would notice.
        """
        wiring = self.wiring
        found: dict[str, tuple[str, ...]] = {}
        for net in wiring.nets(part_id):
            if net in wiring.grounds or wiring.is_power(net):
                continue
            kept = self.kept_near(net, part_id)
            if kept:
                found[net] = kept
        return found

    def kept_chips_on(self, net: str) -> list[str]:
        """Kept chips on a net; a kept connector may do without one of its supplies."""
        return sorted(
            one for one in self.wiring.parts(net) if one in self.kept and self.wiring.is_chip(one)
        )

    def kept_near(self, net: str, asking: str) -> tuple[str, ...]:
        """Kept parts on a net or behind one two-net part from it, the asking part left out."""
        wiring = self.wiring
        kept: set[str] = set()
        for one in wiring.parts(net):
            if one == asking:
                continue
            if one in self.kept:
                kept.add(one)
            nets = wiring.nets(one)
            if len(nets) != 2:
                continue
            other = nets[1] if nets[0] == net else nets[0]
            if other in wiring.grounds or wiring.is_power(other):
                continue
            kept.update(each for each in wiring.parts(other) if each in self.kept)
        kept.discard(asking)
        return tuple(sorted(kept))

    def pad_name(self, part_id: str, net: str) -> str:
        """``REF.PIN`` of the part's largest pad on the net."""
        pads = [pad for pad in self.wiring.pads_of[part_id] if pad.net == net]
        best = max(pads, key=lambda pad: (pad.width_nm * pad.height_nm, -pad.index))
        return f"{part_id}.{best.pin}"
