"""The question: what happens to levels when the power fails, and when it comes back."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial

import numpy as np

from balance.network.arrays import network_of
from balance.network.basins import basin_of
from balance.plan.model import OutletPart, Plan
from balance.questions.cores import on_all_cores
from balance.questions.outage.answer import Case, Gift, Happening, Outage, Pool
from balance.questions.outage.cases import combinations_of
from balance.questions.outage.checks import checks_of
from balance.questions.outage.giving import vessel_ends
from balance.questions.outage.highest import highest_start, level_with
from balance.questions.outage.notes import notes_of
from balance.questions.outage.pools import Reservoir, reservoirs
from balance.questions.outage.restart import restart
from balance.questions.outage.start import start_levels, with_inlets
from balance.questions.outage.stopping import Stopped, stop
from balance.questions.traces import Trace

POINTS = 120  # of a trace, at most
WORTH_CORES = 8  # cases from which starting other processes takes less time than it saves
AFTER = 1.1  # of the time to rest, that traces tell

Told = Callable[[int, int], None]


def outage(
    plan: Plan, *, levels: Mapping[str, float] | None = None, told: Told | None = None
) -> Outage:
    """Let the power fail, with every combination of check valves, and come back.

    Parameters
    ----------
    plan : its pumps run at their speeds when the power comes back
    levels : at which vessels stand when it fails, where not at the plan's [m]
    told : of cases done, of how many

    Raises
    ------
    NoSolutionError
        Levels could not be followed.
    SolveError
        The network did not settle.
    UnknownNameError
        A level of a vessel that is not there.
    UsageError
        There is nothing to run out: no vessel with a size; or a level that no vessel can have.
    """
    written, plan = plan, with_inlets(plan)
    network = network_of(plan)
    pools, checks = reservoirs(network), checks_of(plan)
    start = start_levels(network, pools, levels or {})
    tries = [(failed, True) for failed in combinations_of(checks)]
    if _any_holes(plan):
        tries.append((tries[0][0], False))
    ended = []
    for each in _run(plan, tries, start):
        ended.append(each)
        if told is not None:
            told(len(ended), len(tries))
    order = sorted(range(len(ended)), key=lambda at: (*_badness(plan, ended[at], pools), at))
    open_holes = [ended[at] for at in order if ended[at].holes]
    cases = tuple(_case(plan, each, checks, pools) for each in open_holes)
    worst = open_holes[0]
    blocked = next((each for each in ended if not each.holes), None)
    lows = restart(plan, worst, pools)
    spilt = max(case.spilt for case in cases)
    time = _times(worst)
    return Outage(
        title=plan.title,
        # Of a sump that has no size nothing is known, and so nothing good.
        safe=spilt <= 0.0
        and all(low.covered is not False and not low.spills for low in lows)
        and (bool(pools) or not plan.running),
        checks=checks,
        worst=cases[0],
        vessels=vessel_ends(plan, worst),
        pools=tuple(_pool(plan, open_holes, blocked, pool, start) for pool in pools),
        pipes=worst.let_go,
        pipes_by=tuple(
            Gift(way=name, volume=volume)
            for name, (_, volume) in sorted(worst.pipes.items(), key=lambda item: -item[1][1])
        ),
        spilt=worst.spilt,
        happenings=tuple(_happenings(worst)),
        time=tuple(float(t) for t in time),
        traces=tuple(
            Trace(
                vessel=name,
                level=tuple(np.interp(time, *_whole(worst, name)).tolist()),
            )
            for name in worst.falls.vessels
            if basin_of(plan.vessels[name]) is not None
        ),
        cases=cases,
        blocked=None if blocked is None else _case(plan, blocked, checks, pools),
        restart=lows,
        notes=tuple(notes_of(written, start, checks, ended, pools, given=levels or {})),
        lost=max(each.lost for each in ended),
        plan=written,
    )


def _run(
    plan: Plan, tries: Sequence[tuple[tuple[str, ...], bool]], start: Mapping[str, float]
) -> Iterable[Stopped]:
    """Every case in its order, many of them on as many cores as there are."""
    if len(tries) < WORTH_CORES:
        return map(partial(_one, plan, start), tries)
    return on_all_cores(partial(_one, plan, start), tries)


def _one(plan: Plan, start: Mapping[str, float], case: tuple[tuple[str, ...], bool]) -> Stopped:
    failed, holes = case
    return stop(plan, failed, start=start, holes=holes)


def _any_holes(plan: Plan) -> bool:
    parts = (part for stretch in plan.stretches() for part in stretch.parts)
    return any(isinstance(part, OutletPart) and part.siphon_break is not None for part in parts)


def _badness(plan: Plan, ended: Stopped, pools: Sequence[Reservoir]) -> tuple[float, float, float]:
    """What makes one case worse than another, the worst first: spilt water, less room, a rise."""
    rooms = [r for pool in pools if (r := pool.room(plan, ended.levels, ended.spills)) is not None]
    rise = sum(ended.levels[pool.vessel] for pool in pools)
    # A spoonful more or less is the integration's, and the first of equals has all failed.
    return round(-ended.spilt, 5), round(min(rooms, default=0.0), 5), round(-rise, 5)


def _case(plan: Plan, ended: Stopped, checks: Sequence[str], pools: Sequence[Reservoir]) -> Case:
    rooms = [r for pool in pools if (r := pool.room(plan, ended.levels, ended.spills)) is not None]
    return Case(
        failed=ended.failed,
        holding=tuple(name for name in checks if name not in ended.failed),
        holes=ended.holes,
        ends=tuple(ended.levels[pool.vessel] for pool in pools),
        room=min(rooms, default=None),
        spilt=ended.spilt,
        settled=ended.falls.settled,
        at_rest=ended.falls.at_rest,
        lost=ended.lost,
    )


def _pool(
    plan: Plan,
    ended: Sequence[Stopped],
    blocked: Stopped | None,
    pool: Reservoir,
    start: Mapping[str, float],
) -> Pool:
    """A pool in the case that is worst for it, which need not be the one that spills elsewhere."""
    worst = min(ended, key=lambda each: _badness(plan, each, (pool,))[1:])
    end = worst.levels[pool.vessel]
    room = pool.room(plan, worst.levels, worst.spills)
    highest = _highest(plan, worst, ended, pool, start)
    less = None if blocked is None else pool.room(plan, blocked.levels, blocked.spills)
    return Pool(
        vessel=pool.vessel,
        sections=pool.sections,
        failed=worst.failed,
        start=start[pool.vessel],
        end=end,
        rim=pool.rim,
        margin=None if pool.rim is None else pool.rim - end,
        room=room,
        highest_start=highest,
        highest_blocked=_lower(plan, pool, start, highest, by=room - less)
        if highest is not None and less is not None and room is not None
        else None,
    )


def _lower(
    plan: Plan, pool: Reservoir, start: Mapping[str, float], level: float, *, by: float
) -> float | None:
    """A level with so much less room taken up; None where that is below the vessel's floor."""
    basin = basin_of(plan.vessels[pool.vessel])
    lower = level_with(plan, pool, start, level, more=-by)
    return None if basin is None or basin.volume(lower) <= 0.0 else lower


