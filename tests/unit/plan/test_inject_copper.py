# SPDX-License-Identifier: GPL-3.0-or-later
"""Points by the least copper: which pad, by which weights, and when copper says nothing."""

from __future__ import annotations

import numpy as np
import pytest

from netgraph.copper.sheet import track_amps
from netgraph.model.copper import Copper, Tracks, Zone
from netgraph.plan.inject import injection_plan
from netgraph.plan.inject_types import Injection
from tests.unit.copper_boards import nm
from tests.unit.plan.sketch import Sketch


def plan_of(
    *,
    width_mm: float = 0.2,
    cut: bool = False,
    unfilled: bool = False,
    can_copper: bool = True,
    **asked: object,
) -> Injection:
    """C1 to C5 along one track of V, 10 mm apart; `cut`: C5 hangs on none of it."""
    s = Sketch().rail("V", "entry", 3.3)
    for number in range(1, 6):
        s.part(f"C{number}", "capacitor", "V", "GND", farad=1e-6, at=(10.0 * number, 0.0))
    s.builder.capabilities = {"has_positions", "has_copper"} if can_copper else {"has_positions"}
    net = s.builder.add_net("V")
    ends = [(10.0 * number, 0.0) for number in range(1, 5 if cut else 6)]
    # Beside the row, so that the track does not run over the pads of ground.
    track = [(ends[0], (ends[0][0], 2.0)), ((ends[0][0], 2.0), (ends[-1][0], 2.0))]
    track += [((x, 2.0), (x, 0.0)) for x, _ in ends[1:]]
    count = len(track)
    zone = Zone(net, "", (0,), 0, nm([(0, 0), (1, 0), (1, 1)]), ())
    copper = Copper(
        Tracks(
            nm([one for one, _ in track]),
            nm([two for _, two in track]),
            np.full(count, round(width_mm * 1e6)),
            np.zeros(count, dtype=np.int64),
            np.full(count, net),
        ),
        zones=(zone,) if unfilled else (),
    )
    s.builder.load_copper = lambda: copper
    return injection_plan(*s.done(), "V", **asked)  # type: ignore[arg-type]


def test_the_middle_of_a_row_has_the_least_copper_to_all_of_it() -> None:
    plan = plan_of()
    order = [one.ref for one in plan.points]
    assert order[0] == "C3"
    assert set(order[1:3]) == {"C2", "C4"}
    assert set(order[3:]) == {"C1", "C5"}
    assert plan.points_by is not None
    assert plan.points_by.code == "points-by-copper"
    first = plan.points[0]
    assert first.milliohms is not None
    assert f"{first.milliohms} milliohm" in first.why.text
    # From C3: two ways of 10 mm and two of 20 mm of track in the mean of five (C3 itself: none),
    # and 2 mm down to the row and up again, less the pads' 0.3 mm.
    squares = (2 * 10 + 2 * 20) / 5 / 0.2 + 4 * (2 * 1.7) / 5 / 0.2
    assert first.milliohms == pytest.approx(0.4926 * squares, rel=0.01)


def test_weights_move_the_point() -> None:
    heavy = plan_of(weights={"C5": 10.0, "C1": 1.0})
    assert [one.ref for one in heavy.points][:2] == ["C5", "C4"]
    assert plan_of(weights={"C1": 1.0}).points[0].ref == "C1"


def test_weights_on_other_nets_alone_leave_the_order_to_access() -> None:
    plan = plan_of(weights={"Q77": 1.0})
    assert plan.points_by is not None
    assert plan.points_by.code == "copper-no-suspect"
    assert plan.points[0].milliohms is None


def test_a_pad_on_a_small_piece_of_copper_comes_last() -> None:
    plan = plan_of(cut=True)
    assert plan.points[-1].ref == "C5"
    assert plan.points[-1].milliohms == 0.0
    assert plan.points_by is not None
    assert plan.points_by.code == "points-by-copper-pieces"


def test_without_copper_access_orders_and_the_reason_is_said() -> None:
    for asked, code in (
        ({"can_copper": False}, "copper-no-format"),
        ({"unfilled": True}, "copper-unfilled"),
        ({"by_copper": False}, "points-by-access"),
    ):
        plan = plan_of(**asked)  # type: ignore[arg-type]
        assert plan.points_by is not None
        assert plan.points_by.code == code
        assert [one.milliohms for one in plan.points] == [None] * 5
        assert plan.max_amps == 0.5


def test_the_narrowest_track_lowers_the_current_and_never_raises_it() -> None:
    narrow = plan_of(width_mm=0.1)
    bears = track_amps(100_000, 35_000, outer=True)
    assert narrow.max_amps == pytest.approx(bears, abs=1e-3)
    assert narrow.max_amps <= bears
    assert "inject-narrow" in [one.code for one in narrow.warnings]
    wide = plan_of(width_mm=0.3)
    assert wide.max_amps == 0.5
    assert "inject-narrow" not in [one.code for one in wide.warnings]


def test_the_json_has_the_figures() -> None:
    answer = plan_of().as_json()
    assert answer["points_by"]["code"] == "points-by-copper"  # type: ignore[index]
    assert answer["points"][0]["milliohms"] > 0  # type: ignore[index]
