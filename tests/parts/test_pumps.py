"""Pump curves and affinity laws against print, closed forms and differences."""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.optimize import brentq, isotonic_regression

from balance.errors import BalanceError
from balance.parts.friction import friction, friction_law
from balance.parts.pumps import (
    GENTLE_FALL,
    NOISE,
    Hump,
    PumpCurve,
    best_efficiency_flow,
    efficiency,
    head,
    needed_suction_head,
    power,
    pump_curve,
    useful_range,
)

Floats = NDArray[np.float64]
GPM, FOOT, HP = 231 * 0.0254**3 / 60.0, 0.3048, 745.699872
CFM, INCH = 0.3048**3 / 60.0, 0.0254

# A small invented pump: L/h, m and W.
FLOW = np.array([0.0, 1000.0, 2000.0, 3000.0, 4000.0, 4600.0]) / 3.6e6
HEAD = np.array([4.0, 3.8, 3.3, 2.4, 1.1, 0.2])
POWER = np.array([25.0, 31.0, 36.0, 40.0, 42.0, 43.0])


def demo() -> PumpCurve:
    return pump_curve(FLOW, HEAD, POWER, name="demo")


def value(curve: PumpCurve, flow: float, speed: float = 1.0) -> float:
    return float(head(curve, flow, speed).value)


def duty(curve: PumpCurve, system: Callable[[float], float], most: float) -> float:
    return float(brentq(lambda flow: value(curve, flow) - system(flow), 0.0, most, xtol=1e-12))


def test_affinity_by_crane() -> None:
    # crane-tp410, example 7.33: 400 gpm, 126 ft, 17.5 hp at 3500 rpm; asked for at 1700 rpm.
    curve = pump_curve(
        np.array([0.0, 400.0, 600.0]) * GPM,
        np.array([160.0, 126.0, 60.0]) * FOOT,
        np.array([10.0, 17.5, 20.0]) * HP,
    )
    speed = 1700.0 / 3500.0
    assert value(curve, 194.29 * GPM, speed) / FOOT == pytest.approx(29.726, rel=2e-5)
    # The example has no standby power; 3 W are 0.2 % of its 2 hp.
    assert power(curve, 194.29 * GPM, speed) / HP == pytest.approx(2.0053, rel=2.5e-3)


def test_affinity_by_fox_and_mcdonald() -> None:
    # fox-mcdonald, example 10.7: 1170 to 1750 rpm, shut-off
    # 25 ft, best efficiency at 300 gpm and 21.9 ft; answers 448.7 gpm, 49.0 ft, 55.9 ft.
    curve = pump_curve(np.array([0.0, 300.0, 500.0]) * GPM, np.array([25.0, 21.9, 10.0]) * FOOT)
    speed = 1750.0 / 1170.0
    assert value(curve, 448.7 * GPM, speed) / FOOT == pytest.approx(49.0, abs=0.05)
    assert value(curve, 0.0, speed) / FOOT == pytest.approx(55.9, abs=0.05)


def test_duty_point_by_white() -> None:
    # white-2011, example 11.6, from memory: H = 490 - 0.26 Q² (ft, 1000 gpm)
    # on a system of 120 + 1.335 Q²: 15 200 gpm at 430 ft.
    flow = np.linspace(0.0, 30.0, 13)
    curve = pump_curve(flow, 490.0 - 0.26 * flow**2)
    at = duty(curve, lambda q: 120.0 + 1.335 * q * q, 30.0)
    assert at == pytest.approx(15.2, abs=0.05)
    assert value(curve, at) == pytest.approx(430.0, abs=0.5)


def test_duty_point_in_closed_form() -> None:
    # H0 (1 - (q/Qm)²) against lift + c q²: q² = (H0 - lift)/(c + H0/Qm²). A cubic through 41
    # points of a parabola errs by less than the square of their spacing.
    flow = np.linspace(0.0, 2e-3, 41)
    curve = pump_curve(flow, 5.0 * (1.0 - (flow / 2e-3) ** 2))
    at = duty(curve, lambda q: 1.5 + 4e6 * q * q, 2e-3)
    assert at == pytest.approx(np.sqrt(3.5 / (4e6 + 5.0 / 4e-6)), rel=1e-4)


