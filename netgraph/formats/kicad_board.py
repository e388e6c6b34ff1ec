# SPDX-License-Identifier: GPL-3.0-or-later
"""Read a KiCad board (``.kicad_pcb``), file versions 4 (2014) to 10 (2026).

Decided by the shape of each node, not by the version. Only the nodes that the netlist needs are
parsed; copper stays bytes until somebody asks for it (``kicad_copper``).
"""

from __future__ import annotations

import re

import numpy as np

from netgraph import limits
from netgraph.errors import BoardCheckError, BoardFileError
from netgraph.formats.encoding import utf8_with_strays
from netgraph.formats.kicad_copper import CopperReader
from netgraph.formats.kicad_faults import FileError, refuse_strangers
from netgraph.formats.kicad_footprints import NODES, FootprintReader
from netgraph.formats.kicad_heads import IN_FOOTPRINT, TOP, strange_nodes, strange_word
from netgraph.formats.kicad_layers import LayerTable
from netgraph.formats.kicad_nets import NetTable
from netgraph.formats.kicad_pads import PadReader
from netgraph.formats.sexpr import Tree, atom, atoms, child, tokens_of, tree_of
from netgraph.formats.stackup import read_stackup
from netgraph.formats.structure import begins_with, blank_comments, find_structure, place_of
from netgraph.model.board import Board, Source
from netgraph.model.builder import BoardBuilder

OLDEST_VERSION = 4
NEWEST_VERSION = 20260206
_WORD = re.compile(rb'\(\s*"?([A-Za-z_]+)')
_COPPER = ("segment", "arc", "via", "zone")


