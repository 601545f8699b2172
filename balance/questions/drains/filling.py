"""How fast the water rises once a drain is blocked: the course of the worst single blockage."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from balance.errors import BalanceError
from balance.network.arrays import Network, network_of
from balance.network.basins import basin_of
from balance.network.course import Course, course
from balance.plan.model import Plan
from balance.questions.drains.answer import (
    SUPPLIED,
    Case,
    Drains,
    Filling,
    Rise,
    VesselDrains,
)
from balance.questions.speeds import top_speeds

LONGEST = 3600.0  # [s] that are followed; our own choice
AFTER = 1.3  # of the time to what matters, that traces tell
POINTS = 90  # of a trace, at most


def followed(answer: Drains) -> Drains:
    """The answer with the time course of one vessel: of the first that floods, else of the first.

    A simulation takes far longer than all the rest.
    """
    network = network_of(answer.plan)
    chosen = min(answer.vessels, key=lambda vessel: not vessel.floods)
    return replace(
        answer,
        vessels=tuple(
            replace(vessel, filling=filling_of(answer.plan, network, vessel))
            if vessel is chosen
            else vessel
            for vessel in answer.vessels
        ),
    )


def filling_of(plan: Plan, network: Network, vessel: VesselDrains) -> Filling | None:
    """Levels over time from the moment when a drain of a vessel is blocked.

    The blockage is that which floods with the least inflow, and of those the one that lets most run
    over; where none floods, that which leaves the least room as the plan stands.  All else goes on:
    the pump lowers the sump as it fills the vessel.  None without a size, or without anything that
    comes in.
    """
    case = _worst(vessel)
    if case is None or case.inflow <= 0.0 or basin_of(plan.vessels[vessel.vessel]) is None:
        return None
    shut = next(each.shut for each in vessel.inflows if each.when == case.when)
    siphons = [drain.drain for drain in vessel.drains if drain.role == "siphon"]
    try:
        found = course(
            _supplied(plan, network, case, shut),
            until=LONGEST,
            blocked=case.blocked,
            primed=None if case.primed else [s for s in _siphons(plan) if s not in siphons],
        )
    except BalanceError:
        return None  # the levels in their steady state are told all the same
    return _told(plan, vessel, case, found)


def _worst(vessel: VesselDrains) -> Case | None:
    singles = list(dict.fromkeys(case.blocked for case in vessel.cases if len(case.blocked) == 1))
    for when in SUPPLIED:
        judged = [vessel.judged(blocked, when) for blocked in singles]
        floods = [case for case in judged if case.floods]
        if floods:
            return max(floods, key=lambda case: case.overflow)
    standing = [vessel.judged(blocked, SUPPLIED[0]) for blocked in singles]
    roomy = [case for case in standing if case.margin is not None]
    return min(roomy, key=lambda case: case.margin or 0.0, default=None)


def _siphons(plan: Plan) -> list[str]:
    return [drain.name for drain in plan.drains if drain.role == "siphon"]


def _supplied(plan: Plan, network: Network, case: Case, shut: Sequence[str]) -> Plan:
    """The plan with pumps and branches as a case of supply has them."""
    if case.when == SUPPLIED[0]:
        return plan
    tops = np.maximum(network.speeds, top_speeds(network))[:, 0]
    speeds = {m.name: float(top) for m, top in zip(network.machines, tops, strict=True)}
    branches = tuple(
        branch.model_copy(update={"to": None}) if branch.name in shut else branch
        for branch in plan.branches
    )
    return plan.with_speed(speeds).model_copy(update={"branches": branches})


def _told(plan: Plan, vessel: VesselDrains, case: Case, found: Course) -> Filling:
    tanks = [weir.from_ for weir in plan.weirs if weir.to == vessel.vessel]
    names = [name for name in dict.fromkeys((vessel.vessel, *tanks)) if name in found.vessels]
    spills = [event for event in found.events if event.kind == "rim" and event.name in names]
    dry = [event for event in found.events if event.kind == "dry" and event.name in plan.pumps]
    matters = min([*(event.time for event in (*spills[:1], *dry[:1])), found.settled])
    until = min(max(AFTER * matters, 1.0), LONGEST)
    time = np.unique(np.append(found.time[found.time < until], until))
    if len(time) > POINTS:
        time = np.unique(time[np.linspace(0, len(time) - 1, POINTS).round().astype(int)])
    return Filling(
        blocked=case.blocked[0],
        when=case.when,
        spills=spills[0].name if spills else None,
        spills_after=spills[0].time if spills else None,
        dry=dry[0].name if dry else None,
        dry_after=dry[0].time if dry else None,
        settled=found.settled if found.at_rest else None,
        room=min(
            (
                rim - float(found.level_of(name).max())
                for name in names
                if (rim := plan.vessels[name].rim) is not None
            ),
            default=None,
        ),
        time=tuple(time.tolist()),
        rises=tuple(
            Rise(
                vessel=name,
                rim=plan.vessels[name].rim,
                level=tuple(np.interp(time, found.time, found.level_of(name)).tolist()),
            )
            for name in names
        ),
        lost=abs(found.lost),
    )
