"""Pumps: measured curves made fit for solving, and the affinity laws for speed.

Heads are in metres of the water pumped: a pump tested in fresh water lifts salt water just as high
in metres, for more power in proportion to its density.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from balance.errors import BalanceError
from balance.parts import monotone
from balance.parts.monotone import Sample
from balance.units import significant

Floats = NDArray[np.float64]

GRAVITY = 9.80665  # m/s², standard: by definition
TEST_DENSITY = 998.2  # kg/m³, fresh water at 20 degC, in which makers test: ittc-2011
STANDBY = 3.0  # W of the electronics of a speed-controlled pump; common practice, no source
IDLE_SHARE = 0.1  # of its least power, that it takes at the most; common practice, no source
NOISE = 0.02  # of shut-off head: a rise with flow up to it is taken for noise; our own choice
GENTLE_FALL = 0.005  # of peak head, from zero flow to the peak of a humped curve; our own choice
_TILT = 1e-6  # of shut-off head, from end to end, where smoothing has left a level stretch
_REST_LOSS = 0.5  # K of a stopped pump over H0/Qmax²; common practice, no source
_BEST_AT = 401  # points at which best efficiency is looked for


@dataclass(frozen=True, eq=False)
class SuctionNeed:
    """Net positive suction head that a pump needs at full speed, against flow, as measured.

    Attributes
    ----------
    flow, head, slopes : (P,) arrays, m³/s, m and m/(m³/s).
    """

    flow: Floats
    head: Floats
    slopes: Floats


@dataclass(frozen=True, eq=False)
class Measured:
    """Points of a pump's curve as they were measured, before anything was smoothed.

    Attributes
    ----------
    flow, head : (M,) arrays, m³/s and m.
    power : (M,) array or None, W at the wire, in fresh water.
    """

    flow: Floats
    head: Floats
    power: Floats | None


@dataclass(frozen=True)
class Hump:
    """A rise of head with flow beyond noise, as measured.

    At a head between shut-off and peak the pump can settle at either of two flows; against a lift
    above shut-off it cannot start by itself, whatever it holds once it runs.

    Attributes
    ----------
    shut_off : head at the first flow that was measured [m]
    peak : the greatest head [m]
    flow : at the peak [m³/s]
    """

    shut_off: float
    peak: float
    flow: float


@dataclass(frozen=True, eq=False)
class PumpCurve:
    """A pump's head against flow at full speed, strictly falling, made by `pump_curve`.

    Attributes
    ----------
    name : str
    flow, head, slopes : (P,) arrays, m³/s, m and m/(m³/s); the first flow is zero, the last
        run-out. Between them the curve is the monotone cubic of `balance.parts.monotone`.
    power : (P,) array or None, W at the wire, in fresh water.
    power_slopes : (P,) array or None, W/(m³/s).
    reverse : loss coefficient for flow backwards, and at rest [m/(m³/s)²].
    dead_head_at_least : the curve was measured from above zero flow, so its head at zero flow is
        an extrapolation: "at least" what was measured first.
    source_notes : what was changed in the curve as measured, in words.
    measured : its points before that.
    hump : the rise of head with flow that was replaced, None where there was none beyond noise.
    need : what it needs at its suction, None where that was not measured.
    """

    name: str
    flow: Floats
    head: Floats
    slopes: Floats
    power: Floats | None
    power_slopes: Floats | None
    reverse: float
    dead_head_at_least: bool
    source_notes: tuple[str, ...]
    measured: Measured
    hump: Hump | None
    need: SuctionNeed | None = None

    def stronger(self, strength: float) -> PumpCurve:
        """Return the curve of a pump of another strength.

        Flow goes with it, head with its square and power with its cube, as with speed.
        """
        return replace(
            self,
            flow=self.flow * strength,
            head=self.head * strength**2,
            slopes=self.slopes * strength,
            power=None if self.power is None else self.power * strength**3,
            power_slopes=None if self.power_slopes is None else self.power_slopes * strength**2,
        )


class PumpHead(NamedTuple):
    """A pump's head [m] and its slopes against flow [m/(m³/s)] and speed ratio [m]."""

    value: Floats
    slope_flow: Floats
    slope_speed: Floats


