# SPDX-License-Identifier: GPL-3.0-or-later
"""Nominal volts of rails: from names, standards, feedback dividers, markings and neighbours.

Where two sources differ the lower magnitude is taken: a nominal is a limit here, not a wish.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from netgraph.quantity import find_volts
from netgraph.rails.candidate import Candidate
from netgraph.reasons import Reason, reason
from netgraph.roles.answer import Role, Roles
from netgraph.roles.table_files import read_table
from netgraph.roles.wiring import Wiring

USB_VOLTS = 5.0
"""Default supply of a USB port [usb]."""
CELL_VOLTS = 3.7
"""Nominal of a single lithium-ion cell, the lowest usual class [cells]."""
_AGREE = 0.06
"""Two figures that differ by less than this share are the same."""
_HIGHEST_BY_DIVIDER = 60.0
_PASSES: frozenset[Role] = frozenset(
    ("ferrite", "fuse", "link", "sense-resistor", "inductor", "resistor", "transistor",
     "load-switch", "diode", "connector")
)  # fmt: skip
_SAME_VOLTS: frozenset[Role] = frozenset(("ferrite", "fuse", "link", "sense-resistor"))
_CELL_CHIPS: frozenset[Role] = frozenset(("charger", "power-manager", "fuel-gauge"))
_CELL_NAME = re.compile(r"BAT|CELL|LIPO|LION", re.IGNORECASE)
_FEEDBACK_PIN = re.compile(r"V?FB\d?|ADJ|VSENSE|FB_.*|SENSE|VADJ", re.IGNORECASE)


_SPREAD: dict[str, tuple[float, float]] = {
    "name-volts": (0.95, 1.05),
    "volts-of-regulator": (0.97, 1.03),
    "volts-of-divider": (0.96, 1.04),
    "volts-divided": (0.95, 1.05),
}
"""Least and most by where the figure comes from, as shares of it [practice]."""
USB_SPREAD = (4.4, 5.25)
"""Volts at a USB device behind cable and hub [memory]."""
CELL_SPREAD = (3.0, 4.2)
"""Volts of one lithium-ion cell from empty to full, the 4.2 V class [cells]."""
_STANDOFF = re.compile(r"SM(?:[ABC]|D|F)J?(\d{1,2}(?:\.\d)?)C?A", re.IGNORECASE)
"""Clamps whose marking says the volts that they stand off [memory]."""
_USUAL_VOLTS = (3.3, 5.0, 9.0, 12.0, 15.0, 18.0, 19.0, 20.0, 24.0, 28.0, 36.0, 48.0)
"""Usual volts of supplies from outside [practice]."""


@dataclass(frozen=True, slots=True)
class Nominal:
    """Nominal volts of one net, the least and the most to expect, and where they come from."""

    volts: float
    why: Reason | None
    spread: tuple[float, float] | None = None

    @classmethod
    def of(cls, volts: float, why: Reason) -> Nominal:
        """A figure with the spread that is usual for where it comes from."""
        return cls(volts, why, _around(volts, why.code))


def _around(volts: float, code: str) -> tuple[float, float] | None:
    shares = _SPREAD.get(code)
    if shares is None:
        return None
    ends = sorted(round(volts * share, 3) for share in shares)
    return ends[0], ends[1]


def infer_volts(
    wiring: Wiring,
    roles: Roles,
    feeders: Mapping[int, list[Candidate]],
    entries: Mapping[int, bool],
) -> dict[int, Nominal]:
    """Nominal volts of the rails, by net index; nets without a known figure are left out.

    Parameters
    ----------
    feeders
        Per rail: the chosen feeders.
    entries
        Per rail: whether a cell or connector supplies it.
    """
    work = _Inference(wiring, roles, feeders, entries)
    return work.run()


@cache
def _feedback_table() -> dict[str, float]:
    return {
        prefix: float(row["volts"])
        for row in read_table("feedback.csv")
        for prefix in row["prefixes"].split()
    }


def feedback_volts(value: str) -> float | None:
    """Reference volts at the feedback pin of a converter family, by the longest prefix."""
    table = _feedback_table()
    text = re.sub(r"[^A-Z0-9]", "", value.upper())
    for length in range(min(12, len(text)), 4, -1):
        found = table.get(text[:length])
        if found is not None:
            return found
    return None


class _Inference:
    def __init__(
        self,
        wiring: Wiring,
        roles: Roles,
        feeders: Mapping[int, list[Candidate]],
        entries: Mapping[int, bool],
    ) -> None:
        self.wiring = wiring
        self.board = wiring.board
        self.roles = roles
        self.feeders = feeders
        self.entries = entries
        self.role = [roles.parts[part.id].role for part in self.board.parts]
        self.grounds = {
            i for i, net in enumerate(self.board.nets) if roles.nets[net.name].kind == "ground"
        }
        self.known: dict[int, Nominal] = {}
        self.fixed: set[int] = set()

    def run(self) -> dict[int, Nominal]:
        for net in self.feeders:
            answer = self.roles.nets[self.board.nets[net].name]
            if answer.nominal_volts is not None:
                volts = answer.nominal_volts
                spread = None if answer.volts_source == "user" else _around(volts, "name-volts")
                self.known[net] = Nominal(volts, None, spread)
                if answer.volts_source == "user":
                    self.fixed.add(net)
        for net, is_entry in self.entries.items():
            if is_entry and net not in self.known:
                self._entry(net)
        for net, is_entry in self.entries.items():
            if is_entry and net not in self.known:
                self._clamped(net)
        for net, chosen in self.feeders.items():
            if net not in self.fixed:
                self._regulated(net, chosen)
        for _ in range(8):
            before = dict(self.known)
            self._neighbours()
            self._power_paths()
            self._cells()
            if self.known == before:
                break
        return self.known

    def _name(self, net: int) -> str:
        return self.board.nets[net].name

    def _entry(self, net: int) -> None:
        said = self.roles.nets[self._name(net)].reasons
        if any(why.code == "rectified" for why in said):
            return
        name = self._name(net).upper()
        for part in self.wiring.parts[net]:
            own = self.board.parts[part]
            if self.role[part] != "connector":
                continue
            usb = "USB" in f"{own.ref} {own.value} {own.package}".upper()
            pins = self.wiring.pins_on(part, net)
            by_pin = any(
                "VBUS" in pin.name.upper() or pin.number in ("1", "A4", "A9", "B4", "B9")
                for pin in pins
            )
            if (usb and by_pin) or "VBUS" in name:
                self.known[net] = Nominal(USB_VOLTS, reason("volts-usb"), USB_SPREAD)
                return

    def _clamped(self, net: int) -> None:
        """An entry of unknown volts behind a clamp: the highest usual volts that it stands off."""
        for part in self.wiring.parts[net]:
            nets = self.wiring.nets[part]
            if self.role[part] != "tvs" or len(nets) != 2:
                continue
            found = _STANDOFF.search(self.board.parts[part].value)
            if found is None or self.wiring.other_net(part, net) not in self.grounds:
                continue
            most = float(found.group(1))
            below = [volts for volts in _USUAL_VOLTS if volts <= most]
            if below:
                why = reason(
                    "volts-of-clamp", ref=self.board.parts[part].id, most=most, volts=below[-1]
                )
                self.known[net] = Nominal(below[-1], why, (0.0, most))
                return

    # -- regulators ----------------------------------------------------------------------------

    def _regulated(self, net: int, chosen: list[Candidate]) -> None:
        for feeder in chosen[:1]:
            if feeder.kind not in ("buck", "boost", "linear"):
                continue
            found = self._by_divider(net, feeder.part) or self._by_marking(feeder.part)
            if found is not None:
                self._settle(net, found)

    def _settle(self, net: int, found: Nominal) -> None:
        old = self.known.get(net)
        if old is None or abs(found.volts) < abs(old.volts) * (1 - _AGREE):
            self.known[net] = found

    def _by_divider(self, net: int, chip: int) -> Nominal | None:
        own = self.board.parts[chip]
        texts = [own.value, *(text for _, text in own.fields)]
        reference = next((v for text in texts if (v := feedback_volts(text)) is not None), None)
        if reference is None:
            return None
        for middle in self.wiring.nets[chip]:
            if middle == net or middle in self.grounds:
                continue
            pins = self.wiring.pins_on(chip, middle)
            if any(pin.name for pin in pins) and not any(
                _FEEDBACK_PIN.fullmatch(pin.name) for pin in pins
            ):
                continue
            upper = self._parallel(middle, {net})
            lower = self._parallel(middle, self.grounds)
            if upper is None or lower is None or lower[0] <= 0:
                continue
            volts = reference * (1 + upper[0] / lower[0])
            if volts > _HIGHEST_BY_DIVIDER:
                continue
            why = reason(
                "volts-of-divider",
                upper=upper[1],
                lower=lower[1],
                reference=reference,
                volts=round(volts, 2),
            )
            return Nominal.of(round(volts, 2), why)
        return None

    def _parallel(self, middle: int, ends: set[int]) -> tuple[float, str] | None:
        """Resistance of all resistors from a net to some others, and their names."""
        siemens, names = 0.0, []
        for part in self.wiring.parts[middle]:
            ohm = self.roles.parts[self.board.parts[part].id].ohm
            if self.role[part] != "resistor" or len(self.wiring.nets[part]) != 2 or not ohm:
                continue
            if self.wiring.other_net(part, middle) in ends:
                siemens += 1 / ohm
                names.append(self.board.parts[part].id)
        return (1 / siemens, "+".join(names)) if siemens else None

    def _by_marking(self, chip: int) -> Nominal | None:
        value = self.board.parts[chip].value
        volts = [v for v in find_volts(value) if 0.5 <= v <= 30]
        if not volts:
            match = re.search(r"-(\d\.\d{1,2})(?![0-9])", value)
            volts = [float(match.group(1))] if match else []
        if len(volts) != 1:
            return None
        return Nominal.of(volts[0], reason("volts-of-regulator", value=value, volts=volts[0]))

    # -- neighbours ----------------------------------------------------------------------------

    def _neighbours(self) -> None:
        for net, chosen in self.feeders.items():
            for feeder in chosen:
                if self.role[feeder.part] not in _PASSES or feeder.source < 0:
                    continue
                if feeder.kind == "reference":
                    self._divided(feeder, net)
                    continue
                if feeder.kind not in ("filtered", "switched"):
                    continue
                ref = self.board.parts[feeder.part].id
                self._copy(feeder.source, net, ref)
                one_way = self.role[feeder.part] == "diode" or len(chosen) > 1
                if not one_way:
                    self._copy(net, feeder.source, ref)
            if net in self.known:
                for part in self.wiring.parts[net]:
                    if self.role[part] in _SAME_VOLTS and len(self.wiring.nets[part]) == 2:
                        other = self.wiring.other_net(part, net)
                        self._copy(net, other, self.board.parts[part].id)

    def _divided(self, feeder: Candidate, net: int) -> None:
        """A reference that a divider makes from a rail of known volts."""
        rail = self.known.get(feeder.source)
        upper = self._parallel(net, {feeder.source})
        lower = self._parallel(net, self.grounds)
        if rail is None or upper is None or lower is None or net in self.known:
            return
        volts = round(rail.volts * lower[0] / (upper[0] + lower[0]), 3)
        why = reason("volts-divided", upper=upper[1], lower=lower[1], volts=volts)
        self.known[net] = Nominal.of(volts, why)

    def _copy(self, source: int, to: int, ref: str) -> None:
        found = self.known.get(source)
        if found is None or to in self.known or to not in self.feeders:
            return
        why = reason("volts-of-neighbour", ref=ref, net=self._name(source))
        self.known[to] = Nominal(found.volts, why, found.spread)

    def _power_paths(self) -> None:
        """What a power path gives may be as low as its cell: that is the rail's safe figure."""
        for net, chosen in self.feeders.items():
            if net in self.known or not chosen:
                continue
            path = [c for c in chosen if c.kind in ("charger", "switched", "buck")]
            if not path or not any(self.role[c.part] in _CELL_CHIPS for c in path):
                continue
            if not any(why.code in ("power-path", "buck") for c in path for why in c.reasons):
                continue
            volts = [self.known[c.source].volts for c in chosen if c.source in self.known]
            cells = [
                c
                for c in chosen
                if c.source in self.known and _CELL_NAME.search(self._name(c.source))
            ]
            # A source of unknown volts does not matter: the rail carries the cell's in any case.
            if cells:
                low = min(volts)
                ends = [
                    end
                    for c in chosen
                    if c.source in self.known and (both := self.known[c.source].spread)
                    for end in both
                ]
                spread = (min(ends), max(ends)) if ends else None
                self.known[net] = Nominal(low, reason("volts-power-path", volts=low), spread)

    def _cells(self) -> None:
        """A cell's net that a charger, gauge or power manager handles: one lithium cell."""
        for net, is_entry in self.entries.items():
            if not is_entry or net in self.known or not _CELL_NAME.search(self._name(net)):
                continue
            if any(
                self.role[part] in _CELL_CHIPS
                for one in self._cluster(net)
                for part in self.wiring.parts[one]
            ):
                self.known[net] = Nominal(CELL_VOLTS, reason("volts-cell"), CELL_SPREAD)

    def _cluster(self, net: int) -> set[int]:
        """The net and what hangs on it through beads, fuses, links and sense resistors."""
        seen, stack = set(), [net]
        while stack:
            one = stack.pop()
            if one in seen or one in self.grounds:
                continue
            seen.add(one)
            stack += [
                self.wiring.other_net(part, one)
                for part in self.wiring.parts[one]
                if self.role[part] in _SAME_VOLTS and len(self.wiring.nets[part]) == 2
            ]
        return seen
