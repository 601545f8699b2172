"""The speed up to which one blocked drain floods nothing, with handles as they stand."""

from __future__ import annotations

import numpy as np

from balance.network.arrays import Network
from balance.network.solve import settled
from balance.questions.drains.answer import Quiet, VesselDrains
from balance.questions.inflows import inflows
from balance.questions.speeds import is_free, speed_range, step_of


def quiet_speed(network: Network, vessel: VesselDrains) -> Quiet | None:
    """The highest step of speed at which the worst single blockage still carries what comes.

    All steps in one batch. None where more pumps than one run, or one whose speed is fixed, and
    where nothing floods by a single blockage up to full speed, or something does at any speed.
    """
    if len(network.machines) != 1 or not is_free(network.machines[0]):
        return None
    (machine,) = network.machines
    carried = min(each.safe for each in vessel.capacities if len(each.which) <= 1)
    low, high = speed_range(machine)
    steps = np.arange(high, low - 1e-9, -step_of(machine)).reshape(1, -1)
    openings = np.repeat(network.openings, steps.shape[1], axis=1)
    laws, shut = network.at(openings, steps)
    held = np.broadcast_to(shut, (network.topology.runs, steps.shape[1])).copy()
    state = settled(network, laws, held=held, scenarios=steps.shape[1])
    if not state.converged.all():
        return None
    flow = {name: state.flow[row] for name, row in network.row_of.items()}
    came = np.broadcast_to(inflows(network.plan, flow)[vessel.vessel], steps.shape[1])
    enough = np.flatnonzero(came <= carried)
    if not len(enough) or enough[0] == 0:
        return None
    return Quiet(pump=machine.name, speed=float(steps[0, enough[0]]), flow=float(came[enough[0]]))