def pump_curve(
    flow: Sequence[float] | Floats,
    head: Sequence[float] | Floats,
    power: Sequence[float] | Floats | None = None,
    *,
    npsh: Sequence[float] | Floats | None = None,
    name: str = "pump",
) -> PumpCurve:
    """Make a pump curve from measured points.

    Parameters
    ----------
    flow : (P,), m³/s, P >= 3, from zero or above, rising.
    head : (P,), m, not below zero, at full speed.
    power : (P,) or None, W at the wire at full speed, tested in fresh water.
    npsh : (P,) or None, m of net positive suction head needed at full speed.

    Returns
    -------
    PumpCurve. A rise of head with flow up to 2 % of shut-off head is levelled out by least
    squares (pool-adjacent-violators). A larger one that leads to the greatest head is a hump, with
    which a pump can settle at either of two flows: the curve is used from its peak on, and led
    back to zero flow at a gentle fall. Lower down readings that are off by 2 % either way make a
    rise of 4 %, which is levelled out too. A curve that starts above zero flow is led back to it by
    the parabola with its top at zero flow. Each of these is said in `source_notes`.

    Raises BalanceError where the points make no pump curve.

    Source: ayer-1955 (the smoothing); the rest common practice, no source.
    """
    q, h = np.array(flow, dtype=np.float64), np.array(head, dtype=np.float64)
    p = None if power is None else np.array(power, dtype=np.float64)
    need = None if npsh is None else np.array(npsh, dtype=np.float64)
    _refuse(q, h, p, need, name=name)
    needed = None if need is None else SuctionNeed(q, need, monotone.slopes(q, need))
    notes: list[str] = []
    measured = Measured(q, h, p)
    starts_above = bool(q[0] > 0.0)

    h, hump = _falling(q, h, name=name, notes=notes)
    if q[0] > 0.0:
        q, h, p = _led_to_zero_flow(q, h, p)
    if starts_above:
        held = "" if p is None else ", and power below that flow is held as it was there"
        notes.append(
            "the curve starts above zero flow: its head at zero flow is extrapolated, "
            f"dead head is at least what was measured first{held}"
        )
    slopes = monotone.slopes(q, h)
    # Not flatter than the last stretch, so that the curve falls on beyond run-out.
    slopes[-1] = min(slopes[-1], (h[-1] - h[-2]) / (q[-1] - q[-2]))
    return PumpCurve(
        name=name,
        flow=q,
        head=h,
        slopes=slopes,
        power=p,
        power_slopes=None if p is None else monotone.slopes(q, p),
        reverse=_REST_LOSS * float(h[0]) / float(q[-1]) ** 2,
        dead_head_at_least=starts_above,
        source_notes=tuple(notes),
        measured=measured,
        hump=hump,
        need=needed,
    )


