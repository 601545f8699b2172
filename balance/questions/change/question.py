"""The question: a water change carried out step by step, and what may go wrong with it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

import numpy as np

from balance.network.basins import basin_of
from balance.network.course import Course, course
from balance.plan.model import Change, Plan
from balance.questions.change.answer import (
    Handle,
    LineKind,
    Open,
    Step,
    WaterChange,
)
from balance.questions.change.even import evening_handle
from balance.questions.change.faults import refuse_faults
from balance.questions.change.levels import finite, levels_at, levels_before
from balance.questions.change.limits import intakes_of, limits_of
from balance.questions.change.lines import (
    Lines,
    lines_of,
    mixers,
    ready,
    stretch_of,
    touched,
    valves_in,
)
from balance.questions.change.mixing import mixing, salt
from balance.questions.change.steps import (
    SETTLED,
    Changing,
    Order,
    Passage,
    flows_by_itself,
    pumps_stopped,
)
from balance.questions.change.stuck import TIMES, drain_open, drained, new_line_open
from balance.questions.change.telling import telling_vessel
from balance.questions.change.troubles import troubles_of
from balance.questions.change.ways import ways_out
from balance.questions.handles import mark
from balance.questions.traces import Trace
from balance.units import SYSTEMS

Progress = Callable[[int, int], None]

STAGES = 4  # of the work: levels before, the steps, and each line left open
MOMENTS = 60  # of each step, told of its levels
OFF = 6e-3
"""Height [m] by which levels that settle may lie off the plan's unsaid; our own choice."""


def change(
    plan: Plan,
    *,
    volume: float | None = None,
    salinity: float | None = None,
    order: Order | None = None,
    running: bool | None = None,
    openings: Mapping[str, float] | None = None,
    stuck: Sequence[float] = TIMES,
    progress: Progress | None = None,
) -> WaterChange:
    """How long a water change takes, how far levels move, and what may go wrong with it.

    Parameters
    ----------
    plan
        As read; it is not changed.  Valves of the drain and of the new water's line that stand
        shut are opened as far as they go; others are used as they stand.
    volume
        In place of the plan's [m³].
    salinity
        Of the new water, in place of the plan's [g/kg].
    order
        In place of the plan's.
    running
        Whether the system's own pumps go on, in place of the plan's.
    openings
        From valves to openings that a hand has set [ratio]: these stay, shut ones too.
    stuck
        Times for which the lines are left open [s].
    progress
        To be told how many of its simulations are done, of how many.

    Raises
    ------
    PlanError
        With every fault of the plan's change.
    UnknownNameError, UsageError
        An opening of no valve, or none.
    SolveError
        As from solving.
    """
    told = {"volume": volume, "salinity": salinity, "order": order, "running": running}
    stated = {key: value for key, value in told.items() if value is not None}
    if plan.change is not None:
        plan = plan.model_copy(update={"change": plan.change.model_copy(update=stated)})
    wanted = refuse_faults(plan, asked=stated)
    lines = lines_of(plan)
    used = ready(plan, lines, openings or {})
    own = [name for name, pump in plan.pumps.items() if pump.use != "change"]
    settled = course(used, until=SETTLED) if flows_by_itself(used) else None
    start = _as_written(used) if settled is None else settled.last
    tell = progress or _nobody
    tell(1, STAGES)
    stops = not wanted.running and any(plan.pumps[name].speed > 0.0 for name in own)
    doing = Changing(used, pumps_stopped(used) if stops else None, lines, start)
    doing.carry_out(wanted.volume, wanted.order)
    tell(2, STAGES)
    passages = doing.passages
    taken = sum(each.taken for each in passages)
    brought = sum(each.brought for each in passages)
    troubles = tuple(troubles_of(used, lines, passages))
    system = _system(used, lines, start)
    moved = min(each for each, name in ((taken, lines.drain), (brought, lines.pump)) if name)
    goes: Order = wanted.order
    if lines.drain is None or lines.pump is None:  # the other half is done by hand
        goes = "fill first" if lines.drain is None else "drain first"
    mixed = None
    if system is not None and moved > 0.0:
        mixed = mixing(moved, system=system, order=goes)
    time, traces = _traces(used, passages)
    gone = None if lines.drain is None else drained(used, lines, lines.drain, start=start)
    left_open = []
    for line in _left_open(doing, gone, start, stuck):
        left_open.append(line)
        tell(2 + len(left_open), STAGES)
    return WaterChange(
        title=plan.title,
        volume=wanted.volume,
        order=goes,
        running=not stops,
        drain=lines.drain,
        pump=lines.pump,
        source=lines.source,
        handles=tuple(_handles(plan, used, lines)),
        evens=_evens(doing),
        done=not troubles,
        taken=taken,
        brought=brought,
        before=levels_before(used, start),
        steps=tuple(_step(used, lines, each, start) for each in passages),
        lasts=sum(each.lasts for each in passages if each.kind in ("drain", "fill", "together")),
        troubles=troubles,
        ways=ways_out(doing, wanted, start) if troubles else (),
        limits=limits_of(doing, goes, left_open=gone),
        intakes=tuple(intakes_of(used, passages)),
        time=time,
        traces=traces,
        mixing=mixed,
        salt=salt(
            plan,
            volume=wanted.volume,
            comes=wanted.volume if lines.pump is None else brought,
            salinity=wanted.salinity,
            left=None if mixed is None else mixed.left,
        ),
        stuck=tuple(left_open),
        notes=tuple(
            _notes(used, lines, wanted, goes, start, at_rest=settled is None or settled.at_rest)
        ),
        lost=max(abs(each.course.lost) for each in passages),
        plan=plan,
    )


