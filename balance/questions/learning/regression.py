"""Nonlinear least squares with priors, and with readings that may be plain wrong.

What is minimised, over unknowns z:

    sum of rho(r) + (z - m)' Q (z - m) / 2,   r = (measured - model(z)) / sd,

m the prior's mean and Q its precision.  rho is r²/2; of a robust fit it goes on as a logarithm
beyond a threshold k, so that a wild reading pulls the less the wilder it is.

The way is Gauss and Newton's with Marquardt's damping (marquardt-1963): each step solves the linear
problem by orthogonal triangles, never by its normal equations, whose condition is the square.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FIRST_DAMPING = 1e-3
LEAST_DAMPING = 1e-14
MOST_DAMPING = 1e14
EASED, STIFFENED = (
    0.2,
    4.0,
)  # damping after a step that lowers the cost, and after one that does not
MOST_STEPS = 500
SAME = 1e-9  # a step of so little, of how well each unknown is known and of itself, is none


class Model(Protocol):
    """What would be measured."""

    def __call__(self, at: Floats) -> tuple[Floats, Floats]:
        """Values (N,) and slopes (N, P) at unknowns (P,); not a number where there are none."""
        ...


@dataclass(frozen=True)
class Regression:
    """Where the cost is least.

    Attributes
    ----------
    at : (P,) unknowns
    root : (P, P) R of R R', the inverse of the curvature there, of Gauss and Newton
    residuals : (N,) (measured - model) / sd
    weights : (N,) share with which each counts: 1, less for what does not fit
    slopes : (N, P) of the model
    cost : that was minimised
    iterations : evaluations of the model
    converged : whether steps had become none
    """

    at: Floats
    root: Floats
    residuals: Floats
    weights: Floats
    slopes: Floats
    cost: float
    iterations: int
    converged: bool

    @property
    def covariance(self) -> Floats:
        """Inverse of the curvature, (P, P)."""
        return np.asarray(self.root @ self.root.T)


def regress(
    model: Model,
    *,
    measured: Floats,
    sd: Floats,
    start: Floats,
    prior_mean: Floats,
    prior_precision: Floats,
    robust: float | Floats | None = None,
    same: float = SAME,
    most: int = MOST_STEPS,
) -> Regression:
    """Fit unknowns to what was measured.

    Parameters
    ----------
    measured, sd : (N,) and their standard deviations
    start : (P,) unknowns to begin from
    prior_mean : (P,)
    prior_precision : (P, P) inverse covariance; zeros where nothing is known beforehand
    robust : standard deviations beyond which a reading is taken for doubtful, one for all or (N,);
        None: never
    same : step, of how well each unknown is known and of the unknown itself, that is none
    most : evaluations of the model

    Returns
    -------
    Regression; `converged` is false where `most` was reached.

    Source: marquardt-1963.
    """
    root = _root(prior_precision)

    def look(at: Floats) -> tuple[Floats, Floats, Floats]:
        values, slopes = model(at)
        return (measured - values) / sd, slopes, root @ (at - prior_mean)

    at = np.array(start, dtype=np.float64)
    residual, slopes, off = look(at)
    cost = float(cost_of(residual, off, robust))
    damping, evaluated, converged = FIRST_DAMPING, 1, False
    while evaluated < most:
        weight = np.sqrt(_weights(residual, robust))
        stacked = np.vstack([slopes * (weight / sd)[:, None], -root])
        wanted = np.concatenate([weight * residual, off])
        size = np.sqrt((stacked**2).sum(axis=0))
        size[size == 0.0] = 1.0
        orthogonal, triangle = np.linalg.qr(stacked / size)
        goal = orthogonal.T @ wanted
        step = _damped(triangle, goal, damping) / size
        tried = at + step
        fresh = look(tried)
        evaluated += 1
        new_cost = float(cost_of(fresh[0], fresh[2], robust))
        small = bool((np.abs(step) * size <= same * (1.0 + np.abs(at) * size)).all())
        if np.isfinite(new_cost) and np.isfinite(fresh[1]).all() and new_cost <= cost:
            at, cost, (residual, slopes, off) = tried, new_cost, fresh
            damping = max(damping * EASED, LEAST_DAMPING)
            if small:
                converged = True
                break
        elif small and new_cost <= cost + SAME * (1.0 + cost):
            # What is left is rounding: no step so small lowers the cost.
            converged = True
            break
        else:
            damping *= STIFFENED
            if damping > MOST_DAMPING:
                break
    return Regression(
        at,
        _covariance_root(slopes, sd, _weights(residual, robust), root),
        residual,
        _weights(residual, robust),
        slopes,
        cost,
        evaluated,
        converged,
    )


def _damped(triangle: Floats, goal: Floats, damping: float) -> Floats:
    """Step of the damped linear problem, from the triangle of the plain one."""
    unknowns = triangle.shape[1]
    below = np.sqrt(damping) * np.eye(unknowns)
    step: Floats = np.linalg.lstsq(
        np.vstack([triangle, below]), np.concatenate([goal, np.zeros(unknowns)]), rcond=None
    )[0]
    return step


def _weights(residual: Floats, robust: float | Floats | None) -> Floats:
    """Share with which each residual counts, rho'(r) / r."""
    if robust is None:
        return np.ones_like(residual)
    return np.minimum(1.0, (robust / np.maximum(np.abs(residual), robust)) ** 2)


def cost_of(residual: Floats, off: Floats, robust: float | Floats | None) -> Floats:
    """What is minimised, of residuals (N, ...) and of what lies off the prior (P, ...)."""
    with np.errstate(over="ignore"):  # a trial that goes far off costs more than can be told
        half = 0.5 * residual**2
    if robust is not None:
        wild = np.maximum(np.abs(residual) / robust, 1.0)
        half = np.where(wild > 1.0, robust**2 * (0.5 + np.log(wild)), half)
    return np.asarray(half.sum(axis=0) + 0.5 * (off**2).sum(axis=0))


def _covariance_root(slopes: Floats, sd: Floats, weights: Floats, root: Floats) -> Floats:
    """The inverse of a triangle whose square is the curvature; what nothing tells stays at zero."""
    stacked = np.vstack([slopes * (np.sqrt(weights) / sd)[:, None], root])
    size = np.sqrt((stacked**2).sum(axis=0))
    size[size == 0.0] = 1.0
    triangle = np.linalg.qr(stacked / size, mode="r")
    try:
        inverse = np.linalg.inv(triangle)
    except np.linalg.LinAlgError:
        inverse = np.linalg.pinv(triangle)
    return np.asarray(inverse / size[:, None])


def _root(precision: Floats) -> Floats:
    """A matrix R with R' R the precision, which may be singular."""
    if np.array_equal(precision, np.diag(np.diag(precision))):
        return np.sqrt(precision)
    values, vectors = np.linalg.eigh(precision)
    return np.asarray(np.sqrt(np.maximum(values, 0.0))[:, None] * vectors.T)