def head(curve: PumpCurve, flow: ArrayLike, speed: ArrayLike) -> PumpHead:
    """Return the head that a pump gives, with its slopes against flow and speed.

    Parameters
    ----------
    flow : array, m³/s, of either sign.
    speed : array, ratio n to full speed, >= 0; broadcasts against `flow`.

    Returns
    -------
    PumpHead of the common shape, continuous in value and both slopes but at rest.

    Equations, h the curve at full speed: n² h(q/n) from zero flow to run-out n q_e; backwards
    n² h(0) + n h'(0) q + K q² with K of `curve.reverse`; beyond run-out
    n² h_e + p (n² q_e² - q²) with p = -h'_e/(2 q_e). The pump at rest, n = 0, is a resistance both
    ways: -K |q| q.

    Source: affinity laws, crane-tp410, example 7.33; the two ends common practice, no source.
    """
    q, n = np.broadcast_arrays(np.asarray(flow, np.float64), np.asarray(speed, np.float64))
    end, end_head, end_slope = curve.flow[-1], curve.head[-1], curve.slopes[-1]
    first_head, first_slope = curve.head[0], curve.slopes[0]
    backward = q < 0.0
    still = (n == 0.0) & (q > 0.0)
    beyond = q > n * end

    value, slope = _at(curve, curve.head, curve.slopes, q, n)
    p = -end_slope / (2.0 * end)
    return PumpHead(
        value=np.select(
            [backward, still, beyond],
            [
                n * n * first_head + n * first_slope * q + curve.reverse * q * q,
                -curve.reverse * q * q,
                n * n * end_head + p * (n * n * end * end - q * q),
            ],
            n * n * value,
        ),
        slope_flow=np.select(
            [backward, still, beyond],
            [n * first_slope + 2.0 * curve.reverse * q, -2.0 * curve.reverse * q, -2.0 * p * q],
            n * slope,
        ),
        slope_speed=np.select(
            [backward, still, beyond],
            [2.0 * n * first_head + first_slope * q, 0.0, 2.0 * n * (end_head + p * end * end)],
            2.0 * n * value - q * slope,
        ),
    )


def power(
    curve: PumpCurve,
    flow: ArrayLike,
    speed: ArrayLike,
    *,
    density: float = TEST_DENSITY,
    strength: ArrayLike = 1.0,
) -> Floats:
    """Return the power [W] that a pump draws at the wire.

    Parameters
    ----------
    flow : array, m³/s. Backwards and beyond run-out the power of the curve's end is held.
    speed : array, ratio n to full speed, >= 0; broadcasts against `flow`.
    density : of the water, kg/m³.
    strength : array, s, of the curve as `PumpCurve.stronger` has it; broadcasts against `flow`.

    Equation: P = P0 + n³ (s³ p(q/(n s)) - P0) rho/rho_test: affinity for what turns, in proportion
    to density, and P0 of `standby`.

    Source: affinity laws, crane-tp410, example 7.33; P0 common practice, no source.
    Raises BalanceError where the curve has no power.
    """
    points, slopes = _measured_power(curve)
    q, n, s = np.broadcast_arrays(
        *(np.asarray(each, np.float64) for each in (flow, speed, strength))
    )
    # As `standby` of the stronger curve.
    idle = np.minimum(STANDBY, IDLE_SHARE * s**3 * float(points.min()))
    turning = s**3 * _at(curve, points, slopes, q / s, n).value - idle
    return np.asarray(idle + n**3 * turning * (density / TEST_DENSITY))


def standby(curve: PumpCurve) -> float:
    """Return the power [W] that does not turn the pump: 3 W, or a tenth of its least if less.

    Source: common practice, no source. Raises BalanceError where the curve has no power.
    """
    points, _ = _measured_power(curve)
    return min(STANDBY, IDLE_SHARE * float(points.min()))


def needed_suction_head(curve: PumpCurve, flow: ArrayLike, speed: ArrayLike) -> Floats:
    """Return the net positive suction head [m] that a pump needs.

    Parameters
    ----------
    flow : array, m³/s. Outside the flows that were measured, the need at their end is held.
    speed : array, ratio n to full speed, >= 0; broadcasts against `flow`.

    Equation: n² r(q/n) with r the need at full speed, affinity as for head: fair near full speed,
    and too little at a fraction of it.

    Source: affinity laws, crane-tp410, example 7.33, carried over to suction; common practice, no
    source. Raises BalanceError where the curve has no such column.
    """
    need = curve.need
    if need is None:
        raise BalanceError(
            f"the curve of {curve.name} has no net positive suction head; "
            "add a column such as npsh_ft to its file"
        )
    q, n = np.broadcast_arrays(np.asarray(flow, np.float64), np.asarray(speed, np.float64))
    scaled = np.divide(q, n, out=np.zeros(q.shape), where=n > 0.0)
    at = np.clip(scaled, need.flow[0], need.flow[-1])
    return np.asarray(n * n * monotone.evaluate(need.flow, need.head, need.slopes, at).value)


