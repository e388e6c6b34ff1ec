# SPDX-License-Identifier: GPL-3.0-or-later
"""Numbers as people and files write them: value texts, numbers for people, millimetres.

The notations are common practice; texts marked with a board's name stand on that open board.
The published tables are held in tests/spec.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from math import isclose, isfinite

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from netgraph.units import (
    QuantityError,
    QuantityKind,
    find_quantity,
    find_volts,
    format_mm,
    format_quantity,
    mm_from_nm,
    mm_text,
    nm_from_mm_text,
    parse_quantity,
)

UNITS: dict[QuantityKind, str] = {
    "resistance": "ohm",
    "capacitance": "farad",
    "inductance": "henry",
}
kinds = st.sampled_from(list(UNITS))
value_texts = st.one_of(
    st.text(),
    st.text(alphabet="0123456789RKMkmunpFHVΩ.,/_-+@%() xX"),
    st.lists(
        st.sampled_from(["10k", "4k7", "100n", "0402", "6.3V", "1%", "R47", "330", *"@/_-(), "])
    ).map("".join),
)


@pytest.mark.parametrize(
    ("text", "ohm"),
    [
        ("22R/1%", 22),
        ("NA(10k)", 10e3),
        ("10k DNP", 10e3),
        ("600R/2A", 600),
        ("BLM..600R@100MHz", 600),
        ("FB0805/600R/2A", 600),  # teres_main_c
        ("600R, 0.5A", 600),  # orangecrab_r021
        ("0.01R 1%", 0.01),
        ("0.01R/1%/1206", 0.01),  # teres_main_c
        ("0R(Board_Mounted)", 0),  # teres_main_c
        ("(na)100K", 100e3),  # teres_main_c
        ("NA(243R/1%)", 243),  # teres_main_c
        ("RA1206_(4x0603)_4B8_100k", 100e3),  # teres_main_c
        ("R_R33_2512", 0.33),  # scalenode
        ("R_0R_1206", 0),  # scalenode
        ("R_41k2_0603", 41.2e3),  # scalenode
        ("475", 475),  # pico_ice_r2: not the code for 4.7 Mohm
        ("22.1K /1%", 22.1e3),  # teres_main_c
        ("10K 1%", 10e3),
        ("1M", 1e6),
        ("1Meg", 1e6),
        ("0", 0),
        ("330", 330),
        ("2k", 2e3),
        ("49.9", 49.9),
        ("0R0", 0),
        ("R0", 0),
        ("4,7k", 4.7e3),
        ("10k,1%", 10e3),
        ("4.7 kΩ 1%", 4.7e3),
        ("4.7\u2126", 4.7),
        ("10 kOhm", 10e3),
        ("5mR 2512", 5e-3),
        ("0402 330", 330),
        ("@10K_0402_5%", 10e3),
        ("0_0402_5%", 0),
        ("10K/F_4", 10e3),
        ("1/4W 10k", 10e3),
        ("4x10k", 10e3),
        ("4x1.5K_RA1206", 1.5e3),  # LCD-DRIVER
        ("RES,1K,+/-1%,1/16W,SMD0402", 1e3),  # parts list of pocketbeagle
        ("RES 4 Arrays,1K,+/-5%,1/16W,SMD0804(0402X4)", 1e3),  # the same
        ("FERRITE BEAD 120 OHM 0603 1LN", 120),  # the same
        ("R0402 330", 330),
        ("330,1%", 330),
        ("FERR-120-OHM-1.5A", 120),
    ],
)
def test_resistance_in_a_value_text(text: str, ohm: float) -> None:
    found = find_quantity(text, "resistance")
    assert found is not None
    assert (found.value, found.unit) == (ohm, "ohm")


@pytest.mark.parametrize(
    ("text", "farad"),
    [
        ("10uF/6.3V/0603", 10e-6),
        ("100nF_10%_X7R", 100e-9),
        ("2.2uF 25V", 2.2e-6),
        ("0402_100n", 100e-9),
        ("0402-100n", 100e-9),
        ("100NF/50V", 100e-9),
        ("12pF(NPO)", 12e-12),
        ("47u", 47e-6),
        ("1uF 10V 0402", 1e-6),
        ("C_1n_1210_2kV", 1e-9),  # scalenode
        ("C_220u_KEMET_B", 220e-6),  # scalenode
        ("u1", 100e-9),  # orangecrab_r021
        ("8p2", 8.2e-12),  # orangecrab_r021
        (".1uF, 6.3V", 100e-9),  # pocketbeagle
        ("104", 100e-9),
        ("104K 50V", 100e-9),
        ("0,1uF", 100e-9),
        ("8.2pF ±0.25pF", 8.2e-12),
        ("±0.25pF 8.2pF", 8.2e-12),
        ("0.1U_0402_16V7K", 100e-9),
        ("100 nF", 100e-9),
        ("CAP,1UF,+/-10%,X5R,6.3V,SMD0402", 1e-6),  # parts list of pocketbeagle
        ("Cap,100nF,10%,16V,X7R,0402", 100e-9),  # the same
    ],
)
def test_capacitance_in_a_value_text(text: str, farad: float) -> None:
    found = find_quantity(text, "capacitance")
    assert found is not None
    assert isclose(found.value, farad, rel_tol=1e-12)


@pytest.mark.parametrize(
    ("text", "henry"),
    [
        ("4.7uH 3A", 4.7e-6),
        ("3.3nH", 3.3e-9),
        ("4N7", 4.7e-9),
        ("4R7/2A", 4.7e-6),
        ("SWPA3015S1R5NT(1.5uH/2.30A/DCR<0.1R/CD32)", 1.5e-6),  # teres_main_c
        ("2.2UH-20%-3A", 2.2e-6),
    ],
)
def test_inductance_in_a_value_text(text: str, henry: float) -> None:
    found = find_quantity(text, "inductance")
    assert found is not None
    assert isclose(found.value, henry, rel_tol=1e-12)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("CL10A106", "capacitance"),
        ("330", "capacitance"),  # 33 pF or 330 pF
        ("0.1", "capacitance"),
        ("999", "capacitance"),  # 99 is no E24 value
        ("10m", "capacitance"),
        ("DNP", "capacitance"),
        ("P1", "capacitance"),
        ("LFE5U-25F-8MG285C", "capacitance"),  # orangecrab_r021, a part number
        ("0402", "resistance"),
        ("1210", "resistance"),
        ("NA/R0402", "resistance"),  # LCD-DRIVER
        ("RES 4 Arrays", "resistance"),
        ("NA(5025)", "resistance"),  # teres_main_c, a size
        ("0.1%", "resistance"),
        ("1/4W", "resistance"),
        ("10 V", "resistance"),
        ("100 MHz", "resistance"),
        ("100MHz", "resistance"),
        ("25ppm", "resistance"),
        ("DCR<0.1R", "resistance"),
        ("R5", "resistance"),
        ("5m", "resistance"),
        ("RC0603JR-0710K", "resistance"),
        ("97730256332R", "resistance"),  # scalenode, an order number
        ("1,000", "resistance"),
        ("BLM21PG221SN1D", "resistance"),  # pocketbeagle
        ("DR74-R33-R", "inductance"),  # scalenode
        ("HSMRH103R-220M", "inductance"),  # scalenode
        ("1N4148", "inductance"),
        ("2N7002", "inductance"),
        ("M3", "inductance"),
        ("", "inductance"),
    ],
)
def test_texts_without_a_sure_value(text: str, kind: QuantityKind) -> None:
    assert find_quantity(text, kind) is None


def test_the_same_text_on_a_part_and_on_a_drawing() -> None:
    """On a resistor's body 220 is a code (22 ohm); a drawing means 220 ohm."""
    found = find_quantity("220", "resistance")
    assert found is not None
    assert found.value == 220.0
    assert parse_quantity("220", "resistance") == 22.0


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("1,000", "resistance"),
        ("2,200uF", "capacitance"),
        ("104F", "capacitance"),
        ("4k1234", "resistance"),
        ("0402", "resistance"),
        ("229", "resistance"),
        ("10", "inductance"),
    ],
)
def test_texts_that_could_mean_two_things_are_refused(text: str, kind: QuantityKind) -> None:
    with pytest.raises(QuantityError):
        parse_quantity(text, kind)


