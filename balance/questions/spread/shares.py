"""Which doubt contributes how much to the variance of a result.

The squared correlation of a doubt with a result is the share of the result's variance that goes in
proportion to the doubt.  Doubts are independent, so shares add up to one less what several doubts
do only together, and what goes otherwise than in proportion.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

STEADY = 1e-9
"""Standard deviation, as a share of the mean, below which a result does not vary."""


class Tally:
    """Sums over systems from which the shares follow: the systems themselves are not kept."""

    def __init__(self, doubts: int, centre: Floats) -> None:
        """Begins with no system.

        Parameters
        ----------
        centre : (R,) about what each result comes to, so that sums keep their digits
        """
        self._centre = np.concatenate([centre, _log(centre)])[:, None]
        self._positive = np.ones(len(centre), dtype=np.bool_)
        self._count = 0
        self._normal, self._normal_2 = np.zeros(doubts), np.zeros(doubts)
        self._result, self._result_2 = np.zeros(2 * len(centre)), np.zeros(2 * len(centre))
        self._both = np.zeros((doubts, 2 * len(centre)))

    def add(self, normal: Floats, results: Floats) -> None:
        """Count systems in.

        Parameters
        ----------
        normal : (doubts, S) standard normal numbers
        results : (R, S) what came of them
        """
        self._positive &= (results > 0.0).all(axis=1)
        # Whether logarithms can be taken is known at the end only: both are summed up.
        off = np.concatenate([results, _log(results)]) - self._centre
        self._count += normal.shape[1]
        self._normal += normal.sum(axis=1)
        self._normal_2 += (normal**2).sum(axis=1)
        self._result += off.sum(axis=1)
        self._result_2 += (off**2).sum(axis=1)
        self._both += normal @ off.T

    @property
    def logarithmic(self) -> Bools:
        """Results (R,) that were above zero in all systems: their logarithm is looked at."""
        return self._positive

    def shares(self) -> Floats:
        """Share of each doubt in the variance of each result, (doubts, R), without bias.

        By chance alone a squared correlation is 1/S on average: that is taken off, so a share may
        come out a little below zero.  Columns of results that do not vary are NaN.
        """
        count = self._count
        mean_normal, mean_result = self._normal / count, self._result / count
        of_normal = self._normal_2 / count - mean_normal**2
        of_result = self._result_2 / count - mean_result**2
        both = self._both / count - np.outer(mean_normal, mean_result)
        results = len(self._positive)
        size = np.abs(self._centre[:results, 0] + mean_result[:results])
        varies = np.sqrt(np.maximum(of_result[:results], 0.0)) > STEADY * size
        chosen = np.arange(results) + np.where(self._positive, results, 0)
        squared = np.full((len(self._normal), results), np.nan)
        there = chosen[varies]
        squared[:, varies] = both[:, there] ** 2 / np.outer(of_normal, of_result[there])
        return squared - (1.0 - squared) / (count - 2)


def _log(results: Floats) -> Floats:
    """Logarithms; nought where there is none."""
    return np.log(np.where(results > 0.0, results, 1.0))
