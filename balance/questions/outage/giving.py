"""What each vessel gives, by which ways, and why it gives no more."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from balance.network.basins import basin_of
from balance.network.course import Course
from balance.plan.model import Branch, OutletPart, Plan, Run
from balance.questions.outage.answer import Ended, Gift, VesselEnd
from balance.questions.outage.stopping import Stopped

Floats = NDArray[np.float64]

TOLD = 1e-5  # [m³], a spoonful, below which a way is not told; our own choice
NEAR = 1e-3  # [m], within which a level is that of an edge; our own choice


def vessel_ends(plan: Plan, stopped: Stopped) -> tuple[VesselEnd, ...]:
    """A row for each vessel with a size."""
    return tuple(
        _row(plan, stopped, name)
        for name, vessel in plan.vessels.items()
        if basin_of(vessel) is not None
    )


def _row(plan: Plan, stopped: Stopped, name: str) -> VesselEnd:
    vessel, falls = plan.vessels[name], stopped.falls
    volumes = falls.volume_of(name)
    ways = _ways(plan, falls, name)
    highest = max(float(falls.level_of(name).max()), stopped.levels[name])
    ended, at = _ended(plan, stopped, name, [way for way, volume in ways if volume > TOLD])
    return VesselEnd(
        vessel=name,
        start=stopped.start[name],
        end=stopped.levels[name],
        highest=highest,
        rim=vessel.rim,
        margin=None if vessel.rim is None else vessel.rim - highest,
        given=float(volumes[0] - volumes[-1]),
        by=tuple(
            Gift(way=way, volume=volume)
            for way, volume in sorted(ways, key=lambda pair: -pair[1])
            if volume > TOLD
        ),
        ended=ended,
        at=at,
        spilt=max(0.0, _through(falls, falls.spilt[name])),
    )


def _ways(plan: Plan, falls: Course, name: str) -> list[tuple[str, float]]:
    """What leaves a vessel by each way, negative where it comes in [m³]."""
    found: list[tuple[str, float]] = []
    ends = [(pump, row.from_, row.to) for pump, row in plan.pumps.items()]
    ends += [(each.name, each.from_ or "", each.to or "") for each in plan.stretches()]
    for way, start, end in ends:
        if way in falls.passed and name in (start, end):
            found.append((way, falls.passed[way] if start == name else -falls.passed[way]))
    for weir in plan.weirs:
        if name in (weir.from_, weir.to):
            over = _through(falls, falls.flow[weir.name])
            found.append((weir.name, over if weir.from_ == name else -over))
    return found


def _through(found: Course, flow: Floats) -> float:
    """What a flow amounts to over the time [m³]."""
    return float(np.trapezoid(flow, found.time))


def _ended(plan: Plan, stopped: Stopped, name: str, ways: list[str]) -> tuple[Ended, str]:
    """Why a vessel gives no more: the last of what it gave by, or the edge where it stands."""
    vessel, level = plan.vessels[name], stopped.falls.last[name]
    if not ways:
        return "still", ""
    events = [event for event in stopped.falls.events if event.vessel == name]
    edges: list[tuple[float, Ended, str]] = []
    if vessel.crest is not None:
        edges.append((vessel.crest, "crest", name))
    edges += [(w.crest, "crest", w.name) for w in plan.weirs if w.from_ == name and w.name in ways]
    edges += [(d.inlet, "inlet", d.name) for d in plan.drains
              if d.from_ == name and d.inlet is not None and d.name in ways]  # fmt: skip
    for event in events:
        if event.kind == "uncovered" and event.name in ways:
            hole = stopped.holes and _has_hole(plan, event.name)
            height = float(np.interp(event.time, stopped.falls.time, stopped.falls.level_of(name)))
            edges.append((height, "break" if hole else "nozzle", event.name))
    if vessel.bottom is not None:
        edges.append((vessel.bottom, "empty", ""))
    near = [edge for edge in edges if abs(edge[0] - level) < NEAR]
    if near:
        _, ended, at = min(near, key=lambda edge: abs(edge[0] - level))
        return ended, at
    return "level", next((event.name for event in events if event.kind == "level"), ways[0])


def _has_hole(plan: Plan, name: str) -> bool:
    stretch = next((s for s in plan.stretches() if s.name == name), None)
    if not isinstance(stretch, Run | Branch) or not stretch.parts:
        return False
    last = stretch.parts[-1]
    return isinstance(last, OutletPart) and last.siphon_break is not None
