# SPDX-License-Identifier: GPL-3.0-or-later
"""Read a KiCad board (``.kicad_pcb``), file versions 4 (2014) to 10 (2026).

Decided by the shape of each node, not by the version. Only the nodes that the netlist needs are
parsed; copper stays bytes until somebody asks for it (``kicad_copper``).
"""

from __future__ import annotations

import re
from math import cos, radians, sin

import numpy as np

from netgraph import limits
from netgraph.errors import BoardCheckError, BoardFileError, ErrorCode
from netgraph.formats.kicad_layers import LayerTable
from netgraph.formats.not_fitted import not_fitted_because
from netgraph.formats.sexpr import Tree, atom, atoms, child, number, plain, tokens_of, tree_of
from netgraph.formats.structure import begins_with, find_structure, place_of
from netgraph.model.board import PAD_KINDS, PAD_SHAPES, Board, Source
from netgraph.model.builder import BoardBuilder, is_bad_name
from netgraph.model.copper import StackLayer, Stackup

OLDEST_VERSION = 4
NEWEST_VERSION = 20260206

_PAD_KIND = {
    name: PAD_KINDS.index(kind)
    for name, kind in (
        ("smd", "smd"),
        ("thru_hole", "through"),
        ("np_thru_hole", "hole"),
        ("connect", "edge"),
    )
}
_PAD_SHAPE = {name: code for code, name in enumerate(PAD_SHAPES)}
_IN_FOOTPRINT = ("pad", "at", "layer", "attr", "tags", "property", "fp_text", "net_", "jumper")
_RARE_IN_PAD = (b"(primitives", b"(offset", b"(roundrect_rratio", b"(rect_delta")
_WORD = re.compile(rb'\(\s*"?([A-Za-z_]+)')
_TEXT_KIND = re.compile(rb'\(\s*fp_text\s+"?(reference|value)"?\s')
_FIELD_NAME = re.compile(rb'\(\s*property\s+"?(Reference|Value)"?\s')
_CONFLICT_MARKS = (b"\n<<<<<<< ", b"\n>>>>>>> ")


class FileError(Exception):
    """A fault at a byte offset; turned into a ``BoardFileError`` with line and column."""

    def __init__(
        self, offset: int, message: str, expected: str = "", code: ErrorCode = "file-malformed"
    ) -> None:
        super().__init__(message)
        self.offset = offset
        self.message = message
        self.expected = expected
        self.code: ErrorCode = code


def read_kicad_board(data: bytes, *, file_name: str = "", sha256: str = "") -> Board:
    """The board in the bytes of a ``.kicad_pcb`` file.

    Parameters
    ----------
    data
        UTF-8 text (a leading byte-order mark is allowed); Windows-1252 is taken with a warning.

    Raises
    ------
    BoardFileError
        The text is no such board, is cut or unbalanced, is older than version 4, passes a limit,
        holds an invalid number or name, or not one pad has a net. Line, column, what was
        expected and a hint are given; the path is left to the caller.
    """
    if data.startswith(b"\xef\xbb\xbf"):
        data = data[3:]
    elif data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            data = data.decode("utf-16").encode("utf-8")
        except UnicodeError:
            raise BoardFileError("file-malformed", "the UTF-16 text is damaged") from None
    try:
        return _Reader(data, file_name, sha256).read()
    except UnicodeDecodeError:
        recoded = data.decode("cp1252", "replace").encode("utf-8")
        return _Reader(recoded, file_name, sha256, recoded=True).read()


