"""Vessels that share their water over weirs with the one a pump draws from: a sump's sections."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from balance.network.arrays import Network
from balance.network.basins import basin_of
from balance.plan.model import Plan
from balance.questions.sources import source_of


@dataclass(frozen=True)
class Reservoir:
    """The vessel of a pump and the sections beside it.

    Attributes
    ----------
    vessel : that the pump draws from
    sections : all, it among them
    rim : the lowest of theirs; None where none is told [m]
    """

    vessel: str
    sections: tuple[str, ...]
    rim: float | None

    def room(
        self, plan: Plan, levels: Mapping[str, float], spills: Mapping[str, float]
    ) -> float | None:
        """Water that still goes in up to the rim, negative: what was spilt [m³]; None without.

        What spills elsewhere is no fault of this pool, and a section that stands above the lowest
        rim has no room.
        """
        if self.rim is None:
            return None
        spilt = sum(spills.get(name, 0.0) for name in self.sections)
        if spilt > 0.0:
            return -spilt
        left = 0.0
        for name in self.sections:
            basin = basin_of(plan.vessels[name])
            if basin is not None:
                left += max(0.0, float(basin.volume(self.rim) - basin.volume(levels[name])))
        return left

    def standing(self, plan: Plan, start: Mapping[str, float], level: float) -> dict[str, float]:
        """Levels of all sections while the vessel runs at one [m].

        Water over the crest between two sections stands in both: a running sump can be no fuller.
        """
        crests = [w.crest for w in plan.weirs if {w.from_, w.to} <= set(self.sections)]
        if not crests or level <= min(crests):
            return {self.vessel: level}
        return {name: max(level, start[name]) for name in self.sections} | {self.vessel: level}

    def volume(self, plan: Plan, start: Mapping[str, float], level: float) -> float:
        """Water in all sections while the vessel runs at a level [m³]."""
        levels = {name: start[name] for name in self.sections} | self.standing(plan, start, level)
        basins = ((basin_of(plan.vessels[name]), height) for name, height in levels.items())
        return sum(float(basin.volume(height)) for basin, height in basins if basin is not None)


def reservoirs(network: Network) -> tuple[Reservoir, ...]:
    """Those of all pumps that always run, each vessel once; endless ones have no level to tell."""
    plan = network.plan
    homes = [source_of(network, pump.from_) for pump in plan.pumps.values() if pump.use == "always"]
    finite = {name for name, vessel in plan.vessels.items() if basin_of(vessel) is not None}
    found: list[Reservoir] = []
    for home in dict.fromkeys(homes):
        if home is not None and home in finite:
            sections = _sharing(plan, home, finite)
            rims = [rim for name in sections if (rim := plan.vessels[name].rim) is not None]
            found.append(Reservoir(home, sections, min(rims, default=None)))
    return tuple(found)


def _sharing(plan: Plan, home: str, finite: set[str]) -> tuple[str, ...]:
    """The vessel and all that weirs join to it whose crests lie below its rim."""
    rim = plan.vessels[home].rim
    reached, waiting = {home}, [home]
    while waiting:
        here = waiting.pop()
        for weir in plan.weirs:
            ends = {weir.from_, weir.to}
            low = rim is None or weir.crest < rim
            if here in ends and low and ends <= finite and not ends <= reached:
                waiting += ends - reached
                reached |= ends
    return tuple(name for name in plan.vessels if name in reached)
