# SPDX-License-Identifier: GPL-3.0-or-later
"""Which column of a table is what: names people give them (common practice, no source)."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

Field = Literal[
    "ref", "value", "footprint", "part_number", "pin", "pin_name", "pin_type", "net", "members",
    "x", "y", "angle", "side", "copper_side", "quantity", "fitted",
]  # fmt: skip

# The first name is the surest; a name in MAYBE counts only where nothing surer is there.
ALIASES: dict[Field, str] = {
    "ref": "ref refs reference references referencedesignator referencedesignators refdes "
    "designator designators partref component comp part location",
    "value": "value val nominal comment",
    "footprint": "footprint package pattern case casecode cell decal pcbfootprint geometry "
    "landpattern",
    "part_number": "mpn manufacturerpartnumber mfrpartnumber mfgpn partnumber partno "
    "manufacturermpn lcsc lcscpart supplierpart",
    "pin": "pin pinnumber pinno pad padnumber terminal ball",
    "pin_name": "pinname pinfunction function signalname",
    "pin_type": "pintype electricaltype type direction dir io",
    "net": "net netname rail node signal",
    "members": "pins pads nodes members connections pinlist",
    "x": "x posx midx centerx centrex refx xloc locationx xmm padx",
    "y": "y posy midy centery centrey refy yloc locationy ymm pady",
    "angle": "rot rotation angle orientation angledeg",
    "side": "side layer tb mountside boardside",
    "copper_side": "copperside",
    "quantity": "qty quantity count amount",
    "fitted": "dnp dnf dni dnm dnl nopop donotpopulate donotfit populate populated fitted mount "
    "mounted placed variant assembly stuff",
}
MAYBE: dict[Field, frozenset[str]] = {
    "ref": frozenset({"part", "location", "component", "comp"}),
    "value": frozenset({"comment"}),
    "pin_type": frozenset({"type", "io", "dir", "direction"}),
    "pin_name": frozenset({"signalname", "function"}),
    "net": frozenset({"signal", "node", "rail"}),
}
_ONCE: frozenset[Field] = frozenset({"ref", "pin", "net", "members", "value", "x", "y", "side"})
_BY_NAME: dict[str, Field] = {
    name: field for field, names in ALIASES.items() for name in names.split()
}
_UNIT = re.compile(r"[\[(]\s*(mm|mils?|inch|inches|in|um|µm|deg|°)\s*[\])]", re.IGNORECASE)
_NM = {"mm": 1e6, "mil": 25_400.0, "inch": 25.4e6, "um": 1e3}


@dataclass(frozen=True)
class Columns:
    """The chosen columns: field -> index; `titles` as the file writes them."""

    index: dict[Field, int]
    titles: tuple[str, ...]
    units: dict[Field, float]
    """Nanometres in one unit of x and y, where the title names a unit."""
    again: tuple[int, ...] = ()
    """Further columns of a field that only one column can tell; they are not read as such."""

    def mapping(self) -> str:
        """``ref from "Designator", value from "Value"``: what was taken for what."""
        return ", ".join(
            f'{field} from "{self.titles[at].strip()}"' for field, at in self.index.items()
        )


def folded(title: str) -> str:
    """A title without unit, blanks and signs, in small letters.

    >>> folded("Center-X(mm)"), folded(" Ref Des."), folded("# Ref")
    ('centerx', 'refdes', 'ref')
    """
    return re.sub(r"[\s_\-./()#\[\]:]+", "", _UNIT.sub("", title)).casefold()


def choose_columns(cells: list[str]) -> Columns | None:
    """The columns of a header row; None when it is none: fewer than two names are known.

    >>> choose_columns(["Designator", "Mid X", "Mid Y", "Layer"]).index
    {'ref': 0, 'x': 1, 'y': 2, 'side': 3}
    >>> choose_columns(["C1", "10k"]) is None
    True
    """
    sure: dict[Field, int] = {}
    maybe: dict[Field, int] = {}
    units: dict[Field, float] = {}
    again: list[int] = []
    for at, title in enumerate(cells):
        name = folded(title)
        field = _BY_NAME.get(name)
        if field is None:
            continue
        table = maybe if name in MAYBE.get(field, ()) else sure
        if field in table:
            if field in _ONCE:
                again.append(at)
            continue
        table[field] = at
        unit = _UNIT.search(title)
        if unit is not None:
            size = {"mils": "mil", "in": "inch", "inches": "inch", "µm": "um"}.get(
                unit[1].lower(), unit[1].lower()
            )
            if size in _NM:
                units[field] = _NM[size]
    index = dict(sure)
    for field, at in maybe.items():
        # "signal" and "type" speak of pins; without a column of pins they mean something else.
        of_pins = field in ("net", "pin_type", "pin_name")
        if field not in index and (not of_pins or "pin" in sure):
            index[field] = at
    keyed = "ref" in index or ("net" in index and "members" in index)
    if len(index) < 2 or not keyed:
        return None
    ordered = sorted(index.items(), key=lambda pair: pair[1])
    return Columns(dict(ordered), tuple(cells), units, tuple(again))
