"""Level against inflow, for a plot."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from balance.questions.drains.answer import Capacity, Line
from balance.questions.drains.levels import Overflow
from balance.questions.drains.states import NOTHING, Loads, masks, states

POINTS = 61
BEYOND = 1.15  # of the greatest inflow, to which lines go


def lines_of(overflow: Overflow, loads: Loads, capacities: tuple[Capacity, ...]) -> Iterator[Line]:
    """Siphons full, siphons not full, and the drain blocked whose loss leaves least."""
    most = BEYOND * float(loads.total.max())
    if not most > 0.0:
        return
    inflow = np.linspace(0.0, most, POINTS)
    # All of them come as the greatest inflow does, part by pipes and part over weirs.
    own, fed = loads.take([int(loads.total.argmax())] * POINTS)
    part = inflow / loads.total.max()
    for words, lost, full in _states(overflow, capacities):
        blocked, primed = masks(overflow, [(lost, full)] * POINTS)
        found = overflow.standing(own * part, fed * part, blocked, primed)
        dry = found.spilt + found.spilt_tanks.sum(axis=0) <= NOTHING * most
        yield Line(
            state=words,
            inflow=tuple(inflow[dry].tolist()),
            level=tuple(found.level[dry].tolist()),
        )


def _states(
    overflow: Overflow, capacities: tuple[Capacity, ...]
) -> Iterator[tuple[str, tuple[int, ...], bool]]:
    names = [drain.name for drain in overflow.drains]
    siphons = int(overflow.siphons.sum())
    which = "siphon" if siphons == 1 else "siphons"
    if siphons:
        yield f"{which} full", (), True
        yield f"{which} not full", (), False
    else:
        yield "whole", (), False
    for capacity in capacities:
        if capacity.blocked == 1:
            lost = tuple(names.index(name) for name in capacity.which)
            yield f"{capacity.which[0]} blocked", lost, states(overflow, lost)[0]
