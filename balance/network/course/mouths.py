"""Where runs meet vessels: which surface each sees, and whether it lies under water or in the air.

The network of a moment knows a vessel as one fixed head.  Over time a surface may leave one mouth
and still cover the next, so here each mouth is a fixed head of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.network.layout import LaidRun
from balance.network.topology import Topology
from balance.plan.model import OUTSIDE, OutletPart, Plan

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

OUT, IN = 0, 1  # of a vessel into a run, at its start; out of a run into a vessel, at its end


@dataclass(frozen=True)
class Mouth:
    """Where a run meets a vessel or the open air.

    Attributes
    ----------
    run : its row
    name : of the run, branch, drain or pump in the plan
    vessel : the plan's name, or `OUTSIDE`
    way : OUT where the run begins, IN where it ends
    height : of the opening; None where it is not told and the vessel has no floor either [m]
    hole : of the siphon break above it, or the height again [m]
    free : an end in the open air, which lets nothing back
    """

    run: int
    name: str
    vessel: str
    way: int
    height: float | None
    hole: float | None
    free: bool

    def breaks_at(self, *, holes: bool) -> float | None:
        """Level [m] at which air gets in; with the holes of siphon breaks blocked, the lower."""
        return self.hole if holes else self.height


@dataclass(frozen=True)
class Mouths:
    """All of them, and the network's runs between them.

    Attributes
    ----------
    each : in the order of the fixed nodes
    topology : the network's, with a fixed node for each mouth
    vessel : (M,) number of each one's vessel, in the order asked for
    lowest : (M, 1) of the heads that each can stand at: its height, or -inf [m]
    """

    each: tuple[Mouth, ...]
    topology: Topology
    vessel: Ints
    lowest: Floats

    def heads(self, levels: Floats) -> Floats:
        """Head at each mouth (M, S) at levels of vessels (V, S) [m]: surface, or its own height."""
        return np.maximum(levels.take(self.vessel, axis=0), self.lowest)

    def inflow(self, flow: Floats, vessels: int) -> Floats:
        """What runs give to vessels (V, S) at flows (E, S) [m³/s]; what they take counts below."""
        total = np.zeros((vessels, flow.shape[1]))
        for place, mouth in enumerate(self.each):
            sign = 1.0 if mouth.way == IN else -1.0
            total[self.vessel[place]] += sign * flow[mouth.run]
        return total


def mouths_of(network: Network, numbers: Mapping[str, int]) -> Mouths:
    """The mouths of a network.

    Parameters
    ----------
    numbers : from the name of a vessel, `OUTSIDE` among them, to its row
    """
    plan, topology = network.plan, network.topology
    found: list[Mouth] = []
    ends = (topology.start.copy(), topology.end.copy())
    targets = {stretch.name: stretch.to for stretch in plan.stretches()}
    for row, run in enumerate(network.layout.runs):
        for way, node in ((OUT, run.start), (IN, run.end)):
            if node not in network.layout.heads:
                continue
            vessel = node if node in numbers else str(targets[run.owner])
            ends[way][row] = topology.joints + len(found)
            found.append(_mouth(plan, run, row, vessel, way, network.layout.heads[node]))
    return Mouths(
        tuple(found),
        replace(topology, fixed=len(found), start=ends[0], end=ends[1]),
        np.array([numbers[mouth.vessel] for mouth in found], dtype=np.intp),
        np.array([[-np.inf if m.height is None else m.height] for m in found]).reshape(-1, 1),
    )


def _mouth(plan: Plan, run: LaidRun, row: int, name: str, way: int, head: float) -> Mouth:
    if name == OUTSIDE:
        return Mouth(row, run.owner, name, way, head, head, free=way == IN)
    vessel = plan.vessels[name]
    height = hole = vessel.bottom
    outlet = run.parts[-1] if run.parts else None
    if way == OUT:
        pump = plan.pumps.get(run.owner)
        if pump is not None and pump.intake is not None:
            height = hole = pump.intake
    elif isinstance(outlet, OutletPart):
        if run.stretch.outlet_height is not None or outlet.height is not None:
            height = hole = run.stretch.outlet_height or outlet.height
        elif outlet.depth is not None:
            height = hole = vessel.level - outlet.depth
        if outlet.siphon_break is not None:
            hole = vessel.level - outlet.siphon_break
    return Mouth(row, run.owner, name, way, height, hole, free=_is_free(run, way))


def _is_free(run: LaidRun, way: int) -> bool:
    return way == IN and run.stretch.outlet_height is not None
