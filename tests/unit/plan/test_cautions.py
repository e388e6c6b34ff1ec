# SPDX-License-Identifier: GPL-3.0-or-later
"""Each kind of action carries the cautions bench practice asks for."""

from __future__ import annotations

import pytest

from netgraph.plan.cautions import CAUTIONS, cautions_for


@pytest.mark.parametrize(
    ("action", "code"),
    [
        ("inject", "caution-current"),
        ("inject", "caution-polarity"),
        ("image", "caution-no-fingers"),
        ("power", "caution-high-voltage"),
        ("lift", "caution-hot-tool"),
        ("lift", "caution-heat-data"),
        ("jumper", "caution-protection-gone"),
        ("clean", "caution-alcohol-fire"),
        ("dry", "caution-drying"),
        ("freeze", "caution-freeze"),
        ("measure", "caution-meter-off"),
        ("cell", "caution-cell-swollen"),
    ],
)
def test_an_action_carries_its_caution(action: str, code: str) -> None:
    assert code in [one.code for one in cautions_for(action)]


def test_every_powered_or_hot_action_says_that_the_cell_is_off() -> None:
    for action in CAUTIONS.keys() - {"freeze"}:
        assert "caution-cell" in [one.code for one in cautions_for(action)]


def test_an_unknown_action_gets_all_cautions() -> None:
    everything = {one for each in CAUTIONS.values() for one in each}
    assert set(cautions_for("something new")) == everything
