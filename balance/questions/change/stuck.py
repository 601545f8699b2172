"""Lines that stay open: a drain's valve that does not shut, and new water with its pump at rest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from balance.network.course import Course, course
from balance.plan.model import CheckPart, Plan
from balance.questions.change.answer import Open, Stuck
from balance.questions.change.levels import levels_at
from balance.questions.change.lines import Lines, ends_in_air, full_drains, stretch_of, valves_in
from balance.questions.change.steps import DAY

TIMES = (300.0, 600.0, 1800.0, 3600.0)
"""Of a line left open [s]: what passes before somebody looks; our own choice."""

ENDED = 1e-3  # of the greatest flow, below which one has come to its end
LITTLE = 5e-4
"""Water [m³] of which nobody takes notice; our own choice."""


def drained(plan: Plan, lines: Lines, name: str, *, start: Mapping[str, float]) -> Course:
    """A drain left open for a day, while the system's own pumps go on.

    Parameters
    ----------
    plan : with its lines ready
    start : levels before [m]
    """
    return course(
        plan,
        start=start,
        until=DAY,
        opened=lines.out,
        primed=full_drains(plan, lines.out),
        metered=[name],
    )


def drain_open(
    plan: Plan,
    lines: Lines,
    name: str,
    last: Course,
    *,
    start: Mapping[str, float],
    times: Sequence[float],
) -> Open:
    """What a drain takes that does not shut, while the system's own pumps go on.

    Parameters
    ----------
    plan : with its lines ready
    last : what becomes of it left open
    start : levels before [m]
    """
    valves = _valves(plan, lines.out)
    return Open(
        line="out",
        name=name,
        valves=valves,
        in_air=ends_in_air(stretch_of(plan, name)),
        fastest=float(np.abs(last.flow[name]).max()),
        after=tuple(_stuck(plan, last, start, name, time) for time in times),
        most=last.passed[name] if ended(last, name) else None,
        rests=last.settled if ended(last, name) else None,
        dry=_dry(plan, last),
        second_valve=_second(name, valves, stretch_of(plan, name).from_),
    )


def new_line_open(
    plan: Plan, lines: Lines, name: str, *, start: Mapping[str, float], times: Sequence[float]
) -> Open:
    """What runs through the line of new water with its pump at rest and its valves open.

    No check valve is counted on, and the pump's intake counts as covered, since it was before.

    Parameters
    ----------
    plan : with its lines ready
    start : levels after the change [m]
    """
    still = _without_checks(plan.with_speed({name: 0.0}), lines.new)
    pump = still.pumps[name].model_copy(update={"intake": None})
    still = still.model_copy(update={"pumps": still.pumps | {name: pump}})
    last = course(still, start=start, until=DAY, opened=lines.new, metered=[name])
    runs = [stretch_of(plan, each) for each in lines.new if each != name]
    in_air = any(ends_in_air(each) for each in runs)
    valves = _valves(plan, lines.new)
    after = tuple(_stuck(still, last, start, name, time) for time in times)
    return Open(
        line="in",
        name=name,
        valves=valves,
        in_air=in_air,
        fastest=float(np.abs(last.flow[name]).max()),
        after=after,
        most=last.passed[name] if ended(last, name) else None,
        rests=last.settled if ended(last, name) else None,
        dry=(),
        second_valve=_stop(name, valves, passed=last.passed[name], in_air=in_air),
    )


def _stuck(plan: Plan, found: Course, start: Mapping[str, float], name: str, time: float) -> Stuck:
    """What has passed by a time, and what has come of it."""
    return Stuck(
        time=time,
        passed=passed_by(found, name, min(time, float(found.time[-1]))),
        levels=levels_at(plan, found, start, time),
        over=tuple(
            dict.fromkeys(e.vessel for e in found.events if e.kind == "rim" and e.time <= time)
        ),
    )


def passed_by(found: Course, name: str, time: float) -> float:
    """What has passed in a metered stretch by a time of a course [m³].

    Summed up from its flow, and brought to what the course itself has metered in all.
    """
    flow = found.flow[name]
    total = float(np.trapezoid(flow, found.time))
    if total == 0.0:
        return 0.0
    before = found.time < time
    times = np.append(found.time[before], time)
    flows = np.append(flow[before], np.interp(time, found.time, flow))
    return found.passed[name] * float(np.trapezoid(flows, times)) / total


def ended(found: Course, name: str) -> bool:
    """Whether what passes has come to its end."""
    flow = np.abs(found.flow[name])
    return found.at_rest and bool(flow[-1] <= ENDED * flow.max())


def _dry(plan: Plan, found: Course) -> tuple[str, ...]:
    names = (event.name for event in found.events if event.kind == "dry")
    return tuple(dict.fromkeys(name for name in names if name in plan.pumps))


def _valves(plan: Plan, line: Sequence[str]) -> tuple[str, ...]:
    """Valves that a hand may shut; a locked one stays as it is."""
    return tuple(ref.name for ref in valves_in(plan, line) if not ref.part.locked)


def _second(name: str, valves: Sequence[str], source: str) -> str:
    if not valves:
        return (
            f"{name} has no valve that a hand may shut: fit two in series, the first where it "
            f"leaves {source}"
        )
    if len(valves) == 1:
        return (
            f"{name} has one valve: a second one in series, between it and {source}, stops all of "
            "this when the first sticks, and lets it be taken out"
        )
    return f"{' and '.join(valves)} stand in series: shut each, and one that sticks costs nothing"


def _stop(name: str, valves: Sequence[str], *, passed: float, in_air: bool) -> str:
    if abs(passed) < LITTLE:
        return (
            "its outlet lies above the water, so nothing runs back"
            if in_air
            else "nothing moves through it as the levels stand then"
        )
    way = "back into the new water's vessel" if passed < 0.0 else "on into the system by itself"
    remedy = (
        "a valve shut at once, a second one behind it, or an outlet above the water stops it"
        if passed < 0.0
        else "a valve shut at once, and a second one behind it, stops it"
    )
    shut = f"shut {' and '.join(valves)} before {name} stops; " if valves else ""
    return f"water runs {way}: {shut}{remedy}"


def _without_checks(plan: Plan, names: Sequence[str]) -> Plan:
    """The plan with all check valves of some runs failed."""
    runs = tuple(
        run.model_copy(
            update={
                "parts": tuple(
                    part.model_copy(update={"failed": True})
                    if isinstance(part, CheckPart)
                    else part
                    for part in run.parts
                )
            }
        )
        if run.name in names
        else run
        for run in plan.runs
    )
    return plan.model_copy(update={"runs": runs})
