# SPDX-License-Identifier: GPL-3.0-or-later
"""Voltages in the names of nets; the rules are common practice, most names stand on open boards."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netgraph.units import volts_in_name


@pytest.mark.parametrize(
    ("name", "volts"),
    [
        ("+3V3", 3.3),
        ("3.3V", 3.3),
        ("VDD_1V8", 1.8),
        ("+5V_USB", 5.0),
        ("1V35", 1.35),
        ("P1.1V", 1.1),
        ("CORE_0V95", 0.95),
        ("/LCD_5.0V", 5.0),
        ("VCC3V3", 3.3),
        ("1.1V_CPUX", 1.1),
        ("/eDP LCD/VDC18V", 18.0),
        ("/eDP LCD/A1.2V", 1.2),
        ("+3.3VD", 3.3),
        ("VDD_3V3AUX", 3.3),
        ("USB5VOTG", 5.0),
        ("-12V", -12.0),
        ("-5V_REF", -5.0),
        ("NEG_12V", -12.0),
        ("+5", 5.0),
        ("-12", -12.0),
        ("GND_5V_RET", 5.0),
        ("I2C1V8_SDA", 1.8),
        ("3V", 3.0),
        ("12V0", 12.0),
        ("5VIN", 5.0),
        ("VDD3.3", 3.3),
        ("VDD_1P8", 1.8),
        ("+V1P0S", 1.0),
        ("-V5.0", -5.0),
        ("V1P35S_PG", 1.35),
        ("VCC_VIS_V1P0", 1.0),
        ("+PS_3VSB_PG", 3.0),
        ("DDR3_1V5", 1.5),
        ("USB1_12V", 12.0),
        ("1P05V", 1.05),
        ("100mV_REF", 0.1),
        ("0V", 0.0),
        ("+3v3", 3.3),
        ("VCC-5V", 5.0),
        ("/power/1V8", 1.8),  # the last path segment
        ("3V3_A_3.3V", 3.3),  # twice the same
    ],
)
def test_volts_in_a_net_name(name: str, volts: float) -> None:
    assert volts_in_name(name) == volts


@pytest.mark.parametrize(
    "name",
    [
        *("", "VBAT", "USB2_DP", "V10", "GND", "VDD33", "Net-(U3-PadV11)", "Net-(U1A-GPIO0/3V3)"),
        *("/(U1.A8)AIN0~{1.8V}", "AIN5~3.3V", "/sheet/unconnected-(U5-VOUT_3V3-Pad2)", "3V3/EN"),
        *(
            "USB1VBUS",
            "BANK1VCCIO",
            "U2VCC",
            "CAM1V",
            "CAM1VA",
            "2VREF",
            "IO0VDD",
            "A0V",
            "0V0A5",
            "10MV",
        ),
        *("D5_0V_HDMI", "VDD_1_8V", "USB1_5V", "SUSCLK_3P3"),  # a decimal mark, or not
        *("5V_TO_3V3", "VCCQ_1V8/3V3", "3V3/5V"),  # two voltages
        *("5Vto24V", "VIN_MAX_36V", "VBUS_20V_MAX"),  # a range, limits
        "N12V",  # N may be a minus
        "M5V",
    ],
)
def test_net_names_without_a_sure_voltage(name: str) -> None:
    assert volts_in_name(name) is None


@given(st.one_of(st.text(), st.text(alphabet="+-0123456789VvPp.,_/~{}() ABDNMkm\u212a\u017f")))
def test_any_net_name_is_taken(name: str) -> None:
    volts = volts_in_name(name)
    assert volts is None or abs(volts) < 1e6


@given(st.integers(0, 99), st.integers(0, 99), st.sampled_from(["", "+", "VDD_", "VCC", "EN_"]))
def test_both_ways_to_write_a_voltage_agree(whole: int, part: int, prefix: str) -> None:
    """1V05 and 1.05V are one voltage."""
    letter = volts_in_name(f"{prefix}{whole}V{part:02d}")
    assert letter == volts_in_name(f"{prefix}{whole}.{part:02d}V")
    if whole or part:
        assert letter == float(f"{whole}.{part:02d}")
