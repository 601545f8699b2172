"""All scenarios, and the plan as it stands, solved in one batch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Machine, Network
from balance.network.laws import RunLaws
from balance.network.settle import State
from balance.network.solve import Solution, mismatch, refuse_isolated_draws, settled, solution_of
from balance.questions.close.cases import Scenario, arrays
from balance.questions.sources import source_of

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

BASE = 0  # the column of the plan as it stands


@dataclass(frozen=True)
class Worked:
    """What one pump does in every scenario.

    Attributes
    ----------
    machine : the pump
    speed : at which it stands [ratio]
    flow, head : (S,) [m³/s], [m]
    power : at the wire, (S,) [W]; None where its curve has none
    useful : flows between which it runs well [m³/s]; None where that is not judged
    """

    machine: Machine
    speed: float
    flow: Floats
    head: Floats
    power: Floats | None
    useful: tuple[float, float] | None


@dataclass(frozen=True)
class Solved:
    """Scenarios with their flows and heads, the plan as it stands first.

    Attributes
    ----------
    network : of the plan as it stands
    scenarios : what is done in each, nothing in the first
    given : (E, S) runs that are shut by valves or caps
    laws, state : of all of them, a column each
    """

    network: Network
    scenarios: tuple[Scenario, ...]
    given: Bools
    laws: RunLaws
    state: State

    def flows(self, run: str) -> Floats:
        """Flow of a run, branch or pump in every scenario, (S,) [m³/s]."""
        return np.asarray(self.state.flow[self.network.row_of[run]])

    def heads(self, node: str) -> Floats:
        """Total head at a joint or vessel in every scenario, (S,) [m].

        Minus infinity where nothing ties it to a vessel.
        """
        place = self.network.node_of[node]
        heads = self.state.heads[place]
        if place < self.network.topology.joints:
            heads = np.where(self.isolated[place], -np.inf, heads)
        return np.asarray(heads)

    @cached_property
    def pumps(self) -> tuple[Worked, ...]:
        """Every pump."""
        return tuple(
            self._worked(machine, float(speed))
            for machine, speed in zip(self.network.machines, self.network.speeds[:, 0], strict=True)
        )

    def _worked(self, machine: Machine, speed: float) -> Worked:
        flow = self.flows(machine.name)
        return Worked(
            machine,
            speed,
            flow,
            -self.network.topology.drop(self.state.heads)[machine.run],
            machine.power(flow, np.full(len(flow), speed), density=self.network.water.density),
            machine.useful_range(speed) if speed > 0.0 else None,
        )

    @cached_property
    def header_heads(self) -> tuple[tuple[str, Floats], ...]:
        """Joints where headers begin, or pumps deliver, each with its head above its source, (S,).

        Minus infinity where nothing ties a joint to a vessel.
        """
        network = self.network
        starts = [header.from_ for header in network.plan.headers]
        starts = starts or [machine.pump.to for machine in network.machines]
        found = []
        for joint in dict.fromkeys(start for start in starts if start in network.joint_names):
            source = source_of(network, joint)
            surface = network.layout.heads[source] if source is not None else 0.0
            found.append((joint, self.heads(joint) - surface))
        return tuple(found)

    @cached_property
    def taken(self) -> Floats:
        """Flow of all water that leaves vessels, (S,) [m³/s]."""
        return self.network.topology.taken(self.state.flow)

    @property
    def worst_imbalance(self) -> float:
        """Of flow at any joint in any scenario [m³/s]."""
        net = self.network.topology.net_inflow(self.state.flow) - self.network.draw
        return float(np.abs(net).max(initial=0.0))

    @property
    def worst_mismatch(self) -> float:
        """Of head along any run with free flow in any scenario [m]."""
        return float(mismatch(self.network, self.laws, self.state).max(initial=0.0))

    @cached_property
    def isolated(self) -> Bools:
        """Joints (joints, S) that nothing ties to a vessel."""
        return self.network.topology.isolated(self.state.held)

    def solution(self, column: int) -> Solution:
        """One scenario by itself, its plan with the valves as it has them."""
        turned = {
            move.valve.name: move.opening
            for move in self.scenarios[column].moves
            if move.valve is not None
        }
        network = replace(self.network, plan=self.network.plan.with_openings(turned))
        laws = self.laws.take(np.array([column]))
        return solution_of(network, laws, self.state.one(column))


def watered(network: Network, scenarios: Sequence[Scenario]) -> list[Scenario]:
    """Those scenarios in which water still comes to every joint that draws some."""
    drawn = network.draw[:, 0] > 0.0
    if not drawn.any() or not scenarios:
        return list(scenarios)
    given = arrays(network, scenarios)
    _, shut = network.at(given.openings, network.speeds)
    isolated = network.topology.isolated(shut | given.held)
    cut_off = np.logical_or.reduce(isolated[drawn], axis=0)
    return [each for each, cut in zip(scenarios, cut_off, strict=True) if not cut]


def solve_all(network: Network, scenarios: Sequence[Scenario]) -> Solved:
    """Solves the plan as it stands and some scenarios, all in one batch.

    Raises
    ------
    NoSolutionError
        Water is drawn where none can come.
    SolveError
        Newton's method did not converge.
    """
    every = (Scenario(), *scenarios)
    given = arrays(network, every)
    fouled = network.fouled(given.factor) if (given.factor != 1.0).any() else network
    laws, shut = fouled.at(given.openings, network.speeds)
    held = shut | given.held
    refuse_isolated_draws(network, held)
    state = settled(network, laws, held=held, scenarios=len(every))
    solved = Solved(network, every, held, laws, state)
    for column in np.flatnonzero(~state.converged):
        solved.solution(int(column))  # raises
    return solved
