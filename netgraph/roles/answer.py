# SPDX-License-Identifier: GPL-3.0-or-later
"""What a part or net is for, as data with provenance: value, confidence, reasons, source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from netgraph.reasons import Reason

Role = Literal[
    "processor",
    "programmable-logic",
    "memory",
    "storage",
    "boot-flash",
    "eeprom",
    "secure-element",
    "power-manager",
    "charger",
    "fuel-gauge",
    "power-controller",
    "regulator",
    "load-switch",
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
    "esd-array",
    "led",
    "transistor",
    "crystal",
    "oscillator",
    "connector",
    "slot",
    "switch",
    "battery",
    "radio",
    "network",
    "interface",
    "display-driver",
    "audio",
    "sensor",
    "haptic",
    "motor-driver",
    "analog-switch",
    "logic",
    "level-shifter",
    "amplifier",
    "optocoupler",
    "transformer",
    "antenna",
    "microphone",
    "speaker",
    "test-point",
    "mechanical",
    "other",
    "unknown",
]
NetKind = Literal[
    "ground",
    "rail",
    "reference",
    "switch-node",
    "signal",
    "clock",
    "reset",
    "enable",
    "bus",
    "high-voltage",
    "chassis",
    "no-connect",
    "unknown",
]
AnswerSource = Literal["inferred", "user", "file"]
KeepKind = Literal["irreplaceable", "replace"]

ROLES: tuple[Role, ...] = get_args(Role)
NET_KINDS: tuple[NetKind, ...] = get_args(NetKind)

LIKELY = 0.6
"""Confidence from which an answer is acted on; below it the answer is shown but not built on."""


@dataclass(frozen=True, slots=True)
class PartRole:
    """What one part is for. `confidence` 0..1; `ohm`, `farad`, `henry` from its value, if any.

    `others` are the next best roles with the score of the evidence for each, best first.
    `overruled` is the likely role that a person's note put another in place of. `enabled_by` are
    the parts a person says switch it on (None: nothing said), `needs_first` the nets said to have
    to be up before it runs.
    """

    part_id: str
    role: Role
    confidence: float
    reasons: tuple[Reason, ...] = ()
    source: AnswerSource = "inferred"
    ohm: float | None = None
    farad: float | None = None
    henry: float | None = None
    others: tuple[tuple[Role, float], ...] = ()
    overruled: Role | None = None
    enabled_by: tuple[str, ...] | None = None
    needs_first: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NetRole:
    """What one net is for. `nominal_volts` is None when unknown; it is a magnitude with sign.

    `disputed_volts` is what the net's name says where a person's note says clearly more and gives
    no reason: a slip of the keyboard there would burn chips, so nobody builds on the note.
    """

    net: str
    kind: NetKind
    confidence: float
    nominal_volts: float | None = None
    reasons: tuple[Reason, ...] = ()
    source: AnswerSource = "inferred"
    volts_source: AnswerSource = "inferred"
    disputed_volts: float | None = None


@dataclass(frozen=True, slots=True)
class Roles:
    """Roles of all parts and kinds of all nets of a board, by identity and by name.

    `fitted` holds the identities of the parts that are on the assembled board, a person's word
    included.
    """

    parts: Mapping[str, PartRole]
    nets: Mapping[str, NetRole]
    fitted: frozenset[str]

    def role(self, part_id: str) -> Role:
        """The role of a part, whatever its confidence."""
        return self.parts[part_id].role

    def kind(self, net: str) -> NetKind:
        """The kind of a net, whatever its confidence."""
        return self.nets[net].kind

    def grounds(self) -> frozenset[str]:
        """Names of all ground nets."""
        return frozenset(name for name, role in self.nets.items() if role.kind == "ground")
