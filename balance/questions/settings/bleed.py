"""The shut spare that, opened a little, brings a pump back into its useful range."""

from __future__ import annotations

import numpy as np

from balance.network.arrays import Valve
from balance.network.solve import Solution, solve
from balance.questions.settings.answer import Bleed
from balance.questions.settings.at_marks import AtMarks


def bleed(at: AtMarks) -> Bleed | None:
    """The first spare that does it, at its least mark; None where none is needed or none does."""
    for place, machine in enumerate(at.network.machines):
        useful = machine.useful_range(float(at.found.speeds[place, 0]))
        flow = at.solution.flow(machine.name)
        if useful is None or flow >= useful[0] * (1 - 1e-9):
            continue
        for valve in _spares(at):
            opened = _opened(at, valve, machine.name, useful[0])
            if opened is not None:
                return _with(at, valve, machine.name, *opened)
    return None


def _with(at: AtMarks, valve: Valve, pump: str, opening: float, there: Solution) -> Bleed:
    """The spare at its opening, and what that does to the others."""
    names = [branch.name for branch in at.network.plan.branches]
    before = np.array([at.solution.flow(name) for name in names])
    after = np.array([there.flow(name) for name in names])
    others = np.array([name != valve.stretch for name in names]) & (before > 0.0)
    dry = {each.branch for each in at.found.dry}
    wishes = at.found.wishes
    return Bleed(
        valve=valve.name,
        branch=valve.stretch,
        opening=opening,
        flow=there.flow(valve.stretch),
        pump=pump,
        loss=float((1.0 - after[others] / before[others]).max(initial=0.0)),
        meets=set(wishes.unmet(after, dry=dry)) <= set(wishes.unmet(before, dry=dry)),
    )


def _spares(at: AtMarks) -> list[Valve]:
    """Valves of branches that are asked nothing and lead somewhere."""
    spares = [
        branch.name
        for branch in at.network.plan.branches
        if branch.target is None and branch.share is None and branch.to is not None
    ]
    free = {valve.stretch: valve for valve in at.network.valves if not valve.part.locked}
    return [free[name] for name in spares if name in free]


def _opened(at: AtMarks, valve: Valve, pump: str, wanted: float) -> tuple[float, Solution] | None:
    """Least mark of a spare at which the pump carries a flow, and all flows there."""
    step = at.marks.step(valve)
    low, high = 0, round(1.0 / step)

    def opened(mark: int) -> Solution:
        openings = at.openings.copy()
        openings[at.place(valve), 0] = min(1.0, mark * step)
        return solve(at.network, openings=openings, speeds=at.found.speeds)

    if opened(high).flow(pump) < wanted:
        return None
    while high - low > 1:
        middle = (low + high) // 2
        if opened(middle).flow(pump) >= wanted:
            high = middle
        else:
            low = middle
    return min(1.0, high * step), opened(high)
