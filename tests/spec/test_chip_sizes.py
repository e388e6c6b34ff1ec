# SPDX-License-Identifier: GPL-3.0-or-later
"""Chip body sizes in both systems, as makers and sellers print them, and the codes in both."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netgraph.roles.package import chip_candidates, chip_size, pin_style
from netgraph.units import find_quantity, nm_from_mm_text
from tests.support import published


def _size_nm(row: dict[str, str]) -> tuple[int, int]:
    return nm_from_mm_text(row["length_mm"]), nm_from_mm_text(row["width_mm"])


def test_names_with_both_codes() -> None:
    """The metric word decides; so does a pair of codes that says the same thing twice."""
    table = published("chip_sizes")
    assert len(table.rows) == 16
    for row in table.rows:
        for name in (
            f"C_{row['imperial']}_{row['metric']}Metric",
            f"Lib:R_{row['imperial']}_{row['metric']}Metric_Pad1.05x0.95mm_HandSolder",
            f"LED_{row['imperial']}_{row['metric']}",
        ):
            found = chip_size(name)
            fits = found is not None and (found.length_nm, found.width_nm) == _size_nm(row)
            table.expect(row, fits, f"{name} read as {found}")


def test_codes_of_one_system_only() -> None:
    table, twice = published("chip_sizes"), published("chip_sizes_ambiguous")
    unsure = {row["code"] for row in twice.rows}
    for row in table.rows:
        for code in (row["imperial"], row["metric"]):
            for name in (code, f"R{code}", f"SMD_{code}", f"{code}-cap"):
                found = chip_size(name)
                if code in unsure:
                    twice.expect(row, found is None, f"{name} guessed as {found}")
                else:
                    fits = found is not None and (found.length_nm, found.width_nm) == _size_nm(row)
                    table.expect(row, fits, f"{name} read as {found}")


def test_codes_in_both_systems_name_two_bodies() -> None:
    """Without a hint: both; pads as far apart as the body is long tell which."""
    table = published("chip_sizes_ambiguous")
    assert len(table.rows) == 3
    for row in table.rows:
        bodies = {
            tuple(nm_from_mm_text(part) for part in row[column].split(" x "))
            for column in ("as_imperial_mm", "as_metric_mm")
        }
        found = {(one.length_nm, one.width_nm) for one in chip_candidates(f"C{row['code']}")}
        table.expect(row, found == bodies, f"candidates {found}")
        for length_nm, width_nm in bodies:
            size = chip_size(row["code"], pad_span_nm=length_nm)
            fits = size is not None and (size.length_nm, size.width_nm) == (length_nm, width_nm)
            table.expect(row, fits, f"pads {length_nm} nm apart: {size}")
        assert chip_size(row["code"], pad_span_nm=50_000_000) is None


@given(st.integers(0, 10_000_000))
def test_pads_never_fit_two_bodies(pad_span_nm: int) -> None:
    """The bodies differ by more than a factor of two, so the ranges must not meet."""
    for row in published("chip_sizes_ambiguous").rows:
        size = chip_size(row["code"], pad_span_nm=pad_span_nm)
        if size is not None:
            assert 0.6 < pad_span_nm / size.length_nm < 1.6


def test_package_codes_are_never_a_value() -> None:
    """A size alone is no resistance and no capacitance (0402 is not 402 ohm)."""
    table = published("chip_sizes")
    for row in table.rows:
        for code in (row["imperial"], row["metric"], f"R{row['imperial']}", f"C{row['metric']}"):
            if code.endswith("03015"):
                continue  # nobody writes that size as a value text
            for kind in ("resistance", "capacitance", "inductance"):
                found = find_quantity(code, kind)  # type: ignore[arg-type]
                table.expect(row, found is None, f"{code} taken for {found}")


@pytest.mark.parametrize(
    "name",
    [
        *("", "R_Array_Convex_4x0402", "MicroSD_1140084168", "L_6.3x4.5", "SOT-23-5", "P0926NL"),
        *("0402_0603", "C_0805_0402Metric", "C_1206_9999Metric", "0603_0402_0201", "0.0402"),
    ],
)
def test_names_without_a_chip_size(name: str) -> None:
    """Footprint names of the open boards, and codes that contradict each other."""
    assert chip_size(name) is None


@pytest.mark.parametrize(
    ("name", "style"),
    [
        ("C_0402_1005Metric", "chip"),
        ("R0603", "chip"),
        ("SMD_1210", "chip"),
        ("LED_0603", "led"),
        ("R_Array_Convex_4x0402", "array"),
        ("SOT-363_SC-70-6", "sot"),
        ("TSSOP-16_4.4x5mm_P0.65mm", "so"),
        ("SOIC-8_3.9x4.9mm_P1.27mm", "so"),
        ("SOP-8", "so"),
        ("PowerPAK_SO-8_Single", "dfn"),
        ("WSON-8-1EP_6x5mm_P1.27mm_EP3.4x4mm", "dfn"),
        ("QFN-48-1EP_7x7mm_P0.5mm_EP5.6x5.6mm", "qfn"),
        ("LQFP-144_20x20mm_P0.5mm", "qfp"),
        ("BGA-121_9.0x9.0mm_Layout11x11_P0.8mm", "bga"),
        ("WLCSP-12_1.56x1.56mm", "bga"),
        ("D_SOD-323", "diode"),
        ("D_SMA", "diode"),
        ("D_MiniMELF", "melf"),
        ("SOD80C-4148-KA", "melf"),
        ("CP_Elec_6.3x5.9", "electrolytic"),
        ("CP_Radial_D5.0mm_P2.00mm", "radial"),
        ("PinHeader_2x20_P2.54mm_Vertical", "header"),
        ("USB_C_Receptacle_HRO_TYPE-C-31-M-12", "connector"),
        ("TestPoint_Pad_D1.0mm", "testpoint"),
        ("MountingHole_2.7mm_M2.5", "hole"),
        ("Fiducial_0.5mm_Dia_1mm_Outer", "fiducial"),
        ("OSHW-Logo2_9.8x8mm_SilkScreen", "logo"),
        ("SolderJumper-2_P1.3mm_Bridged_RoundedPad1.0x1.5mm", "netlink"),
        ("NetTie-2_SMD_Pad0.5mm", "netlink"),
        ("compute-module-4-1.5mm", "module"),
        ("Crystal_SMD_3225-4Pin_3.2x2.5mm", "crystal"),
        ("TCMT1107", None),
        ("", None),
    ],
)
def test_pin_style_of_usual_footprint_names(name: str, style: str | None) -> None:
    """Names as open libraries and the open boards have them: common practice."""
    assert pin_style(name) == style


@given(st.text())
def test_any_name_is_taken(name: str) -> None:
    for candidate in chip_candidates(name):
        assert candidate.length_nm > 0
    assert pin_style(name) is None or pin_style(name)
