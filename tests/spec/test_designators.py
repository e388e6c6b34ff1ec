# SPDX-License-Identifier: GPL-3.0-or-later
"""Reference designators: class letters of IEEE 315 and ASME Y14.44 as restated publicly."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netgraph.roles.answer import ROLES
from netgraph.roles.designator import designator_class, designator_table, split_designator
from tests.support import published

GROUPS = {
    "assembly": {"assembly"},
    "ic": {"ic", "amplifier"},
    "battery": {"battery"},
    "capacitor": {"capacitor"},
    "protection": {"protection"},
    "diode": {"diode", "regulator"},
    "led": {"led"},
    "misc": {"misc"},
    "fuse": {"fuse"},
    "filter": {"filter"},
    "mechanical": {"mechanical"},
    "connector": {"connector"},
    "relay": {"relay"},
    "inductor": {"inductor"},
    "transistor": {"transistor"},
    "transformer": {"transformer"},
    "resistor": {"resistor"},
    "thermistor": {"thermistor"},
    "varistor": {"varistor"},
    "switch": {"switch"},
    "testpoint": {"testpoint"},
    "wire": {"wire"},
    "socket": {"socket"},
    "crystal": {"crystal"},
    "network": {"network"},
    "other": {
        *("attenuator", "motor", "coupler", "delay", "generator", "other", "speaker", "meter"),
        *("microphone", "supply", "sensor", "tube"),
    },
}
"""Group of the table (its own column) against the class words of the program."""


def test_class_letters_of_the_standard() -> None:
    table = published("refdes_classes")
    assert len(table.rows) == 45
    for row in table.rows:
        found = designator_class(row["class"])
        fits = found is not None and found.name in GROUPS[row["netgraph_kind"]]
        table.expect(row, fits, f"read as {found}")


def test_letters_that_real_drawings_use() -> None:
    """Each is known, and shares a candidate with the standard's letters for the same thing."""
    table = published("refdes_nonstandard")
    for row in table.rows:
        found = designator_class(row["seen"].partition(" ")[0])
        roles = set(found.roles) if found else set()
        if row["standard_class"] == "none":
            table.expect(row, roles == {"mechanical"}, f"read as {found}")
            continue
        standard = [designator_class(one) for one in row["standard_class"].split(" or ")]
        wanted = {role for one in standard if one is not None for role in one.roles}
        # U says nothing about the role, so neither can it contradict one
        fits = bool(roles & wanted) or (bool(roles) and wanted == {"unknown"})
        table.expect(row, fits, f"read as {found}, the standard's letters as {wanted}")


def test_designators_fall_into_letters_number_suffix() -> None:
    table = published("refdes_parse")
    for row in table.rows:
        found = split_designator(row["designator"])
        expected = (row["class"], int(row["number"]), row["suffix"])
        table.expect(row, (found.letters, found.number, found.suffix) == expected, f"{found}")


@pytest.mark.parametrize(
    ("text", "letters", "number", "suffix"),
    [
        ("LCD_CON1", "LCD_CON", 1, ""),
        ("DDR3_VCC1", "DDR3_VCC", 1, ""),
        ("MH@2", "MH", 2, ""),
        ("U$3", "U", 3, ""),
        ("R1_2", "R", 1, "_2"),
        ("TP_VBAT", "TP", None, "_VBAT"),
        ("REF**", "REF", None, "**"),
        ("~", "", None, "~"),
        ("", "", None, ""),
        ("3V3", "", None, "3V3"),
        ("+5V_USBOTG1", "", None, "+5V_USBOTG1"),
        ("C\u0661", "C", None, "\u0661"),
    ],
)
def test_names_off_the_standard(text: str, letters: str, number: int | None, suffix: str) -> None:
    """Forms seen on the seven open boards (teres_main_c, glasgow_c3 ...) and made up ones."""
    found = split_designator(text)
    assert (found.letters, found.number, found.suffix) == (letters, number, suffix)


@pytest.mark.parametrize(
    ("letters", "first_role"),
    [
        ("LCD_CON", "connector"),
        ("DDR3_VCC", "test-point"),  # a pad on teres_main_c, no memory
        ("USB_ESD", "esd-array"),
        ("CHGLED", "led"),
        ("R_LED", "resistor"),
        ("C_USB", "capacitor"),
        ("TP_VBAT", "test-point"),
        ("A1_R", "resistor"),
        ("PFB", "ferrite"),
        ("fb", "ferrite"),
        ("EMMC", "storage"),
        ("PU", "regulator"),
        ("PQ", "transistor"),
        ("PC", "capacitor"),
        ("PR", "resistor"),
        ("PD", "diode"),
        ("PL", "inductor"),
    ],
)
def test_first_candidate(letters: str, first_role: str) -> None:
    """Common practice; the names of the first rows stand on the open board teres_main_c."""
    found = designator_class(letters)
    assert found is not None
    assert found.roles[0] == first_role


def test_ambiguous_power_section_letters_keep_both_meanings() -> None:
    """The table of non-standard letters lists PL twice: an inductor, and a plug."""
    rows = [row for row in published("refdes_nonstandard").rows if row["seen"].startswith("PL")]
    assert len(rows) == 2
    found = designator_class("PL")
    assert found is not None
    assert {"inductor", "connector"} <= set(found.roles)


@pytest.mark.parametrize("letters", ["", "QQQ", "VLED", "_", "NONO_HANA", "Ω", "A" * 5000])
def test_unknown_letters_have_no_class(letters: str) -> None:
    assert designator_class(letters) is None


def test_table_is_clean() -> None:
    """Letters once each and in capitals, known roles, no role twice in a row."""
    table = designator_table()
    assert [one for one in table if not (one.isascii() and one.isupper())] == []
    for one in table.values():
        assert one.roles, one
        assert set(one.roles) <= set(ROLES), one
        assert max(Counter(one.roles).values()) == 1, one
        assert one.meaning, one


@given(st.text())
def test_any_text_can_be_split(text: str) -> None:
    """Nothing gets lost: letters and suffix are pieces of the text, in this order."""
    found = split_designator(text)
    assert text.startswith(found.letters)
    assert text.endswith(found.suffix)
    middle = text[len(found.letters) : len(text) - len(found.suffix)]
    if found.number is None:
        assert middle == ""
    else:
        assert int(middle.lstrip("@$")) == found.number
    designator_class(found.letters)


@given(st.from_regex(r"[A-Z]{1,4}", fullmatch=True), st.integers(0, 99999))
def test_ordinary_designators_come_back(letters: str, number: int) -> None:
    found = split_designator(f"{letters}{number}")
    assert (found.letters, found.number, found.suffix) == (letters, number, "")
