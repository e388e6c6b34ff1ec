# SPDX-License-Identifier: GPL-3.0-or-later
"""KiCad netlists typed by hand: the same small circuit in four forms."""

from __future__ import annotations

import pytest

from netgraph.errors import BoardFileError
from netgraph.formats.kicad_netlist import KicadNetlistReader, read_kicad_netlist
from netgraph.model import Board

D = """(export (version D)
  (design (source C:\\a\\b.sch) (tool "Eeschema 4") (sheet (number 1) (title_block (title))))
  (components
    (comp (ref R1) (value 10k) (footprint lib:R_0402)
      (fields (field (name MPN) "RC 0402") (field (name "Note") DNP))
      (libsource (lib dev) (part R)))
    (comp (ref U1) (value "chip (2)") (libsource (lib "") (part CHIP)))
    (comp (ref #PWR1) (value GND)))
  (libparts
    (libpart (lib dev) (part R) (aliases (alias R_US)) (pins (pin (num 1) (name ~) (type passive))
      (pin (num 2) (name ~) (type passive))))
    (libpart (lib "") (part CHIP) (pins (pin (num 1) (name VIN) (type power_in))
      (pin (num 9) (name NC) (type no_connect)))))
  (nets
    (net (code 1) (name +3V3) (node (ref R1) (pin 1)) (node (ref U1) (pin 1)))
    (net (code 2) (name "Net-(R1-Pad2)") (node (ref R1) (pin 2)) (node (ref #PWR1) (pin 1)))))
"""
E_FORM = (
    D.replace("(version D)", '(version "E")')
    .replace("(ref R1)", '(ref "R1")')
    .replace("(pin 1)", '(pin "1")')
)
XML = """<?xml version="1.0" encoding="UTF-8"?>
<export version="E">
  <design><tool>Eeschema (7.0.0)</tool></design>
  <components>
    <comp ref="R1"><value>10k</value><footprint>lib:R_0402</footprint>
      <fields><field name="MPN">RC 0402</field><field name="Note">DNP</field></fields>
      <libsource lib="dev" part="R"/></comp>
    <comp ref="U1"><value>chip (2)</value><libsource lib="" part="CHIP"/>
      <property name="dnp"/></comp>
  </components>
  <libparts>
    <libpart lib="dev" part="R"><pins><pin num="1" name="~" type="passive"/>
      <pin num="2" name="~" type="passive"/></pins></libpart>
    <libpart lib="" part="CHIP"><pins><pin num="1" name="VIN" type="power_in"/>
      <pin num="9" name="NC" type="no_connect"/></pins></libpart>
  </libparts>
  <nets>
    <net code="1" name="+3V3"><node ref="R1" pin="1"/><node ref="U1" pin="1"/></net>
    <net code="2" name="Net-(R1-Pad2)"><node ref="R1" pin="2"/></net>
  </nets>
</export>
"""
OLD = """# EESchema Netlist Version 1.1 created  12/11/2012 10:11:12
(
 ( /4FC6A7E8 R_0402  R1 10k {Lib=R}
  (    1 +3V3 )
  (    2 N-000012 )
 )
 ( /4FC6A7E9 $noname  U1 chip {Lib=CHIP}
  (    1 +3V3 )
  (    9 ? )
 )
)
*
{ Allowed footprints by component:
$component R1
 R?
}
"""


def read(text: str) -> Board:
    return read_kicad_netlist(text.encode())


def fault(text: str | bytes) -> BoardFileError:
    with pytest.raises(BoardFileError) as caught:
        read_kicad_netlist(text.encode() if isinstance(text, str) else text)
    assert "\n" not in caught.value.one_line()
    return caught.value


@pytest.mark.parametrize("text", [D, E_FORM, XML, OLD], ids=["D", "E", "XML", "old"])
def test_four_forms_of_one_circuit(text: str) -> None:
    board = read(text)
    assert KicadNetlistReader().sniff(text.encode()[:4096]) == 1.0
    assert [part.ref for part in board.parts] == ["R1", "U1"]
    assert board.part("R1").value == "10k"
    assert board.part("R1").package == "R_0402"
    assert board.part("U1").footprint == ""
    assert board.parts_on_net["+3V3"] == ("R1", "U1")
    assert [(pad.pin, pad.net) for pad in board.pads if pad.ref == "U1"] == [
        ("1", "+3V3"),
        ("9", None),
    ]
    assert "no-pad-places" in [one.code for one in board.not_known]


