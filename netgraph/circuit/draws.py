# SPDX-License-Identifier: GPL-3.0-or-later
"""From the spread of values to the spread of a reading: drawn boards, and what they would read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from netgraph.circuit.batch import Cases
from netgraph.circuit.instruments import Instrument
from netgraph.circuit.junction import FloatArray
from netgraph.circuit.network import Circuit

COVERAGE: Final = 0.9
DRAWS: Final = 399
"""Between the 20th lowest and the 20th highest of 399 lie exactly 90 % of what comes next, on
average; for one reading the share varies by 1.5 % from one set of draws to another."""


@dataclass(frozen=True, slots=True)
class Interval:
    """Least and most of a reading at 90 %; infinite means over range."""

    low: float
    high: float


def draw_scores(circuit: Circuit, count: int, random: np.random.Generator) -> FloatArray:
    """Shape (groups, count): how far each group of values lies from the usual, in deviations."""
    return normal_rows(circuit.groups, count, random)


def normal_rows(rows: int, count: int, random: np.random.Generator) -> FloatArray:
    """Shape (rows, count): in each row one normal number from each of `count` equal shares.

    A Latin hypercube: every row covers its range evenly, so that fewer draws do [lhs].
    """
    from scipy.special import ndtri

    order = np.argsort(random.random((rows, count)), axis=1)
    found: FloatArray = ndtri((order + random.random((rows, count))) / count)
    return found


def drawn_cases(circuit: Circuit, scores: FloatArray) -> Cases:
    """Boards of one design: each value moved by its own spread, rows of one group together.

    Conductances and saturation currents are log-normal around their value. Rows without a score
    (those of a fault) stay as they are.
    """
    count = scores.shape[1]
    room = circuit.groups - len(scores)
    z = np.concatenate([scores, np.zeros((room, count))]) if room > 0 else scores
    return Cases(
        count,
        (),
        np.exp(-circuit.branch_sd[:, None] * z[circuit.branch_group]),
        np.exp(circuit.junction_sd[:, None] * z[circuit.junction_group]),
        np.exp(-circuit.series_sd[:, None] * z[circuit.junction_group]),
    )


def as_read(values: FloatArray, one: Instrument, random: np.random.Generator) -> FloatArray:
    """True values as an instrument shows them: a share and a floor of spread of its own."""
    z = normal_rows(2, len(values), random)
    found = values.copy()
    good = np.isfinite(values)
    found[good] *= 1.0 + one.gain_sd * z[0, good]
    found[good] += one.least_sd * z[1, good]
    if one.kind != "diode":
        # No meter shows less than nothing here: the leads are the right way round.
        found = np.maximum(found, 0.0)
    return found


def interval(values: FloatArray, coverage: float = COVERAGE) -> Interval | None:
    """The interval between two of the sorted values that holds `coverage` of further ones.

    Values over range are infinite and count; cases without an answer (nan) don't. None where
    fewer than half have an answer.

    >>> interval(np.arange(1.0, 400.0))
    Interval(low=20.0, high=380.0)
    """
    known = np.sort(values[~np.isnan(values)])
    count = len(known)
    if count * 2 < len(values) or not count:
        return None
    # Between order statistics r and n + 1 - r lies a share (n + 1 - 2 r) / (n + 1), exactly.
    rank = max(round((1.0 - coverage) / 2.0 * (count + 1)), 1)
    low, high = float(known[rank - 1]), float(known[count - rank])
    # Where many draws share one value (0 A, over range) an end at it cuts off fewer than it may:
    # the other end cuts off the rest, else the interval would hold more than it says.
    below, above = int((known < low).sum()), int((known > high).sum())
    if below < rank - 1:
        high = max(low, float(known[count - 1 - min(2 * (rank - 1) - below, count - 1)]))
    elif above < rank - 1:
        low = min(high, float(known[min(2 * (rank - 1) - above, count - 1)]))
    return Interval(low, high)
