# SPDX-License-Identifier: GPL-3.0-or-later
"""Tiny boards typed by hand, one for each way in which a version writes a thing.

The forms are those of KiCad's own writers [kicad]; which version writes which is noted beside.
"""

from __future__ import annotations

import numpy as np
import pytest

from netgraph.formats.kicad_board import read_kicad_board
from netgraph.model import Board, NetTie

V6_LAYERS = (
    '(layers (0 "F.Cu" signal) (1 "In1.Cu" signal) (31 "B.Cu" signal) (44 "Edge.Cuts" user))'
)


def read(text: str) -> Board:
    return read_kicad_board(text.encode("utf-8"))


def board(
    *body: str, version: int = 20211014, layers: str = V6_LAYERS, nets: str | None = None
) -> Board:
    table = '(net 0 "") (net 1 "A") (net 2 "B")' if nets is None else nets
    return read(f"(kicad_pcb (version {version}) {layers} {table} {' '.join(body)})")


def footprint(*body: str, ref: str = "R1", at: str = "0 0", layer: str = "F.Cu") -> str:
    pads = " ".join(body) or PAD
    return (
        f'(footprint "L:N" (layer "{layer}") (at {at}) (fp_text reference "{ref}" (at 0 0))'
        f' (fp_text value "10k" (at 0 0)) {pads})'
    )


PAD = '(pad "1" smd rect (at 1 2) (size 1 0.5) (layers "F.Cu") (net 1 "A"))'


def test_version_4_to_5_modules_bare_words_and_the_users_own_layer_names() -> None:
    """KiCad 4 and 5: `module`, unquoted names, layers by number, not by name."""
    b = read(
        """(kicad_pcb (version 4) (host pcbnew "(2015-08-18 BZR 6102)-product")
  (general (nets 3) (modules 2))
  (layers (0 C1F signal) (1 C2 signal) (31 C4B signal) (44 Edge.Cuts user))
  (net 0 "") (net 1 !MIX_BYPASS) (net 2 /x/~WR~)
  (net_class Power "text" (clearance 0.2) (add_net !MIX_BYPASS))
  (module lib:R_0402 (layer C1F) (tedit 5) (tstamp 6) (at 10 20 90)
    (fp_text reference R1 (at 0 0) (layer F.SilkS)) (fp_text value 10k (at 0 0) hide)
    (fp_text user R1 (at 0 0))
    (pad 1 smd rect (at 1 0 90) (size 1 2) (layers C1F F.Paste) (net 1 !MIX_BYPASS))
    (pad 2 thru_hole oval (at 0 1 90) (size 1 2) (drill oval 0.5 0.9) (layers *.Cu *.Mask)
      (net 2 /x/~WR~)))
  (module X (layer C4B) (at 0 0) (fp_text reference Q1 (at 0 0)) (fp_text value NPN (at 0 0))
    (pad 1 smd rect (at 0 0) (size 1 1) (layers C4B) (net 1 !MIX_BYPASS))
    (pad 2 smd rect (at 0 0) (size 1 1) (layers C2))
    (pad 3 smd rect (at 0 0) (size 1 1) (layers F.Paste))
    (pad "" np_thru_hole circle (at 0 0) (size 1 1) (drill 1) (layers *.Cu *.Mask))))"""
    )
    assert b.source.version == "4"
    assert b.source.generator == "pcbnew (2015-08-18 BZR 6102)-product"
    assert b.warnings == ()
    assert b.copper_layers == ("C1F", "C2", "C4B")
    assert [(net.name, net.net_class) for net in b.nets] == [
        ("!MIX_BYPASS", "Power"),
        ("/x/~WR~", ""),
    ]
    r1, q1 = b.parts
    assert (r1.ref, r1.value, r1.footprint, r1.package) == ("R1", "10k", "lib:R_0402", "R_0402")
    assert (r1.side, q1.side) == ("top", "bottom")
    one, two = (b.pad(index) for index in b.pad_range(r1))
    # the formula for 90 degrees, y down: (1, 0) turns to (0, -1), (0, 1) to (1, 0)
    assert (one.x_nm, one.y_nm) == (10_000_000, 19_000_000)
    assert (two.x_nm, two.y_nm) == (11_000_000, 20_000_000)
    assert (two.kind, two.shape, two.drill_nm, two.angle_deg) == ("through", "oval", 900_000, 90.0)
    assert [b.pad(index).copper_side for index in b.pad_range(q1)] == [
        "bottom",
        "inner",
        "none",
        "both",
    ]
    assert b.pad(5).kind == "hole"


