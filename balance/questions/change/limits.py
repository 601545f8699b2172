"""How much could be changed at most, and how near a pump comes to drawing air meanwhile."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from balance.network.basins import basin_of
from balance.network.course import Course, course
from balance.parts.gravity import vortex_depth
from balance.plan.model import Plan
from balance.questions.change.answer import Cover, Limits, StepKind
from balance.questions.change.lines import full_drains
from balance.questions.change.steps import DAY, Changing, Order, Passage
from balance.questions.change.stuck import ended, passed_by

STILL = 1e-9  # [m³/s], below which a flow is the solver's rounding


def limits_of(doing: Changing, order: Order, *, left_open: Course | None) -> Limits:
    """What drain, new water and rims allow, in the order asked and with the pumps as asked.

    Parameters
    ----------
    doing : a change that has been carried out
    left_open : what becomes of the drain left open before the change, the pumps going on
    """
    lines = doing.lines
    drained = left_open
    if order != "drain first" or doing.at_rest is not None:
        drained = _alone(doing, "drain", lines.drain, lines.out)
    most = None
    if drained is not None and lines.drain is not None and ended(drained, lines.drain):
        most = drained.passed[lines.drain]
    over, room = None, None
    if order == "fill first" and lines.pump is not None:
        filled = _alone(doing, "fill", lines.pump, lines.new)
        rims = [] if filled is None else [e for e in filled.events if e.kind == "rim"]
        if filled is not None and rims:
            over, room = rims[0].vessel, passed_by(filled, lines.pump, rims[0].time)
    return Limits(
        drained=most,
        new=held_for(doing.plan, lines.pump, lines.source),
        over=over,
        room=room,
    )


def _alone(
    doing: Changing, kind: StepKind, name: str | None, opened: Sequence[str]
) -> Course | None:
    """One line by itself, without an end, from where its step began; None where it had none."""
    step = next((each for each in doing.passages if each.kind == kind), None)
    if step is None or name is None:
        return None
    return course(
        doing.at_rest or doing.plan,
        start={each: float(step.course.level_of(each)[0]) for each in step.course.vessels},
        until=DAY,
        opened=opened,
        primed=full_drains(doing.plan, opened),
        metered=[name],
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


def intakes_of(plan: Plan, passages: Sequence[Passage]) -> Iterator[Cover]:
    """The water over the intake of each of the system's own pumps that draws from a vessel."""
    for name, pump in plan.pumps.items():
        if pump.use == "change" or pump.intake is None or pump.from_ not in plan.vessels:
            continue
        over: list[tuple[float, StepKind]] = []
        flows: list[float] = []
        for passage in passages:
            flow = passage.course.flow[name]
            turning = flow > STILL
            if turning.any():
                lowest = float(passage.course.level_of(pump.from_)[turning].min())
                over.append((lowest, passage.kind))
                flows.append(float(flow.max()))
        if over:
            least, step = min(over, key=lambda each: each[0])
            yield Cover(
                pump=name,
                vessel=pump.from_,
                least=least - pump.intake,
                step=step,
                wanted=(
                    None
                    if pump.strainer is None
                    else float(vortex_depth(max(flows), bore=pump.strainer))
                ),
            )
