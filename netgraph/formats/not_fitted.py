# SPDX-License-Identifier: GPL-3.0-or-later
"""By which marks a file says that a part is left off the assembled board.

Flags first, then the words people write into values, footprint names, tags and fields: common
practice, no source; each seen on real boards or named in ``docs/reference/kicad-board.md``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

# Words that mean "not fitted" wherever they stand as a word of their own.
_CLEAR = (
    r"DNP|DNF|DNI|DNM|DNS|DNA|NO[ _-]?POP|NO[ _-]?FIT|NO[ _-]?STUFF|N\.M\.|N\.P\.|"
    r"UN(?:POPULATED|FITTED|MOUNTED|STUFFED)|"
    r"NOT[ _-](?:FITTED|MOUNTED|POPULATED|PLACED|INSTALLED|STUFFED)|"
    r"DO[ _-]NOT[ _-](?:POPULATE|FIT|PLACE|INSTALL|MOUNT|STUFF)"
)
_CLEAR_WORD = re.compile(rf"(?<![A-Za-z0-9])(?:{_CLEAR})(?![A-Za-z0-9])", re.IGNORECASE)
# Short words that mean it only when they are the whole value, or wrap or follow the value of a
# two-terminal part: "NC" is also a normally closed switch.
_SHORT = r"NC|N\.C\.|NP|NA|N/A|NM|NF|NL|NU|NOP|OPT|OPTIONAL"
_SHORT_WHOLE = re.compile(rf"\s*\(?(?:{_SHORT})\)?\s*", re.IGNORECASE)
_SHORT_AROUND = re.compile(
    rf"\s*(?:{_SHORT})\s*[(\[/_,;:-].*|\s*X\s*/.*|.*[(\[/_,; -]\s*(?:{_SHORT})\s*[)\]]?\s*",
    re.IGNORECASE,
)
_SHORT_WRAP = re.compile(rf"\s*(?:(?:{_SHORT})\s*\([^()]+\)|\((?:{_SHORT})\).+)\s*", re.IGNORECASE)
_FOOTPRINT_END = re.compile(r".*[_-](?:DNP|DNF|DNI|NC|NF)", re.IGNORECASE)
_TWO_TERMINAL = re.compile(r"(?:R|C|L|FB|F|D|RN|CN|RV|RT|LED|E|FL|JP|PR|PC|PL|PD)\d", re.IGNORECASE)
# Footprints that are only copper or print: "not bought" in a parts list does not unmake them.
_ONLY_COPPER = re.compile(
    r"solder_?jumper|solder_?bridge|net_?tie|test_?point|test_?pad|fiducial|mounting_?hole|logo|"
    r"mouse_?bite|tag_?connect|edge_?conn|pcb_?antenna",
    re.IGNORECASE,
)
_FIELD_NAMES = {"dnp", "dnf", "dni", "dnm", "do not populate", "do not fit", "nopop", "no pop"}
_POPULATE_NAMES = {"populate", "populated", "fitted", "fit", "mount", "mounted", "place"}
_CONFIG_NAMES = {"config", "variant", "assembly", "note", "notes", "comment"}
_PART_NUMBER_NAMES = {"mpn", "manf#", "part number", "partnumber", "mfr. part", "manufacturer part"}
_LONGEST_MARK = 200
_NO = {"0", "no", "n", "false", "off"}


def not_fitted_because(
    ref: str,
    value: str,
    footprint: str,
    *,
    attributes: Iterable[str] = (),
    tags: str = "",
    fields: Iterable[tuple[str, str]] = (),
) -> str | None:
    """The mark by which a part is known to be left off, in the file's own words; else None.

    ``exclude_from_bom`` alone is no mark (test points, edge connectors have it).

    >>> not_fitted_because("R3", "10k DNP", "R_0402")
    'value "10k DNP"'
    >>> not_fitted_because("SW1", "SPST_NC", "SW_Push") is None
    True
    """
    attributes = set(attributes)
    if "dnp" in attributes:
        return "attribute dnp"
    short = _TWO_TERMINAL.match(ref) is not None
    # A long text is prose, no mark; and the patterns below are slow on hostile ones.
    value = value if len(value) <= _LONGEST_MARK else ""
    if _CLEAR_WORD.search(value) or _SHORT_WHOLE.fullmatch(value) or _SHORT_WRAP.fullmatch(value):
        return f'value "{value}"'
    if short and _SHORT_AROUND.fullmatch(value):
        return f'value "{value}"'
    name = footprint.rpartition(":")[2]
    if _FOOTPRINT_END.fullmatch(name):
        return f'footprint "{name}"'
    if _CLEAR_WORD.search(tags):
        return f'tags "{tags}"'
    only_copper = _ONLY_COPPER.search(name) is not None
    for key, text in fields:
        folded, said = key.strip().casefold(), text.strip()
        flag = said.casefold()
        if folded in _FIELD_NAMES and flag not in _NO:
            return f'field {key} "{text}"'
        if folded in _POPULATE_NAMES and flag in _NO:
            return f'field {key} "{text}"'
        if folded in _CONFIG_NAMES and _CLEAR_WORD.fullmatch(said):
            return f'field {key} "{text}"'
        if folded in _PART_NUMBER_NAMES and not only_copper and (_CLEAR_WORD.fullmatch(said)):
            return f'field {key} "{text}"'
    return None
