# SPDX-License-Identifier: GPL-3.0-or-later
"""Read IPC-D-356, 356A and 356B: the list of test points of a bare board [ipc-d356].

Columns are read for all records at once; only names that differ are looked at one by one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from netgraph import limits
from netgraph.errors import BoardCheckError, BoardFileError, visible
from netgraph.formats.fixed_columns import (
    BLANK,
    Bytes,
    Flags,
    Ints,
    Lines,
    find_lines,
    texts,
    whole_numbers,
)
from netgraph.formats.ipc_d356_copper import CopperOfTestFile
from netgraph.formats.ipc_d356_names import Names, cut_names, split_cut_parts
from netgraph.formats.plain_text import plain_bytes, warn_of_strays
from netgraph.model.board import COPPER_SIDES, PAD_KINDS, PAD_SHAPES, Board, Side, Source
from netgraph.model.builder import BoardBuilder, whole
from netgraph.reasons import few_names, reason

FORMAT = "ipc-d356"
REF_WIDTH, PIN_WIDTH, NET_WIDTH = 6, 4, 14
_CHUNK_ROWS = 200_000
_HEAD_LINE = re.compile(r"(?:[CP](?:\s.*)?|[03][0-9][0-9].*|999.*)")
_OWN_LINE = re.compile(r"P\s|3[0-9]7|999")
_ALIAS = re.compile(r"[PC]\s+NNAME(\S+)\s+(\S.*)")
_ALIAS_HEAD = re.compile(r"[PC]\s+NNAME")
_LONE_CR = re.compile(rb"\r(?![\r\n])")
_WIDE_SIGN = re.compile(r"(?:^|[\r\n])([03][^\r\n]*?)([^\x00-\xff])")
_UNITS = re.compile(r"P\s+UNITS\s*(SI|CUST\s*([0-9]*))\b.*", re.IGNORECASE)
_NM_PER_COUNT = {"0": 2540, "1": 1000, "2": 2540}
_LOOSE = re.compile(r"[^X]*X\s*([+-]?)\s*(\d{1,9})\s*Y\s*([+-]?)\s*(\d{1,9})")
_TOP, _BOTTOM, _BOTH, _INNER = (COPPER_SIDES.index(s) for s in ("top", "bottom", "both", "inner"))
_SMD, _THROUGH, _HOLE = (PAD_KINDS.index(kind) for kind in ("smd", "through", "hole"))
_CIRCLE, _RECT = PAD_SHAPES.index("circle"), PAD_SHAPES.index("rect")
# Op codes by their three digits: surface pad, hole with copper, hole without, buried via.
SURFACE, PLATED, BARE, BURIED = 327, 317, 367, 307
_TEST = (SURFACE, PLATED, BARE, BURIED)
_KNOWN_REST = (337, 347, 378, 379, 389)


class IpcD356Reader:
    """IPC-D-356 test point lists."""

    name = FORMAT
    title = "IPC-D-356, 356A, 356B bare-board test list"
    suffixes: tuple[str, ...] = (".d356", ".ipc", ".356")
    carries: tuple[str, ...] = ("netlist", "places of pads", "vias", "traces where given")
    limits = (
        "net names cut at 14 characters (17 in 356B) unless the file has aliases, designators at "
        "6, pins at 4; no values, no packages, no pin names"
    )

    def sniff(self, head: bytes) -> float:
        """0.95 when at least four of five lines are records of the format."""
        text = head.removeprefix(b"\xef\xbb\xbf").decode("latin-1")
        lines = [line for line in re.split(r"[\r\n]+", text)[:-1] or [text] if line.strip()]
        if not any(map(_OWN_LINE.match, lines)):
            return 0.0
        good = sum(map(bool, map(_HEAD_LINE.fullmatch, lines)))
        return 0.95 if good >= 0.8 * len(lines) else 0.0

    def read(self, data: bytes, *, file_name: str, sha256: str) -> Board:
        """See ``read_ipc_d356``."""
        return read_ipc_d356(data, file_name=file_name, sha256=sha256)


def read_ipc_d356(data: bytes, *, file_name: str = "", sha256: str = "") -> Board:
    """The board in a test point list.

    Pads with net, place, size and side; vias; drawn traces and the outline where the file has
    them (on demand). Parts carry neither value nor package. y is turned to run downwards.

    Raises
    ------
    BoardFileError
        No such list, cut (no record 999), a coordinate that is none, a limit passed, or nothing
        in it; with line and column.
    """
    clean, stray = plain_bytes(data)
    text = ""
    if not clean.isascii():
        # One byte a column, so that a place in the text is the same place in the bytes.
        text = clean.decode("utf-8")
        _refuse_wide_signs(text)
        clean = text.encode("latin-1", "replace")
    if b"\n" in clean and _LONE_CR.search(clean) is not None:
        # A line end all the same, one byte for one: what follows is a line of its own.
        clean = _LONE_CR.sub(b"\n", clean)
        text = re.sub(r"\r(?![\r\n])", "\n", text)
    try:
        return _Reader(clean, text, file_name, sha256, stray).read()
    except BoardCheckError as error:
        raise BoardFileError("file-malformed", error.message, hint=error.hint) from None


def _refuse_wide_signs(text: str) -> None:
    """Signs outside Latin-1 in a record: read as one sign for all, two nets might become one."""
    found = _WIDE_SIGN.search(text)
    if found is not None:
        before = text[: found.start(1)].replace("\r\n", "\n").replace("\r", "\n")
        raise BoardFileError(
            "name-invalid",
            f"the sign {visible(found[2])!r} in a record of fixed columns",
            line=before.count("\n") + 1,
            column=len(found[1]) + 1,
            expected="signs of Latin-1; longer or other names as aliases (P  NNAME...)",
        )


@dataclass
class Records:
    """Test records as columns: lengths in counts of the file's unit, y upwards."""

    line: Ints
    op: Ints
    net: list[bytes]
    ref: list[bytes]
    pin: list[bytes]
    x: Ints
    y: Ints
    width: Ints
    height: Ints
    drill: Ints
    access: Ints
    angle: Ints
    span: list[bytes] = field(default_factory=list)


