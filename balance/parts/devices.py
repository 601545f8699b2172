"""Devices with a loss that is measured, not computed: reactors, sterilisers, chillers, filters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balance.errors import BalanceError
from balance.parts import monotone
from balance.parts.monotone import Sample

Floats = NDArray[np.float64]

LEAST_START = 0.01  # slope of a curve at rest over that of its first chord
SMALL_FLOW = 1e-8  # m³/s (0.01 gph): below it a power law goes on as a straight line


@dataclass(frozen=True, eq=False)
class DeviceCurve:
    """A device's loss against flow through measured points, made by `device_curve`.

    `flow`, `head`, `slopes` : (P,) arrays, m³/s, m, m/(m³/s), from the origin on.
    """

    flow: Floats
    head: Floats
    slopes: Floats


def coefficient(*, head: float, flow: float, exponent: float) -> float:
    """Return c [m/(m³/s)^m] of the power law that loses `head` [m] at `flow` [m³/s].

    Raises BalanceError unless head is zero or above and flow and exponent are above zero.
    """
    if not (head >= 0.0 and flow > 0.0 and exponent > 0.0):
        raise BalanceError(
            "a device's drop needs a head of zero or more at a flow above zero, and an exponent "
            'above zero; write for example drop = "1.2 ft at 120 gph"'
        )
    return head / float(flow**exponent)


def power_law(flow: Floats, *, coefficient: Floats | float, exponent: Floats | float) -> Sample:
    """Return the head lost, c |q|^(m-1) q, and its slope.

    Parameters
    ----------
    flow : array, m³/s, of either sign; the law is odd in it.
    coefficient : c, m/(m³/s)^m, >= 0; broadcasts against `flow`.
    exponent : m, above zero; 1 is laminar (packed fine media), 2 turbulent (passages, orifices).

    Returns
    -------
    Sample of head [m] and slope [m/(m³/s)]. Below 1e-8 m³/s the law goes on as a straight line
    through the origin, so that the slope there is finite, and above zero, for any exponent.

    Source: common practice, no source; exponent 2 follows from darcy-weisbach at constant f.
    """
    size = np.abs(flow)
    chord = coefficient * np.maximum(size, SMALL_FLOW) ** (np.asarray(exponent) - 1.0)
    return Sample(chord * flow, np.where(size > SMALL_FLOW, exponent * chord, chord))


def device_curve(flow: Sequence[float] | Floats, head: Sequence[float] | Floats) -> DeviceCurve:
    """Make a device's curve from points, m³/s and m, both rising and above zero, two or more.

    The origin is added. Raises BalanceError where the points make no such curve.
    """
    q, h = np.array(flow, dtype=np.float64), np.array(head, dtype=np.float64)
    if q.ndim != 1 or q.shape != h.shape or len(q) < 2:
        raise BalanceError(
            "a device's points must be two or more, with one head for each flow; with one point, "
            'write drop = "1.2 ft at 120 gph"'
        )
    q, h = np.concatenate(([0.0], q)), np.concatenate(([0.0], h))
    if not (np.isfinite(q).all() and np.isfinite(h).all()):
        raise BalanceError("a device's points hold a number that is not finite")
    if (np.diff(q) <= 0.0).any() or (np.diff(h) <= 0.0).any():
        raise BalanceError(
            "a device's points must rise in flow and in head, from above zero; write them in "
            'order, for example points = ["0.3 ft at 60 gph", "1.2 ft at 120 gph"]'
        )
    slopes = monotone.slopes(q, h)
    # Turbulent points ask for a slope of zero at rest; a law keeps some, and so its inverse.
    slopes[0] = max(slopes[0], LEAST_START * h[1] / q[1])
    # Not flatter than the last stretch, so that loss goes on rising beyond the last point.
    slopes[-1] = max(slopes[-1], (h[-1] - h[-2]) / (q[-1] - q[-2]))
    return DeviceCurve(q, h, slopes)
