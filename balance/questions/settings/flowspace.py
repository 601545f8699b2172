"""The search's view of a network: the flows through its controls are the unknowns.

A run whose valve the search may turn is *held* at a flow; the network settles around it, and the
head that is left over on the run is what its valve has to burn.  Flows are feasible while that is
at least what the wide-open valve takes and at most what it takes at its lower stop.  In a tree
under a falling pump curve and rising losses this set is convex, which valve openings are not.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network, Valve
from balance.network.laws import RunLaws
from balance.network.settle import State
from balance.network.slopes import Response, respond
from balance.network.solve import settled, unsettled

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

FULL = 1.0


@dataclass(frozen=True)
class Control:
    """A valve that the search turns, and its travel."""

    valve: Valve
    row: int
    least: float
    most: float


@dataclass(frozen=True)
class FlowRange:
    """Flows of a pump's run that are to be kept [m³/s]."""

    row: int
    low: float
    high: float


@dataclass(frozen=True)
class Held:
    """The network settled around held flows.

    Attributes
    ----------
    flow : (C,) through the controls [m³/s]
    speed : (P, 1) pump settings
    laws, state : of the network, controls wide open
    spare : (C,) head left over with the control wide open [m]; below zero: that flow cannot be had
    """

    flow: Floats
    speed: Floats
    laws: RunLaws
    state: State
    spare: Floats


@dataclass(frozen=True)
class _Tangent:
    """Where the network goes from a state as flows and speeds change, to first order."""

    here: Held
    response: Response

    def predicted(self, flow: Floats, speed: Floats) -> State:
        """About the state at other flows (C,) and settings (P, 1)."""
        state = self.here.state
        change = np.concatenate([flow - self.here.flow, (speed - self.here.speed)[:, 0]])
        heads = state.heads.copy()
        heads[: len(self.response.heads), 0] += self.response.heads @ change
        moved = (self.response.flow @ change)[:, None]
        return replace(state, flow=state.flow + moved, heads=heads)


