"""Cases for tests, and how badly branches are off, reckoned anew branch by branch."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from balance.network.arrays import Network, network_of
from balance.plan.model import Plan
from balance.questions.close.advice import Holding, Remedy
from balance.questions.close.cases import Arrays
from balance.questions.close.holding import hold
from balance.questions.flows import flows
from balance.questions.marks import Marks

OWED = 0.1  # what counts as met, beside a target, where the plan says nothing
UNASKED = 0.05
CLOSE = 1e-3
BROKEN = 10.0
RANGE = 0.1


def cases(
    network: Network, *turned: Mapping[str, float], clogs: Mapping[str, float] | None = None
) -> Arrays:
    """Cases that set some valves each, by name; and all clog some runs."""
    count = max(len(turned), 1)
    openings = np.repeat(network.openings, count, axis=1)
    places = {valve.name: place for place, valve in enumerate(network.valves)}
    for column, valves in enumerate(turned):
        for name, opening in valves.items():
            openings[places[name], column] = opening
    factor = np.ones((network.topology.runs, count))
    for run, multiple in (clogs or {}).items():
        factor[network.row_of[run]] = multiple
    return Arrays(openings, np.zeros((network.topology.runs, count), dtype=np.bool_), factor)


def held(plan: Plan, *shut: str, marks: Marks | None = None) -> Holding:
    """How the others are held with some valves shut."""
    network = network_of(plan)
    (found,) = hold(network, cases(network, dict.fromkeys(shut, 0.0)), marks=marks)
    return found


def moved(plan: Plan, remedy: Remedy) -> Plan:
    """The plan with a remedy's handles where it puts them."""
    valves = {turn.name: turn.to for turn in remedy.turns if turn.handle != "speed"}
    speeds = {turn.name: turn.to for turn in remedy.turns if turn.handle == "speed"}
    return plan.with_openings(valves).with_speed(speeds)


def badness(plan: Plan, before: Mapping[str, float], *, shut: tuple[str, ...] = ()) -> float:
    """How badly the branches of a plan are off that are not shut, by what `flows` says.

    Knows targets of one flow and limits, no groups, shares or ranges.
    """
    answer = flows(plan)
    total = 0.0
    for branch, state in zip(plan.branches, answer.branches, strict=True):
        if branch.name in shut:
            continue
        flow, was = state.flow, before[branch.name]
        if branch.target is not None and branch.target.kind == "flow":
            aim, owed, weight = branch.target.aim, branch.tolerance or OWED, branch.weight
        elif branch.target is None and was > 0.0:
            aim, owed, weight = was, OWED, UNASKED
        else:
            continue
        off = abs(flow - aim) / aim
        total += weight * (max(off - owed, 0.0) ** 2 + CLOSE * off**2)
        low, high = branch.limits
        if low is not None:
            total += BROKEN * max(1.0 - flow / low, 0.0)
        if high is not None:
            total += BROKEN * max(flow / high - 1.0, 0.0)
    for duty in answer.pumps:
        if duty.useful_range is not None:
            low, high = duty.useful_range
            total += RANGE * max(1.0 - duty.flow / low, duty.flow / high - 1.0, 0.0) ** 2
    return total


def flows_of(plan: Plan) -> dict[str, float]:
    """What every branch gets."""
    return {state.branch: state.flow for state in flows(plan).branches}
