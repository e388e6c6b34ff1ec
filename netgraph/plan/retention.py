# SPDX-License-Identifier: GPL-3.0-or-later
"""What heat costs stored charge: an Arrhenius estimate, orders of magnitude and no more.

Studies disagree on whether removal by heat harms the read-out (bench practice 7), so the account
ranks plans and promises nothing. 1.1 eV is from memory.
"""

from __future__ import annotations

import math
from typing import Final

from netgraph.errors import UsageError

ACTIVATION_EV: Final = 1.1
BOLTZMANN_EV_PER_K: Final = 8.617333262e-5
"""CODATA 2018, exact by the definition of the kelvin and the elementary charge."""

STORED_AT_C: Final = 40.0
ZERO_C_IN_K: Final = 273.15
SECONDS_PER_YEAR: Final = 365.25 * 86400


def equivalent_years(
    temperature_c: float,
    seconds: float,
    *,
    stored_at_c: float = STORED_AT_C,
    activation_ev: float = ACTIVATION_EV,
) -> float:
    """Years at `stored_at_c` that age stored charge as much as `seconds` at `temperature_c`.

    ``t exp(Ea/k (1/T_store - 1/T))``: orders of magnitude.

    Raises
    ------
    UsageError
        A temperature at or below absolute zero, or a time below zero.

    >>> round(equivalent_years(245, 30), 1)
    9.6
    """
    hot, cool = temperature_c + ZERO_C_IN_K, stored_at_c + ZERO_C_IN_K
    if not (hot > 0 and cool > 0 and seconds >= 0):
        raise UsageError("temperatures lie above -273.15 °C, times are not negative")
    exponent = activation_ev / BOLTZMANN_EV_PER_K * (1 / cool - 1 / hot)
    return seconds / SECONDS_PER_YEAR * math.exp(exponent)


def about(years: float) -> str:
    """Years with one digit, since the estimate carries no more.

    >>> about(9.6), about(0.228), about(0.0004)
    ('about 10 years', 'about 0.2 years', 'hours')
    """
    if years < 1 / 365.25:
        return "hours"
    if years < 0.05:
        return f"about {max(1, round(years * 365.25))} days"
    digits = -math.floor(math.log10(years))
    return f"about {round(years, digits):g} years"
