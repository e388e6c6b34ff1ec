# SPDX-License-Identifier: GPL-3.0-or-later
"""Numbers in fixed columns, against a regular expression row by row."""

from __future__ import annotations

import re

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from netgraph.formats.fixed_columns import whole_numbers


@given(st.data(), st.integers(1, 7), st.booleans())
def test_whole_numbers_are_those_a_pattern_reads(
    data: st.DataObject, width: int, signed: bool
) -> None:
    """Full columns go another way than columns with blanks: both must give the same."""
    first = st.sampled_from("+-0123456789" if signed else "0123456789 ")
    rest = st.sampled_from(data.draw(st.sampled_from(["0123456789", "0123456789  "])))
    row = st.tuples(first, st.lists(rest, min_size=width, max_size=width)).map(
        lambda told: told[0] + "".join(told[1])
    )
    blank = st.just(" " * (width + 1))
    rows = data.draw(st.lists(row | blank if data.draw(st.booleans()) else row, min_size=1))
    cells = np.array([list(one.encode()) for one in rows], dtype=np.uint8)
    values, sound = whole_numbers(cells, signed=signed)
    for text, value, good in zip(rows, values.tolist(), sound.tolist(), strict=True):
        found = re.fullmatch(r" *([+-]?)([0-9]+) *" if signed else r" *()([0-9]+) *", text)
        if found is not None:
            assert (value, good) == (int(found[1] + found[2]), True)
        elif not signed:
            assert not good