class _Reader:
    def __init__(
        self, data: bytes, text: str, file_name: str, sha256: str, stray: int | None
    ) -> None:
        name = re.split(r"[/\\]", file_name)[-1].rpartition(".")[0] or "board"
        self.data = data
        self.text = text
        """The same with signs outside Latin-1, which aliases may hold; empty when all is ASCII."""
        self.builder = BoardBuilder(name, source=Source(FORMAT, file_name, sha256))
        warn_of_strays(self.builder, stray)

    def read(self) -> Board:
        lines = self.lines = find_lines(self.data)
        if len(lines.start) > limits.MAX_LINES:
            raise BoardFileError(
                "limit-exceeded", f"more than {limits.MAX_LINES} lines (MAX_LINES)"
            )
        codes = self._codes()
        self._read_parameters(codes)
        numbers = np.flatnonzero(_any_of(codes, _TEST))
        if len(numbers) > limits.MAX_TEST_POINTS:
            raise BoardFileError(
                "limit-exceeded",
                f"more than {limits.MAX_TEST_POINTS} test points (MAX_TEST_POINTS)",
                line=int(numbers[limits.MAX_TEST_POINTS]) + 1,
            )
        self._count_skipped(codes)
        found = [
            self._records(codes, numbers[at : at + _CHUNK_ROWS])
            for at in range(0, len(numbers), _CHUNK_ROWS)
        ]
        records = _joined(found)
        if records is None:
            raise BoardFileError(
                "file-empty", "file read, but no test point is in it", expected="records 317, 327"
            )
        self._fill(records)
        others = np.flatnonzero(_any_of(codes, (378, 389)))
        self.copper = CopperOfTestFile(
            self.data,
            lines,
            others,
            self.nm,
            self.names.aliases,
            {name: index for index, name in enumerate(self.nets)},
            len(self.builder.copper_layers),
            *self.vias,
        )
        self.builder.load_copper = self.copper.read
        if (codes == 378).any():
            self.builder.capabilities.add("has_copper")
        return self.builder.freeze()

    # -- lines ---------------------------------------------------------------------------------

    def _codes(self) -> Ints:
        """The op code of each line up to the end record: 0 for C and P, -1 for none."""
        lines = self.lines
        head = np.stack([lines.data.take(lines.start + i, mode="clip") for i in range(3)], axis=1)
        head[np.arange(3) >= lines.length[:, None]] = BLANK
        digits = head - np.uint8(48)
        is_code = (digits < 10).all(axis=1)
        codes = np.where(is_code, digits.astype(np.int64) @ np.array([100, 10, 1]), -1)
        wordy = ((head[:, 0] == ord("P")) | (head[:, 0] == ord("C"))) & (head[:, 1] <= BLANK)
        codes[wordy] = 0
        codes[(codes == -1) & (lines.length == 0)] = -2
        (ends,) = np.nonzero(codes == 999)
        if not len(ends):
            self._refuse_cut(codes)
        self._refuse_more(codes, int(ends[0]))
        codes[ends[0] :] = -2
        strange = np.flatnonzero(codes == -1)
        if len(strange):
            blank = [not self._line(int(row)).strip() for row in strange[:1000]]
            if not all(blank):
                row = int(strange[blank.index(False)])
                raise BoardFileError(
                    "file-malformed",
                    f"the line begins with {visible(self._line(row)[:3])!r}",
                    line=row + 1,
                    column=1,
                    expected="C, P or a record number such as 317",
                )
        return codes

    def _refuse_more(self, codes: Ints, end: int) -> None:
        """Records behind the end record: a second list, or an end record that is none."""
        behind = np.flatnonzero(_any_of(codes[end:], _TEST))
        if len(behind):
            raise BoardFileError(
                "file-malformed",
                f"{len(behind)} test points stand behind the end record of line {end + 1}",
                line=end + 1 + int(behind[0]),
                column=1,
                expected="one list a file, with 999 at its end",
            )

    def _refuse_cut(self, codes: Ints) -> None:
        if not _any_of(codes, (0, *_TEST)).any():
            raise BoardFileError(
                "format-unknown",
                f"begins with {visible(self._line(0)[:16])!r}, which is no test point list",
                line=1,
                column=1,
                expected="lines that begin with C, P or a record number such as 317",
            )
        raise BoardFileError(
            "file-truncated",
            "the file ends without its end record",
            line=len(self.lines.start),
            expected="999",
            hint="fetch the file again; a cut list lacks nets",
        )

    def _line(self, row: int) -> str:
        start, length = int(self.lines.start[row]), int(self.lines.length[row])
        if self.text:
            return self.text[start : start + min(length, limits.MAX_ALIAS_LINE)]
        return self.data[start : start + min(length, limits.MAX_ALIAS_LINE)].decode("latin-1")

    def _read_parameters(self, codes: Ints) -> None:
        aliases: dict[str, str] = {}
        units: str | None = None
        for row in np.flatnonzero(codes == 0).tolist():
            line = self._line(row)
            if self.lines.length[row] > limits.MAX_ALIAS_LINE and _ALIAS_HEAD.match(line):
                raise BoardFileError(
                    "limit-exceeded",
                    f"an alias on more than {limits.MAX_ALIAS_LINE} signs (MAX_ALIAS_LINE)",
                    line=row + 1,
                    column=1,
                )
            alias = _ALIAS.fullmatch(line)
            if alias is not None:
                name = alias[2].rstrip()
                if aliases.setdefault(alias[1], name) != name:
                    raise BoardFileError(
                        "name-invalid",
                        f"NNAME{visible(alias[1][:20])} stands for two names",
                        line=row + 1,
                        column=1,
                        expected="one name for each alias",
                    )
                aliases[f"NNAME{alias[1]}"] = name
                continue
            unit = _UNITS.match(line)
            if unit is not None:
                units = "1" if unit[1].upper() == "SI" else unit[2] or "0"
                if units not in _NM_PER_COUNT:
                    raise BoardFileError(
                        "format-unsupported",
                        f"units CUST {units}",
                        line=row + 1,
                        column=1,
                        expected="CUST 0, CUST 1 or CUST 2",
                    )
        if units is None:
            self.builder.warn("units-assumed", "no UNITS line: 0.0001 inch is assumed")
        self.nm = _NM_PER_COUNT[units or "0"]
        self.radians = units == "2"
        self.names = Names(aliases)

    def _count_skipped(self, codes: Ints) -> None:
        rest = (codes > 0) & ~_any_of(codes, (*_TEST, 378, 389))
        rest &= codes >= 100  # numbers that begin with 0 continue the record before
        for code in np.unique(codes[rest]).tolist():
            rows = np.flatnonzero(codes == code)
            self.builder.warn(
                "record-skipped",
                "records of these kinds are not read",
                line=int(rows[0]) + 1,
                count=len(rows),
            )

    # -- records -------------------------------------------------------------------------------

    def _records(self, codes: Ints, rows: Ints) -> Records:
        cells = self.lines.matrix(rows)
        # Tabs and other controls have no place in fixed columns.
        control = (cells < BLANK) | (cells == 127)
        if control.any():
            row, column = (int(one[0]) for one in np.nonzero(control))
            raise BoardFileError(
                "name-invalid",
                "a control character in a record of fixed columns",
                line=int(rows[row]) + 1,
                column=column + 1,
            )
        x, x_sound = whole_numbers(cells[:, 42:49], signed=True)
        y, y_sound = whole_numbers(cells[:, 50:57], signed=True)
        sound = x_sound & y_sound & (cells[:, 41] == ord("X")) & (cells[:, 49] == ord("Y"))
        if not sound.all():
            self._loose_places(rows, sound, x, y)
        width = _after(cells, 57, "X", 58, 62)
        height = _after(cells, 62, "Y", 63, 67)
        return Records(
            line=rows + 1,
            op=codes[rows],
            net=texts(cells[:, 3:20]),
            ref=texts(cells[:, 20:26]),
            pin=texts(cells[:, 27:31]),
            x=x,
            y=y,
            width=width,
            height=np.where(height > 0, height, width),
            drill=_after(cells, 32, "D", 33, 37),
            access=_after(cells, 38, "A", 39, 41, missing=-1),
            angle=_after(cells, 67, "R", 68, 71),
        )

    def _loose_places(self, rows: Ints, sound: Flags, x: Ints, y: Ints) -> None:
        """Places that don't stand in their columns: looked for by their letters."""
        for index in np.flatnonzero(~sound).tolist():
            line = self._line(int(rows[index]))
            found = _LOOSE.match(line[32:])
            if line[41:42] != "X" and line[26:27] != "-" and "-" in (line[25:26], line[27:28]):
                raise BoardFileError(
                    "file-malformed",
                    "the columns of the record are shifted",
                    line=int(rows[index]) + 1,
                    column=27,
                    expected="'-' in column 27, before the pin",
                    hint="a sign too many or too few stands before it",
                )
            if found is None:
                raise BoardFileError(
                    "number-invalid",
                    "the record has no place",
                    line=int(rows[index]) + 1,
                    column=42,
                    expected="X and Y with whole numbers in columns 42 to 57",
                )
            x[index] = int(found[2]) * (-1 if found[1] == "-" else 1)
            y[index] = int(found[4]) * (-1 if found[3] == "-" else 1)

    # -- the board -----------------------------------------------------------------------------

    def _fill(self, records: Records) -> None:
        builder = self.builder
        layers = max(2, int(records.access.max(initial=0)))
        builder.copper_layers = tuple(f"L{number:02d}" for number in range(1, layers + 1))
        nets = self._net_numbers(records)
        refs, pins = _stripped(records.ref), _stripped(records.pin)
        words = np.fromiter(map(_VIA_WORDS.__contains__, refs), bool, len(refs))
        bare_pin = ~np.fromiter(map(bool, pins), bool, len(pins))
        hole = records.op != SURFACE
        is_via = hole & (records.op != BARE) & words & bare_pin
        self._tell_homeless(records, words & ~is_via)
        self.vias = (
            np.stack([records.x[is_via], -records.y[is_via]], axis=1) * self.nm,
            records.width[is_via] * self.nm,
            records.drill[is_via] * self.nm,
            nets[is_via],
        )
        pads = np.flatnonzero(~words)
        parts = self._parts(records, nets, refs, pins, pads)
        pads = pads[np.argsort(parts, kind="stable")]
        parts.sort(kind="stable")
        self._add_pads(records, nets, pins, pads, parts)

    def _net_numbers(self, records: Records) -> Ints:
        """Net index of each record, -1 for none; nets are added in the order of the file."""
        numbers = self.names.numbers(records.net)
        self.nets = self.names.nets
        for name in self.nets:
            self.builder.add_net(name)
        wide = NET_WIDTH if not self.names.wide else 17
        # With a table of aliases the long names are whole; without one they were cut.
        cut = set() if self.names.aliases else cut_names(self.names.raw_of, wide)
        if cut:
            shown = few_names(sorted(cut))
            self.builder.unclear_nets |= cut
            self.builder.warn(
                "names-cut",
                f"net names may be cut at {wide} characters and stand for several nets: {shown}",
                count=len(cut),
            )
            self.builder.not_known.append(
                reason("names-cut", count=len(cut), width=wide, names=shown)
            )
        return np.array(numbers, dtype=np.int64)

    def _tell_homeless(self, records: Records, homeless: Flags) -> None:
        if homeless.any():
            first = int(records.line[np.flatnonzero(homeless)[0]])
            self.builder.warn(
                "point-without-part",
                "test points and holes that belong to no part are left out",
                line=first,
                count=int(homeless.sum()),
            )

    def _parts(
        self, records: Records, nets: Ints, refs: list[str], pins: list[str], pads: Ints
    ) -> Ints:
        """Part index of each pad; designators cut to one text are told apart by place."""
        numbers: dict[str, int] = {}
        rows = pads.tolist()
        parts = np.array([numbers.setdefault(refs[i], len(numbers)) for i in rows], dtype=np.int64)
        names = list(numbers)
        split = split_cut_parts(
            names, parts, [pins[i] for i in rows], nets[pads], records.x[pads], records.y[pads]
        )
        if split:
            shown = ", ".join(sorted(set(split))[:12])
            self.builder.warn(
                "designators-cut",
                f"one designator for several parts, told apart by place: {shown}",
                count=len(set(split)),
            )
            self.builder.not_known.append(reason("parts-cut", count=len(set(split)), names=shown))
            names += split
        self._add_parts(names, parts, records, pads)
        return parts

    def _add_parts(self, names: list[str], parts: Ints, records: Records, pads: Ints) -> None:
        """Each part stands at the middle of its pads, on the side where most of them lie."""
        bottom = len(self.builder.copper_layers)
        count = np.bincount(parts, minlength=len(names)).astype(float)
        x, y = (
            np.rint(np.bincount(parts, at[pads], minlength=len(names)) / count * self.nm)
            for at in (records.x, -records.y)
        )
        surface = records.op[pads] == SURFACE
        lean = surface * ((records.access[pads] == bottom) * 1.0 - (records.access[pads] == 1))
        low = np.bincount(parts, lean, minlength=len(names)) > 0
        for name, at_x, at_y, below in zip(
            names,
            x.astype(np.int64).tolist(),
            y.astype(np.int64).tolist(),
            low.tolist(),
            strict=True,
        ):
            side: Side = "bottom" if below else "top"
            self.builder.add_part(name, side=side, x_nm=at_x, y_nm=at_y)

    def _add_pads(
        self, records: Records, nets: Ints, pins: list[str], pads: Ints, parts: Ints
    ) -> None:
        rows, op = self.builder.rows, records.op[pads]
        bottom = len(self.builder.copper_layers)
        access = records.access[pads]
        side = np.where(access == bottom, _BOTTOM, np.where(access <= 1, _TOP, _INNER))
        side[op != SURFACE] = _BOTH
        side[op == BARE] = COPPER_SIDES.index("none")
        width, height = records.width[pads], records.height[pads]
        rows.part = whole(parts)
        rows.pin += [pins[i] for i in pads.tolist()]
        rows.net = whole(np.where(op == BARE, -1, nets[pads]))
        rows.x_nm = whole(records.x[pads] * self.nm)
        rows.y_nm = whole(-records.y[pads] * self.nm)
        rows.angle_deg += (
            ([0.0] * len(pads)) if self.radians else (records.angle[pads].astype(float).tolist())
        )
        rows.width_nm = whole(width * self.nm)
        rows.height_nm = whole(height * self.nm)
        rows.drill_nm = whole(records.drill[pads] * self.nm)
        rows.copper_side = whole(side)
        rows.kind = whole(np.where(op == SURFACE, _SMD, np.where(op == BARE, _HOLE, _THROUGH)))
        rows.shape = whole(np.where(width == height, _CIRCLE, _RECT))
        rows.pin_name += [""] * len(pads)
        rows.pin_type += [""] * len(pads)
        self.builder.capabilities.add("has_positions")
        self._tell_pins_on_two_nets(records, nets, pins, pads, parts)

    def _tell_pins_on_two_nets(
        self, records: Records, nets: Ints, pins: list[str], pads: Ints, parts: Ints
    ) -> None:
        rows = pads.tolist()
        keys = list(zip(parts.tolist(), map(pins.__getitem__, rows), strict=True))
        of_pads = nets[pads].tolist()
        # Nearly always there is none: one look without a loop.
        if list(map(dict(zip(keys, of_pads, strict=True)).__getitem__, keys)) == of_pads:
            return
        seen: dict[tuple[int, str], int] = {}
        for row, part in zip(rows, parts.tolist(), strict=True):
            net = int(nets[row])
            if seen.setdefault((part, pins[row]), net) != net:
                self.builder.warn(
                    "pin-on-two-nets",
                    "one pin of a part on two nets: a net tie, or a pin name that was cut",
                    line=int(records.line[row]),
                )


