"""The friction law against print and against the fluids library."""

from __future__ import annotations

import numpy as np
import pytest
from fluids.friction import Colebrook

from balance.errors import BalanceError
from balance.parts.friction import friction, friction_law

ROUGH = np.array([0.0, 1e-6, 5.6e-5, 1e-3, 0.01, 0.05])[:, None]


def darcy(reynolds: float, relative_roughness: float = 0.0) -> float:
    y = friction(np.array([reynolds]), friction_law(relative_roughness)).y[0]
    return float(y / reynolds**2)


# white-2011, table of smooth-pipe friction factors by Prandtl's law; from memory.
@pytest.mark.parametrize(
    ("reynolds", "printed"),
    [(4e3, 0.0399), (1e4, 0.0309), (1e5, 0.0180), (1e6, 0.0116), (1e7, 0.0081), (1e8, 0.0059)],
)
def test_smooth_pipe_by_prandtl(reynolds: float, printed: float) -> None:
    assert round(darcy(reynolds), 4) == printed


def test_colebrook_value_of_the_fluids_manual() -> None:
    # fluids 1.3.1, docstring of fluids.friction.Colebrook: Re 1e5, e/D 1e-4.
    assert darcy(1e5, 1e-4) == pytest.approx(0.018513866077471, rel=1e-9)


def test_colebrook_against_fluids_on_a_grid() -> None:
    # fluids 1.3.1, fluids.friction.Colebrook, its solution by Lambert's function.
    reynolds = np.geomspace(4000.0, 1e8, 60)
    ours = friction(np.tile(reynolds, (len(ROUGH), 1)), friction_law(ROUGH)).y / reynolds**2
    theirs = [[Colebrook(re, eD) for re in reynolds.tolist()] for eD in ROUGH.ravel().tolist()]
    np.testing.assert_allclose(ours, theirs, rtol=1e-9)


def test_colebrook_satisfies_its_own_equation() -> None:
    rough = np.concatenate([[0.0], np.geomspace(1e-8, 0.05, 80)])[:, None]
    reynolds = np.tile(np.geomspace(4000.0, 1e9, 200), (81, 1))
    x = reynolds / np.sqrt(friction(reynolds, friction_law(rough)).y)
    exact = x
    for _ in range(60):
        exact = -2.0 * np.log10(rough / 3.7 + 2.51 * exact / reynolds)
    np.testing.assert_allclose((exact / x) ** 2, 1.0, rtol=1e-9)


def test_laminar() -> None:
    reynolds = np.array([0.0, 1e-9, 1.0, 1999.9])
    term = friction(reynolds, friction_law(0.01))
    np.testing.assert_allclose(term.y, 64.0 * reynolds, rtol=1e-14)
    np.testing.assert_allclose(term.slope, 64.0)


def test_the_bridge_rises_and_joins_smoothly() -> None:
    reynolds = np.tile(np.linspace(1990.0, 4010.0, 4041), (len(ROUGH), 1))
    term = friction(reynolds, friction_law(ROUGH))
    assert (np.diff(term.y) > 0.0).all()
    assert (term.slope > 0.0).all()
    for joint in (2000.0, 4000.0):
        both = np.tile([joint * (1.0 - 1e-12), joint * (1.0 + 1e-12)], (len(ROUGH), 1))
        at = friction(both, friction_law(ROUGH))
        np.testing.assert_allclose(at.y[:, 0], at.y[:, 1], rtol=1e-10)
        np.testing.assert_allclose(at.slope[:, 0], at.slope[:, 1], rtol=1e-8)


def test_slope_against_central_differences() -> None:
    reynolds = np.tile(
        np.concatenate([np.linspace(10.0, 1900.0, 5), np.linspace(2100, 3900, 9), [4100.0, 1e5]]),
        (len(ROUGH), 1),
    )
    law, step = friction_law(ROUGH), 1e-4 * reynolds
    ahead, behind = friction(reynolds + step, law).y, friction(reynolds - step, law).y
    slope = friction(reynolds, law).slope
    np.testing.assert_allclose(slope, (ahead - behind) / (2.0 * step), rtol=2e-6)


def test_blocks_and_shapes_change_nothing() -> None:
    rough = np.linspace(0.0, 0.04, 11)[:, None]
    reynolds = np.geomspace(1.0, 1e6, 11 * 3000).reshape(11, 3000)
    whole = friction(reynolds, friction_law(rough))
    for row in (0, 5, 10):
        one = friction(reynolds[row], friction_law(rough[row]))
        np.testing.assert_array_equal(one.y, whole.y[row])
        np.testing.assert_array_equal(one.slope, whole.slope[row])
    assert friction(reynolds[:, :1], friction_law(rough)).y.shape == (11, 1)
    assert friction(np.empty((0, 7)), friction_law(0.0)).y.shape == (0, 7)


@pytest.mark.parametrize("rough", [-1e-9, 0.051, np.nan])
def test_refuses_what_is_no_roughness(rough: float) -> None:
    with pytest.raises(BalanceError, match=r"between 0 and 0\.05"):
        friction_law(rough)
