"""Which valve sets a branch, and how its handle is read."""

from __future__ import annotations

from balance.plan.model import Plan, ValvePart, ValveRef
from balance.plan.openings import words_of


def valve_of(plan: Plan, stretch: str) -> ValveRef | None:
    """The valve of a stretch that is to be turned; failing that its first; None if it has none."""
    valves = [ref for ref in plan.valves() if ref.stretch == stretch]
    free = [ref for ref in valves if not ref.part.locked]
    return next(iter(free or valves), None)


def mark(part: ValvePart) -> str:
    """Where a handle stands, as a hand reads it."""
    return words_of(part.open, part)
