"""Least squares against certified answers: data, starts and answers of nist-strd.

What is certified is printed to 11 digits. It holds at the printed parameters themselves, which
checks the files, the models and their slopes before anything is fitted.
"""

from __future__ import annotations

import numpy as np
import pytest

from balance.parts.sources import named_in, sources
from tests.published import certified as problems
from tests.published.certified import LAWS, NAMES, Certified, certified

SMALL = "Lanczos1"  # its residuals are 1e-13 of what is observed: less than its printed digits tell
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
    assert np.sqrt(problem.squares / freedom) == pytest.approx(printed, rel=1e-10)


@pytest.mark.parametrize("name", sorted(set(NAMES) - {SMALL}))
def test_what_is_certified_holds_at_the_printed_parameters(name: str) -> None:
    problem = certified(name)
    squares = np.sum(problem.residuals(problem.parameters) ** 2)
    assert squares == pytest.approx(problem.squares, rel=5e-10)
    assert deviations(problem) == pytest.approx(problem.deviations, rel=1e-9)


def deviations(problem: Certified) -> problems.Floats:
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