def efficiency(
    curve: PumpCurve, flow: ArrayLike, speed: ArrayLike, *, density: float = TEST_DENSITY
) -> Floats:
    """Return wire-to-water efficiency rho g q H/P, 0 where the pump does no work on the water.

    Parameters, errors as of `power`. Source: crane-tp410, example 7.34.
    """
    drawn = power(curve, flow, speed, density=density)
    lifted = density * GRAVITY * np.asarray(flow) * head(curve, flow, speed).value
    working = (np.asarray(flow) > 0.0) & (lifted > 0.0) & (drawn > 0.0)
    return np.divide(lifted, drawn, out=np.zeros(drawn.shape), where=working)


def best_efficiency_flow(curve: PumpCurve) -> float:
    """Return the flow [m³/s] of best wire-to-water efficiency at full speed.

    At speed ratio n it lies at n times this. Raises BalanceError where the curve has no power.
    """
    flows = np.linspace(0.0, curve.flow[-1], _BEST_AT)
    values = efficiency(curve, flows, 1.0)
    best = int(np.argmax(values))
    if best in (0, _BEST_AT - 1):
        return float(flows[best])
    # The top of the parabola through the best point and its neighbours.
    before, at, after = values[best - 1 : best + 2]
    offset = 0.5 * (before - after) / (before - 2.0 * at + after)
    return float(flows[best] + offset * (flows[1] - flows[0]))


def useful_range(curve: PumpCurve) -> tuple[float, float] | None:
    """Return the flows [m³/s] at full speed between which the pump runs well, in proportion to n.

    None where the curve has no power to find it by. Source: see `about_best`.
    """
    return None if curve.power is None else about_best(best_efficiency_flow(curve))


def about_best(best: float) -> tuple[float, float]:
    """Return the flows between which a pump runs well, about that of best efficiency.

    70 to 120 % of it, the preferred operating region of small radial pumps.

    Source: hi-9.6.3, preferred operating region.
    """
    return 0.7 * best, 1.2 * best


def _at(curve: PumpCurve, y: Floats, slopes: Floats, q: Floats, n: Floats) -> Sample:
    """Evaluate a curve over flow at q/n, held within zero flow and run-out."""
    scaled = np.divide(q, n, out=np.zeros(q.shape), where=n > 0.0)
    return monotone.evaluate(curve.flow, y, slopes, np.clip(scaled, 0.0, curve.flow[-1]))


def _measured_power(curve: PumpCurve) -> tuple[Floats, Floats]:
    if curve.power is None or curve.power_slopes is None:
        raise BalanceError(
            f"the curve of {curve.name} has no power; add a column such as power_w to its file"
        )
    return curve.power, curve.power_slopes


def _refuse(q: Floats, h: Floats, p: Floats | None, need: Floats | None, *, name: str) -> None:
    """Raise BalanceError for points that make no pump curve."""

    def refuse(problem: str, remedy: str) -> BalanceError:
        return BalanceError(f"the curve of {name} {problem}; {remedy}")

    columns = [column for column in (q, h, p, need) if column is not None]
    if any(column.shape != q.shape or column.ndim != 1 for column in columns):
        raise refuse("has columns of unequal length", "give one number of each for each flow")
    if len(q) < 3:
        raise refuse(f"has {len(q)} points", "give three or more")
    if not all(np.isfinite(column).all() for column in columns):
        raise refuse("holds a number that is not finite", "give plain numbers")
    if q[0] < 0.0 or (np.diff(q) <= 0.0).any():
        raise refuse("has flows that do not rise", "give its points in order of rising flow")
    if (h < 0.0).any() or h[0] <= 0.0:
        raise refuse("has no head at its first point, or head below zero", "check its head column")
    if p is not None and (p <= 0.0).any():
        raise refuse("has power that is not above zero", "give the power drawn at the wire")
    if need is not None and (need < 0.0).any():
        raise refuse("needs less than no suction head", "check its npsh column")