def read_kicad_board(data: bytes, *, file_name: str = "", sha256: str = "") -> Board:
    """The board in the bytes of a ``.kicad_pcb`` file.

    Parameters
    ----------
    data
        UTF-8 text (a leading byte-order mark is allowed); bytes that are
        none are read as Windows-1252, with a warning.

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
    data, stray = utf8_with_strays(data)
    data = blank_comments(data)
    try:
        return _Reader(data, file_name, sha256, stray).read()
    except FileError as error:
        raise error.placed(data) from None
    except BoardCheckError as error:
        raise BoardFileError("file-malformed", error.message, hint=error.hint) from None


class _Reader:
    """The half-read state of one file."""

    def __init__(self, data: bytes, file_name: str, sha256: str, stray: int | None) -> None:
        self.data = data
        self.file_name = file_name
        self.sha256 = sha256
        self.stray = stray
        self.warned: set[str] = set()

    def read(self) -> Board:
        refuse_strangers(self.data)
        s = self.structure = find_structure(self.data)
        self.heads2, self.heads3 = s.heads(2), s.heads(3)
        self.found: dict[str, list[int]] = {}
        version, generator = self._version()
        name = self.file_name.rpartition("/")[2].removesuffix(".kicad_pcb") or "board"
        source = Source("kicad-board", self.file_name, self.sha256, str(version), generator)
        builder = self.builder = BoardBuilder(name, source=source)
        if version > NEWEST_VERSION:
            self.warn(
                "version-newer",
                f"file version {version} is newer than the newest known ({NEWEST_VERSION})",
                self._offset_of("version"),
            )
        if self.stray is not None:
            self.warn(
                "encoding", "some signs are not UTF-8; these are read as Windows-1252", self.stray
            )
        self.layers = LayerTable(self._tree("layers"), version)
        builder.copper_layers = self.layers.copper
        self.nets = NetTable(builder, self.warn)
        self.pads = PadReader(builder, self.nets, self.layers, self.warn, version)
        self.footprints = FootprintReader(self.data, builder, self.layers, self.pads)
        self._nets()
        self._footprints()
        self._tell_strange_nodes()
        self._check_counts()
        builder.stackup = read_stackup(self._tree("general"), self._stackup_tree())
        self._refuse_netless()
        self.pads.finish(self.footprints.places)
        self._tell_capabilities()
        self.nets.close()
        builder.load_copper = CopperReader(
            s,
            self.layers,
            self.nets.index,
            tuple(self.pads.rare),
            tuple(self.footprints.places),
            version,
            self.file_name,
        ).read
        self._refuse_too_many()
        return builder.freeze()

    def _tell_capabilities(self) -> None:
        rows, can = self.builder.rows, self.builder.capabilities
        can |= {"has_values", "has_dnp"}
        # All pads on one spot: saved from a netlist that knew no positions.
        if len(rows.pin) == 1 or min(rows.x_nm) < max(rows.x_nm) or min(rows.y_nm) < max(rows.y_nm):
            can.add("has_positions")
        if any(self._has(word) for word in _COPPER):
            can.add("has_copper")
        if any(rows.pin_name):
            can.add("has_pin_names")
        if any(rows.pin_type):
            can.add("has_pin_types")

    def warn(self, code: str, text: str, offset: int | None) -> None:
        """Count a warning; the line is looked for once a code, since that reads the file."""
        first = code not in self.warned and offset is not None
        self.warned.add(code)
        self.builder.warn(code, text, line=place_of(self.data, offset or 0)[0] if first else None)

    def _version(self) -> tuple[int, str]:
        tree = self._tree("version")
        at = self._offset_of("version") or int(self.structure.opens[1][0])
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
        found = self.found.get(word)
        if found is None:
            wanted = word.encode("ascii")
            opens = self.structure.opens[2]
            found = [
                index
                for index in np.flatnonzero(begins_with(self.heads2, [word])).tolist()
                if (match := _WORD.match(self.data, opens[index])) and match.group(1) == wanted
            ]
            self.found[word] = found
        return found

    def _has(self, word: str) -> bool:
        """Whether a depth-2 node has this head; stops at the first."""
        wanted = word.encode("ascii")
        return any(
            (match := _WORD.match(self.data, self.structure.opens[2][index]))
            and match.group(1) == wanted
            for index in np.flatnonzero(begins_with(self.heads2, [word]))
        )

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
            self.nets.add_row(tokens_of(self._text(start, int(closes[index]) + 1)), start)
        for index in self._indices("net_class"):
            tree = self._tree_at(2, index)
            class_name = atom(tree) or ""
            for one in tree:
                if isinstance(one, list) and one and one[0] == "add_net":
                    name = atom(one) or ""
                    if self.builder.net_number(name) is not None:
                        self.builder.add_net(name, net_class=class_name)

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
        _refuse_more_than("MAX_PARTS", len(found), "footprints")
        s = self.structure
        picks = np.flatnonzero(begins_with(self.heads3, NODES))
        opens3, closes3 = s.opens[3][picks].tolist(), s.closes[3][picks].tolist()
        bounds = np.searchsorted(
            s.opens[3][picks], np.column_stack((s.opens[2][found], s.closes[2][found])).ravel()
        ).tolist()
        for nth, index in enumerate(found):
            span = range(bounds[2 * nth], bounds[2 * nth + 1])
            self.footprints.read(
                int(s.opens[2][index]), [(opens3[i], closes3[i] + 1) for i in span]
            )

    def _tell_strange_nodes(self) -> None:
        """Nodes that KiCad doesn't write: an error where a pad, net or part would be lost."""
        s = self.structure
        found = sorted(self._indices("footprint") + self._indices("module"))
        edges = np.searchsorted(s.opens[3], (s.opens[2][found], s.closes[2][found]))
        steps = np.zeros(len(s.opens[3]) + 1, dtype=np.int32)
        np.add.at(steps, edges[0], 1)
        np.add.at(steps, edges[1], -1)
        inside = np.cumsum(steps[:-1]) > 0
        for where, opens, heads, known, doubted in (
            ("on the board", s.opens[2], self.heads2, TOP, self._doubted()),
            ("in a footprint", s.opens[3][inside], self.heads3[inside], IN_FOOTPRINT, ()),
        ):
            for offset, word in strange_nodes(self.data, opens, heads, known, doubted):
                self.warn("unknown-node", strange_word(word, where, offset), offset)

    def _doubted(self) -> tuple[str, ...]:
        """Heads with whose first four letters other nodes begin, too."""
        return tuple(
            word
            for word in ("footprint", "module", "layers")
            if np.count_nonzero(begins_with(self.heads2, [word])) != len(self._indices(word))
        )

    # -- the whole -----------------------------------------------------------------------------

    def _refuse_netless(self) -> None:
        if self.pads.has_net:
            return
        first = int(
            self.structure.opens[2][sorted(self._indices("footprint") + self._indices("module"))[0]]
        )
        line, column = place_of(self.data, first)
        raise BoardFileError(
            "no-nets",
            f"not one of {len(self.pads.rows)} pads has a net",
            line=line,
            column=column,
            expected="pads with '(net ...)'",
            hint="the netlist was never brought into this board: open it in KiCad and update it "
            "from the schematic",
        )

    def _refuse_too_many(self) -> None:
        rows = self.builder.rows
        _refuse_more_than("MAX_PADS", len(rows.pin), "pads")
        _refuse_more_than("MAX_NETS", self.nets.count, "nets")

    def _check_counts(self) -> None:
        """Compare with the counts that files up to version 5 carry in `general`."""
        general = self._tree("general")
        if general is None:
            return
        for word, have in (
            ("modules", len(self.builder.parts)),
            ("nets", len(self.nets)),
        ):
            said = atom(child(general, word))
            if said is not None and said.isdecimal() and said != str(have):
                self.warn(
                    "count-differs",
                    f"the file says {said[:20]} {word}, {have} were found",
                    self._offset_of("general"),
                )

    def _stackup_tree(self) -> Tree | None:
        """The stack-up inside `setup`, which is long and mostly plot settings."""
        s = self.structure
        for index in self._indices("setup"):
            for inner in s.children(2, index):
                start = int(s.opens[3][inner])
                if self.data.startswith(b"(stackup", start):
                    return self._tree_at(3, inner)
        return None


def _refuse_more_than(limit: str, count: int, what: str) -> None:
    most: int = getattr(limits, limit)
    if count > most:
        raise BoardFileError("limit-exceeded", f"{count} {what}, the limit is {most} ({limit})")
