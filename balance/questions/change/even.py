"""How far to throttle the faster of two lines so that both carry alike and the level holds."""

from __future__ import annotations

from collections.abc import Mapping

from balance.network.course import course
from balance.plan.model import Plan, ValvePart
from balance.questions.change.answer import Handle, LineKind
from balance.questions.change.lines import Lines, full_drains, valves_in
from balance.questions.handles import mark
from balance.questions.marks import DEFAULT, DEGREES

MOMENT = 1e-3  # [s], of a course that tells no more than what flows now


def evening_handle(plan: Plan, lines: Lines, *, start: Mapping[str, float]) -> Handle | None:
    """The handle that makes both lines carry alike, at the mark where they come nearest to it.

    Parameters
    ----------
    plan : with its lines ready and its pumps as they are meanwhile
    start : levels when both begin [m]

    Returns
    -------
    Handle or None
        None where one of the lines carries nothing, where they are even already, or where no
        valve of the faster one may be turned.
    """
    excess = _excess(plan, lines, start)
    if excess is None or excess == 0.0:
        return None
    line: LineKind = "out" if excess > 0.0 else "in"
    sign = 1.0 if line == "out" else -1.0
    names = lines.out if line == "out" else lines.new
    refs = [ref for ref in valves_in(plan, names) if not ref.part.locked]
    if not refs:
        return None
    ref, step = refs[0], _step(refs[0].part)
    slow, fast = 0, max(round(ref.part.open / step), 1)  # marks, of which one is too much
    over, under = excess, None
    while fast - slow > 1:
        middle = (slow + fast) // 2
        found = _excess(plan.with_openings({ref.name: middle * step}), lines, start)
        if found is not None and sign * found > 0.0:
            fast, over = middle, found
        else:
            slow, under = middle, found
    nearer = slow if under is not None and slow and abs(under) < abs(over) else fast
    part = ref.part.model_copy(update={"open": nearer * step})
    return Handle(
        valve=ref.name, line=line, stood=ref.part.open, opening=part.open, mark=mark(part)
    )


def _excess(plan: Plan, lines: Lines, start: Mapping[str, float]) -> float | None:
    """By how much the drain carries more than the pump [m³/s]; None where one carries nothing."""
    opened = (*lines.out, *lines.new)
    now = course(
        plan, start=start, until=MOMENT, opened=opened, primed=full_drains(plan, opened)
    ).flow
    out, new = (float(now[str(name)][0]) for name in (lines.drain, lines.pump))
    return out - new if min(out, new) > 0.0 else None


def _step(part: ValvePart) -> float:
    """Share of a handle's travel between two of its marks."""
    travel = {"degrees": DEGREES, "turns": part.turns or 1.0, "percent": 100.0}[part.handle]
    return DEFAULT[part.handle] / travel
