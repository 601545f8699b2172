"""The proportional method, done by hand as print describes it.

All valves stand wide open and every branch is measured.  The index, that is the branch with the
lowest ratio of measured flow to wanted flow, stays open; the others are throttled one after the
other, from the next lowest up, until each has the ratio of the index, which rises by that and is
measured anew.  Ratios once equal are taken to stay equal whatever the total, so at last the total
is set by the pump's speed, or with a pump of one speed by the main valve (cibse-pro-183; the order
from the lowest up: balancing-manual).  Both speak of closed rounds, in which no branch lifts water.

Kinder than print: no branch is throttled below 0.7 of what it is to carry, however starved the
index stands at first; the first marks are those of the plan's curve; the pump begins at the speed
that the plan's answer gives and a little more, so that the total is near 110 % of the wanted one
when ratios are set (from memory); and what readings and moves are left go into a second round, in
which those that are farthest off are brought to their own targets.
"""

from __future__ import annotations

from math import log

import numpy as np

from balance.questions.speeds import is_free, next_step, speed_range, step_of
from tests.walks.methods.keeper import Keeper, SpentError
from tests.walks.methods.trimming import NEAR, curve_of, nudge_home, trim

ABOVE = 1.05  # times the speed of the plan's answer, at which ratios are set
KEPT = 3  # readings kept for the total
LEAST = log(0.7)  # ratio below which no branch is throttled: a starved index says nothing yet


def proportional(keeper: Keeper) -> None:
    """Brings all ratios to that of the index, then the total to what is wanted."""
    try:
        _begin(keeper)
        index = _equal_ratios(keeper)
        _total(keeper, index)
        _again(keeper)
    except SpentError:
        pass


def _begin(keeper: Keeper) -> None:
    for pump, speed in enumerate(keeper.answered_speeds):
        machine = keeper.network.machines[pump]
        to = next_step(machine, ABOVE * speed)
        if is_free(machine) and to != keeper.system.speeds[pump]:
            keeper.set_speed(pump, to)


def _equal_ratios(keeper: Keeper) -> str:
    """Throttles all branches to the ratio of the index, and says which that is."""
    aims = {wish.branch: wish.aim for wish in keeper.wishes}
    first = {branch: log(keeper.measure(branch) / aim) for branch, aim in aims.items()}
    index, *others = sorted(first, key=lambda branch: first[branch])
    for done, branch in enumerate(others):
        # All that is not yet throttled has risen with the index.
        gap = max(first[index], LEAST) - first[branch]
        if gap >= -NEAR:
            continue
        most = (keeper.readings_left - KEPT) // (len(others) - done)
        valve = keeper.valve_of(branch)
        curve = curve_of(keeper, valve, branch, against=index)
        keeper.set(valve, curve.mark_for(curve.at(1.0) + gap))
        reference = max(log(keeper.measure(index) / aims[index]), LEAST)

        def look(
            branch: str = branch, aim: float = aims[branch], reference: float = reference
        ) -> float:
            return reference - log(keeper.measure(branch) / aim)

        nudge_home(keeper, valve, curve, look, gap=look(), most_nudges=max(most - 2, 0))
    return index


def _total(keeper: Keeper, index: str) -> None:
    """Brings the index to its aim, and with it all that keep their ratio to it."""
    aim = next(wish.aim for wish in keeper.wishes if wish.branch == index)
    free = [pump for pump, machine in enumerate(keeper.network.machines) if is_free(machine)]
    gap = log(aim / keeper.measure(index))
    if not free:
        main = _main_valve(keeper)
        if main is not None and gap < -NEAR:
            curve = curve_of(keeper, main, index)

            def look() -> float:
                return log(aim / keeper.measure(index))

            trim(keeper, main, curve, look, gap=gap, most_nudges=KEPT - 2)
        return
    pump = free[0]
    to = _speed_for(keeper, pump, index, gap)
    if to != keeper.system.speeds[pump]:
        keeper.set_speed(pump, to)


def _main_valve(keeper: Keeper) -> int | None:
    """A valve before all branches."""
    branches = {branch.name for branch in keeper.network.plan.branches}
    return next(
        (
            place
            for place, valve in enumerate(keeper.network.valves)
            if valve.stretch not in branches and not valve.part.locked
        ),
        None,
    )


def _speed_for(keeper: Keeper, pump: int, index: str, gap: float) -> float:
    """The step of speed at which, by the plan, the index gains what is wanted."""
    machine = keeper.network.machines[pump]
    low, high = speed_range(machine)
    steps = np.arange(low, high + 0.5 * step_of(machine), step_of(machine))
    tried = np.append(steps, keeper.system.speeds[pump])
    speeds = np.repeat(keeper.system.speeds[:, None], len(tried), axis=1)
    speeds[pump] = tried
    marks = np.repeat(keeper.system.marks[:, None], len(tried), axis=1)
    flow = keeper.planned((index,), marks=marks, speeds=speeds)[0]
    off = np.log(np.maximum(flow[:-1], 1e-9) / max(float(flow[-1]), 1e-9)) - gap
    return float(steps[np.abs(off).argmin()])


def _again(keeper: Keeper) -> None:
    """Measures all once more, if that can be, and brings the farthest off to their own targets."""
    wishes = {wish.branch: wish for wish in keeper.wishes}
    if keeper.readings_left < len(wishes) + 1:
        return
    gap = {branch: log(wish.aim / keeper.measure(branch)) for branch, wish in wishes.items()}
    for branch in sorted(gap, key=lambda each: -abs(gap[each])):
        if abs(gap[branch]) <= NEAR:
            return
        valve = keeper.valve_of(branch)

        def look(branch: str = branch) -> float:
            return log(wishes[branch].aim / keeper.measure(branch))

        curve = curve_of(keeper, valve, branch)
        nudge_home(keeper, valve, curve, look, gap=gap[branch], most_nudges=1)
