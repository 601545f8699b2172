"""Exact slopes: how flows and heads answer to small changes, at a settled state.

Around a state the network is linear: J dq + h = drop of dH on runs with free flow, flows balance
at joints, and dq = z is given on held runs.  One elimination serves any number of changes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balance.network.laws import RunLaws
from balance.network.newton import Linear, apply, conductance
from balance.network.settle import State
from balance.network.topology import Topology

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Response:
    """Answers of one scenario to P changes.

    Attributes
    ----------
    flow : (E, P) change of each run's flow for a unit of each change
    heads : (joints, P) change of each joint's head; zero at isolated joints
    missing : (E, P) change of the head that a held run would have left over: the drop of head
        between its ends less its law.  Zero on runs with free flow
    """

    flow: Floats
    heads: Floats
    missing: Floats


def respond(
    topology: Topology, laws: RunLaws, state: State, *, flow: Floats, head: Floats
) -> Response:
    """Answers to changes of held flows and of the head lost in runs.

    Parameters
    ----------
    state : of one scenario
    flow : (E, P) change of the flow of held runs, zero on others
    head : (E, P) change of the head lost in each run at unchanged flow, i.e. df/dp
    """
    linear = laws(state.flow)
    # The true inverse: a diagonal in place of a tee's block is right for a step, not for a slope.
    inverse = conductance(topology.pairs, linear, state.held, safe=False)
    factors = topology.factor(*inverse)
    pushed = -(head + _times(topology, linear, flow))
    moved = flow + apply(topology.pairs, inverse, pushed)
    heads = factors.solve(topology.net_inflow(moved))
    nodes = np.zeros((topology.joints + topology.fixed, heads.shape[1]))
    nodes[: topology.joints] = heads
    drop = topology.drop(nodes)
    answer = moved + apply(topology.pairs, inverse, drop)
    missing = drop - _times(topology, linear, answer) - head
    missing[~state.held[:, 0]] = 0.0
    return Response(answer, heads, missing)


def _times(topology: Topology, linear: Linear, flow: Floats) -> Floats:
    """The runs' Jacobian times changes of flow, (E, P)."""
    head = linear.slope * flow
    if linear.crossed is not None:
        first, second = topology.pairs[:, 0], topology.pairs[:, 1]
        tees = len(topology.pairs)
        head[first] += linear.crossed[:tees] * flow.take(second, axis=0)
        head[second] += linear.crossed[tees:] * flow.take(first, axis=0)
    return head
