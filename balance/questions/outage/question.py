"""The question: what happens to levels when the power fails, and when it comes back."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

import numpy as np

from balance.errors import UnknownNameError, UsageError
from balance.network.arrays import network_of
from balance.network.basins import basin_of
from balance.plan.fields import nearest
from balance.plan.model import Branch, OutletPart, Plan, Run
from balance.questions.outage.answer import Case, Gift, Happening, Outage, Pool, Trace
from balance.questions.outage.cases import MOST_CHECKS, combinations_of
from balance.questions.outage.checks import checks_of
from balance.questions.outage.giving import vessel_ends
from balance.questions.outage.highest import highest_start
from balance.questions.outage.pools import Reservoir, reservoirs
from balance.questions.outage.restart import restart
from balance.questions.outage.stopping import Stopped, stop

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
    start = _start(plan, dict(levels or {}))
    network = network_of(plan)
    pools, checks = reservoirs(network), checks_of(plan)
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
        safe=spilt <= 0.0 and all(low.covered is not False and not low.spills for low in lows),
        checks=checks,
        worst=cases[0],
        vessels=vessel_ends(plan, worst),
        pools=tuple(_pool(plan, open_holes, pool, start) for pool in pools),
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
        notes=tuple(_notes(plan, checks, ended, pools)),
        lost=max(each.lost for each in ended),
        plan=plan,
    )


def _run(
    plan: Plan, tries: Sequence[tuple[tuple[str, ...], bool]], start: Mapping[str, float]
) -> Iterable[Stopped]:
    """Every case in its order, many of them on as many cores as there are."""
    if len(tries) < WORTH_CORES:
        return (stop(plan, failed, start=start, holes=holes) for failed, holes in tries)
    from joblib import Parallel, cpu_count, delayed

    found: Iterator[Stopped] = Parallel(n_jobs=min(cpu_count(), len(tries)), return_as="generator")(
        delayed(stop)(plan, failed, start=start, holes=holes) for failed, holes in tries
    )
    return found


def _start(plan: Plan, given: Mapping[str, float]) -> dict[str, float]:
    """Levels at which it begins [m]."""
    finite = [name for name, vessel in plan.vessels.items() if basin_of(vessel) is not None]
    if not finite:
        raise UsageError(
            "no vessel has a size, so no level can move: give length and width, diameter or a table"
        )
    by_fold = {name.casefold(): name for name in plan.vessels}
    start = {name: vessel.level for name, vessel in plan.vessels.items()}
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
    return start


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
    plan: Plan, ended: Sequence[Stopped], pool: Reservoir, start: Mapping[str, float]
) -> Pool:
    """A pool in the case that is worst for it, which need not be the one that spills elsewhere."""
    worst = min(ended, key=lambda each: _badness(plan, each, (pool,))[1:])
    end = worst.levels[pool.vessel]
    return Pool(
        vessel=pool.vessel,
        sections=pool.sections,
        failed=worst.failed,
        start=start[pool.vessel],
        end=end,
        rim=pool.rim,
        margin=None if pool.rim is None else pool.rim - end,
        room=pool.room(plan, worst.levels, worst.spills),
        highest_start=_highest(plan, worst, ended, pool, start),
    )


def _highest(
    plan: Plan,
    worst: Stopped,
    ended: Sequence[Stopped],
    pool: Reservoir,
    start: Mapping[str, float],
) -> float | None:
    """The highest level at which a pool may run, in every case: from there another may be worse."""
    level = highest_start(plan, worst, pool, start=start)
    others = [each for each in ended if each is not worst]
    if level is None or not others:
        return level
    there = {**start, **pool.standing(plan, start, level)}
    tried = _run(plan, [(each.failed, True) for each in others], there)
    for other, again in zip(others, tried, strict=True):
        if (pool.room(plan, again.levels, again.spills) or 0.0) < 0.0:
            lower = highest_start(plan, other, pool, start=start)
            if lower is None:
                return None
            level = min(level, lower)
    return level


def _happenings(worst: Stopped) -> Iterator[Happening]:
    """What happens on the way; air at the mouth of a stretch that gave nothing is not told."""
    falls = worst.falls
    for event in falls.events:
        flow = falls.flow.get(event.name)
        if event.kind == "uncovered" and flow is not None and not (np.abs(flow) > 1e-7).any():
            continue
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


def _notes(
    plan: Plan, checks: Sequence[str], ended: Sequence[Stopped], pools: Sequence[Reservoir]
) -> Iterator[str]:
    if len(checks) > MOST_CHECKS:
        yield (
            f"of {len(checks)} check valves not every combination was tried: all failed, all but "
            "each, each alone, none"
        )
    for name, vessel in plan.vessels.items():
        if basin_of(vessel) is None:
            yield f'"{name}" has no size, so it keeps its level; give length and width'
        elif vessel.bottom is None and vessel.table is None:
            yield f'"{name}" has no bottom, so it was taken never to run empty'
    stretches: tuple[Run | Branch, ...] = (*plan.runs, *plan.branches)
    for stretch in stretches:
        last = stretch.parts[-1] if stretch.parts else None
        told = isinstance(last, OutletPart) and (last.depth, last.height) != (None, None)
        ends = stretch.to in plan.vessels
        if ends and not told and stretch.to not in {n for pool in pools for n in pool.sections}:
            yield (
                f'nothing tells how deep "{stretch.name}" ends in "{stretch.to}": it was taken to '
                "drain it to the bottom; write depth on its outlet"
            )
    for drain in plan.drains:
        if drain.inlet is None:
            yield (
                f'drain "{drain.name}" has no inlet: it was taken at the level of "{drain.from_}", '
                "which may hide water that still comes down"
            )
    behind = {drain.from_ for drain in plan.drains if plan.vessels[drain.from_].crest is not None}
    for name in plan.vessels:
        if name in behind:
            yield (
                f'the overflow box of "{name}" is not in the plan: what it holds above its lowest '
                "inlet comes down too; give it as a vessel of its own, with a weir into it"
            )
    if not all(each.falls.at_rest for each in ended):
        yield "after eight hours some level was still moving"