@pytest.mark.parametrize("text", [D, E_FORM, XML])
def test_fields_pin_names_types_and_marks(text: str) -> None:
    board = read(text)
    assert dict(board.part("R1").fields)["MPN"] == "RC 0402"
    assert not board.part("R1").fitted
    assert board.part("U1").fitted == (text is not XML)
    pads = {(pad.ref, pad.pin): pad for pad in board.pads}
    assert (pads["U1", "1"].pin_name, pads["U1", "1"].pin_type) == ("VIN", "power_in")
    assert pads["R1", "1"].pin_name == ""


def test_a_quote_inside_a_bare_word_and_a_bare_backslash_are_signs_like_others() -> None:
    board = read(D.replace("+3V3", '!MIX"B\\x'))
    assert board.has_net('!MIX"B\\x')


@pytest.mark.parametrize(
    ("text", "code", "line"),
    [
        (D.replace("(ref R1)", "", 1), "file-malformed", 4),
        (D.replace("(node (ref R1) (pin 2))", "(node (pin 2))"), "file-malformed", 16),
        (D[:700], "file-truncated", None),
        (D + ")", "file-malformed", 17),
        (D.replace("(version D)", "(version C)"), "format-unsupported", None),
        (OLD.replace("( /4FC6A7E8 R_0402  R1 10k", "( /4FC6A7E8 R1"), "file-malformed", 4),
        (OLD[:200], "file-truncated", None),
        ("(export (version D) (components) (nets))", "file-empty", None),
        (XML.replace("<nets>", "<nets><bad>"), "file-malformed", None),
        (XML[:300], "file-truncated", None),
        (XML.replace('<comp ref="R1">', "<comp>"), "file-malformed", 5),
    ],
)
def test_faults_are_told_with_their_place(text: str, code: str, line: int | None) -> None:
    error = fault(text)
    assert error.code == code, error.one_line()
    if line is not None:
        assert error.line == line


BOMB = (
    '<?xml version="1.0"?><!DOCTYPE export [<!ENTITY a "aaaaaaaaaa">'
    + "".join(
        f'<!ENTITY {c} "{("&" + p + ";") * 10}">' for p, c in zip("abcdefg", "bcdefgh", strict=True)
    )
    + ']><export version="E"><design><tool>&h;</tool></design></export>'
)
OUTSIDE = (
    '<?xml version="1.0"?><!DOCTYPE export [<!ENTITY x SYSTEM "file:///etc/hostname">]>'
    '<export version="E"><design><tool>&x;</tool></design></export>'
)


@pytest.mark.parametrize("text", [BOMB, OUTSIDE], ids=["bomb", "outside"])
def test_document_types_and_entities_are_refused(text: str) -> None:
    error = fault(text)
    assert error.code == "file-malformed"
    assert "refused" in error.message
    assert "Forbidden" not in error.message


@pytest.mark.parametrize(
    "text",
    ["(export " + "(a " * 300 + ")" * 301, "<export version='E'>" + "<a>" * 300 + "</a>" * 300],
)
def test_deep_nesting_names_its_limit(text: str) -> None:
    assert "MAX_DEPTH" in fault(text).one_line()


def test_an_open_bracket_is_told_where_it_opens() -> None:
    """The end of a node was forgotten in the middle; its bracket is taken by a later one."""
    error = fault(
        '(export (version "E")\n(components (comp (ref "C1")))\n(nets (net (name "A")\n'
        '  (node (ref "C1") (pin "1")\n  (node (ref "C2") (pin "1")))))\n'
    )
    assert (error.line, error.column, error.message) == (4, 3, "'(node' is not closed")


def test_a_pin_on_two_nets_makes_both_unclear() -> None:
    text = (
        '(export (version "E")(components (comp (ref "C1")))(nets'
        '(net (name "A")(node (ref "C1")(pin "1")))\n(net (name "B")(node (ref "C1")(pin "1")))))'
    )
    board = read_kicad_netlist(text.encode())
    assert board.unclear_nets == {"A", "B"}
    (warning,) = [one for one in board.warnings if one.code == "pin-on-two-nets"]
    assert (warning.line, warning.text) == (2, "C1.1 stands on A and B; both are kept")
    assert not board.knows_sides
