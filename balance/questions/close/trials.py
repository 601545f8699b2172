"""Handles moved to other marks in any number of cases, all solved in one batch and weighed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network, Valve
from balance.network.settle import State
from balance.network.solve import settled, unsettled
from balance.questions.close.cases import Arrays
from balance.questions.close.disturbance import Disturbance
from balance.questions.close.movable import Movable

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]


@dataclass(frozen=True)
class Tried:
    """What came of some positions of the handles.

    Attributes
    ----------
    case : (S,) in which they were tried
    at : (H, S) positions of the movables
    flow, pumped, speeds : (B, S), (P, S), (P, S) of branches and pumps
    cost : (S,) how badly the remaining branches are off; infinite where nothing settled
    """

    case: Ints
    at: Ints
    flow: Floats
    pumped: Floats
    speeds: Floats
    cost: Floats

    def take(self, columns: Ints) -> Tried:
        """Some of them."""
        return Tried(
            self.case[columns],
            self.at[:, columns],
            self.flow[:, columns],
            self.pumped[:, columns],
            self.speeds[:, columns],
            self.cost[columns],
        )


@dataclass(frozen=True)
class Bench:
    """Solves positions of handles and weighs what comes of them.

    Attributes
    ----------
    network : as the plan stands
    cases : what is shut, turned and clogged in each
    measure : of how badly the remaining branches are off
    movables : what may be moved
    usable : (H, C) which of them in each case
    near : a state of each case
    telling : (C,) of the cost: what costs more by less is as good
    """

    network: Network
    cases: Arrays
    measure: Disturbance
    movables: tuple[Movable, ...]
    usable: Bools
    near: State
    telling: Floats

    @property
    def stands(self) -> Ints:
        """Positions in which nothing is moved, (H, 1)."""
        return np.array([[each.stands] for each in self.movables], dtype=np.intp).reshape(-1, 1)

    def tried(self, case: Ints, at: Ints) -> Tried:
        """Solves positions (H, S) of the movables in cases (S,), all at once."""
        network = self.network
        openings = self.cases.openings.take(case, axis=1)
        speeds = np.repeat(network.speeds, len(case), axis=1)
        for movable, now in zip(self.movables, at, strict=True):
            moved = np.flatnonzero(now != movable.stands)
            rows = openings if isinstance(movable.of, Valve) else speeds
            rows[movable.place, moved] = movable.positions[now[moved]]
        state = _settled(network, self.cases, openings, speeds, case=case, near=self.near)
        branches = [network.row_of[branch.name] for branch in network.plan.branches]
        pumps = [machine.run for machine in network.machines]
        flow, pumped = state.flow[branches], state.flow[pumps]
        cost = self.measure.cost(flow, pumped, speeds, case)
        return Tried(case, at, flow, pumped, speeds, np.where(state.converged, cost, np.inf))


def settled_cases(network: Network, cases: Arrays, near: State) -> State:
    """The cases with nothing moved.

    Parameters
    ----------
    near : a state of one scenario

    Raises
    ------
    SolveError
        One of them did not settle.
    """
    every = np.arange(cases.openings.shape[1])
    speeds = np.repeat(network.speeds, len(every), axis=1)
    repeated = near.take(np.zeros_like(every))
    return _settled(network, cases, cases.openings, speeds, case=every, near=repeated, sure=True)


def _settled(
    network: Network,
    cases: Arrays,
    openings: Floats,
    speeds: Floats,
    *,
    case: Ints,
    near: State,
    sure: bool = False,
) -> State:
    clean = (cases.factor == 1.0).all()
    fouled = network if clean else network.fouled(cases.factor.take(case, axis=1))
    laws, shut = fouled.at(openings, speeds)
    state = settled(
        network,
        laws,
        held=shut | cases.held.take(case, axis=1),
        near=near.take(case),
        scenarios=len(case),
    )
    stuck = np.flatnonzero(~state.converged)
    if sure and len(stuck):
        raise unsettled(network, laws.take(stuck[:1]), state.one(int(stuck[0])))
    return state
