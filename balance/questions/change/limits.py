"""How much could be changed at most, and how near a pump comes to drawing air meanwhile."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from balance.network.basins import basin_of
from balance.parts.gravity import vortex_depth
from balance.plan.model import Plan
from balance.questions.change.answer import Cover, Limits, Open
from balance.questions.change.lines import Lines, stretch_of
from balance.questions.change.steps import Passage

STILL = 1e-9  # [m³/s], below which a flow is the solver's rounding


def limits_of(
    plan: Plan, lines: Lines, start: Mapping[str, float], stuck: Sequence[Open]
) -> Limits:
    """What drain, new water and the receiving vessel allow, from levels before [m]."""
    receives = _receives(plan, lines)
    return Limits(
        drained=next((line.most for line in stuck if line.line == "out"), None),
        new=held_for(plan, lines.pump, lines.source),
        receives=receives,
        room=None if receives is None else _room(plan, receives, start[receives]),
    )


def held_for(plan: Plan, pump: str | None, source: str | None) -> float | None:
    """Water that a pump can take from a vessel as the plan has it [m³]; None where that is open."""
    if pump is None or source is None:
        return None
    vessel, data = plan.vessels[source], plan.pumps[pump]
    intake = data.intake if data.from_ == source else None
    floor = vessel.bottom if intake is None else intake
    basin = basin_of(vessel)
    if basin is None or (floor is None and vessel.table is None):
        return None
    below = 0.0 if floor is None else float(basin.volume(min(floor, vessel.level)))
    return float(basin.volume(vessel.level)) - below


def _receives(plan: Plan, lines: Lines) -> str | None:
    """The vessel at the end of the new water's line."""
    if lines.pump is None:
        return None
    ends = [plan.pumps[lines.pump].to]
    ends += [stretch_of(plan, name).to for name in lines.new if name != lines.pump]
    return next((end for end in ends if end in plan.vessels and end != lines.source), None)


def _room(plan: Plan, name: str, level: float) -> float | None:
    vessel = plan.vessels[name]
    basin = basin_of(vessel)
    if basin is None or vessel.rim is None:
        return None
    return float(basin.volume(vessel.rim) - basin.volume(level))


def intakes_of(plan: Plan, passages: Sequence[Passage]) -> Iterator[Cover]:
    """The water over the intake of each of the system's own pumps that draws from a vessel."""
    for name, pump in plan.pumps.items():
        if pump.use == "change" or pump.intake is None or pump.from_ not in plan.vessels:
            continue
        over, flows = [], []
        for passage in passages:
            flow = passage.course.flow[name]
            turning = flow > STILL
            if turning.any():
                over.append(float(passage.course.level_of(pump.from_)[turning].min()))
                flows.append(float(flow.max()))
        if over:
            yield Cover(
                pump=name,
                vessel=pump.from_,
                least=min(over) - pump.intake,
                wanted=(
                    None
                    if pump.strainer is None
                    else float(vortex_depth(max(flows), bore=pump.strainer))
                ),
            )
