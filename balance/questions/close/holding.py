"""Holding the others when something is shut: which one or two handles to move, and where to."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network, Valve
from balance.network.solve import solve
from balance.questions.close.advice import Holding, Remaining, Remedy, Turn
from balance.questions.close.cases import Arrays
from balance.questions.close.disturbance import Disturbance, disturbance_of
from balance.questions.close.movable import Movable, movables_of, usable
from balance.questions.close.search import best_pairs, best_singles
from balance.questions.close.trials import Bench, Tried, settled_cases
from balance.questions.marks import Marks, travel

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

WORTH = 0.1
"""Of the disturbance, that a move must undo, and a second handle besides the first; our own choice.
Generic losses are known to 20 or 30 %: whether less than that comes true, nobody could tell."""

UNMOVED = 1e-6  # of its flow before: a branch that has moved by less stands where it stood

# What is better by less than this is no reason to move a handle farther; our own choice.
TELLING = 1e-7  # of the cost, as much as a hundredth of an aim
# Nor is less than this, of the disturbance; our own choice.
ALIKE = 0.01


def hold(network: Network, cases: Arrays, *, marks: Marks | None = None) -> tuple[Holding, ...]:
    """How the others are held in each case.

    Parameters
    ----------
    network : as the plan stands
    marks : distances between marks of handles; left out: 1 degree, 1/8 turn, 1 %

    Raises
    ------
    NoSolutionError, SolveError
        As from solving.
    """
    base = solve(network)
    measure = disturbance_of(network, base, cases)
    movables = movables_of(network, marks or Marks())
    near = settled_cases(network, cases, base.state)
    every = np.arange(cases.openings.shape[1])
    left = usable(movables, network, cases)
    bench = Bench(network, cases, measure, movables, left, near, np.zeros(len(every)))
    still = bench.tried(every, np.repeat(bench.stands, len(every), axis=1))
    bench = replace(bench, telling=np.minimum(TELLING, ALIKE**2 * still.cost))
    rows = [machine.run for machine in network.machines]
    outside_before = measure.outside(base.state.flow[rows, 0], network.speeds[:, 0])
    leave = [_at_ease(measure, still, int(case), outside_before) for case in every]
    # Where no water comes to any of the others, no handle holds them.
    reached = measure.counted.any(axis=0)
    restless = every[reached & ~np.array(leave, dtype=np.bool_)]
    remedies = _remedies(bench, still, restless) if len(restless) else {}
    return tuple(
        _holding(
            measure,
            still,
            int(case),
            outside_before=outside_before,
            leave=leave[case],
            remedies=remedies.get(int(case), (None, None)),
        )
        for case in every
    )


def _at_ease(
    measure: Disturbance, still: Tried, case: int, outside_before: tuple[str, ...]
) -> bool:
    """Whether the others may be left: nothing has moved, or all is well after it has."""
    if measure.counted[:, case].any() and measure.moved(still.flow[:, case], case) <= UNMOVED:
        return True
    outside = measure.outside(still.pumped[:, case], still.speeds[:, case])
    return not measure.missed(still.flow[:, case], case) and set(outside) <= set(outside_before)


def _remedies(
    bench: Bench, still: Tried, cases: Ints
) -> dict[int, tuple[Remedy | None, Remedy | None]]:
    """The best one move and the best two of each case, where they are worth it."""
    if not bench.movables:
        return {}
    single, tried = best_singles(bench, cases)
    pair = best_pairs(bench, tried, cases)
    found = {}
    for column, case in enumerate(cases):
        cost = float(still.cost[case])
        one, two = _remedy(bench, single, column, cost), _remedy(bench, pair, column, cost)
        least = one if one.undone >= WORTH else None
        found[int(case)] = least, two if _clearly_better(two, least) else None
    return found


def _clearly_better(two: Remedy, one: Remedy | None) -> bool:
    """Whether two moves are worth the second handle: they undo more, or bring all within."""
    if len(two.turns) < 2:
        return False
    brings = one is not None and bool(one.missed) and not two.missed
    return brings or two.undone >= (one.undone if one else 0.0) + WORTH


def _remedy(bench: Bench, tried: Tried, column: int, cost: float) -> Remedy:
    measure, case = bench.measure, int(tried.case[column])
    flow, at = tried.flow[:, column], tried.at[:, column]
    turns = (
        _turn(each, int(position))
        for each, position in zip(bench.movables, at, strict=True)
        if position != each.stands
    )
    return Remedy(
        turns=tuple(turns),
        undone=1.0 - float(np.sqrt(min(tried.cost[column] / cost, 1.0))) if cost > 0.0 else 0.0,
        flows=tuple(float(each) for each in flow[measure.remaining[:, case]]),
        missed=measure.missed(flow, case),
        outside=measure.outside(tried.pumped[:, column], tried.speeds[:, column]),
        strayed=measure.strayed(flow, case),
    )


def _turn(movable: Movable, position: int) -> Turn:
    stood, to = float(movable.positions[movable.stands]), float(movable.positions[position])
    whole = travel(movable.of) if isinstance(movable.of, Valve) else 100.0
    return Turn(
        name=movable.of.name,
        stretch=movable.stretch,
        handle=movable.of.part.handle if isinstance(movable.of, Valve) else "speed",
        travel=whole,
        stood=stood,
        to=to,
        mark_before=stood * whole,
        mark=to * whole,
    )


def _holding(
    measure: Disturbance,
    still: Tried,
    case: int,
    *,
    outside_before: tuple[str, ...],
    leave: bool,
    remedies: tuple[Remedy | None, Remedy | None],
) -> Holding:
    flow = still.flow[:, case]
    return Holding(
        leave=leave,
        single=remedies[0],
        pair=remedies[1],
        others=_others(measure, flow, case),
        missed_before=measure.missed(measure.before, case),
        missed=measure.missed(flow, case),
        outside_before=outside_before,
        outside=measure.outside(still.pumped[:, case], still.speeds[:, case]),
        strayed=measure.strayed(flow, case),
    )


def _others(measure: Disturbance, flow: Floats, case: int) -> tuple[Remaining, ...]:
    """A row for each remaining branch."""
    counts = zip(measure.wishes.aims, measure.weight[:, case], strict=True)
    aims = {aim.name: aim for aim, weight in counts if weight > 0.0 and not aim.group}
    rows = []
    for place, branch in enumerate(measure.network.plan.branches):
        if measure.remaining[place, case]:
            aim = aims.get(branch.name)
            rows.append(
                Remaining(
                    branch=branch.name,
                    asked="" if aim is None else aim.asked,
                    low=None if aim is None else aim.low,
                    high=None if aim is None else aim.high,
                    before=float(measure.before[place]),
                    disturbed=float(flow[place]),
                )
            )
    return tuple(rows)
