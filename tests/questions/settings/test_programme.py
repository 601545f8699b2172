"""Sequential quadratic programming against a general-purpose optimizer."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import LinearConstraint, NonlinearConstraint, minimize

from balance.questions.settings.programme import PRICE, Point, minimise, quadratic_programme


def draw_quadratic(rng: np.random.Generator) -> tuple[np.ndarray, ...]:
    n, m = int(rng.integers(1, 8)), int(rng.integers(1, 12))
    root = rng.normal(size=(n, n))
    return (
        root @ root.T + 0.1 * np.eye(n),
        rng.normal(size=n),
        rng.normal(size=m) + 0.5,
        rng.normal(size=(m, n)),
    )


@pytest.mark.parametrize("seed", range(40))
def test_step_is_the_optimum_of_its_own_problem(seed: int) -> None:
    # With the broken parts as variables of their own the programme is feasible by construction,
    # so that contradictory constraints are drawn too and go through the same comparison.
    hessian, gradient, constraints, jacobian = draw_quadratic(np.random.default_rng(seed))
    n, m = len(gradient), len(constraints)
    step, multipliers = quadratic_programme(hessian, gradient, constraints, jacobian)

    def value(x: np.ndarray) -> float:
        return float(x[:n] @ hessian @ x[:n] / 2 + gradient @ x[:n] + PRICE * x[n:].sum())

    def slope(x: np.ndarray) -> np.ndarray:
        return np.concatenate([hessian @ x[:n] + gradient, np.full(m, PRICE)])

    rows = np.hstack([jacobian, np.eye(m)])

    def priced(d: np.ndarray) -> float:
        return value(np.concatenate([d, np.maximum(0.0, -(constraints + jacobian @ d))]))

    start = np.concatenate([np.zeros(n), np.maximum(0.0, -constraints)])
    other = minimize(
        value, start, jac=slope, method="SLSQP", bounds=[(None, None)] * n + [(0, None)] * m,
        constraints=LinearConstraint(rows, lb=-constraints),
        options={"maxiter": 500, "ftol": 1e-12},
    )  # fmt: skip
    theirs = priced(other.x[:n])
    assert priced(step) <= theirs + 1e-6 * max(1.0, abs(theirs))
    # Karush, Kuhn and Tucker: what the constraints push back holds the slope of F.
    np.testing.assert_allclose(hessian @ step + gradient, jacobian.T @ multipliers, atol=1e-6)


@pytest.mark.parametrize("known", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("seed", range(30))
def test_convex_minimum(seed: int, known: float) -> None:
    """However much of the objective's curvature is told."""
    rng = np.random.default_rng(seed)
    n, m = int(rng.integers(2, 7)), int(rng.integers(1, 6))
    root = rng.normal(size=(n, n)) / np.sqrt(n)
    hessian = root @ root.T + 0.3 * np.eye(n)
    gradient = rng.normal(size=n)
    inside = rng.normal(size=n)  # where every constraint is met
    slopes, bend = rng.normal(size=(m, n)), rng.uniform(0.0, 1.0, size=m)
    room = rng.uniform(0.05, 1.0, size=m)

    def objective(x: np.ndarray) -> float:
        return float(x @ hessian @ x / 2 + gradient @ x + 0.1 * np.sum(x**4))

    def constraints(x: np.ndarray) -> np.ndarray:
        away = x - inside
        return np.asarray(room + slopes @ away - bend * (away @ away))

    def evaluate(x: np.ndarray) -> Point:
        return Point(
            objective(x),
            hessian @ x + gradient + 0.4 * x**3,
            known * (hessian + np.diag(1.2 * x**2)),
            constraints(x),
            slopes - 2 * bend[:, None] * (x - inside),
        )

    found = minimise(evaluate, np.zeros(n))
    other = minimize(
        objective, inside, method="SLSQP", constraints=NonlinearConstraint(constraints, 0, np.inf),
        options={"maxiter": 500, "ftol": 1e-13},
    )  # fmt: skip
    assert found.broken < 1e-7
    # Central differences of the other limit it to about 1e-6.
    assert found.point.objective <= other.fun + 1e-6


def test_contradiction_is_broken_least() -> None:
    # x >= 1 and x <= -1 by turns: whatever lies between breaks them by two in sum, and the
    # objective (x - 0.3)² chooses among these.
    def evaluate(x: np.ndarray) -> Point:
        return Point(
            float((x[0] - 0.3) ** 2),
            2 * (x - 0.3),
            np.array([[2.0]]),
            np.array([x[0] - 1.0, -1.0 - x[0]]),
            np.array([[1.0], [-1.0]]),
        )

    found = minimise(evaluate, np.array([3.0]))
    assert found.x[0] == pytest.approx(0.3, abs=1e-5)
    assert found.broken == pytest.approx(1.3, abs=1e-5)


def test_of_nothing_to_change_what_is_broken_has_its_price() -> None:
    step, multipliers = quadratic_programme(
        np.zeros((0, 0)), np.zeros(0), np.array([0.5, -0.5]), np.zeros((2, 0))
    )
    assert step.shape == (0,)
    assert multipliers.tolist() == [0.0, PRICE]
