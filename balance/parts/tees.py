"""Tees and wyes: losses that depend on how the flow splits, in all six states of flow.

A tee has two straight legs A and B of one bore and a side leg S.  With flows counted positive into
the joint, one leg always carries the combined flow of the other two:

    sector  0  A divides into B and S        3  B and S combine into A
            1  A and S combine into B        4  B divides into A and S
            2  S divides into A and B        5  A and B combine into S

Print gives a coefficient K of the combined leg's velocity head for each state, with jumps where
two states meet (no flow in one leg) and breaks inside.  Here each state becomes a curve of the
split; near its ends the curves are drawn together so that losses and their slopes are continuous
through every reversal.  Losses are differences of total head between legs: H_A - H_B, H_A - H_S.
How far print is to be trusted is told in `docs/tees_and_valves.md`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.polynomial import Polynomial
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

BINS = 100  # of the split, in each sector
BLEND = 0.03
"""Share of the combined flow over which print is drawn together where it breaks; our own choice."""
GIVE_WAY = 0.2
"""The same where a tee fed or emptied by its side leg becomes one without a leg; our own choice."""
WYE = 60.0  # degrees, the most at which print still speaks of a wye: crane-tp410
SECTORS = 6
PATTERNS = 8  # of signs of three flows
LEAST_FLOW = 1e-300  # [m³/s], a divisor that leaves the split of no flow at zero
STRAIGHT_A, STRAIGHT_B, SIDE = 0, 1, 2

# For each sector: the leg with the combined flow, and the leg whose share is the split.
_COMMON = (STRAIGHT_A, STRAIGHT_B, SIDE, STRAIGHT_A, STRAIGHT_B, SIDE)
_COUNTED = (SIDE, SIDE, STRAIGHT_B, SIDE, SIDE, STRAIGHT_B)


class Curve(NamedTuple):
    """A coefficient and its slope against the split."""

    k: Callable[[Floats], Floats]
    slope: Callable[[Floats], Floats]


def _curve(polynomial: Polynomial) -> Curve:
    return Curve(polynomial, polynomial.deriv())


_Y = Polynomial([0.0, 1.0])


def _joined(below: Curve, above: Curve, at: float, half: float = BLEND) -> Curve:
    """`below` and `above` a break at `at`, drawn together by a smooth step around it."""

    def weight(y: Floats) -> tuple[Floats, Floats]:
        s = np.clip((y - at + half) / (2 * half), 0.0, 1.0)
        return s**3 * (10 - 15 * s + 6 * s**2), 30 * s**2 * (1 - s) ** 2 / (2 * half)

    def k(y: Floats) -> Floats:
        w, _ = weight(y)
        return (1 - w) * below.k(y) + w * above.k(y)

    def slope(y: Floats) -> Floats:
        w, dw = weight(y)
        return (1 - w) * below.slope(y) + w * above.slope(y) + dw * (above.k(y) - below.k(y))

    return Curve(k, slope)


def _ramp(x: float, low: float, high: float, at: float, half: float) -> float:
    """From `low` below `at` to `high` above, without the jump that print has there."""
    s = min(1.0, max(0.0, (x - at + half) / (2 * half)))
    return low + (high - low) * s**3 * (10 - 15 * s + 6 * s**2)


def dividing(area_ratio: float, angle: float) -> tuple[Curve, Curve]:
    """Run and side coefficients of flow that divides, against the side's share of the flow.

    K on the combined leg's velocity head.  ``area_ratio`` is side over straight area, ``angle``
    in degrees between side and the straight leg that the flow goes on in (90: a tee, to 60: a wye).

    The jumps of print at area ratios 0.35, 0.4, 4/9 and 2/3 are narrow ramps here.

    Source: crane-tp410, chapter 2, diverging tees and wyes.
    """
    below = Polynomial([0.0, 0.0, -2.0, 4.0])  # 2 (2 y - 1) y²
    above = Polynomial([0.0, 0.0, -0.3, 0.6])  # 0.3 (2 y - 1) y²
    narrow = Polynomial([0.0, 0.0, 0.4])
    toward = _ramp(area_ratio, 0.0, 1.0, 0.4, 0.02)
    run = _joined(
        _curve((1 - toward) * narrow + toward * below),
        _curve((1 - toward) * narrow + toward * above),
        0.5,
    )
    if angle > WYE:
        wide = _ramp(area_ratio, 0.0, 1.0, 2 / 3, 0.02)
        h = _ramp(area_ratio, 1.0, 0.3, 4 / 9, 0.02)
        side = _curve((1 + 0.3 * wide * _Y**2) * (1 + h * (_Y / area_ratio) ** 2))
    else:
        shape = 1 + (_Y / area_ratio) ** 2 - 2 * np.cos(np.radians(angle)) * _Y / area_ratio
        wide = _ramp(area_ratio, 0.0, 1.0, 0.35, 0.02)
        side = _joined(
            _curve(((1 - wide) * (1.1 - 0.7 * _Y) + wide * (1 - 0.6 * _Y)) * shape),
            _curve(((1 - wide) * Polynomial([0.85]) + wide * Polynomial([0.6])) * shape),
            0.4 * (1 - wide) + 0.6 * wide,
        )
    return run, side


def combining(area_ratio: float, angle: float) -> tuple[Curve, Curve]:
    """Run and side coefficients of flows that combine, against the side's share of the flow.

    K on the combined leg's velocity head; arguments as for `dividing`, the angle being that of
    the side to the straight leg that the flow comes in by.

    Its factor F, about twice the cosine of the angle, is the printed one.

    Source: crane-tp410, chapter 2, converging tees and wyes.
    """
    forward = float(np.interp(angle, (30.0, 45.0, 60.0, 90.0), (1.74, 1.41, 1.0, 0.0)))
    if angle > WYE:
        run = _curve(1.55 * _Y - _Y**2)
    else:
        run = _curve(1 - (1 - _Y) ** 2 - forward / area_ratio * _Y**2)
    shape = 1 + (_Y / area_ratio) ** 2 - 2 * (1 - _Y) ** 2 - forward / area_ratio * _Y**2
    wide = _ramp(area_ratio, 0.0, 1.0, 0.35, 0.02)
    side = _joined(
        _curve((wide * 0.9 * (1 - _Y) + (1 - wide)) * shape),
        _curve((wide * 0.55 + (1 - wide)) * shape),
        0.4,
    )
    return run, side


def side_fed(area_ratio: float) -> Curve:
    """Loss from the side leg to a straight leg, against that leg's share of the flow.

    K on the side leg's velocity head: 1 + 0.3 (w_leg / w_side)².  Print has 0.3 for welded tees,
    which have no step inside, as moulded ones have none; for threaded malleable iron it has 1.5.

    Source: idelchik, diagram 7-29, symmetrical tee of 90 degrees, flow divides.
    """
    return _curve(1 + 0.3 * (area_ratio * _Y) ** 2)


def side_taken(area_ratio: float) -> Curve:
    """Loss from a straight leg to the side leg in which both straights combine.

    K on the side leg's velocity head, against the share of the leg: with r = (side / straight
    area)², 1 + r + 3 r (y² - y).

    Source: idelchik, diagram 7-29, symmetrical tee of 90 degrees, flows merge.
    """
    r = area_ratio**2
    return _curve(1 + r + 3 * r * (_Y**2 - _Y))


@dataclass(frozen=True)
class TeeTable:
    """Differences of head over a tee as piecewise cubics of the split.

    Attributes
    ----------
    value, slope : (2, 6, BINS + 1) H_A - H_B and H_A - H_S in straight velocity heads of the
        combined flow, i.e. multiples of q² / (2 g A_straight²), at the knots of each sector
    """

    value: Floats
    slope: Floats


class _End(NamedTuple):
    sector: int
    at: int  # 0: the split is 0 there, 1: the split is 1
    blend: float  # share of the combined flow over which it is drawn to the other


class _Meeting(NamedTuple):
    """Where two states meet: a leg without flow."""

    leaving: _End  # of the sector in which that leg still takes water away
    arriving: _End  # of the one in which it brings some
    value: float  # how much of what print says for the leaving sector is kept, the rest being ...
    slope: float  # ... what it says for the arriving one


# Print speaks twice of each such place.  Kept is crane-tp410 against idelchik, the less
# sure of the two, and its dividing against its combining: a side leg at rest stands at the static
# head of the straight, one velocity head below its total head, as the dividing one has it.  There
# their slopes are shared, so that neither is left by more than 0.01 (a wye 0.02).
_MEETINGS = (
    # A to B, then B to A, side at rest
    _Meeting(_End(0, 0, BLEND), _End(1, 0, BLEND), value=1.0, slope=0.5),
    _Meeting(_End(4, 0, BLEND), _End(3, 0, BLEND), value=1.0, slope=0.5),
    # A to S, B at rest, then B to S, A at rest
    _Meeting(_End(0, 1, BLEND), _End(5, 0, GIVE_WAY), value=1.0, slope=1.0),
    _Meeting(_End(4, 1, BLEND), _End(5, 1, GIVE_WAY), value=1.0, slope=1.0),
    # S to B, A at rest, then S to A, B at rest
    _Meeting(_End(2, 1, GIVE_WAY), _End(1, 1, BLEND), value=0.0, slope=0.0),
    _Meeting(_End(2, 0, GIVE_WAY), _End(3, 1, BLEND), value=0.0, slope=0.0),
)


@lru_cache(maxsize=256)
def tee_table(*, area_ratio: float, angle: float = 90.0) -> TeeTable:
    """Losses of a tee, smooth over the whole circle of flow states.

    Parameters
    ----------
    area_ratio : side over straight area of the bores, 0.01 to 10
    angle : of the side leg to straight leg B, degrees, 30 to 90 (a wye leans towards B)

    Dividing is as printed from no flow in the side to all of it, and combining likewise but for
    the first `BLEND` of the flow; both are smooth within `BLEND` of print's own breaks.  Fed or
    emptied by the side leg it is as printed but for `GIVE_WAY` at either end.  Between knots cubics
    hold to 1e-9.  A wye that water passes against its lean, or that is fed or emptied by its side
    leg, counts as a tee: none is printed; common practice, no source.
    """
    y = np.linspace(0.0, 1.0, BINS + 1)
    back = 180.0 - angle if angle > WYE else 90.0
    scale = 1.0 / area_ratio**2  # of the side's velocity head, in straight velocity heads
    run_d, side_d = dividing(area_ratio, angle)
    run_c, side_c = combining(area_ratio, angle)
    run_db, side_db = dividing(area_ratio, back)
    run_cb, side_cb = combining(area_ratio, back)
    fed, taken = side_fed(area_ratio), side_taken(area_ratio)

    def both(pick: Callable[[Curve, Floats], Floats]) -> Floats:
        rest, sign = 1 - y, -1.0 if pick is _slope else 1.0
        a_b = [
            pick(run_d, y),
            pick(run_c, y),
            scale * (pick(fed, y) - sign * pick(fed, rest)),
            -pick(run_cb, y),
            -pick(run_db, y),
            scale * (sign * pick(taken, rest) - pick(taken, y)),
        ]
        a_s = [
            pick(side_d, y),
            pick(run_c, y) - pick(side_c, y),
            -scale * sign * pick(fed, rest),
            -pick(side_cb, y),
            pick(side_db, y) - pick(run_db, y),
            scale * sign * pick(taken, rest),
        ]
        return np.array([a_b, a_s])

    value, slope = both(_value), both(_slope)
    for meeting in _MEETINGS:
        _draw_together(value, slope, y, meeting)
    return TeeTable(value, slope)


def _value(curve: Curve, y: Floats) -> Floats:
    return np.asarray(curve.k(y), dtype=np.float64)


def _slope(curve: Curve, y: Floats) -> Floats:
    return np.asarray(curve.slope(y), dtype=np.float64)


def _draw_together(value: Floats, slope: Floats, y: Floats, meeting: _Meeting) -> None:
    """Makes value and slope of two neighbouring sectors meet.

    With z the flow of the resting leg, positive away from the joint, over the flow that stays:
    in the leaving sector the combined flow stays and the split moves by z; in the arriving sector
    the combined flow is (1 - z) times it, so a difference of head (1 - z)² g has slope -2 g + ...
    """
    leaving, arriving, value_kept, slope_kept = meeting
    out_end, in_end = leaving.at * BINS, arriving.at * BINS
    out_sign = 1.0 if leaving.at == 0 else -1.0
    in_sign = -1.0 if arriving.at == 0 else 1.0
    for k in range(2):
        g_out, g_in = value[k, leaving.sector, out_end], value[k, arriving.sector, in_end]
        m_out = out_sign * slope[k, leaving.sector, out_end]
        m_in = -2 * g_in + in_sign * slope[k, arriving.sector, in_end]
        g = value_kept * g_out + (1 - value_kept) * g_in
        m = slope_kept * m_out + (1 - slope_kept) * m_in
        _bend(value[k], slope[k], y, leaving, g, out_sign * m)
        _bend(value[k], slope[k], y, arriving, g, in_sign * (m + 2 * g))


def _bend(values: Floats, slopes: Floats, y: Floats, end: _End, g: float, m: float) -> None:
    """Replaces the last of a sector before its end by a cubic that arrives there with g and m."""
    value, slope, blend = values[end.sector], slopes[end.sector], end.blend
    count = round(blend * BINS)
    inside = np.arange(count + 1) if end.at == 0 else np.arange(BINS, BINS - count - 1, -1)
    edge = inside[-1]
    s = np.abs(y[inside] - y[inside[0]]) / blend
    sign = blend if end.at == 0 else -blend
    v1, m0, m1 = value[edge], m * sign, slope[edge] * sign
    value[inside] = (
        g * (1 + 2 * s) * (1 - s) ** 2
        + m0 * s * (1 - s) ** 2
        + v1 * s**2 * (3 - 2 * s)
        + m1 * s**2 * (s - 1)
    )
    slope[inside] = (
        (v1 - g) * 6 * s * (1 - s) + m0 * (1 - s) * (1 - 3 * s) + m1 * s * (3 * s - 2)
    ) / sign


class TeeLoss(NamedTuple):
    """Head differences over tees and their slopes."""

    first: Floats  # (T, S) head of the reference leg less that of the first other leg [m]
    second: Floats  # (T, S) the same for the second other leg [m]
    slopes: tuple[Floats, Floats, Floats, Floats]  # d first/d u1, /d u2, d second/d u1, /d u2


@dataclass(frozen=True)
class TeeBank:
    """Many tees in the form the solver evaluates.

    One leg of each tee is the reference; the flows u1, u2 of the other two, positive into the
    joint, are its variables, and their head differences to the reference its losses.

    Attributes
    ----------
    coefficients : (8, rows) cubic coefficients of both losses
    patterns : (T, 1) first of each tee's eight patterns of signs of (reference, u1, u2)
    row : (patterns,) for each pattern the row of the first bin of its sector
    signs : (4, patterns) d|common|/du1, /du2, d|counted|/du1, /du2
    scale : (T, 1) 1 / (2 g A_straight²) [s²/m⁵]
    """

    coefficients: Floats
    patterns: Ints
    row: Ints
    signs: Floats
    scale: Floats

    def losses(self, u1: Floats, u2: Floats) -> TeeLoss:
        """Losses at flows u1, u2 (T, S), positive into the joint [m³/s]."""
        pattern = self.patterns + (u2 > 0.0)
        pattern += 2 * (u1 > 0.0)
        pattern += 4 * (u1 + u2 < 0.0)
        common_1, common_2, counted_1, counted_2 = (sign.take(pattern) for sign in self.signs)
        common = common_1 * u1 + common_2 * u2
        counted = counted_1 * u1 + counted_2 * u2
        split = counted / np.maximum(common, LEAST_FLOW)
        t = split * BINS
        bin_ = np.minimum(t.astype(np.intp), BINS - 1)
        t -= bin_
        bin_ += self.row.take(pattern)
        c = self.scale * common
        heads, slopes = [], []
        for first in (0, 4):
            a0, a1, a2, a3 = (powers.take(bin_) for powers in self.coefficients[first : first + 4])
            a3 *= t
            g = ((a3 + a2) * t + a1) * t + a0
            heads.append(c * common * g)
            a3 *= 3.0
            a2 *= 2.0
            across = (((a3 + a2) * t + a1) * BINS) * c
            along = 2.0 * c * g - split * across
            slopes += [along * common_1 + across * counted_1, along * common_2 + across * counted_2]
        return TeeLoss(heads[0], heads[1], (slopes[0], slopes[1], slopes[2], slopes[3]))


def tee_bank(tables: list[TeeTable], references: list[int], scales: list[float]) -> TeeBank:
    """Packs tees for the solver.

    Parameters
    ----------
    tables : one for each tee
    references : the reference leg of each tee; the other two follow in the order A, B, S
    scales : 1 / (2 g A_straight²) of each tee [s²/m⁵]
    """
    blocks: dict[tuple[int, int], int] = {}
    packed: list[Floats] = []
    row, signs = [], []
    for table, reference in zip(tables, references, strict=True):
        key = (id(table), reference)
        if key not in blocks:
            blocks[key] = len(packed) * SECTORS * BINS
            packed.append(_cubics(table, reference))
        sector_of, signs_of = _orientation(reference)
        row.append(blocks[key] + BINS * sector_of)
        signs.append(signs_of[sector_of])
    return TeeBank(
        coefficients=np.concatenate(packed, axis=1),
        patterns=PATTERNS * np.arange(len(tables))[:, None],
        row=np.concatenate(row),
        signs=np.ascontiguousarray(np.concatenate(signs).T),
        scale=np.array(scales)[:, None],
    )


def _cubics(table: TeeTable, reference: int) -> Floats:
    """Coefficients (8, 6 * BINS) of the two losses from the reference leg."""
    a_b, a_s = np.stack([table.value, table.slope], axis=-1)
    first, second = (
        (a_b, a_s),
        (-a_b, a_s - a_b),
        (-a_s, a_b - a_s),
    )[reference]
    rows = []
    for loss in (first, second):
        v, m = loss[..., 0], loss[..., 1] / BINS
        v0, v1, m0, m1 = v[:, :-1], v[:, 1:], m[:, :-1], m[:, 1:]
        rows += [
            v0.ravel(),
            m0.ravel(),
            (3 * (v1 - v0) - 2 * m0 - m1).ravel(),
            (2 * (v0 - v1) + m0 + m1).ravel(),
        ]
    return np.array(rows)


def _orientation(reference: int) -> tuple[Ints, Floats]:
    """Sector for each pattern of signs (u_ref, u1, u2), and the signs of its flows."""
    others = [leg for leg in (STRAIGHT_A, STRAIGHT_B, SIDE) if leg != reference]
    inflow = {  # sign of each leg's flow into the joint, by sector
        0: (1, -1, -1),
        1: (1, -1, 1),
        2: (-1, -1, 1),
        3: (-1, 1, 1),
        4: (-1, 1, -1),
        5: (1, 1, -1),
    }
    sector_of = np.zeros(PATTERNS, dtype=np.intp)
    signs = np.zeros((SECTORS, 4))
    for sector, legs in inflow.items():
        # A leg at rest counts as leaving, so every pattern but "none enters" is one of the six.
        pattern = 4 * (legs[reference] > 0) + 2 * (legs[others[0]] > 0) + (legs[others[1]] > 0)
        sector_of[pattern] = sector
        for place, leg in enumerate((_COMMON[sector], _COUNTED[sector])):
            if leg == reference:
                signs[sector, 2 * place : 2 * place + 2] = -legs[leg]
            else:
                signs[sector, 2 * place + others.index(leg)] = legs[leg]
    return sector_of, signs
