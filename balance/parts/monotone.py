"""Monotone piecewise-cubic curves through points, value and slope together.

A cubic Hermite curve whose slopes at the points are chosen so that it rises only where the points
rise and falls only where they fall: no overshoot between measured points, and a continuous slope
for Newton's method.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


class Sample(NamedTuple):
    """A law's value and its slope, arrays of one shape."""

    value: Floats
    slope: Floats


def slopes(x: Floats, y: Floats) -> Floats:
    """Return the slope of the monotone curve at each of its points.

    Parameters
    ----------
    x, y : (P,) arrays, P >= 2, x strictly increasing.

    Returns
    -------
    (P,) array, [y]/[x].

    Inside, the weighted harmonic mean of the two neighbouring secants, zero at a turning point;
    at the ends a three-point formula, limited so that the end piece stays monotone.

    Source: fritsch-butland-1984, equation (with the end formula of moler-2004, section 3.6).
    """
    step = np.diff(x)
    secant = np.diff(y) / step
    if len(secant) == 1:
        return np.repeat(secant, 2)
    before, after = secant[:-1], secant[1:]
    weight_before = 2.0 * step[1:] + step[:-1]
    weight_after = step[1:] + 2.0 * step[:-1]
    same_way = before * after > 0.0
    one = np.ones_like(before)
    mean = (weight_before + weight_after) / (
        weight_before / np.where(same_way, before, one)
        + weight_after / np.where(same_way, after, one)
    )
    inside = np.where(same_way, mean, 0.0)
    first = _end_slope(step[0], step[1], secant[0], secant[1])
    last = _end_slope(step[-1], step[-2], secant[-1], secant[-2])
    return np.concatenate(([first], inside, [last]))


def _end_slope(near_step: float, far_step: float, near: float, far: float) -> float:
    slope = ((2.0 * near_step + far_step) * near - near_step * far) / (near_step + far_step)
    if slope * near <= 0.0:
        return 0.0
    if near * far < 0.0 and abs(slope) > 3.0 * abs(near):
        return 3.0 * near
    return slope


def evaluate(x: Floats, y: Floats, slope: Floats, at: Floats) -> Sample:
    """Evaluate the cubic Hermite curve with the given slopes at its points.

    Parameters
    ----------
    x, y, slope : (P,) arrays, x strictly increasing, slope in [y]/[x].
    at : array of any shape, [x].

    Returns
    -------
    Sample of `at`'s shape. Outside the points the curve goes on as a straight line with the
    slope of its end, so value and slope are continuous everywhere.
    """
    inside = np.clip(at, x[0], x[-1])
    piece = np.clip(np.searchsorted(x, inside, side="right") - 1, 0, len(x) - 2)
    step = np.diff(x)
    secant = np.diff(y) / step
    quadratic = (3.0 * secant - 2.0 * slope[:-1] - slope[1:]) / step
    cubic = (slope[:-1] + slope[1:] - 2.0 * secant) / step**2
    along = inside - x[piece]
    c1, c2, c3 = slope[piece], quadratic[piece], cubic[piece]
    value = y[piece] + along * (c1 + along * (c2 + along * c3))
    rate = c1 + along * (2.0 * c2 + along * (3.0 * c3))
    return Sample(value + rate * (at - inside), rate)
