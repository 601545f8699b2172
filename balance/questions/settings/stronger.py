"""The pump that would do: what it must give with every branch at its aim."""

from __future__ import annotations

import numpy as np

from balance.network.arrays import Network, network_of
from balance.plan.model import Plan
from balance.questions.aims import aims_of, wishes_of
from balance.questions.settings.aimed import flows_at_aims
from balance.questions.settings.flowspace import (
    FlowSpace,
    Held,
    controls_of,
    shared_controls,
    with_opening,
)
from balance.units import SYSTEMS

MOST_SPEED = 3.0  # of the pump that is there, to stand for a stronger one
HALVINGS = 30


def stronger_pump(network: Network) -> tuple[str, Plan] | None:
    """A pump like the one that is there, of as much more head and flow as the aims need, in words.

    By the laws of affinity the same pump at a higher speed has the curve of a larger one.  None
    where one pump is not all there is, where aims do not settle the flows, or the pump suffices.
    """
    if len(network.machines) != 1:
        return None
    (name,) = network.plan.running
    network = network_of(_with_pump(network.plan, name, speed=1.0))
    aims = aims_of(network.plan)
    controls = controls_of(network, {name for aim in aims if aim.asked for name in aim.branches})
    space = FlowSpace(network, controls, network.openings)
    for shared in shared_controls(network):
        space = with_opening(space, shared, shared.most)
    names = tuple(branch.name for branch in network.plan.branches)
    flow = flows_at_aims(space, wishes_of(aims, names))
    if flow is None or space.isolates or not controls:
        return None

    def at(speed: float) -> Held:
        return space.at(flow, np.array([[speed]]))

    low, high = 1.0, MOST_SPEED
    if (at(low).spare >= 0.0).all() or (at(high).spare < 0.0).any():
        return None
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if (at(middle).spare >= 0.0).all() else (middle, high)
    here = at(high)
    system = SYSTEMS[network.plan.units]
    run = network.machines[0].run
    carried = system.text(float(here.state.flow[run, 0]), "flow")
    head = system.text(-float(network.topology.drop(here.state.heads)[run, 0]), "head")
    return (
        f'a pump that gives {head} at {carried} in place of "{name}"',
        _with_pump(network.plan, name, speed=high),
    )


def _with_pump(plan: Plan, name: str, *, speed: float) -> Plan:
    """The pump of a plan turning at a true speed, which is fixed."""
    pump = plan.pumps[name].model_copy(
        update={"speed": speed, "speed_range": None, "speed_map": None}
    )
    return plan.model_copy(update={"pumps": {name: pump}})
