"""One plan solved as it stands: names put back on flows and heads."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balance.errors import NoSolutionError, SolveError
from balance.network.arrays import Network
from balance.network.laws import RunLaws
from balance.network.settle import State, settle

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Solution:
    """Flows and heads of a network at one setting.

    Attributes
    ----------
    network : what was solved
    laws : of the runs at the setting
    state : flows and heads in arrays, one scenario
    worst_imbalance : of flow at any joint [m³/s]
    worst_mismatch : of head along any run with free flow [m]
    """

    network: Network
    laws: RunLaws
    state: State
    worst_imbalance: float
    worst_mismatch: float

    def flow(self, run: str) -> float:
        """Flow of a run, branch, pump or piece of header [m³/s]."""
        return float(self.state.flow[self.network.row_of[run], 0])

    def head(self, node: str) -> float:
        """Total head at a joint or vessel, above the plan's datum [m]."""
        return float(self.state.heads[self.network.node_of[node], 0])

    def head_of_pump(self, pump: str) -> float:
        """Head that a pump adds [m]."""
        run = self.network.row_of[pump]
        start, end = self.network.topology.start[run], self.network.topology.end[run]
        return float(self.state.heads[end, 0] - self.state.heads[start, 0])


def settled(
    network: Network,
    laws: RunLaws,
    *,
    held: Bools,
    held_flow: Floats | None = None,
    near: State | None = None,
    scenarios: int = 1,
) -> State:
    """The flows and heads of a network under some laws; arguments as those of `settle`."""
    return settle(
        network.topology,
        laws,
        fixed_heads=network.fixed_heads,
        held=held,
        held_flow=held_flow,
        draw=network.draw,
        near=near,
        scenarios=scenarios,
    )


def solve(
    network: Network,
    *,
    openings: Floats | None = None,
    speeds: Floats | None = None,
    near: State | None = None,
) -> Solution:
    """Solves a network at its plan's setting or another one.

    Parameters
    ----------
    openings : (V, 1) of `network.valves`, fractions of travel
    speeds : (P, 1) of `network.machines`, ratios
    near : a state to start from

    Raises
    ------
    NoSolutionError
        Water is drawn where none can come.
    SolveError
        Newton's method did not converge.
    """
    laws, shut = network.at(
        network.openings if openings is None else openings,
        network.speeds if speeds is None else speeds,
    )
    refuse_isolated_draws(network, shut)
    return solution_of(network, laws, settled(network, laws, held=shut, near=near))


def solution_of(network: Network, laws: RunLaws, state: State) -> Solution:
    """A state of one scenario with names and residuals.

    Raises
    ------
    SolveError
        It did not settle.
    """
    if not state.converged[0]:
        raise unsettled(network, laws, state)
    net = network.topology.net_inflow(state.flow) - network.draw
    return Solution(
        network,
        laws,
        state,
        worst_imbalance=float(np.abs(net).max(initial=0.0)),
        worst_mismatch=float(mismatch(network, laws, state)[:, 0].max(initial=0.0)),
    )


def mismatch(network: Network, laws: RunLaws, state: State) -> Floats:
    """Head that does not close along each run with free flow, (E, S) [m]."""
    head = network.topology.drop(state.heads) - laws(state.flow).head
    return np.where(state.held, 0.0, np.abs(head))


def unsettled(network: Network, laws: RunLaws, state: State) -> SolveError:
    """The error of a state of which Newton's method did not settle every scenario: of the first."""
    column = int(state.converged.argmin())
    missing = mismatch(network, laws, state)[:, column]
    worst = int(missing.argmax())
    return SolveError(
        network.layout.runs[worst].name, float(missing[worst]), int(state.iterations[column])
    )


def refuse_isolated_draws(network: Network, shut: Bools) -> None:
    """Raises NoSolutionError where shut runs, (E, S), leave a joint that draws no way to it."""
    drawn = np.flatnonzero(network.draw[:, 0] > 0.0)
    if not len(drawn):
        return
    isolated = network.topology.isolated(shut)
    for joint in drawn:
        if isolated[joint].any():
            raise NoSolutionError(
                f'joint "{network.joint_names[joint]}" draws water, but every way to it is shut; '
                "open a valve on its way or take the draw out of the plan"
            )