@dataclass
class FlowSpace:
    """Held flows and speeds to heads left over.

    Attributes
    ----------
    network : of the plan
    controls : valves that the search turns
    openings : (V, 1) of all valves; controls at their upper stop
    rows : (C,) runs of the controls
    held : (E, 1) runs of the controls, and those that are shut
    branch_rows : (B,) runs of the plan's branches
    branch_of : place of each control's branch in the plan; -1: before several
    """

    network: Network
    controls: tuple[Control, ...]
    openings: Floats
    _near: State | None = None
    _tangent: _Tangent | None = None

    def __post_init__(self) -> None:
        """Prepares the laws with controls wide open, and the runs they hold."""
        places = {valve.name: place for place, valve in enumerate(self.network.valves)}
        self.openings = self.openings.copy()
        for control in self.controls:
            self.openings[places[control.valve.name], 0] = control.most
        self._laws, self._shut = self.network.at(self.openings, self.network.speeds)
        self.rows = np.array([control.row for control in self.controls], dtype=np.intp)
        self.held: Bools = self._shut.copy()
        self.held[self.rows] = True
        topology = self.network.topology
        names = [branch.name for branch in self.network.plan.branches]
        self.branch_rows = np.array([self.network.row_of[name] for name in names], dtype=np.intp)
        self.branch_of = tuple(
            names.index(control.valve.stretch) if control.valve.stretch in names else -1
            for control in self.controls
        )
        self._isolates = bool((topology.isolated(self.held) & ~topology.isolated(self._shut)).any())

    @property
    def isolates(self) -> bool:
        """Holding all the controls would leave a joint without any tie to a known head."""
        return self._isolates

    @property
    def barred(self) -> bool:
        """Whether a control stands in a run that something else shuts."""
        return bool(self._shut[self.rows].any())

    @property
    def turned(self) -> tuple[str, ...]:
        """Names of the valves that it holds at a flow."""
        return tuple(control.valve.name for control in self.controls)

    def stays_shut(self, branch: int) -> bool:
        """Whether a branch of the plan is shut and no control can open it."""
        return branch not in self.branch_of and bool(self.held[self.branch_rows[branch], 0])

    def at(self, flow: Floats, speed: Floats) -> Held:
        """Settles the network around flows (C,) at pump settings (P, 1)."""
        network = self.network
        laws = network.at_speeds(self._laws, speed)
        given = np.zeros((network.topology.runs, 1))
        given[self.rows, 0] = flow
        near = self._near if self._tangent is None else self._tangent.predicted(flow, speed)
        state = settled(network, laws, held=self.held, held_flow=given, near=near)
        if not state.converged[0]:
            raise unsettled(network, laws, state)
        self._near = state
        head = network.topology.drop(state.heads) - laws(state.flow).head
        return Held(flow, speed, laws, state, head[self.rows, 0])

    def spares(self, flow: Floats, shares: Floats, speed: Floats) -> Floats:
        """Head left over on each control (C, S), at shares of some flows, all settled at once [m].

        Parameters
        ----------
        flow : (C,) through the controls [m³/s]
        shares : (S,)
        speed : (P, 1) pump settings
        """
        network, scenarios = self.network, len(shares)
        laws = network.at_speeds(self._laws, speed)
        given = np.zeros((network.topology.runs, scenarios))
        given[self.rows] = flow[:, None] * shares
        near = self._near
        if near is not None:
            # In a tree the flows of all runs go with those that are held.
            near = replace(near.repeated(scenarios), flow=near.flow * shares)
        state = settled(
            network, laws, held=self.held, held_flow=given, near=near, scenarios=scenarios
        )
        if not state.converged.all():
            raise unsettled(network, laws, state)
        return (network.topology.drop(state.heads) - laws(state.flow).head)[self.rows]

    def slopes(self, here: Held) -> Response:
        """Answers to each held flow, then to each pump's speed: C + P changes."""
        controls, machines = len(self.rows), len(self.network.machines)
        runs = self.network.topology.runs
        flow = np.zeros((runs, controls + machines))
        flow[self.rows, np.arange(controls)] = 1.0
        head = np.zeros((runs, controls + machines))
        pumps = here.laws.pumps
        if pumps is not None:
            by_speed = pumps.by_speed(here.state.flow.take(pumps.of, axis=0))
            turn = [
                float(machine.shaft_slope(row)[0])
                for machine, row in zip(self.network.machines, here.speed, strict=True)
            ]
            head[pumps.of, controls + np.arange(machines)] = -by_speed[:, 0] * turn
        found = respond(self.network.topology, here.laws, here.state, flow=flow, head=head)
        self._tangent = _Tangent(here, found)
        return found

    def throttle_room(self, flow: Floats) -> Floats:
        """Head (C,) that each control takes at its lower stop beyond wide open; inf: shuts [m]."""
        room = np.full(len(self.controls), np.inf)
        for place, control in enumerate(self.controls):
            ends = control.valve.law.loss_coefficient(np.array([control.least, control.most])).k
            if np.isfinite(ends[0]):
                scale = sum(scale for _, scale in control.valve.places)
                room[place] = (ends[0] - ends[1]) * scale * flow[place] * abs(flow[place])
        return room

    def openings_for(self, here: Held) -> Floats:
        """Openings (V, 1) of all valves that give the held flows; controls clipped to travel."""
        openings = self.openings.copy()
        places = {valve.name: place for place, valve in enumerate(self.network.valves)}
        for control, flow, spare in zip(self.controls, here.flow, here.spare, strict=True):
            openings[places[control.valve.name], 0] = opening_for(control, flow, spare)
        return openings


def opening_for(control: Control, flow: float, spare: float) -> float:
    """Opening at which a valve takes some head beyond wide open, at a flow."""
    law = control.valve.law
    scale = sum(scale for _, scale in control.valve.places)
    if abs(flow) <= 0.0:
        return control.least
    wide = float(law.loss_coefficient(np.array([control.most])).k[0])
    k = wide + max(spare, 0.0) / (scale * flow * flow)
    found = float(law.opening_for(np.array([k]))[0])
    return min(max(found, control.least), control.most)


def controls_of(network: Network, wanted: set[str]) -> tuple[Control, ...]:
    """Valves that set the flow of wanted branches, each in its own branch."""
    found = []
    for valve in network.valves:
        if valve.stretch in wanted and not valve.part.locked:
            least, most = valve.part.stops or (0.0, FULL)
            found.append(Control(valve, valve.run, least, most))
    return tuple(found)


def shared_controls(network: Network) -> tuple[Control, ...]:
    """Unlocked valves that stand in runs and headers, through which several branches are fed."""
    branches = {branch.name for branch in network.plan.branches}
    found = []
    for valve in network.valves:
        if valve.stretch not in branches and not valve.part.locked:
            least, most = valve.part.stops or (0.0, FULL)
            found.append(Control(valve, valve.run, least, most))
    return tuple(found)


def with_opening(space: FlowSpace, control: Control, opening: float) -> FlowSpace:
    """The same view with another valve standing elsewhere."""
    places = {valve.name: place for place, valve in enumerate(space.network.valves)}
    openings = space.openings.copy()
    openings[places[control.valve.name], 0] = opening
    return replace(space, openings=openings, _near=None, _tangent=None)
