"""Devices: laws through points."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from balance.errors import BalanceError
from balance.parts.devices import coefficient, device_curve, power_law
from tests.parts.curve_loss import points_law

FLOW = np.array([-2e-4, -3e-5, 1e-6, 5e-5, 1.3e-4, 9e-4])


@pytest.mark.parametrize("exponent", [0.8, 1.0, 1.5, 2.0])
def test_power_law_passes_its_point_and_is_odd(exponent: float) -> None:
    c = coefficient(head=0.366, flow=1.262e-4, exponent=exponent)
    loss = power_law(np.array([1.262e-4, -1.262e-4, 0.0]), coefficient=c, exponent=exponent)
    np.testing.assert_allclose(loss.value, [0.366, -0.366, 0.0])
    assert np.isfinite(loss.slope).all()
    assert (loss.slope > 0.0).all()


@pytest.mark.parametrize("exponent", [0.8, 1.0, 1.5, 2.0])
def test_power_law_slope_against_central_differences(exponent: float) -> None:
    def value(flow: NDArray[np.float64]) -> NDArray[np.float64]:
        return power_law(flow, coefficient=2e7, exponent=exponent).value

    step = 1e-5 * np.abs(FLOW)
    slope = power_law(FLOW, coefficient=2e7, exponent=exponent).slope
    np.testing.assert_allclose(slope, (value(FLOW + step) - value(FLOW - step)) / (2 * step))


def test_points_law() -> None:
    curve = device_curve([5e-5, 1e-4, 2e-4], [0.1, 0.3, 1.1])
    at = np.array([0.0, 5e-5, -1e-4, 2e-4])
    np.testing.assert_allclose(points_law(at, curve=curve).value, [0.0, 0.1, -0.3, 1.1])
    step = 1e-10
    ahead, behind = (points_law(FLOW + d, curve=curve).value for d in (step, -step))
    np.testing.assert_allclose(
        points_law(FLOW, curve=curve).slope, (ahead - behind) / (2 * step), rtol=1e-5
    )
    many = points_law(np.linspace(-5e-4, 5e-4, 2001), curve=curve)
    assert (np.diff(many.value) > 0.0).all()
    assert (many.slope > 0.0).all()
    # In value and slope continuous where the points end.
    end = points_law(np.array([2e-4 * (1 - 1e-9), 2e-4 * (1 + 1e-9)]), curve=curve)
    np.testing.assert_allclose(end.slope[0], end.slope[1], rtol=1e-6)


@given(
    steps=st.lists(st.floats(1e-6, 1e-4), min_size=2, max_size=6),
    exponent=st.floats(0.8, 3.0),
    flow=st.floats(-2e-3, 2e-3),
)
def test_any_points_rise_everywhere(steps: list[float], exponent: float, flow: float) -> None:
    flows = np.cumsum(steps)
    curve = device_curve(flows, 3e7 * flows**exponent)
    there, back = (points_law(np.array(q), curve=curve) for q in (flow, -flow))
    assert there.value == -back.value
    assert there.slope == back.slope > 0.0


@pytest.mark.parametrize(
    ("flow", "head"),
    [
        ([], []),
        ([1e-4], [0.3]),
        ([1e-4, 2e-4], [0.3]),
        ([1e-4, 1e-4], [0.3, 0.4]),
        ([1e-4, 2e-4], [0.4, 0.3]),
        ([0.0, 2e-4], [0.0, 0.3]),
        ([1e-4, np.inf], [0.3, 0.4]),
    ],
)
def test_refuses_points_that_make_no_curve(flow: list[float], head: list[float]) -> None:
    with pytest.raises(BalanceError, match="a device's points"):
        device_curve(flow, head)


def test_refuses_a_drop_that_is_none() -> None:
    with pytest.raises(BalanceError, match=r"1\.2 ft at 120 gph"):
        coefficient(head=0.3, flow=0.0, exponent=2.0)
