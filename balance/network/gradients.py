"""Slopes of one measured thing in each scenario, all scenarios at once.

`slopes` answers how all flows move with a few changes, in one scenario.  Readings ask the other
way round: one flow or head in each of many scenarios, and what any number of changes do to it.
That takes one transposed system a scenario, and then a product a change.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from balance.network.laws import RunLaws
from balance.network.newton import Conductance, apply, conductance
from balance.network.settle import State
from balance.network.topology import Topology

Floats = NDArray[np.float64]


def by_lost_head(
    topology: Topology, laws: RunLaws, state: State, *, flow: Floats, heads: Floats
) -> Floats:
    """Slope of a measured thing against the head lost in each run at unchanged flow, (E, S).

    Parameters
    ----------
    flow : (E, S) slope of the thing against each flow
    heads : (joints, S) slope against each joint's head

    Returns
    -------
    (E, S), to be multiplied by the change of the head lost in each run and added up over runs.

    With G the inverse of the runs' Jacobian, D the drop along runs of joint heads h, and flows that
    balance: dflow = G (D h - df) and D' G D h = D' G df.  So the slope is D w - flow, carried
    through G', with (D' G D)' w = heads + D' G' flow.
    """
    linear = laws(state.flow)
    inverse = conductance(topology.pairs, linear, state.held, safe=False)
    turned = _transposed(inverse, len(topology.pairs))
    through = apply(topology.pairs, turned, flow)
    nodes = np.zeros((topology.joints + topology.fixed, flow.shape[1]))
    nodes[: topology.joints] = topology.factor(*turned).solve(heads - topology.net_inflow(through))
    return apply(topology.pairs, turned, topology.drop(nodes)) - through


def _transposed(inverse: Conductance, tees: int) -> Conductance:
    if inverse.crossed is None:
        return inverse
    crossed = inverse.crossed
    return Conductance(inverse.own, np.concatenate([crossed[tees:], crossed[:tees]]))
