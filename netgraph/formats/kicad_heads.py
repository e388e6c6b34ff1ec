# SPDX-License-Identifier: GPL-3.0-or-later
"""Which nodes KiCad writes, so that a misspelt one is not passed over in silence.

Heads of file versions 4 to 20260206 [kicad]; those not met in the test boards are from memory.
"""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from netgraph.formats.kicad_faults import FileError

TOP = frozenset(
    [
        "arc",
        "area",
        "barcode",
        "component_classes",
        "dimension",
        "drawings",
        "embedded_files",
        "embedded_fonts",
        "footprint",
        "general",
        "generated",
        "generator",
        "generator_version",
        "gr_arc",
        "gr_bbox",
        "gr_circle",
        "gr_curve",
        "gr_line",
        "gr_poly",
        "gr_rect",
        "gr_text",
        "gr_text_box",
        "group",
        "host",
        "image",
        "layers",
        "links",
        "module",
        "net",
        "net_chain",
        "net_class",
        "net_chains",
        "no_connects",
        "nets",
        "page",
        "paper",
        "point",
        "properties",
        "property",
        "render_cache",
        "segment",
        "setup",
        "table",
        "target",
        "teardrops",
        "title_block",
        "tracks",
        "variants",
        "version",
        "via",
        "zone",
        "zones",
    ]
)
"""Heads that stand right inside ``kicad_pcb``."""

IN_FOOTPRINT = frozenset(
    [
        "at",
        "attr",
        "autoplace_cost180",
        "autoplace_cost90",
        "barcode",
        "clearance",
        "component_classes",
        "date",
        "descr",
        "dimension",
        "duplicate_pad_numbers_are_jumpers",
        "embedded_files",
        "embedded_fonts",
        "fp_arc",
        "fp_circle",
        "fp_curve",
        "fp_line",
        "fp_poly",
        "fp_rect",
        "fp_text",
        "fp_text_box",
        "generator",
        "generator_version",
        "group",
        "image",
        "jumper_pad_groups",
        "layer",
        "layers",
        "locked",
        "model",
        "net_tie_pad_groups",
        "pad",
        "path",
        "placed",
        "point",
        "private_layers",
        "property",
        "sheetfile",
        "sheetname",
        "solder_mask_margin",
        "solder_paste_margin",
        "solder_paste_margin_ratio",
        "solder_paste_ratio",
        "stackup",
        "table",
        "tags",
        "tedit",
        "thermal_gap",
        "thermal_width",
        "tstamp",
        "units",
        "unit",
        "uuid",
        "variant",
        "version",
        "zone",
        "zone_connect",
    ]
)
"""Heads that stand right inside a footprint."""

IN_PAD = frozenset(
    [
        "at",
        "backdrill",
        "back_post_machining",
        "capping",
        "chamfer",
        "chamfer_ratio",
        "clearance",
        "covering",
        "die_delay",
        "die_length",
        "drill",
        "filling",
        "front_post_machining",
        "keep_end_layers",
        "layers",
        "locked",
        "net",
        "options",
        "padstack",
        "pinfunction",
        "pintype",
        "plugging",
        "primitives",
        "property",
        "rect_delta",
        "remove_unused_layer",
        "remove_unused_layers",
        "roundrect_rratio",
        "size",
        "solder_mask_margin",
        "solder_paste_margin",
        "solder_paste_margin_ratio",
        "solder_paste_ratio",
        "teardrops",
        "tenting",
        "tertiary_drill",
        "thermal_bridge_angle",
        "thermal_bridge_width",
        "thermal_gap",
        "thermal_width",
        "tstamp",
        "unlocked",
        "uuid",
        "zone_connect",
        "zone_layer_connections",
    ]
)
"""Heads that stand right inside a pad."""

STRUCTURAL = frozenset(("pad", "footprint", "module", "net", "layers", "at", "layer", "fp_text"))
"""Heads whose loss would lose a part, a pad or a net."""


def strange_word(word: str, where: str, offset: int) -> str:
    """What to say of an unknown node that is passed over.

    Raises
    ------
    FileError
        With it a part, pad or net would be lost: it differs by case or place only.
    """
    if word.lower() in STRUCTURAL:
        raise FileError(offset, f"{word[:80]!r} can't stand {where}", "a node as KiCad writes it")
    return f"{word[:80]!r} {where} is not known: passed over"


_WORD = re.compile(rb'\(\s*"?([^\s()"]*)')
_EDGE = b' \t\r\n\v\f()"'


def strange_nodes(
    data: bytes,
    opens: NDArray[np.int32],
    heads: NDArray[np.uint32],
    known: frozenset[str],
    doubted: tuple[str, ...] = (),
) -> list[tuple[int, str]]:
    """(offset, head) of the nodes whose head is none of the known ones, in file order.

    Works on the distinct first four letters: whole words are looked at only where these four fit
    no known head, or those of a doubted one.
    """
    begun = {word.encode("ascii")[:4] for word in doubted}
    strange = [
        key
        for key in np.unique(heads).tolist()
        if (letters := key.to_bytes(4, "little")) in begun or not _fits(letters, known)
    ]
    if not strange:
        return []
    found = []
    for index in np.flatnonzero(np.isin(heads, strange)).tolist():
        offset = int(opens[index])
        match = _WORD.match(data, offset)
        word = match.group(1).decode("utf-8", "replace") if match else ""
        if word not in known:
            found.append((offset, word))
    return found


def _fits(letters: bytes, known: frozenset[str]) -> bool:
    for word in known:
        raw = word.encode("ascii")
        if letters.startswith(raw[:4]) and (len(raw) >= 4 or letters[len(raw)] in _EDGE):
            return True
    return False
