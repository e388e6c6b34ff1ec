# SPDX-License-Identifier: GPL-3.0-or-later
"""Random boards, made through the builder: odd names, odd angles, repeated references and pins."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st

from netgraph.model import Board, BoardBuilder, Copper
from netgraph.model.board import COPPER_SIDES, PAD_KINDS, PAD_SHAPES
from netgraph.model.copper import Arcs, Fill, OutlineShape, PadShape, Tracks, Vias, Zone

ODD = ['"', "\\", "(", ")", "#", ";", "'", "|", " ", "%", "{", "}", "~", "/", "µ", "Ω", "中", "🙂"]
TRICKY = [
    "#GND",
    'a"b',
    "back\\",
    "\\",
    '\\"',
    '"',
    "(net 5)",
    "5",
    "1E5",
    "nil",
    "007",
    "a b",
    "\\x41",
    "+3V3",
    "Net-(U1-Pad3)",
    "~{WR}",
    "a\\nb",
    "x\\\\",
    ") (pad",
    "á",
]

names = st.one_of(
    st.sampled_from(TRICKY),
    st.text(st.sampled_from("ABCxyz0129_-+./" + "".join(ODD)), min_size=1, max_size=12),
    st.text(
        st.characters(exclude_categories=("Cc", "Cs", "Zl", "Zp")),
        min_size=1,
        max_size=8,
    ),
)
"""Names of nets, pins and parts, without control characters."""

texts = st.one_of(
    st.just(""), names, st.sampled_from(["10k", "DNP", "100n NC", "a\nb", "\t", "\r"])
)
"""Values and fields; these may hold line breaks."""

references = st.one_of(st.sampled_from(["R1", "R1", "U1", "REF**", "", "C2", "R1@2", "NT1"]), names)
lengths = st.integers(-400_000_000, 400_000_000)
sizes = st.integers(1, 20_000_000)
angles = st.one_of(
    st.sampled_from([0.0, 90.0, 180.0, 270.0, -90.0, 45.0, 22.5, 300.0]),
    st.floats(-360.0, 360.0, allow_nan=False, allow_subnormal=False).map(lambda a: round(a, 6)),
)
attributes = st.lists(
    st.sampled_from(["smd", "through_hole", "virtual", "dnp", "exclude_from_bom", "board_only"]),
    max_size=3,
    unique=True,
).map(tuple)
marks = st.sampled_from([None, None, "attribute dnp", "lifted", 'value "DNP"', 'böse \\ "x"'])


@st.composite
def boards(draw: st.DrawFn, *, positions: bool = True, drawn: bool = True) -> Board:
    """A board with at least one connected pad; with `drawn` also some copper."""
    builder = BoardBuilder("random")
    builder.copper_layers = draw(
        st.sampled_from(
            [("F.Cu", "B.Cu"), ("F.Cu", "In1.Cu", "In2.Cu", "B.Cu"), ("Top", "A", "B", "Under")]
        )
    )
    nets = draw(st.lists(names, min_size=1, max_size=6, unique=True))
    for net in nets:
        builder.add_net(net)
    inner = len(builder.copper_layers) > 2
    place = lengths if positions else st.just(0)
    turn = angles if positions else st.just(0.0)
    for _ in range(draw(st.integers(1, 4))):
        part = builder.add_part(
            draw(references),
            value=draw(texts),
            footprint=draw(st.one_of(st.sampled_from(["R:R_0402", "NetTie:NetTie-2", ""]), names)),
            side=draw(st.sampled_from(["top", "bottom"])),
            x_nm=draw(place),
            y_nm=draw(place),
            angle_deg=draw(turn),
            not_fitted_because=draw(marks),
            attributes=draw(attributes),
            fields=tuple(draw(fields()).items()),
            tags=draw(st.one_of(st.just(""), st.sampled_from(["net tie", "DNP"]), names)),
        )
        pins = []
        for _ in range(draw(st.integers(0, 5))):
            pin = draw(st.one_of(st.sampled_from(["1", "2", "A1", ""]), names))
            pins.append(pin)
            builder.add_pad(
                part,
                pin,
                draw(st.sampled_from([None, *nets])),
                x_nm=draw(place),
                y_nm=draw(place),
                angle_deg=draw(turn),
                width_nm=draw(sizes),
                height_nm=draw(sizes),
                drill_nm=draw(st.one_of(st.just(0), sizes)),
                copper_side=draw(
                    st.sampled_from([side for side in COPPER_SIDES if inner or side != "inner"])
                ),
                kind=draw(st.sampled_from(PAD_KINDS)),
                shape=draw(st.sampled_from(PAD_SHAPES)),
                pin_name=draw(st.one_of(st.just(""), names)),
                pin_type=draw(st.sampled_from(["", "power_in", "passive", "no_connect"])),
            )
        if pins and draw(st.booleans()):
            builder.add_net_tie(part, draw(st.lists(st.sampled_from(pins), max_size=3)))
    # at least one connected pad: a file without any is refused
    last = builder.add_part("X1", x_nm=1 if positions else 0)
    builder.add_pad(last, "1", nets[0], x_nm=5 if positions else 0)
    if drawn:
        copper = draw(coppers(len(builder.copper_layers), len(nets), len(builder.rows.part) - 1))
        builder.load_copper = lambda: copper
    return builder.freeze()


def fields() -> st.SearchStrategy[dict[str, str]]:
    """Field name -> text; Reference and Value are no fields."""
    keys = names.filter(lambda key: key not in ("Reference", "Value"))
    return st.dictionaries(
        st.one_of(st.sampled_from(["MPN", "dnp", "Config", "Populate"]), keys), texts, max_size=3
    )


@st.composite
def coppers(draw: st.DrawFn, layers: int, nets: int, plain_pad: int) -> Copper:
    """A few tracks, arcs, vias, zones, one custom pad shape and an outline."""
    layer = st.integers(0, layers - 1)
    net = st.integers(-1, nets - 1)

    def table(columns: list[st.SearchStrategy[int]], most: int) -> np.ndarray:
        rows = draw(st.lists(st.tuples(*columns), max_size=most))
        return np.array(rows, dtype=np.int64).reshape(-1, len(columns))

    t = table([*[lengths] * 4, sizes, layer, net], 3)
    a = table([*[lengths] * 6, sizes, layer, net], 2)
    v = table([lengths, lengths, sizes, sizes, st.just(0), st.just(layers - 1), net], 3)
    rings = st.lists(st.tuples(lengths, lengths), min_size=3, max_size=5).map(
        lambda ring: np.array(ring, dtype=np.int64)
    )
    zones = []
    for _ in range(draw(st.integers(0, 2))):
        on = draw(st.lists(layer, min_size=1, max_size=layers, unique=True).map(sorted))
        grow = draw(st.sampled_from([0, 127_000]))
        zones.append(
            Zone(
                draw(net),
                draw(st.one_of(st.just(""), names)),
                tuple(on),
                draw(st.integers(0, 9)),
                draw(rings),
                tuple(Fill(draw(st.sampled_from(on)), draw(rings), grow) for _ in range(2)),
            )
        )
    shape = PadShape("polygon", draw(rings), 100_000, draw(st.booleans()))
    edge = OutlineShape("line", np.array([[0, 0], [draw(sizes), draw(sizes)]], dtype=np.int64))
    return Copper(
        Tracks(t[:, 0:2], t[:, 2:4], t[:, 4], t[:, 5], t[:, 6]),
        Arcs(a[:, 0:2], a[:, 2:4], a[:, 4:6], a[:, 6], a[:, 7], a[:, 8]),
        Vias(v[:, 0:2], v[:, 2], v[:, 3], v[:, 4], v[:, 5], v[:, 6]),
        tuple(zones),
        {plain_pad: (shape,)} if draw(st.booleans()) else {},
        (edge,),
    )
