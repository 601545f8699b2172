"""What pumps can bring: as they stand, at full speed, and with all that leads elsewhere shut."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Machine, Network
from balance.network.solve import mismatch, refuse_isolated_draws, settled, unsettled
from balance.plan.model import Plan
from balance.questions.inflows import by_pipes

Floats = NDArray[np.float64]

AS_IT_STANDS, FULL_SPEED, GREATEST = 0, 1, 2


@dataclass(frozen=True)
class Supply:
    """Water by pipes into every vessel, in cases S.

    The first case is the plan as it stands, the second has pumps at full speed; then comes one for
    each vessel asked about, with all branches shut besides that lead elsewhere.

    Attributes
    ----------
    came : net flow by pipes into each vessel, (S,) [m³/s]
    shut : names of branches that each case shuts
    worst_imbalance : of flow at any joint [m³/s]
    worst_mismatch : of head along any run [m]
    """

    came: dict[str, Floats]
    shut: tuple[tuple[str, ...], ...]
    worst_imbalance: float
    worst_mismatch: float


def supply(network: Network, vessels: Sequence[str]) -> Supply:
    """Solves all cases in one batch.

    Raises
    ------
    NoSolutionError
        Water is drawn where none can come.
    SolveError
        The flows did not settle.
    """
    plan = network.plan
    shut = ((), (), *(_elsewhere(network, vessel) for vessel in vessels))
    full = np.array([_full_speed(machine) for machine in network.machines]).reshape(-1, 1)
    speeds = np.repeat(np.maximum(network.speeds, full), len(shut), axis=1)
    speeds[:, AS_IT_STANDS] = network.speeds[:, 0]
    laws, capped = network.at(np.repeat(network.openings, len(shut), axis=1), speeds)
    held = np.broadcast_to(capped, (network.topology.runs, len(shut))).copy()
    refuse_isolated_draws(network, held)
    for column, names in enumerate(shut):
        held[[network.row_of[name] for name in names], column] = True
    # What would leave a joint's draw without water cannot be shut.
    drawn = network.draw[:, 0] > 0.0
    cut_off = np.logical_or.reduce(network.topology.isolated(held)[drawn], axis=0)
    held[:, cut_off] = np.broadcast_to(capped, held.shape)[:, cut_off]
    shut = tuple(() if cut else names for cut, names in zip(cut_off, shut, strict=True))
    state = settled(network, laws, held=held, scenarios=len(shut))
    if not state.converged.all():
        raise unsettled(network, laws, state)
    flow = {name: state.flow[row] for name, row in network.row_of.items()}
    net = network.topology.net_inflow(state.flow) - network.draw
    return Supply(
        came={
            name: np.broadcast_to(flow, len(shut)) for name, flow in by_pipes(plan, flow).items()
        },
        shut=shut,
        worst_imbalance=float(np.abs(net).max(initial=0.0)),
        worst_mismatch=float(mismatch(network, laws, state).max(initial=0.0)),
    )


def _full_speed(machine: Machine) -> float:
    """The most that a hand may set, also of a pump that is slow or stands still now."""
    return 1.0 if machine.pump.speed_range is None else machine.pump.speed_range[1]


def _elsewhere(network: Network, vessel: str) -> tuple[str, ...]:
    """Branches whose water does not come to a vessel."""
    onward = _onward(network)
    return tuple(
        branch.name
        for branch in network.plan.branches
        if branch.to is not None
        and not network.capped[network.row_of[branch.name], 0]
        and vessel not in _reached(onward, branch.to)
    )


def _onward(network: Network) -> dict[str, list[str]]:
    """Where water goes on to from each joint by pipes, and from each vessel by gravity."""
    plan, found = network.plan, dict[str, list[str]]()
    ends: dict[str, str | None] = {run.name: run.to for run in plan.runs}
    ends |= {branch.name: branch.to for branch in plan.branches}
    for run in network.layout.runs:
        if run.start in network.joint_names:
            found.setdefault(run.start, []).append(run.end)
            found[run.start].append(ends.get(run.owner) or run.end)
    for start, end in by_gravity(plan):
        found.setdefault(start, []).append(end)
    return found


def by_gravity(plan: Plan) -> Iterable[tuple[str, str]]:
    """The vessels that drains and weirs join, as they are written."""
    for weir in plan.weirs:
        yield weir.from_, weir.to
    for drain in plan.drains:
        if drain.role != "change":
            yield drain.from_, drain.to


def _reached(onward: dict[str, list[str]], start: str) -> set[str]:
    seen, waiting = {start}, [start]
    while waiting:
        for there in onward.get(waiting.pop(), ()):
            if there not in seen:
                seen.add(there)
                waiting.append(there)
    return seen
