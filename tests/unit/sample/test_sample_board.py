# SPDX-License-Identifier: GPL-3.0-or-later
"""The sample board: same bytes on every run, sound geometry, coherent netlist.

Everything except the first test reads the committed file with kiutils (an independent reader) and
checks it with shapely; nothing of the generator is imported. Sources of the rules: the position
rule and the pad forms are those of the KiCad 6 board format; clearances are the board's own
(0.127 mm between copper items, 0.15 mm around filled areas).
"""

from __future__ import annotations

import hashlib
import math
import re
import subprocess
import sys
from collections import Counter, defaultdict
from functools import cache
from pathlib import Path
from typing import Any

import pytest

shapely = pytest.importorskip("shapely")
kiutils_board = pytest.importorskip("kiutils.board")

ROOT = Path(__file__).resolve().parents[3]
FILE = ROOT / "sample_boards" / "lark" / "lark.kicad_pcb"
ITEM_GAP = 0.127
FILL_GAP = 0.15
WIDTH, HEIGHT = 62.0, 44.0
OUTER = ("F.Cu", "B.Cu")
INNER = ("In1.Cu", "In2.Cu")
MAIN_RAILS = (
    "GND", "VBUS_IN", "VBUS", "VBAT_CELL", "VBAT", "VSYS", "3V3", "3V3_AUDIO", "3V3_RADIO", "1V8",
    "1V8_ALWAYS", "CORE_0V95", "MEM_1V1", "MEM_1V8", "ANALOG_2V8", "BACKLIGHT_19V",
)  # fmt: skip


@cache
def board() -> Any:
    return kiutils_board.Board.from_file(str(FILE), encoding="utf-8")


def text_of(footprint: Any, kind: str) -> str:
    return str(next(g.text for g in footprint.graphicItems if getattr(g, "type", "") == kind))


def ref(footprint: Any) -> str:
    return text_of(footprint, "reference")


def to_board(footprint: Any, x: float, y: float) -> tuple[float, float]:
    a = math.radians(footprint.position.angle or 0)
    return (
        footprint.position.X + x * math.cos(a) + y * math.sin(a),
        footprint.position.Y - x * math.sin(a) + y * math.cos(a),
    )


def pad_shape(footprint: Any, pad: Any) -> Any:
    """Copper of a pad on the board; the pad's angle is absolute."""
    x, y = to_board(footprint, pad.position.X, pad.position.Y)
    w, h = pad.size.X, pad.size.Y
    if pad.shape == "circle":
        return shapely.Point(x, y).buffer(w / 2, 32)
    if pad.shape == "roundrect":
        r = pad.roundrectRatio * min(w, h)
        shape = shapely.box(-w / 2 + r, -h / 2 + r, w / 2 - r, h / 2 - r).buffer(r, 16)
    else:
        assert pad.shape == "rect"
        shape = shapely.box(-w / 2, -h / 2, w / 2, h / 2)
    # Counter-clockwise on the screen is clockwise in a frame whose y runs down.
    turned = shapely.affinity.rotate(shape, -(pad.position.angle or 0), origin=(0, 0))
    return shapely.affinity.translate(turned, x, y)


def pad_layers(pad: Any) -> tuple[str, ...]:
    if "*.Cu" in pad.layers:
        return OUTER + INNER
    return tuple(n for n in pad.layers if n.endswith(".Cu"))


@cache
def copper() -> dict[str, list[tuple[str, str, Any]]]:
    """Layer to (net, what, shape) of all pads, tracks and vias; net "" for none."""
    names = {n.number: n.name for n in board().nets}
    out: dict[str, list[tuple[str, str, Any]]] = defaultdict(list)
    for footprint in board().footprints:
        for n, pad in enumerate(footprint.pads):
            # Pads without a net count as nets of their own.
            net = pad.net.name if pad.net else f"none {ref(footprint)} {n}"
            for layer in pad_layers(pad):
                label = f"pad {ref(footprint)}.{pad.number}"
                out[layer].append((net, label, pad_shape(footprint, pad)))
    for item in board().traceItems:
        if hasattr(item, "drill"):
            shape = shapely.Point(item.position.X, item.position.Y).buffer(item.size / 2, 32)
            for layer in OUTER + INNER:
                out[layer].append((names[item.net], "via", shape))
        else:
            line = shapely.LineString([(item.start.X, item.start.Y), (item.end.X, item.end.Y)])
            out[item.layer].append((names[item.net], "track", line.buffer(item.width / 2, 16)))
    return out


