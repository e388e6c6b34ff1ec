# SPDX-License-Identifier: GPL-3.0-or-later
"""How well a picture's points fit, and points from distances that were measured between them."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt
from typing import Final

import numpy as np

from netgraph.formats.photo_board import Affine, ScalePoint, scale_of
from netgraph.model.board import Side
from netgraph.reasons import Reason, reason

SAME_SHARE: Final = 0.01
SAME_MM: Final = 0.2
"""Two measurements of one distance may differ by so much: our own choice, a ruler's reading."""

STRETCHED: Final = 1.05
"""A picture taken 18 degrees aslant is as much shorter one way (cosine): our own choice."""

Pixel = tuple[float, float]


@dataclass(frozen=True)
class ScaleFit:
    """The scale of a picture and what speaks for it.

    `off_mm` is how far each point lies from where the scale puts it. Three points always fit
    exactly; from the fourth on it shows how well. `mm_per_px_least` and `mm_per_px_most` are the
    scale in the direction where it is smallest and largest: they are alike for a picture taken
    straight from above. `mirrored` tells that the picture's x axis runs against the board's.
    """

    affine: Affine
    off_mm: tuple[float, ...]
    mm_per_px_least: float
    mm_per_px_most: float
    mirrored: bool

    @property
    def worst_mm(self) -> float:
        """The largest of `off_mm`."""
        return max(self.off_mm)


def fit_scale(points: tuple[ScalePoint, ...]) -> ScaleFit:
    """The scale that these points give; see ``scale_of`` for its errors.

    Examples
    --------
    >>> corners = ScalePoint(0, 0, 0, 0), ScalePoint(100, 0, 10, 0), ScalePoint(0, 100, 0, 10)
    >>> fit = fit_scale(corners)
    >>> round(fit.mm_per_px_most, 6), fit.mirrored
    (0.1, False)
    """
    affine = scale_of(points)
    a, b, c, d, e, f = affine
    off = tuple(
        hypot(a * p.x_px + b * p.y_px + c - p.x_mm, d * p.x_px + e * p.y_px + f - p.y_mm)
        for p in points
    )
    most, least = np.linalg.svd(np.array([[a, b], [d, e]]), compute_uv=False).tolist()
    return ScaleFit(affine, off, least, most, a * e - b * d < 0)


def pixel_of_place(affine: Affine, x_mm: float, y_mm: float) -> Pixel:
    """Where a place of the board is seen on a picture: ``place_of_pixel`` turned round.

    Examples
    --------
    >>> pixel_of_place((0.5, 0.0, 1.0, 0.0, 0.25, 2.0), 3.0, 3.0)
    (4.0, 4.0)
    """
    a, b, c, d, e, f = affine
    size = a * e - b * d
    x, y = x_mm - c, y_mm - f
    return (e * x - b * y) / size, (a * y - d * x) / size


def scale_doubts(fit: ScaleFit, side: Side) -> tuple[Reason, ...]:
    """What speaks against a scale, or could be better about it."""
    found = []
    if fit.mirrored != (side == "bottom"):
        found.append(reason("photo-mirrored"))
    if fit.mm_per_px_most > STRETCHED * fit.mm_per_px_least:
        least, most = (f"{one:.3g}" for one in (fit.mm_per_px_least, fit.mm_per_px_most))
        found.append(reason("photo-stretched", least=least, most=most))
    if len(fit.off_mm) == 3:
        found.append(reason("photo-three-points"))
    return tuple(found)


def points_of_distances(
    pixels: tuple[Pixel, Pixel, Pixel],
    distances_mm: tuple[float, float, float],
    side: Side,
    other: tuple[ScalePoint, ...] = (),
) -> tuple[ScalePoint, ScalePoint, ScalePoint]:
    """Three points of known place from the distances first-second, second-third, third-first.

    Without `other` the first point is the board's zero and the board lies as in the picture. With
    the points of the other side's picture, its first three must be the same three holes in the
    same order; their places are taken over, so that both sides lie over each other.

    Raises
    ------
    ValueError
        The distances make no triangle, or are not those of the other side.
    """
    ab, bc, ca = distances_mm
    if min(distances_mm) <= 0 or 2 * max(distances_mm) >= sum(distances_mm):
        raise ValueError("these three distances make no triangle")
    if len(other) >= 3:
        for told, one, two in ((ab, 0, 1), (bc, 1, 2), (ca, 2, 0)):
            there = hypot(other[one].x_mm - other[two].x_mm, other[one].y_mm - other[two].y_mm)
            if abs(there - told) > max(SAME_MM, SAME_SHARE * there):
                raise ValueError(
                    f"the other side has {there:.4g} mm where {told:.4g} mm is said: "
                    "take the same three holes in the same order, or say coordinates"
                )
        places = [(one.x_mm, one.y_mm) for one in other[:3]]
    else:
        places = _triangle(pixels, (ab, bc, ca), side)
    first, second, third = (
        ScalePoint(px, py, x, y) for (px, py), (x, y) in zip(pixels, places, strict=True)
    )
    return first, second, third


def _triangle(
    pixels: tuple[Pixel, Pixel, Pixel], distances_mm: tuple[float, float, float], side: Side
) -> list[tuple[float, float]]:
    """Corners as seen from the top, the first at zero, turned as in the picture."""
    ab, bc, ca = distances_mm
    flip = -1.0 if side == "bottom" else 1.0
    (ax, ay), (bx, by), (cx, cy) = ((flip * x, y) for x, y in pixels)
    ux, uy = bx - ax, by - ay
    length = hypot(ux, uy)
    if not length:
        raise ValueError("two of the points are one")
    ux, uy = ux / length, uy / length
    along = (ab * ab + ca * ca - bc * bc) / (2 * ab)
    across = sqrt(max(ca * ca - along * along, 0.0))
    if ux * (cy - ay) - uy * (cx - ax) < 0:
        across = -across
    return [
        (0.0, 0.0),
        (ab * ux, ab * uy),
        (along * ux - across * uy, along * uy + across * ux),
    ]
