# SPDX-License-Identifier: GPL-3.0-or-later
"""What value does this text name: strict reading of markings, and finding it in a value text."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from netgraph.preferred import e_series

QuantityKind = Literal["resistance", "capacitance", "inductance"]
UNIT_NAMES: dict[QuantityKind, str] = {
    "resistance": "ohm",
    "capacitance": "farad",
    "inductance": "henry",
}


class QuantityError(ValueError):
    """A text that is no number of the wanted kind, or one that could mean two."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number found in a text: SI `value`, its `unit` ("ohm", "farad", "henry"), and the words."""

    value: float
    unit: str
    text: str


# --- Strict reading -----------------------------------------------------------------------------

_MICRO = "uUµμ"
_POWERS: dict[QuantityKind, dict[str, int]] = {
    # L = 1e-3 ohm is IEC 60062; E for "ohm" is common practice in some countries.
    "resistance": {"": 0, "R": 0, "r": 0, "E": 0, "L": -3, "m": -3, "k": 3, "K": 3}
    | {"M": 6, "G": 9, "T": 12},
    # R as a decimal mark means pF or uH: common practice of chip markings.
    "capacitance": {"R": -12, "p": -12, "P": -12, "n": -9, "N": -9, "m": -3, "F": 0, "": 0}
    | dict.fromkeys(_MICRO, -6),
    "inductance": {"R": -6, "n": -9, "N": -9, "m": -3, "H": 0, "": 0, "p": -12}
    | dict.fromkeys(_MICRO, -6),
}
_NUMBER = r"(?P<number>[0-9]{1,12}(?:[.,][0-9]{0,9})?|[.,][0-9]{1,9})"
_OHM = r"(?:Ω|\u2126|[oO][hH][mM][sS]?)"
_ORDINARY: dict[QuantityKind, re.Pattern[str]] = {
    "resistance": re.compile(
        rf"{_NUMBER} ?(?:(?P<prefix>[RrELmkKMGT])(?P<tolerance>[BCDFJ])?"
        rf"|(?P<p2>[mkKMGT]?) ?{_OHM}|(?P<p3>[mk])[Rr])"
    ),
    "capacitance": re.compile(
        rf"{_NUMBER} ?(?:(?P<prefix>[pPnNm{_MICRO}])(?P<unit>[fF])?(?P<tolerance>[BCDGJKMZ])?"
        rf"|(?P<p2>)(?P<farad> ?F))"
    ),
    "inductance": re.compile(
        rf"{_NUMBER} ?(?:(?P<prefix>[pnNm{_MICRO}])(?P<unit>[hH])?(?P<tolerance>[BCDGJKMSZ])?"
        rf"|(?P<p2>)(?P<henry> ?H))"
    ),
}
_LETTER_AS_POINT: dict[QuantityKind, re.Pattern[str]] = {
    "resistance": re.compile(
        rf"(?P<whole>[0-9]{{0,4}})(?P<mark>[RrLmkKMGT])(?P<part>[0-9]{{1,4}})"
        rf"(?P<tolerance>[BCDFJ])?(?: ?(?P<unit>{_OHM}))?"
    ),
    "capacitance": re.compile(
        rf"(?P<whole>[0-9]{{0,4}})(?P<mark>[RpPnNmF{_MICRO}])(?P<part>[0-9]{{1,3}})"
        r"(?P<unit>[fF])?(?P<tolerance>[BCDGJKMZ])?"
    ),
    "inductance": re.compile(
        rf"(?P<whole>[0-9]{{0,4}})(?P<mark>[RnNmH{_MICRO}])(?P<part>[0-9]{{1,3}})"
        r"(?P<unit>[hH])?(?P<tolerance>[BCDGJKMSZ])?"
    ),
}
_DIGIT_CODE: dict[QuantityKind, re.Pattern[str]] = {
    "resistance": re.compile(r"(?P<digits>[1-9][0-9]{1,2})(?P<power>[0-7])[BCDFJ]?"),
    "capacitance": re.compile(r"(?P<digits>[1-9][0-9])(?P<power>[0-689])[BCDGJKMZ]?"),
    "inductance": re.compile(r"(?P<digits>[1-9][0-9])(?P<power>[0-5])[BCDGJKMSZ]?"),
}
_CODE_BASE: dict[QuantityKind, int] = {"resistance": 0, "capacitance": -12, "inductance": -6}
_PLAIN_OHM = re.compile(
    r"0|[1-9][0-9]?|[1-9][0-9]{4,7}|[0-9]{0,6}[.,][0-9]{1,6}|[1-9][0-9]{0,5}[.,]"
)
_MEGA = re.compile(r"(?<=[0-9 ])[mM][eE][gG]")
_THOUSANDS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")