def test_duty_point_of_a_humped_curve_by_cengel() -> None:
    # Cengel & Cimbala, Fluid Mechanics, example 14-1: a fan on 44 ft of 9.06 in duct, roughness
    # 0.15 mm, coefficients 1.3 + 1.8 + 5 x 0.21, alpha 1.05: about 650 cfm at 0.83 in of water.
    curve = pump_curve(
        np.array([0.0, 250.0, 500.0, 750.0, 1000.0, 1200.0]) * CFM,
        np.array([0.90, 0.95, 0.90, 0.75, 0.40, 0.0]) * INCH,
    )
    assert "two flows" in " ".join(curve.source_notes)
    bore = 9.06 * INCH
    law = friction_law(0.15e-3 / bore)

    def system(flow: float) -> float:
        velocity = flow / (np.pi * bore**2 / 4.0)
        reynolds = np.array([velocity * bore / 1.562e-5])
        f = friction(reynolds, law).y[0] / max(reynolds[0], 1.0) ** 2
        k = 1.05 + f * 44.0 * FOOT / bore + 1.3 + 1.8 + 5 * 0.21
        return float(k * velocity**2 / (2 * 9.81) * 1.184 / 998.0)

    at = duty(curve, system, 1200.0 * CFM)
    assert at / CFM == pytest.approx(650.0, rel=0.01)
    assert value(curve, at) / INCH == pytest.approx(0.83, abs=0.01)


SPEEDS = np.array([0.0, 0.05, 0.4, 1.0, 1.2])[:, None]
FLOWS = np.concatenate([np.linspace(-3e-3, 3e-3, 601), [-1e-7, 1e-7]])


@pytest.mark.parametrize("speed", SPEEDS.ravel())
def test_head_falls_with_flow_everywhere(speed: float) -> None:
    at = np.sort(FLOWS)
    given = head(demo(), at, speed)
    assert (np.diff(given.value) < 0.0).all()
    assert (given.slope_flow <= 0.0).all()


def test_passes_its_points() -> None:
    np.testing.assert_allclose(head(demo(), FLOW, 1.0).value, HEAD)
    np.testing.assert_allclose(power(demo(), FLOW, 1.0), POWER)


def test_slopes_against_central_differences() -> None:
    curve, step = demo(), 1e-9
    ahead, behind = (head(curve, FLOWS + d, SPEEDS).value for d in (step, -step))
    given = head(curve, FLOWS, SPEEDS)
    np.testing.assert_allclose(
        given.slope_flow, (ahead - behind) / (2 * step), rtol=1e-4, atol=1e-2
    )
    step, running = 1e-6, SPEEDS[1:]
    ahead, behind = (head(curve, FLOWS, running + d).value for d in (step, -step))
    np.testing.assert_allclose(
        head(curve, FLOWS, running).slope_speed, (ahead - behind) / (2 * step), rtol=1e-4, atol=1e-4
    )


def test_value_and_slopes_are_continuous_at_zero_flow_and_run_out() -> None:
    for speed in (0.3, 1.0):
        for place in (0.0, speed * FLOW[-1]):
            sides = head(demo(), np.array([place - 1e-12, place + 1e-12]), speed)
            for array in sides:
                assert array[0] == pytest.approx(array[1], rel=1e-6)


def test_stopped_pump_resists_both_ways() -> None:
    given = head(demo(), np.array([-1e-3, 0.0, 1e-3]), 0.0)
    assert given.value[0] > 0.0 == given.value[1] > given.value[2]
    assert given.value[0] == pytest.approx(0.5 * 4.0 / FLOW[-1] ** 2 * 1e-6)
    assert given.value[2] == -given.value[0]
    assert given.slope_flow[2] == given.slope_flow[0] == pytest.approx(given.value[2] * 2e3)
    assert float(power(demo(), 1e-3, 0.0)) <= 3.0


def test_power_scales_with_density_and_head_does_not() -> None:
    fresh, salt = (power(demo(), 5e-4, 1.0, density=rho) for rho in (998.2, 1023.0))
    standby = 2.5  # a tenth of the least measured power, less than 3 W
    assert salt - standby == pytest.approx((fresh - standby) * 1023.0 / 998.2)


