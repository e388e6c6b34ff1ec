# SPDX-License-Identifier: GPL-3.0-or-later
"""Read the pads of a KiCad board: one pattern for the usual form, token by token for the rest."""

from __future__ import annotations

import re

import numpy as np

from netgraph import limits
from netgraph.formats.kicad_faults import FileError
from netgraph.formats.kicad_heads import IN_PAD, strange_word
from netgraph.formats.kicad_layers import LayerTable
from netgraph.formats.kicad_nets import NetTable, Warn
from netgraph.formats.sexpr import number, plain, tokens_of
from netgraph.model.board import PAD_KINDS, PAD_SHAPES
from netgraph.model.builder import BoardBuilder, is_bad_name

NUMBERED_PIN_NAMES_FROM = 20240703
"""From KiCad 9 on a pin's name may carry its number behind it: ``A_1`` [kicad]."""

_KIND = {
    name: PAD_KINDS.index(kind)
    for name, kind in (
        ("smd", "smd"),
        ("thru_hole", "through"),
        ("np_thru_hole", "hole"),
        ("connect", "edge"),
    )
}
_SHAPE = {name: code for code, name in enumerate(PAD_SHAPES)}

_NUM = r"(-?\d{1,4}(?:\.\d{1,9})?)"
_STR = r'"([^"\\]*)"'
_USUAL = re.compile(
    r'\(pad (?:"([^"\\\x00-\x1f]*)"|([^\s()"]+)) ([a-z_]+) ([a-z]+)(?: locked)?'
    rf"\s+\(at {_NUM} {_NUM}(?: {_NUM})?\)"
    rf"\s+\(size {_NUM} {_NUM}\)"
    rf"(?:\s+\(drill {_NUM}\))?"
    r"(?:\s+\(property [^()\"]*\))?"
    r"\s+\(layers ([^()]*)\)"
    # small nodes without text in between; no second net may hide there (no possessive repeat:
    # with a look-ahead inside it Python 3.11.2 matches too little)
    r"(?:\s+\((?!net |pin|at |size |drill |layers )[^()\"]*\))*"
    r'(?:\s+\(net ((?:\d+ )?(?:[^\s()"]+|"[^"\\]*"))\))?'
    rf"(?:\s+\(pinfunction {_STR}\))?(?:\s+\(pintype {_STR}\))?",
    re.ASCII,
)
"""A pad as KiCad itself writes it; one that does not match goes the slow way."""

_MORE = re.compile(r"\(\s*\"?(?:net|pinfunction|pintype|at|size|drill|layers|primitives|pad)\b")

_HEADS = re.compile(r"\(\s*\"?([^\s()\"]*)").findall
"""Heads of a pad's nodes and of those deeper in."""

Row = tuple[
    int, str, int, float, float, float, int, int, int, int, int, int, str, str
]  # the columns of PadRows, in their order; x and y in footprint millimetres