class _Reader:
    """The half-read state of one file."""

    def __init__(self, data: bytes, file_name: str, sha256: str, *, recoded: bool = False) -> None:
        self.data = data
        self.file_name = file_name
        self.sha256 = sha256
        self.recoded = recoded
        self.numbers: dict[str, float] = {}
        self.has_table = False
        self.net_ids: dict[str, int] = {}
        self.net_tokens: dict[str, int] = {}
        self.rare_pads: list[tuple[int, int, int]] = []
        self.place: list[tuple[float, float, float, float]] = []

    def read(self) -> Board:
        try:
            return self._read()
        except FileError as error:
            line, column = place_of(self.data, error.offset)
            raise BoardFileError(
                error.code, error.message, line=line, column=column, expected=error.expected
            ) from None
        except BoardCheckError as error:
            raise BoardFileError("file-malformed", error.message, hint=error.hint) from None

    def _read(self) -> Board:
        self._refuse_strangers()
        s = self.structure = find_structure(self.data)
        self.heads2, self.heads3 = s.heads(2), s.heads(3)
        version, generator = self._version()
        name = self.file_name.rpartition("/")[2].removesuffix(".kicad_pcb") or "board"
        source = Source("kicad-board", self.file_name, self.sha256, str(version), generator)
        self.builder = BoardBuilder(name, source=source)
        if version > NEWEST_VERSION:
            self.builder.warn(
                "version-newer",
                f"file version {version} is newer than the newest known ({NEWEST_VERSION})",
                line=2,
            )
        if self.recoded:
            self.builder.warn("encoding", "the file is not UTF-8; read as Windows-1252")
        self.layers = LayerTable(self._tree("layers"), version)
        self.builder.copper_layers = self.layers.copper
        self._nets()
        self._footprints()
        self._check_counts()
        self.builder.stackup = self._stackup()
        self.builder.capabilities |= {"has_positions", "has_copper", "has_values", "has_dnp"}
        rows = self.builder.rows
        if any(rows.pin_name):
            self.builder.capabilities.add("has_pin_names")
        if any(rows.pin_type):
            self.builder.capabilities.add("has_pin_types")
        self._refuse_netless()
        self._place_pads()
        from netgraph.formats.kicad_copper import CopperReader

        self.builder.load_copper = CopperReader(
            self.structure, self.layers, self.net_index, tuple(self.rare_pads), tuple(self.place)
        ).read
        return self.builder.freeze()

    # -- is it a board at all ------------------------------------------------------------------

    def _refuse_strangers(self) -> None:
        data = self.data
        head = data[:400].lstrip()
        if not head:
            raise BoardFileError(
                "file-empty", "the file is empty", line=1, column=1, expected="'(kicad_pcb'"
            )
        nul = data.find(b"\0")
        if nul >= 0:
            raise FileError(nul, "a NUL byte: this is no text file, or a damaged one", "text")
        if not re.match(rb"\(\s*kicad_pcb[\s()]", head):
            shown = head[:16].decode("utf-8", "replace")
            hint = ""
            if head.startswith(b"version https://git-lfs"):
                hint = "this is only a pointer to a file kept elsewhere; fetch the real file"
            elif head.startswith(b"PCBNEW-BOARD"):
                hint = "a board older than KiCad 3; open and save it with a current KiCad"
            elif re.match(rb"\(\s*kicad_sch", head):
                hint = "this is a schematic; the board is the .kicad_pcb file beside it"
            raise BoardFileError(
                "format-unknown",
                f"begins with {shown!r}, which is no KiCad board",
                line=1,
                column=1,
                expected="'(kicad_pcb'",
                hint=hint,
            )
        for mark in _CONFLICT_MARKS:
            stale = data.find(mark)
            if stale >= 0:
                line, column = place_of(data, stale + 1)
                raise BoardFileError(
                    "file-malformed",
                    "a merge conflict mark stands in the file",
                    line=line,
                    column=column,
                    hint="resolve the conflict in KiCad or take one side's file",
                )

    def _version(self) -> tuple[int, str]:
        tree = self._tree("version")
        at = int(self.structure.opens[1][0])
        text = atom(tree)
        if text is None or not text.isdecimal() or len(text) > 9:
            raise FileError(at, "the board does not say its file version", "'(version NUMBER)'")
        version = int(text)
        if version < OLDEST_VERSION:
            line, column = place_of(self.data, self._offset_of("version"))
            raise BoardFileError(
                "format-unsupported",
                f"file version {version} is too old",
                line=line,
                column=column,
                expected=f"version {OLDEST_VERSION} (KiCad 4, 2014) or later",
                hint="open the board in KiCad and save it again",
            )
        host, by = self._tree("host"), self._tree("generator")
        said = atoms(host) or atoms(by) + atoms(self._tree("generator_version"))
        return version, " ".join(said)

    # -- finding nodes -------------------------------------------------------------------------

    def _indices(self, word: str) -> list[int]:
        """Indices at depth 2 of all nodes with exactly this head."""
        keyed = np.flatnonzero(begins_with(self.heads2, [word])).tolist()
        wanted = word.encode("ascii")
        opens = self.structure.opens[2]
        found = []
        for index in keyed:
            match = _WORD.match(self.data, opens[index])
            if match and match.group(1) == wanted:
                found.append(index)
        return found

    def _offset_of(self, word: str) -> int:
        found = self._indices(word)
        return int(self.structure.opens[2][found[0]]) if found else 0

    def _text(self, start: int, stop: int) -> str:
        return self.data[start:stop].decode("utf-8")

    def _tree(self, word: str) -> Tree | None:
        """The first depth-2 node with this head as a tree, None when there is none."""
        found = self._indices(word)
        if not found:
            return None
        return self._tree_at(2, found[0])

    def _tree_at(self, depth: int, index: int) -> Tree:
        start = int(self.structure.opens[depth][index])
        try:
            return tree_of(self._text(start, int(self.structure.closes[depth][index]) + 1))
        except ValueError as error:
            raise FileError(start, f"unreadable node: {error}") from None

    # -- nets ----------------------------------------------------------------------------------

    def _nets(self) -> None:
        opens, closes = self.structure.opens[2], self.structure.closes[2]
        for index in self._indices("net"):
            start = int(opens[index])
            tokens = tokens_of(self._text(start, int(closes[index]) + 1))
            if len(tokens) != 5 or not tokens[2].isdecimal():
                raise FileError(start, "an entry of the net table is malformed", '(net ID "NAME")')
            self.has_table = True
            name = self._name(tokens[3], start)
            if tokens[2] in self.net_ids:
                raise FileError(start, f"net number {tokens[2]} stands twice in the net table")
            self.net_ids[tokens[2]] = self.builder.add_net(name) if name else -1
        for index in self._indices("net_class"):
            tree = self._tree_at(2, index)
            class_name = atom(tree) or ""
            for one in tree:
                if isinstance(one, list) and one and one[0] == "add_net":
                    name = atom(one) or ""
                    if self.builder.net_number(name) is not None:
                        self.builder.add_net(name, net_class=class_name)

    def _name(self, token: str, offset: int) -> str:
        name = plain(token)
        if is_bad_name(name):
            raise FileError(
                offset,
                "a name holds a control character or is too long",
                f"a printable name of at most {limits.MAX_NAME_CHARS} characters",
                "name-invalid",
            )
        return name

    def net_index(self, tokens: list[str], offset: int) -> int:
        """Index of the net that the arguments of a ``net`` node name, -1 for no net.

        One bare integer is a number of the table, anything else a name [kicad].

        Raises
        ------
        FileError
            The number is not in the table.
        """
        first = tokens[0] if tokens else '""'
        bare_number = first[:1] != '"' and first.isdecimal()
        if bare_number and (self.has_table or len(tokens) > 1):
            found = self.net_ids.get(first)
            if found is None:
                raise FileError(
                    offset,
                    f"net number {first} is not in the net table",
                    "a number of the net table",
                    "reference-undefined",
                )
            if len(tokens) > 1:
                self._compare_net_name(found, tokens[1], offset)
            return found
        if first not in self.net_tokens:
            name = self._name(first, offset)
            self.net_tokens[first] = self.builder.add_net(name) if name else -1
        return self.net_tokens[first]

    def _compare_net_name(self, found: int, token: str, offset: int) -> None:
        known = self.net_tokens.get(token)
        if known is None:
            name = plain(token)
            number_of_net = self.builder.net_number(name) if name else -1
            known = -2 if number_of_net is None else number_of_net
            self.net_tokens[token] = known
        if known != found:
            self.builder.warn(
                "net-name-differs",
                f"a pad calls its net {plain(token)!r}, the net table says otherwise; the table "
                "is taken",
                line=place_of(self.data, offset)[0],
            )

    # -- footprints ----------------------------------------------------------------------------

    def _footprints(self) -> None:
        found = sorted(self._indices("footprint") + self._indices("module"))
        if not found:
            raise BoardFileError(
                "file-empty",
                "the board has no footprint",
                line=1,
                column=1,
                hint="place the parts first: open the board in KiCad and update it from the "
                "schematic",
            )
        if len(found) > limits.MAX_PARTS:
            raise BoardFileError(
                "limit-exceeded", f"{len(found)} footprints, the limit is {limits.MAX_PARTS}"
            )
        s = self.structure
        picks = np.flatnonzero(begins_with(self.heads3, _IN_FOOTPRINT))
        opens3, closes3 = s.opens[3][picks].tolist(), s.closes[3][picks].tolist()
        bounds = np.searchsorted(
            s.opens[3][picks], np.column_stack((s.opens[2][found], s.closes[2][found])).ravel()
        ).tolist()
        for nth, index in enumerate(found):
            span = range(bounds[2 * nth], bounds[2 * nth + 1])
            self._footprint(int(s.opens[2][index]), [(opens3[i], closes3[i] + 1) for i in span])

    def _footprint(self, start: int, nodes: list[tuple[int, int]]) -> None:
        data = self.data
        pads: list[tuple[int, int]] = []
        fields: list[tuple[str, str]] = []
        attributes: tuple[str, ...] = ()
        ties: list[list[str]] = []
        tags = layer = ""
        ref: str | None = None
        value: str | None = None
        at: tuple[float, float, float] | None = None
        for begin, end in nodes:
            match = _WORD.match(data, begin)
            word = match.group(1) if match else b""
            if word == b"pad":
                pads.append((begin, end))
            elif word == b"fp_text":
                kind = _TEXT_KIND.match(data, begin)
                if kind:
                    text = plain(tokens_of(self._text(begin, end))[3])
                    if kind.group(1) == b"reference":
                        ref = text
                    else:
                        value = text
            elif word == b"property":
                key, text = self._property(begin, end)
                if key == "Reference" and _FIELD_NAME.match(data, begin):
                    ref = text if ref is None else ref
                elif key == "Value" and _FIELD_NAME.match(data, begin):
                    value = text if value is None else value
                else:
                    fields.append((key, text))
            elif word == b"at":
                at = self._at(begin, end)
            elif word == b"layer":
                layer = plain(tokens_of(self._text(begin, end))[2])
            elif word == b"attr":
                attributes = tuple(
                    plain(token) for token in tokens_of(self._text(begin, end))[2:-1]
                )
            elif word == b"tags":
                tags = atom(self._small_tree(begin, end)) or ""
            elif word == b"net_tie_pad_groups":
                ties += [
                    [pin.strip() for pin in group.split(",")]
                    for group in atoms(self._small_tree(begin, end))
                ]
            elif word == b"jumper_pad_groups":
                ties += [
                    atoms(["", *group])
                    for group in self._small_tree(begin, end)[1:]
                    if isinstance(group, list)
                ]
        if at is None:
            raise FileError(start, "a footprint has no position", "'(at X Y)'")
        if ref is None:
            raise FileError(start, "a footprint has no reference designator", "a reference")
        head = tokens_of(self._text(start, min(nodes[0][0] if nodes else start, start + 4096)))
        footprint = plain(head[2]) if len(head) > 2 and head[2] not in "()" else ""
        self._add(
            start, ref, value or "", footprint, layer, at, attributes, tags, tuple(fields), ties
        )
        for begin, end in pads:
            self._pad(begin, end)

    def _add(
        self,
        start: int,
        ref: str,
        value: str,
        footprint: str,
        layer: str,
        at: tuple[float, float, float],
        attributes: tuple[str, ...],
        tags: str,
        fields: tuple[tuple[str, str], ...],
        ties: list[list[str]],
    ) -> None:
        if is_bad_name(ref):
            raise FileError(
                start,
                "a reference designator holds a control character or is too long",
                "a printable name",
                "name-invalid",
            )
        x, y, angle = at
        turned = radians(angle)
        self.place.append((x, y, *_exact_turn(angle, cos(turned), sin(turned))))
        self.part = self.builder.add_part(
            ref,
            value=value,
            footprint=footprint,
            side="top" if self.layers.is_top(layer) else "bottom",
            x_nm=round(x * 1e6),
            y_nm=round(y * 1e6),
            angle_deg=angle,
            not_fitted_because=not_fitted_because(
                ref, value, footprint, attributes=attributes, tags=tags, fields=fields
            ),
            attributes=attributes,
            fields=fields,
            tags=tags,
        )
        named = f"{footprint} {tags}".casefold()
        if not ties and ("net tie" in named or "nettie" in named):
            ties = [["*"]]
        for pins in ties:
            self.builder.add_net_tie(self.part, pins)
        self.pin_nets: dict[str, int] = {}

    def _small_tree(self, begin: int, end: int) -> Tree:
        try:
            return tree_of(self._text(begin, end))
        except ValueError as error:
            raise FileError(begin, f"unreadable node: {error}") from None

    def _property(self, begin: int, end: int) -> tuple[str, str]:
        tokens = tokens_of(self._text(begin, min(end, begin + limits.MAX_NAME_CHARS)))
        key = plain(tokens[2]) if len(tokens) > 2 and tokens[2] not in "()" else ""
        text = plain(tokens[3]) if len(tokens) > 3 and tokens[3] not in "()" else ""
        return key, text

    def _at(self, begin: int, end: int) -> tuple[float, float, float]:
        args = [token for token in tokens_of(self._text(begin, end))[2:-1] if token[0] not in '"']
        values = [self._number(token, begin) for token in args if token != "unlocked"]
        if not 2 <= len(values) <= 3:
            raise FileError(begin, "a malformed position", "'(at X Y [ANGLE])'")
        return values[0], values[1], values[2] if len(values) == 3 else 0.0

    def _number(self, token: str, offset: int) -> float:
        """A length in mm or an angle in degrees; remembered, since texts repeat a lot."""
        value = self.numbers.get(token)
        if value is None:
            try:
                value = number(token)
            except ValueError:
                at = self.data.find(token.encode("utf-8", "replace"), offset)
                raise FileError(
                    max(at, offset),
                    f"{token[:40]!r} is no number",
                    "a decimal number",
                    "number-invalid",
                ) from None
            if abs(value) * 1e6 > limits.MAX_COORDINATE_NM:
                at = self.data.find(token.encode("utf-8", "replace"), offset)
                raise FileError(
                    max(at, offset),
                    f"{token[:40]} is out of range",
                    "a length within 2147 mm",
                    "number-invalid",
                )
            if len(self.numbers) > 100_000:
                self.numbers.clear()
            self.numbers[token] = value
        return value

    # -- pads ----------------------------------------------------------------------------------

    def _pad(self, begin: int, end: int) -> None:
        raw = self.data[begin:end]
        tokens = tokens_of(raw.decode("utf-8"))
        rows = self.builder.rows
        index = len(rows.part)
        if len(tokens) < 6 or tokens[4] == "(":
            raise FileError(begin, "a malformed pad", "'(pad NAME TYPE SHAPE ...)'")
        kind = _PAD_KIND.get(plain(tokens[3]))
        if kind is None:
            raise FileError(begin, f"unknown pad type {tokens[3]!r}", " ".join(_PAD_KIND))
        at: list[float] | None = None
        size: list[float] = []
        layers: tuple[str, ...] = ()
        net = -1
        drill = 0.0
        pin_name = pin_type = ""
        position, last = 5, len(tokens) - 1
        while position < last:
            if tokens[position] != "(":
                position += 1
                continue
            word = tokens[position + 1]
            close = tokens.index(")", position)
            args = tokens[position + 2 : close]
            if "(" in args:
                nested = args.index("(")
                close = _closing(tokens, position)
                args = args[:nested]
            if word == "at":
                at = [self._number(token, begin) for token in args if token != "unlocked"]
            elif word == "size":
                size = [self._number(token, begin) for token in args]
            elif word == "layers":
                layers = tuple(args)
            elif word == "net":
                net = self.net_index(args, begin)
            elif word == "drill":
                drill = max(
                    (self._number(token, begin) for token in args if token != "oval"), default=0.0
                )
            elif word == "pinfunction" and args:
                pin_name = plain(args[0])
            elif word == "pintype" and args:
                pin_type = plain(args[0])
            position = close + 1
        if at is None or not 2 <= len(at) <= 3:
            raise FileError(begin, "a pad has no position", "'(at X Y [ANGLE])'")
        if len(size) != 2:
            raise FileError(begin, "a pad has no size", "'(size W H)'")
        pin = plain(tokens[2])
        if is_bad_name(pin):
            raise FileError(begin, "a pad name holds a control character", "a name", "name-invalid")
        if pin_name.endswith("_" + pin) and pin:
            pin_name = pin_name[: -len(pin) - 1]
        side = self.layers.copper_side_code(layers)
        if net >= 0 and pin:
            known = self.pin_nets.setdefault(pin, net)
            if known != net:
                part = self.builder.parts[self.part]
                self.builder.warn(
                    "pin-on-two-nets",
                    f"{part.ref} pin {pin} lies on more than one net",
                    line=place_of(self.data, begin)[0],
                )
        rows.part.append(self.part)
        rows.pin.append(pin)
        rows.net.append(net)
        rows.x_nm.append(at[0])  # type: ignore[arg-type]  # mm until _place_pads
        rows.y_nm.append(at[1])  # type: ignore[arg-type]
        rows.angle_deg.append(at[2] if len(at) == 3 else 0.0)
        rows.width_nm.append(round(size[0] * 1e6))
        rows.height_nm.append(round(size[1] * 1e6))
        rows.drill_nm.append(round(drill * 1e6))
        rows.copper_side.append(side)
        rows.kind.append(kind)
        rows.shape.append(_PAD_SHAPE.get(plain(tokens[4]), _PAD_SHAPE["custom"]))
        rows.pin_name.append(pin_name)
        rows.pin_type.append(pin_type.partition("+")[0])
        if any(mark in raw for mark in _RARE_IN_PAD):
            self.rare_pads.append((index, begin, end))

    def _place_pads(self) -> None:
        """Turn pad positions from footprint millimetres to absolute nanometres.

        X = FX + PX cos a + PY sin a, Y = FY - PX sin a + PY cos a, y downwards, no mirroring for
        the bottom side; pad angles are absolute in the file [kicad].
        """
        rows = self.builder.rows
        if not rows.part:
            return
        part = np.array(rows.part, dtype=np.int64)
        fx, fy, c, s = np.array(self.place).T[:, part]
        px, py = np.array(rows.x_nm, dtype=np.float64), np.array(rows.y_nm, dtype=np.float64)
        x, y = np.rint((fx + px * c + py * s) * 1e6), np.rint((fy - px * s + py * c) * 1e6)
        rows.x_nm = x.astype(np.int64).tolist()
        rows.y_nm = y.astype(np.int64).tolist()

    # -- the whole -----------------------------------------------------------------------------

    def _refuse_netless(self) -> None:
        rows = self.builder.rows
        if rows.net and max(rows.net) >= 0:
            return
        first = int(
            self.structure.opens[2][sorted(self._indices("footprint") + self._indices("module"))[0]]
        )
        line, column = place_of(self.data, first)
        raise BoardFileError(
            "no-nets",
            f"not one of {len(rows.net)} pads has a net",
            line=line,
            column=column,
            expected="pads with '(net ...)'",
            hint="the netlist was never brought into this board: open it in KiCad and update it "
            "from the schematic",
        )

    def _check_counts(self) -> None:
        """Compare with the counts that files up to version 5 carry in `general`."""
        general = self._tree("general")
        if general is None:
            return
        for word, have in (
            ("modules", len(self.builder.parts)),
            ("nets", len(self.net_ids)),
        ):
            said = atom(child(general, word))
            if said is not None and said.isdecimal() and int(said) != have:
                self.builder.warn(
                    "count-differs", f"the file says {said} {word}, {have} were found", line=1
                )

    def _stackup(self) -> Stackup:
        thickness = atom(child(self._tree("general") or [], "thickness"))
        setup = self._indices("setup")
        layers: list[StackLayer] = []
        stack = None
        if (
            setup
            and self.data.find(
                b"(stackup",
                self.structure.opens[2][setup[0]],
                self.structure.closes[2][setup[0]],
            )
            > 0
        ):
            stack = child(self._tree_at(2, setup[0]), "stackup")
        for one in stack or []:
            if isinstance(one, list) and one and one[0] == "layer":
                text = atom(child(one, "thickness"))
                layers.append(
                    StackLayer(
                        atom(one) or "",
                        atom(child(one, "type")) or "",
                        _nm_or_none(text),
                        atom(child(one, "material")) or "",
                    )
                )
        known = any(layer.kind == "copper" and layer.thickness_nm for layer in layers)
        return Stackup(tuple(layers), _nm_or_none(thickness), assumed=not known)


def _nm_or_none(text: str | None) -> int | None:
    try:
        return None if text is None else round(number(text) * 1e6)
    except ValueError:
        return None


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


def _exact_turn(angle: float, c: float, s: float) -> tuple[float, float]:
    """Cosine and sine, exact for quarter turns."""
    quarter = angle % 360 / 90
    if quarter == int(quarter):
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter)]
    return c, s