_VIA_WORDS = frozenset({"VIA", "", "THRU"})


def _any_of(codes: Ints, some: tuple[int, ...]) -> Flags:
    """Where the op code is one of some (few: quicker than a sorted search)."""
    found: Flags = codes == some[0]
    for code in some[1:]:
        found |= codes == code
    return found


def _after(cells: Bytes, mark_at: int, mark: str, start: int, stop: int, missing: int = 0) -> Ints:
    """The number behind a letter, `missing` where the letter or the number isn't there."""
    value, sound = whole_numbers(cells[:, start:stop])
    there = (cells[:, mark_at] == ord(mark)) & sound
    return np.where(there, value, missing)


def _stripped(raw: list[bytes]) -> list[str]:
    known = {one: one.decode("latin-1").strip(" ") for one in set(raw)}
    return list(map(known.__getitem__, raw))


def _joined(found: list[Records]) -> Records | None:
    if len(found) < 2:
        return found[0] if found else None

    def columns() -> Iterator[object]:
        for name in Records.__dataclass_fields__:
            parts = [getattr(one, name) for one in found]
            if isinstance(parts[0], list):
                yield [value for part in parts for value in part]
            else:
                yield np.concatenate(parts)

    return Records(*columns())  # type: ignore[arg-type]


__all__ = ["IpcD356Reader", "Lines", "read_ipc_d356"]
