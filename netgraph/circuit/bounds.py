# SPDX-License-Identifier: GPL-3.0-or-later
"""Up to how many volts may every net rise while one is fed? For the ceiling of an injection.

No credit is given: a junction drops nothing, a load draws nothing, a divider divides nothing. What
the model reaches at all is taken to reach the set volts. So this can confirm a ceiling or lower
it, never raise it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

from netgraph.circuit.elements import Hypotheses, board_circuit
from netgraph.circuit.network import GROUND, Circuit, Label
from netgraph.errors import CircuitError
from netgraph.model import Board
from netgraph.rails.tree import RailTree
from netgraph.roles.answer import Roles

HARD_OHM: Final = 150.0
"""Up to here a resistor counts as conducting (the one rule of the ceiling)."""
SOFT_OHM: Final = 1e6
"""Above it stand insulation and leaks: they carry no chip."""
BRIDGE_OHM: Final = 0.01
Way = Literal["hard", "soft"]


@dataclass(frozen=True, slots=True)
class VoltBound:
    """The most that a net may rise to, and how it is reached.

    `way` is ``hard`` over junctions and resistances up to 150 ohm, ``soft`` over larger ones up to
    1 Mohm. `through` is the part of the last step, "" for a bridge; `from_net` where it began.
    """

    net: str
    upper_volts: float
    way: Way
    through: str
    from_net: str


def volt_bounds(
    board: Board,
    roles: Roles,
    tree: RailTree,
    net: str,
    volts: float,
    bridges: Iterable[tuple[str, str]] = (),
) -> dict[str, VoltBound]:
    """Upper bounds of the volts on all nets that come alive, by name; the others stay at 0 V.

    The cell's switch is taken to be on and off: what one of the two reaches is reached.

    Parameters
    ----------
    net, volts
        The fed net and what the supply is set to.
    bridges
        Pairs of nets that a deposit may still join.

    Raises
    ------
    UnknownNameError
        The board has no such net.
    CircuitError
        The volts are negative or no number.
    """
    board.net(net)
    pairs = list(bridges)
    for pair in pairs:
        for name in pair:
            board.net(name)
    if not 0.0 <= volts < float("inf"):
        raise CircuitError("circuit-invalid", f"the set volts are {volts:g}")
    found: dict[str, VoltBound] = {}
    for on in (False, True):
        circuit = board_circuit(board, roles, tree, hypotheses=Hypotheses(battery_switch=on))
        circuit = circuit.with_branches(
            (circuit.node(a), circuit.node(b), BRIDGE_OHM, Label("", "bridge", "fault", ""))
            for a, b in pairs
            if circuit.node(a) != circuit.node(b)
        )
        for one in _reached(circuit, circuit.node(net), volts):
            known = found.get(one.net)
            if known is None or (known.way == "soft" and one.way == "hard"):
                found[one.net] = one
    found.pop(net, None)
    return found


def _reached(circuit: Circuit, start: int, volts: float) -> list[VoltBound]:
    if start == GROUND:
        return []
    hard: dict[int, list[tuple[int, str]]] = {}
    soft: dict[int, list[tuple[int, str]]] = {}
    rows = zip(
        circuit.a.tolist(),
        circuit.b.tolist(),
        (1.0 / circuit.siemens).tolist(),
        circuit.branch_label,
        strict=True,
    )
    for a, b, ohm, label in rows:
        # A hair more than 150, since ohms come back from their inverse.
        ways = hard if ohm <= HARD_OHM * (1 + 1e-9) else soft
        if ohm < SOFT_OHM and a != GROUND and b != GROUND:
            ways.setdefault(a, []).append((b, label.part_id))
            ways.setdefault(b, []).append((a, label.part_id))
    ends = zip(
        circuit.anode.tolist(), circuit.cathode.tolist(), circuit.junction_label, strict=True
    )
    for a, b, label in ends:
        if a != GROUND and b != GROUND:
            hard.setdefault(a, []).append((b, label.part_id))
    seen: dict[int, VoltBound] = {}
    names = circuit.nodes
    waiting = deque([start])
    while waiting:
        here = waiting.popleft()
        for there, part in hard.get(here, ()):
            if there != start and there not in seen:
                seen[there] = VoltBound(names[there], volts, "hard", part, names[here])
                waiting.append(there)
    waiting = deque([start, *seen])
    while waiting:
        here = waiting.popleft()
        for there, part in (*hard.get(here, ()), *soft.get(here, ())):
            if there != start and there not in seen:
                seen[there] = VoltBound(names[there], volts, "soft", part, names[here])
                waiting.append(there)
    return list(seen.values())