def _scaled(number: str, power: int) -> float:
    """Decimal text times a power of ten, rounded once; a comma is a decimal mark."""
    if _THOUSANDS.fullmatch(number):
        raise QuantityError(f"{number!r}: the comma may group thousands or mark decimals")
    return float(f"{number.replace(',', '.')}e{power}")


def _ordinary(text: str, quantity: QuantityKind) -> float | None:
    if (found := _ORDINARY[quantity].fullmatch(text)) is None:
        return None
    if quantity == "capacitance" and re.fullmatch(r"[0-9]{3}F", text):
        raise QuantityError(f"{text!r}: farad, or a three-digit code with the tolerance letter F?")
    return _scaled(found["number"], _POWERS[quantity][found["prefix"] or _second(found)])


def _second(found: re.Match[str]) -> str:
    """The multiplier where the pattern has it before a unit; not every pattern has these."""
    groups = found.groupdict()
    return groups.get("p2") or groups.get("p3") or ""


def _letter_as_point(text: str, quantity: QuantityKind) -> float | None:
    if (found := _LETTER_AS_POINT[quantity].fullmatch(text)) is None:
        return None
    if len(found["part"]) > 3 and found["whole"]:
        raise QuantityError(f"{text!r}: too many digits behind the letter")
    return _scaled(f"{found['whole'] or 0}.{found['part']}", _POWERS[quantity][found["mark"]])


def _digit_code(text: str, quantity: QuantityKind) -> float | None:
    if quantity == "resistance" and re.fullmatch(r"0{1,4}", text):
        return 0.0
    if (found := _DIGIT_CODE[quantity].fullmatch(text)) is None:
        return None
    power = int(found["power"])
    if power >= 8:  # capacitors only: 8 is a hundredth, 9 a tenth
        power -= 10
    return _scaled(found["digits"], power + _CODE_BASE[quantity])


def parse_quantity(text: str, quantity: QuantityKind) -> float:
    """Read one part value or marking, all of it; return ohm, farad or henry.

    Understood are ordinary notations ("4.7 kΩ", "4,7k", "0.1µF"), letter codes of IEC 60062
    ("4k7", "R047", "n33"), and digit codes ("472", "4701", "104K"). Three or four bare digits on a
    resistor are a code; other bare numbers on a resistor are ohm. On capacitors and inductors a
    bare number is a three-digit code of picofarad or microhenry or nothing.

    Raises
    ------
    QuantityError
        The text is no such value, or could mean two (a comma before three digits, "104F").

    Examples
    --------
    >>> parse_quantity("4k7", "resistance"), parse_quantity("220", "resistance")
    (4700.0, 22.0)
    >>> parse_quantity("104", "capacitance"), parse_quantity("4R7", "inductance")
    (1e-07, 4.7e-06)
    """
    text = text.strip(" ")
    if quantity == "resistance":
        text = _MEGA.sub("M", text)
    for read in (_digit_code, _ordinary, _letter_as_point):
        if (value := read(text, quantity)) is not None:
            return value
    if quantity == "resistance" and _PLAIN_OHM.fullmatch(text):
        return _scaled(text, 0)
    raise QuantityError(f"{text!r} is no {quantity}")


# --- Finding a value in a text that people wrote --------------------------------------------------

CHIP_CODES = frozenset(
    re.findall(
        r"[0-9]+",
        "008004 009005 01005 015008 0201 0202 0204 0302 0306 0402 0404 0504 0505 0508 0603 0606 "
        "0612 0704 0705 0805 0806 1005 1008 1206 1207 1210 1218 1225 1410 1411 1608 1806 1808 1812 "
        "1825 2010 2012 2016 2211 2220 2225 2410 2512 2520 2816 2917 2920 3012 3216 3225 3228 3528 "
        "4020 4516 4527 4532 4564 5025 5750 6032 6332 6432 7343 7360",
    )
)
"""Two-terminal body sizes that turn up as bare numbers in value texts (common practice)."""

