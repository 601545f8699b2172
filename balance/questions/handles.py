"""Which valve sets a branch, and how its handle is read."""

from __future__ import annotations

from balance.plan.model import Plan, ValvePart, ValveRef
from balance.plan.openings import QUARTER_TURN


def valve_of(plan: Plan, stretch: str) -> ValveRef | None:
    """The valve of a stretch that is to be turned; failing that its first; None if it has none."""
    valves = [ref for ref in plan.valves() if ref.stretch == stretch]
    free = [ref for ref in valves if not ref.part.locked]
    return next(iter(free or valves), None)


def mark(part: ValvePart) -> str:
    """Where a handle stands, as a hand reads it: "45 deg", "2.5 turns", "30 %", "shut", "full"."""
    if part.open in (0.0, 1.0):
        return "full" if part.open else "shut"
    if part.handle == "degrees":
        return f"{part.open * QUARTER_TURN:.3g} deg"
    if part.handle == "turns" and part.turns is not None:
        return f"{part.open * part.turns:.3g} turns"
    return f"{part.open * 100.0:.3g} %"
