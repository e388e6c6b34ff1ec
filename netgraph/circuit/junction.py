# SPDX-License-Identifier: GPL-3.0-or-later
"""How does a junction conduct? Shockley's law with a resistance in series, and its slope.

With a series resistance the law is solved exactly by the Wright omega function, so that a junction
is one branch and needs no node of its own, and no current of it can overflow.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

VOLTS_PER_KELVIN: Final = 1.380649e-23 / 1.602176634e-19
"""k/q with the exact SI constants [si]."""
ROOM_KELVIN: Final = 300.0
"""Temperature at which the saturation currents of this room are stated [diode-law]."""
JUNCTION_VOLTS_PER_KELVIN: Final = -0.002
"""How a silicon junction at constant current moves with temperature [memory]: -1.6 to -2.3 mV/K."""
_LARGEST_EXPONENT: Final = 700.0
_KNEE_AMPS, _FOOT_AMPS = 1e-5, 1e-8
"""Where steps begin to be led by the current, up and down: fewest steps on real boards."""


def thermal_volts(kelvin: float) -> float:
    """kT/q in volts.

    >>> round(1000 * thermal_volts(300.0), 4)
    25.852
    """
    return VOLTS_PER_KELVIN * kelvin


def saturation_at(
    saturation: float, emission: float, kelvin: float, volts_per_kelvin: float
) -> float:
    """Saturation current at another temperature, so that the volts at 1 mA move as stated.

    Parameters
    ----------
    saturation, emission
        Amperes at 300 K, and the emission factor n.
    volts_per_kelvin
        Movement of the junction volts at 1 mA, negative for silicon.

    >>> round(1e15 * saturation_at(1e-14, 1.0, 310.0, -0.002), 1)
    47.9
    """
    if kelvin == ROOM_KELVIN:
        return saturation
    at_room = emission * thermal_volts(ROOM_KELVIN) * math.log(1e-3 / saturation)
    # Far above any bench a junction would turn negative: it is kept at next to nothing.
    volts = max(at_room + volts_per_kelvin * (kelvin - ROOM_KELVIN), 0.02)
    return 1e-3 * math.exp(-volts / (emission * thermal_volts(kelvin)))


def junction_current(
    volts: FloatArray,
    saturation: FloatArray,
    scale_volts: FloatArray,
    series_ohm: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Current from anode to cathode and its slope, for junctions all with or all without series R.

    Solves ``I = Is (exp((V - I R) / nVt) - 1)``.

    Parameters
    ----------
    volts
        Anode minus cathode; any shape that the others broadcast to.
    saturation, scale_volts, series_ohm
        Is > 0, n kT/q > 0, R >= 0.

    Returns
    -------
    Amperes and siemens, in the shape of `volts`.

    References
    ----------
    [omega] Lawrence, Corless, Jeffrey 2012: the Wright omega function w + ln w = z.
    """
    if np.all(series_ohm == 0):
        return plain_current(volts, saturation, scale_volts)
    knee = scale_volts / series_ohm
    level = knee * wright_omega(np.log(saturation / knee) + volts / scale_volts + saturation / knee)
    # `level` is I + Is; the slope follows from the law without cancellation.
    return level - saturation, level / (scale_volts + series_ohm * level)


def wright_omega(z: FloatArray) -> FloatArray:
    """The w > 0 with ``w + ln w = z``, for real z, to the last digits.

    Begun with the closed form of Iacono and Boyd 2017 for Lambert's W of exp(z), good to a percent,
    then two steps of fourth order by Fritsch, Shafer and Crowley 1973 [omega]. About four times
    faster on arrays than a library's function for complex arguments.

    >>> wright_omega(np.array([1.0, 1.0 + np.e])).round(12).tolist()
    [1.0, 2.718281828459]
    """
    x = np.exp(np.minimum(np.maximum(z, -_LARGEST_EXPONENT), 40.0))
    grown = np.where(z > 40.0, z, np.where(z < -3.0, x - 0.5 * x * x, np.log(1.0 + x)))
    w = grown * (1.0 - np.log(1.0 + grown) / (2.0 + grown))
    z = np.maximum(z, -_LARGEST_EXPONENT)
    for _ in range(2):
        rest = z - w - np.log(w)
        one = 1.0 + w
        two = one * (one + rest * (2.0 / 3.0))
        w = w * (1.0 + rest / one * (two - 0.5 * rest) / (two - rest))
    return w


def plain_current(
    volts: FloatArray, saturation: FloatArray, scale_volts: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Shockley's law without series resistance: amperes and siemens.

    >>> one = np.array([1.0])
    >>> amps, _ = plain_current(0.654790723 * one, 1e-14 * one, thermal_volts(300.0) * one)
    >>> round(float(amps[0]), 9)
    0.001
    """
    power = np.minimum(volts / scale_volts, _LARGEST_EXPONENT)
    return saturation * np.expm1(power), saturation / scale_volts * np.exp(power)


def limited_volts(
    wanted: FloatArray,
    last: FloatArray,
    amps: FloatArray,
    slope: FloatArray,
    saturation: FloatArray,
    scale_volts: FloatArray,
    series_ohm: FloatArray,
) -> FloatArray:
    """Junction volts for the next step of Newton's method, kept from running along the exponential.

    Above its knee a junction is led by its current: the straight line through the last point gives
    a current, and the law gives the volts for it [spice2]. Rising and falling steps of many n kT/q
    so become one each. Below the knee the volts are taken as they are.

    Parameters
    ----------
    wanted
        What the straight lines of all junctions together ask for.
    last, amps, slope
        Where those lines were laid, and the current and its slope there.
    """
    forward = np.maximum(amps + slope * (wanted - last), 0.0)
    # Used far above the saturation current only, where log1p would be slower and no better.
    led = forward * series_ohm + scale_volts * np.log(1.0 + forward / saturation)
    knee = scale_volts * np.log1p(_KNEE_AMPS / saturation)
    foot = scale_volts * np.log1p(_FOOT_AMPS / saturation)
    rising = (wanted > last) & (wanted > knee)
    falling = (wanted < last) & (last > foot) & (forward > 0)
    return np.where(rising, np.maximum(led, knee), np.where(falling, led, wanted))
