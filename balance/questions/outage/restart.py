"""How low the vessels of pumps go when the power comes back, before drains return the water."""

from __future__ import annotations

from balance.network.arrays import network_of
from balance.network.basins import basin_of
from balance.network.course import Course, course
from balance.network.gravity import gravity_drains
from balance.parts.gravity import vortex_depth
from balance.plan.model import Plan
from balance.questions.outage.answer import LowWater
from balance.questions.outage.pools import Reservoir
from balance.questions.outage.stopping import Stopped
from balance.questions.sources import source_of

PRIMES_AT = 2.0
"""Bores of water over a siphon's inlet when it begins to run full; common practice, no source."""
LONG_ENOUGH = 1800.0  # [s] for levels to become steady; our own choice


def restart(plan: Plan, worst: Stopped, pools: tuple[Reservoir, ...]) -> tuple[LowWater, ...]:
    """Each pump's vessel, with siphons that prime again and with siphons that do not.

    Pipes are filled from the pump's vessel at once.  A siphon primes when two bores of water stand
    over its inlet; one behind its vessel's own weir, whose box is not in the plan, at once.
    """
    levels = dict(worst.levels)
    for to, volume in worst.pipes.values():
        basin = basin_of(plan.vessels[to])
        if basin is not None:
            levels[to] = float(basin.level(basin.volume(levels[to]) - volume))
    network = network_of(plan)
    drains = [each for each in gravity_drains(plan, network.water) if each.role == "siphon"]
    behind = [each for each in drains if plan.vessels[each.vessel].crest is not None]
    primes = {
        each.name: each.inlet + PRIMES_AT * each.lip_bore for each in drains if each not in behind
    }
    rows = []
    for tried in (primes, {}) if primes else ({},):
        found = course(
            plan,
            until=LONG_ENOUGH,
            start=levels,
            primed=[each.name for each in behind],
            primes=tried,
        )
        for name, pump in plan.pumps.items():
            home = source_of(network, pump.from_) if pump.use == "always" else None
            if pump.speed > 0.0 and home in {pool.vessel for pool in pools}:
                rows.append(_row(plan, name, str(home), found, primes=bool(tried) or not primes))
    return tuple(rows)


def _row(plan: Plan, name: str, vessel: str, found: Course, *, primes: bool) -> LowWater:
    pump, level = plan.pumps[name], found.level_of(vessel)
    at = int(level.argmin())
    needed = None
    if pump.intake is not None and pump.strainer is not None:
        most = float(found.flow[name].max())
        needed = pump.intake + float(vortex_depth(most, bore=pump.strainer))
    return LowWater(
        pump=name,
        vessel=vessel,
        primes=primes,
        lowest=float(level[at]),
        when=float(found.time[at]),
        steady=float(level[-1]),
        intake=pump.intake,
        needed=needed,
        covered=None
        if pump.intake is None
        else float(level[0]) > pump.intake
        and not any(event.kind == "dry" and event.name == name for event in found.events),
        deep=None if needed is None else bool(level[at] >= needed),
        spills=tuple(dict.fromkeys(e.vessel for e in found.events if e.kind == "rim")),
        at_rest=found.at_rest,
    )
