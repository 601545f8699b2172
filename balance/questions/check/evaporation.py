"""Where it shows that water evaporates, and how much may before a pump draws air."""

from __future__ import annotations

from collections.abc import Iterator

from balance.network.arrays import Network
from balance.network.basins import basin_of
from balance.network.solve import Solution
from balance.parts.basins import Basin
from balance.parts.gravity import vortex_depth
from balance.plan.model import Plan, Pump
from balance.questions.check.answer import EvaporationRow
from balance.questions.sources import source_of

LITRE = 1e-3


def evaporation(network: Network, solution: Solution | None) -> Iterator[EvaporationRow]:
    """A row for each pump that always runs and draws from a vessel whose level nothing keeps.

    Tanks that spill over a weir, a box or a baffle keep their levels, wherever water evaporates:
    what is gone is missing from the vessel that the pump draws from.

    Parameters
    ----------
    solution : with handles and pumps as they stand, for the vortex; None where there is none
    """
    plan = network.plan
    for name, pump in plan.pumps.items():
        home = source_of(network, pump.from_) if pump.use == "always" else None
        vessel = plan.vessels.get(home or "")
        basin = None if vessel is None else basin_of(vessel)
        if home is None or vessel is None or basin is None or _spills(plan, home):
            continue
        flow = None if solution is None else max(0.0, solution.flow(name))
        daily = plan.water.evaporation
        to_intake = _between(basin, vessel.level, pump.intake)
        to_vortex = _between(basin, vessel.level, _swirls_at(pump, flow))
        yield EvaporationRow(
            pump=name,
            vessel=home,
            fall_of_a_litre=LITRE / float(basin.area(vessel.level)),
            rate=daily,
            to_intake=to_intake,
            to_vortex=to_vortex,
            time_to_intake=to_intake / daily if daily and to_intake is not None else None,
            time_to_vortex=to_vortex / daily if daily and to_vortex is not None else None,
        )


def _spills(plan: Plan, name: str) -> bool:
    """Whether a weir or a drain keeps the level of a vessel, so that nothing shows in it."""
    weirs = any(weir.from_ == name for weir in plan.weirs)
    drains = any(drain.from_ == name and drain.role != "change" for drain in plan.drains)
    return weirs or drains or plan.vessels[name].crest is not None


def _between(basin: Basin, level: float, height: float | None) -> float | None:
    """Water between a level and a height below it [m³]; none where it lies higher."""
    if height is None:
        return None
    return max(0.0, float(basin.volume(level) - basin.volume(height)))


def _swirls_at(pump: Pump, flow: float | None) -> float | None:
    """Level below which a vortex may draw air into a pump's strainer [m]."""
    if pump.intake is None or pump.strainer is None or flow is None:
        return None
    return pump.intake + float(vortex_depth(flow, bore=pump.strainer))
