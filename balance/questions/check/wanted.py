"""What flows where when every target is met."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from balance.network.arrays import Network
from balance.network.solve import settled
from balance.questions.aims import Aim, aims_of

_CLOSED = 1e-6  # of the largest flow, by which joints may fail to balance


@dataclass(frozen=True)
class Wanted:
    """Flows when every branch carries its aim.

    Attributes
    ----------
    aims : of the branches, by name
    flow : of each run, branch, pump and piece of header [m³/s]; branches without an aim as they
        stand.  Empty where no such flows exist
    """

    aims: dict[str, Aim]
    flow: dict[str, float]


def wanted(network: Network) -> Wanted:
    """The flows of a plan whose branches carry their aims."""
    names = [branch.name for branch in network.plan.branches]
    aims = dict(zip(names, aims_of(network.plan), strict=False))  # then come totals
    laws, shut = network.at(network.openings, network.speeds)
    given = np.zeros(shut.shape)
    held = shut.copy()
    for name, aim in aims.items():
        if aim.aim is not None and aim.asked not in ("", "bleed"):
            held[network.row_of[name]] = True
            given[network.row_of[name]] = aim.aim
    state = settled(network, laws, held=held, held_flow=given)
    left = network.topology.net_inflow(state.flow) - network.draw
    largest = float(np.abs(state.flow).max(initial=0.0))
    closed = bool((np.abs(left) <= _CLOSED * largest).all())
    if not (state.converged[0] and closed):
        return Wanted(aims, {})
    return Wanted(aims, {name: float(state.flow[row, 0]) for name, row in network.row_of.items()})
