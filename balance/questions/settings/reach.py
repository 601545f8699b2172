"""Branches that stay dry however the rest is set, and why: a locked valve, or too much lift."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network, Valve
from balance.network.settle import State
from balance.network.solve import settled
from balance.questions.speeds import top_speeds

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

LEAST_FLOW = 1e-9  # [m³/s]; less is none


@dataclass(frozen=True)
class Dry:
    """A branch without flow at top speed, all valves on its way wide open and the rest shut.

    Attributes
    ----------
    branch : name
    locked : valves locked shut that bar its way; where none bars it alone, all that do together.
        Empty: nothing is in the way but height
    needs : head at its end [m]
    lifted : head at its start with the branch itself shut, locked valves open [m]; None: nothing
        leads there
    """

    branch: str
    locked: tuple[Valve, ...]
    needs: float
    lifted: float | None


def out_of_reach(network: Network, wanted: Sequence[str]) -> tuple[Dry, ...]:
    """Those of some branches that stay dry however the rest is set."""
    dry = [n for n, flows in zip(wanted, _flows(network, wanted, ()), strict=True) if not flows]
    if not dry:
        return ()
    shut = _locked_shut(network)
    opened = _flows(network, dry, shut)
    return tuple(
        Dry(name, _barring(network, name, shut) if wet else (), *_heads(network, name, shut))
        for name, wet in zip(dry, opened, strict=True)
    )


def _locked_shut(network: Network) -> tuple[Valve, ...]:
    return tuple(
        valve
        for valve in network.valves
        if valve.part.locked
        and np.isinf(valve.law.loss_coefficient(np.array([valve.part.open])).k[0])
    )


def _barring(network: Network, branch: str, shut: tuple[Valve, ...]) -> tuple[Valve, ...]:
    """Which of the valves locked shut keep a branch dry, each though all others were open."""
    barring = tuple(
        valve
        for valve in shut
        if not _flows(network, [branch], [each for each in shut if each is not valve])[0]
    )
    return barring or shut


def _heads(network: Network, branch: str, opened: Sequence[Valve]) -> tuple[float, float | None]:
    """Head at the end of a branch, and at its start with the branch itself shut [m]."""
    # Cut in two, a branch begins with its first half and ends with its last.
    runs = [run for run in network.layout.runs if run.owner == branch]
    start, end = network.node_of[runs[0].start], network.node_of[runs[-1].end]
    state, shut = _alone(network, [branch], opened, itself=False)
    # A check valve with nothing behind it is found shut, yet it lets the pump's head through.
    isolated = network.topology.isolated(shut)[:, 0]
    tied = start >= network.topology.joints or not isolated[start]
    return float(state.heads[end, 0]), float(state.heads[start, 0]) if tied else None


def _flows(network: Network, branches: Sequence[str], opened: Sequence[Valve]) -> list[bool]:
    """Whether each branch has a flow with the others shut and some locked valves opened."""
    if not branches:
        return []
    state, _ = _alone(network, branches, opened, itself=True)
    rows = [network.row_of[name] for name in branches]
    return [bool(state.flow[row, column] > LEAST_FLOW) for column, row in enumerate(rows)]


def _alone(
    network: Network, branches: Sequence[str], opened: Sequence[Valve], *, itself: bool
) -> tuple[State, Bools]:
    """Every branch alone, one to a scenario, at top speed; with the branch itself shut or not.

    A branch that ends in a joint may be the way to others, and stays open.  Returns the state, and
    the runs (E, S) that are shut by valves, caps and by hand.
    """
    count = len(branches)
    openings = np.repeat(network.openings, count, axis=1)
    names = {valve.name for valve in opened}
    for place, valve in enumerate(network.valves):
        if valve.name in names or not valve.part.locked:
            openings[place] = (valve.part.stops or (0.0, 1.0))[1]
    laws, shut = network.at(openings, np.repeat(top_speeds(network), count, axis=1))
    held = np.repeat(shut, count, axis=1) if shut.shape[1] == 1 else shut
    ends = {branch.name for branch in network.plan.branches if _ends(network, branch.to)}
    for column, name in enumerate(branches):
        others = ends - {name} if itself else ends | {name}
        held[[network.row_of[other] for other in others], column] = True
    return settled(network, laws, held=held, scenarios=count), held


def _ends(network: Network, place: str | None) -> bool:
    """Whether water is gone where it comes to a place: a vessel, the open air, a cap."""
    return place is None or place not in network.joint_names