def _nobody(_: int, __: int) -> None:
    """Nobody wants to be told."""


def _as_written(plan: Plan) -> dict[str, float]:
    return {name: vessel.level for name, vessel in plan.vessels.items()}


def _step(plan: Plan, lines: Lines, passage: Passage, start: Mapping[str, float]) -> Step:
    return Step(
        kind=passage.kind,
        begins=passage.begins,
        lasts=passage.lasts,
        taken=passage.taken,
        brought=passage.brought,
        levels=levels_at(plan, passage.course, start),
        tells=telling_vessel(plan, lines, passage),
    )


def _evens(doing: Changing) -> Handle | None:
    """How to throttle the faster line, where both run at once."""
    for passage in doing.passages:
        if passage.kind == "together":
            found = passage.course
            start = {name: float(found.level_of(name)[0]) for name in found.vessels}
            return evening_handle(doing.at_rest or doing.plan, doing.lines, start=start)
    return None


def _handles(plan: Plan, used: Plan, lines: Lines) -> Iterator[Handle]:
    kinds: tuple[tuple[LineKind, tuple[str, ...]], ...] = (("out", lines.out), ("in", lines.new))
    for line, names in kinds:
        for ref in valves_in(used, names):
            yield Handle(
                valve=ref.name,
                line=line,
                stood=plan.valve(ref.name).part.open,
                opening=ref.part.open,
                mark=mark(ref.part),
            )


def _traces(plan: Plan, passages: Sequence[Passage]) -> tuple[tuple[float, ...], tuple[Trace, ...]]:
    """Levels of vessels with a size, at moments evenly through each step."""
    times: list[float] = []
    levels: dict[str, list[float]] = {name: [] for name in finite(plan)}
    for passage in passages:
        moments = np.linspace(0.0, passage.lasts, MOMENTS + 1)
        times += [passage.begins + float(moment) for moment in moments]
        for name, row in levels.items():
            at = np.interp(moments, passage.course.time, passage.course.level_of(name))
            row += [float(level) for level in at]
    return tuple(times), tuple(Trace(vessel=name, level=tuple(row)) for name, row in levels.items())


def _system(plan: Plan, lines: Lines, levels: Mapping[str, float]) -> float | None:
    """Water of the system at levels [m³]; the new water, and what takes the old, are none of it."""
    apart = {lines.source, *(stretch_of(plan, name).to for name in lines.out), *mixers(plan)}
    total = 0.0
    for name, vessel in plan.vessels.items():
        if name in apart:
            continue
        basin = basin_of(vessel)
        if basin is None:
            return None
        total += float(basin.volume(levels[name]))
    return total


def _left_open(
    doing: Changing, gone: Course | None, start: Mapping[str, float], times: Sequence[float]
) -> Iterator[Open]:
    """What passes through lines that stay open: the drain before a change, new water after it."""
    plan, lines = doing.plan, doing.lines
    if lines.drain is not None and gone is not None:
        yield drain_open(plan, lines, lines.drain, gone, start=start, times=times)
    if lines.pump is not None:
        yield new_line_open(plan, lines, lines.pump, start=doing.levels, times=times)


def _notes(
    plan: Plan,
    lines: Lines,
    wanted: Change,
    order: Order,
    start: Mapping[str, float],
    *,
    at_rest: bool,
) -> Iterator[str]:
    system = SYSTEMS[plan.units]
    if not at_rest:
        yield "the levels of this plan do not come to rest by themselves, so none of this is sure"
    off = [
        f"{row.vessel} at {system.text(row.level, 'length')}, not "
        f"{system.text(plan.vessels[row.vessel].level, 'length')}"
        for row in levels_before(plan, start)
        if abs(row.level - plan.vessels[row.vessel].level) > OFF
    ]
    if off:
        yield f"left alone, levels settle elsewhere than the plan says: {'; '.join(off)}"
    blind = [
        f'"{name}"'
        for name, pump in plan.pumps.items()
        if pump.use != "change" and pump.speed > 0.0 and pump.from_ in plan.vessels
        if pump.intake is None
    ]
    if blind:
        yield (
            f"nothing tells the intake of {' and '.join(blind)}: whether it runs dry is not seen; "
            'add intake = "4 in"'
        )
    for name in touched(plan, lines):
        if basin_of(plan.vessels[name]) is None:
            yield (
                f'nothing tells how large "{name}" is, so its level stays where it is: add '
                'length = "..." and width = "...", or volume = "..."'
            )
    apart = [f'"{name}"' for name in mixers(plan) if name != lines.source]
    if apart:
        yield f"{' and '.join(apart)} counts as new water, not as the system's"
    if order != "drain first" and wanted.running:
        yield "old water is reckoned as if all water were mixed at every moment"
    yield "what pipes hold is left out: the first of the new water fills them"