def test_efficiency_and_useful_range() -> None:
    curve = demo()
    at = FLOW[3]
    expected = 998.2 * 9.80665 * at * 2.4 / 40.0
    assert efficiency(curve, at, 1.0) == pytest.approx(expected)
    best = best_efficiency_flow(curve)
    around = efficiency(curve, best * np.linspace(0.8, 1.2, 81), 1.0)
    assert efficiency(curve, best, 1.0) == pytest.approx(around.max(), rel=1e-6)
    # ANSI/HI 9.6.3: preferred operating region of small pumps 70 to 120 % of best efficiency.
    assert useful_range(curve) == pytest.approx((0.7 * best, 1.2 * best))
    np.testing.assert_array_equal(efficiency(curve, np.array([-1e-4, 0.0, 5e-3]), 1.0), 0.0)


def test_without_power() -> None:
    curve = pump_curve(FLOW, HEAD, name="Demo AC 20")
    assert useful_range(curve) is None
    with pytest.raises(BalanceError, match="Demo AC 20 has no power"):
        power(curve, 1e-4, 1.0)


NEED = np.array([0.5, 0.6, 0.9, 1.5, 2.4, 3.0])


def test_needed_suction_head_passes_its_points_and_scales_as_head_does() -> None:
    curve = pump_curve(FLOW, HEAD, npsh=NEED)
    assert needed_suction_head(curve, FLOW, 1.0) == pytest.approx(NEED)
    assert needed_suction_head(curve, 0.6 * FLOW, 0.6) == pytest.approx(0.36 * NEED)
    between = needed_suction_head(curve, np.linspace(0.0, FLOW[-1], 200), 1.0)
    assert np.all(np.diff(between) >= 0.0)


def test_needed_suction_head_is_held_outside_what_was_measured() -> None:
    curve = pump_curve(FLOW[1:], HEAD[1:], npsh=NEED[1:])
    assert needed_suction_head(curve, [-1e-3, 0.0, 2 * FLOW[-1]], 1.0) == pytest.approx(
        [NEED[1], NEED[1], NEED[-1]]
    )
    assert float(needed_suction_head(curve, 0.0, 0.0)) == 0.0


def test_smoothed_head_leaves_needed_suction_head_alone() -> None:
    hump = HEAD.copy()
    hump[0] = 3.6
    curve = pump_curve(FLOW, hump, npsh=NEED)
    assert curve.source_notes
    assert needed_suction_head(curve, FLOW, 1.0) == pytest.approx(NEED)


def test_without_needed_suction_head() -> None:
    with pytest.raises(BalanceError, match="add a column such as npsh_ft"):
        needed_suction_head(demo(), 0.0, 1.0)


@pytest.mark.parametrize(
    ("need", "problem"),
    [(NEED[1:], "unequal length"), (-NEED, "less than no suction head")],
)
def test_refuses_needed_suction_head_that_makes_no_sense(need: Floats, problem: str) -> None:
    with pytest.raises(BalanceError, match=problem):
        pump_curve(FLOW, HEAD, npsh=need)


def test_noise_is_smoothed_and_said() -> None:
    curve = pump_curve(FLOW, [4.0, 4.05, 3.3, 2.4, 1.1, 0.2])
    np.testing.assert_allclose(curve.head, [4.025, 4.025, 3.3, 2.4, 1.1, 0.2], rtol=1e-5)
    assert (np.diff(curve.head) < 0.0).all()
    (note,) = curve.source_notes
    assert "rises with flow by up to 1.3 %" in note
    assert "noise" in note
    assert "moves points by up to 0.63 %" in note
    np.testing.assert_array_equal(curve.measured.head, [4.0, 4.05, 3.3, 2.4, 1.1, 0.2])
    assert demo().source_notes == ()


SHAPES = st.tuples(
    st.floats(0.5, 20.0),  # shut-off head [m]
    st.floats(1.0, 4.0),  # 1: falls evenly; 4: flat at first and steep at last
    st.floats(0.0, 0.5),  # of shut-off head, left at the last point
    st.integers(3, 25),  # points
)