def test_version_6_footprints_with_pin_names_and_types() -> None:
    b = board(
        footprint(
            '(property "MPN" "X-1") (attr smd exclude_from_bom) (descr "d") (tags "t u")',
            '(pad "1" smd roundrect (at 0 0) (size 1 1) (layers "F.Cu" "F.Paste") '
            '(roundrect_rratio 0.25) (net 1 "A") (pinfunction "VIN") '
            '(pintype "power_in+no_connect") (tstamp 5))',
        )
    )
    part, pad = b.parts[0], b.pad(0)
    assert part.fields == (("MPN", "X-1"),)
    assert part.attributes == ("smd", "exclude_from_bom")
    assert part.tags == "t u"
    assert (pad.pin_name, pad.pin_type, pad.shape) == ("VIN", "power_in", "roundrect")
    assert {"has_pin_names", "has_pin_types", "has_positions", "has_dnp"} <= b.capabilities


def test_version_8_fields_hold_reference_and_value() -> None:
    b = board(
        '(footprint "L:N" (layer "B.Cu") (uuid "u") (at 1 1) '
        '(property "Reference" "C7" (at 0 0) (layer "B.SilkS")) '
        '(property "Value" "1u" (at 0 0)) (property "DNP" "no" (hide yes)) (attr smd dnp) '
        '(pad "1" smd rect (at 0 0) (size 1 1) (layers "B.Cu") (net 1 "A") (uuid "v")))',
        version=20240108,
    )
    part = b.parts[0]
    assert (part.ref, part.value, part.side) == ("C7", "1u", "bottom")
    assert part.fields == (("DNP", "no"),)
    assert part.not_fitted_because == "attribute dnp"


def test_version_9_numbers_layers_anew_and_puts_the_pin_number_behind_its_name() -> None:
    pad = '(pad "7" smd rect (at 0 0) (size 1 1) (layers "{}") (net 1 "A") (pinfunction "GP_7"))'
    layers = '(layers (0 "F.Cu" signal) (4 "In1.Cu" signal) (2 "B.Cu" signal) (1 "F.Mask" user))'
    b = board(footprint(pad.format("B.Cu"), layer="B.Cu"), version=20241229, layers=layers)
    assert b.copper_layers == ("F.Cu", "In1.Cu", "B.Cu")
    assert (b.parts[0].side, b.pad(0).copper_side) == ("bottom", "bottom")
    assert b.pad(0).pin_name == "GP"
    # before version 9 such a name is the pin's own
    assert board(footprint(pad.format("F.Cu"))).pad(0).pin_name == "GP_7"


def test_version_10_has_nets_by_name_only() -> None:
    b = board(
        footprint(
            '(pad "1" smd rect (at 0 0) (size 1 1) (layers "F.Cu") (net "GND"))',
            '(pad "2" smd rect (at 0 0) (size 1 1) (layers "F.Cu") (net "5"))',
            '(pad "3" smd rect (at 0 0) (size 1 1) (layers "F.Cu"))',
            '(pad "4" smd rect (at 0 0) (size 1 1) (layers "F.Cu") (net ""))',
        ),
        '(segment (start 0 0) (end 1 0) (width 0.2) (layer "F.Cu") (net "GND"))',
        '(via (at 0 0) (size 0.6) (drill 0.3) (layers "F.Cu" "B.Cu") (net "nobody"))',
        version=20260206,
        nets="",
    )
    assert [pad.net for pad in b.pads] == ["GND", "5", None, None]
    assert b.copper.tracks.net.tolist() == [b.net("GND").index]
    assert b.copper.vias.net.tolist() == [-1]  # a net that no pad has


