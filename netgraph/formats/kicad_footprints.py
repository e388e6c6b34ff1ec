# SPDX-License-Identifier: GPL-3.0-or-later
"""Read the footprints of a KiCad board: reference, value, side, place, marks; then their pads."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from math import cos, radians, sin

from netgraph.formats import kicad_marks
from netgraph.formats.kicad_faults import FileError
from netgraph.formats.kicad_heads import IN_FOOTPRINT, strange_word
from netgraph.formats.kicad_layers import LayerTable
from netgraph.formats.kicad_pads import PadReader
from netgraph.formats.not_fitted import not_fitted_because
from netgraph.formats.sexpr import Tree, atom, atoms, plain, tokens_of, tree_of
from netgraph.model.builder import BoardBuilder, is_bad_name

NODES = ("pad", "at", "layer", "attr", "tags", "property", "fp_text", "net_", "jumper")
"""Heads of the nodes that are looked at; only their first four letters count."""

_ATOM = rb'("[^"\\]*(?:\\.[^"\\]*)*"|[^\s()"][^\s()]*)'
_LOCKED = rb'(?:locked\s+(?=["\w]))?'  # KiCad 6 writes it before a locked text
_WORD = re.compile(rb'\(\s*"?([A-Za-z_]+)')
_HEAD = re.compile(rb"\(\s*[^\s()]+\s+" + _ATOM, re.DOTALL)
_TEXT = re.compile(rb'\(\s*"?fp_text"?\s+"?(reference|value)"?\s+' + _LOCKED + _ATOM, re.DOTALL)
_PROPERTY = re.compile(rb"\(\s*[^\s()]+\s+" + _ATOM + rb"(?:\s+" + _ATOM + rb")?", re.DOTALL)


@dataclass(slots=True)
class _Draft:
    """A footprint half read."""

    ref: str | None = None
    value: str | None = None
    layer: str = ""
    tags: str = ""
    at: tuple[float, float, float] | None = None
    attributes: tuple[str, ...] = ()
    fields: list[tuple[str, str]] = field(default_factory=list)
    marked_attributes: tuple[str, ...] | None = None
    ties: list[tuple[str, ...]] | None = None
    not_fitted: str | None = None
    pads: list[tuple[int, int]] = field(default_factory=list)


class FootprintReader:
    """Hands the footprints of one file to the builder; ``places`` are their positions."""

    def __init__(
        self, data: bytes, builder: BoardBuilder, layers: LayerTable, pads: PadReader
    ) -> None:
        self.data = data
        self.builder = builder
        self.layers = layers
        self.pads = pads
        self.warn = pads.warn
        self.known_layers = {""}
        self.places: list[tuple[float, float, float, float]] = []
        self.turns: dict[float, tuple[float, float]] = {}

    def read(self, start: int, nodes: list[tuple[int, int]]) -> None:
        """Read the footprint at byte `start`, given the spans of its inner nodes.

        Raises
        ------
        FileError
            It has no position or no reference, or something in it is malformed.
        """
        draft = _Draft()
        data = self.data
        for begin, end in nodes:
            match = _WORD.match(data, begin)
            word = match.group(1) if match else b""
            if word == b"pad":
                draft.pads.append((begin, end))
            elif word == b"fp_text":
                said = _TEXT.match(data, begin, end)
                if said:
                    text = plain(said.group(2).decode("utf-8"))
                    if said.group(1) == b"reference":
                        draft.ref = text
                    else:
                        draft.value = text
            elif word == b"property":
                self._property(draft, begin, end)
            else:
                self._small(draft, word, begin, end)
        if draft.at is None:
            raise FileError(start, "a footprint has no position", "'(at X Y)'")
        if draft.ref is None:
            raise FileError(start, "a footprint has no reference designator", "a reference")
        head = _HEAD.match(data, start)
        part = self._add(start, plain(head.group(1).decode("utf-8")) if head else "", draft)
        self.pads.read(part, data, draft.pads)

    def _small(self, draft: _Draft, word: bytes, begin: int, end: int) -> None:
        if word == b"at":
            draft.at = self._at(begin, end)
        elif word == b"layer":
            draft.layer = atom(self._tree(begin, end)) or ""
        elif word == b"attr":
            draft.attributes = tuple(atoms(self._tree(begin, end)))
        elif word == b"tags":
            draft.tags = atom(self._tree(begin, end)) or ""
        elif word == b"net_tie_pad_groups":
            draft.ties = (draft.ties or []) + [
                tuple(pin.strip() for pin in group.split(","))
                for group in atoms(self._tree(begin, end))
            ]
        elif word == b"jumper_pad_groups":
            draft.ties = (draft.ties or []) + [
                tuple(atoms(["", *group]))
                for group in self._tree(begin, end)[1:]
                if isinstance(group, list)
            ]
        elif (name := word.decode("ascii")) not in IN_FOOTPRINT:
            self.warn("unknown-node", strange_word(name, "in a footprint", begin), begin)

    def _property(self, draft: _Draft, begin: int, end: int) -> None:
        match = _PROPERTY.match(self.data, begin, end)
        if match is None:
            raise FileError(begin, "a malformed property", '(property "NAME" "TEXT")')
        key, text = (plain((one or b"").decode("utf-8")) for one in match.groups())
        if key == "Reference":
            draft.ref = text if draft.ref is None else draft.ref
        elif key == "Value":
            draft.value = text if draft.value is None else draft.value
        elif key not in kicad_marks.KEYS or not _take_mark(draft, key, text):
            draft.fields.append((key, text))

    def _add(self, start: int, footprint: str, draft: _Draft) -> int:
        ref, value, fields = draft.ref or "", draft.value or "", tuple(draft.fields)
        if is_bad_name(ref):
            raise FileError(
                start,
                "a reference designator holds a control character or is too long",
                "a printable name",
                "name-invalid",
            )
        attributes = draft.marked_attributes
        if attributes is None:
            attributes = draft.attributes
        if draft.layer not in self.known_layers:
            if self.layers.strange([draft.layer]):
                shown = draft.layer[:80]
                self.warn(
                    "unknown-layer", f"a part names the layer {shown!r}: no such, top taken", start
                )
            else:
                self.known_layers.add(draft.layer)
        x, y, angle = draft.at or (0.0, 0.0, 0.0)
        self.places.append((x, y, *self._turn(angle)))
        because = draft.not_fitted
        if because is None:
            because = not_fitted_because(
                ref, value, footprint, attributes=attributes, tags=draft.tags, fields=fields
            )
        part = self.builder.add_part(
            ref,
            value=value,
            footprint=footprint,
            side="top" if self.layers.is_top(draft.layer) else "bottom",
            x_nm=round(x * 1e6),
            y_nm=round(y * 1e6),
            angle_deg=angle,
            not_fitted_because=because or None,
            attributes=attributes,
            fields=fields,
            tags=draft.tags,
        )
        implied = kicad_marks.implied_ties(footprint, draft.tags)
        for pins in implied if draft.ties is None else draft.ties:
            self.builder.add_net_tie(part, pins)
        return part

    def _tree(self, begin: int, end: int) -> Tree:
        try:
            return tree_of(self.data[begin:end].decode("utf-8"))
        except ValueError as error:
            raise FileError(begin, f"unreadable node: {error}") from None

    def _at(self, begin: int, end: int) -> tuple[float, float, float]:
        text = self.data[begin:end].decode("utf-8")
        args = [token for token in tokens_of(text)[2:-1] if token != "unlocked"]
        values = [self.pads.number(token, begin, text) for token in args]
        if not 2 <= len(values) <= 3:
            raise FileError(begin, "a malformed position", "'(at X Y [ANGLE])'")
        return values[0], values[1], values[2] if len(values) == 3 else 0.0

    def _turn(self, angle: float) -> tuple[float, float]:
        """Cosine and sine, exact for quarter turns."""
        found = self.turns.get(angle)
        if found is None:
            quarter = angle % 360 / 90
            if quarter == int(quarter):
                exact = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))
                found = exact[int(quarter) % 4]
            else:
                found = cos(radians(angle)), sin(radians(angle))
            self.turns[angle] = found
        return found


def _take_mark(draft: _Draft, key: str, text: str) -> bool:
    """Take one of our own properties; False when its text is none that our writer makes."""
    if key == kicad_marks.NOT_FITTED:
        draft.not_fitted = text
        return True
    if key == kicad_marks.ATTRIBUTES:
        words = kicad_marks.load_words(text)
        draft.marked_attributes = words
        return words is not None
    groups = kicad_marks.load_groups(text)
    draft.ties = draft.ties if groups is None else groups
    return groups is not None
