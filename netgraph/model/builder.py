# SPDX-License-Identifier: GPL-3.0-or-later
"""The only mutable thing: collects parts, pads and nets, checks them, and freezes a board.

All boards are made here, by the readers as well as by hand.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from netgraph import limits
from netgraph.errors import BoardCheckError, visible
from netgraph.model.board import (
    COPPER_SIDES,
    PAD_KINDS,
    PAD_SHAPES,
    Board,
    BoardWarning,
    Capability,
    CopperSide,
    Net,
    NetTie,
    Pad,
    PadColumns,
    PadKind,
    PadsFoundApart,
    Part,
    Side,
    Source,
)
from netgraph.model.copper import Copper, Stackup
from netgraph.net_names import volts_in_name
from netgraph.reasons import Reason, reason

_SIDE_CODE: dict[str, int] = {name: code for code, name in enumerate(COPPER_SIDES)}
_KIND_CODE: dict[str, int] = {name: code for code, name in enumerate(PAD_KINDS)}
_SHAPE_CODE: dict[str, int] = {name: code for code, name in enumerate(PAD_SHAPES)}


@dataclass(slots=True)
class PadRows:
    """Pads as growing columns; fast readers extend these lists themselves, all of one length, or
    put a `whole` column in the place of an empty list.

    `net` is -1 for none; `copper_side`, `kind` and `shape` are codes as in ``PadColumns``.
    """

    part: list[int] = field(default_factory=list)
    pin: list[str] = field(default_factory=list)
    net: list[int] = field(default_factory=list)
    x_nm: list[int] = field(default_factory=list)
    y_nm: list[int] = field(default_factory=list)
    angle_deg: list[float] = field(default_factory=list)
    width_nm: list[int] = field(default_factory=list)
    height_nm: list[int] = field(default_factory=list)
    drill_nm: list[int] = field(default_factory=list)
    copper_side: list[int] = field(default_factory=list)
    kind: list[int] = field(default_factory=list)
    shape: list[int] = field(default_factory=list)
    pin_name: list[str] = field(default_factory=list)
    pin_type: list[str] = field(default_factory=list)


def whole(column: NDArray[np.int64]) -> list[int]:
    """A column that is complete, for a place in `PadRows`: it is taken as it is, and can't grow."""
    return cast("list[int]", column)


