"""The two lines of a water change: by which old water leaves, and by which new water comes."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from balance.plan.model import Drain, OutletPart, Plan, Run, Stretch, ValveRef


@dataclass(frozen=True)
class Lines:
    """What is opened, and started, for a change.

    Attributes
    ----------
    drain : by which old water leaves; None where nothing tells
    pump : that brings the new water; None likewise
    source : vessel of the new water; None likewise
    out : drain and runs by which old water leaves
    new : pump and runs by which new water comes
    """

    drain: str | None
    pump: str | None
    source: str | None
    out: tuple[str, ...]
    new: tuple[str, ...]


def lines_of(plan: Plan) -> Lines:
    """The lines that a plan's change names, with the runs for changes that they lead through."""
    change = plan.change
    if change is None:
        return Lines(None, None, None, (), ())
    out: tuple[str, ...] = ()
    if change.drain is not None:
        drain = stretch_of(plan, change.drain)
        out = (drain.name, *_onwards(plan, (drain.from_, drain.to), but=(drain.name,)))
    new: tuple[str, ...] = ()
    source = change.from_
    if change.pump is not None:
        pump = plan.pumps[change.pump]
        new = (change.pump, *_onwards(plan, (pump.from_, pump.to), but=out))
        if source is None and pump.from_ in plan.vessels:
            source = pump.from_
    return Lines(change.drain, change.pump, source, out, new)


def stretch_of(plan: Plan, name: str) -> Run | Drain:
    """A run or drain of a plan by its name."""
    both: tuple[Run | Drain, ...] = (*plan.runs, *plan.drains)
    return next(each for each in both if each.name == name)


def touched(plan: Plan, lines: Lines) -> tuple[str, ...]:
    """Vessels at the ends of both lines, in the order of the plan."""
    ends = {
        end
        for each in plan.stretches()
        if each.name in (*lines.out, *lines.new)
        for end in (each.from_, each.to)
    }
    if lines.pump is not None:
        ends |= {plan.pumps[lines.pump].from_, plan.pumps[lines.pump].to}
    return tuple(name for name in plan.vessels if name in ends)


def mixers(plan: Plan) -> tuple[str, ...]:
    """Vessels that nothing but a pump for changes draws from, and that nothing leads to."""
    drawn = {pump.from_ for pump in plan.pumps.values() if pump.use == "change"}
    ends: set[str | None] = {pump.to for pump in plan.pumps.values()}
    ends |= {pump.from_ for pump in plan.pumps.values() if pump.use != "change"}
    for each in (*plan.stretches(), *plan.weirs):
        ends |= {each.from_, each.to}
    return tuple(name for name in plan.vessels if name in drawn - ends)


def _onwards(plan: Plan, ends: Collection[str], *, but: Collection[str]) -> list[str]:
    """Runs for changes that hang on some ends, joint by joint; vessels end them."""
    found: list[str] = []
    joints = {end for end in ends if end not in plan.vessels}
    waiting = [run for run in plan.runs if run.use == "change" and run.name not in but]
    grown = True
    while grown:
        grown = False
        for run in waiting:
            if run.name not in found and joints & {run.from_, run.to}:
                found.append(run.name)
                joints |= {run.from_, run.to} - plan.vessels.keys()
                grown = True
    return found


def valves_in(plan: Plan, names: Collection[str]) -> tuple[ValveRef, ...]:
    """Valves in some stretches, in the order of the plan."""
    return tuple(ref for ref in plan.valves() if ref.stretch in names)


def ready(plan: Plan, lines: Lines, openings: Mapping[str, float]) -> Plan:
    """The plan with its lines as they are used.

    Parameters
    ----------
    openings : of valves that a hand has set otherwise; others of the lines that stand shut are
        opened as far as they go, locked ones excepted
    """
    plan = plan.with_openings(openings)
    wide = {
        ref.name: ref.part.stops[1] if ref.part.stops else 1.0
        for ref in valves_in(plan, (*lines.out, *lines.new))
        if ref.part.open == 0.0 and not ref.part.locked and ref.name not in openings
    }
    return plan.with_openings(wide)


def ends_in_air(stretch: Stretch) -> bool:
    """Whether a stretch lets its water fall, so that none can be drawn back."""
    last = stretch.parts[-1] if stretch.parts else None
    return isinstance(last, OutletPart) and last.is_free


def full_drains(plan: Plan, opened: Collection[str]) -> tuple[str, ...]:
    """Drains that run full: siphons, and a change drain in use, whose inlet lies under water."""
    return tuple(
        drain.name
        for drain in plan.drains
        if drain.role == "siphon" or (drain.role == "change" and drain.name in opened)
    )
