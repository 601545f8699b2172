"""How finely a handle sets what flows: the slope of flow against its travel."""

from __future__ import annotations

import numpy as np

from balance.network.arrays import Valve
from balance.network.slopes import respond
from balance.network.solve import Solution


def flow_per_travel(solution: Solution, valve: Valve, opening: float) -> float | None:
    """Change of flow in a valve's run for all of its travel, at the rate of where it stands [m³/s].

    Parameters
    ----------
    opening : at which it was solved, of its travel [ratio]

    Returns
    -------
    None where the valve is shut.
    """
    loss = valve.law.loss_coefficient(np.array([opening]))
    if not np.isfinite(loss.k[0]):
        return None
    flow = solution.state.flow[:, 0]
    push = np.zeros((solution.network.topology.runs, 1))
    for row, scale in valve.places:
        push[row, 0] = flow[row] * abs(flow[row]) * scale * float(loss.slope[0])
    answer = respond(
        solution.network.topology,
        solution.laws,
        solution.state,
        flow=np.zeros_like(push),
        head=push,
    )
    return float(answer.flow[valve.run, 0])
