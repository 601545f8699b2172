"""Levels of a course as rows of the answer."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from balance.network.basins import basin_of
from balance.network.course import Course
from balance.plan.model import Plan
from balance.questions.change.answer import LevelAt

Floats = NDArray[np.float64]


def finite(plan: Plan) -> tuple[str, ...]:
    """Vessels with a size, of which the level can change."""
    return tuple(name for name, vessel in plan.vessels.items() if basin_of(vessel) is not None)


def levels_at(
    plan: Plan, found: Course, start: Mapping[str, float], time: float | None = None
) -> tuple[LevelAt, ...]:
    """Where vessels with a size stand in a course at some time; left out: at its end.

    Parameters
    ----------
    start : levels from which rises count [m]
    time : since its beginning [s]
    """
    until = float(found.time[-1]) if time is None else time
    rows = []
    for name in finite(plan):
        over = found.level_of(name)
        level = float(np.interp(until, found.time, over))
        over = np.append(over[found.time <= until], level)
        rows.append(_row(plan, name, level, start[name], over))
    return tuple(rows)


def levels_before(plan: Plan, start: Mapping[str, float]) -> tuple[LevelAt, ...]:
    """Where vessels with a size stand before anything happens [m]."""
    return tuple(
        _row(plan, name, start[name], start[name], np.array([start[name]])) for name in finite(plan)
    )


def _row(plan: Plan, name: str, level: float, start: float, over: Floats) -> LevelAt:
    vessel = plan.vessels[name]
    floor = vessel.table[0][0] if vessel.table is not None else vessel.bottom
    return LevelAt(
        vessel=name,
        level=level,
        depth=None if floor is None else level - floor,
        rise=level - start,
        lowest=float(over.min()),
        highest=float(over.max()),
    )
