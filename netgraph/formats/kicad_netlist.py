# SPDX-License-Identifier: GPL-3.0-or-later
"""Read KiCad netlists: versions D and E as s-expressions and XML, and the form before 2013.

The logical netlist alone: designators, values, footprints, fields, pin names and types; no
places and no copper [kicad-netlist].
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Protocol

from netgraph import limits
from netgraph.errors import BoardCheckError, BoardFileError, visible
from netgraph.formats.netlist_tree import Node, TextTree, XmlTree, find, find_all, last_atom, said
from netgraph.formats.not_fitted import not_fitted_because
from netgraph.formats.plain_text import (
    checked_name,
    head_text,
    plain_bytes,
    plain_lines,
    refuse_large,
    warn_of_strays,
)
from netgraph.model.board import Board, Source
from netgraph.model.builder import BoardBuilder, is_bad_name
from netgraph.reasons import reason

FORMAT = "kicad-netlist"
VERSIONS = ("D", "E")
_OLD_HEAD = re.compile(r"#\s*EESchema Netlist Version 1\.", re.IGNORECASE)
_TEXT_HEAD = re.compile(r"(?:\s|#[^\n]*\n)*\(\s*\"?export[\s()]")
_XML_HEAD = re.compile(r"\s*(?:<\?xml[^>]*>\s*)?(?:<!--[^>]*-->\s*)*<export[\s>]")
_NO_FOOTPRINT = {"", "~", "$noname"}
_DNP_PROPERTIES = {"dnp": "attribute dnp"}


class KicadNetlistReader:
    """KiCad netlists."""

    name = FORMAT
    title = "KiCad netlist: versions D and E, XML, and before 2013"
    suffixes: tuple[str, ...] = (".net", ".xml")
    carries: tuple[str, ...] = (
        "netlist", "values", "footprints", "fields", "pin names and types", "parts not fitted",
    )  # fmt: skip
    limits = "no places, no copper, no sides; the form before 2013 has no pin names"

    def sniff(self, head: bytes) -> float:
        """1.0 for ``(export`` or ``<export`` at the beginning, or the head line of old files."""
        text = head_text(head)
        if _XML_HEAD.match(text):
            return 1.0 if re.search(r"<export\s+version\s*=", text) else 0.5
        if _TEXT_HEAD.match(text):
            return 1.0
        return 1.0 if _OLD_HEAD.match(text.lstrip()) else 0.0

    def read(self, data: bytes, *, file_name: str, sha256: str) -> Board:
        """See ``read_kicad_netlist``."""
        return read_kicad_netlist(data, file_name=file_name, sha256=sha256)


def read_kicad_netlist(data: bytes, *, file_name: str = "", sha256: str = "") -> Board:
    """The board in a KiCad netlist of any of its forms.

    Raises
    ------
    BoardFileError
        It is no such netlist, is cut, names a version that is not known, holds a node without
        what it needs, passes a limit, or joins nothing; with line and column.
    """
    refuse_large(data)
    clean, stray = plain_bytes(data)
    head = head_text(clean[:4096])
    name = re.split(r"[/\\]", file_name)[-1].rpartition(".")[0] or "board"
    try:
        if _OLD_HEAD.match(head.lstrip()):
            lines, _ = plain_lines(clean)
            return _before_2013(lines, stray, name, file_name, sha256)
        tree: _Parsed
        if head.lstrip().startswith("<"):
            tree = XmlTree(data if data.lstrip()[:5] == b"<?xml" else clean)
            version = ""
        else:
            tree, version = TextTree(clean), ""
        root = tree.read()
        if root[0] != "export":
            raise tree.error(root.at, f"begins with {visible(str(root[0])[:20])!r}", "'export'")
        version = said(root, "version")
        if version not in VERSIONS:
            raise BoardFileError(
                "format-unsupported",
                f"netlist version {visible(version[:20])!r}",
                expected="version D or E",
                hint="export the netlist again with KiCad 4 or newer",
            )
        return _Filler(tree, root, stray, Source(FORMAT, file_name, sha256, version), name).board()
    except BoardCheckError as error:
        raise BoardFileError("file-malformed", error.message, hint=error.hint) from None


class _Parsed(Protocol):
    def read(self) -> Node: ...

    def error(
        self, at: int, message: str, expected: str = "", code: str = ...
    ) -> BoardFileError: ...


class _Filler:
    """A netlist tree on its way into a board."""

    def __init__(
        self, tree: _Parsed, root: Node, stray: int | None, source: Source, name: str
    ) -> None:
        self.tree = tree
        self.root = root
        tool = said(find(root, "design"), "tool")
        source = Source(source.format, source.file_name, source.sha256, source.version, tool)
        self.builder = BoardBuilder(name, source=source)
        self.builder.copper_layers = ()
        warn_of_strays(self.builder, stray)
        self.parts: dict[str, int] = {}
        self.pins_of_part: dict[int, dict[str, tuple[str, str]]] = {}
        self.seen_pins: dict[int, dict[str, int]] = {}
        self.net_names: dict[int, str] = {}

    def board(self) -> Board:
        library = self._library()
        self._components(library)
        self._nets()
        self._unlisted_pins()
        builder = self.builder
        if not self.parts and builder.net_number("") is None and not builder.rows.part:
            raise BoardFileError(
                "file-empty",
                "file read, but nothing in it",
                expected="components and nets",
                hint="was the netlist made before the schematic was annotated?",
            )
        if all(net < 0 for net in builder.rows.net):
            raise BoardFileError("no-nets", "no pin is on a net", hint="export the netlist again")
        _tell_what_it_holds(builder)
        return builder.freeze()

    def _library(self) -> dict[tuple[str, str], dict[str, tuple[str, str]]]:
        """(library, part) as written -> pin number -> name and type; aliases too."""
        found: dict[tuple[str, str], dict[str, tuple[str, str]]] = {}
        for part in find_all(find(self.root, "libparts"), "libpart"):
            pins: dict[str, tuple[str, str]] = {}
            for pin in find_all(find(part, "pins"), "pin"):
                pins.setdefault(said(pin, "num"), (said(pin, "name"), said(pin, "type")))
            lib = said(part, "lib")
            found[lib, said(part, "part")] = pins
            for alias in find_all(find(part, "aliases"), "alias"):
                found.setdefault((lib, last_atom(alias)), pins)
        return found

    def _components(self, library: dict[tuple[str, str], dict[str, tuple[str, str]]]) -> None:
        without = 0
        for comp in find_all(find(self.root, "components"), "comp"):
            ref = said(comp, "ref")
            if not ref:
                raise self.tree.error(comp.at, "a component without a reference", "'ref'")
            if ref.startswith("#"):
                continue
            if len(self.parts) >= limits.MAX_PARTS:
                raise self.tree.error(
                    comp.at,
                    f"more than {limits.MAX_PARTS} parts (MAX_PARTS)",
                    code="limit-exceeded",
                )
            self._check(ref, "reference", comp)
            value = said(comp, "value")
            value = "" if value == "~" else value
            footprint = said(comp, "footprint")
            footprint = "" if footprint in _NO_FOOTPRINT else footprint
            fields, attributes = self._fields(comp)
            index = self.builder.add_part(
                ref,
                value=value,
                footprint=footprint,
                attributes=attributes,
                fields=fields,
                not_fitted_because=not_fitted_because(
                    ref, value, footprint, attributes=attributes, fields=fields
                ),
            )
            if ref in self.parts:
                self.builder.warn("reference-repeated", f"{ref} stands twice; both are kept")
            self.parts.setdefault(ref, index)
            source = find(comp, "libsource")
            pins = library.get((said(source, "lib"), said(source, "part")))
            if pins is None:
                without += 1
            self.pins_of_part[index] = pins or {}
        if without and self.parts:
            self.builder.warn(
                "part-without-library",
                "parts whose pins the file does not list",
                count=without,
            )

    def _fields(self, comp: Node) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...]]:
        fields: dict[str, str] = {}
        attributes = []
        for field in find_all(find(comp, "fields"), "field"):
            fields[said(field, "name")] = _value_of_field(field)
        for one in find_all(comp, "property"):
            key = said(one, "name")
            if find(one, "value") is None:
                if key.lower() in ("dnp", "exclude_from_bom", "exclude_from_board"):
                    attributes.append(key.lower())
            elif not key.startswith("ki_") and key not in ("Sheetname", "Sheetfile"):
                fields.setdefault(key, said(one, "value"))
        kept = tuple((key, text) for key, text in fields.items() if key and text)
        return kept, tuple(dict.fromkeys(attributes))

    def _nets(self) -> None:
        nets = find_all(find(self.root, "nets"), "net")
        given = {said(net, "name") for net in nets}
        for net in nets:
            name = said(net, "name") or self._made_name(net, given)
            self._check(name, "net", net)
            nodes = [
                node for node in find_all(net, "node") if not said(node, "ref").startswith("#")
            ]
            if not nodes:
                continue
            number = self.builder.add_net(name, net_class=said(net, "class"))
            self.net_names[number] = name
            for node in nodes:
                self._node(node, number)

    def _made_name(self, net: Node, taken: set[str]) -> str:
        """A name by the net's code, which no other net bears."""
        code = said(net, "code")
        if not code:
            raise self.tree.error(net.at, "a net without name and code", "'name'")
        name = f"N-{code}"
        while name in taken:
            name += "@"
        taken.add(name)
        return name

    def _node(self, node: Node, net: int) -> None:
        ref, pin, name, kind = "", "", "", ""
        for one in node:
            if isinstance(one, Node):
                head = one[0]
                if head == "ref":
                    ref = last_atom(one)
                elif head == "pin":
                    pin = last_atom(one)
                elif head == "pinfunction":
                    name = last_atom(one)
                elif head == "pintype":
                    kind = last_atom(one)
        if not ref:
            raise self.tree.error(node.at, "a node without a reference", "'ref'")
        part = self.parts.get(ref)
        if part is None:
            self._check(ref, "reference", node)
            self.builder.warn("part-undefined", f"{ref} stands in a net but is no component")
            part = self.parts[ref] = self.builder.add_part(ref)
            self.pins_of_part[part] = {}
        known = self.pins_of_part[part].get(pin)
        if known is not None:
            name, kind = name or known[0], kind or known[1]
        self._pad(part, pin, net, name, kind, node)

    def _pad(
        self, part: int, pin: str, net: int, name: str, kind: str, node: Node | None = None
    ) -> None:
        rows = self.builder.rows
        if len(rows.part) >= limits.MAX_PADS:
            raise BoardFileError("limit-exceeded", f"more than {limits.MAX_PADS} pins (MAX_PADS)")
        if node is not None:
            seen = self.seen_pins.setdefault(part, {})
            other = seen.setdefault(pin, net)
            if other != net:
                names = self.net_names
                # To find a line the whole text is gone through; the first one is kept.
                line = None if self.builder.unclear_nets else self.tree.error(node.at, "").line
                pad = f"{self.builder.parts[part].ref}.{pin}"
                text = f"{pad} stands on {names[other]} and {names[net]}; both are kept"
                self.builder.warn("pin-on-two-nets", text, line=line)
                self.builder.pin_on_two_nets(pad, (names[other], names[net]))
            self._check(pin, "pin", node)
        rows.part.append(part)
        rows.pin.append(pin)
        rows.net.append(net)
        for column in (rows.x_nm, rows.y_nm, rows.width_nm, rows.height_nm, rows.drill_nm):
            column.append(0)
        rows.angle_deg.append(0.0)
        rows.copper_side.append(0)
        rows.kind.append(0)
        rows.shape.append(1)
        rows.pin_name.append(_pin_name(name, pin))
        rows.pin_type.append("" if kind == "no_connect" and net >= 0 else kind.split("+")[0])

    def _unlisted_pins(self) -> None:
        """Pins that the library knows and no net holds: they are not connected."""
        for part, pins in self.pins_of_part.items():
            there = self.seen_pins.get(part, {})
            for pin, (name, kind) in pins.items():
                if pin and pin not in there and not is_bad_name(pin):
                    self._pad(part, pin, -1, name, kind)

    def _check(self, name: str, what: str, node: Node) -> None:
        if is_bad_name(name):
            error = self.tree.error(node.at, "")
            checked_name(name, what, error.line, error.column)


def _value_of_field(field: Node) -> str:
    """``(field (name N) "text")``, or an element's text."""
    return last_atom(field)


def _pin_name(name: str, pin: str) -> str:
    """The pin's name; ``~`` stands for none, and newer files put ``_<pin>`` behind it."""
    if name in ("", "~"):
        return ""
    return name.removesuffix(f"_{pin}") if name != f"_{pin}" else name


def _tell_what_it_holds(builder: BoardBuilder) -> None:
    builder.capabilities |= {"has_values", "has_dnp"}
    if any(builder.rows.pin_name):
        builder.capabilities.add("has_pin_names")
    if any(builder.rows.pin_type):
        builder.capabilities.add("has_pin_types")
    builder.not_known += [reason("no-pad-places"), reason("no-sides")]


# -- before 2013 -------------------------------------------------------------------------------

_OLD_TOKEN = re.compile(r"\{[^{}]*\}|[()]|[^\s(){}]+")


def _old_tokens(lines: list[str]) -> Iterator[tuple[int, int, str]]:
    for number, line in enumerate(lines, start=1):
        if line.startswith("#"):
            continue
        if line.strip() == "*":
            return
        for found in _OLD_TOKEN.finditer(line.partition("{")[0] if "{ Allowed" in line else line):
            yield number, found.start() + 1, found[0]


def _before_2013(
    lines: list[str], stray: int | None, name: str, file_name: str, sha256: str
) -> Board:
    """``( /STAMP FOOTPRINT REF VALUE {Lib=..} ( PIN NET ) ... )``, all in one pair of brackets."""
    builder = BoardBuilder(name, source=Source(FORMAT, file_name, sha256, "1.1"))
    builder.copper_layers = ()
    warn_of_strays(builder, stray)
    depth, words, part, line = 0, list[str](), -1, 1
    for line, column, token in _old_tokens(lines):
        if token == "(":
            if depth == 2:
                part = _old_part(builder, words, line, column)
            depth, words = depth + 1, []
            if depth > 3:
                raise BoardFileError(
                    "file-malformed", "brackets nest deeper than three",
                    line=line, column=column, expected="( PIN NET )",
                )  # fmt: skip
        elif token == ")":
            if depth == 3:
                _old_pin(builder, part, words, line, column)
                depth, words = 2, []
                continue
            if depth == 2 and words:
                _old_part(builder, words, line, column)
            depth, words = depth - 1, []
            if depth <= 0:
                break
        elif not token.startswith("{"):
            words.append(token)
    if depth > 0:
        raise BoardFileError(
            "file-truncated", "the outer bracket is not closed", line=line, expected="')'"
        )
    if not builder.parts:
        raise BoardFileError("file-empty", "file read, but nothing in it", expected="parts")
    if all(net < 0 for net in builder.rows.net):
        raise BoardFileError("no-nets", "no pin is on a net", hint="export the netlist again")
    _tell_what_it_holds(builder)
    return builder.freeze()


def _old_part(builder: BoardBuilder, words: list[str], line: int, column: int) -> int:
    if not words:
        return len(builder.parts) - 1
    if len(words) < 4:
        raise BoardFileError(
            "file-malformed",
            f"a part of {len(words)} words",
            line=line,
            column=column,
            expected="time stamp, footprint, reference, value",
        )
    _, footprint, ref, value = words[:4]
    checked_name(ref, "reference", line, column)
    footprint = "" if footprint.lower() in _NO_FOOTPRINT else footprint
    # Blanks were written as underscores; which of them were blanks can't be told.
    return builder.add_part(
        ref,
        value=value,
        footprint=footprint,
        not_fitted_because=not_fitted_because(ref, value, footprint),
    )


def _old_pin(builder: BoardBuilder, part: int, words: list[str], line: int, column: int) -> None:
    if part < 0 or len(words) != 2:
        raise BoardFileError(
            "file-malformed",
            f"a pin of {len(words)} words" if part >= 0 else "a pin outside a part",
            line=line,
            column=column,
            expected="( PIN NET )",
        )
    pin, net = words
    for one, what in ((pin, "pin"), (net, "net")):
        checked_name(one, what, line, column)
    builder.add_pad(part, pin, None if net == "?" else net, width_nm=0, height_nm=0)