_MARKERS = frozenset(
    re.findall(
        r"[A-Z]+",
        "NA N A DNP DNI DNF DNM DNS NC NF NM NP NI R RES C CAP L IND SMD OPT",
    )
)
_FOREIGN = re.compile(
    r"(?:%|[kKmMµuμ]?(?:V|W|A|Hz|HZ|hz)(?:DC|AC|dc|ac)?|mm|mil|ppm|pcs|in|C|°C|K|deg)"
)
_BREAK = r"\s/_;|()\[\]{}@~*:=<>+±!?#&\"'`^$\\-"
_TOKEN = re.compile(
    rf"(?:[^,{_BREAK}]|(?<=[0-9]),(?=[0-9])(?![0-9.]* ?%))+"
)  # 4,7k is one piece, C,7k is two
_WORD = re.compile(r"[A-Za-z]{3,}")
_SIZED = re.compile(r"[RCLrcl]?([0-9]{4,6})")
_UNIT_END: dict[QuantityKind, re.Pattern[str]] = {
    "resistance": re.compile(rf".*{_OHM}"),
    "capacitance": re.compile(rf".*[pPnNm{_MICRO}][fF]"),
    "inductance": re.compile(rf".*[pnNm{_MICRO}][hH]"),
}
_LONGEST_TEXT = 4096
_LARGEST: dict[QuantityKind, float] = {"resistance": 1e10, "capacitance": 1e4, "inductance": 1e3}
"""Above it a find is a piece of a part number (our own choice)."""
_ELLIPSIS = re.compile(r"\.{2,}")
_BARE_OHM = re.compile(r"0|000|[1-9][0-9]{0,7}|[0-9]{1,6}\.[0-9]{1,4}")
_BARE_MILLI = re.compile(r"[0-9.,]* ?m[0-9]*")
# A capital letter in front is a designator, a screw or a package; R needs two digits or a 0.
_LIKE_A_DESIGNATOR = re.compile(r"[PNUFHKMGT][0-9]+|[Rr][1-9]")
_DIELECTRICS = frozenset({"X7R", "X5R", "X6S", "X7S", "NP0", "NPO", "C0G", "Y5V"})
_E24_DIGITS = frozenset(f"{round(10 * one)}" for one in e_series(24))


@dataclass(frozen=True, slots=True)
class _Token:
    """A piece of a value text and what stands between it and its neighbours."""

    text: str
    start: int
    end: int


def _tokens(text: str) -> list[_Token]:
    return [_Token(one[0].rstrip("."), one.start(), one.end()) for one in _TOKEN.finditer(text)]


def _read(text: str, quantity: QuantityKind) -> float | None:
    """A number with its unit or multiplier, or None; a bare number does not count."""
    if not re.search(r"[^0-9.,]", text) or len(text) > 24:
        return None
    if quantity != "inductance" and re.fullmatch(r"[0-9]+L[0-9]*|L[0-9]+", text):
        return None  # L for milliohm: on schematics it is far more often a coil's name
    if _BARE_MILLI.fullmatch(text):
        return None  # metres, or a careless mega
    if _LIKE_A_DESIGNATOR.fullmatch(text) or _is_size(text):
        return None
    if _DIGIT_CODE[quantity].fullmatch(text):
        return None
    try:
        value = parse_quantity(text, quantity)
    except QuantityError:
        return None
    return value if value <= _LARGEST[quantity] else None


def _is_size(text: str) -> bool:
    """Whether this is a package size, alone or behind its letter: "0402", "R0402"."""
    found = _SIZED.fullmatch(text)
    return found is not None and found[1] in CHIP_CODES


def _joined_by_hyphen(text: str, tokens: list[_Token], index: int) -> bool:
    """Whether the token is a piece of a part number such as "DR74-R33-R"."""
    token = tokens[index]
    before = text[tokens[index - 1].end : token.start] if index else text[: token.start]
    after = text[token.end : token.end + 1]
    if before == "-":
        last = tokens[index - 1].text if index else ""
        if last not in CHIP_CODES and last not in _MARKERS:
            return True
    if after == "-" and index + 1 < len(tokens):
        follower = tokens[index + 1].text
        return not (follower[:1].isdigit() or follower in _DIELECTRICS)
    return False


def _is_condition(text: str, token: _Token) -> bool:
    """Whether the token is a limit or a spread: behind "@", "<", ">", "±" or "+/-"."""
    before = text[: token.start].rstrip(" ")
    if before == "@":  # some drawings mark parts that are not fitted so
        return False
    return before[-1:] in {"@", "<", ">", "±", "≤", "≥"} or before.endswith(("+/-", "+-"))