class BoardBuilder:
    """Collect a board piece by piece; ``freeze`` checks the whole and returns it.

    >>> b = BoardBuilder("two resistors")
    >>> r1, r2 = b.add_part("R1", value="10k"), b.add_part("R2", value="10k")
    >>> for part, pin, net in [(r1, "1", "A"), (r1, "2", "B"), (r2, "1", "B"), (r2, "2", "C")]:
    ...     b.add_pad(part, pin, net)
    >>> board = b.freeze()
    >>> board.parts_on_net["B"]
    ('R1', 'R2')
    """

    def __init__(self, name: str, *, source: Source | None = None) -> None:
        self.name = name
        self.source = source or Source("hand")
        self.rows = PadRows()
        self.copper_layers: tuple[str, ...] = ("F.Cu", "B.Cu")
        self.stackup = Stackup()
        self.capabilities: set[Capability] = set()
        self.load_copper: Callable[[], Copper] = Copper
        self.not_known: list[Reason] = []
        self.partial = False
        self.unclear_nets: set[str] = set()
        self.aliases: dict[str, str] = {}
        self.apart: list[PadsFoundApart] = []
        self._parts: list[Part] = []
        self._nets: dict[str, int] = {}
        self._net_classes: dict[str, str] = {}
        self._ties: list[tuple[int, tuple[str, ...]]] = []
        self._warnings: dict[str, BoardWarning] = {}

    # -- collecting ----------------------------------------------------------------------------

    def add_net(self, name: str, *, net_class: str = "") -> int:
        """Index of the net with this name, added if new."""
        if net_class:
            self._net_classes[name] = net_class
        return self._nets.setdefault(name, len(self._nets))

    def add_part(
        self,
        ref: str,
        *,
        value: str = "",
        footprint: str = "",
        side: Side = "top",
        x_nm: int = 0,
        y_nm: int = 0,
        angle_deg: float = 0.0,
        not_fitted_because: str | None = None,
        attributes: tuple[str, ...] = (),
        fields: tuple[tuple[str, str], ...] = (),
        tags: str = "",
        part_id: str = "",
    ) -> int:
        """Add a part and return its index; a reference may repeat, identities are made later.

        `part_id` is for parts that have an identity already (``MAIN/U7``).
        """
        index = len(self._parts)
        self._parts.append(
            Part(
                index,
                part_id or ref,
                ref,
                value,
                footprint,
                side,
                x_nm,
                y_nm,
                angle_deg,
                not_fitted_because,
                attributes,
                fields,
                tags,
            )
        )
        return index

    def add_pad(
        self,
        part: int,
        pin: str,
        net: str | None = None,
        *,
        x_nm: int = 0,
        y_nm: int = 0,
        angle_deg: float = 0.0,
        width_nm: int = 500_000,
        height_nm: int = 500_000,
        drill_nm: int = 0,
        copper_side: CopperSide | None = None,
        kind: PadKind = "smd",
        shape: str = "rect",
        pin_name: str = "",
        pin_type: str = "",
    ) -> None:
        """Add one copper pad; positions are absolute. Without `copper_side` the part's side."""
        rows = self.rows
        if copper_side is None:
            copper_side = "both" if kind == "through" else self._parts[part].side
        rows.part.append(part)
        rows.pin.append(pin)
        rows.net.append(-1 if net is None else self.add_net(net))
        rows.x_nm.append(x_nm)
        rows.y_nm.append(y_nm)
        rows.angle_deg.append(angle_deg)
        rows.width_nm.append(width_nm)
        rows.height_nm.append(height_nm)
        rows.drill_nm.append(drill_nm)
        rows.copper_side.append(_SIDE_CODE[copper_side])
        rows.kind.append(_KIND_CODE[kind])
        rows.shape.append(_SHAPE_CODE[shape])
        rows.pin_name.append(pin_name)
        rows.pin_type.append(pin_type)

    def add_pad_like(self, part: int, pad: Pad, net: str | None) -> None:
        """Add a pad that has all that `pad` has, but for its part and net."""
        self.add_pad(
            part,
            pad.pin,
            net,
            x_nm=pad.x_nm,
            y_nm=pad.y_nm,
            angle_deg=pad.angle_deg,
            width_nm=pad.width_nm,
            height_nm=pad.height_nm,
            drill_nm=pad.drill_nm,
            copper_side=pad.copper_side,
            kind=pad.kind,
            shape=pad.shape,
            pin_name=pad.pin_name,
            pin_type=pad.pin_type,
        )

    def add_net_tie(self, part: int, pins: Iterable[str]) -> None:
        """State that these pins of one part are joined by copper though their nets differ."""
        self._ties.append((part, tuple(pins)))

    def warn(self, code: str, text: str, *, line: int | None = None, count: int = 1) -> None:
        """Count a warning; the first text and line of each code are kept."""
        old = self._warnings.get(code)
        if old is None:
            self._warnings[code] = BoardWarning(code, text, count, line)
        else:
            self._warnings[code] = BoardWarning(code, old.text, old.count + count, old.line)

    def pin_on_two_nets(self, pad: str, nets: tuple[str, str]) -> None:
        """The file has one pin on two nets: which of them is right is not known."""
        self.unclear_nets |= set(nets)
        told = reason("pin-on-two-nets", pad=pad, net_a=nets[0], net_b=nets[1])
        if len(self.not_known) < limits.MAX_NAMES_TOLD and told not in self.not_known:
            self.not_known.append(told)

    def forget_pad_places(self) -> None:
        """Take all pads' places away, where only some are known: zero is no place."""
        rows = self.rows
        rows.x_nm = [0] * len(rows.part)
        rows.y_nm = [0] * len(rows.part)
        self.capabilities.discard("has_positions")

    # -- what is there so far ------------------------------------------------------------------

    @property
    def parts(self) -> Sequence[Part]:
        """Parts added so far; their identities are not final."""
        return self._parts

    def net_number(self, name: str) -> int | None:
        """Index of a net that was added, else None."""
        return self._nets.get(name)

    def nets_of_pads(self) -> dict[tuple[int, str], str]:
        """Index of the part and pin -> net, of the pads added so far that have one."""
        names, rows = list(self._nets), self.rows
        pads = zip(rows.part, rows.pin, rows.net, strict=True)
        return {(part, pin): names[net] for part, pin, net in pads if net >= 0}

    # -- the board -----------------------------------------------------------------------------

    def freeze(self) -> Board:
        """Check everything and make the board.

        Raises
        ------
        BoardCheckError
            Nothing was added, a limit is passed, a pad belongs to no part, a name is unusable, a
            number is out of range or columns differ in length.
        """
        self._check()
        parts = self._identified_parts()
        aliases = {
            alias: name
            for alias, name in self.aliases.items()
            if name in self._nets and alias not in self._nets
        }
        self.not_known += _names_that_differ(aliases)
        return Board(
            name=self.name,
            source=self.source,
            parts=parts,
            nets=tuple(
                Net(index, name, self._net_classes.get(name, ""))
                for name, index in self._nets.items()
            ),
            columns=self._columns(),
            copper_layers=self.copper_layers,
            net_ties=tuple(NetTie(parts[part].id, pins) for part, pins in self._ties),
            capabilities=frozenset(self.capabilities),
            warnings=tuple(self._warnings.values()),
            stackup=self.stackup,
            not_known=tuple(dict.fromkeys(self.not_known)),
            partial=self.partial,
            unclear_nets=frozenset(self.unclear_nets),
            aliases=aliases,
            apart=tuple(dict.fromkeys(self.apart)),
            load_copper=self.load_copper,
        )

    def _check(self) -> None:
        rows = self.rows
        lengths = {len(getattr(rows, name)) for name in rows.__slots__}
        if len(lengths) > 1:
            raise BoardCheckError(f"pad columns differ in length: {sorted(lengths)}")
        if not self._parts and not self._nets:
            raise BoardCheckError("the board has no part and no net")
        for what, count, most in (
            ("parts", len(self._parts), limits.MAX_PARTS),
            ("pads", len(rows.part), limits.MAX_PADS),
            ("nets", len(self._nets), limits.MAX_NETS),
        ):
            if count > most:
                raise BoardCheckError(f"{count} {what}, the limit is {most}")
        if not _all_within(rows.part, 0, len(self._parts)):
            raise BoardCheckError("a pad belongs to a part that was not added")
        if not _all_within(rows.net, -1, len(self._nets)):
            raise BoardCheckError("a pad lies on a net that was not added")
        for what, names in (
            ("net", self._nets),
            ("part", {part.ref for part in self._parts}),
            ("pin", set(rows.pin)),
        ):
            # Nearly always all are plain and short: one look at their text together.
            together = "".join(names)
            if together.isascii() and together.isprintable() and _all_short(names):
                continue
            for name in names:
                if is_bad_name(name):
                    raise BoardCheckError(
                        f"{what} name {visible(name[:60])!r} is too long or holds a control "
                        "character"
                    )
        if "" in self._nets:
            raise BoardCheckError("a net has an empty name", hint="leave the pad without a net")

    def _identified_parts(self) -> tuple[Part, ...]:
        refs = Counter(part.id for part in self._parts)
        repeated = {ref for ref, count in refs.items() if count > 1}
        if not repeated:
            return tuple(self._parts)
        # A generated identity must not meet a reference that the file uses itself.
        taken = set(refs)
        seen: Counter[str] = Counter()
        parts: list[Part] = []
        for part in self._parts:
            name = own = part.id
            if own in repeated:
                seen[own] += 1
                if seen[own] > 1:
                    name = f"{own}@{seen[own]}"
                    while name in taken:
                        seen[own] += 1
                        name = f"{own}@{seen[own]}"
                    taken.add(name)
            parts.append(part if name == part.id else replace(part, id=name))
        return tuple(parts)

    def _columns(self) -> PadColumns:
        rows = self.rows
        order = _order_by_part(rows.part)
        part = _int_column(rows.part, order)
        pin = _text_column(rows.pin, order)
        return PadColumns(
            part=part,
            net=_int_column(rows.net, order),
            ordinal=_frozen(np.array(_ordinals(part.tolist(), pin), dtype=np.int64)),
            x_nm=_int_column(rows.x_nm, order),
            y_nm=_int_column(rows.y_nm, order),
            angle_deg=_angle_column(rows.angle_deg, order),
            width_nm=_int_column(rows.width_nm, order),
            height_nm=_int_column(rows.height_nm, order),
            drill_nm=_int_column(rows.drill_nm, order),
            copper_side=_code_column(rows.copper_side, order),
            kind=_code_column(rows.kind, order),
            shape=_code_column(rows.shape, order),
            pin=pin,
            pin_name=_text_column(rows.pin_name, order),
            pin_type=_text_column(rows.pin_type, order),
        )


