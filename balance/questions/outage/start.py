"""Levels at which a power cut begins, on the bad side of what the plan leaves open."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from balance.errors import NoSolutionError, SolveError, UnknownNameError, UsageError
from balance.network.arrays import Network
from balance.network.basins import basin_of
from balance.network.solve import solve
from balance.parts.weirs import straight_head
from balance.plan.fields import nearest
from balance.plan.model import Plan
from balance.questions.inflows import inflows
from balance.questions.outage.pools import Reservoir
from balance.questions.speeds import top_speeds


def with_inlets(plan: Plan) -> Plan:
    """The plan with inlets of drains where it tells none: at the bottom of their vessels."""
    drains = []
    for drain in plan.drains:
        basin = basin_of(plan.vessels[drain.from_])
        if drain.inlet is None and basin is not None and drain.role != "change":
            drains.append(drain.model_copy(update={"inlet": float(basin.level(0.0))}))
        else:
            drains.append(drain)
    return plan.model_copy(update={"drains": tuple(drains)})


def running_levels(network: Network) -> dict[str, float]:
    """Levels of all vessels while pumps run at full speed, none below what the plan says [m].

    A vessel that spills stands as high over its weir as the flow needs that comes to it.
    """
    plan = network.plan
    levels = {name: vessel.level for name, vessel in plan.vessels.items()}
    try:
        tops = np.maximum(network.speeds, top_speeds(network))
        solution = solve(network, speeds=tops)
    except (NoSolutionError, SolveError):
        return levels
    flow = {name: solution.state.flow[row] for name, row in network.row_of.items()}
    for name, came in inflows(plan, flow).items():
        over = max(0.0, float(came[0]))
        for crest, length in _edges(plan, name):
            levels[name] = max(levels[name], crest + float(straight_head(over, length=length)))
    return {
        name: level if (rim := plan.vessels[name].rim) is None else min(level, rim)
        for name, level in levels.items()
    }


def _edges(plan: Plan, name: str) -> list[tuple[float, float]]:
    """The lowest crest over which a vessel spills, with the length of all its weirs [m], [m]."""
    vessel = plan.vessels[name]
    if vessel.crest is not None and vessel.weir_length is not None:
        return [(vessel.crest, vessel.weir_length)]
    weirs = [weir for weir in plan.weirs if weir.from_ == name]
    length = sum(weir.length * (1.0 - weir.teeth) for weir in weirs)
    return [(min(weir.crest for weir in weirs), length)] if length > 0.0 else []


def start_levels(
    network: Network, pools: Sequence[Reservoir], given: Mapping[str, float]
) -> dict[str, float]:
    """Levels at which it begins: while all runs, but for those that are given [m].

    Raises
    ------
    UnknownNameError
        A level of a vessel that is not there.
    UsageError
        No vessel has a size, or a level that no vessel can have.
    """
    plan = network.plan
    if not any(basin_of(vessel) is not None for vessel in plan.vessels.values()):
        raise UsageError(
            "no vessel has a size, so no level can move: give length and width, diameter or a table"
        )
    by_fold = {name.casefold(): name for name in plan.vessels}
    start = running_levels(network)
    for word, level in given.items():
        name = by_fold.get(word.casefold())
        if name is None:
            near = nearest(word, plan.vessels)
            raise UnknownNameError("vessel", word, (near,) if near else (), tuple(plan.vessels))
        vessel = plan.vessels[name]
        low, high = vessel.bottom, vessel.rim
        if (low is not None and level < low) or (high is not None and level > high):
            raise UsageError(
                f'"{name}" cannot stand there: give a level from its bottom to its rim, counted '
                "from the plan's datum"
            )
        start[name] = level
    for pool in pools:
        start |= pool.standing(plan, start, start[pool.vessel])
    return start
