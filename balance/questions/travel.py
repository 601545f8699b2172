"""What each valve does along its travel: flow against handle position, all else as it stands."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network, Valve, network_of
from balance.network.solve import Solution, settled, solve, unsettled
from balance.plan.model import Plan
from balance.plan.openings import Handle
from balance.questions.aims import Aim, aims_of
from balance.questions.handling import flow_per_travel
from balance.questions.marks import Marks
from balance.questions.marks import travel as travel_of
from balance.questions.record import Record, frame, quantity

if TYPE_CHECKING:
    import pandas as pd

Floats = NDArray[np.float64]

POSITIONS = 25  # of a handle, at which flow is found
_FINE = 721  # of a handle, between which those are dealt out


@dataclass(frozen=True, kw_only=True)
class ValveTravel(Record):
    """What one valve does along its travel.

    Attributes
    ----------
    valve, stretch : names in the plan
    handle : how its mark is read: in percent where the plan does not say how many turns it takes
    travel : of the handle in that unit: 90 degrees, its turns, or 100 percent
    openings : of the travel from shut, between its stops if it has any, rising [ratio]
    flows : of its stretch at each of them [m³/s]
    opening : where it stands [ratio]
    mark : the same in the handle's unit
    flow : there [m³/s], negative if backwards
    slope : change of flow for all of the travel, at the rate of where it stands [m³/s]; None where
        the valve is shut
    step : what a step of the handle is called: "1 deg", "1/8 turn", "1 %"
    step_travel : the same in the handle's unit
    flow_per_step : share of the flow that a step moves [ratio]; None where nothing flows
    low, high : flows between which the target of its branch counts as met [m³/s]; None where open
    """

    valve: str
    stretch: str
    handle: Handle
    travel: float
    openings: tuple[float, ...] = quantity("ratio")
    flows: tuple[float, ...] = quantity("flow")
    opening: float = quantity("ratio")
    mark: float
    flow: float = quantity("flow")
    slope: float | None = quantity("flow")
    step: str
    step_travel: float
    flow_per_step: float | None = quantity("ratio")
    low: float | None = quantity("flow")
    high: float | None = quantity("flow")


@dataclass(frozen=True, kw_only=True)
class Travel(Record):
    """What the valves of a plan do along their travel.

    Attributes
    ----------
    title : of the plan
    valves : every one that a hand may turn: unlocked, and none of a drain or a capped spare
    plan : that was solved
    """

    title: str
    valves: tuple[ValveTravel, ...]
    plan: Plan = field(metadata={"private": True})

    def to_frame(self) -> pd.DataFrame:
        """Valves as a pandas table."""
        return frame(self.valves)


def travel(plan: Plan) -> Travel:
    """Say how the flow of each valve's stretch goes with its handle: its installed characteristic.

    All other valves and the pumps stay as the plan has them.  Where a valve that is shut would keep
    all water from a joint that draws some, its line begins at the next position.

    Parameters
    ----------
    plan : `settings(plan).plan` has its handles at their marks

    Raises
    ------
    NoSolutionError
        Water is drawn where none can come.
    SolveError
        The flows did not settle.
    """
    network = network_of(plan)
    solution = solve(network)
    turned = [
        place
        for place, valve in enumerate(network.valves)
        if not valve.part.locked and not network.capped[valve.run, 0]
    ]
    aims = dict(zip((branch.name for branch in plan.branches), aims_of(plan), strict=False))
    found = _flows(solution, turned) if turned else []
    return Travel(
        title=plan.title,
        valves=tuple(
            _row(solution, network.valves[place], *line, aims.get(network.valves[place].stretch))
            for place, line in zip(turned, found, strict=True)
        ),
        plan=plan,
    )


def _flows(solution: Solution, turned: list[int]) -> list[tuple[Floats, Floats]]:
    """Openings and flows of each valve, all of them settled at once."""
    network = solution.network
    positions = [_positions(solution, network.valves[place]) for place in turned]
    whose = np.repeat(np.arange(len(turned)), [len(each) for each in positions])
    openings = np.repeat(network.openings, len(whose), axis=1)
    openings[np.array(turned)[whose], np.arange(len(whose))] = np.concatenate(positions)
    kept = _watered(network, openings)
    whose, openings = whose[kept], openings[:, kept]
    laws, shut = network.at(openings, network.speeds)
    state = settled(
        network,
        laws,
        held=shut,
        near=solution.state.repeated(len(whose)),
        scenarios=len(whose),
    )
    if not state.converged.all():
        raise unsettled(network, laws, state)
    return [
        (openings[place, whose == n], state.flow[network.valves[place].run, whose == n])
        for n, place in enumerate(turned)
    ]


def _watered(network: Network, openings: Floats) -> NDArray[np.bool_]:
    """Which scenarios (S,) bring water to every joint that draws it."""
    drawn = network.draw[:, 0] > 0.0
    if not drawn.any():
        return np.ones(openings.shape[1], dtype=np.bool_)
    _, shut = network.at(openings, network.speeds)
    return np.asarray(~network.topology.isolated(shut)[drawn].any(axis=0))


def _positions(solution: Solution, valve: Valve) -> Floats:
    """Openings worth a point: where it stands, and even steps along a guess at its line.

    The guess is a stretch by itself, between heads that stay as they are.
    """
    low, high = valve.part.stops or (0.0, 1.0)
    fine = np.linspace(low, high, _FINE)
    beyond = valve.law.throttled(fine).k
    rest = _rest(solution, valve)
    flow = np.where(np.isinf(beyond), 0.0, (rest / (rest + beyond)) ** 0.5)
    along = np.concatenate(
        [[0.0], np.cumsum(np.hypot(np.diff(fine) / (high - low), np.diff(flow)))]
    )
    even = np.interp(np.linspace(0.0, along[-1], POSITIONS), along, fine)
    return np.union1d(even, [valve.part.open])


def _rest(solution: Solution, valve: Valve) -> float:
    """Loss of a valve's run beside what the valve throttles, as K on the valve's bore."""
    network, run = solution.network, valve.run
    flow = float(solution.state.flow[run, 0])
    own = float(valve.law.throttled(np.array([valve.part.open])).k[0])
    if not flow:
        return max(
            valve.law.k_open, 1.0
        )  # nothing tells; any guess deals out positions well enough
    drop = abs(float(network.topology.drop(solution.state.heads)[run, 0]))
    scale = sum(scale for _, scale in valve.places)
    return max(drop / (scale * flow**2) - own, valve.law.k_open, 1e-3)


def _handle(valve: Valve) -> tuple[Handle, float, float, str]:
    """How a handle is read, its travel in that unit, a step as a share of it and in words.

    Where it is not said how many turns it takes, it is read in percent.
    """
    marks = Marks()
    if valve.part.handle == "turns" and valve.part.turns is None:
        return "percent", 100.0, marks.percent / 100.0, f"{marks.percent:g} %"
    return valve.part.handle, travel_of(valve), marks.step(valve), marks.label(valve)


def _row(
    solution: Solution, valve: Valve, openings: Floats, flows: Floats, aim: Aim | None
) -> ValveTravel:
    opening, (handle, length, step, words) = valve.part.open, _handle(valve)
    flow = float(solution.state.flow[valve.run, 0])
    slope = flow_per_travel(solution, valve, opening)
    return ValveTravel(
        valve=valve.name,
        stretch=valve.stretch,
        handle=handle,
        travel=length,
        openings=tuple(openings.tolist()),
        flows=tuple(flows.tolist()),
        opening=opening,
        mark=opening * length,
        flow=flow,
        slope=slope,
        step=words,
        step_travel=step * length,
        flow_per_step=abs(slope / flow) * step if slope is not None and flow else None,
        low=None if aim is None else aim.low,
        high=None if aim is None else aim.high,
    )
