"""Which valve sets a branch, and how its handle is read."""

from __future__ import annotations

from fractions import Fraction

from balance.plan.model import Plan, ValvePart, ValveRef
from balance.plan.openings import QUARTER_TURN, Handle


def valve_of(plan: Plan, stretch: str) -> ValveRef | None:
    """The valve of a stretch that is to be turned; failing that its first; None if it has none."""
    valves = [ref for ref in plan.valves() if ref.stretch == stretch]
    free = [ref for ref in valves if not ref.part.locked]
    return next(iter(free or valves), None)


def mark(part: ValvePart) -> str:
    """Where a handle stands, as a hand reads it."""
    if part.handle == "degrees":
        return reading(part.open, handle="degrees", travel=QUARTER_TURN)
    if part.handle == "turns" and part.turns is not None:
        return reading(part.open, handle="turns", travel=part.turns)
    return reading(part.open, handle="percent", travel=100.0)


def reading(opening: float, *, handle: Handle, travel: float) -> str:
    """An opening as a hand reads it: "48 deg", "3 1/8 turns", "30 %", "shut", "full".

    Parameters
    ----------
    opening : share of the travel, from shut
    travel : in the handle's unit
    """
    if opening <= 0.0:
        return "shut"
    if opening >= 1.0 - 1e-9:
        return "full"
    amount = opening * travel
    if handle == "turns":
        return _turns(amount)
    return f"{amount:.3g} {'deg' if handle == 'degrees' else '%'}"


def _turns(amount: float) -> str:
    """Whole turns and eighths where they are: "3 1/8 turns", "1/2 turn"."""
    eighths = Fraction(round(amount * 8), 8)
    if abs(float(eighths) - amount) > 1e-6:
        return f"{amount:.3g} turns"
    whole, part = divmod(eighths, 1)
    said = " ".join(str(piece) for piece in (whole, part) if piece)
    return f"{said} turn" if eighths <= 1 else f"{said} turns"