def _names_that_differ(aliases: dict[str, str]) -> list[Reason]:
    """Nets whose names say different volts: a slip where boards or files were put together."""
    found = []
    for other, name in aliases.items():
        a, b = volts_in_name(name), volts_in_name(other)
        if a is not None and b is not None and abs(a - b) > 0.06 * max(abs(a), abs(b)):
            found.append(reason("names-volts-differ", net=name, other=other))
    return found[: limits.MAX_NAMES_TOLD]


def _all_short(names: Iterable[str]) -> bool:
    return max(map(len, names), default=0) <= limits.MAX_NAME_CHARS


def is_bad_name(name: str) -> bool:
    """Whether a name of a net, part or pin can't be used: control characters, lone surrogates,
    or longer than ``limits.MAX_NAME_CHARS``.
    """
    if name.isascii() and name.isprintable():
        return len(name) > limits.MAX_NAME_CHARS
    return len(name) > limits.MAX_NAME_CHARS or any(
        (char < " " and char != "\t") or char == "\x7f" or "\ud800" <= char <= "\udfff"
        for char in name
    )


def _all_within(values: Sequence[int], first: int, end: int) -> bool:
    column = np.asarray(values)
    return not len(column) or bool(first <= column.min() and column.max() < end)


def _order_by_part(part: list[int]) -> list[int] | None:
    """Stable order that brings the pads of one part together; None when they are already."""
    column = np.asarray(part)
    if (column[:-1] <= column[1:]).all():
        return None
    order: list[int] = np.argsort(column, kind="stable").tolist()
    return order


