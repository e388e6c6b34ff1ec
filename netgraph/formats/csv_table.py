# SPDX-License-Identifier: GPL-3.0-or-later
"""Read tables: lists of pins, of parts, of placements, of nets, as CSV, TSV or ``.pos``."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from netgraph import limits
from netgraph.errors import BoardCheckError, BoardFileError
from netgraph.formats.csv_cells import (
    cell_column,
    long_range,
    looks_damaged,
    number_of,
    pin_of,
    references,
    side_of,
)
from netgraph.formats.csv_columns import Columns, Field, choose_columns
from netgraph.formats.not_fitted import not_fitted_because
from netgraph.formats.plain_text import checked_name, head_text, plain_lines, warn_of_strays
from netgraph.model.board import COPPER_SIDES, Board, CopperSide, Side, Source
from netgraph.model.builder import BoardBuilder, is_bad_name
from netgraph.reasons import reason

FORMAT = "csv"
_DELIMITERS = (",", ";", "\t", "|")
_HEADER_WITHIN = 60
_ENOUGH = 4
"""So many parts on each side show that the bottom is mirrored: our own choice."""
_OWN_PLACES = ("x_mm", "y_mm")
_UNIT_LINE = re.compile(r"#+\s*Unit\s*=\s*(\w+)", re.IGNORECASE)
_NET_LESS = {"", "-", "n/c", "nc", "no_net", "none"}


class CsvReader:
    """Tables of parts, pins, places or nets."""

    name = FORMAT
    title = "table of pins, parts, places or nets: CSV, TSV, .pos"
    suffixes: tuple[str, ...] = (".csv", ".tsv", ".pos", ".txt")
    carries: tuple[str, ...] = ("what its columns hold: netlist, values, places, parts not fitted",)
    limits = (
        "columns are told by their titles; a list of parts or places alone has no nets and "
        "completes another file"
    )

    def sniff(self, head: bytes) -> float:
        """0.5 when a row of known titles is found."""
        lines = head_text(head).splitlines()
        return 0.5 if _find_header(lines) is not None else 0.0

    def read(self, data: bytes, *, file_name: str, sha256: str) -> Board:
        """See ``read_csv_table``."""
        return read_csv_table(data, file_name=file_name, sha256=sha256)


def read_csv_table(data: bytes, *, file_name: str = "", sha256: str = "") -> Board:
    """The board in a table.

    One row a pin (`ref`, `pin`, `net`), one row a net (`net` and its pins), or one row for a part
    or a value with all its designators. Which column was taken for what is told in the warning
    ``columns-read``.

    Raises
    ------
    BoardFileError
        No header is found, a row is broken, a coordinate is no number, a limit is passed, or
        nothing is in it; with line and what was expected.
    """
    lines, stray = plain_lines(data)
    found = _find_header(lines)
    if found is None:
        raise BoardFileError(
            "format-unknown",
            "no row of column titles was found",
            line=1,
            expected="titles such as ref, pin, net, or Designator, Value, Footprint",
            hint="docs/reference/csv.md lists the titles that are known",
        )
    delimiter, row, columns = found
    name = re.split(r"[/\\]", file_name)[-1].rpartition(".")[0] or "board"
    builder = BoardBuilder(name, source=Source(FORMAT, file_name, sha256))
    builder.copper_layers = ()
    warn_of_strays(builder, stray)
    try:
        return _Table(builder, lines, delimiter, row, columns).board()
    except BoardCheckError as error:
        raise BoardFileError("file-malformed", error.message, hint=error.hint) from None


def _find_header(lines: list[str]) -> tuple[str, int, Columns] | None:
    """Delimiter, row and columns of the first header; the richest delimiter wins."""
    for row, line in enumerate(lines[:_HEADER_WITHIN]):
        best: tuple[int, str, Columns] | None = None
        for delimiter in (*_DELIMITERS, " "):
            if delimiter not in line:
                continue
            try:
                cells = _split(line, delimiter)
            except csv.Error:
                continue
            if delimiter == " " and not line.startswith("#"):
                continue
            columns = choose_columns(cells) if len(cells) <= limits.MAX_COLUMNS else None
            if columns is not None and (best is None or len(columns.index) > best[0]):
                best = (len(columns.index), delimiter, columns)
        if best is not None:
            return best[1], row, best[2]
    return None


def _split(line: str, delimiter: str) -> list[str]:
    if delimiter == " ":
        return line.removeprefix("#").split()
    rows = list(csv.reader([line], delimiter=delimiter, skipinitialspace=True))
    return rows[0] if rows else []


@dataclass
class _PartRow:
    """What the rows say of one part."""

    index: int = -1
    value: str = ""
    footprint: str = ""
    side: Side | None = None
    place: tuple[int, int] | None = None
    angle: float = 0.0
    because: str | None = None
    fields: dict[str, str] = field(default_factory=dict)


class _Table:
    def __init__(
        self,
        builder: BoardBuilder,
        lines: list[str],
        delimiter: str,
        header: int,
        columns: Columns,
    ) -> None:
        self.builder = builder
        self.lines = lines
        self.delimiter = delimiter
        self.header = header
        self.columns = columns
        self.parts: dict[str, _PartRow] = {}
        self.pads: list[tuple[str, str, str | None, dict[Field, str], int]] = []
        self.placed_pads = 0
        self.nets_of_pin: dict[tuple[str, str], dict[tuple[int, int] | None, str]] = {}
        self.cells = 0
        self.unit = 1e6
        for line in lines[: header + 1]:
            unit = _UNIT_LINE.match(line)
            if unit is not None and unit[1].lower().startswith("in"):
                self.unit = 25.4e6
        # A table of ours has y downwards; all others turn it up, as placement files do.
        own = all(title in [t.strip() for t in columns.titles] for title in _OWN_PLACES)
        self.y_sign = 1 if own else -1
        self.comma = delimiter != "," and self._has_decimal_commas()

    def board(self) -> Board:
        builder, has = self.builder, self.columns.index
        builder.warn("columns-read", self.columns.mapping(), line=self.header + 1)
        for at in self.columns.again:
            title = self.columns.titles[at].strip()
            builder.warn(
                "column-again",
                f"column {at + 1}, {title!r}, tells again what another tells: the first is read",
                line=self.header + 1,
            )
        for line, cells in self._rows():
            if "members" in has and "net" in has and "ref" not in has:
                self._net_row(line, cells)
            else:
                self._part_row(line, cells)
        if not self.parts:
            raise BoardFileError(
                "file-empty",
                "file read, but no part is in it",
                line=self.header + 1,
                expected="rows with designators below the titles",
            )
        self._fill()
        self._tell(has)
        return builder.freeze()

    # -- rows ----------------------------------------------------------------------------------

    def _rows(self) -> Iterator[tuple[int, list[str]]]:
        if self.delimiter == " ":
            for at, words in enumerate(self.lines[self.header + 1 :], start=self.header + 2):
                if not words.startswith("#") and words.strip():
                    yield at, words.split()
            return
        text = (f"{line}\n" for line in self.lines[self.header + 1 :])
        rows = csv.reader(text, delimiter=self.delimiter, skipinitialspace=True)
        before = 0
        try:
            for cells in rows:
                line, before = self.header + 2 + before, rows.line_num
                if len(cells) > limits.MAX_COLUMNS:
                    raise BoardFileError(
                        "limit-exceeded",
                        f"{len(cells)} columns, the limit is {limits.MAX_COLUMNS} (MAX_COLUMNS)",
                        line=line,
                    )
                if rows.line_num - (line - self.header - 2) > 1:
                    self._check_quotes(line, self.header + 1 + rows.line_num)
                if any(cell.strip() for cell in cells):
                    self._tell_odd_row(line, cells)
                    yield line, cells
        except csv.Error as error:
            raise BoardFileError(
                "file-malformed",
                f"broken row: {error}",
                line=self.header + 1 + rows.line_num,
                expected="quotes in pairs",
            ) from None

    def _check_quotes(self, first: int, last: int) -> None:
        """A row of several lines holds a quoted line end, or a quote that was never closed."""
        text = [f"{line}\n" for line in self.lines[first - 1 : last]]
        try:
            list(csv.reader(text, delimiter=self.delimiter, skipinitialspace=True, strict=True))
        except csv.Error:
            raise self._open_quote(first) from None

    def _open_quote(self, line: int) -> BoardFileError:
        at = self.lines[line - 1].rfind('"')
        return BoardFileError(
            "file-malformed",
            "a quote is not closed",
            line=line,
            column=at + 1 if at >= 0 else None,
            expected="quotes in pairs",
            hint="a quote inside a quoted cell is written twice",
        )

    def _tell_odd_row(self, line: int, cells: list[str]) -> None:
        titles = len(self.columns.titles)
        if any(cell.strip() for cell in cells[titles:]):
            self.builder.warn(
                "row-long",
                f"{len(cells)} cells under {titles} titles: the rest is left out",
                line=line,
            )
        missing = [name for name, at in self.columns.index.items() if at >= len(cells)]
        if missing:
            self.builder.warn("row-short", f"no cell for {', '.join(missing)}", line=line)

    def _column_of(self, line: int, of: Field) -> int | None:
        at = self.columns.index.get(of)
        return None if at is None else cell_column(self.lines[line - 1], self.delimiter, at)

    def _checked(self, name: str, what: str, line: int, of: Field) -> None:
        if "\n" in name:
            raise self._open_quote(line)
        if is_bad_name(name):
            checked_name(name, what, line, self._column_of(line, of))

    def _cell(self, cells: list[str], of: Field) -> str:
        at = self.columns.index.get(of, -1)
        if not 0 <= at < len(cells):
            return ""
        text = cells[at].strip()
        if text != cells[at] and text != cells[at].strip(" \t\r\n"):
            # Two nets may be told apart by it in another file.
            self.builder.warn("blank-signs", "signs that look like blanks are left out at the "
                              f"ends of {text[:40]!r}")  # fmt: skip
        return text

    def _net_row(self, line: int, cells: list[str]) -> None:
        net = self._cell(cells, "net")
        for word in re.split(r"[\s,;]+", self._cell(cells, "members")):
            if not word:
                continue
            pin = pin_of(word)
            if pin is None:
                raise BoardFileError(
                    "file-malformed",
                    f"{word!r} names no pin",
                    line=line,
                    column=self._column_of(line, "members"),
                    expected="pins such as U1-3, C1.2 or U2:4",
                )
            self._pin(line, pin[0], pin[1], net, {})

    def _part_row(self, line: int, cells: list[str]) -> None:
        said = {name: self._cell(cells, name) for name in self.columns.index}
        cell = said.get("ref", "")
        # In a list of pins a row is a pad, even one whose pin has no name; a row that says
        # nothing of a pin stands for a part without pads.
        with_pin = "pin" in said and any(said.get(one) for one in ("pin", "net", "x"))
        refs = [cell] if "pin" in said and cell else references(cell)
        if not refs:
            self.builder.warn(
                "row-without-part", "rows without a designator are left out", line=line
            )
            return
        quantity = number_of(said.get("quantity", ""))
        if quantity is not None and not with_pin and quantity[0] != len(refs):
            self.builder.warn(
                "quantity-differs",
                f"{len(refs)} designators, quantity {said['quantity']}",
                line=line,
            )
        for ref in refs:
            count = None if with_pin else long_range(ref)
            if count is not None:
                raise BoardFileError(
                    "limit-exceeded",
                    f"{ref} names {count} parts, at most {limits.MAX_RANGE} (MAX_RANGE)",
                    line=line,
                    column=self._column_of(line, "ref"),
                    hint="write it as several ranges",
                )
            if looks_damaged(ref):
                self.builder.warn(
                    "spreadsheet-damage",
                    f"designator {ref}: a spreadsheet may have changed it",
                    line=line,
                )
            part = self._part(ref, line)
            self._say(part, ref, said, cells, line, with_pin=with_pin)
            if with_pin:
                self._pin(line, ref, said["pin"], said.get("net", ""), said)

    def _part(self, ref: str, line: int) -> _PartRow:
        part = self.parts.get(ref)
        if part is None:
            if len(self.parts) >= limits.MAX_PARTS:
                raise BoardFileError(
                    "limit-exceeded", f"more than {limits.MAX_PARTS} parts (MAX_PARTS)", line=line
                )
            self._checked(ref, "reference", line, "ref")
            part = self.parts[ref] = _PartRow()
        return part

    def _pin(self, line: int, ref: str, pin: str, net: str, said: dict[Field, str]) -> None:
        if len(self.pads) >= limits.MAX_PADS:
            raise BoardFileError(
                "limit-exceeded", f"more than {limits.MAX_PADS} pins (MAX_PADS)", line=line
            )
        self._part(ref, line)
        self._checked(pin, "pin", line, "pin")
        self._checked(net, "net", line, "net")
        joined = None if net.casefold() in _NET_LESS else net
        self.pads.append((ref, pin, joined, said, line))

    def _say(
        self,
        part: _PartRow,
        ref: str,
        said: dict[Field, str],
        cells: list[str],
        line: int,
        *,
        with_pin: bool,
    ) -> None:
        """Fill what is still empty; a second row never overwrites the first."""
        part.value = self._first(ref, "value", part.value, said.get("value", ""), line)
        package = said.get("footprint", "")
        part.footprint = self._first(ref, "package", part.footprint, package, line)
        told = said.get("side", "")
        side = side_of(told)
        if told and side is None:
            self.builder.warn(
                "side-unknown",
                f"side {told[:20]!r} of {ref} is neither top nor bottom: taken as top",
                line=line,
            )
        if side is not None:
            part.side = part.side or side
            self._first(ref, "side", part.side, side, line)
        if not with_pin and part.place is None:
            part.place = self._place(said, line)
            angle = number_of(said.get("angle", ""), decimal_comma=self.comma)
            part.angle = 0.0 if angle is None else angle[0] % 360
        known = set(self.columns.index.values())
        for at, title in enumerate(self.columns.titles):
            text = cells[at].strip() if at < len(cells) else ""
            if title.strip() and text and (at not in known or at in self._kept_columns()):
                self.cells += 1
                if self.cells > limits.MAX_CELLS:
                    raise BoardFileError(
                        "limit-exceeded",
                        f"more than {limits.MAX_CELLS} further cells (MAX_CELLS)",
                        line=line,
                    )
                part.fields.setdefault(title.strip(), text)
        if part.because is None:
            part.because = not_fitted_because(
                ref, part.value, part.footprint, fields=self._marks(part)
            )

    def _first(self, ref: str, what: str, one: str, two: str, line: int) -> str:
        """What an earlier row said, if it said anything; another word of a later one is told."""
        if one and two and one != two:
            self.builder.warn(
                "rows-differ",
                f"{what} of {ref} is {one}; {two} of a later row is dropped",
                line=line,
            )
        return one or two

    def _kept_columns(self) -> set[int]:
        index = self.columns.index
        return {index[name] for name in ("part_number", "fitted") if name in index}

    def _marks(self, part: _PartRow) -> list[tuple[str, str]]:
        marks = list(part.fields.items())
        for title, text in part.fields.items():
            if title.casefold() == "description":
                marks.append(("note", text))
        return marks

    def _place(self, said: dict[Field, str], line: int) -> tuple[int, int] | None:
        if not said.get("x") or not said.get("y"):
            return None
        found: list[int] = []
        for axis in ("x", "y"):
            text = said["x"] if axis == "x" else said["y"]
            number = number_of(text, decimal_comma=self.comma)
            if number is None:
                raise BoardFileError(
                    "number-invalid",
                    f"{axis} is {text[:20]!r}",
                    line=line,
                    column=self._column_of(line, "x" if axis == "x" else "y"),
                    expected="a number, with a unit or without",
                )
            unit = number[1] or self.columns.units.get("x" if axis == "x" else "y") or self.unit
            nanometres = round(number[0] * unit)
            if abs(nanometres) > limits.MAX_COORDINATE_NM:
                raise BoardFileError(
                    "number-invalid",
                    f"{axis} is beyond 2.147 m (MAX_COORDINATE_NM)",
                    line=line,
                    column=self._column_of(line, "x" if axis == "x" else "y"),
                )
            found.append(nanometres)
        return found[0], self.y_sign * found[1]

    def _has_decimal_commas(self) -> bool:
        numbers = [
            cell
            for line in self.lines[self.header + 1 : self.header + 200]
            for cell in line.split(self.delimiter)
            if re.fullmatch(r'\s*"?-?[0-9]+[.,][0-9]+"?\s*', cell)
        ]
        return bool(numbers) and all("," in one for one in numbers)

    # -- the board -----------------------------------------------------------------------------

    def _turn_mirrored(self) -> None:
        """Some programs write x of the bottom as seen from below: all of it is negative then."""
        placed = [part for part in self.parts.values() if part.place is not None and part.side]
        sides = {
            side: [part.place[0] for part in placed if part.side == side and part.place]
            for side in ("top", "bottom")
        }
        if min(len(xs) for xs in sides.values()) < _ENOUGH:
            return
        if min(sides["top"]) > 0 > max(sides["bottom"]):
            self.builder.warn(
                "bottom-mirrored",
                "x of all parts on the bottom is negative: taken as seen from below and turned",
                count=len(sides["bottom"]),
            )
            for part in placed:
                if part.side == "bottom" and part.place:
                    part.place = (-part.place[0], part.place[1])

    def _fill(self) -> None:
        self._turn_mirrored()
        for ref, part in self.parts.items():
            x, y = part.place or (0, 0)
            part.index = self.builder.add_part(
                ref,
                value=part.value,
                footprint=part.footprint,
                side=part.side or "top",
                x_nm=x,
                y_nm=y,
                angle_deg=part.angle,
                not_fitted_because=part.because,
                fields=tuple(part.fields.items()),
            )
        for ref, pin, net, said, line in self.pads:
            place = self._place(said, line)
            self.placed_pads += place is not None
            x, y = place or (0, 0)
            own = self.parts[ref]
            self._tell_second_net(ref, pin, net, place, line)
            angle = number_of(said.get("angle", ""), decimal_comma=self.comma)
            self.builder.add_pad(
                own.index,
                pin,
                net,
                x_nm=x,
                y_nm=y,
                angle_deg=0.0 if angle is None else angle[0],
                copper_side=_copper_side(said.get("copper_side", ""), own.side or "top"),
                width_nm=0,
                height_nm=0,
                pin_name=said.get("pin_name", ""),
                pin_type=said.get("pin_type", ""),
            )

    def _tell_second_net(
        self, ref: str, pin: str, net: str | None, place: tuple[int, int] | None, line: int
    ) -> None:
        """One pin on two nets; pads of one name that lie apart may do so."""
        if net is None or not pin:
            return
        before = self.nets_of_pin.setdefault((ref, pin), {})
        first = next(iter(before.values()), None)
        other = first if place is None else before.get(place, before.get(None))
        if other is not None and other != net:
            text = f"{ref}.{pin} stands on {other} and {net}; both are kept"
            self.builder.warn("pin-on-two-nets", text, line=line)
            self.builder.pin_on_two_nets(f"{ref}.{pin}", (other, net))
        before.setdefault(place, net)

    def _tell(self, has: dict[Field, int]) -> None:
        builder, can = self.builder, self.builder.capabilities
        if all(part.side is None for part in self.parts.values()):
            builder.not_known.append(reason("no-sides"))
        if "value" in has:
            can.add("has_values")
        if "fitted" in has or any(part.because for part in self.parts.values()):
            can.add("has_dnp")
        if any(builder.rows.pin_name):
            can.add("has_pin_names")
        if any(builder.rows.pin_type):
            can.add("has_pin_types")
        if self.pads and self.placed_pads == len(self.pads):
            can.add("has_positions")
        else:
            builder.not_known.append(reason("no-pad-places"))
            builder.forget_pad_places()
        if all(net < 0 for net in builder.rows.net):
            builder.not_known.append(reason("no-netlist"))
            builder.warn("no-netlist", "no nets: use it to complete another file (--with, merge)")


def _copper_side(cell: str, side: Side) -> CopperSide:
    for one in COPPER_SIDES:
        if one == cell.casefold():
            return one
    return side
