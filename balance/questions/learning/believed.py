"""What is left in doubt of a plan that has learnt from readings.

Its table of numbers holds how sure each is and how they hang together; what readings told nothing
of is as doubtful as before; and handles are set anew by eye.  What no number stands for, such as a
level, was among what the readings saw and is in the numbers already.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import hypot
from typing import cast

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.plan.learnt import Learnt
from balance.questions.learning.doubts import (
    CURVES,
    FITTINGS,
    HANDLES,
    OFFSETS,
    PUMPS,
    Doubt,
    Drawn,
    handle_spread,
    offset_spread,
)
from balance.questions.learning.handles import Setting, at_stop
from balance.questions.learning.unknowns import Kind, Unknowns, unknowns_of

Floats = NDArray[np.float64]

LEFT_OPEN = "what readings left open"
ABOUT = {
    "pump": PUMPS,
    "mains": FITTINGS,
    "loss": FITTINGS,
    "throttling": CURVES,
    "offset": OFFSETS,
    "bucket": LEFT_OPEN,
    "handle": HANDLES,
}


@dataclass(frozen=True)
class Believed:
    """Draws systems as a fitted plan leaves them in doubt.

    Attributes
    ----------
    network : of the plan with what was learnt
    learnt : that
    """

    network: Network
    learnt: Learnt

    @cached_property
    def unknowns(self) -> Unknowns:
        """All numbers, and the errors of handles set anew."""
        network, spread = self.network, self.network.plan.spread
        known = {(each.of, each.name or "") for each in self.learnt.numbers}
        told = [("offset", valve.name) in known for valve in network.valves]
        settings = [
            Setting(
                place,
                hypot(
                    handle_spread(valve, spread),
                    0.0 if told[place] else offset_spread(valve, spread),
                ),
            )
            for place, valve in enumerate(network.valves)
            if not at_stop(valve.part.open)
        ]
        return unknowns_of(network, tuple(settings), told=told, supply_told=("mains", "") in known)

    @cached_property
    def _rows(self) -> tuple[list[int], list[int]]:
        """Rows of the numbers that were learnt, in the table's order, and their places in it."""
        rows, places = [], []
        for place, each in enumerate(self.learnt.numbers):
            row = self.unknowns.rows.get((cast("Kind", each.of), each.name or ""))
            if row is not None:
                rows.append(row)
                places.append(place)
        return rows, places

    @cached_property
    def _root(self) -> Floats:
        """(P, P) R of the covariance R R' of all unknowns."""
        rows, places = self._rows
        covariance = self.unknowns.covariance.copy()
        covariance[rows, :] = covariance[:, rows] = 0.0
        # Factors stand for their logarithms.
        scale = np.array(
            [1.0 if each.of == "offset" else each.value for each in self.learnt.numbers]
        )
        own = (self.learnt.covariance() / np.outer(scale, scale))[np.ix_(places, places)]
        covariance[np.ix_(rows, rows)] = own
        values, vectors = np.linalg.eigh(own)
        root = np.zeros_like(covariance)
        root[np.ix_(rows, rows)] = vectors * np.sqrt(np.maximum(values, 0.0))
        rest = [row for row in range(len(covariance)) if row not in rows]
        block = covariance[np.ix_(rest, rest)]
        doubtful = np.diag(block) > 0.0
        kept = [row for row, sure in zip(rest, doubtful, strict=True) if sure]
        root[np.ix_(kept, kept)] = np.linalg.cholesky(covariance[np.ix_(kept, kept)])
        return root

    @cached_property
    def all(self) -> tuple[Doubt, ...]:
        """Every doubt, in the order of the rows of `drawn`."""
        rows = set(self._rows[0])
        size = np.sqrt((self._root**2).sum(axis=0))
        return tuple(
            Doubt(LEFT_OPEN if row in rows else ABOUT[each.of], each.name, float(size[row]))
            for row, each in enumerate(self.unknowns.all)
        )

    def drawn(self, normal: Floats) -> Drawn:
        """Systems from standard normal numbers (doubts, S); from noughts the likeliest one."""
        z = self._root @ normal
        handles = np.zeros((len(self.network.valves), normal.shape[1]))
        for number, setting in enumerate(self.unknowns.settings):
            handles[setting.valve] = z[self.unknowns.first_setting + number]
        return Drawn(
            self.unknowns.real(z),
            handles,
            np.repeat(self.network.fixed_heads, normal.shape[1], axis=1),
        )
