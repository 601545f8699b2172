"""Ways out of a change that does not go as asked: tried one by one until some go."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import islice

from balance.plan.model import Change
from balance.questions.change.answer import Way
from balance.questions.change.steps import Changing, Order, pumps_stopped
from balance.questions.change.troubles import troubles_of

ORDERS: tuple[Order, ...] = ("fill first", "drain first", "together")
A_LITTLE_LESS = 0.98
"""Share of what has moved that is tried next; our own choice."""
HALVINGS = 5  # of the volume asked, to find one that goes


def ways_out(doing: Changing, wanted: Change, start: Mapping[str, float]) -> tuple[Way, ...]:
    """Another order, the pumps otherwise, and less of it; each simulated, and without trouble.

    Parameters
    ----------
    doing : the change that has been carried out, with trouble
    start : levels before [m]
    """
    if any(each.stretch and each.taken + each.brought <= 0.0 for each in doing.passages):
        return ()  # a line that carries nothing carries nothing in any order
    return tuple(_ways(doing, wanted, start))


def _ways(doing: Changing, wanted: Change, start: Mapping[str, float]) -> Iterator[Way]:
    runs = doing.at_rest is None
    both = doing.lines.drain is not None and doing.lines.pump is not None
    orders = [order for order in ORDERS if both and order != wanted.order]
    turns = any(pump.use != "change" and pump.speed > 0.0 for pump in doing.plan.pumps.values())

    def going(orders: Iterable[Order], *, running: bool) -> Iterator[Way]:
        """The first of some orders in which all of it goes."""
        tried = (Way(order=each, running=running, volume=wanted.volume) for each in orders)
        yield from islice((way for way in tried if _goes(doing, way, start)), 1)

    others = list(going(orders, running=runs))
    yield from others
    if turns:
        yield from going([wanted.order] if others else [wanted.order, *orders], running=not runs)
    less = _less(doing, Way(order=wanted.order, running=runs, volume=wanted.volume), start)
    if less is not None:
        yield less


def _less(doing: Changing, asked: Way, start: Mapping[str, float]) -> Way | None:
    """As asked, with as much as goes."""

    def way(volume: float) -> Way:
        return Way(order=asked.order, running=asked.running, volume=volume)

    moved = min(
        sum(amounts)
        for amounts, name in (
            ([each.taken for each in doing.passages], doing.lines.drain),
            ([each.brought for each in doing.passages], doing.lines.pump),
        )
        if name is not None
    )
    if moved < A_LITTLE_LESS * asked.volume and _goes(doing, way(A_LITTLE_LESS * moved), start):
        return way(A_LITTLE_LESS * moved)
    low, high = 0.0, min(moved, asked.volume)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        if _goes(doing, way(middle), start):
            low = middle
        else:
            high = middle
    return way(low) if low > 0.0 else None


def _goes(doing: Changing, way: Way, start: Mapping[str, float]) -> bool:
    trial = Changing(
        doing.plan, None if way.running else pumps_stopped(doing.plan), doing.lines, start
    )
    trial.carry_out(way.volume, way.order)
    return not any(troubles_of(doing.plan, doing.lines, trial.passages))