def test_a_last_digit_of_8_or_9_divides() -> None:
    """Capacitor codes only (common practice); a resistor's code with them is refused."""
    assert parse_quantity("479", "capacitance") == 4.7e-12
    assert parse_quantity("478", "capacitance") == 0.47e-12
    with pytest.raises(QuantityError):
        parse_quantity("479", "resistance")


@pytest.mark.parametrize(
    ("text", "volts"),
    [
        ("10uF/6.3V", (6.3,)),
        ("2V5", (2.5,)),
        ("C_1n_1210_2kV", (2000.0,)),  # scalenode
        ("1n 50V C0G", (50.0,)),  # glasgow_c3
        ("0.1U_0402_16V7K", (16.0,)),
        ("10u 6V3 0402 10V", (6.3, 10.0)),
        ("Cap,100nF,10%,16V,X7R", (16.0,)),  # parts list of pocketbeagle
        ("100n", ()),
        ("X7R", ()),
        ("USB2V", ()),
    ],
)
def test_volts_in_a_value_text(text: str, volts: tuple[float, ...]) -> None:
    assert find_volts(text) == volts


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (4700, "ohm", "4.7 kΩ"),
        (1e-7, "farad", "100 nF"),
        (3.3, "volt", "3.3 V"),
        (0.0125, "A", "12.5 mA"),
        (0.0, "ohm", "0 Ω"),
        (-12.0, "V", "-12 V"),
        (999.9, "ohm", "1 kΩ"),
        (0.9996, "V", "1 V"),
        (4.7e-6, "henry", "4.7 µH"),
        (1e15, "ohm", "1000 TΩ"),
        (63.0, "°C", "63 °C"),
        (1234.0, "%", "1230 %"),
        (float("nan"), "V", "not a number V"),
        (float("inf"), "ohm", "infinite Ω"),
        (2.0, "", "2"),
    ],
)
def test_numbers_for_people(value: float, unit: str, text: str) -> None:
    assert format_quantity(value, unit) == text


