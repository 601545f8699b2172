"""Stretches that clog: they lose more at equal flow than they do clean, valves left out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from balance.errors import UsageError
from balance.network.arrays import Network
from balance.questions.named import Named

Floats = NDArray[np.float64]

Clogs = Sequence[tuple[str, float]]
"""Branches, runs and headers, each with the share by which it loses more."""


def clogs_of(network: Network, more: Mapping[str, float]) -> tuple[tuple[str, float], ...]:
    """Clogs of branches, runs and headers, and of all branches of a group.

    Raises
    ------
    UnknownNameError
        With the nearest name.
    UsageError
        It is a valve, or less than nothing.
    """
    named = Named(network)
    found: dict[str, float] = {}
    for name, by in more.items():
        if by < 0.0:
            raise UsageError(f'"{name}" cannot lose less than it does clean; write "50 %"')
        found |= dict.fromkeys(named.clogged(name), by)
    return tuple(found.items())


def clog_factor(network: Network, clogs: Clogs) -> Floats:
    """Multiples of what runs lose clean, (E, 1)."""
    rows = rows_of_owners(network)
    factor = np.ones((network.topology.runs, 1))
    for name, more in clogs:
        factor[rows[name]] *= 1.0 + more
    return factor


def rows_of_owners(network: Network) -> dict[str, list[int]]:
    """Rows of the runs of each pump, run, branch and header, in the order of the water."""
    found: dict[str, list[int]] = {}
    for row, run in enumerate(network.layout.runs):
        found.setdefault(run.owner, []).append(row)
    return found
