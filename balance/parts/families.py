"""Families: one pump measured at several speeds, and at any speed between and beyond them.

Each curve of a family is carried to the speed asked for by the affinity laws, and between two
measured speeds the two are weighed by their distance.  So a family is what was measured where it
was measured, and a single curve is a family of one.  Families are ordered by falling speed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from balance.parts import pumps
from balance.parts.pumps import GRAVITY, TEST_DENSITY, PumpCurve

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class CurvePoints:
    """A pump's curve and the speed (ratio to full) at which it was measured."""

    curve: PumpCurve
    speed: float


class Shares(NamedTuple):
    """Share of each curve in what a family gives, and its slope against speed; (curves, S)."""

    value: Floats
    slope: Floats


def shares(family: Sequence[CurvePoints], speed: Floats) -> Shares:
    """Return the share of each curve at some speeds.

    Parameters
    ----------
    speed : (S,) ratios to full speed.

    Returns
    -------
    Shares that add up to one: between two measured speeds those two in proportion to nearness, at
    the ends and beyond them the curve that is nearest.

    Source: our own choice.
    """
    at = np.array([points.speed for points in family])
    n = len(at)
    value, slope = np.zeros((n, len(speed))), np.zeros((n, len(speed)))
    if n == 1:
        value[:] = 1.0
        return Shares(value, slope)
    rising = at[::-1]
    above = np.clip(np.searchsorted(rising, speed), 1, n - 1)
    low, high = rising[above - 1], rising[above]
    inside = (speed > rising[0]) & (speed < rising[-1])
    share = np.clip((speed - low) / (high - low), 0.0, 1.0)
    columns = np.arange(len(speed))
    value[n - 1 - above, columns] = share
    value[n - above, columns] = 1.0 - share
    steep = np.where(inside, 1.0 / (high - low), 0.0)
    slope[n - 1 - above, columns] = steep
    slope[n - above, columns] = -steep
    return Shares(value, slope)


def head(family: Sequence[CurvePoints], flow: Floats, speed: float) -> Floats:
    """Return the head [m] of a family at flows (Q,) [m³/s] and one speed."""
    given = [
        share * pumps.head(points.curve, flow, speed / points.speed).value
        for points, share in _counting(family, speed)
    ]
    return np.asarray(sum(given))


def power(
    family: Sequence[CurvePoints],
    flow: ArrayLike,
    speed: Floats,
    *,
    density: float = TEST_DENSITY,
    strength: ArrayLike = 1.0,
) -> Floats | None:
    """Return the watts at the wire for flows, speeds and strengths (S,).

    None where no curve has power.
    """
    family = with_power(family)
    if not family:
        return None
    drawn = [
        # A curve measured at part speed gives its watts there: affinity from that speed.
        pumps.power(points.curve, flow, speed / points.speed, density=density, strength=strength)
        for points in family
    ]
    return np.asarray((shares(family, speed).value * np.array(drawn)).sum(axis=0))


def efficiency(family: Sequence[CurvePoints], flow: Floats, speed: float) -> Floats | None:
    """Return wire-to-water efficiency at flows (Q,) and one speed; None where none has power."""
    drawn = power(family, flow, np.full(len(flow), speed))
    if drawn is None:
        return None
    lifted = TEST_DENSITY * GRAVITY * flow * head(family, flow, speed)
    return np.divide(lifted, drawn, out=np.zeros(len(flow)), where=lifted > 0.0)


def needed_suction_head(family: Sequence[CurvePoints], flow: float, speed: float) -> float | None:
    """Return the net positive suction head needed [m]; None where no curve has it."""
    family = [points for points in family if points.curve.need is not None]
    if not family:
        return None
    return sum(
        share * float(pumps.needed_suction_head(points.curve, flow, speed / points.speed))
        for points, share in _counting(family, speed)
    )


def run_out(family: Sequence[CurvePoints], speed: float) -> float:
    """Return the flow [m³/s] at the end of the curve."""
    return sum(
        share * float(points.curve.flow[-1]) * speed / points.speed
        for points, share in _counting(family, speed)
    )


def best_efficiency_flow(family: Sequence[CurvePoints], speed: float) -> float | None:
    """Return the flow [m³/s] of best efficiency; None where no curve has power."""
    family = with_power(family)
    if not family:
        return None
    return sum(
        share * pumps.best_efficiency_flow(points.curve) * speed / points.speed
        for points, share in _counting(family, speed)
    )


def useful_range(family: Sequence[CurvePoints], speed: float) -> tuple[float, float] | None:
    """Return the flows [m³/s] between which the pump runs well, as `pumps.useful_range`."""
    best = best_efficiency_flow(family, speed)
    return None if best is None else pumps.about_best(best)


def with_power(family: Sequence[CurvePoints]) -> Sequence[CurvePoints]:
    """The curves whose power was measured: where some lack it, these stand for the pump alone."""
    return [points for points in family if points.curve.power is not None]


def _counting(family: Sequence[CurvePoints], speed: float) -> list[tuple[CurvePoints, float]]:
    """The curves that have a share at a speed, with it."""
    found = shares(family, np.array([speed])).value[:, 0].tolist()
    return [(points, share) for points, share in zip(family, found, strict=True) if share > 0.0]
