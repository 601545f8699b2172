"""Families of curves: what was measured where it was measured, and between it without a jump."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from balance.parts import families, pumps
from balance.parts.families import CurvePoints
from balance.parts.pumps import pump_curve

Floats = NDArray[np.float64]

FLOW = np.array([0.0, 1000.0, 2000.0, 3000.0, 4000.0, 4600.0]) / 3.6e6
HEAD = np.array([4.0, 3.8, 3.3, 2.4, 1.1, 0.2])
POWER = np.array([25.0, 31.0, 36.0, 40.0, 42.0, 43.0])

FULL = CurvePoints(pump_curve(FLOW, HEAD, POWER), 1.0)
# Measured at half speed: more flow and less power than affinity would have it.
HALF = CurvePoints(pump_curve(0.55 * FLOW, 0.25 * HEAD, 0.2 * POWER), 0.5)
SLOW = CurvePoints(pump_curve(0.3 * FLOW, 0.08 * HEAD, 0.1 * POWER), 0.3)
MEASURED = (FULL, HALF, SLOW)

# The same pump at three speeds by affinity from its own curve.
MADE = tuple(
    CurvePoints(pump_curve(n * FLOW, n**2 * HEAD, n**3 * POWER), n) for n in (1.0, 0.7, 0.4)
)

speeds = st.floats(0.05, 1.5)


@given(speeds)
def test_a_family_made_by_affinity_is_its_curve_at_every_speed(n: float) -> None:
    at = n * np.linspace(-0.2, 1.3, 61) * FLOW[-1]
    assert families.head(MADE, at, n) == pytest.approx(
        pumps.head(FULL.curve, at, n).value, rel=1e-9, abs=1e-12
    )
    assert families.run_out(MADE, n) == pytest.approx(n * FLOW[-1])
    best = pumps.best_efficiency_flow(FULL.curve)
    assert families.best_efficiency_flow(MADE, n) == pytest.approx(n * best, rel=1e-6)
    assert families.useful_range(MADE, n) == pytest.approx((0.7 * n * best, 1.2 * n * best))


@pytest.mark.parametrize("points", MEASURED)
def test_a_family_is_each_curve_at_its_speed(points: CurvePoints) -> None:
    at, n = points.curve.flow, points.speed
    assert families.head(MEASURED, at, n) == pytest.approx(points.curve.head)
    drawn = families.power(MEASURED, at, np.full(len(at), n))
    assert points.curve.power is not None
    assert drawn == pytest.approx(points.curve.power)
    assert families.run_out(MEASURED, n) == pytest.approx(at[-1])
    assert families.useful_range(MEASURED, n) == pytest.approx(pumps.useful_range(points.curve))


@given(st.floats(0.31, 0.49), st.floats(0.51, 0.99))
def test_between_two_measured_speeds_it_lies_between_their_curves(low: float, high: float) -> None:
    for n, above, below in ((high, FULL, HALF), (low, HALF, SLOW)):
        sides = [n * each.curve.flow[-1] / each.speed for each in (above, below)]
        assert min(sides) <= families.run_out(MEASURED, n) <= max(sides)
        share = (n - below.speed) / (above.speed - below.speed)
        assert families.run_out(MEASURED, n) == pytest.approx(
            share * sides[0] + (1 - share) * sides[1]
        )


@given(speeds)
def test_no_jump_in_speed(n: float) -> None:
    step = 1e-7

    def all_of(speed: float) -> list[float]:
        useful = families.useful_range(MEASURED, speed)
        best = families.best_efficiency_flow(MEASURED, speed)
        drawn = families.power(MEASURED, 3e-4, np.array([speed]))
        assert useful is not None
        assert best is not None
        assert drawn is not None
        head = families.head(MEASURED, np.array([3e-4]), speed)
        return [*useful, best, families.run_out(MEASURED, speed), *head, *drawn]

    assert all_of(n + step) == pytest.approx(all_of(n - step), rel=1e-4, abs=1e-5)


def test_the_useful_range_is_about_the_flow_of_best_efficiency() -> None:
    for n in (0.3, 0.42, 0.5, 0.8, 1.1):
        best = families.best_efficiency_flow(MEASURED, n)
        assert best is not None
        assert families.useful_range(MEASURED, n) == pytest.approx((0.7 * best, 1.2 * best))


@given(speeds)
def test_shares_add_up_and_their_slope_is_that_of_a_difference(n: float) -> None:
    at = np.array([n])
    value, slope = families.shares(MEASURED, at)
    assert value.sum() == pytest.approx(1.0)
    assert ((value >= 0.0) & (value <= 1.0)).all()
    if min(abs(n - points.speed) for points in MEASURED) > 1e-6:
        ahead, behind = (families.shares(MEASURED, at + d).value for d in (1e-7, -1e-7))
        assert slope == pytest.approx((ahead - behind) / 2e-7, abs=1e-5)


def test_curves_without_power_leave_it_to_those_that_have_it() -> None:
    silent = CurvePoints(pump_curve(0.55 * FLOW, 0.25 * HEAD), 0.5)
    mixed, loud = (FULL, silent), (FULL,)
    at = np.array([0.4, 0.5, 0.8, 1.0])
    drawn = families.power(mixed, 3e-4, at)
    assert drawn is not None
    np.testing.assert_allclose(drawn, pumps.power(FULL.curve, 3e-4, at))
    for n in at.tolist():
        assert families.useful_range(mixed, n) == families.useful_range(loud, n)
    flow = np.array([2e-4])
    efficiency = families.efficiency(mixed, flow, 0.5)
    assert efficiency is not None
    lifted = 998.2 * 9.80665 * flow * families.head((silent,), flow, 0.5)  # its head is its own
    assert efficiency == pytest.approx(lifted / pumps.power(FULL.curve, flow, 0.5))
    assert families.power((silent,), 1e-4, at) is None
    assert families.efficiency((silent,), flow, 0.5) is None
    assert families.useful_range((silent,), 0.5) is None
    assert families.best_efficiency_flow((silent,), 0.5) is None


def test_needed_suction_head_is_weighed_among_the_curves_that_have_it() -> None:
    need = np.array([0.5, 0.6, 0.9, 1.5, 2.4, 3.0])
    full = CurvePoints(pump_curve(FLOW, HEAD, npsh=need), 1.0)
    half = CurvePoints(pump_curve(0.5 * FLOW, 0.25 * HEAD, npsh=0.3 * need), 0.5)
    assert families.needed_suction_head((full, half), 0.5 * FLOW[2], 0.5) == pytest.approx(0.27)
    sides = [families.needed_suction_head((each,), 3e-4, 0.8) for each in (full, half)]
    assert sides[0] is not None
    assert sides[1] is not None
    assert families.needed_suction_head((full, half), 3e-4, 0.8) == pytest.approx(
        0.6 * sides[0] + 0.4 * sides[1]
    )
    assert families.needed_suction_head((full, HALF), 3e-4, 0.5) == pytest.approx(
        families.needed_suction_head((full,), 3e-4, 0.5)
    )
    assert families.needed_suction_head((HALF,), 3e-4, 0.5) is None
