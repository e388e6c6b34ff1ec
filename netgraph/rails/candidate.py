# SPDX-License-Identifier: GPL-3.0-or-later
"""One possible feeding, and the view of the board that all finders of candidates share."""

from __future__ import annotations

from dataclasses import dataclass

from netgraph.rails.power_pins import uses_on
from netgraph.rails.tree import RailKind, SwitchNode
from netgraph.reasons import Reason
from netgraph.roles.answer import Role, Roles
from netgraph.roles.wiring import Wiring


@dataclass(frozen=True, slots=True)
class Candidate:
    """One possible feeding: nets as indices, `source` -1 when not known.

    `directed` False: the same part stands as a second candidate the other way round. `by_name`
    says that pin names (or named ends of a diode or transistor) tell the direction.
    """

    part: int
    source: int
    to: int
    kind: RailKind
    score: float
    directed: bool
    reasons: tuple[Reason, ...]
    through: tuple[int, ...] = ()
    by_name: bool = False

    @property
    def code(self) -> str:
        """Code of the first reason: the form of the evidence."""
        return self.reasons[0].code


class Supplies:
    """Roles, kinds and volts of one board as index lists, and the candidates found so far.

    Attributes
    ----------
    supplies, grounds
        Nets that are rails, high-voltage rails or references; nets that are ground.
    volts
        Per net: nominal volts as far as its name or a person says them.
    entries
        Per net: how much looks like an entry (0..1), for rules that need an outside supply.
    """

    def __init__(self, wiring: Wiring, roles: Roles) -> None:
        self.wiring = wiring
        self.board = wiring.board
        self.roles = roles
        self.role: list[Role] = [roles.parts[part.id].role for part in self.board.parts]
        self.kind = [roles.nets[net.name].kind for net in self.board.nets]
        self.supplies = {
            i for i, kind in enumerate(self.kind) if kind in ("rail", "high-voltage", "reference")
        }
        self.grounds = {i for i, kind in enumerate(self.kind) if kind == "ground"}
        self.volts = [roles.nets[net.name].nominal_volts for net in self.board.nets]
        self.entries: dict[int, float] = {}
        self.switch_nodes: list[SwitchNode] = []
        self.found: list[Candidate] = []
        self.coils_used: set[int] = set()

    def add(
        self,
        part: int,
        source: int,
        to: int,
        kind: RailKind,
        score: float,
        why: Reason,
        *,
        directed: bool = True,
        through: tuple[int, ...] = (),
        by_name: bool = False,
    ) -> None:
        """Keep one candidate, unless it feeds a net from itself."""
        if source != to:
            self.found.append(
                Candidate(part, source, to, kind, score, directed, (why,), through, by_name)
            )

    def part_id(self, part: int) -> str:
        """Identity of a part."""
        return self.board.parts[part].id

    def name(self, net: int) -> str:
        """Name of a net; words for one that is not known."""
        return self.board.nets[net].name if net >= 0 else "an unknown net"

    def pin_text(self, part: int, net: int) -> str:
        """All pin names of a part on one net."""
        return " ".join(pin.name for pin in self.wiring.pins_on(part, net))

    def higher(self, net: int, than: int) -> bool:
        """Whether a net is known to carry more volts than another."""
        a, b = self.volts[net], self.volts[than]
        return a is not None and b is not None and abs(a) > abs(b)

    def is_named_in(self, part: int, net: int) -> bool:
        """Whether a pin on the net is an input by its name or type."""
        return "in" in uses_on(self.wiring, part, net)
