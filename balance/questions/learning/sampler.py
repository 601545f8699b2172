"""Who can say how a network may really be: what a plan leaves in doubt, or what readings left."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from balance.questions.learning.doubts import Doubt, Drawn

Floats = NDArray[np.float64]


class Sampler(Protocol):
    """Draws systems from independent standard normal numbers, one for each doubt."""

    @property
    def all(self) -> tuple[Doubt, ...]:
        """Every doubt, in the order of the rows of `drawn`."""
        ...

    def drawn(self, normal: Floats) -> Drawn:
        """Systems from standard normal numbers (doubts, S); from noughts the likeliest one."""
        ...