def true_curve(shape: tuple[float, float, float, int]) -> tuple[Floats, Floats]:
    shut_off, exponent, left, points = shape
    share = np.linspace(0.0, 1.0, points)
    return 2e-3 * share, shut_off * (1.0 - (1.0 - left) * share**exponent)


def clicked(heads: Floats, off: float, data: st.DataObject) -> Floats:
    """Heads as read from a picture, each off by up to a share of shut-off head either way."""
    each = st.lists(st.floats(-off, off), min_size=len(heads), max_size=len(heads))
    read: Floats = np.maximum(heads + heads[0] * np.array(data.draw(each)), 0.0)
    return read


def falls_strictly(curve: PumpCurve) -> bool:
    at = np.linspace(0.0, 1.2 * curve.flow[-1], 400)
    return bool((np.diff(head(curve, at, 1.0).value) < 0.0).all())


@given(SHAPES, st.data())
def test_readings_off_by_1_percent_are_smoothed_and_said(
    shape: tuple[float, float, float, int], data: st.DataObject
) -> None:
    flow, heads = true_curve(shape)
    read = clicked(heads, 0.0098, data)  # a rise of at most 2 % of shut-off head as read
    curve = pump_curve(flow, read)
    # The nearest falling sequence lies no further from the truth than the readings did.
    assert np.abs(curve.head - heads).max() <= np.abs(read - heads).max() + 2e-6 * heads[0]
    assert falls_strictly(curve)
    moved = np.abs(curve.head - read).max() / read[0]
    if moved > 1e-5:
        (note,) = curve.source_notes
        said = re.search(r"moves points by up to ([\d.]+) %", note)
        assert said is not None
        assert float(said[1]) == pytest.approx(100 * moved, rel=0.05, abs=2e-3)


@given(SHAPES, st.data())
def test_readings_off_by_2_percent_make_a_curve(
    shape: tuple[float, float, float, int], data: st.DataObject
) -> None:
    flow, heads = true_curve(shape)
    read = clicked(heads, 0.0192, data)  # two of them make a rise of 4 % as read
    curve = pump_curve(flow, read)
    assert falls_strictly(curve)
    # A rise of more than 2 % at the start is taken for a hump, and what lies before it for its top.
    assert np.abs(curve.head - read).max() <= (4 * NOISE + GENTLE_FALL) * heads[0]
    assert bool(curve.source_notes) or np.abs(curve.head - read).max() < 1e-5 * heads[0]
    assert np.array_equal(curve.measured.head, read)


@given(SHAPES, st.floats(0.03, 0.5), st.data())
def test_a_hump_is_explained_however_it_is_made(
    shape: tuple[float, float, float, int], low: float, data: st.DataObject
) -> None:
    flow, heads = true_curve((shape[0], 2.0, shape[2], max(shape[3], 6)))
    heads[0] = heads[1:].max() * (1.0 - low)
    watts = 20.0 + 1e4 * flow
    curve = pump_curve(flow, heads, watts)
    (note,) = curve.source_notes
    assert "either of two flows" in note
    assert falls_strictly(curve)
    peak = int(np.argmax(heads))
    np.testing.assert_allclose(curve.head[peak:], heads[peak:], rtol=1e-5)
    np.testing.assert_allclose(power(curve, flow, 1.0), watts)  # the hump is one of head alone


@given(SHAPES, st.integers(2, 5))
def test_a_level_start_is_a_curve_and_said(
    shape: tuple[float, float, float, int], level: int
) -> None:
    flow, heads = true_curve((*shape[:3], max(shape[3], level + 2)))
    heads[:level] = heads[0]
    curve = pump_curve(flow, heads)
    np.testing.assert_allclose(curve.head, heads, atol=1.1e-6 * heads[0])
    (note,) = curve.source_notes
    assert "head stays level between 0 % and" in note
    assert falls_strictly(curve)


@given(SHAPES, st.floats(0.05, 0.3))
def test_a_start_above_zero_flow_gives_dead_head_as_at_least(
    shape: tuple[float, float, float, int], start: float
) -> None:
    flow, heads = true_curve(shape)
    flow = 2e-3 * (start + (1.0 - start) * flow / flow[-1])
    curve = pump_curve(flow, heads)
    assert curve.dead_head_at_least
    assert curve.flow[0] == 0.0
    assert curve.head[0] > heads[0]
    assert "at least" in curve.source_notes[-1]
    assert falls_strictly(curve)
    np.testing.assert_allclose(head(curve, flow, 1.0).value, heads, atol=1e-5 * heads[0])


