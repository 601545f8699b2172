"""What goes wrong with a change: rims, pumps that run dry, and volumes that do not move."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from balance.plan.model import Plan
from balance.questions.change.answer import Trouble
from balance.questions.change.lines import Lines, stretch_of
from balance.questions.change.steps import Passage
from balance.units import SYSTEMS


def troubles_of(plan: Plan, lines: Lines, passages: Sequence[Passage]) -> Iterator[Trouble]:
    """What goes wrong, step by step."""
    system = SYSTEMS[plan.units]
    told: set[tuple[str, str]] = set()
    over = _over_rims(passages)
    for passage in passages:
        for event in passage.course.events:
            when = passage.begins + event.time
            if event.kind == "rim" and ("overflow", event.vessel) not in told:
                told.add(("overflow", event.vessel))
                rim = plan.vessels[event.vessel].rim or 0.0
                yield Trouble(
                    kind="overflow",
                    name=event.vessel,
                    time=when,
                    text=f"{event.vessel} OVERFLOWS: its water comes to its rim at "
                    f"{system.text(rim, 'length')}, and "
                    f"{system.text(over[event.vessel], 'volume')} go over",
                )
            own = event.name in plan.pumps and plan.pumps[event.name].use != "change"
            if event.kind == "dry" and own and ("pump dry", event.name) not in told:
                told.add(("pump dry", event.name))
                yield Trouble(
                    kind="pump dry",
                    name=event.name,
                    time=when,
                    text=f"{event.name} RUNS DRY: the water of {event.vessel} falls to its intake",
                )
        if not passage.ended:
            yield _short(plan, lines, passage)


def _over_rims(passages: Sequence[Passage]) -> dict[str, float]:
    """What goes over each rim in all [m³].

    The floor has what simulations put there to the last drop; each rim has its share of that.
    """
    total: dict[str, float] = {}
    for passage in passages:
        found = passage.course
        step = found.time <= passage.lasts
        spilt = {
            name: max(0.0, float(np.trapezoid(flow[step], found.time[step])))
            for name, flow in found.spilt.items()
        }
        whole = sum(spilt.values())
        for name, volume in spilt.items():
            share = volume / whole if whole > 0.0 else 0.0
            total[name] = total.get(name, 0.0) + share * float(found.floor[step][-1])
    return total


def _short(plan: Plan, lines: Lines, passage: Passage) -> Trouble:
    """A step that moves less than it was to."""
    system = SYSTEMS[plan.units]
    drains = passage.stretch == lines.drain
    moved = passage.taken if drains else passage.brought
    slow = not passage.course.at_rest
    said = (
        f"{passage.stretch} {'takes' if drains else 'brings'} only "
        f"{system.text(moved, 'volume')} of {system.text(passage.asked, 'volume')}"
    )
    if moved <= 0.0:
        said = f"nothing flows through {passage.stretch}"
        if passage.stretch in plan.pumps and plan.pumps[passage.stretch].speed == 0.0:
            said += ": its speed is 0 %"
    elif slow:
        said += " in a day"
    elif drains:
        source = stretch_of(plan, passage.stretch).from_
        if source in passage.course.vessels:
            level = float(passage.course.level_of(source)[-1])
            said += f": then {source} stands at {system.text(level, 'length')}"
    else:
        dry = [
            event.vessel
            for event in passage.course.events
            if event.kind == "dry" and event.name in lines.new
        ]
        if dry:
            said += f": then {dry[0]} has run empty, down to the pump's intake"
    return Trouble(
        kind="slow" if slow else "short",
        name=passage.stretch,
        time=passage.begins + passage.lasts,
        text=said,
    )
