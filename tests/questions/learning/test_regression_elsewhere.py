"""Regression against answers by hand and by the solvers of numpy and scipy."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.optimize import OptimizeResult, least_squares

from balance.questions.learning.regression import Regression, regress
from tests.published.certified import Certified, certified

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Line:
    """A model that is linear: values `rows` times the parameters."""

    rows: Floats  # (N, P)

    def __call__(self, at: Floats) -> tuple[Floats, Floats]:
        return self.rows @ at, self.rows


def test_a_weighing_and_what_was_thought_before() -> None:
    """Thought 7 ± 1, weighed 10 ± 2: precisions 1 and 1/4, so (7 + 10/4)/(5/4), variance 4/5."""
    found = regress(
        Line(np.ones((1, 1))),
        measured=np.array([10.0]),
        sd=np.array([2.0]),
        start=np.array([0.0]),
        prior_mean=np.array([7.0]),
        prior_precision=np.array([[1.0]]),
    )
    assert found.converged
    assert found.at == pytest.approx([7.6], rel=1e-12)
    assert found.covariance == pytest.approx(np.array([[0.8]]), rel=1e-12)


def test_a_line_through_three_points_and_a_correlated_prior() -> None:
    """Of 1, 3, 4 seen at 0, 1, 2, each ± 1, the normal equations are [[3, 3], [3, 5]] b = [8, 11].

    A prior about (1, 1) of precision [[2, 1], [1, 2]] adds that to the left and [3, 3] to the
    right: [[5, 4], [4, 7]] b = [11, 14], of determinant 19, so b = (21, 26)/19.
    """
    found = regress(
        Line(np.array([[1.0, 0.0], [1.0, 1.0], [1.0, 2.0]])),
        measured=np.array([1.0, 3.0, 4.0]),
        sd=np.ones(3),
        start=np.array([50.0, -50.0]),
        prior_mean=np.ones(2),
        prior_precision=np.array([[2.0, 1.0], [1.0, 2.0]]),
    )
    assert found.converged
    assert found.at == pytest.approx(np.array([21.0, 26.0]) / 19.0, rel=1e-11)
    inverse = np.array([[7.0, -4.0], [-4.0, 5.0]]) / 19.0
    assert found.covariance == pytest.approx(inverse, rel=1e-11)


@given(seed=st.integers(0, 2**32 - 1), parameters=st.integers(1, 5), rows=st.integers(0, 8))
def test_a_prior_is_as_good_as_further_observations(seed: int, parameters: int, rows: int) -> None:
    """Fewer observations than parameters too: numpy's least squares on both, one over the other."""
    random = np.random.default_rng(seed)
    slopes, measured = random.normal(size=(rows, parameters)), random.normal(size=rows)
    sd, mean = random.uniform(0.1, 10.0, rows), random.normal(size=parameters)
    root = random.normal(size=(parameters, parameters)) + 3.0 * np.eye(parameters)
    found = regress(
        Line(slopes),
        measured=measured,
        sd=sd,
        start=random.normal(size=parameters),
        prior_mean=mean,
        prior_precision=root.T @ root,
    )
    both = np.vstack([slopes / sd[:, None], root])
    wanted = np.linalg.lstsq(both, np.concatenate([measured / sd, root @ mean]), rcond=None)[0]
    inverse = np.linalg.pinv(both)
    size = np.sqrt(np.diag(inverse @ inverse.T))
    assert found.converged
    assert np.abs((found.at - wanted) / size).max() <= 1e-6
    apart = (found.covariance - inverse @ inverse.T) / np.outer(size, size)
    assert np.abs(apart).max() <= 1e-9


CURVES = ["Misra1a", "Chwirut2", "DanWood", "Rat42", "Kirby2", "ENSO", "Gauss1", "Thurber"]


def with_a_prior(problem: Certified, *, robust: float | None) -> tuple[Regression, Floats]:
    """A fit that is drawn from the certified answer by a prior, and that prior's mean."""
    mean = problem.parameters + 2.0 * problem.deviations
    found = regress(
        problem,
        measured=problem.response,
        sd=np.full(problem.response.shape, problem.residual_deviation),
        start=problem.parameters,  # a start of its own may lead to another hollow
        prior_mean=mean,
        prior_precision=np.diag(problem.deviations**-2.0),
        robust=robust,
    )
    return found, mean


def by_scipy(problem: Certified, mean: Floats, *, robust: float | None) -> OptimizeResult:
    """The same least squares, with the prior as further observations that are never outlying."""
    size = problem.response.size

    def residuals(at: Floats) -> Floats:
        prior = (at - mean) / problem.deviations
        return np.concatenate([-problem.residuals(at) / problem.residual_deviation, prior])

    def slopes(at: Floats) -> Floats:
        return np.vstack(
            [problem(at)[1] / problem.residual_deviation, np.diag(1.0 / problem.deviations)]
        )

    def loss(squares: Floats) -> Floats:
        """Of squared residuals, with two derivatives: beyond `robust`, a logarithm goes on."""
        value = np.vstack([squares, np.ones(squares.shape), np.zeros(squares.shape)])
        if robust is not None:
            far = np.flatnonzero(squares[:size] > robust**2)
            share = robust**2 / squares[far]
            value[:, far] = [robust**2 * (1.0 - np.log(share)), share, -share / squares[far]]
        return value

    return least_squares(
        residuals, problem.parameters, slopes,
        loss=loss,  # type: ignore[arg-type]  # the stubs leave out a loss with its derivatives
        x_scale=problem.deviations, xtol=1e-15, ftol=1e-15, gtol=1e-15, max_nfev=10_000,
    )  # fmt: skip


@pytest.mark.parametrize("robust", [None, 1.0, 2.0])
@pytest.mark.parametrize("name", CURVES)
def test_a_curve_with_a_prior_as_scipy_fits_it(name: str, robust: float | None) -> None:
    problem = certified(name)
    found, mean = with_a_prior(problem, robust=robust)
    wanted = by_scipy(problem, mean, robust=robust)
    assert found.converged
    assert np.abs((found.at - wanted.x) / problem.deviations).max() <= 1e-6
    assert found.cost == pytest.approx(wanted.cost, rel=1e-10)
