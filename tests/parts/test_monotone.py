"""The monotone cubic against scipy's PCHIP."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from balance.parts import monotone

POINTS = st.lists(st.tuples(st.floats(0.05, 3.0), st.floats(-5.0, 5.0)), min_size=2, max_size=12)


@given(POINTS)
def test_is_scipys_pchip(points: list[tuple[float, float]]) -> None:
    x = np.cumsum([step for step, _ in points])
    y = np.round([height for _, height in points], 3)
    slopes = monotone.slopes(x, y)
    at = np.linspace(x[0], x[-1], 101)
    ours = monotone.evaluate(x, y, slopes, at)
    theirs = PchipInterpolator(x, y)
    np.testing.assert_allclose(ours.value, theirs(at), rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(ours.slope, theirs.derivative()(at), rtol=1e-8, atol=1e-8)


@pytest.mark.parametrize("y", [[5.0, 4.9, 4.0, 1.0, 0.0], [0.0, 0.1, 0.1, 2.0, 9.0]])
def test_no_overshoot(y: list[float]) -> None:
    x, heights = np.array([0.0, 1.0, 1.5, 4.0, 4.2]), np.array(y)
    at = np.linspace(0.0, 4.2, 2001)
    value = monotone.evaluate(x, heights, monotone.slopes(x, heights), at).value
    assert (np.diff(value) * np.sign(y[-1] - y[0]) >= -1e-12).all()


def test_goes_on_straight_outside_its_points() -> None:
    x, y = np.array([0.0, 1.0, 2.0]), np.array([3.0, 2.0, 0.0])
    d = monotone.slopes(x, y)
    outside = monotone.evaluate(x, y, d, np.array([[-1.0, 3.0]]))
    np.testing.assert_allclose(outside.value, [[3.0 - d[0], d[2]]])
    np.testing.assert_allclose(outside.slope, [[d[0], d[2]]])
