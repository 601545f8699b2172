"""Constrained minimisation for the settings search: sequential quadratic programming.

minimise F(x) subject to g(x) >= 0.  Each step minimises a quadratic model of F under linearised
constraints by a primal-dual interior-point method, in which a constraint may be broken at a high
price, so that a step always exists.  What curvature of F is known is taken as it is; a damped
quasi-Newton update carries the rest and that of the constraints.  Numbers only; all variables and
constraints should be of order one.

Source: nocedal-wright-2006, algorithm 16.4 (interior point), procedure 18.2 (damped update),
section 18.5 (penalty merit).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MOST_STEPS = 80
PRICE = 1e3  # of breaking a constraint by one, against F
LEAST_CURVATURE = 1e-3  # of what is not known of F and the constraints, to begin with
STEP_TOLERANCE = 1e-9
PROMISE_TOLERANCE = 1e-11  # of the merit: no more than rounding is left to gain
MOST_INTERIOR = 60
LEAST_GIVE = 1e-14  # keeps constraints that say the same apart
SUFFICIENT = 1e-4
SHORTEST = 1e-4


class Point(NamedTuple):
    """Everything the search knows at one x of n variables and m constraints."""

    objective: float
    gradient: Floats  # (n,)
    curvature: Floats  # (n, n), of the objective as far as it is known, positive semidefinite
    constraints: Floats  # (m,), met where >= 0
    jacobian: Floats  # (m, n)


@dataclass(frozen=True)
class Minimum:
    """Where the search ended.

    Attributes
    ----------
    x : (n,)
    point : values there
    multipliers : (m,) change of the objective for a unit of relief of each constraint
    steps : quadratic programmes solved
    settled : the last step was as small as the tolerance asks
    """

    x: Floats
    point: Point
    multipliers: Floats
    steps: int
    settled: bool

    @property
    def broken(self) -> float:
        """Worst violation of a constraint."""
        return float(max(0.0, -self.point.constraints.min(initial=0.0)))


def quadratic_programme(
    hessian: Floats, gradient: Floats, constraints: Floats, jacobian: Floats
) -> tuple[Floats, Floats]:
    """Step d and multipliers of: minimise d'Hd/2 + c'd + PRICE * sum s, g + Gd + s >= 0, s >= 0.

    Parameters
    ----------
    hessian : (n, n), positive definite
    gradient : (n,) c
    constraints : (m,) g
    jacobian : (m, n) G
    """
    n, m = len(gradient), len(constraints)
    if n == 0:
        return np.zeros(0), np.where(constraints < 0.0, PRICE, 0.0)  # what is broken stays so
    if m == 0:
        return np.asarray(np.linalg.solve(hessian, -gradient)), np.zeros(0)
    d = np.zeros(n)
    broken = np.maximum(1e-2, 1e-2 - constraints)  # s, free to rise at its price
    slack = np.maximum(constraints + broken, 1e-2)  # t = g + Gd + s
    multiplier = np.full(m, min(1.0, 0.5 * PRICE))
    system = np.block([[hessian, -jacobian.T], [jacobian, np.eye(m)]])
    for _ in range(MOST_INTERIOR):
        relief = np.maximum(PRICE - multiplier, 1e-9 * PRICE)
        gap = (slack @ multiplier + broken @ relief) / (2 * m)
        dual = hessian @ d + gradient - jacobian.T @ multiplier
        primal = constraints + jacobian @ d + broken - slack
        if (
            gap < 1e-13
            and np.abs(primal).max() < 1e-11
            and np.abs(dual).max() < 1e-10 * (1 + np.abs(gradient).max())
        ):
            break
        center = 0.1 * gap
        # The full system, not the smaller one for d alone: there the curvature would drown beside
        # constraints that hold each other at their price.
        system[n:, n:] = np.diag(slack / multiplier + broken / relief + LEAST_GIVE)
        pull = (
            primal
            - (center - slack * multiplier) / multiplier
            + (center - broken * relief) / relief
        )
        change = np.linalg.solve(system, np.concatenate([-dual, -pull]))
        step, by_multiplier = change[:n], change[n:]
        by_slack = (center - slack * multiplier - slack * by_multiplier) / multiplier
        by_broken = (center - broken * relief + broken * by_multiplier) / relief
        length = _inside(
            (slack, by_slack),
            (multiplier, by_multiplier),
            (broken, by_broken),
            (relief, -by_multiplier),
        )
        d = d + length * step
        slack = slack + length * by_slack
        multiplier = multiplier + length * by_multiplier
        broken = broken + length * by_broken
    return d, multiplier


def _inside(*moves: tuple[Floats, Floats]) -> float:
    """Longest step, at most one, that keeps every array positive."""
    length = 1.0
    for value, change in moves:
        falling = change < 0.0
        if falling.any():
            length = min(length, 0.995 * float((-value[falling] / change[falling]).min()))
    return length


def minimise(evaluate: Callable[[Floats], Point], start: Floats) -> Minimum:
    """Nearest minimum of a constrained problem.

    Parameters
    ----------
    evaluate : values at an x
    start : (n,)
    """
    x = np.array(start, dtype=np.float64)
    unknown = LEAST_CURVATURE * np.eye(len(x))  # of the constraints, and what else is not known
    here = evaluate(x)
    multipliers = np.zeros(len(here.constraints))
    settled = False
    steps = 0
    while steps < MOST_STEPS:
        steps += 1
        hessian = here.curvature + unknown
        step, multipliers = quadratic_programme(
            hessian, here.gradient, here.constraints, here.jacobian
        )
        if np.abs(step).max(initial=0.0) < STEP_TOLERANCE:
            settled = True
            break
        price = min(PRICE, 2.0 * float(multipliers.max(initial=0.0)) + 1e-3)
        merit = here.objective + price * _violation(here.constraints)
        promised = float(here.gradient @ step) + price * (
            _violation(here.constraints + here.jacobian @ step) - _violation(here.constraints)
        )
        if promised > -PROMISE_TOLERANCE:
            settled = True
            break
        length = 1.0
        there = evaluate(x + step)
        while (
            there.objective + price * _violation(there.constraints)
            > merit + SUFFICIENT * length * min(promised, 0.0) + 1e-15
        ):
            if length == 1.0:
                # The constraints bend away from their tangents: aim at where they really are.
                bent = there.constraints - here.jacobian @ step
                second, _ = quadratic_programme(hessian, here.gradient, bent, here.jacobian)
                corrected = evaluate(x + second)
                if (
                    corrected.objective + price * _violation(corrected.constraints)
                    <= merit + SUFFICIENT * min(promised, 0.0) + 1e-15
                ):
                    step, there = second, corrected
                    break
            length *= 0.5
            if length < SHORTEST:
                break
            there = evaluate(x + length * step)
        if length < SHORTEST:
            # No step lowers the merit by more than rounding: this is the minimum.
            settled = bool(promised > -1e-8)
            break
        moved = length * step
        _update(
            unknown,
            moved,
            (there.gradient - there.jacobian.T @ multipliers)
            - (here.gradient - here.jacobian.T @ multipliers)
            - here.curvature @ moved,
        )
        x, here = x + moved, there
    return Minimum(x, here, multipliers, steps, settled)


def _violation(constraints: Floats) -> float:
    return float(np.maximum(-constraints, 0.0).sum())


def _update(hessian: Floats, moved: Floats, turned: Floats) -> None:
    """Damped quasi-Newton update in place, which keeps the Hessian positive definite."""
    image = hessian @ moved
    energy = float(moved @ image)
    if energy <= 0.0:
        return
    along = float(moved @ turned)
    if along < 0.2 * energy:
        theta = 0.8 * energy / (energy - along)
        turned = theta * turned + (1 - theta) * image
        along = float(moved @ turned)
    hessian += np.outer(turned, turned) / along - np.outer(image, image) / energy