def test_a_quoted_number_is_a_name_and_a_bare_one_a_number_of_the_table() -> None:
    """A program of others writes version 10 with a table and bare numbers."""
    pads = (
        '(pad "1" smd rect (at 0 0) (size 1 1) (layers "F.Cu") (net 1))',
        '(pad "2" smd rect (at 0 0) (size 1 1) (layers "F.Cu") (net "1"))',
    )
    b = board(footprint(*pads), version=20260206)
    assert [pad.net for pad in b.pads] == ["A", "1"]


def test_the_table_wins_where_a_pad_names_another_net() -> None:
    pad = '(pad "{}" smd rect (at 0 0) (size 1 1) (layers "F.Cu") (net 1 "B"))'
    b = board(footprint(pad.format(1), pad.format(2)))
    assert [one.net for one in b.pads] == ["A", "A"]
    assert [(one.code, one.count, one.line) for one in b.warnings] == [("net-name-differs", 2, 1)]


def test_a_pin_on_two_nets_is_kept_and_told() -> None:
    other = PAD.replace('1 "A"', '2 "B"')
    b = board(footprint(PAD, other, PAD))
    assert [(pad.net, pad.ordinal) for pad in b.pads] == [("A", 0), ("B", 1), ("A", 2)]
    assert [(one.code, one.count) for one in b.warnings] == [("pin-on-two-nets", 1)]


@pytest.mark.parametrize(
    ("pad", "wanted"),
    [
        ('(pad 1 connect rect (at 0 0) (size 1 1) (layers "B.Cu"))', ("edge", "bottom", 0)),
        ("(pad 1 smd rect (at 0 0) (size 1 1) (layers F&B.Cu))", ("smd", "both", 0)),
        ("(pad 1 smd rect (at 0 0) (size 1 1) (layers *In.Cu))", ("smd", "inner", 0)),
        ("(pad 1 thru_hole rect (at 0 0) (size 1 1) (layers *.Cu))", ("through", "both", 0)),
        (
            "(pad 1 thru_hole rect (at 0 0) (size 1 1) (drill 0.5 (offset 1 0)) (layers *.Cu))",
            ("through", "both", 500_000),
        ),
        ('(pad 1 smd rect (layers "F.Cu") (size 1 1) (at 0 0))', ("smd", "top", 0)),
        ("(pad 1 smd rect locked (at 0 0) (size 1 1) (layers F.Cu))", ("smd", "top", 0)),
        ("( pad 1 smd rect ( at 0 0 ) ( size 1 1 ) ( layers F.Cu ) )", ("smd", "top", 0)),
        ("(pad 1 smd rect (at 0 0) (size 1 1) (layers))", ("smd", "none", 0)),
    ],
)
def test_kind_side_and_drill_of_a_pad(pad: str, wanted: tuple[str, str, int]) -> None:
    found = board(footprint(PAD, pad)).pad(1)
    assert (found.kind, found.copper_side, found.drill_nm) == wanted


def test_a_net_behind_other_nodes_is_not_missed() -> None:
    """Neither after a node that our quick pattern does not know, nor before the layers."""
    pads = (
        '(pad "1" smd rect (at 0 0) (size 1 1) (layers "F.Cu") (new "x" (y 1)) (net 1 "A"))',
        '(pad "2" smd rect (at 0 0) (size 1 1) (net 1 "A") (layers "F.Cu"))',
        '(pad "3" smd rect (at 0 0) (size 1 1) (layers "F.Cu") (pintype "x") (net 1 "A"))',
        '(pad "4" smd rect (at 0 0) (size 1 1) (layers "F.Cu") (pinfunction "(net 1)"))',
        '(pad "(net 2)" smd rect (at 0 0) (size 1 1) (layers "F.Cu") (net 1 "A"))',
    )
    assert [pad.net for pad in board(footprint(*pads)).pads] == ["A", "A", "A", None, "A"]