def rings(zone: Any) -> list[list[tuple[float, float]]]:
    return [[(p.X, p.Y) for p in poly.coordinates] for poly in zone.filledPolygons]


def filled(zone: Any) -> Any:
    return shapely.union_all([shapely.make_valid(shapely.Polygon(r)) for r in rings(zone)])


def courtyard(footprint: Any) -> Any:
    points = [
        to_board(footprint, item.start.X, item.start.Y)
        for item in footprint.graphicItems
        if getattr(item, "layer", "").endswith(".CrtYd")
    ]
    return shapely.MultiPoint(points).convex_hull


def test_same_bytes_when_made_again(tmp_path: Path) -> None:
    out = tmp_path / "lark.kicad_pcb"
    script = ROOT / "tools" / "make_sample_board.py"
    subprocess.run([sys.executable, str(script), "--out", str(out)], check=True)
    fresh = hashlib.sha256(out.read_bytes()).hexdigest()
    assert fresh == hashlib.sha256(FILE.read_bytes()).hexdigest()


def test_kiutils_reads_what_the_text_holds() -> None:
    text = FILE.read_text(encoding="utf-8")
    assert text.startswith("(kicad_pcb (version 20211014) (generator pcbnew)")
    counts = {
        "footprint": len(board().footprints),
        "pad": sum(len(f.pads) for f in board().footprints),
        "segment": sum(not hasattr(t, "drill") for t in board().traceItems),
        "via": sum(hasattr(t, "drill") for t in board().traceItems),
        "zone": len(board().zones),
        "filled_polygon": sum(len(z.filledPolygons) for z in board().zones),
    }
    assert counts == {w: len(re.findall(rf"^\s*\({w}\b", text, re.M)) for w in counts}
    stamps = re.findall(r"\(tstamp ([0-9a-f-]+)\)", text)
    assert len(stamps) == len(set(stamps))
    assert len(set(re.findall(r"\(tedit (\w+)\)", text))) == 1


def test_counts_in_range() -> None:
    letters = Counter(re.match(r"[A-Z]+", ref(f))[0] for f in board().footprints)  # type: ignore[index]
    assert 150 <= len(board().footprints) <= 250
    assert 130 <= len([n for n in board().nets if n.name]) <= 190
    assert 55 <= letters["C"] <= 80
    layers = Counter(f.layer for f in board().footprints)
    assert layers["F.Cu"] > 60
    assert layers["B.Cu"] > 60
    refs = [ref(f) for f in board().footprints]
    assert len(refs) == len(set(refs))


def test_parts_that_are_not_fitted_are_marked() -> None:
    marked = {
        ref(f) for f in board().footprints
        if re.search(r"\bDNP\b", text_of(f, "value")) or "DNP" in f.properties
    }  # fmt: skip
    assert len(marked) >= 3
    assert any(text_of(f, "value") == "DNP" for f in board().footprints)
    assert any("DNP" in f.properties for f in board().footprints)
    assert any(text_of(f, "value") == "10k DNP" for f in board().footprints)


def test_no_courtyards_overlap() -> None:
    for side in OUTER:
        parts = [f for f in board().footprints if f.layer == side]
        shapes = [courtyard(f) for f in parts]
        tree = shapely.STRtree(shapes)
        for n, shape in enumerate(shapes):
            for k in tree.query(shape):
                if k > n:
                    area = shape.intersection(shapes[k]).area
                    assert area < 1e-9, (ref(parts[n]), ref(parts[k]))