def _highest(
    plan: Plan,
    worst: Stopped,
    ended: Sequence[Stopped],
    pool: Reservoir,
    start: Mapping[str, float],
) -> float | None:
    """The highest level at which a pool may run: from there the next case may be the worst."""
    level = highest_start(plan, worst, pool, start=start)
    others = [each for each in ended if each is not worst]
    if level is None or not others:
        return level
    there = {**start, **pool.standing(plan, start, level)}
    second = min(others, key=lambda each: _badness(plan, each, (pool,))[1:])
    again = stop(plan, second.failed, start=there)
    if (pool.room(plan, again.levels, again.spills) or 0.0) >= 0.0:
        return level
    lower = highest_start(plan, second, pool, start=start)
    return None if lower is None else min(level, lower)


def _happenings(worst: Stopped) -> Iterator[Happening]:
    """What happens on the way; air at the mouth of a stretch that gave nothing is not told."""
    falls, spilling = worst.falls, set[str]()
    for event in falls.events:
        flow = falls.flow.get(event.name)
        if event.kind == "uncovered" and flow is not None and not (np.abs(flow) > 1e-7).any():
            continue
        if event.kind == "rim":
            if event.name in spilling:
                continue  # it spills in gushes
            spilling.add(event.name)
        yield Happening(time=event.time, kind=event.kind, name=event.name, vessel=event.vessel)


def _times(worst: Stopped) -> np.ndarray:
    """Of the traces [s]: those of the simulation until all is at rest, and a little on."""
    falls = worst.falls
    until = max(AFTER * falls.settled, 10.0)
    time = np.unique(np.append(falls.time[falls.time < until], until))
    if len(time) <= POINTS:
        return time
    return np.unique(time[np.linspace(0, len(time) - 1, POINTS).round().astype(int)])


def _whole(worst: Stopped, name: str) -> tuple[np.ndarray, np.ndarray]:
    return worst.falls.time, worst.falls.level_of(name)
