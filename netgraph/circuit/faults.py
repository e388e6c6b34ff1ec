# SPDX-License-Identifier: GPL-3.0-or-later
"""Faults as one line of text: ``leak VSYS GND 12R + open L2``; read, written and put on a board.

    leak NET NET OHMS             a path between two nets
    part REF [NET [NET]] OHMS     a path inside a part
    bridge REF.PIN REF.PIN OHMS   a deposit between two pads
    open REF                      a part that has lost contact

Several stand together with a `+` between blanks. Names with blanks are put in double quotes. Where
no net has that name, ``ground`` is the ground.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from netgraph.circuit.network import GROUND, Circuit, Label
from netgraph.errors import FaultError, UnknownNameError
from netgraph.model import Board
from netgraph.quantity import QuantityError, parse_quantity
from netgraph.roles.answer import Roles

LEAST_OHM, MOST_OHM = 0.01, 1e6
"""Severities of the model, by bench practice: shorted capacitors to weak leaks."""
MOST_FAULTS: Final = 8
"""So many at once; more are no hypothesis but a list."""
_LONGEST: Final = 20_000
GROUND_WORD: Final = "ground"
FORMS: Final = "leak NET NET OHMS, part REF [NET [NET]] OHMS, bridge REF.PIN REF.PIN OHMS, open REF"
_TOKEN = re.compile(r'\s*(?:"((?:[^"\\]|\\.)*)"|(\S+))')
_PLAIN = re.compile(r"[0-9]+(?:\.[0-9]*)?(?:[eE][+-]?[0-9]{1,2})?|\.[0-9]+")


@dataclass(frozen=True, slots=True)
class Leak:
    """A path of `ohm` between two nets, by name."""

    net_a: str
    net_b: str
    ohm: float

    def __str__(self) -> str:
        return f"leak {_quoted(self.net_a)} {_quoted(self.net_b)} {_ohms(self.ohm)}"


@dataclass(frozen=True, slots=True)
class PartLeak:
    """A path of `ohm` inside a part; without nets between its two, or its supply and ground."""

    part_id: str
    nets: tuple[str, ...]
    ohm: float

    def __str__(self) -> str:
        words = ["part", *(_quoted(one) for one in (self.part_id, *self.nets)), _ohms(self.ohm)]
        return " ".join(words)


@dataclass(frozen=True, slots=True)
class Bridge:
    """A deposit of `ohm` between two pads, each as (part, pin)."""

    a: tuple[str, str]
    b: tuple[str, str]
    ohm: float

    def __str__(self) -> str:
        ends = (_quoted(".".join(end)) for end in (self.a, self.b))
        return f"bridge {' '.join(ends)} {_ohms(self.ohm)}"


@dataclass(frozen=True, slots=True)
class Open:
    """A part that has lost contact: nothing flows through it any more."""

    part_id: str

    def __str__(self) -> str:
        return f"open {_quoted(self.part_id)}"


Fault = Leak | PartLeak | Bridge | Open


@dataclass(frozen=True, slots=True)
class PlacedFault:
    """Faults put on a board: paths as (net, net, ohm, part), and the parts that are open.

    Ground is None.
    """

    paths: tuple[tuple[str | None, str | None, float, str], ...] = ()
    opens: tuple[str, ...] = ()

    def nets(self) -> tuple[str, ...]:
        """Names of the nets that the paths touch, each once."""
        ends = (net for a, b, _, _ in self.paths for net in (a, b) if net is not None)
        return tuple(dict.fromkeys(ends))


# -- reading and writing -----------------------------------------------------------------------


def parse_faults(text: str) -> tuple[Fault, ...]:
    """Read one line of faults.

    Raises
    ------
    FaultError
        A word is not of the grammar or a value is out of range; says at which column.

    >>> parse_faults("leak VSYS GND 12R + open L2")
    (Leak(net_a='VSYS', net_b='GND', ohm=12.0), Open(part_id='L2'))
    """
    if len(text) > _LONGEST:
        raise FaultError(f"a fault is longer than {_LONGEST} characters")
    clauses: list[list[tuple[str, int]]] = [[]]
    for word, column, quoted in _words(text):
        if word == "+" and not quoted:
            clauses.append([])
        else:
            clauses[-1].append((word, column))
    if len(clauses) > MOST_FAULTS:
        raise FaultError(f"{len(clauses)} faults at once, the limit is {MOST_FAULTS}")
    return tuple(_clause(words, text) for words in clauses)


def format_faults(faults: Sequence[Fault]) -> str:
    """Write faults so that reading gives the same.

    >>> format_faults(parse_faults("part U7 3R+x 3R"))
    'part U7 3R+x 3R'
    """
    return " + ".join(str(one) for one in faults)


def _words(text: str) -> list[tuple[str, int, bool]]:
    found: list[tuple[str, int, bool]] = []
    place = 0
    while place < len(text) and text[place:].strip():
        match = _TOKEN.match(text, place)
        if match is None:  # pragma: no cover - some token always matches what is not blank
            raise FaultError(f"column {place + 1}: no word is understood")
        quoted, plain = match.groups()
        column = match.start(1) if quoted is not None else match.start(2) + 1
        if plain is not None and plain.startswith('"'):
            raise FaultError(f"column {column}: a quote that opens and never closes")
        word = plain if quoted is None else re.sub(r"\\(.)", r"\1", quoted)
        found.append((word, column, quoted is not None))
        place = match.end()
    return found


def _clause(words: list[tuple[str, int]], text: str) -> Fault:
    if not words:
        raise FaultError(
            "a fault is missing" if not text.strip() else "a fault is missing beside a '+'",
            hint=f"forms: {FORMS}",
        )
    kind, column = words[0]
    rest = words[1:]
    if kind == "open" and len(rest) == 1:
        return Open(rest[0][0])
    if kind == "leak" and len(rest) == 3:
        return Leak(rest[0][0], rest[1][0], parse_ohms(*rest[2]))
    if kind == "part" and 2 <= len(rest) <= 4:
        nets = tuple(word for word, _ in rest[1:-1])
        return PartLeak(rest[0][0], nets, parse_ohms(*rest[-1]))
    if kind == "bridge" and len(rest) == 3:
        return Bridge(_pad(*rest[0]), _pad(*rest[1]), parse_ohms(*rest[2]))
    hint = {
        "leak": "leak NET NET OHMS, for example: leak VSYS GND 12R",
        "part": "part REF OHMS or part REF NET OHMS, for example: part C12 0.2R",
        "bridge": "bridge REF.PIN REF.PIN OHMS, for example: bridge C3.1 R5.2 40R",
        "open": "open REF, for example: open L2",
    }.get(kind, f"forms: {FORMS}")
    if kind in ("leak", "part", "bridge", "open"):
        raise FaultError(f"column {column}: {kind!r} does not take {len(rest)} words", hint=hint)
    raise FaultError(f"column {column}: {kind!r} is no kind of fault", hint=hint)


def parse_ohms(text: str, column: int = 1) -> float:
    """Ohms of a fault: "12R", "0.05R", "4k7", "1M", "50m", or a plain number of ohms.

    Raises
    ------
    FaultError
        No such value, or outside 0.01 ohm to 1 Mohm.
    """
    try:
        # A marking such as "220" would mean 22 ohm; here a bare number is a number of ohms.
        ohm = float(text) if _PLAIN.fullmatch(text) else parse_quantity(text, "resistance")
    except QuantityError:
        raise FaultError(
            f"column {column}: {text[:40]!r} is no resistance", hint="12R, 0.05R, 4k7, 1M"
        ) from None
    if not LEAST_OHM <= ohm <= MOST_OHM:
        raise FaultError(
            f"column {column}: {text[:40]} is outside the model", hint="0.01 ohm to 1 Mohm"
        )
    return ohm


def _pad(text: str, column: int) -> tuple[str, str]:
    ref, _, pin = text.rpartition(".")
    if not ref or not pin:
        raise FaultError(
            f"column {column}: {text[:40]!r} is no pad", hint="REF.PIN, for example C3.1"
        )
    return ref, pin


def _ohms(ohm: float) -> str:
    short = f"{ohm:g}"
    return f"{short}R" if float(short) == ohm and "e" not in short else repr(ohm)


def _quoted(name: str) -> str:
    if name and name != "+" and not re.search(r'[\s"\\]', name):
        return name
    return '"' + name.replace("\\", "\\\\").replace('"', '\\"') + '"'


# -- on a board --------------------------------------------------------------------------------


def place_faults(
    faults: Sequence[Fault], board: Board, roles: Roles, grounds: frozenset[str]
) -> PlacedFault:
    """The nets and parts that faults mean on this board.

    Raises
    ------
    UnknownNameError
        A net, part or pad the board does not have; near names are in the error.
    FaultError
        A fault that this board leaves open: both ends on one net, a part with several supplies.
    """
    paths: list[tuple[str | None, str | None, float, str]] = []
    opens: list[str] = []
    for one in faults:
        if isinstance(one, Open):
            part = board.part(one.part_id)
            if part.id not in roles.fitted:
                raise FaultError(f"{part.id} is not fitted, so it can't be open")
            opens.append(part.id)
            continue
        if isinstance(one, Leak):
            ends: tuple[str | None, str | None] = one.net_a, one.net_b
            part_id = ""
        elif isinstance(one, PartLeak):
            part_id = board.part(one.part_id).id
            ends = _ends_of_part(one, board, roles, grounds)
        else:
            part_id = ""
            ends = _net_of_pad(one.a, board), _net_of_pad(one.b, board)
        a, b = (_net(end, board, grounds) for end in ends)
        if a == b:
            what = "ground" if a is None else f"net {a}"
            raise FaultError(f"'{one}': both ends are on {what}", hint="nothing would change")
        paths.append((a, b, one.ohm, part_id))
    return PlacedFault(tuple(paths), tuple(dict.fromkeys(opens)))


def _net(name: str | None, board: Board, grounds: frozenset[str]) -> str | None:
    if name is None:
        return None
    if name == GROUND_WORD and not board.has_net(name) and grounds:
        return None
    found = board.known_as(name)
    return None if found in grounds else found


def _net_of_pad(pad: tuple[str, str], board: Board) -> str:
    part = board.part(pad[0])
    pins = [board.pad(i) for i in board.pad_range(part)]
    nets = {one.net for one in pins if one.pin == pad[1]}
    if not nets:
        near = tuple(dict.fromkeys(f"{part.id}.{one.pin}" for one in pins))[:5]
        raise UnknownNameError("pad", ".".join(pad), near)
    if nets == {None}:
        raise FaultError(f"pad {'.'.join(pad)} is on no net", hint="name the net instead")
    return sorted(one for one in nets if one is not None)[0]


def _ends_of_part(
    one: PartLeak, board: Board, roles: Roles, grounds: frozenset[str]
) -> tuple[str | None, str | None]:
    """The two nets of a leak inside a part; None is ground."""
    part = board.part(one.part_id)
    own = board.nets_of_part[part.id]
    for net in one.nets:
        board.net(net)
        if net not in own:
            raise FaultError(f"{part.id} has no pad on {net}", hint=f"its nets: {_list(own)}")
    if part.id not in roles.fitted:
        raise FaultError(f"{part.id} is not fitted, so nothing leaks in it")
    if len(one.nets) == 2:
        return one.nets[0], one.nets[1]
    if len(one.nets) == 1:
        return one.nets[0], None if len(own) != 2 else _other(own, one.nets[0])
    if len(own) == 2:
        return own[0], own[1]
    supplies = [
        net
        for net in own
        if net not in grounds and roles.nets[net].kind in ("rail", "high-voltage")
    ]
    if len(supplies) != 1:
        raise FaultError(
            f"'{one}': {part.id} has {len(supplies)} supplies, so its leak may be at any net",
            hint=f"name the net: part {part.id} NET OHMS; {_list(supplies or own)}",
        )
    return supplies[0], None


def _other(nets: Sequence[str], net: str) -> str:
    return next((one for one in nets if one != net), net)


def _list(nets: Sequence[str], most: int = 6) -> str:
    return ", ".join(nets[:most]) + (" ..." if len(nets) > most else "")


def with_fault(circuit: Circuit, fault: PlacedFault) -> Circuit:
    """The circuit with its faults: open parts gone, paths added.

    Raises
    ------
    CircuitError
        A net is not in the circuit.
    """
    open_ = circuit.without_parts(fault.opens) if fault.opens else circuit
    return open_.with_branches(
        (
            GROUND if a is None else circuit.node(a),
            GROUND if b is None else circuit.node(b),
            ohm,
            Label(part_id, "fault", "fault", ""),
        )
        for a, b, ohm, part_id in fault.paths
    )