class PadReader:
    """Collects the pads of one file; ``finish`` hands them to the builder in one go."""

    def __init__(
        self, builder: BoardBuilder, nets: NetTable, layers: LayerTable, warn: Warn, version: int
    ) -> None:
        self.builder = builder
        self.nets = nets
        self.layers = layers
        self.warn = warn
        self.strip_numbers = version >= NUMBERED_PIN_NAMES_FROM
        self.rows: list[Row] = []
        self.rare: list[tuple[int, int, int]] = []
        self.numbers: dict[str, float] = {"": 0.0}
        self.lengths: dict[str, int] = {"": 0}
        self.sides: dict[str, int] = {}
        self.has_net = False

    def read(self, part: int, data: bytes, spans: list[tuple[int, int]]) -> None:
        """Read all pads of one part; each span is one ``pad`` node.

        Raises
        ------
        FileError
            A pad is malformed: type, position, size, number, name or net.
        """
        pin_nets: dict[str, int] = {}
        for begin, end in spans:
            text = data[begin:end].decode("utf-8")
            row = self._usual(part, text, begin) or self._any(part, text, begin)
            pin, net = row[1], row[2]
            if net >= 0:
                self.has_net = True
                if pin and pin_nets.setdefault(pin, net) != net:
                    ref = self.builder.parts[part].ref
                    self.warn(
                        "pin-on-two-nets", f"{ref} pin {pin} lies on more than one net", begin
                    )
            if "primitives" in text:
                self.rare.append((len(self.rows), begin, end))
            self.rows.append(row)

    def _usual(self, part: int, text: str, begin: int) -> Row | None:
        match = _USUAL.match(text)
        if match is None:
            return None
        (quoted, bare, kind, shape, x, y, angle, width, height, drill, layers, net, name, type_) = (
            match.groups("")
        )
        if len(text) - match.end() > 2 and _MORE.search(text, match.end()):
            return None
        if not net and not IN_PAD.issuperset(_HEADS(text, 1)):
            return None  # the net may hide behind a misspelt head
        code = _KIND.get(kind)
        pin = quoted or bare
        if code is None or len(pin) > limits.MAX_NAME_CHARS:
            return None
        side = self.sides.get(layers)
        if side is None:
            tokens = tuple(tokens_of(layers))
            side = self.layers.copper_side_code(tokens)
            if not self._tell_strange_layers(tokens, begin):
                self.sides[layers] = side
        if not pin.isprintable() and is_bad_name(pin):
            return None
        if self.strip_numbers and pin and name.endswith("_" + pin):
            name = name[: -len(pin) - 1]
        numbers, lengths = self.numbers, self.lengths
        return (
            part,
            pin,
            self.nets.index_of_text(net, tokens_of, begin) if net else -1,
            numbers[x] if x in numbers else self.number(x, begin, text),
            numbers[y] if y in numbers else self.number(y, begin, text),
            numbers[angle] if angle in numbers else self.number(angle, begin, text),
            lengths[width] if width in lengths else self._length(width, begin, text),
            lengths[height] if height in lengths else self._length(height, begin, text),
            lengths[drill] if drill in lengths else self._length(drill, begin, text),
            side,
            code,
            _SHAPE.get(shape, _SHAPE["custom"]),
            name,
            type_.partition("+")[0],
        )

    def _tell_strange_layers(self, tokens: tuple[str, ...], begin: int) -> bool:
        strange = self.layers.strange([plain(token) for token in tokens])
        for name in strange:
            self.warn("unknown-layer", f"a pad names the layer {name[:80]!r}: no such", begin)
        return bool(strange)

    def number(self, token: str, begin: int, text: str) -> float:
        """A length in mm or an angle in degrees; remembered, since texts repeat a lot.

        Raises
        ------
        FileError
            It is no number or out of range; the place is that of the token in `text`, the node
            that begins at `begin`.
        """
        value = self.numbers.get(token)
        if value is None:
            try:
                value = number(token)
            except ValueError:
                raise FileError(
                    _offset(token, begin, text),
                    f"{token[:40]!r} is no number",
                    "a decimal number",
                    "number-invalid",
                ) from None
            if abs(value) * 1e6 > limits.MAX_COORDINATE_NM:
                raise FileError(
                    _offset(token, begin, text),
                    f"{token[:40]} is out of range",
                    "a length within 2147 mm",
                    "number-invalid",
                )
            if len(self.numbers) > 100_000:
                self.numbers.clear()
                self.numbers[""] = 0.0
            self.numbers[token] = value
        return value

    def _length(self, token: str, begin: int, text: str) -> int:
        length = round(self.number(token, begin, text) * 1e6)
        if len(self.lengths) > 100_000:
            self.lengths.clear()
            self.lengths[""] = 0
        self.lengths[token] = length
        return length

    def _any(self, part: int, text: str, begin: int) -> Row:
        tokens = tokens_of(text)
        if len(tokens) < 6 or tokens[4] == "(" or "(" in tokens[2:4]:
            raise FileError(begin, "a malformed pad", "'(pad NAME TYPE SHAPE ...)'")
        kind = _KIND.get(plain(tokens[3]))
        if kind is None:
            raise FileError(begin, f"unknown pad type {tokens[3][:40]!r}", " ".join(_KIND))
        at: list[float] | None = None
        size: list[float] = []
        drill = 0.0
        told: int | None = None
        layers: tuple[str, ...] = ()
        strange: list[str] = []
        pin_name = pin_type = ""
        for head, args in _nodes(tokens):
            word = plain(head)
            if word == "at":
                at = [self.number(token, begin, text) for token in args if token != "unlocked"]
            elif word == "size":
                size = [self.number(token, begin, text) for token in args]
            elif word == "layers":
                layers = tuple(args)
            elif word == "net":
                net = self.nets.index(args, begin)
                if told not in (None, net):
                    raise FileError(begin, "a pad on two nets", "one (net ...) in a pad")
                told = net
            elif word == "drill":
                drill = max(
                    (self.number(token, begin, text) for token in args if token != "oval"),
                    default=0.0,
                )
            elif word == "pinfunction" and args:
                pin_name = plain(args[0])
            elif word == "pintype" and args:
                pin_type = plain(args[0])
            elif word not in IN_PAD:
                strange.append(word)
        net = -1 if told is None else told
        if net < 0 or not layers:
            # Only here can something that counts hide behind a strange head.
            for word in strange:
                self.warn("unknown-node", strange_word(word, "in a pad", begin), begin)
        self._tell_strange_layers(layers, begin)
        if at is None or not 2 <= len(at) <= 3:
            raise FileError(begin, "a pad has no position", "'(at X Y [ANGLE])'")
        if len(size) != 2:
            raise FileError(begin, "a pad has no size", "'(size W H)'")
        pin = plain(tokens[2])
        if is_bad_name(pin):
            raise FileError(begin, "a pad name holds a control character", "a name", "name-invalid")
        if self.strip_numbers and pin and pin_name.endswith("_" + pin):
            pin_name = pin_name[: -len(pin) - 1]
        return (
            part,
            pin,
            net,
            at[0],
            at[1],
            at[2] if len(at) == 3 else 0.0,
            round(size[0] * 1e6),
            round(size[1] * 1e6),
            round(drill * 1e6),
            self.layers.copper_side_code(layers),
            kind,
            _SHAPE.get(plain(tokens[4]), _SHAPE["custom"]),
            pin_name,
            pin_type.partition("+")[0],
        )

    def finish(self, places: list[tuple[float, float, float, float]]) -> None:
        """Turn positions from footprint millimetres to absolute nanometres; fill the builder.

        X = FX + PX cos a + PY sin a, Y = FY - PX sin a + PY cos a, y downwards, no mirroring for
        the bottom side; pad angles are absolute in the file [kicad].
        """
        if not self.rows:
            return
        columns = [list(column) for column in zip(*self.rows, strict=True)]
        self.rows = []
        rows = self.builder.rows
        for name, column in zip(rows.__slots__, columns, strict=True):
            setattr(rows, name, column)
        fx, fy, c, s = np.array(places).T[:, np.array(rows.part, dtype=np.int64)]
        px, py = np.array(rows.x_nm, dtype=np.float64), np.array(rows.y_nm, dtype=np.float64)
        rows.x_nm = np.rint((fx + px * c + py * s) * 1e6).astype(np.int64).tolist()
        rows.y_nm = np.rint((fy - px * s + py * c) * 1e6).astype(np.int64).tolist()


def _nodes(tokens: list[str]) -> list[tuple[str, list[str]]]:
    """Heads and arguments of a pad's own nodes; what lies deeper is left out."""
    found = []
    position, last = 5, len(tokens) - 1
    while position < last:
        if tokens[position] != "(":
            position += 1
            continue
        close = tokens.index(")", position)
        args = tokens[position + 2 : close]
        if "(" in args:
            args = args[: args.index("(")]
            close = _closing(tokens, position)
        found.append((tokens[position + 1], args))
        position = close + 1
    return found


def _closing(tokens: list[str], position: int) -> int:
    """Index of the bracket that closes the one at `position`."""
    depth = 0
    for at in range(position, len(tokens)):
        if tokens[at] == "(":
            depth += 1
        elif tokens[at] == ")":
            depth -= 1
            if not depth:
                return at
    return len(tokens) - 1


def _offset(token: str, begin: int, text: str) -> int:
    at = text.find(token)
    return begin + (len(text[:at].encode("utf-8")) if at > 0 else 0)