def test_parts_lie_inside_the_outline() -> None:
    edges = [g for g in board().graphicItems if getattr(g, "layer", "") == "Edge.Cuts"]
    xs = [p.X for g in edges for p in (g.start, g.end)]
    ys = [p.Y for g in edges for p in (g.start, g.end)]
    assert (max(xs) - min(xs), max(ys) - min(ys)) == (WIDTH, HEIGHT)
    ends = Counter((p.X, p.Y) for g in edges for p in (g.start, g.end))
    assert set(ends.values()) == {2}, "the outline is not closed"
    room = shapely.box(min(xs), min(ys), max(xs), max(ys)).buffer(-0.5 + 1e-6)
    for footprint in board().footprints:
        assert room.covers(courtyard(footprint)), ref(footprint)


@pytest.mark.parametrize("layer", OUTER + INNER)
def test_items_of_different_nets_keep_their_distance(layer: str) -> None:
    items = copper()[layer]
    shapes = [s for _, _, s in items]
    tree = shapely.STRtree(shapes)
    first, second = tree.query(shapes, predicate="dwithin", distance=ITEM_GAP - 1e-3)
    bad = [
        (items[a][:2], items[b][:2]) for a, b in zip(first, second, strict=True)
        if a < b and items[a][0] != items[b][0]
    ]  # fmt: skip
    assert not bad


def test_fills_keep_their_distance() -> None:
    seen = []
    for zone in board().zones:
        if not zone.filledPolygons:
            continue
        area = filled(zone)
        layer = zone.layers[0]
        shapely.prepare(area)
        for net, what, shape in copper()[layer]:
            if net != zone.netName:
                # Rings are on a 1 um grid and drawn round with chords on our side: 1 um of play.
                assert not area.dwithin(shape, FILL_GAP - 1e-3), (layer, zone.netName, net, what)
        for other_layer, other_net, other in seen:
            if other_layer == layer:
                far = area.distance(other)
                assert far >= FILL_GAP - 1e-3 or other_net == zone.netName, (layer, other_net)
        seen.append((layer, zone.netName, area))
    assert {(a, b) for a, b, _ in seen if a != "F.Cu" or b == "GND"} == {
        ("F.Cu", "GND"), ("In1.Cu", "GND"), ("B.Cu", "GND"), ("In2.Cu", "VSYS"), ("In2.Cu", "3V3"),
        ("In2.Cu", "1V8"), ("In2.Cu", "CORE_0V95"), ("In2.Cu", "MEM_1V1"),
    }  # fmt: skip
    # Local areas of the supplies on top: cell to charger, charger to VSYS, converters.
    assert {b for a, b, _ in seen if a == "F.Cu"} >= {"VBAT", "VBUS", "VSYS", "SW_CORE", "GND"}


def test_filled_rings_are_single_loops_of_one_winding() -> None:
    for zone in board().zones:
        for ring in rings(zone):
            signed = sum(
                a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, ring[1:] + ring[:1], strict=True)
            )
            # KiCad 6 triangulates positive rings only (found by its own connectivity count).
            assert signed > 0
            whole = shapely.make_valid(shapely.Polygon(ring))
            # A hole joined by a slit takes the same area off the ring and off the repaired shape.
            assert whole.area == pytest.approx(signed / 2, rel=1e-6, abs=1e-6)


def joined_groups(net: str) -> list[set[str]]:
    """Pads of a net grouped by touching copper on the drawn layers, planes included."""
    nodes: list[tuple[str, str, Any]] = []
    for layer, items in copper().items():
        nodes += [(layer, what, s) for n, what, s in items if n == net]
    for zone in board().zones:
        if zone.netName == net:
            nodes += [
                (zone.layers[0], "fill", shapely.make_valid(shapely.Polygon(r)))
                for r in rings(zone)
            ]
    parent = list(range(len(nodes)))

    def root(k: int) -> int:
        while parent[k] != k:
            parent[k] = parent[parent[k]]
            k = parent[k]
        return k

    by_place: dict[tuple[str, float, float], int] = {}
    for n, (layer, what, shape) in enumerate(nodes):
        if what == "via" or what.startswith("pad"):
            centre = shape.centroid
            key = (what, round(centre.x, 4), round(centre.y, 4))
            if key in by_place:
                parent[root(n)] = root(by_place[key])
            by_place[key] = n
        del layer
    shapes = [s for _, _, s in nodes]
    first, second = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    for a, b in zip(first, second, strict=True):
        if a < b and nodes[a][0] == nodes[b][0]:
            parent[root(a)] = root(b)
    groups: dict[int, set[str]] = defaultdict(set)
    for n, (_, what, _shape) in enumerate(nodes):
        if what.startswith("pad"):
            groups[root(n)].add(what)
    return list(groups.values())