def _ordinals(part: list[int], pin: tuple[str, ...]) -> list[int]:
    if len(set(zip(part, pin, strict=True))) == len(part):
        return [0] * len(part)
    ordinals: list[int] = []
    seen: dict[str, int] = {}
    last = -1
    for owner, name in zip(part, pin, strict=True):
        if owner != last:
            seen = {}
            last = owner
        ordinal = seen.get(name, 0)
        seen[name] = ordinal + 1
        ordinals.append(ordinal)
    return ordinals


def _int_column(values: list[int], order: list[int] | None) -> NDArray[np.int64]:
    try:
        column = np.array(values, dtype=np.int64)
    except OverflowError:
        raise BoardCheckError("a length or position is too large") from None
    if len(column) and max(abs(int(column.min())), abs(int(column.max()))) > max(
        limits.MAX_COORDINATE_NM, limits.MAX_PADS
    ):
        raise BoardCheckError("a length or position is beyond 2.147 m")
    return _frozen(column if order is None else column[order])


def _code_column(values: list[int], order: list[int] | None) -> NDArray[np.int8]:
    column = np.array(values, dtype=np.int8)
    return _frozen(column if order is None else column[order])


def _angle_column(values: list[float], order: list[int] | None) -> NDArray[np.float64]:
    column = np.array(values, dtype=np.float64)
    if not np.isfinite(column).all():
        raise BoardCheckError("an angle is not a finite number")
    return _frozen(column if order is None else column[order])


def _text_column(values: list[str], order: list[int] | None) -> tuple[str, ...]:
    return tuple(values if order is None else (values[i] for i in order))


_Array = TypeVar("_Array", NDArray[np.int64], NDArray[np.int8], NDArray[np.float64])


def _frozen(column: _Array) -> _Array:
    column.flags.writeable = False
    return column