def _falling(q: Floats, h: Floats, *, name: str, notes: list[str]) -> tuple[Floats, Hump | None]:
    """Make head fall all the way: smooth noise, and replace what lies before a hump's peak.

    Returns head, and that hump as measured.
    """
    shut_off = float(h[0])
    peak = int(np.argmax(h))
    climb = float(h[peak] - h[: peak + 1].min())
    hump = None
    if climb > NOISE * shut_off:
        if peak == len(h) - 1:
            raise BalanceError(
                f"the curve of {name} has head that rises to its last point; "
                "check that flow and head are in the right columns"
            )
        hump = Hump(shut_off, float(h[peak]), float(q[peak]))
        notes.append(
            f"head rises with flow by {_percent(climb / shut_off)} of shut-off head, up to "
            f"{_percent(q[peak] / q[-1])} of the last flow: at a head between shut-off and peak "
            "this pump can settle at either of two flows, or hunt between them; the falling part "
            "beyond the peak is used, so read answers below that flow as a warning, and choose "
            "a working point beyond it"
        )
        gentle = h[peak] * (1.0 + GENTLE_FALL * (1.0 - q / q[peak]))
        h = np.where(q < q[peak], gentle, h)
    rises = h - np.minimum.accumulate(h)
    rise = float(rises.max())
    if rise > 2.0 * NOISE * h[0]:
        raise BalanceError(
            f"the curve of {name} has head that falls, rises by {_percent(rise / shut_off)} of "
            f"shut-off head and falls again; check its points before "
            f"{_percent(q[np.argmax(rises)] / q[-1])} of the last flow"
        )
    if rise > 0.0:
        smooth = _nowhere_rising(h)
        moved = float(np.abs(smooth - h).max())
        notes.append(
            f"head rises with flow by up to {_percent(rise / shut_off)} of shut-off head: taken "
            f"for noise of the readings and smoothed, which moves points by up to "
            f"{_percent(moved / shut_off)} of it"
        )
        h = smooth
    level = np.diff(h) >= 0.0
    if level.any():
        if rise == 0.0:
            first, last = q[:-1][level][0], q[1:][level][-1]
            notes.append(
                f"head stays level between {_percent(first / q[-1])} and "
                f"{_percent(last / q[-1])} of the last flow: taken to fall there by a hair, so "
                "that each head has one flow"
            )
        h = h + _TILT * h[0] * (q[-1] - q) / (q[-1] - q[0])
    return h, hump


def _led_to_zero_flow(
    q: Floats, h: Floats, p: Floats | None
) -> tuple[Floats, Floats, Floats | None]:
    """Add the point at zero flow of the parabola that meets the first point in value and slope."""
    rise = -0.5 * monotone.slopes(q, h)[0] * q[0]
    rise = max(rise, _TILT * h[0])
    if p is not None:
        p = np.concatenate((p[:1], p))
    return np.concatenate(([0.0], q)), np.concatenate(([h[0] + rise], h)), p


def _percent(ratio: float) -> str:
    return f"{significant(100.0 * ratio, 2 if ratio >= 0.1 else 3)} %"


def _nowhere_rising(h: Floats) -> Floats:
    """Return the nearest sequence, by least squares, that nowhere rises.

    Neighbours that rise are pooled to their mean until none is left.
    """
    pools: list[tuple[float, int]] = []
    for value in h.tolist():
        mean, count = value, 1
        while pools and pools[-1][0] <= mean:
            before, many = pools.pop()
            mean = (before * many + mean * count) / (many + count)
            count += many
        pools.append((mean, count))
    return np.repeat([mean for mean, _ in pools], [count for _, count in pools])