@pytest.mark.parametrize(
    ("text", "length_nm"),
    [
        ("1.27", 1_270_000),
        ("0", 0),
        ("-0", 0),
        ("+.5", 500_000),
        ("5.", 5_000_000),
        ("0.0000005", 1),
        ("-0.0000005", -1),
        ("0.00000049999", 0),
        ("0.0000015", 2),
        ("1e-3", 1_000),
        ("12E1", 120_000_000),
        ("1e-999999999", 0),
        ("0e999999999", 0),
        ("2147.483647", 2_147_483_647),
        ("0.1000000", 100_000),
    ],
)
def test_millimetres_become_exact_nanometres(text: str, length_nm: int) -> None:
    assert nm_from_mm_text(text) == length_nm


@pytest.mark.parametrize(
    "text",
    [
        *("", " 1", "1 ", "1,5", ".", "+", "1e", "e5", "0x1", "nan", "inf", "1_0", "--1", "1\n"),
        *("\u0661", "1e999999999", "9" * 65, "1e14"),
    ],
)
def test_other_texts_are_no_length(text: str) -> None:
    with pytest.raises(QuantityError):
        nm_from_mm_text(text)


def test_lengths_for_people() -> None:
    assert format_mm(254_000) == "0.25 mm"
    assert format_mm(-4_000) == "0 mm"
    assert format_mm(10_000_000) == "10 mm"
    assert format_mm(1_234_567, decimals=3) == "1.235 mm"


@given(st.integers(-(2**31), 2**31))
def test_a_length_survives_its_text(length_nm: int) -> None:
    assert nm_from_mm_text(mm_text(length_nm)) == length_nm
    assert nm_from_mm_text(repr(mm_from_nm(length_nm))) == length_nm


@given(st.decimals(-10_000, 10_000, allow_nan=False, places=9))
@example(Decimal("0.0000005"))
def test_lengths_agree_with_decimal_arithmetic(length: Decimal) -> None:
    """Against the standard library's decimals; its half-up rounds away from zero."""
    expected = int((length * 1_000_000).quantize(Decimal(1), rounding=ROUND_HALF_UP))
    assert nm_from_mm_text(format(length, "f")) == expected


usual_values = st.one_of(
    st.tuples(st.just("resistance"), st.integers(1, 999), st.integers(-3, 6)),
    st.tuples(st.just("capacitance"), st.integers(1, 999), st.integers(-12, -4)),
    st.tuples(st.just("inductance"), st.integers(1, 999), st.integers(-9, -4)),
)


@given(usual_values)
def test_a_formatted_value_reads_back(one: tuple[QuantityKind, int, int]) -> None:
    """Any three digits: format, parse strictly, find in a longer text."""
    kind, digits, power = one
    value = float(f"{digits}e{power}")
    text = format_quantity(value, UNITS[kind])
    assert isclose(parse_quantity(text, kind), value, rel_tol=1e-12)
    found = find_quantity(f"0402 DNP {text} 1% 50V", kind)
    assert found is not None
    assert found.text == text
    assert isclose(found.value, value, rel_tol=1e-12)


@given(
    st.integers(0, 999),
    st.text(alphabet="0123456789", min_size=1, max_size=2),
    st.sampled_from(
        [
            ("resistance", letters, power)
            for letters, power in (("R", 0), ("k", 3), ("K", 3), ("M", 6))
        ]
        + [
            ("capacitance", letters, power)
            for letters, power in (("p", -12), ("n", -9), ("u", -6), ("\u00b5", -6), ("\u03bc", -6))
        ]
        + [("inductance", letters, power) for letters, power in (("n", -9), ("u", -6), ("R", -6))]
    ),
)
def test_a_letter_stands_for_the_decimal_point(
    whole: int, part: str, letter: tuple[QuantityKind, str, int]
) -> None:
    """The rule of IEC 60062, against decimal arithmetic; found alike in a text without a bare R."""
    kind, mark, power = letter
    text = f"{whole}{mark}{part}"
    expected = float(Decimal(f"{whole}.{part}").scaleb(power))
    assert parse_quantity(text, kind) == expected
    found = find_quantity(f"NA({text}/1%)", kind)
    assert found is not None
    assert found.value == expected


@given(value_texts, kinds)
def test_any_text_is_read_or_refused(text: str, kind: QuantityKind) -> None:
    """Nothing but QuantityError comes out, and no value that is not a finite number."""
    try:
        value = parse_quantity(text, kind)
    except QuantityError:
        pass
    else:
        assert isfinite(value)
        assert value >= 0.0
    found = find_quantity(text, kind)
    assert found is None or (isfinite(found.value) and found.value >= 0.0)
    assert all(isfinite(one) and one >= 0.0 for one in find_volts(text))


@given(st.floats(allow_nan=True), st.sampled_from(["ohm", "V", "%", "", "x"]), st.integers(1, 8))
def test_any_number_can_be_shown(value: float, unit: str, digits: int) -> None:
    text = format_quantity(value, unit, digits)
    assert text.isprintable()
    assert text
