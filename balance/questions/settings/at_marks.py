"""A network with its handles at the marks that were found, and what then flows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network, Valve, network_of
from balance.network.solve import Solution, solve
from balance.plan.model import Plan
from balance.questions.marks import Marks
from balance.questions.settings.flowspace import Control, shared_controls
from balance.questions.settings.rounding import round_to_marks
from balance.questions.settings.search import Found

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class AtMarks:
    """Handles at marks.

    Attributes
    ----------
    network : of the plan as asked
    found : by the search, before rounding
    turned : valves that the answer sets
    marks : distances between marks
    openings : (V, 1) of all valves
    plan : the same with valves and speeds where the answer puts them
    solution : what then flows
    """

    network: Network
    found: Found
    turned: tuple[Control, ...]
    marks: Marks
    openings: Floats
    plan: Plan
    solution: Solution

    def opening(self, valve: Valve) -> float:
        """Where a valve stands."""
        return float(self.openings[self.place(valve), 0])

    def place(self, valve: Valve) -> int:
        """Row of a valve."""
        return [each.name for each in self.network.valves].index(valve.name)


def at_marks(network: Network, found: Found, marks: Marks) -> AtMarks:
    """Rounds what was found to marks, and solves it there.

    Where flows were moved for the useful range of a pump and the marks lose that range, or a
    target to it, nothing is gained by the move: it is taken back.
    """
    at = _rounded(network, found, marks)
    if found.otherwise is None or _gains(at):
        return at
    return _rounded(network, found.otherwise, marks)


def _gains(at: AtMarks) -> bool:
    flow = at.solution.state.flow[:, 0]
    kept = all(each.low <= flow[each.row] <= each.high for each in at.found.ranges)
    dry = {each.branch for each in at.found.dry}
    unmet = at.found.wishes.unmet(flow[at.found.space.branch_rows], dry=dry)
    return kept and set(unmet) <= set(at.found.unmet)


def _rounded(network: Network, found: Found, marks: Marks) -> AtMarks:
    turned = (*found.space.controls, *_burdened(network, found))
    marked = round_to_marks(
        network,
        openings=found.openings,
        speeds=found.speeds,
        turned=turned,
        wishes=found.wishes,
        marks=marks,
        ranges=found.ranges,
        near=found.here.state,
    )
    plan = network.plan.with_openings(
        {
            valve.name: float(row[0])
            for valve, row in zip(network.valves, marked.openings, strict=True)
        }
    ).with_speed(
        {
            machine.name: float(row[0])
            for machine, row in zip(network.machines, found.speeds, strict=True)
        }
    )
    solution = solve(network_of(plan), near=marked.state)
    return AtMarks(network, found, turned, marks, marked.openings, plan, solution)


def _burdened(network: Network, found: Found) -> tuple[Control, ...]:
    """Valves before several branches that were turned to share the burden."""
    names = {control.valve.name for control in found.space.controls}
    places = {valve.name: place for place, valve in enumerate(network.valves)}
    return tuple(
        control
        for control in shared_controls(network)
        if control.valve.name not in names
        and found.openings[places[control.valve.name], 0] < control.most
    )
