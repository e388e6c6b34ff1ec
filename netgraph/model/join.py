# SPDX-License-Identifier: GPL-3.0-or-later
"""Boards joined by mating pads: one board of all parts, its nets joined where pads meet.

The boards are laid side by side, so that no pads of two boards seem near each other.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace

from netgraph import limits
from netgraph.errors import BoardCheckError
from netgraph.model.board import Board, Capability, NetTie, Source
from netgraph.model.builder import BoardBuilder
from netgraph.model.merge_doubts import against_measured, renamed
from netgraph.net_names import is_made
from netgraph.reasons import Reason, reason

APART_NM = 100_000_000
"""Between two boards: far beyond any gap that is looked for."""

SHOWN = 8
"""So many names stand in one sentence."""

NetKey = tuple[int, str]


@dataclass(frozen=True, slots=True)
class Mate:
    """Two parts (``BOARD/PART``) whose pins meet by a rule: same, reversed or a table.

    `line` is where the assembly file says it, if known.
    """

    a: str
    b: str
    rule: str = "same"
    pairs: tuple[tuple[str, str], ...] = ()
    unplugged: bool = False
    line: int | None = None


class MateError(BoardCheckError):
    """A mate that can't be; `line` is where the assembly file says it, if known."""

    def __init__(self, mate: Mate, message: str, *, hint: str = "") -> None:
        super().__init__(message, code="board-contradictory", hint=hint)
        self.line = mate.line


@dataclass(frozen=True, slots=True)
class Contact:
    """Two pads that meet (``BOARD/PART.PIN``), and their nets."""

    pads: tuple[str, str]
    nets: tuple[NetKey, NetKey]


@dataclass(frozen=True)
class JoinedBoards:
    """Boards, mates, the pads that meet, and which nets are one: net -> the net that names it."""

    boards: tuple[tuple[str, Board], ...]
    mates: tuple[Mate, ...]
    root: dict[NetKey, NetKey]
    unmated: dict[str, int]
    contacts: tuple[Contact, ...] = ()
    strange: tuple[tuple[Mate, str], ...] = ()
    """Pins (``BOARD/PART.PIN``) that a table names and a board known in part doesn't have."""

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
        self._hold_apart(builder)
        builder.not_known += self._odd_mates(source.file_name)
        builder.not_known += self._nets_of_one_board()
        for key in self.root:
            builder.aliases[f"{self.boards[key[0]][0]}/{key[1]}"] = self.name(key)
        return builder.freeze()

    def _odd_mates(self, file: str) -> list[Reason]:
        """Mates that a real device rarely has: one part plugged twice, a board into itself."""
        found = []
        partners: dict[str, list[tuple[Mate, str]]] = defaultdict(list)
        for mate in self.mates:
            if mate.unplugged:
                continue
            partners[mate.a].append((mate, mate.b))
            partners[mate.b].append((mate, mate.a))
            if mate.a.partition("/")[0] == mate.b.partition("/")[0]:
                where = _where(file, mate)
                found.append(reason("mate-of-one-board", where=where, a=mate.a, b=mate.b))
        pins: dict[Mate, list[str]] = defaultdict(list)
        for mate, pin in self.strange:
            pins[mate].append(pin)
        for mate, names in pins.items():
            where = _where(file, mate)
            found.append(reason("mate-pins-unknown", where=where, names=_some(names)))
        for part, others in partners.items():
            if len(others) > 1:
                found.append(
                    reason(
                        "mate-again",
                        where=_where(file, others[-1][0]),
                        part=part,
                        count=len(others),
                        others=", ".join(other for _, other in others[:SHOWN]),
                    )
                )
        return found

    def _nets_of_one_board(self) -> list[Reason]:
        """Nets that a board keeps apart and other boards join: each time with the pads that do."""
        groups: dict[NetKey, dict[int, list[str]]] = defaultdict(lambda: defaultdict(list))
        for key, root in self.root.items():
            groups[root][key[0]].append(key[1])
        found = []
        for boards in groups.values():
            for board, nets in boards.items():
                if len(nets) < 2:
                    continue
                label = self.boards[board][0]
                keys = {(board, net) for net in nets}
                pads = [" to ".join(one.pads) for one in self.contacts if keys & set(one.nets)]
                names = sorted(nets, key=lambda net: (is_made(net), net))
                shown = [f"{label}/{net}" for net in names]
                found.append(
                    reason("nets-through-mates", nets=_some(shown, " and "), pads=_some(pads))
                )
        return found

    def _hold_apart(self, builder: BoardBuilder) -> None:
        """Pads that were found apart on one board and are joined through others."""
        measured = [(label, board) for label, board in self.boards if board.apart]
        if not measured:
            return
        ids = [part.id for part in builder.parts]
        whole = {(ids[part], pin): net for (part, pin), net in builder.nets_of_pads().items()}
        for label, board in measured:
            found = renamed(board, {part.id: f"{label}/{part.id}" for part in board.parts})
            builder.apart += found.apart
            for clash in against_measured(replace(found, joined={}, alone=()), whole):
                builder.unclear_nets |= set(clash.nets)
                builder.not_known.append(clash.why)

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
        ties: dict[str, list[NetTie]] = defaultdict(list)
        for tie in board.net_ties:
            ties[tie.part_id].append(tie)
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
            for tie in ties.get(part.id, ()):
                builder.add_net_tie(index, tie.pins)
        return right + shift + APART_NM