@pytest.mark.parametrize(
    ("nodes", "ties"),
    [
        ('(net_tie_pad_groups "1, 2" "3,4")', [("1", "2"), ("3", "4")]),
        ('(jumper_pad_groups ("1" "2") ("3" "A 1"))', [("1", "2"), ("3", "A 1")]),
        ('(tags "Net Tie 0805")', [("*",)]),
        ('(tags "resistor")', []),
    ],
)
def test_net_ties_of_all_versions(nodes: str, ties: list[tuple[str, ...]]) -> None:
    """Version 7: pad groups; version 10: jumper groups; before: the words in the tags."""
    assert board(footprint(nodes, PAD)).net_ties == tuple(NetTie("R1", pins) for pins in ties)


@pytest.mark.parametrize(
    ("nodes", "because"),
    [
        ("(attr smd dnp)", "attribute dnp"),
        ('(property "DNP" "")', 'field DNP ""'),
        ('(property "Config" "DNF")', 'field Config "DNF"'),
        ('(property "Populate" "0")', 'field Populate "0"'),
        ('(tags "DNP")', 'tags "DNP"'),
        ('(property "DNP" "0")', None),
        ("(attr smd exclude_from_bom)", None),
        ('(property "netgraph.not_fitted" "lifted")', "lifted"),
        ('(attr dnp) (property "netgraph.not_fitted" "")', None),
    ],
)
def test_marks_of_parts_that_are_not_fitted(nodes: str, because: str | None) -> None:
    part = board(footprint(nodes, PAD)).parts[0]
    assert part.not_fitted_because == because
    assert not any(key.startswith("netgraph") for key, _ in part.fields)


def test_our_own_property_with_a_foreign_text_stays_a_field() -> None:
    part = board(footprint('(property "netgraph.attributes" "[1]")', PAD)).parts[0]
    assert part.fields == (("netgraph.attributes", "[1]"),)


def test_repeated_and_empty_references_are_kept_apart() -> None:
    b = board(*(footprint(ref=ref) for ref in ("REF**", "REF**", "", "REF**@2", "REF**")))
    assert [part.id for part in b.parts] == ["REF**", "REF**@3", "", "REF**@2", "REF**@4"]
    assert [part.ref for part in b.parts].count("REF**") == 3


@pytest.mark.parametrize("start", [b"", b"\xef\xbb\xbf", b" \n\t", b"# made by hand (\n"])
@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r"])
def test_byte_order_mark_line_ends_and_comments_change_nothing(start: bytes, end: bytes) -> None:
    text = f'(kicad_pcb (version 20211014)\n{V6_LAYERS}\n(net 0 "")\n(net 1 "A")\n{footprint()}\n)'
    found = read_kicad_board(start + text.encode().replace(b"\n", end) + end)
    assert found.parts == read(text).parts
    assert found.fingerprint == read(text).fingerprint


def test_other_encodings_are_read_or_told() -> None:
    text = f'(kicad_pcb (version 4) {V6_LAYERS} (net 0 "") (net 1 "µ") ' + footprint(
        PAD.replace('"A"', '"µ"')
    )
    assert read_kicad_board((text + ")").encode("utf-16")).nets[0].name == "µ"
    old = read_kicad_board((text + ")").encode("cp1252"))
    assert old.nets[0].name == "µ"
    assert [one.code for one in old.warnings] == ["encoding"]


def test_a_blank_that_is_no_blank_in_a_bare_word() -> None:
    """Only ASCII blanks end a bare word [kicad-lexer]."""
    b = board(
        "(module X (layer F.Cu) (at 0 0) (fp_text reference R1 (at 0 0)) "
        "(pad 1 smd rect (at 0 0) (size 1 1) (layers F.Cu) (net 1 A\u00a0B)))",
        nets='(net 0 "") (net 1 A\u00a0B)',
    )
    assert b.nets[0].name == "A\u00a0B"


