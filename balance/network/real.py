"""What the real plumbing is where it differs from its plan, scenario by scenario."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balance.network.laws import RunLaws

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Real:
    """A network's laws as they may really be; columns are scenarios, or one for all.

    Attributes
    ----------
    passive : laws of all runs with valves lossless
    open_factor : (V, c) of what each valve loses wide open
    log_factor : (V, c) logarithm of the factor of what each loses by throttling
    offset : (V, c) how much less open each is than its handle says, of travel
    """

    passive: RunLaws
    open_factor: Floats
    log_factor: Floats
    offset: Floats

    @property
    def scenarios(self) -> int:
        """Columns of the valves' arrays."""
        return max(len(array.T) for array in (self.open_factor, self.log_factor, self.offset))


def stronger(laws: RunLaws, strength: Floats) -> RunLaws:
    """The laws with pumps of other strengths, (P, c): flow goes with it, head with its square."""
    if laws.pumps is None:
        return laws
    pumps = replace(
        laws.pumps,
        head_factor=laws.pumps.head_factor * strength**2,
        flow_factor=laws.pumps.flow_factor * strength,
    )
    return replace(laws, pumps=pumps)
