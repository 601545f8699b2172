"""The highest level at which the vessel of a pump may run, so that a power cut spills nothing."""

from __future__ import annotations

from collections.abc import Mapping

from balance.network.basins import basin_of
from balance.plan.model import Plan
from balance.questions.outage.pools import Reservoir
from balance.questions.outage.stopping import Stopped, stop

HAIR = 2.5e-4  # [m] below the highest level, within which it is found; our own choice
MOST_TRIES = 8
HALVINGS = 60


def highest_start(
    plan: Plan, worst: Stopped, pool: Reservoir, *, start: Mapping[str, float]
) -> float | None:
    """Level from which the worst case just reaches the lowest rim of a pool [m].

    By simulating from each level that is tried: what one run leaves of the room is added to the
    level of the next.  None where the pool has no rim, or would spill from every level.
    """
    basin, room = (
        basin_of(plan.vessels[pool.vessel]),
        pool.room(plan, worst.levels, worst.spills),
    )
    if basin is None or room is None or pool.rim is None:
        return None
    floor, level, safe = float(basin.level(0.0)), start[pool.vessel], None
    for _ in range(MOST_TRIES):
        hair = pool.volume(plan, start, level) - pool.volume(plan, start, level - HAIR)
        if room >= 0.0:
            safe = level if safe is None else max(safe, level)
            if room <= hair or level >= pool.rim:
                break
        # A little less than all of it, so that the next try ends on the safe side.
        level = level_with(plan, pool, start, level, more=room - 0.5 * hair)
        if level <= floor:
            break
        ended = stop(plan, worst.failed, start={**start, **pool.standing(plan, start, level)})
        room = pool.room(plan, ended.levels, ended.spills)
        if room is None:
            break
    return safe


def level_with(
    plan: Plan, pool: Reservoir, start: Mapping[str, float], level: float, *, more: float
) -> float:
    """The level at which a pool holds so much more than at another, by halving [m]."""
    basin = basin_of(plan.vessels[pool.vessel])
    if basin is None or pool.rim is None:
        return level
    wanted = pool.volume(plan, start, level) + more
    low, high = float(basin.level(0.0)), pool.rim
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        if pool.volume(plan, start, middle) <= wanted:
            low = middle
        else:
            high = middle
    return low
