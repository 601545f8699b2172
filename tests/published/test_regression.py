"""Least squares against certified answers: data, starts and answers of nist-strd.

What is certified is printed to 11 digits. It holds at the printed parameters themselves, which
checks the files, the models and their slopes before anything is fitted.
"""

from __future__ import annotations

import numpy as np
import pytest

from balance.parts.sources import named_in, sources
from balance.questions.learning.regression import Regression, regress
from tests.published import certified as problems
from tests.published.certified import LAWS, NAMES, Certified, Floats, certified

SMALL = "Lanczos1"  # its residuals are 1e-13 of what is observed: less than its printed digits tell
ROUNDED = 1e-2  # of it: what is observed is rounded at 1e-16 of 2.5, a thousandth of a residual
MISPRINTED = {"Rat43": 9}  # degrees of freedom, though 15 observations less 4 parameters are 11


def test_every_file_has_a_model_and_a_source() -> None:
    assert set(NAMES) == set(LAWS)
    assert len(NAMES) == 27
    assert set(named_in(problems.__doc__ or "")) == {"nist-strd"} <= sources().keys()


@pytest.mark.parametrize("name", NAMES)
def test_a_file_agrees_with_itself(name: str) -> None:
    problem = certified(name)
    freedom = problem.response.size - problem.parameters.size
    assert problem.freedom == MISPRINTED.get(name, freedom)
    printed = problem.residual_deviation
    assert np.sqrt(problem.squares / freedom) == pytest.approx(printed, rel=1e-10, abs=0.0)


@pytest.mark.parametrize("name", sorted(set(NAMES) - {SMALL}))
def test_what_is_certified_holds_at_the_printed_parameters(name: str) -> None:
    problem = certified(name)
    squares = np.sum(problem.residuals(problem.parameters) ** 2)
    assert squares == pytest.approx(problem.squares, rel=5e-10, abs=0.0)
    assert deviations(problem) == pytest.approx(problem.deviations, rel=1e-9, abs=0.0)


def deviations(problem: Certified) -> Floats:
    """Standard deviations (P,) at the printed parameters, by the slopes alone."""
    slopes = problem(problem.parameters)[1]
    size = np.linalg.norm(slopes, axis=0)  # columns of most unequal size lose digits
    triangle = np.linalg.qr(slopes / size)[1]
    spread = np.linalg.norm(np.linalg.inv(triangle), axis=1) / size
    return np.asarray(spread * problem.residual_deviation)


@pytest.mark.parametrize("name", NAMES)
def test_slopes_against_central_differences(name: str) -> None:
    problem = certified(name)
    for at in (problem.parameters, *problem.starts):
        values, slopes = problem(at)
        for index, parameter in enumerate(at):
            step = np.zeros(at.shape)
            step[index] = 1e-6 * abs(parameter)
            measured = (problem(at + step)[0] - problem(at - step)[0]) / (2.0 * step[index])
            rounding = 1e-9 * np.abs(values).max() / abs(parameter)
            largest = np.abs(slopes[:, index]).max()
            assert np.abs(measured - slopes[:, index]).max() <= 1e-6 * largest + rounding


# From the far start of these three, damped steps downhill lead away from the certified answer.
FAR = {
    "BoxBOD": "its rate grows until nothing is left of the exponential, nor of the slope by it",
    "MGH10": "two parameters grow without end, and the curve becomes a level line",
    "MGH17": "one rate grows until its exponential is a spike at the first of the data, a hollow",
}
STARTS = [
    pytest.param(name, number, id=f"{name}-start-{number + 1}")
    for name in NAMES
    for number in (0, 1)
    if not (name in FAR and number == 0)
]
MOST = 5_000  # models: Bennett5 needs 800 and Eckerle4 3,100, along narrow crooked valleys


def fitted(problem: Certified, start: Floats, *, sd: float = 1.0) -> Regression:
    """Plain least squares, with no prior, where each observation is sure to `sd`."""
    size = start.size
    with np.errstate(over="ignore"):  # squares of what a trial far off leaves
        return regress(
            problem,
            measured=problem.response,
            sd=np.full(problem.response.shape, sd),
            start=start,
            prior_mean=np.zeros(size),
            prior_precision=np.zeros((size, size)),
            most=MOST,
        )


@pytest.mark.parametrize(("name", "number"), STARTS)
def test_the_certified_answer_is_found(name: str, number: int) -> None:
    problem = certified(name)
    found = fitted(problem, problem.starts[number])
    assert found.converged
    assert found.at == pytest.approx(problem.parameters, rel=1e-6, abs=0.0)
    near = ROUNDED if name == SMALL else 1e-6
    squares = float(found.residuals @ found.residuals)
    assert squares == pytest.approx(problem.squares, rel=near, abs=0.0)
    assert found.cost == pytest.approx(0.5 * squares, rel=1e-12, abs=0.0)
    variance = squares / (problem.response.size - problem.parameters.size)
    spread = np.sqrt(np.diag(found.covariance) * variance)
    assert spread == pytest.approx(problem.deviations, rel=max(near, 1e-5), abs=0.0)


@pytest.mark.parametrize("name", NAMES)
def test_spread_follows_from_how_sure_each_observation_is(name: str) -> None:
    """With the certified spread of the residuals given, nothing is left to be scaled."""
    problem = certified(name)
    found = fitted(problem, problem.starts[1], sd=problem.residual_deviation)
    assert found.converged
    assert found.at == pytest.approx(problem.parameters, rel=1e-6, abs=0.0)
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx(
        problem.deviations, rel=1e-5, abs=0.0
    )


@pytest.mark.parametrize("name", FAR)
def test_starts_that_are_too_far_end_higher(name: str) -> None:
    problem = certified(name)
    found = fitted(problem, problem.starts[0])
    assert found.residuals @ found.residuals > 2.0 * problem.squares


@pytest.mark.parametrize("name", NAMES)
def test_what_is_called_converged_has_no_way_down(name: str) -> None:
    """Residuals are square to each column of the slopes: the cosine between is nothing."""
    problem = certified(name)
    for start in problem.starts:
        found = fitted(problem, start)
        if found.converged:
            slopes = problem(found.at)[1]
            slopes = slopes[:, slopes.any(axis=0)]
            size = np.linalg.norm(slopes, axis=0) * np.linalg.norm(found.residuals)
            cosines = slopes.T @ found.residuals / size
            assert np.abs(cosines).max() <= (ROUNDED if name == SMALL else 1e-6)
