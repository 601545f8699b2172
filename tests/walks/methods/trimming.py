"""Bringing one branch to a flow with its valve: a first mark by the plan's curve, then nudges."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.walks.methods.keeper import Keeper

Floats = NDArray[np.float64]

NEAR = 0.02  # of a flow, that is near enough: not much more than three fills tell
STEP = 1.0 / 90.0  # of travel, between the marks of a handle
USUAL = 4.0  # slope of the logarithm of a flow against travel, about that of a ball at 40 degrees
LIKE = 3.0  # times the plan's slope, or a part of it, beyond which two readings tell none


@dataclass(frozen=True)
class Curve:
    """Logarithm of a flow, or of a ratio of flows, by the plan, against the mark of one valve."""

    marks: Floats
    logs: Floats

    def at(self, mark: float) -> float:
        return float(np.interp(mark, self.marks, self.logs))

    def mark_for(self, log: float) -> float:
        return float(np.interp(log, self.logs, self.marks))

    def slope(self, mark: float) -> float:
        if len(self.marks) < 2:
            return USUAL  # by the plan no water flows there, whatever the mark
        low, high = max(mark - STEP, self.marks[0]), min(mark + STEP, self.marks[-1])
        return max(float((self.at(high) - self.at(low)) / (high - low)), 1e-3)


def curve_of(keeper: Keeper, valve: int, branch: str, *, against: str | None = None) -> Curve:
    """The curve of a valve as everything else stands.

    Parameters
    ----------
    against : branch whose flow divides it; left out: none
    """
    marks = np.append(np.arange(1.0, 90.0) * STEP, 1.0)
    columns = np.repeat(keeper.system.marks[:, None], len(marks), axis=1)
    columns[valve] = marks
    speeds = np.repeat(keeper.system.speeds[:, None], len(marks), axis=1)
    names = (branch,) if against is None else (branch, against)
    flow = keeper.planned(names, marks=columns, speeds=speeds)
    runs = (flow > 0.0).all(axis=0)
    logs = np.log(flow[:, runs])
    curve = logs[0] if against is None else logs[0] - logs[1]
    return Curve(marks[runs], np.maximum.accumulate(curve))


def trim(
    keeper: Keeper,
    valve: int,
    curve: Curve,
    look: Callable[[], float],
    *,
    gap: float,
    most_nudges: int,
) -> None:
    """Sets a valve to the mark that the plan's curve tells, and nudges it from there.

    Parameters
    ----------
    look : reads, and says the logarithm of the flow that is wanted over that which is there
    gap : the same before the valve is turned
    """
    keeper.set(valve, curve.mark_for(curve.at(float(keeper.system.marks[valve])) + gap))
    nudge_home(keeper, valve, curve, look, gap=look(), most_nudges=most_nudges)


def nudge_home(
    keeper: Keeper,
    valve: int,
    curve: Curve,
    look: Callable[[], float],
    *,
    gap: float,
    most_nudges: int,
) -> None:
    """Nudges a valve, by the plan's slope first and then by that of the last two readings."""
    slope = curve.slope(float(keeper.system.marks[valve]))
    for _ in range(most_nudges):
        mark = float(keeper.system.marks[valve])
        to = float(np.clip(mark + gap / slope, STEP, 1.0))
        if abs(gap) <= NEAR or to == mark:
            return
        keeper.nudge(valve, to)
        before, gap = gap, look()
        planned, told = curve.slope(to), (before - gap) / (to - mark)
        slope = told if planned / LIKE <= told <= LIKE * planned else planned
