"""Whether what a fit leaves in doubt is as its curvature says: by weighed samples.

Unknowns are drawn by the curvature at the optimum, and each draw is weighed by how
likely the readings and the prior make it against how likely it was drawn.  Where the model is bent,
the weighed draws say by how much bands are wrong.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balance.network.settle import State, settle
from balance.questions.learning.experiment import values
from balance.questions.learning.learn import Learnt
from balance.questions.learning.regression import cost_of

Floats = NDArray[np.float64]

DRAWS = 400
SEED = 1763  # any: the same draws for the same readings


@dataclass(frozen=True)
class Sampled:
    """Draws of a fit's unknowns.

    Attributes
    ----------
    z : (P, S)
    weight : (S,) that add up to one
    effective : how many equally weighed draws they are worth
    """

    z: Floats
    weight: Floats
    effective: float

    def band(self, values: Floats, low: float, high: float) -> tuple[float, float]:
        """Weighed quantiles of values (S,)."""
        order = np.argsort(values)
        rising = np.cumsum(self.weight[order])
        ends = np.interp((low, high), rising - 0.5 * self.weight[order], values[order])
        return float(ends[0]), float(ends[1])


def sampled(learnt: Learnt, *, draws: int = DRAWS) -> Sampled:
    """Draws of the unknowns of a fit, weighed."""
    rng = np.random.default_rng(SEED)
    normal = rng.standard_normal((len(learnt.z), draws))
    z = learnt.drawn(normal)
    experiment = learnt.experiment
    unknowns, stands = experiment.unknowns, experiment.stands
    expected = values(unknowns, stands, experiment.observations, z, _states(learnt, z))  # (N, S)
    residual = (experiment.measured[:, None] - expected) / experiment.sd[:, None]
    whitened = np.linalg.solve(np.linalg.cholesky(unknowns.covariance), z)
    cost = cost_of(residual, whitened, experiment.doubtful[:, None])
    log_weight = -cost + 0.5 * (normal**2).sum(axis=0)
    log_weight[~np.isfinite(log_weight)] = -np.inf
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    return Sampled(z, weight, float(1.0 / (weight**2).sum()))


def _states(learnt: Learnt, z: Floats) -> State:
    """All stands of the first draw, then of the next ..."""
    experiment, network = learnt.experiment, learnt.unknowns.network
    stands, draws = len(experiment.stands), z.shape[1]
    every = np.repeat(np.arange(draws), stands)
    real = learnt.unknowns.real(z[:, every])
    handles = np.concatenate(
        [learnt.unknowns.handles(z[:, draw], experiment.stands) for draw in range(draws)], axis=1
    )
    laws, shut = network.at(
        np.tile(experiment.openings, (1, draws)),
        np.tile(experiment.speeds, (1, draws)),
        real=replace(real, offset=real.offset - handles),
    )
    return settle(
        network.topology,
        laws,
        fixed_heads=network.fixed_heads,
        held=shut,
        draw=network.draw,
        scenarios=draws * stands,
    )
