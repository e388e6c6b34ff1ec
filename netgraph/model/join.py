# SPDX-License-Identifier: GPL-3.0-or-later
"""Boards joined by mating pads: one board of all parts, its nets joined where pads meet.

The boards are laid side by side, so that no pads of two boards seem near each other.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from netgraph import limits
from netgraph.errors import BoardCheckError
from netgraph.model.board import Board, Capability, Source
from netgraph.model.builder import BoardBuilder
from netgraph.reasons import reason

APART_NM = 100_000_000
"""Between two boards: far beyond any gap that is looked for."""

NetKey = tuple[int, str]


@dataclass(frozen=True, slots=True)
class Mate:
    """Two parts (``BOARD/PART``) whose pins meet by a rule: same, reversed or a table."""

    a: str
    b: str
    rule: str = "same"
    pairs: tuple[tuple[str, str], ...] = ()
    unplugged: bool = False


@dataclass(frozen=True)
class JoinedBoards:
    """Boards, mates, and which nets are one: net -> the net that names it."""

    boards: tuple[tuple[str, Board], ...]
    mates: tuple[Mate, ...]
    root: dict[NetKey, NetKey]
    unmated: dict[str, int]

    def name(self, key: NetKey) -> str:
        """The name of a net of one board in the joined board."""
        board, net = self.root.get(key, key)
        return f"{self.boards[board][0]}/{net}"

    def joined(self) -> dict[str, list[str]]:
        """Net of the joined board -> the nets that are one there, for those of several boards."""
        found: dict[str, list[str]] = {}
        for key in self.root:
            found.setdefault(self.name(key), []).append(f"{self.boards[key[0]][0]}/{key[1]}")
        return {name: sorted(nets) for name, nets in found.items() if len(nets) > 1}

    def board(self, name: str, source: Source) -> Board:
        """All of it as one board.

        Raises
        ------
        BoardCheckError
            The boards side by side are wider than a file's coordinates allow.
        """
        builder = BoardBuilder(name, source=source)
        builder.copper_layers = ()
        can: set[Capability] | None = None
        x_nm = 0
        for number, (label, board) in enumerate(self.boards):
            x_nm = self._add(builder, number, label, board, x_nm)
            own = set(board.capabilities)
            # Values and marks are worth having of one board too; places only of all.
            can = (
                own
                if can is None
                else {one for one in can | own if one != "has_positions" or one in can & own}
            )
            builder.partial |= board.partial
            builder.not_known += board.not_known
            for warning in board.warnings:
                builder.warn(
                    warning.code, f"{label}: {warning.text}", line=warning.line,
                    count=warning.count,
                )  # fmt: skip
        builder.capabilities = (can or set()) - {"has_copper"}
        if len(self.boards) > 1 and "has_positions" in builder.capabilities:
            builder.not_known.append(reason("boards-apart"))
        drawn = [label for label, board in self.boards if "has_copper" in board.capabilities]
        if drawn:
            builder.not_known.append(reason("boards-copper", names=", ".join(drawn)))
        if "has_positions" not in builder.capabilities:
            builder.forget_pad_places()
        open_mates = [f"{mate.a} from {mate.b}" for mate in self.mates if mate.unplugged]
        if open_mates:
            builder.not_known.append(reason("mates-open", names=", ".join(open_mates[:8])))
        for names, count in self.unmated.items():
            builder.not_known.append(reason("pins-unmated", count=count, names=names))
        return builder.freeze()

    def _add(self, builder: BoardBuilder, number: int, label: str, board: Board, x_nm: int) -> int:
        """Add one board to the right of `x_nm`; where the next one begins."""
        c = board.columns
        left = int(c.x_nm.min()) if len(c) else 0
        right = int(c.x_nm.max()) if len(c) else 0
        shift = x_nm - left if number and "has_positions" in board.capabilities else 0
        if right + shift > limits.MAX_COORDINATE_NM:
            raise BoardCheckError(
                "the boards side by side are wider than 2.147 m (MAX_COORDINATE_NM)"
            )
        names = [self.name((number, net.name)) for net in board.nets]
        for net, joined in zip(board.nets, names, strict=True):
            builder.add_net(joined, net_class=net.net_class)
            if net.name in board.unclear_nets:
                builder.unclear_nets.add(joined)
        for part in board.parts:
            index = builder.add_part(
                part.ref,
                part_id=f"{label}/{part.id}",
                value=part.value,
                footprint=part.footprint,
                side=part.side,
                x_nm=part.x_nm + shift,
                y_nm=part.y_nm,
                angle_deg=part.angle_deg,
                not_fitted_because=part.not_fitted_because,
                attributes=part.attributes,
                fields=part.fields,
                tags=part.tags,
            )
            for i in board.pad_range(part):
                pad = board.pad(i)
                net_number = int(c.net[i])
                joined_net = None if net_number < 0 else names[net_number]
                builder.add_pad_like(index, replace(pad, x_nm=pad.x_nm + shift), joined_net)
            for tie in board.net_ties:
                if tie.part_id == part.id:
                    builder.add_net_tie(index, tie.pins)
        return right + shift + APART_NM


def join_boards(boards: list[tuple[str, Board]], mates: tuple[Mate, ...]) -> JoinedBoards:
    """Find which nets are one.

    Raises
    ------
    BoardCheckError
        A mate names a part that its board doesn't have, or a pin that the part doesn't have.
    """
    index = {name: number for number, (name, _) in enumerate(boards)}
    parent: dict[NetKey, NetKey] = {}

    def root(key: NetKey) -> NetKey:
        while parent.setdefault(key, key) != key:
            parent[key] = parent[parent[key]]
            key = parent[key]
        return key

    unmated: dict[str, int] = {}
    for mate in mates:
        ends = [_pins(boards, index, one) for one in (mate.a, mate.b)]
        alone = 0
        for pin_a, pin_b in _pairs(mate, ends[0], ends[1]):
            if pin_a not in ends[0] or pin_b not in ends[1]:
                alone += 1
                continue
            if mate.unplugged:
                continue
            net_a, net_b = ends[0][pin_a], ends[1][pin_b]
            if net_a is None or net_b is None:
                continue
            one, two = root(net_a), root(net_b)
            if one != two:
                low, high = min(one, two), max(one, two)
                parent[high] = low
        if alone:
            unmated[f"{mate.a} and {mate.b}"] = alone
    return JoinedBoards(tuple(boards), mates, {key: root(key) for key in list(parent)}, unmated)


def _pins(
    boards: list[tuple[str, Board]], index: dict[str, int], end: str
) -> dict[str, NetKey | None]:
    name, _, part_id = end.partition("/")
    number = index[name]
    board = boards[number][1]
    if not board.has_part(part_id):
        raise BoardCheckError(
            f"{end} mates, but {board.source.file_name} has no such part",
            code="board-contradictory",
            hint="check the designator in the assembly file",
        )
    found: dict[str, NetKey | None] = {}
    for i in board.pad_range(board.part(part_id)):
        pad = board.pad(i)
        if found.get(pad.pin) is None:
            found[pad.pin] = None if pad.net is None else (number, pad.net)
    return found


def _pairs(
    mate: Mate, a: dict[str, NetKey | None], b: dict[str, NetKey | None]
) -> list[tuple[str, str]]:
    """Pins that should meet; a pin without a partner is paired with one that is not there."""
    if mate.rule == "table":
        for pins, ends, name in ((0, a, mate.a), (1, b, mate.b)):
            strange = [pair[pins] for pair in mate.pairs if pair[pins] not in ends]
            # On a partial board a pin may simply not be traced yet; it counts as unmated.
            if strange and not ends:
                raise BoardCheckError(
                    f"{name} has no pads at all, its pins can't mate", code="board-contradictory"
                )
        return list(mate.pairs)
    if mate.rule == "same":
        return [(pin, pin) for pin in dict.fromkeys([*a, *b])]
    numbers = [int(pin) for pin in [*a, *b] if pin.isascii() and pin.isdigit() and len(pin) < 6]
    last = max(numbers, default=0)
    return [
        (pin, str(last + 1 - int(pin)))
        for pin in a
        if pin.isascii() and pin.isdigit() and len(pin) < 6
    ]
