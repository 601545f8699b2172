"""What remains when one of several pumps fails."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network, network_of
from balance.network.settle import State
from balance.network.solve import settled, unsettled
from balance.plan.model import CheckPart
from balance.questions.aims import NO_FLOW
from balance.questions.pumps.answer import OneStopped
from balance.questions.settings.search import Found

Floats = NDArray[np.float64]

DRY = 1e-3  # of the flow before: less is none; our own choice


def one_stopped(network: Network, found: Found, *, state: State) -> tuple[OneStopped, ...]:
    """Each pump of several stopped in turn, handles and the others' speeds as a search left them.

    Its check valve shuts and keeps the others' water from running back through it; should that
    valve stand open, the water has a short way home, which is told as well.  Where no branch has
    flow, none can be lost.

    Parameters
    ----------
    state : that flows with the search's openings and speeds
    """
    before = state.flow
    branches = found.space.branch_rows
    if len(network.machines) < 2 or not (before[branches] > NO_FLOW).any():
        return ()
    after = _stopped(network, found)
    total = float(network.topology.taken(before)[0])
    names = [branch.name for branch in network.plan.branches]
    rows = []
    for place, machine in enumerate(network.machines):
        flow = float(network.topology.taken(after.flow)[place])
        flowing = np.flatnonzero(before[branches, 0] > NO_FLOW)
        shares = after.flow[branches[flowing], place] / before[branches[flowing], 0]
        least = int(shares.argmin())
        rows.append(
            OneStopped(
                pump=machine.name,
                flow=flow,
                share=flow / total,
                least_branch=names[flowing[least]],
                least_share=float(shares[least]),
                dry=tuple(names[flowing[at]] for at in np.flatnonzero(shares < DRY)),
                check_failed_share=_check_failed(network, found, place, total),
            )
        )
    return tuple(rows)


def _stopped(network: Network, found: Found) -> State:
    """The network with each pump stopped, one to a scenario."""
    count = len(network.machines)
    speeds = np.repeat(found.speeds, count, axis=1)
    np.fill_diagonal(speeds, 0.0)
    laws, shut = network.at(np.repeat(found.openings, count, axis=1), speeds)
    held = shut if shut.shape[1] == count else np.repeat(shut, count, axis=1)
    state = settled(network, laws, held=held, scenarios=count)
    if not state.converged.all():
        raise unsettled(network, laws, state)
    return state


def _check_failed(network: Network, found: Found, place: int, total: float) -> float | None:
    """Share of the flow to vessels that is left with a pump stopped and its check valve open.

    What runs back into the vessel it came from is no flow to anything.
    """
    plan = network.plan
    outlet = plan.pumps[network.machines[place].name].to
    runs = [
        run.model_copy(
            update={
                "parts": tuple(
                    part.model_copy(update={"failed": True})
                    if isinstance(part, CheckPart)
                    else part
                    for part in run.parts
                )
            }
        )
        if run.from_ == outlet
        else run
        for run in plan.runs
    ]
    if tuple(runs) == plan.runs:
        return None
    opened = network_of(plan.model_copy(update={"runs": tuple(runs)}))
    speeds = found.speeds.copy()
    speeds[place] = 0.0
    laws, shut = opened.at(found.openings, speeds)
    state = settled(opened, laws, held=shut)
    if not state.converged[0]:
        raise unsettled(opened, laws, state)
    back = max(0.0, -float(state.flow[opened.machines[place].run, 0]))
    return (float(opened.topology.taken(state.flow)[0]) - back) / total