def test_arcs_vias_zones_and_outlines_of_old_and_new_files() -> None:
    old = board(
        footprint(),
        "(via (at 1 1) (size 0.6) (layers F.Cu B.Cu) (net 1))",
        "(gr_arc (start 0 0) (end 1 0) (angle 90) (layer Edge.Cuts) (width 0.1))",
        "(zone (net 1) (net_name A) (layer F.Cu) (hatch edge 0.5) (min_thickness 0.2) (fill yes)"
        " (polygon (pts (xy 0 0) (xy 1 0) (xy 1 1)))"
        " (filled_polygon (pts (xy 0 0) (xy 1 0) (xy 1 1))))",
        "(zone (net 0) (keepout (tracks allowed)) (layer F.Cu) (polygon (pts (xy 0 0))))",
        version=20171130,
    ).copper
    assert old.vias.drill.tolist() == [0]
    assert (old.zones[0].fills[0].layer, old.zones[0].fills[0].grow_nm) == (0, 100_000)
    assert old.skipped == {"keepout-zone": 1}
    # centre, start and angle; positive angles turn clockwise on the screen (y down)
    ends = old.outline[0].points[[0, 2]].tolist()
    assert ends == [[1_000_000, 0], [0, 1_000_000]]
    new = board(
        footprint(),
        '(arc (start 0 0) (mid 1 1) (end 2 0) (width 0.2) (layer "In1.Cu") (net 2))',
        '(via blind (at 1 1) (size 0.6) (drill 0.3) (layers "F.Cu" "In1.Cu") (net 1))',
        '(gr_rect (start 0 0) (end 1 2) (layer "Edge.Cuts") (width 0.1))',
        '(gr_line (start 0 0) (end 1 2) (layer "F.SilkS") (width 0.1))',
        '(zone (net 1) (net_name "A") (layers "F.Cu" "B.Cu") (hatch edge 0.5) (priority 3)'
        " (min_thickness 0.2) (filled_areas_thickness no) (fill yes)"
        " (polygon (pts (xy 0 0) (xy 1 0) (xy 1 1)))"
        ' (filled_polygon (layer "B.Cu") (pts (xy 0 0) (arc (start 1 0) (mid 2 1) (end 1 2)))))',
    ).copper
    assert (new.arcs.layer.tolist(), new.arcs.net.tolist()) == ([1], [1])
    assert (new.vias.first_layer.tolist(), new.vias.last_layer.tolist()) == ([0], [1])
    assert [shape.kind for shape in new.outline] == ["rect"]
    (fill,) = new.zones[0].fills
    assert (fill.layer, fill.grow_nm, new.zones[0].priority) == (2, 0, 3)
    radius = np.hypot(*(fill.points[1:] - [1_000_000, 1_000_000]).T)
    assert np.allclose(radius, 1e6, atol=1.0)  # all on the circle about (1, 1) mm


def test_fills_of_version_6_grow_where_the_zone_does_not_say_no() -> None:
    """Fills made by version 5 and saved by version 6 are still a pen's path [kicad]."""
    zone = (
        '(zone (net 1) (net_name "A") (layer "F.Cu") (hatch edge 0.5) (min_thickness 0.2) {}'
        ' (fill yes) (polygon (pts (xy 0 0))) (filled_polygon (layer "F.Cu") (pts (xy 0 0))))'
    )
    grown = board(footprint(), zone.format(""))
    exact = board(footprint(), zone.format("(filled_areas_thickness no)"))
    new = board(footprint(), zone.format(""), version=20221018)
    assert [b.copper.zones[0].fills[0].grow_nm for b in (grown, exact, new)] == [100_000, 0, 0]


def test_a_newer_version_is_read_with_a_warning() -> None:
    b = board(footprint(), version=20991231)
    assert [(one.code, one.line) for one in b.warnings] == [("version-newer", 1)]