def find_quantity(text: str, quantity: QuantityKind) -> Quantity | None:
    """The first value of the wanted kind in a value text as people write it on schematics.

    A value needs its unit or multiplier ("10uF/6.3V/0603", "NA(10k)", "C_4u7_0603"). A bare number
    counts only in front: on a resistor as ohm ("330" is 330 ohm here), on a capacitor only as a
    three-digit code with E24 digits and a multiplier that is not 0 ("104"; "330" could be 33 pF or
    330 pF). Package sizes, volts, tolerances and frequencies are not taken, nor pieces of part
    numbers. A text that merely repeats the designator ("R47") must be kept away by the caller.

    Examples
    --------
    >>> find_quantity("0402_100n", "capacitance")
    Quantity(value=1e-07, unit='farad', text='100n')
    >>> find_quantity("0402", "resistance") is None
    True
    """
    if len(text) > _LONGEST_TEXT:
        return None
    text = _ELLIPSIS.sub(lambda dots: " " * len(dots[0]), text)
    tokens = _tokens(text)
    for index, token in enumerate(tokens):
        if _is_condition(text, token):
            continue
        for words in _spellings(text, tokens, index):
            value = _read(words, quantity)
            if value is None:
                continue
            if _joined_by_hyphen(text, tokens, index) and not (
                index and _UNIT_END[quantity].fullmatch(words)
            ):
                continue
            return Quantity(value, UNIT_NAMES[quantity], words)
    return _find_bare(text, tokens, quantity)


def _spellings(text: str, tokens: list[_Token], index: int) -> list[str]:
    """The ways to read a token: with the unit that stands apart, as it is, out of "4x10k"."""
    words = tokens[index].text
    ways = [words]
    if index + 1 < len(tokens) and re.fullmatch(r"[0-9.,]+", words):
        follower = tokens[index + 1]
        between = text[tokens[index].end : follower.start]
        if between == " " or (between == "-" and re.fullmatch(_OHM, follower.text)):
            ways.insert(0, f"{words} {follower.text}")
    if several := re.fullmatch(r"[0-9]{1,2}[xX\u00d7](.+)|(.+)[xX\u00d7][0-9]{1,2}", words):
        ways.append(several[1] or several[2])
    if "," in words:
        ways.append(words.partition(",")[0])
    return ways


def _find_bare(text: str, tokens: list[_Token], quantity: QuantityKind) -> Quantity | None:
    """A number without unit or multiplier in front of the text, markers and sizes passed over."""
    for index, token in enumerate(tokens):
        words = token.text
        if words.upper() in _MARKERS or _is_size(words):
            continue
        after = text[token.end : token.end + 1]
        follower = tokens[index + 1].text if index + 1 < len(tokens) else ""
        if text[token.start - 1 : token.start] == "-" or after == "-":
            return None
        if _FOREIGN.fullmatch(follower) or (after == "/" and re.match(r"[0-9]+(?:W|$)", follower)):
            return None
        if _WORD.fullmatch(follower) and follower.upper() not in _MARKERS:
            return None  # "4 Arrays"
        value: float | None = None
        if quantity == "resistance" and _BARE_OHM.fullmatch(words):
            value = float(words)
        if quantity == "capacitance" and re.fullmatch(r"[1-9][0-9][1-689][DGJKMZ]?", words):
            value = parse_quantity(words, quantity) if words[:2] in _E24_DIGITS else None
        return None if value is None else Quantity(value, UNIT_NAMES[quantity], words)
    return None


_RATING = re.compile(
    r"(?<![A-Za-z0-9.])(?<![0-9],)(?:(?P<whole>[0-9]{1,4})[Vv](?P<part>[0-9]{1,2})"
    r"|(?P<number>[0-9]{1,5}(?:[.,][0-9]{1,3})?|\.[0-9]{1,3}) ?(?P<scale>[kKm]?)[Vv]"
    r"(?:DC|AC|dc|ac|[4-8][JKMZ])?)(?![A-Za-z0-9])"  # "16V7K": 16 V, then dielectric, tolerance
)


def find_volts(text: str) -> tuple[float, ...]:
    """All voltages written in a value text, in volts, in their order.

    Examples
    --------
    >>> find_volts("10uF/6.3V/0603"), find_volts("2V5 50V"), find_volts("100n")
    ((6.3,), (2.5, 50.0), ())
    """
    found = []
    for one in _RATING.finditer(text[:_LONGEST_TEXT].replace("_", " ")):
        if one["whole"] is not None:
            found.append(float(f"{one['whole']}.{one['part']}"))
        else:
            power = {"": 0, "k": 3, "K": 3, "m": -3}[one["scale"]]
            found.append(float(f"{one['number'].replace(',', '.')}e{power}"))
    return tuple(found)