@given(st.lists(st.integers(0, 40), min_size=3, max_size=12))
def test_smoothing_is_scipys_isotonic_regression(noise: list[int]) -> None:
    # scipy.optimize.isotonic_regression, the same least-squares problem.
    heads: NDArray[np.float64] = 4.0 + np.array(noise) / 1000.0
    curve = pump_curve([1e-4 * point for point in range(len(noise))], heads)
    expected = isotonic_regression(heads, increasing=False).x
    np.testing.assert_allclose(curve.head, expected, rtol=1e-5)


def test_a_hump_is_solved_on_its_falling_part_and_explained() -> None:
    curve = pump_curve(FLOW, [3.0, 3.5, 3.6, 2.4, 1.1, 0.2], POWER)
    np.testing.assert_allclose(curve.flow, FLOW)
    np.testing.assert_allclose(curve.head, [3.6 * 1.005, 3.6 * 1.0025, 3.6, 2.4, 1.1, 0.2])
    np.testing.assert_allclose(power(curve, FLOW, 1.0), POWER)
    (note,) = curve.source_notes
    assert curve.hump == Hump(shut_off=3.0, peak=3.6, flow=FLOW[2])
    assert "rises with flow by 20 %" in note
    assert "either of two flows" in note
    assert (np.diff(head(curve, np.linspace(0.0, FLOW[-1], 500), 1.0).value) < 0.0).all()


def test_a_curve_without_a_hump_has_none() -> None:
    assert demo().hump is None
    assert pump_curve(FLOW, [3.0, 3.05, 2.6, 2.4, 1.1, 0.2]).hump is None  # within noise


def test_a_curve_from_above_zero_flow_is_led_back() -> None:
    curve = pump_curve(FLOW[1:], HEAD[1:], POWER[1:])
    assert curve.dead_head_at_least
    assert curve.flow[0] == 0.0
    assert 3.8 < curve.head[0] < 4.2
    assert "at least" in curve.source_notes[0]
    assert not demo().dead_head_at_least


def test_a_level_end_still_falls_beyond_run_out() -> None:
    curve = pump_curve([0.0, 1e-4, 2e-4], [2.0, 1.0, 1.0])
    beyond = head(curve, np.linspace(0.0, 5e-4, 50), 1.0).value
    assert (np.diff(beyond) < 0.0).all()


@pytest.mark.parametrize(
    ("flow", "heads", "watts", "said"),
    [
        ([0.0, 1.0], [2.0, 1.0], None, "three or more"),
        ([0.0, 1.0, 2.0], [2.0, 1.0], None, "unequal length"),
        ([0.0, 2.0, 1.0], [2.0, 1.0, 0.0], None, "rising flow"),
        ([-1.0, 2.0, 3.0], [2.0, 1.0, 0.0], None, "rising flow"),
        ([0.0, 1.0, 2.0], [2.0, 1.0, np.nan], None, "not finite"),
        ([0.0, 1.0, 2.0], [2.0, 1.0, -1.0], None, "below zero"),
        ([0.0, 1.0, 2.0], [0.0, 0.0, 0.0], None, "no head"),
        ([0.0, 1.0, 2.0], [1.0, 2.0, 3.0], None, "right columns"),
        ([0.0, 1.0, 2.0, 3.0], [5.0, 2.0, 4.0, 0.0], None, "by 40 % of shut-off head and falls"),
        ([0.0, 1.0, 2.0, 3.0], [5.0, 3.0, 3.21, 0.0], None, "before 67 % of the last"),
        ([0.0, 1.0, 2.0], [2.0, 1.0, 0.0], [5.0, 0.0, 6.0], "power"),
    ],
)
def test_refuses_points_that_make_no_curve(
    flow: list[float], heads: list[float], watts: list[float] | None, said: str
) -> None:
    with pytest.raises(BalanceError, match=said):
        pump_curve(flow, heads, watts, name="x")
