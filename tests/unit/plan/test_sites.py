# SPDX-License-Identifier: GPL-3.0-or-later
"""Where two nets could meet: parts, pads, hidden places, tracks and vias (own rules)."""

from __future__ import annotations

import numpy as np
import pytest

from netgraph.errors import UnknownNameError
from netgraph.model import BoardBuilder, Copper
from netgraph.model.copper import Tracks, Vias
from netgraph.plan.sites import Site, path_sites
from netgraph.roles.answer import NetRole, PartRole, Roles
from tests.unit.plan.sketch import Sketch


def sites_of(sketch: Sketch, a: str, b: str | None = None) -> tuple[Site, ...]:
    board, roles, _ = sketch.done()
    return path_sites(board, roles, a, b)


def test_a_capacitor_on_both_nets_is_the_likeliest_part() -> None:
    s = Sketch().part("R1", "resistor", "V", "GND", ohm=1e4, at=(9, 9))
    s.part("C1", "capacitor", "V", "GND", at=(0, 9)).part("U1", "radio", "V", "GND", at=(5, 0))
    found = [one.refs[0] for one in sites_of(s, "V") if one.kind == "part"]
    assert found == ["C1", "U1", "R1"]


def test_a_ferrite_between_the_nets_joins_them_by_design() -> None:
    s = Sketch().part("FB1", "ferrite", "V", "W", at=(0, 9))
    first = sites_of(s, "V", "W")[0]
    assert (first.why.code, first.refs) == ("site-by-design", ("FB1",))


def test_pads_of_two_parts_within_half_a_millimetre_are_a_site() -> None:
    s = Sketch().part("R1", "resistor", "A", "X", pad_mm=0.6)
    s.part("R2", "resistor", "B", "Y", at=(0, 1.0), pad_mm=0.6)
    (site,) = sites_of(s, "A", "B")
    assert (site.kind, site.a.ref, site.b.ref) == ("pad-gap", "R1", "R2")
    assert site.gap_mm == pytest.approx(0.4)


def test_pads_further_apart_than_half_a_millimetre_are_none() -> None:
    s = Sketch().part("R1", "resistor", "A", "X", pad_mm=0.6)
    s.part("R2", "resistor", "B", "Y", at=(0, 1.11), pad_mm=0.6)
    assert sites_of(s, "A", "B") == ()


def test_pads_on_opposite_sides_are_no_site() -> None:
    builder = BoardBuilder("two sides")
    for ref, net, side in (("R1", "A", "top"), ("R2", "B", "bottom")):
        part = builder.add_part(ref, side=side)  # type: ignore[arg-type]
        builder.add_pad(part, "1", net, x_nm=1)
    roles = Roles(
        {ref: PartRole(ref, "resistor", 0.9) for ref in ("R1", "R2")},
        {net: NetRole(net, "signal", 0.9) for net in "AB"},
        frozenset({"R1", "R2"}),
    )
    assert path_sites(builder.freeze(), roles, "A", "B") == ()


def test_two_pads_of_one_chip_lie_under_its_package_and_rank_above_an_open_gap() -> None:
    s = Sketch().part("U1", "radio", "A", "B", "C", pitch_mm=1.0, pad_mm=0.6)
    s.part("R1", "resistor", "A", "X", at=(0, 20)).part("R2", "resistor", "B", "Y", at=(0, 21))
    hidden, seen = (one for one in sites_of(s, "A", "B") if one.kind != "part")
    assert (hidden.kind, seen.kind) == ("under-package", "pad-gap")
    assert hidden.likelihood > seen.likelihood


def test_pads_of_other_parts_inside_a_body_lie_under_it() -> None:
    s = Sketch().part("U1", "radio", "P", "Q", pitch_mm=6.0, at=(-3, 0))
    s.builder.rows.y_nm[-1] = 2_000_000
    s.part("R1", "resistor", "A", at=(0, 0.5), pad_mm=0.5)
    s.part("R2", "resistor", "B", at=(0, 1.3), pad_mm=0.5)
    (site,) = sites_of(s, "A", "B")
    assert (site.kind, site.refs) == ("under-package", ("R1", "R2", "U1"))


def test_turned_pads_are_measured_as_they_lie() -> None:
    """A 2 by 0.2 mm pad turned by 90 degrees reaches 1 mm up, not sideways."""
    s = Sketch().part("R1", "resistor", "A", at=(0, 0)).part("R2", "resistor", "B", at=(0, 1.3))
    rows = s.builder.rows
    rows.width_nm[0], rows.height_nm[0], rows.angle_deg[0] = 2_000_000, 200_000, 90.0
    rows.width_nm[1] = rows.height_nm[1] = 200_000
    (site,) = sites_of(s, "A", "B")
    assert site.gap_mm == pytest.approx(1.3 - 1.0 - 0.1, abs=1e-3)


def copper_board(gap_mm: float) -> Sketch:
    s = Sketch().part("R1", "resistor", "A", at=(-20, 0)).part("R2", "resistor", "B", at=(20, 0))
    y = int((gap_mm + 0.2 + 0.3) * 1e6)

    def copper() -> Copper:
        return Copper(
            tracks=Tracks(
                start=np.array([[0, 0]]),
                end=np.array([[5_000_000, 0]]),
                width=np.array([400_000]),
                layer=np.array([0]),
                net=np.array([0]),
            ),
            vias=Vias(
                at=np.array([[2_000_000, y]]),
                size=np.array([600_000]),
                drill=np.array([300_000]),
                first_layer=np.array([0]),
                last_layer=np.array([1]),
                net=np.array([1]),
            ),
        )

    s.builder.load_copper = copper
    return s


def test_a_via_beside_a_track_is_a_site_up_to_a_fifth_of_a_millimetre() -> None:
    (site,) = sites_of(copper_board(0.15), "A", "B")
    assert (site.kind, site.side) == ("via", "F.Cu")
    assert site.gap_mm == pytest.approx(0.15)
    assert sites_of(copper_board(0.21), "A", "B") == ()


def test_sites_are_sorted_and_scores_lie_between_0_and_1() -> None:
    s = Sketch().part("C1", "capacitor", "V", "GND").part("U1", "radio", "V", "GND", at=(5, 0))
    scores = [one.likelihood for one in sites_of(s, "V")]
    assert scores == sorted(scores, reverse=True)
    assert all(0 <= one <= 1 for one in scores)


def test_parts_that_are_not_fitted_are_no_part_site() -> None:
    s = Sketch().part("C1", "capacitor", "V", "GND", fitted=False, at=(1, 1), pitch_mm=3.0)
    s.part("C2", "capacitor", "V", "GND", at=(9, 1), pitch_mm=3.0)
    assert [one.refs for one in sites_of(s, "V")] == [("C2",)]


def test_json_has_the_fields_of_the_contract() -> None:
    s = Sketch().part("C1", "capacitor", "V", "GND", at=(1, 1))
    wanted = {"kind", "a", "b", "gap_mm", "refs", "likelihood", "why"}
    assert all(wanted <= one.as_json().keys() for one in sites_of(s, "V"))


def test_unknown_nets_are_refused() -> None:
    with pytest.raises(UnknownNameError):
        sites_of(Sketch().part("C1", "capacitor", "V", "GND"), "V", "W")