@pytest.mark.parametrize("net", MAIN_RAILS)
def test_main_rails_are_whole(net: str) -> None:
    assert len(joined_groups(net)) == 1


def test_most_two_pad_signals_are_routed() -> None:
    pads: dict[str, int] = Counter(
        p.net.name for f in board().footprints for p in f.pads if p.net is not None
    )
    two = [n for n, k in pads.items() if k == 2]
    whole = [n for n in two if len(joined_groups(n)) == 1]
    assert len(two) > 60
    assert len(whole) >= 0.4 * len(two)


def test_supply_pins_have_shared_nets_and_enables_are_driven() -> None:
    members: dict[str, list[tuple[str, Any]]] = defaultdict(list)
    for footprint in board().footprints:
        for pad in footprint.pads:
            if pad.net is not None:
                members[pad.net.name].append((ref(footprint), pad))
    for name, pads in members.items():
        parts = {r for r, _ in pads}
        kinds = {p.pinType for _, p in pads}
        if kinds & {"power_in", "power_out"}:
            assert len(parts) >= 2, name
        if any(p.pinFunction in ("EN", "ON", "OE", "CE_N") for _, p in pads):
            assert len(parts) >= 2, name
        if not name.startswith("unconnected-"):
            assert len(pads) >= 2, name
        else:
            assert len(pads) == 1, name
    for footprint in board().footprints:
        if ref(footprint)[0] in "UJ" and not ref(footprint).startswith("JP"):
            for pad in footprint.pads:
                if pad.number:
                    told = (pad.net, pad.pinFunction, pad.pinType)
                    assert all(told), (ref(footprint), pad.number)


def test_converters_have_their_parts() -> None:
    """Each buck output: chip, inductor, output capacitor; the boost: inductor and diode."""
    nets: dict[str, set[str]] = defaultdict(set)
    for footprint in board().footprints:
        for pad in footprint.pads:
            if pad.net is not None:
                nets[pad.net.name].add(ref(footprint))
    for switch, output in (
        ("SW_CORE", "CORE_0V95"), ("SW_MEM", "MEM_1V1"), ("SW_1V8", "1V8"), ("SW_3V3", "3V3"),
        ("SW_CHG", "VSYS"), ("SW_CODEC", "CODEC_1V2"),
    ):  # fmt: skip
        coils = {r for r in nets[switch] & nets[output] if r.startswith("L")}
        assert len(coils) == 1, switch
        assert any(r.startswith("U") for r in nets[switch])
        assert any(r.startswith("C") for r in nets[output] & nets["GND"])
    assert any(r.startswith("L") for r in nets["SW_BACKLIGHT"] & nets["VSYS"])
    assert any(r.startswith("D") for r in nets["SW_BACKLIGHT"] & nets["BACKLIGHT_19V"])


def test_story_names_a_capacitor_of_the_boost_input() -> None:
    story = (FILE.parent / "README.md").read_text(encoding="utf-8")
    named = set(re.findall(r"\bC\d+\b", story))
    assert len(named) == 1
    (name,) = named
    part = next(f for f in board().footprints if ref(f) == name)
    assert {p.net.name for p in part.pads} == {"VSYS", "GND"}
    boost = next(f for f in board().footprints if text_of(f, "value") == "BOOST-LED")
    reach = math.dist((part.position.X, part.position.Y), (boost.position.X, boost.position.Y))
    assert reach < 5.0