def join_boards(boards: list[tuple[str, Board]], mates: tuple[Mate, ...]) -> JoinedBoards:
    """Find which nets are one.

    Raises
    ------
    MateError
        A mate names a part that its board doesn't have, a pin that the part doesn't have (a board
        known in part may lack both pins and nets, but no part), or the same part twice.
    """
    index = {name: number for number, (name, _) in enumerate(boards)}
    parent: dict[NetKey, NetKey] = {}

    def root(key: NetKey) -> NetKey:
        while parent.setdefault(key, key) != key:
            parent[key] = parent[parent[key]]
            key = parent[key]
        return key

    unmated: dict[str, int] = {}
    contacts: list[Contact] = []
    strange: list[tuple[Mate, str]] = []
    for mate in mates:
        if mate.a == mate.b:
            raise MateError(mate, f"{mate.a} mates with itself", hint="name its counterpart as b")
        ends = [_pins(boards, index, mate, one) for one in (mate.a, mate.b)]
        strange += _strange_pins(boards, index, mate, ends)
        alone = 0
        names = [one.partition("/")[0] for one in (mate.a, mate.b)]
        known = [not boards[index[name]][1].partial for name in names]
        if mate.rule == "reversed" and not any(known):
            raise MateError(
                mate,
                f"{mate.a} and {mate.b} mate reversed, but both boards are known in part: which "
                "pin is the last is not known",
                hint="give the pins as a table, such as pins = { 1 = '10', 2 = '9' }",
            )
        whole = [pin for end, is_whole in zip(ends, known, strict=True) if is_whole for pin in end]
        for pin_a, pin_b in _pairs(mate, ends[0], ends[1], whole):
            if pin_a not in ends[0] or pin_b not in ends[1]:
                alone += 1
                continue
            if mate.unplugged:
                continue
            net_a, net_b = ends[0][pin_a], ends[1][pin_b]
            if net_a is None or net_b is None:
                continue
            contacts.append(Contact((f"{mate.a}.{pin_a}", f"{mate.b}.{pin_b}"), (net_a, net_b)))
            one, two = root(net_a), root(net_b)
            if one != two:
                low, high = sorted((one, two), key=lambda key: (is_made(key[1]), key))
                parent[high] = low
        if alone:
            unmated[f"{mate.a} and {mate.b}"] = alone
    roots = {key: root(key) for key in list(parent)}
    return JoinedBoards(tuple(boards), mates, roots, unmated, tuple(contacts), tuple(strange))


def _where(file: str, mate: Mate) -> str:
    return file if mate.line is None else f"{file}:{mate.line}"


def _some(names: list[str], sign: str = ", ") -> str:
    more = len(names) - SHOWN
    return sign.join(names[:SHOWN]) + (f" and {more} more" if more > 0 else "")


def _strange_pins(
    boards: list[tuple[str, Board]],
    index: dict[str, int],
    mate: Mate,
    ends: list[dict[str, NetKey | None]],
) -> list[tuple[Mate, str]]:
    """Pins that the table names and a board known in part lacks; any other board must have them."""
    found = []
    for number, name in enumerate((mate.a, mate.b)):
        board = boards[index[name.partition("/")[0]]][1]
        strange = [pair[number] for pair in mate.pairs if pair[number] not in ends[number]]
        if strange and (not ends[number] or not board.partial):
            pins = _some(list(ends[number])) or "none at all"
            raise MateError(
                mate, f"{name} has no pin {strange[0]!r}", hint=f"its pins in the file: {pins}"
            )
        found += [(mate, f"{name}.{pin}") for pin in strange]
    return found


def _pins(
    boards: list[tuple[str, Board]], index: dict[str, int], mate: Mate, end: str
) -> dict[str, NetKey | None]:
    name, _, part_id = end.partition("/")
    number = index[name]
    board = boards[number][1]
    if not board.has_part(part_id):
        raise MateError(
            mate,
            f"{end} mates, but {board.source.file_name} has no such part",
            hint="check the designator",
        )
    found: dict[str, NetKey | None] = {}
    for i in board.pad_range(board.part(part_id)):
        pad = board.pad(i)
        if found.get(pad.pin) is None:
            found[pad.pin] = None if pad.net is None else (number, pad.net)
    return found


def _pairs(
    mate: Mate, a: dict[str, NetKey | None], b: dict[str, NetKey | None], whole: list[str]
) -> list[tuple[str, str]]:
    """Pins that should meet; a pin without a partner is paired with one that is not there.

    `whole` are the pins of the ends whose boards are known as a whole: they tell the last pin.
    """
    if mate.rule == "table":
        met_a, met_b = ({pair[i] for pair in mate.pairs} for i in (0, 1))
        left = [(pin, "") for pin in a if pin not in met_a]
        return [*mate.pairs, *left, *(("", pin) for pin in b if pin not in met_b)]
    if mate.rule == "same":
        return [(pin, pin) for pin in dict.fromkeys([*a, *b])]
    numbers = [int(pin) for pin in whole if pin.isascii() and pin.isdigit() and len(pin) < 6]
    last = max(numbers, default=0)
    return [
        (pin, str(last + 1 - int(pin)))
        for pin in a
        if pin.isascii() and pin.isdigit() and len(pin) < 6
    ]
