"""Two lines that cross: the head that the plumbing asks for, and the head that pumps give."""

from __future__ import annotations

import numpy as np

from balance.network.arrays import Machine, Network
from balance.network.solve import settled, unsettled
from balance.questions.pumps.answer import HeadLine
from balance.questions.speeds import speed_range

POINTS = 41


def head_line(machine: Machine, *, side_by_side: int, in_a_row: int) -> HeadLine:
    """Head that like pumps together give at top speed, from no flow to run-out."""
    top = speed_range(machine)[1]
    flow = np.linspace(0.0, machine.run_out(top), POINTS)
    head = machine.head(flow, top)
    return HeadLine(
        flow=tuple((side_by_side * flow).tolist()), head=tuple((in_a_row * head).tolist())
    )


def system_curve(network: Network, *, most: float) -> HeadLine | None:
    """Head that a network asks of its only pump, its valves as its plan has them.

    Parameters
    ----------
    most : flow at which the curve ends [m³/s]

    Returns
    -------
    `POINTS` flows from next to nothing up to `most`, all settled at once with the pump's run held
    at them.  None where there is not one pump, or where it has no way out.
    """
    if len(network.machines) != 1 or most <= 0.0:
        return None
    run = network.machines[0].run
    flow = np.linspace(most / POINTS, most, POINTS)
    laws, shut = network.at(network.openings, network.speeds)
    held = shut.copy()
    held[run] = True
    topology = network.topology
    end, start = topology.end[run], topology.start[run]
    isolated = topology.isolated(held)[:, 0]
    if any(node < topology.joints and isolated[node] for node in (start, end)):
        return None
    given = np.zeros((topology.runs, POINTS))
    given[run] = flow
    state = settled(network, laws, held=held, held_flow=given, scenarios=POINTS)
    if not state.converged.all():
        raise unsettled(network, laws, state)
    head = state.heads[end] - state.heads[start]
    return HeadLine(flow=tuple(flow.tolist()), head=tuple(head.tolist()))
